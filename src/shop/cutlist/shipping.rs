//! Pieces as they ship: the smallest box found for each, its mass, and what comes apart.

use schemars::JsonSchema;
use serde::Serialize;

use super::Settings;
use super::fits::{Landings, Neighbours};
use super::joints::Joints;
use super::stand::Stand;
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::hull::convex_hull;
use crate::geometry::union_find::UnionFind;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::measure::Quantity;
use crate::shop::text::roughly;

/// A piece as it ships.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShippedPiece {
    /// Piece mark.
    pub mark: String,
    /// Pieces alike, in all models.
    pub count: u32,
    /// Sides of the smallest box found around it, longest first, mm; null where it shares a solid with
    /// others.
    pub size: Option<[f64; 3]>,
    /// Mass of one, kg.
    pub mass: Option<Quantity>,
    /// True where it is longer than can be moved.
    pub too_long: bool,
}

/// What holds together when every bolted joint is undone.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Unit {
    /// Marks of its pieces, each as often as there are.
    pub marks: Vec<String>,
    /// Units with the same marks, in all models.
    pub count: u32,
    /// Sides of the smallest box found around it, longest first, mm.
    pub size: [f64; 3],
    /// Mass of one, kg; null where that of a piece is not known.
    pub mass: Option<f64>,
    /// True where it is longer than can be moved.
    pub too_long: bool,
}

/// Every part as it ships, longest first.
pub fn pieces(
    stand: &Stand,
    settings: &Settings,
    density: f64,
    findings: &mut Vec<Finding>,
) -> Vec<ShippedPiece> {
    let mut out: Vec<ShippedPiece> = Vec::new();
    for piece in &stand.pieces {
        if let Some(known) = out.iter_mut().find(|p| p.mark == piece.mark) {
            known.count += stand.quantity;
            continue;
        }
        let alone = stand.piece_of.get(piece.body).is_some_and(|p| p.is_some());
        let size = alone.then(|| {
            // facets cut the corner of what is round: no side is shorter than the diameter
            let round = piece.part.member.as_ref().and_then(|m| m.section.diameter);
            let least = round.map_or(0.0, |d| d.value);
            smallest_box(&[&stand.bodies[piece.body]]).map(|side| side.max(least))
        });
        let too_long = exceeds(size, settings.max_length);
        if let (Some([length, ..]), true) = (size, too_long) {
            let mut finding = Finding::new(
                Code::OverLength,
                Severity::Warning,
                format!(
                    "{} is {} long, more than can be moved.",
                    piece.mark,
                    roughly(length, settings.show)
                ),
                "Plan a joint in it and have its place approved, or find a longer truck.",
            );
            finding.part = Some(piece.mark.clone());
            findings.push(finding);
        }
        out.push(ShippedPiece {
            mark: piece.mark.clone(),
            count: stand.quantity,
            size,
            mass: piece.part.volume.map(|v| crate::measure::mass(v, density)),
            too_long,
        });
    }
    out.sort_by(|a, b| {
        let long = |p: &ShippedPiece| p.size.map_or(0.0, |s| s[0]);
        long(b).total_cmp(&long(a)).then(a.mark.cmp(&b.mark))
    });
    out
}

fn exceeds(size: Option<[f64; 3]>, most: Option<f64>) -> bool {
    matches!((size, most), (Some([length, ..]), Some(most)) if length > most)
}

/// What stays together when the joints are undone. Parts of which one ends on the other, and others
/// that touch, count as welded unless they, or what they are welded to, are bolted to each other.
pub fn units(
    stand: &Stand,
    joints: &Joints,
    landings: &Landings,
    near: &Neighbours,
    settings: &Settings,
    density: f64,
    findings: &mut Vec<Finding>,
) -> Vec<Unit> {
    let mut groups = UnionFind::new(stand.bodies.len());
    let body = |piece: usize| stand.pieces[piece].body;
    let bolts: Vec<(u32, u32)> = joints
        .pairs
        .iter()
        .map(|&(p, q)| (body(p) as u32, body(q) as u32))
        .collect();
    let touching = |pair: &&(usize, usize)| {
        near.touching.contains(pair) || near.touching.contains(&(pair.1, pair.0))
    };
    let ends = landings.pairs.iter().filter(touching);
    for &(a, b) in ends.chain(&near.touching) {
        let (one, other) = (groups.root(a as u32), groups.root(b as u32));
        let bolted = bolts.iter().any(|&(p, q)| {
            let (p, q) = (groups.root(p), groups.root(q));
            (p, q) == (one, other) || (q, p) == (one, other)
        });
        if one != other && !bolted {
            groups.join(one, other);
        }
    }
    let mut out: Vec<Unit> = Vec::new();
    for root in 0..stand.bodies.len() {
        let own: Vec<usize> = (0..stand.bodies.len())
            .filter(|&k| groups.root(k as u32) == root as u32)
            .collect();
        if own.is_empty() {
            continue;
        }
        let mut marks: Vec<String> = stand
            .pieces
            .iter()
            .filter(|piece| own.contains(&piece.body))
            .map(|piece| piece.mark.clone())
            .collect();
        marks.sort();
        let mass: Option<f64> = stand
            .pieces
            .iter()
            .filter(|piece| own.contains(&piece.body))
            .map(|piece| piece.part.volume.map(|v| v.value * density * 1e-9))
            .sum();
        let bodies: Vec<&Body> = own.iter().map(|&k| &stand.bodies[k]).collect();
        let size = smallest_box(&bodies);
        if let Some(known) = out.iter_mut().find(|u| u.marks == marks) {
            known.count += stand.quantity;
            continue;
        }
        let too_long = own.len() > 1 && exceeds(Some(size), settings.max_length);
        if too_long {
            findings.push(Finding::new(
                Code::OverLength,
                Severity::Warning,
                format!("{} hold together without a bolted joint and are {} long, more than can be moved.", counted(&marks).join(", "), roughly(size[0], settings.show)),
                "Weld some of them on site, or plan a bolted joint and have it approved.",
            ));
        }
        out.push(Unit {
            marks,
            count: stand.quantity,
            size,
            mass,
            too_long,
        });
    }
    out.sort_by(|a, b| b.size[0].total_cmp(&a.size[0]).then(a.marks.cmp(&b.marks)));
    out
}

