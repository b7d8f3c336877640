//! Where a part lies on the table: flat, along x, its first end at the origin.

use nalgebra::Matrix3;

use crate::body::Body;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::member::{Member, Span};
use crate::plate::Frame;
use crate::report::ReportedPart;

/// A body turned and moved onto the table (z = 0), mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// Corners of the facets, counter-clockwise from outside.
    pub facets: Vec<[Pt3; 3]>,
    /// How it lies, one sentence.
    pub how: &'static str,
}

/// The body of a part, laid on the table; its mesh is otherwise untouched.
pub fn lay(part: &ReportedPart, body: &Body) -> Laid {
    let (origin, axes, how) = place(part, body);
    let turned: Vec<Pt3> = body
        .vertices
        .iter()
        .map(|v| Pt3::from(axes.transpose() * (v - origin)))
        .collect();
    let low = turned.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
    let facets = body.facets.iter().filter_map(|f| {
        let corner = |k: u32| {
            let p = turned.get(k as usize)?;
            Some(Pt3::new(p.x, p.y, p.z - low))
        };
        Some([corner(f[0])?, corner(f[1])?, corner(f[2])?])
    });
    Laid {
        facets: facets.collect(),
        how,
    }
}

/// Origin and axes (columns) of the table in the file, and how the part lies, one sentence.
pub fn place(part: &ReportedPart, body: &Body) -> (Pt3, Matrix3<f64>, &'static str) {
    if let Some(member) = &part.member
        && let Some(found) = member_place(member)
    {
        return found;
    }
    match &part.frame {
        Some(Frame { origin, x, y, z }) => (
            Pt3::from(*origin),
            Matrix3::from_columns(&[Vec3::from(*x), Vec3::from(*y), Vec3::from(*z)]),
            "front face up, lower-left corner of the flat at the origin",
        ),
        None => {
            let low = body
                .vertices
                .iter()
                .fold(Pt3::from([f64::INFINITY; 3]), |low, v| low.inf(v));
            let low = if low.iter().all(|c| c.is_finite()) {
                low
            } else {
                Pt3::origin()
            };
            (
                low,
                Matrix3::identity(),
                "as it stands in the file, for its shape was not recognised",
            )
        }
    }
}

fn member_place(member: &Member) -> Option<(Pt3, Matrix3<f64>, &'static str)> {
    let axis = member.spans.iter().find_map(|span| match span {
        Span::Arc { axis, .. } | Span::Helix { axis, .. } => Some(Vec3::from(*axis)),
        _ => None,
    });
    let [first, last] = member.ends.as_slice() else {
        // A ring lies flat about its centre.
        let (centre, up) = member.spans.iter().find_map(|span| match span {
            Span::Arc { centre, axis, .. } => Some((Pt3::from(*centre), Vec3::from(*axis))),
            _ => None,
        })?;
        let up = up.try_normalize(0.0)?;
        let (x, y) = perpendicular_pair(&up);
        let axes = Matrix3::from_columns(&[x, y, up]);
        return Some((centre, axes, "flat, its centre at the origin"));
    };
    let (from, to) = (Pt3::from(first.point), Pt3::from(last.point));
    let along = -Vec3::from(first.tangent);
    match axis {
        None => {
            let x = along.try_normalize(0.0)?;
            let y = Vec3::from(first.width_axis);
            let y = (y - x * x.dot(&y)).try_normalize(1e-9)?;
            let axes = Matrix3::from_columns(&[x, y, x.cross(&y)]);
            Some((from, axes, "along x, end 0 at the origin, its width flat"))
        }
        Some(up) => {
            let chord = to - from;
            let x = chord.try_normalize(1e-6).unwrap_or(along);
            let square = up - x * x.dot(&up);
            let up = match square.try_normalize(1e-6) {
                Some(up) => up,
                None => perpendicular_pair(&x).0,
            };
            // The curve rises towards +y: the piece leaves end 0 on that side of its chord.
            let y = up.cross(&x);
            let flip = if along.dot(&y) < 0.0 { -1.0 } else { 1.0 };
            let axes = Matrix3::from_columns(&[x, y * flip, up * flip]);
            let how = match member.centreline.rise {
                Some(_) => "flat, chord along x, end 0 at the origin",
                None => "chord along x, end 0 at the origin, its first bend flat",
            };
            Some((from, axes, how))
        }
    }
}

/// True when the axes make a right-handed frame of unit vectors.
#[cfg(test)]
fn is_turn(axes: &Matrix3<f64>) -> bool {
    let r = nalgebra::Rotation3::from_matrix(axes);
    (r.matrix() - axes).norm() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{Asked, examine};

    #[test]
    fn every_part_of_the_bay_stands_on_the_table() {
        let bytes = include_bytes!("../../fixtures/canopy_bay_01.stl");
        let asked = Asked {
            mm_per_unit: Some(1.0),
            density: 7850.0,
        };
        let found = examine(bytes, "canopy", &asked).expect("a model");
        assert_eq!(found.report.parts.len(), 3);
        for part in &found.report.parts {
            let body = &found.bodies[part.body as usize];
            let (_, axes, _) = place(part, body);
            assert!(is_turn(&axes), "{} is mirrored", part.mark);
            let laid = lay(part, body);
            let points: Vec<&Pt3> = laid.facets.iter().flatten().collect();
            let low = points.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
            assert!(low.abs() < 1e-9);
            if let Some(plate) = &part.plate
                && plate.bends.is_empty()
                && let Some(thickness) = plate.thickness
            {
                let high = points.iter().map(|p| p.z).fold(0.0, f64::max);
                assert!((high - thickness.value).abs() < 0.01, "{} high", high);
            }
        }
    }
}
