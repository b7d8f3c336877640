//! Curves that are neither straights, arcs nor helices.

use super::fit::Fitted;
use super::profile::Vec2;
use super::residual::Outline;
use super::trace::{Traced, seen};
use super::{End, Member, Span};
use crate::geometry::{Pt3, Vec3};
use crate::measure::Quantity;

/// True when a chain of arcs only imitates the path: three or more in a row that leave the vertices
/// further off than the file's resolution explains. Bent stock, read from exact vertices, leaves none.
pub fn is_free(fitted: &Fitted, floor: f64) -> bool {
    let mut run = 0;
    let mut longest = 0;
    for p in &fitted.model.path.pieces {
        run = if p.curvature != 0.0 && p.torsion == 0.0 {
            run + 1
        } else {
            0
        };
        longest = longest.max(run);
    }
    longest >= 3 && fitted.scale > 20.0 * floor
}

/// Puts one free span in place of the chain that imitated it.
pub fn make_free(member: &mut Member, traced: &Traced) {
    let mut radii: Vec<Quantity> = Vec::new();
    for s in &member.spans {
        if let Span::Arc {
            radius: Some(r), ..
        } = s
        {
            radii.push(*r);
        }
    }
    // the imitating arcs differ from the curve's own radius by about as much as from their neighbours
    let doubtful = |q: &Quantity| Quantity::new(q.value, q.plus_minus + 0.2 * q.value);
    let mut length = match member.centreline.length {
        Some(l) => Quantity::new(l.value, l.plus_minus + 20.0 * traced.sigma + 2e-4 * l.value),
        None => return,
    };
    let least = radii
        .iter()
        .min_by(|a, b| a.value.total_cmp(&b.value))
        .map(doubtful);
    let most = radii
        .iter()
        .max_by(|a, b| a.value.total_cmp(&b.value))
        .map(doubtful);
    let wider =
        |q: Option<Quantity>| q.map(|q| Quantity::new(q.value, q.plus_minus + 10.0 * traced.sigma));
    // where an imitation ends is as doubtful as how long it is
    let chord = member.centreline.chord;
    member.centreline.chord =
        chord.map(|q| Quantity::new(q.value, q.plus_minus + 20.0 * traced.sigma + 1e-4 * q.value));
    member.centreline.rise = wider(member.centreline.rise);
    let on_rings = ring_centres(traced);
    let true_points = on_rings.is_some();
    let stations = || traced.track.stations.iter().map(|s| s.centre).collect();
    let centres: Vec<Pt3> = on_rings.unwrap_or_else(stations);
    let mut points: Vec<[f64; 3]> = centres.iter().map(|c| [c.x, c.y, c.z]).collect();
    if let [first, last] = &member.ends[..] {
        let apart = |a: &[f64; 3], b: &[f64; 3]| (Pt3::from(*a) - Pt3::from(*b)).norm();
        // the track may run the other way
        if points
            .first()
            .is_some_and(|p| apart(p, &first.point) > apart(p, &last.point))
        {
            points.reverse();
        }
        points.insert(0, first.point);
        points.push(last.point);
        if true_points {
            // the ends are the imitation's, each off by its scatter
            let ends = 4.0 * traced.sigma;
            let (value, rest) = curve_length(&points);
            length = Quantity::new(value, rest + ends);
            member.centreline.chord =
                chord.map(|_| Quantity::new(apart(&first.point, &last.point), ends));
        }
    }
    if true_points && let [first, last] = &mut member.ends[..] {
        aim(first, points.iter(), traced.sigma);
        aim(last, points.iter().rev(), traced.sigma);
    }
    member.centreline.length = Some(length);
    member.spans = vec![Span::Free {
        length,
        radius_min: least,
        radius_max: most,
        points,
    }];
    let s = &mut member.section;
    for q in [
        &mut s.diameter,
        &mut s.width,
        &mut s.height,
        &mut s.wall,
        &mut s.web_thickness,
        &mut s.flange_thickness,
        &mut s.corner_radius,
        &mut s.inner_corner_radius,
    ] {
        *q = wider_by(*q, 3.0 * traced.sigma);
    }
    for h in &mut member.holes {
        h.station = wider(h.station);
    }
}

fn wider_by(q: Option<Quantity>, by: f64) -> Option<Quantity> {
    q.map(|q| Quantity::new(q.value, q.plus_minus + by))
}

