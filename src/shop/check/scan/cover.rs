//! How much of the part a scan shows.

use super::align::spots;
use super::points::Scan;
use super::solve::{Problem, Solved};
use super::target::{Role, Under, beside_surface};
use crate::geometry::bvh::TriangleTree;
use crate::geometry::{Pt3, Vec3};

/// What is shown.
pub(super) struct Cover {
    /// Share of the outside, 0 to 1.
    pub outside: f64,
    /// Share of each face.
    pub faces: Vec<f64>,
    /// Places of the outside that are not shown, though all should be, with the distance to the
    /// nearest scanned surface, mm, and their face.
    pub missing: Vec<(Pt3, f64, usize)>,
}

/// Places looked at.
const SPOTS: usize = 4000;

/// Looks at places all over the part whether the scan has a surface there that looks the same way; the
/// piece is first undone by the fit, so that a bend that is off is not taken for metal that isn't there.
pub(super) fn cover(problem: &Problem, solved: &Solved, scan: &Scan, full: bool) -> Cover {
    let target = problem.target;
    let made = target.shape.made(&problem.ways, &solved.state.ways);
    let mut vertices: Vec<Pt3> = Vec::new();
    let mut facets: Vec<[u32; 3]> = Vec::new();
    for body in scan.bodies {
        let base = vertices.len() as u32;
        vertices.extend(body.vertices.iter().map(|v| {
            let p = solved.state.pose.place(v);
            made.undo(&p, target.station_near(&p, None))
        }));
        facets.extend(body.facets.iter().map(|f| f.map(|v| v + base)));
    }
    let turned = if solved.state.pose.mirrored {
        -problem.out
    } else {
        problem.out
    };
    let normals: Vec<Vec3> = facets
        .iter()
        .map(|f| {
            let [a, b, c] = f.map(|v| vertices[v as usize]);
            let n = (b - a).cross(&(c - a)) * turned;
            n.try_normalize(0.0).unwrap_or_else(Vec3::zeros)
        })
        .collect();
    let tree = TriangleTree::new(&vertices, &facets);
    let reach =
        sag(problem, &vertices, &facets, &normals) + (6.0 * solved.scale).max(0.002 * target.size);
    let mut seen = vec![[0usize; 2]; target.faces.len()];
    let mut missing = Vec::new();
    for (f, spot) in spots(target.body, SPOTS) {
        let flat = target.facet_normal(f);
        let probe = target.probe(&spot, &flat, reach.max(1.0));
        let (face, normal, on) = match probe {
            // The true surface above the facet.
            Some(p) => (p.face, p.normal, spot - p.normal * p.distance),
            None => (target.face(f), flat, spot),
        };
        let off = moved(problem, solved, face);
        let on = on + normal * off;
        let near = |most: f64| {
            tree.closest_of(&on, most, |g| normals[g as usize].dot(&normal) > 0.5)
                .map(|(_, _, d)| d)
        };
        seen[face][1] += 1;
        if near(reach).is_some() {
            seen[face][0] += 1;
        } else if full && target.faces[face].role != Role::Bore {
            // At least so far off: the nearest of anything that was scanned.
            let d = tree
                .closest(&on, target.size)
                .map_or(target.size, |(_, _, d)| d);
            missing.push((on, d, face));
        }
    }
    let share = |[some, all]: [usize; 2]| some as f64 / all.max(1) as f64;
    let outside = seen
        .iter()
        .zip(&target.faces)
        .filter(|(_, face)| face.role != Role::Bore)
        .fold([0, 0], |sum, (s, _)| [sum[0] + s[0], sum[1] + s[1]]);
    Cover {
        outside: share(outside),
        faces: seen.into_iter().map(share).collect(),
        missing,
    }
}

/// How far the fit moved a face that may move on its own.
fn moved(problem: &Problem, solved: &Solved, face: usize) -> f64 {
    problem
        .locals
        .iter()
        .zip(&solved.state.locals)
        .find_map(|(l, v)| match l {
            super::local::Local::Offset(own) if *own == face => Some(*v),
            _ => None,
        })
        .unwrap_or(0.0)
}

/// How far the scan's own facets cut the corner, mm: nearly all their middles lie nearer to the part.
fn sag(problem: &Problem, vertices: &[Pt3], facets: &[[u32; 3]], normals: &[Vec3]) -> f64 {
    let target = problem.target;
    let step = (facets.len() / 1500).max(1);
    let mut off: Vec<f64> = (0..facets.len())
        .step_by(step)
        .filter_map(|f| {
            let corners = facets[f].map(|v| vertices[v as usize]);
            let most = 0.03 * target.size;
            let probe = |p: &Pt3| target.probe(p, &normals[f], most);
            let ends = corners.map(|p| probe(&p).map(|q| q.distance.abs()));
            let [a, b, c] = corners.map(|p| p.coords);
            let middle = probe(&Pt3::from((a + b + c) / 3.0))?;
            let at_ends = ends.into_iter().flatten().fold(0.0, f64::max);
            Some((middle.distance.abs() - at_ends).max(0.0))
        })
        .collect();
    off.sort_by(f64::total_cmp);
    let at = (off.len() as f64 * 0.98) as usize;
    off.get(at.min(off.len().saturating_sub(1)))
        .copied()
        .unwrap_or(0.0)
        * 1.5
}

/// How far the rims of the model's own facets cut the corner, mm.
pub(super) fn rim_sag(target: &super::target::Target) -> f64 {
    let body = target.body;
    let mut most = 0.0_f64;
    for (f, corners) in body.facets.iter().enumerate() {
        for (k, g) in body.neighbours[f].iter().enumerate() {
            if *g == crate::weld::NONE || target.face(f as u32) == target.face(*g) {
                continue;
            }
            let [a, b] = [corners[k], corners[(k + 1) % 3]].map(|v| body.vertices[v as usize]);
            let middle = a + (b - a) / 2.0;
            for face in [f as u32, *g] {
                let off = match &target.faces[target.face(face)].under {
                    Under::Is(surface) => beside_surface(surface, &middle).0,
                    Under::Side(_) => target
                        .probe(&middle, &target.facet_normal(face), 0.05 * target.size)
                        .map_or(0.0, |p| p.distance),
                    Under::Facets => 0.0,
                };
                if off.is_finite() {
                    most = most.max(off.abs());
                }
            }
        }
    }
    most
}
