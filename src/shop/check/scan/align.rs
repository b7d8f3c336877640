//! Where a scan lies on the part: many ways to lay it, tried roughly, the best ones finely.

use nalgebra::{Matrix3, Rotation3};

use super::points::{Scan, Seen};
use super::solve::{Problem, Solved};
use super::target::{Role, Target};
use super::undo::Pose;
use crate::body::Body;
use crate::geometry::principal_axes::principal_axes;
use crate::geometry::{Pt3, Vec3};

/// A cloud's middle and axes, greatest spread first, and how far it reaches along the first.
struct Cloud {
    middle: Pt3,
    axes: [Vec3; 3],
    low: f64,
    high: f64,
    reach: f64,
}

impl Cloud {
    fn of(points: &[Pt3]) -> Option<Cloud> {
        let found = principal_axes(points, None)?;
        let mut axes = found.directions;
        axes[2] = axes[0].cross(&axes[1]);
        let along = |p: &Pt3| axes[0].dot(&(p - found.centroid));
        let (low, high) = points
            .iter()
            .map(along)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
                (l.min(x), h.max(x))
            });
        let reach = points
            .iter()
            .map(|p| (p - found.centroid).norm())
            .fold(0.0, f64::max);
        Some(Cloud {
            middle: found.centroid,
            axes,
            low,
            high,
            reach,
        })
    }
}

/// Turns tried about the longest axis, and balls of the part that a partial scan may be of.
const TURNS: usize = 12;
const BALLS: usize = 24;

/// The best pose of the scan on the part, and the points' sign; `None` where none is near.
pub(super) fn align(
    target: &Target,
    scan: &Scan,
    mirrored: bool,
    floor: f64,
) -> Option<(Solved, f64)> {
    let rough: Vec<usize> = scan.thinned(400);
    let share = 4000.0 / scan.bodies.iter().map(|b| b.area).sum::<f64>().max(1e-12);
    let cloud: Vec<Pt3> = scan
        .bodies
        .iter()
        .flat_map(|b| spots(b, (share * b.area).ceil() as usize))
        .map(|(_, p)| turned_over(&p, mirrored))
        .collect();
    let cloud = Cloud::of(&cloud)?;
    let samples = samples(target, 4000);
    let whole = Cloud::of(&samples)?;
    let mut starts = Vec::new();
    laid(&cloud, &whole, mirrored, true, &mut starts);
    if cloud.reach < 0.97 * whole.reach {
        for centre in spread(&samples, BALLS) {
            let ball: Vec<Pt3> = samples
                .iter()
                .filter(|p| (*p - centre).norm() <= cloud.reach)
                .copied()
                .collect();
            if let (true, Some(ball)) = (ball.len() > 20, Cloud::of(&ball)) {
                laid(&cloud, &ball, mirrored, false, &mut starts);
            }
        }
    }
    let few: Vec<&Seen> = rough
        .iter()
        .step_by((rough.len() / 100).max(1))
        .map(|k| &scan.seen[*k])
        .collect();
    let cut = 0.08 * target.size;
    let mut best: Vec<(f64, Pose)> = Vec::new();
    for pose in starts {
        let worst = if best.len() < 24 {
            f64::INFINITY
        } else {
            best[23].0
        };
        let Some(cost) = roughly(target, &few, &pose, cut, worst) else {
            continue;
        };
        let at = best.partition_point(|(c, _)| *c <= cost);
        best.insert(at, (cost, pose));
        best.truncate(24);
    }
    let mut refined: Vec<(f64, Solved, f64)> = Vec::new();
    for (_, pose) in &best {
        let outs: &[f64] = if scan.closed { &[1.0] } else { &[1.0, -1.0] };
        for out in outs {
            let problem = Problem {
                target,
                ways: Vec::new(),
                locals: Vec::new(),
                out: *out,
                floor,
            };
            let found = problem.solve(problem.at(*pose), &scan.seen, &rough, cut, 8);
            if let Some(found) = found {
                refined.push((misfit(&found, rough.len(), cut), found, *out));
            }
        }
    }
    refined.sort_by(|a, b| a.0.total_cmp(&b.0));
    let fine: Vec<usize> = scan.thinned(3000);
    let mut last: Option<(f64, Solved, f64)> = None;
    for (_, start, out) in refined.iter().take(4) {
        let problem = Problem {
            target,
            ways: Vec::new(),
            locals: Vec::new(),
            out: *out,
            floor,
        };
        if let Some(found) = problem.solve(start.state.clone(), &scan.seen, &fine, 0.5 * cut, 14) {
            let cost = misfit(&found, fine.len(), 0.5 * cut);
            if last.as_ref().is_none_or(|(least, _, _)| cost < *least) {
                last = Some((cost, found, *out));
            }
        }
    }
    last.map(|(_, found, out)| (found, out))
}