/// Turns an end to the tangent of the parabola through the curve's points next to it, and its cuts
/// with it: the last piece of an imitation may point askew. `scatter` is how far the end is off, mm.
fn aim<'a>(end: &mut End, mut points: impl Iterator<Item = &'a [f64; 3]>, scatter: f64) {
    let mut next = || points.next().map(|p| Pt3::from(*p));
    let (Some(a), Some(b), Some(c)) = (next(), next(), next()) else {
        return;
    };
    let (h, k) = ((b - a).norm(), (c - b).norm());
    let (d, e) = ((b - a) / h, (c - b) / k);
    let Some(t) = ((e - d) * (h / (h + k)) - d).try_normalize(0.5) else {
        return;
    };
    let Some(turn) = nalgebra::Rotation3::rotation_between(&Vec3::from(end.tangent), &t) else {
        return;
    };
    let [w, x] = [end.width_axis, end.height_axis].map(|v| turn * Vec3::from(v));
    end.tangent = t.into();
    (end.width_axis, end.height_axis) = (w.into(), x.into());
    let doubt = (4.0 * scatter / h).to_degrees();
    for cut in &mut end.cuts {
        let n = Vec3::from(cut.normal);
        let lean = |v: &Vec3| Quantity::new(n.dot(v).atan2(n.dot(&t)).to_degrees(), doubt);
        cut.off_square = Quantity::new(n.angle(&t).to_degrees(), doubt);
        (cut.tilt_width, cut.tilt_height) = (lean(&w), lean(&x));
    }
}

/// Length of the curve through points and what the step between them leaves in doubt, mm: chords fall
/// short by the square of the step, so those of every second point tell by how much (Richardson).
fn curve_length(points: &[[f64; 3]]) -> (f64, f64) {
    let through = |step: usize| -> f64 {
        let last = points.last().copied();
        let kept: Vec<Pt3> = points
            .iter()
            .step_by(step)
            .copied()
            .chain(last)
            .map(Pt3::from)
            .collect();
        kept.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
    };
    let (all, half) = (through(1), through(2));
    let short = (all - half) / 3.0;
    (all + short, short)
}

/// Gaps between rings are at least this share of the longest one.
const LEAST_GAP: f64 = 0.25;
/// Fewest rings that make a curve.
const FEWEST: usize = 5;

/// Centres of the rings of vertices between the ends, which lie on the true curve, where sections
/// between them lie inside it by the facets' sag. `None` where the vertices stand on no rings.
fn ring_centres(traced: &Traced) -> Option<Vec<Pt3>> {
    let model = &traced.fitted.model;
    let outline = Outline::new(&model.profile);
    let (_, _, g) = model.profile.moments();
    // along the path, and one row of n·d = r for the shift d of the section
    let mut rows: Vec<(f64, Vec2, f64)> = traced
        .lateral
        .observations
        .iter()
        .filter(|o| o.interior)
        .map(|o| {
            let (q, s) = seen(model, o);
            let n = outline.normal(o.contour, &q);
            (s, n, outline.signed(o.contour, &q))
        })
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let gaps = rows.windows(2).map(|w| w[1].0 - w[0].0);
    let widest = gaps.fold(0.0, f64::max);
    let rings: Vec<_> = rows
        .chunk_by(|a, b| b.0 - a.0 < LEAST_GAP * widest)
        .collect();
    let centre = |ring: &&[(f64, Vec2, f64)]| {
        let n = ring.len() as f64;
        let s = ring.iter().map(|r| r.0).sum::<f64>() / n;
        let square: nalgebra::Matrix2<f64> = ring.iter().map(|r| r.1 * r.1.transpose()).sum();
        let right: Vec2 = ring.iter().map(|r| r.1 * r.2).sum();
        // a ring shows its place both ways
        let d = (square.symmetric_eigenvalues().min() > 0.1 * n)
            .then(|| square.try_inverse())??
            * right;
        let f = model.path.at(s);
        Some(f.point + f.w * (g.x + d.x) + f.h * (g.y + d.y))
    };
    let narrow = |r: &&[(f64, Vec2, f64)]| r[r.len() - 1].0 - r[0].0 < LEAST_GAP * widest;
    if rings.len() < FEWEST || !rings.iter().all(narrow) {
        return None;
    }
    rings.iter().map(centre).collect()
}
