//! Arcs of G2 and G3, by centre or by radius.
//!
//! Source: NISTIR 6556 section 3.5.3 (from memory): I and J run from the start to the centre; a centre
//! whose distances to start and end differ by more than 0.002 mm or 0.0002 in is an error; a positive R
//! turns by half a turn or less, a negative one by more, and an R can't say a full circle.

use std::f64::consts::{PI, TAU};

use nalgebra::Vector2;

use crate::shop::proof::piece::{Piece, Place};

/// How the centre of an arc is told, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Centre {
    /// By its place.
    At(Place),
    /// By the radius, negative for more than half a turn.
    Radius(f64),
}

/// What a control by the report would make of an arc.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// The arc.
    pub piece: Piece,
    /// How much farther the centre is from one end than from the other, mm.
    pub unequal: f64,
}

/// Radii that differ by more than this are no arc, mm. Controls with a limit of their own set it at
/// 0.01 to 0.1 mm (handbooks of controls).
pub const NO_ARC: f64 = 0.1;

/// The arc from `from` to `to`; why there is none otherwise, as the end of "Line 5 …".
pub fn arc(from: Place, to: Place, clockwise: bool, centre: Centre) -> Result<Told, String> {
    let centre = match centre {
        Centre::At(centre) => centre,
        Centre::Radius(radius) => by_radius(from, to, clockwise, radius)?,
    };
    let (out, end) = (from - centre, to - centre);
    let (r0, r1) = (out.norm(), end.norm());
    if !(r0 > 1e-9 && r1 > 1e-9) {
        return Err("has an arc of no radius".into());
    }
    let unequal = (r0 - r1).abs();
    if unequal > NO_ARC {
        return Err(format!(
            "has an arc whose start lies {r0:.3} mm from its centre and whose end {r1:.3} mm"
        ));
    }
    let turn = out.perp(&end).atan2(out.dot(&end));
    // The report: an arc that ends where it starts is a full circle.
    let same = (to - from).norm() <= 1e-9 * r0.max(1.0);
    let sweep = match (clockwise, same) {
        (false, true) => TAU,
        (true, true) => -TAU,
        (false, false) => turn.rem_euclid(TAU),
        (true, false) => -(-turn).rem_euclid(TAU),
    };
    Ok(Told {
        piece: Piece::Arc {
            from,
            to,
            centre,
            sweep,
        },
        unequal,
    })
}

fn by_radius(from: Place, to: Place, clockwise: bool, radius: f64) -> Result<Place, String> {
    let chord = to - from;
    let half = chord.norm() / 2.0;
    if half <= 1e-9 {
        return Err("asks for an arc by its radius that ends where it starts".into());
    }
    let r = radius.abs();
    // A half circle written with a few decimals is a little short.
    if half - r > 0.005_f64.max(1e-6 * r) {
        return Err(format!(
            "has an arc of radius {r:.3} mm between ends {:.3} mm apart",
            2.0 * half
        ));
    }
    let height = ((r - half) * (r + half)).max(0.0).sqrt();
    let left = Vector2::new(-chord.y, chord.x) / (2.0 * half);
    // Anticlockwise and up to half a turn, the centre lies to the left of the chord.
    let side = if clockwise == (radius > 0.0) {
        -1.0
    } else {
        1.0
    };
    Ok(from + chord / 2.0 + left * (side * height))
}

/// Angle an arc of a DXF turns from one direction to another, degrees, always anticlockwise.
pub fn anticlockwise(start: f64, end: f64) -> f64 {
    let turn = (end - start).rem_euclid(360.0).to_radians();
    if turn > 1e-12 * PI { turn } else { TAU }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sweep(told: Result<Told, String>) -> f64 {
        match told.expect("an arc").piece {
            Piece::Arc { sweep, .. } => sweep.to_degrees(),
            Piece::Line { .. } => panic!("a line"),
        }
    }

    #[test]
    fn by_centre_and_by_radius() {
        let (a, b) = (Place::new(10.0, 0.0), Place::new(0.0, 10.0));
        let centre = Centre::At(Place::origin());
        assert!((sweep(arc(a, b, false, centre)) - 90.0).abs() < 1e-9);
        assert!((sweep(arc(a, b, true, centre)) + 270.0).abs() < 1e-9);
        assert!((sweep(arc(a, a, false, centre)) - 360.0).abs() < 1e-9);
        assert!((sweep(arc(a, b, false, Centre::Radius(10.0))) - 90.0).abs() < 1e-9);
        assert!((sweep(arc(a, b, false, Centre::Radius(-10.0))) - 270.0).abs() < 1e-9);
        assert!((sweep(arc(a, b, true, Centre::Radius(10.0))) + 90.0).abs() < 1e-9);
        assert!((sweep(arc(a, b, true, Centre::Radius(-10.0))) + 270.0).abs() < 1e-9);
    }

    #[test]
    fn no_arcs() {
        let (a, b) = (Place::new(10.0, 0.0), Place::new(0.0, 12.0));
        for centre in [
            Centre::At(Place::origin()),
            Centre::At(a),
            Centre::Radius(3.0),
            Centre::Radius(0.0),
        ] {
            assert!(arc(a, b, false, centre).is_err(), "{centre:?}");
        }
        assert!(arc(a, a, false, Centre::Radius(5.0)).is_err());
        let near = arc(
            a,
            Place::new(0.0, 10.01),
            false,
            Centre::At(Place::origin()),
        );
        assert!((near.expect("an arc").unequal - 0.01).abs() < 1e-9);
    }
}
