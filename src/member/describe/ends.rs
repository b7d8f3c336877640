//! The ends of a member, with ±.

use super::measured::{Measured, array, measured_extent, place};
use crate::measure::Quantity;
use crate::member::ends::Closing;
use crate::member::numbers::cut_point;
use crate::member::trace::Traced;
use crate::member::{Cut, End, EndShape, Saddle};

pub(super) fn end_list(
    path: &crate::member::path::Path,
    m: &Measured,
    ends: &[Closing],
    traced: &Traced,
) -> Vec<End> {
    let at = measured_extent(m);
    let mut out = Vec::new();
    for (e, side) in [(0usize, -1.0), (1, 1.0)] {
        let f = path.at(at[e]);
        let t = f.t * side;
        let mut end = End {
            shape: EndShape::Other,
            point: place(&f.point),
            tangent: array(&t),
            width_axis: array(&f.w),
            height_axis: array(&f.h),
            cuts: Vec::new(),
            saddle: None,
            ordinates: Vec::new(),
        };
        match &ends[e] {
            Closing::Planes(planes) => {
                end.shape = if planes.len() == 1 {
                    EndShape::Plane
                } else {
                    EndShape::Double
                };
                for (j, p) in planes.iter().enumerate() {
                    let u = (2.0 * p.rms.max(traced.sigma)
                        / ((p.count as f64).sqrt() * p.spread.max(1e-6)))
                    .to_degrees();
                    let key = |name: &str| m.with(&format!("end{e}.cut{j}.{name}"), u);
                    if let (Some(off_square), Some(tilt_width), Some(tilt_height)) =
                        (key("off"), key("tilt_w"), key("tilt_h"))
                    {
                        end.cuts.push(Cut {
                            off_square,
                            tilt_width,
                            tilt_height,
                            normal: array(&p.normal),
                            point: place(&cut_point(&f.point, &t, &p.point, &p.normal)),
                        });
                    }
                }
                end.cuts
                    .sort_by(|a, b| a.off_square.value.total_cmp(&b.off_square.value));
            }
            Closing::Saddle(c) => {
                end.shape = EndShape::Saddle;
                if let (Some(angle), Some(offset)) = (
                    m.get(&format!("end{e}.angle")),
                    m.get(&format!("end{e}.offset")),
                ) {
                    let spread = (c.plus_minus / c.radius).to_degrees();
                    end.saddle = Some(Saddle {
                        diameter: Quantity::new(2.0 * c.radius, 2.0 * c.plus_minus + m.floor),
                        angle: Quantity::new(angle.value, angle.plus_minus + spread),
                        offset: Quantity::new(offset.value, offset.plus_minus + c.plus_minus),
                        point: place(&c.point),
                        axis: array(&c.axis),
                    });
                }
            }
            Closing::Other { .. } | Closing::Open { .. } => {}
        }
        out.push(end);
    }
    out
}

/// How far the far end's cut is turned against the first, degrees in (−180, 180].
pub(super) fn twist(m: &Measured, ends: &[End]) -> Option<Quantity> {
    let [a, b] = ends else { return None };
    let lean = |e: &End, k: usize| -> Option<Quantity> {
        let [cut] = &e.cuts[..] else { return None };
        // a square cut leans nowhere
        if cut.off_square.value < 3.0 * cut.off_square.plus_minus + 0.02 {
            return None;
        }
        let q = m.get(&format!("end{k}.cut0.lean"))?;
        let spread = cut.off_square.plus_minus / cut.off_square.value.to_radians().sin();
        Some(Quantity::new(q.value, q.plus_minus + spread))
    };
    let (x, y) = (lean(a, 0)?, lean(b, 1)?);
    let turn = y.value - x.value;
    let turn = turn - 360.0 * ((turn - 1e-9) / 360.0).round();
    Some(Quantity::new(turn, x.plus_minus.hypot(y.plus_minus)))
}
