//! Which shape a profile is.

use crate::member::Shape;
use crate::member::profile::{Contour, Profile};

/// Shape of a profile. `slack` is how unequal the sides of a square may be, mm.
pub(super) fn shape_of(profile: &Profile, slack: f64) -> Shape {
    let hollow = profile.contours.len() > 1;
    match &profile.contours[0] {
        Contour::Circle { .. } => match profile.contours.get(1) {
            None => Shape::RoundBar,
            Some(Contour::Circle { .. }) if profile.contours.len() == 2 => Shape::Round,
            _ => Shape::Other,
        },
        Contour::Sides(sides) => {
            let n = sides.len();
            let right = |j: usize| {
                ((sides[(j + 1) % n].normal - sides[j].normal).sin().abs() - 1.0).abs() < 1e-6
            };
            if !(0..n).all(right) {
                return Shape::Other;
            }
            let concave = (0..n)
                .filter(|&j| (sides[(j + 1) % n].normal - sides[j].normal).sin() < 0.0)
                .count();
            if n == 4 {
                if hollow
                    && !matches!(profile.contours.get(1), Some(Contour::Sides(s)) if s.len() == 4)
                    || profile.contours.len() > 2
                {
                    return Shape::Other;
                }
                let w = sides[0].offset + sides[2].offset;
                let h = sides[1].offset + sides[3].offset;
                let square = (w - h).abs() <= slack;
                return match (hollow, square) {
                    (true, true) => Shape::Square,
                    (true, false) => Shape::Rect,
                    (false, true) => Shape::SquareBar,
                    (false, false) => Shape::FlatBar,
                };
            }
            if hollow {
                return Shape::Other;
            }
            let shape = match (n, concave) {
                (6, 1) => Shape::Angle,
                (8, 2) => Shape::Channel,
                _ => return Shape::Other,
            };
            if shape == Shape::Channel {
                // a Z has two concave corners too, but not next to each other over its open side
                let c = |j: usize| (sides[(j + 1) % n].normal - sides[j % n].normal).sin() < 0.0;
                if !(0..n).any(|j| c(j) && c((j + 1) % n)) {
                    return Shape::Other;
                }
            }
            shape
        }
    }
}

/// The least distance between two contours of a profile, or a tenth of its size when it has one, mm.
pub(super) fn thinnest(profile: &Profile) -> f64 {
    let outer = &profile.contours[0];
    let x = nalgebra::Vector2::x();
    let size =
        crate::member::numbers::support(outer, &x) + crate::member::numbers::support(outer, &-x);
    let outline = crate::member::residual::Outline::new(&Profile {
        contours: vec![outer.clone()],
    });
    profile.contours[1..]
        .iter()
        .flat_map(|c| c.points(0.01 * size))
        .map(|p| outline.signed(0, &p).abs())
        .fold(0.1 * size, f64::min)
}