/// Marks in a row, alike ones counted: `M1`, `4 x M6`.
pub fn counted(marks: &[String]) -> Vec<String> {
    marks
        .chunk_by(|a, b| a == b)
        .map(|group| match group.len() {
            1 => group[0].clone(),
            n => format!("{n} x {}", group[0]),
        })
        .collect()
}

/// Directions in which a box is tried.
const TURNS: usize = 6;

/// The smallest box found: one side along each of a choice of directions (the frame, the directions of
/// the largest facets and the longest way through), the others along an edge of the outline seen from
/// there (Freeman and Shapira, "Determining the minimum-area encasing rectangle for an arbitrary closed
/// curve", 1975). Sides longest first, mm.
pub fn smallest_box(bodies: &[&Body]) -> [f64; 3] {
    let points: Vec<Pt3> = bodies
        .iter()
        .flat_map(|b| b.vertices.iter().copied())
        .collect();
    if points.is_empty() {
        return [0.0; 3];
    }
    let mut best: Option<([f64; 3], f64)> = None;
    for along in directions(bodies, &points) {
        let (u, v) = perpendicular_pair(&along);
        let heights = points.iter().map(|p| p.coords.dot(&along));
        let (low, high) = range(heights);
        let flat: Vec<nalgebra::Point2<f64>> = points
            .iter()
            .map(|p| nalgebra::Point2::new(p.coords.dot(&u), p.coords.dot(&v)))
            .collect();
        let hull = convex_hull(&flat);
        for k in 0..hull.len().max(1) {
            let edge = match hull.len() {
                0 | 1 => nalgebra::Vector2::x(),
                n => hull[(k + 1) % n] - hull[k],
            };
            let Some(e) = edge.try_normalize(1e-9) else {
                continue;
            };
            let (a, b) = range(hull.iter().map(|p| p.coords.dot(&e)));
            let (c, d) = range(hull.iter().map(|p| p.coords.perp(&e)));
            let mut sides = [high - low, b - a, d - c];
            sides.sort_by(|x, y| y.total_cmp(x));
            let volume: f64 = sides.iter().map(|s| s.max(1e-6)).product();
            if best.is_none_or(|(_, least)| volume < least) {
                best = Some((sides, volume));
            }
        }
    }
    best.map_or([0.0; 3], |(sides, _)| sides)
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
        (l.min(v), h.max(v))
    })
}

fn directions(bodies: &[&Body], points: &[Pt3]) -> Vec<Vec3> {
    let mut out = vec![Vec3::x(), Vec3::y(), Vec3::z()];
    let mut faces: Vec<(f64, Vec3)> = Vec::new();
    for body in bodies {
        for facet in &body.facets {
            let [a, b, c] = facet.map(|v| body.vertices[v as usize]);
            let normal = (b - a).cross(&(c - a));
            let Some(unit) = normal.try_normalize(1e-12) else {
                continue;
            };
            match faces.iter().position(|(_, n)| n.dot(&unit).abs() > 0.99999) {
                Some(known) => faces[known].0 += normal.norm(),
                None if faces.len() < 64 => faces.push((normal.norm(), unit)),
                None => {}
            }
        }
    }
    faces.sort_by(|a, b| b.0.total_cmp(&a.0));
    out.extend(faces.iter().take(TURNS).map(|f| f.1));
    // the longest way through, roughly: the farthest point from the farthest point
    let farthest = |from: &Pt3| {
        points
            .iter()
            .copied()
            .max_by(|a, b| {
                (a - from)
                    .norm_squared()
                    .total_cmp(&(b - from).norm_squared())
            })
            .unwrap_or(*from)
    };
    let one = farthest(&points[0]);
    out.extend((farthest(&one) - one).try_normalize(1e-9));
    out
}
