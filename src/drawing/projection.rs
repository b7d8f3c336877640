//! First or third angle, and its sign (ISO 5456-2, from memory).

use std::f64::consts::FRAC_PI_2;

use super::scene::{CENTRE, NARROW, Place, Purpose, Scene, Shape, WIDE};

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

/// Width the sign takes, mm.
pub const SIGN_WIDTH: f64 = 22.0;

/// The sign, its middle line at `at`, which is its left end: a cone's frustum with its small end to
/// the left, and the two circles on the side where the view from that end is placed.
pub fn sign(scene: &mut Scene, projection: Projection, at: Place) {
    let (small, large, length) = (1.75, 3.5, 7.0);
    let (frustum, circles) = match projection {
        Projection::First => (at.x + 1.0, at.x + 16.0),
        Projection::Third => (at.x + 13.0, at.x + 5.0),
    };
    let p = |x: f64, y: f64| Place::new(frustum + x, at.y + y);
    for (a, b) in [
        (p(0.0, small), p(length, large)),
        (p(length, large), p(length, -large)),
        (p(length, -large), p(0.0, -small)),
        (p(0.0, -small), p(0.0, small)),
    ] {
        scene.line(WIDE, a, b);
    }
    let centre = Place::new(circles, at.y);
    for radius in [small, large] {
        scene.stroke(Purpose::Sheet, WIDE, Shape::Circle { centre, radius });
    }
    scene.line(CENTRE, p(-1.5, 0.0), p(length + 1.5, 0.0));
    for turn in [0.0, FRAC_PI_2] {
        let arm = nalgebra::Vector2::new(f64::cos(turn), f64::sin(turn)) * (large + 1.5);
        scene.line(NARROW, centre - arm, centre + arm);
    }
}
