//! First or third angle, and its sign (ISO 5456-2, from memory).

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector2;

use super::scene::{EDGE, NARROW, Place, Purpose, Scene, Shape};

/// Where a view from above is placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Projection {
    /// Below the front view.
    First,
    /// Above the front view.
    Third,
}

impl Projection {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Projection::First => "first angle",
            Projection::Third => "third angle",
        }
    }
}

/// Width and height the sign takes, mm.
pub const SIGN: Vector2<f64> = Vector2::new(13.5, 6.0);

/// The sign, its middle line at `at`, which is its left end: a cone's frustum with its small end to
/// the left, and the two circles on the side where the view from that end is placed.
pub fn sign(scene: &mut Scene, projection: Projection, at: Place) {
    let (small, large, length, arm) = (1.05, 2.1, 4.2, 3.0);
    let (frustum, circles) = match projection {
        Projection::First => (at.x + 0.9, at.x + 10.0),
        Projection::Third => (at.x + 8.2, at.x + arm),
    };
    let p = |x: f64, y: f64| Place::new(frustum + x, at.y + y);
    for (a, b) in [
        (p(0.0, small), p(length, large)),
        (p(length, large), p(length, -large)),
        (p(length, -large), p(0.0, -small)),
        (p(0.0, -small), p(0.0, small)),
    ] {
        scene.line(EDGE, a, b);
    }
    let centre = Place::new(circles, at.y);
    for radius in [small, large] {
        scene.stroke(Purpose::Sheet, EDGE, Shape::Circle { centre, radius });
    }
    scene.line(NARROW, p(-0.9, 0.0), p(length + 0.9, 0.0));
    for turn in [0.0, FRAC_PI_2] {
        let reach = Vector2::new(f64::cos(turn), f64::sin(turn)) * arm;
        scene.line(NARROW, centre - reach, centre + reach);
    }
}
