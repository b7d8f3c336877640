//! What is not swept surface: the cut faces at the ends and the walls of holes.

use super::model::{Model, straightened};
use super::profile::Pt2;
use super::residual::Outline;
use super::track::{Facets, Track};
use crate::body::Body;
use crate::geometry::strips::{fill, fill_both};
use crate::geometry::{Pt3, Vec3};
use crate::weld::NONE;

/// A connected run of facets that are not swept surface.
#[derive(Clone, Debug)]
pub struct Cap {
    /// Facets.
    pub facets: Vec<u32>,
    /// Distinct vertices.
    pub vertices: Vec<u32>,
    /// Distance along the path of its nearest and farthest vertex, mm.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// Sum of area-weighted normals along the direction of travel over the metal area of the
    /// section: about −1 at the start, +1 at the far end, 0 for a hole.
    pub facing: f64,
    /// True when its vertices belong to more than one contour, as a hole through a wall does.
    pub crosses_wall: bool,
}

/// All vertices seen from the model, and the facets sorted into swept surface and caps.
pub struct Sorted {
    /// Section coordinates and distance along the path of each vertex.
    pub seen: Vec<(Pt2, f64)>,
    /// Contour of each facet of the swept surface, or [`NONE`].
    pub contour: Vec<u32>,
    /// The rest, in connected runs.
    pub caps: Vec<Cap>,
}

/// Sorts the facets of a body. `tolerance` is how far a vertex of the swept surface may lie from the
/// profile, mm: the file's own scatter and, where a cut crosses the flats of a facetted bend, the sag
/// of those flats. `loose` is the same for facets grown from the stations, which need less proof.
pub fn sort(
    body: &Body,
    facets: &Facets,
    track: &Track,
    lateral: &[u32],
    model: &Model,
    tolerance: f64,
    loose: f64,
) -> Sorted {
    let outline = Outline::new(&model.profile);
    let stations = super::lateral::Stations::new(track);
    let mut seen = vec![(Pt2::origin(), 0.0); body.vertices.len()];
    let mut near = vec![(0, 0.0); body.vertices.len()];
    let straight = |stations: &mut super::lateral::Stations, v: usize| {
        let p = &body.vertices[v];
        let (q, s, _) = straightened(model, p, stations.distance(p));
        ((q, s), outline.nearest(&q))
    };
    fill_both(&mut seen, &mut near, || stations.clone(), straight);
    let count = body.facets.len();
    let mut contour = vec![NONE; count];
    let sorted = |_: &mut (), f: usize| {
        let corner = body.facets[f].map(|v| v as usize);
        let k = near[corner[0]].0;
        // grown from the stations over edges that are not sharp: nearly always right
        let grown = lateral[f];
        if grown != NONE
            && (grown as usize) < model.profile.contours.len()
            && corner
                .iter()
                .all(|&v| outline.signed(grown as usize, &seen[v].0).abs() < loose)
        {
            return grown;
        }
        if corner
            .iter()
            .any(|&v| near[v].0 != k || near[v].1.abs() > tolerance)
        {
            return NONE;
        }
        let s = (seen[corner[0]].1 + seen[corner[1]].1 + seen[corner[2]].1) / 3.0;
        if facets.normal[f].dot(&model.path.at(s).t).abs() > 0.5 {
            return NONE;
        }
        // a cap facet may have all corners on one contour, but its middle then lies in the metal
        let mid = Pt2::from(
            (seen[corner[0]].0.coords + seen[corner[1]].0.coords + seen[corner[2]].0.coords) / 3.0,
        );
        let width = (0..3)
            .map(|i| (seen[corner[i]].0 - seen[corner[(i + 1) % 3]].0).norm())
            .fold(0.0, f64::max);
        if outline.signed(k, &mid).abs() > 0.25 * width + tolerance {
            return NONE;
        }
        k as u32
    };
    fill(&mut contour, || (), sorted);
    let (area, ..) = model.profile.moments();
    let mut done = vec![false; count];
    let mut caps = Vec::new();
    for f in 0..count {
        if contour[f] != NONE || done[f] {
            continue;
        }
        done[f] = true;
        let mut run = vec![f as u32];
        let mut i = 0;
        while i < run.len() {
            for &g in &body.neighbours[run[i] as usize] {
                if g != NONE && !done[g as usize] && contour[g as usize] == NONE {
                    done[g as usize] = true;
                    run.push(g);
                }
            }
            i += 1;
        }
        run.sort_unstable();
        let mut vertices: Vec<u32> = run.iter().flat_map(|&g| body.facets[g as usize]).collect();
        vertices.sort_unstable();
        vertices.dedup();
        let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
        for &v in &vertices {
            from = from.min(seen[v as usize].1);
            to = to.max(seen[v as usize].1);
        }
        let facing = run
            .iter()
            .map(|&g| {
                let s = seen[body.facets[g as usize][0] as usize].1;
                facets.normal[g as usize].dot(&model.path.at(s).t) * facets.area[g as usize]
            })
            .sum::<f64>()
            / area.max(1e-12);
        let crosses_wall = vertices
            .iter()
            .any(|&v| near[v as usize].0 != near[vertices[0] as usize].0);
        caps.push(Cap {
            facets: run,
            vertices,
            from,
            to,
            facing,
            crosses_wall,
        });
    }
    let mut sorted = Sorted {
        seen,
        contour,
        caps,
    };
    close_round(model, &mut sorted);
    sorted
}

