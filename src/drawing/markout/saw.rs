//! Settings of a saw whose blade swings and tilts.

use crate::geometry::Vec3;
use crate::member::{Cut, End, Section, Shape};

/// How to set the saw for one cut, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Setting {
    /// Straight across.
    Square,
    /// Rectangular stock lying on the face it was drawn on: blade swung from square, and tilted
    /// from upright.
    Compound {
        /// Swing, towards the width.
        swing: f64,
        /// Tilt, towards the height.
        tilt: f64,
    },
    /// Round stock, turned so that the long point lies level: blade swung only.
    Turned {
        /// Swing.
        swing: f64,
        /// Direction of the long point about the tube, from line 1 as the lines are numbered.
        long_point: f64,
    },
}

/// Below this the blade stays where it is, degrees: finer than a saw's scale is read (common
/// practice, no source).
const FINEST: f64 = 0.05;

/// The setting for a plane cut. A blade swung by m and then tilted by b has the normal
/// (cos m cos b, sin m cos b, sin b) along, across and up.
pub fn setting(section: &Section, end: &End, cut: &Cut) -> Setting {
    let n = Vec3::from(cut.normal);
    let t = n.dot(&Vec3::from(end.tangent));
    let w = n.dot(&Vec3::from(end.width_axis));
    let h = n.dot(&Vec3::from(end.height_axis));
    if cut.off_square.value.abs() < FINEST {
        return Setting::Square;
    }
    match section.shape {
        Shape::Round | Shape::RoundBar => Setting::Turned {
            swing: w.hypot(h).atan2(t).to_degrees(),
            // The cut leans back where its normal points: the long point is opposite.
            long_point: (-h).atan2(-w).to_degrees().rem_euclid(360.0),
        },
        _ => Setting::Compound {
            swing: w.atan2(t).to_degrees(),
            tilt: h.clamp(-1.0, 1.0).asin().to_degrees(),
        },
    }
}
