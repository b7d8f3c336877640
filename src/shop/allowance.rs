//! How far the metal of a member stands out beyond the end of its centreline.

use crate::geometry::Vec3;
use crate::member::{End, EndShape, Member, Saddle};

/// Longest reach beyond the point where the centreline ends, along the tangent there, mm; never
/// negative. `None` where the shape of the end or of the section is not known.
///
/// On an arc the fibres run on curved, so there it is the reach along the tangent, not along the metal.
pub fn beyond_end(member: &Member, end: &End) -> Option<f64> {
    let outline = member.section.contours.first()?;
    let reaches = outline.iter().map(|&[x, y]| match end.shape {
        EndShape::Plane | EndShape::Double => cut_reach(end, x, y),
        EndShape::Saddle => saddle_reach(end, end.saddle.as_ref()?, x, y),
        EndShape::Other => None,
    });
    reaches
        .collect::<Option<Vec<f64>>>()
        .map(|reaches| reaches.into_iter().fold(0.0, f64::max))
}

/// Reach of the fibre through (x, y) of the section: every cut ends it, the innermost counts.
pub(super) fn cut_reach(end: &End, x: f64, y: f64) -> Option<f64> {
    let tangent = |degrees: f64| degrees.to_radians().tan();
    end.cuts
        .iter()
        .map(|cut| {
            let along =
                (Vec3::from(cut.point) - Vec3::from(end.point)).dot(&Vec3::from(end.tangent));
            along - x * tangent(cut.tilt_width.value) - y * tangent(cut.tilt_height.value)
        })
        .reduce(f64::min)
}

/// Reach of the fibre through (x, y) up to the other tube, seen from the side of this member.
pub(super) fn saddle_reach(end: &End, saddle: &Saddle, x: f64, y: f64) -> Option<f64> {
    let tangent = Vec3::from(end.tangent);
    let offset = Vec3::from(end.width_axis) * x + Vec3::from(end.height_axis) * y;
    let from_axis = Vec3::from(end.point) + offset - Vec3::from(saddle.point);
    let axis = Vec3::from(saddle.axis);
    let flat = |v: Vec3| v - axis * v.dot(&axis);
    let (p, d) = (flat(from_axis), flat(tangent));
    let (a, b) = (d.norm_squared(), p.dot(&d));
    let c = p.norm_squared() - (saddle.diameter.value / 2.0).powi(2);
    let under = b * b - a * c;
    // A fibre that misses the other tube runs on past it; how far is not known from the saddle.
    (a > 0.0 && under >= 0.0).then(|| (-b - under.sqrt()) / a)
}