/// On an arc that comes nearly round, the two end faces stand side by side and a vertex may have been
/// given the wrong turn: faces that look back belong to the start, faces that look on to the far end.
fn close_round(model: &Model, sorted: &mut Sorted) {
    let [piece] = &model.path.pieces[..] else {
        return;
    };
    if piece.curvature == 0.0 || piece.torsion != 0.0 || piece.length * piece.curvature.abs() < 4.5
    {
        return;
    }
    let turn = std::f64::consts::TAU / piece.curvature.abs();
    let middle = 0.5 * piece.length;
    for cap in &mut sorted.caps {
        if cap.facing.abs() < 0.25 {
            continue;
        }
        for &v in &cap.vertices {
            let s = &mut sorted.seen[v as usize].1;
            if cap.facing < 0.0 && *s > middle {
                *s -= turn;
            } else if cap.facing > 0.0 && *s < middle {
                *s += turn;
            }
        }
        let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
        for &v in &cap.vertices {
            from = from.min(sorted.seen[v as usize].1);
            to = to.max(sorted.seen[v as usize].1);
        }
        cap.from = from;
        cap.to = to;
    }
}

/// A plane through vertices.
#[derive(Clone, Copy, Debug)]
pub struct Plane {
    /// A point on it (mean of its vertices), mm.
    pub point: Pt3,
    /// Unit normal, out of the metal.
    pub normal: Vec3,
    /// Root mean square distance of its vertices, mm.
    pub rms: f64,
    /// Number of vertices.
    pub count: usize,
    /// Root mean square distance of its vertices from `point` along its two axes, mm.
    pub spread: f64,
    /// Area of its facets, mm².
    pub area: f64,
}

/// Least-squares plane through points, its normal on the side of `towards`.
pub fn plane_through(points: &[Pt3], towards: &Vec3) -> Option<Plane> {
    let n = points.len();
    if n < 3 {
        return None;
    }
    let mean = points.iter().fold(Vec3::zeros(), |s, p| s + p.coords) / n as f64;
    let scatter: nalgebra::Matrix3<f64> = points
        .iter()
        .map(|p| {
            let d = p.coords - mean;
            d * d.transpose()
        })
        .sum();
    let eigen = nalgebra::SymmetricEigen::new(scatter);
    let k = eigen.eigenvalues.imin();
    let mut normal: Vec3 = eigen.eigenvectors.column(k).into();
    if normal.dot(towards) < 0.0 {
        normal = -normal;
    }
    let mut spread: Vec<f64> = eigen.eigenvalues.iter().copied().collect();
    spread.sort_by(f64::total_cmp);
    Some(Plane {
        point: Pt3::from(mean),
        normal,
        rms: (eigen.eigenvalues[k].max(0.0) / n as f64).sqrt(),
        count: n,
        spread: (spread[1].max(0.0) / n as f64).sqrt(),
        area: 0.0,
    })
}

/// Planes that make up facets, largest first, and the share of their area the planes explain.
/// A vertex belongs to a plane when it lies within `tolerance` of it.
pub fn planes(body: &Body, facets: &Facets, run: &[u32], tolerance: f64) -> (Vec<Plane>, f64) {
    let total: f64 = run.iter().map(|&f| facets.area[f as usize]).sum();
    let corners = |f: u32| body.facets[f as usize].map(|v| body.vertices[v as usize]);
    let mut left: Vec<u32> = run.to_vec();
    let mut found = Vec::new();
    let mut explained = 0.0;
    while found.len() < 4 && !left.is_empty() {
        // candidates: the largest facets' own planes and the mean plane of all that is left
        let mut order = left.clone();
        order.sort_by(|&a, &b| {
            facets.area[b as usize]
                .total_cmp(&facets.area[a as usize])
                .then(a.cmp(&b))
        });
        let mut candidates: Vec<(Pt3, Vec3)> = order
            .iter()
            .take(12)
            .map(|&f| (corners(f)[0], facets.normal[f as usize]))
            .collect();
        let points: Vec<Pt3> = left.iter().flat_map(|&f| corners(f)).collect();
        let mean_normal: Vec3 = left
            .iter()
            .map(|&f| facets.normal[f as usize] * facets.area[f as usize])
            .sum();
        if let Some(p) = plane_through(&points, &mean_normal) {
            candidates.push((p.point, p.normal));
        }
        let mut best: Option<(f64, Plane, Vec<u32>)> = None;
        for (point, normal) in candidates {
            let mut plane = (point, normal);
            // a facet's own plane is rough when the facet is small: refit and gather again
            let mut result = None;
            for (round, slack) in [4.0, 1.0, 1.0].into_iter().enumerate() {
                let inside: Vec<u32> = left
                    .iter()
                    .copied()
                    .filter(|&f| {
                        facets.normal[f as usize].dot(&plane.1) > 0.5
                            && corners(f)
                                .iter()
                                .all(|p| (p - plane.0).dot(&plane.1).abs() < slack * tolerance)
                    })
                    .collect();
                let mut vertices: Vec<u32> = inside
                    .iter()
                    .flat_map(|&f| body.facets[f as usize])
                    .collect();
                vertices.sort_unstable();
                vertices.dedup();
                let points: Vec<Pt3> = vertices
                    .iter()
                    .map(|&v| body.vertices[v as usize])
                    .collect();
                let Some(mut p) = plane_through(&points, &plane.1) else {
                    break;
                };
                p.area = inside.iter().map(|&f| facets.area[f as usize]).sum();
                plane = (p.point, p.normal);
                if round > 0 {
                    result = Some((p.area, p, inside));
                }
            }
            if let Some(r) = result
                && best.as_ref().is_none_or(|b| r.0 > b.0 * (1.0 + 1e-9))
            {
                best = Some(r);
            }
        }
        let Some((area, plane, inside)) = best else {
            break;
        };
        if area < 0.02 * total {
            break;
        }
        explained += area;
        left.retain(|f| inside.binary_search(f).is_err());
        found.push(plane);
    }
    (found, if total > 0.0 { explained / total } else { 0.0 })
}