/// How badly a pose fits: mean distance, points that are nowhere near or beyond a rim counted as far.
pub(super) fn misfit(found: &Solved, points: usize, cut: f64) -> f64 {
    let near: f64 = found
        .held
        .iter()
        .map(|h| h.probe.distance.abs().max(h.probe.overhang).min(cut))
        .sum();
    let lost = points.saturating_sub(found.held.len()) as f64;
    (near + lost * cut) / points.max(1) as f64
}

fn turned_over(p: &Pt3, mirrored: bool) -> Pt3 {
    if mirrored {
        Pt3::new(-p.x, p.y, p.z)
    } else {
        *p
    }
}

/// Poses that lay the axes of `cloud` on those of `onto`.
fn laid(cloud: &Cloud, onto: &Cloud, mirrored: bool, slide: bool, starts: &mut Vec<Pose>) {
    let to = Matrix3::from_columns(&onto.axes);
    for first in 0..3 {
        for sign in [1.0, -1.0] {
            let a = cloud.axes[first] * sign;
            let b = cloud.axes[(first + 1) % 3];
            let from = Matrix3::from_columns(&[a, b, a.cross(&b)]);
            for k in 0..TURNS {
                let angle = std::f64::consts::TAU * k as f64 / TURNS as f64;
                let about =
                    Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(onto.axes[0]), angle);
                let turn = Rotation3::from_matrix_unchecked(about.matrix() * to * from.transpose());
                let centred = onto.middle - turn * cloud.middle;
                let mut shifts = vec![centred];
                if slide && first == 0 {
                    let (low, high) = if sign > 0.0 {
                        (cloud.low, cloud.high)
                    } else {
                        (-cloud.high, -cloud.low)
                    };
                    shifts.push(centred + onto.axes[0] * (onto.low - low));
                    shifts.push(centred + onto.axes[0] * (onto.high - high));
                }
                starts.extend(shifts.into_iter().map(|shift| Pose {
                    turn,
                    shift,
                    mirrored,
                }));
            }
        }
    }
}

/// Mean square distance in shares of `cut`; `None` once it can't get below `worst`.
fn roughly(target: &Target, few: &[&Seen], pose: &Pose, cut: f64, worst: f64) -> Option<f64> {
    let mut sum = 0.0;
    for s in few {
        let d = target.near(&pose.place(&s.at), &pose.direction(&s.normal), cut, true);
        sum += d.map_or(1.0, |d| (d / cut).powi(2));
        if sum > worst {
            return None;
        }
    }
    Some(sum)
}

/// Points spread over the faces that can be seen from outside.
fn samples(target: &Target, most: usize) -> Vec<Pt3> {
    spots(target.body, most)
        .into_iter()
        .filter(|(f, _)| target.faces[target.face(*f)].role != Role::Bore)
        .map(|(_, p)| p)
        .collect()
}

/// About `most` places spread over all facets by area, each with its facet.
pub(super) fn spots(body: &Body, most: usize) -> Vec<(u32, Pt3)> {
    let count = body.facets.len() as u32;
    let corners = |f: u32| body.facets[f as usize].map(|v| body.vertices[v as usize]);
    let area = |f: u32| {
        let [a, b, c] = corners(f);
        0.5 * (b - a).cross(&(c - a)).norm()
    };
    let total: f64 = (0..count).map(area).sum();
    let share = total / most.max(1) as f64;
    let mut owed = 0.0;
    let mut found = Vec::new();
    for f in 0..count {
        owed += area(f) / share.max(1e-12);
        let [a, b, c] = corners(f);
        let here = owed.floor() as usize;
        owed -= here as f64;
        for k in 0..here {
            // A low-discrepancy sequence (Roberts' R2) folded into the triangle.
            let (u, v) = (
                (0.5 + 0.754_877_666 * k as f64).fract(),
                (0.5 + 0.569_840_291 * k as f64).fract(),
            );
            let (u, v) = if u + v > 1.0 {
                (1.0 - u, 1.0 - v)
            } else {
                (u, v)
            };
            // One spot of a facet stands in its middle.
            let (u, v) = if here == 1 {
                (1.0 / 3.0, 1.0 / 3.0)
            } else {
                (u, v)
            };
            found.push((f, a + (b - a) * u + (c - a) * v));
        }
    }
    found
}

/// Points far from one another, the first of them the first given.
fn spread(points: &[Pt3], count: usize) -> Vec<Pt3> {
    let mut chosen: Vec<Pt3> = points.first().copied().into_iter().collect();
    let mut far = vec![f64::INFINITY; points.len()];
    while chosen.len() < count.min(points.len()) {
        let last = chosen[chosen.len() - 1];
        let mut next = (0.0, 0);
        for (k, p) in points.iter().enumerate() {
            far[k] = far[k].min((p - last).norm());
            if far[k] > next.0 {
                next = (far[k], k);
            }
        }
        chosen.push(points[next.1]);
    }
    chosen
}
