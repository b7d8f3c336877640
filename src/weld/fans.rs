//! Edges with more than two facets: bodies that only touch are kept apart.

use nalgebra::{Point3, Vector3};

use super::edges::{self, HalfEdge};
use super::orientation::Pieces;
use super::pairing::{Pairing, link, opposite_corner};

/// Pairs the facets around each crowded edge so that every pair encloses metal.
///
/// Facets are sorted by angle around the edge; seen along it, a facet either begins a wedge of
/// metal or ends one. First, two facets of one piece of surface belong together; then each
/// beginning takes the end that follows it. Where beginning and end stand at one angle (the
/// common face of two bodies) the end comes first. Returns how many half-edges stay open.
///
/// `quantum` (mm) over a facet's height is the angle within which two facets share a plane.
pub fn pair_by_angle(
    vertices: &[Point3<f64>],
    facets: &[[u32; 3]],
    quantum: f64,
    pairing: &mut Pairing,
    pieces: &Pieces,
) -> usize {
    let inside_out = inside_out_groups(vertices, facets, pairing, pieces);
    let crowded = std::mem::take(&mut pairing.crowded);
    let mut left = 0;
    let mut from = 0;
    for &to in &pairing.crowded_ends {
        let mut wedge_ends = around(vertices, facets, quantum, &crowded[from..to as usize]);
        from = to as usize;
        if wedge_ends
            .iter()
            .any(|e| inside_out[pieces.label[(e.half_edge / 3) as usize] as usize])
        {
            for e in &mut wedge_ends {
                e.begins = !e.begins;
            }
        }
        pair_within_pieces(&mut wedge_ends, &mut pairing.neighbours, pieces);
        wedge_ends.sort_by(|a, b| a.angle.total_cmp(&b.angle).then(a.begins.cmp(&b.begins)));
        close_ties(&mut wedge_ends);
        left += pair_following(wedge_ends, &mut pairing.neighbours);
    }
    pairing.crowded = crowded;
    left
}

/// A facet at a crowded edge.
struct WedgeEnd {
    half_edge: HalfEdge,
    /// Angle about the edge, radians.
    angle: f64,
    /// What rounding does to the angle, radians.
    slack: f64,
    /// True when metal lies at the larger angles.
    begins: bool,
}

/// The facets at one edge with their angles.
fn around(
    vertices: &[Point3<f64>],
    facets: &[[u32; 3]],
    quantum: f64,
    run: &[HalfEdge],
) -> Vec<WedgeEnd> {
    let Some(&first) = run.first() else {
        return Vec::new();
    };
    let (a, b) = edges::ends(facets, first);
    let (low, high) = (a.min(b), a.max(b));
    let base = vertices[low as usize];
    let along = (vertices[high as usize] - base)
        .try_normalize(0.0)
        .unwrap_or_else(Vector3::z);
    let across = |h: HalfEdge| {
        let r = vertices[opposite_corner(facets, h) as usize] - base;
        r - along * along.dot(&r)
    };
    let x = across(first)
        .try_normalize(0.0)
        .unwrap_or_else(|| any_normal(along));
    let y = along.cross(&x);
    run.iter()
        .map(|&h| {
            let r = across(h);
            let angle = r.dot(&y).atan2(r.dot(&x)).rem_euclid(std::f64::consts::TAU);
            // Rounding of the far corner and of the edge's two ends, each a quantum or two.
            let slack = (4.0 * quantum / r.norm().max(f64::MIN_POSITIVE)).min(0.1);
            WedgeEnd {
                half_edge: h,
                // A hair below a full turn is the first facet's own plane.
                angle: if angle > std::f64::consts::TAU - slack {
                    0.0
                } else {
                    angle
                },
                slack,
                begins: edges::ends(facets, h).0 == high,
            }
        })
        .collect()
}

/// Puts the ends before the beginnings among neighbours at (nearly) one angle.
fn close_ties(list: &mut [WedgeEnd]) {
    let mut from = 0;
    while from < list.len() {
        let (start, slack) = (list[from].angle, list[from].slack);
        let n = list[from..]
            .iter()
            .take_while(|e| e.angle - start <= slack + e.slack)
            .count();
        list[from..from + n].sort_by_key(|e| e.begins);
        from += n;
    }
}

/// Links the two facets of a piece that has exactly one beginning and one end here.
fn pair_within_pieces(list: &mut Vec<WedgeEnd>, neighbours: &mut [[u32; 3]], pieces: &Pieces) {
    let label = |e: &WedgeEnd| pieces.label[(e.half_edge / 3) as usize];
    list.sort_by_key(|e| (label(e), e.begins));
    let mut rest = Vec::with_capacity(list.len());
    let mut run = Vec::new();
    for e in list.drain(..) {
        if run.last().is_some_and(|last| label(last) != label(&e)) {
            settle(&mut run, &mut rest, neighbours);
        }
        run.push(e);
    }
    settle(&mut run, &mut rest, neighbours);
    *list = rest;

    fn settle(run: &mut Vec<WedgeEnd>, rest: &mut Vec<WedgeEnd>, neighbours: &mut [[u32; 3]]) {
        match &run[..] {
            [e, b] if !e.begins && b.begins => {
                link(neighbours, e.half_edge, b.half_edge);
                run.clear();
            }
            _ => rest.append(run),
        }
    }
}

/// Links each beginning with the end that follows it, going round. Returns what stays alone.
fn pair_following(list: Vec<WedgeEnd>, neighbours: &mut [[u32; 3]]) -> usize {
    let mut waiting: Vec<HalfEdge> = Vec::new();
    let mut ends_before = Vec::new();
    for e in list {
        if e.begins {
            waiting.push(e.half_edge);
        } else if let Some(b) = waiting.pop() {
            link(neighbours, b, e.half_edge);
        } else {
            ends_before.push(e.half_edge);
        }
    }
    let pairs = waiting.len().min(ends_before.len());
    let left = waiting.len() + ends_before.len() - 2 * pairs;
    for e in ends_before {
        if let Some(b) = waiting.pop() {
            link(neighbours, b, e);
        }
    }
    left
}

/// For each piece: true when the pieces that touch it enclose a negative volume together.
fn inside_out_groups(
    vertices: &[Point3<f64>],
    facets: &[[u32; 3]],
    pairing: &Pairing,
    pieces: &Pieces,
) -> Vec<bool> {
    let mut group = crate::geometry::union_find::UnionFind::new(pieces.count);
    for run in pairing.crowded_runs() {
        for pair in run.windows(2) {
            group.join(
                pieces.label[(pair[0] / 3) as usize],
                pieces.label[(pair[1] / 3) as usize],
            );
        }
    }
    let origin = vertices.first().copied().unwrap_or_else(Point3::origin);
    let mut volume = vec![0.0; pieces.count];
    for (f, &label) in facets.iter().zip(&pieces.label) {
        let [a, b, c] = f.map(|v| vertices[v as usize] - origin);
        volume[group.root(label) as usize] += a.dot(&b.cross(&c));
    }
    (0..pieces.count as u32)
        .map(|p| volume[group.root(p) as usize] < 0.0)
        .collect()
}

/// Any unit vector square to `v`.
fn any_normal(v: Vector3<f64>) -> Vector3<f64> {
    let other = if v.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    v.cross(&other).normalize()
}
