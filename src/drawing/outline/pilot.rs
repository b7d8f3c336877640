//! Small round holes cut smaller, to be drilled to size afterwards.

use super::flat::FlatPlate;
use crate::drawing::scene::Shape;
use crate::plate::HoleKind;

/// Which holes are cut smaller, and how much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pilot {
    /// Round holes of a smaller diameter than this are cut as pilot holes, mm.
    pub under: f64,
    /// Their diameter, mm; half the diameter of the hole where it isn't given.
    pub diameter: Option<f64>,
}

/// Diameters that were made smaller, each with its pilot diameter and how many there are.
pub type Drilled = Vec<(f64, f64, usize)>;

/// Makes round through holes under the chosen size smaller; their full size becomes a mark.
///
/// A hole that is not larger than the pilot stays as it is: it can't be drilled from there.
pub fn pilot(flat: &mut FlatPlate, pilot: Pilot) -> Drilled {
    let mut drilled: Drilled = Vec::new();
    for hole in &mut flat.holes {
        let round = matches!(
            hole.kind,
            HoleKind::Round | HoleKind::Countersunk | HoleKind::Counterbored
        );
        let (Some(full), Some(centre)) = (hole.diameter, hole.centre) else {
            continue;
        };
        let small = pilot.diameter.unwrap_or(full / 2.0);
        if !round || full >= pilot.under || small >= full || small <= 0.0 {
            continue;
        }
        hole.through = Some(Shape::Circle {
            centre,
            radius: small / 2.0,
        });
        // A head marked around it already shows where the drill goes.
        hole.head.get_or_insert(Shape::Circle {
            centre,
            radius: full / 2.0,
        });
        // Sizes that print alike are drilled with one drill.
        match drilled.iter_mut().find(|d| (d.0 - full).abs() < 0.05) {
            Some(found) => found.2 += 1,
            None => drilled.push((full, small, 1)),
        }
    }
    drilled
}
