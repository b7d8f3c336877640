//! Planes on which members of one section meet at a corner, and the mesh cut along them.
//!
//! Such a joint has no seam all round: flat sides run from one member into the next. Its plane shows at
//! the inner corner, where it halves the angle between the two sides, or holds the whole curve on which
//! two round skins meet. A member that ends on the side of another, flush with it, is cut off in the
//! plane of that side.

use std::collections::HashMap;

use nalgebra::Vector3;

use super::seams::{Component, Seam, is_inner_corner, normal};
use crate::body::Body;
use crate::geometry::Pt3;
use crate::geometry::union_find::UnionFind;
use crate::surface::{Patches, rings};
use crate::weld::NONE;

/// More planes than this are no frame.
const MOST_PLANES: usize = 64;

/// Sets of planes tried on one body.
const MOST_CHOICES: usize = 4;
/// Corners this many times as long as others are of another kind.
const LONGER: f64 = 1.5;

/// A plane to cut along, in the rings through some vertices only.
#[derive(Clone)]
pub struct Plane {
    pub point: Pt3,
    pub normal: Vector3<f64>,
    seeds: Vec<u32>,
    /// Length of its longest corner, mm.
    corner: f64,
}

/// A body with facets cut along planes.
pub struct Cut {
    /// The same surface, with edges along the cuts.
    pub body: Body,
    /// Facets that hang together, by number.
    pub of_facet: Vec<u32>,
    /// How many such sets there are.
    pub count: usize,
    /// The planes.
    pub planes: Vec<Plane>,
}

/// The planes at the inner corners of a body: those of mitres, and the flat sides that meet there,
/// facing out of the metal, the one in most corners first.
pub fn planes(body: &Body, patches: &Patches) -> (Vec<Plane>, Vec<Plane>) {
    let normals: Vec<Vector3<f64>> = (0..body.facets.len() as u32)
        .map(|f| normal(body, f))
        .collect();
    // all vertices on borders between two patches, and whether one of the edges is an inner corner
    let mut borders: HashMap<(u32, u32), (Vec<u32>, bool)> = HashMap::new();
    for f in 0..body.facets.len() as u32 {
        for k in 0..3 {
            let g = body.neighbours[f as usize][k];
            if g == NONE || g < f {
                continue;
            }
            let (p, q) = (patches.of_facet[f as usize], patches.of_facet[g as usize]);
            if p == q {
                continue;
            }
            let at = borders.entry((p.min(q), p.max(q))).or_default();
            at.0.extend([k, (k + 1) % 3].map(|k| body.facets[f as usize][k]));
            at.1 |= is_inner_corner(body, patches, &normals, f, k);
        }
    }
    let mut corners: Vec<_> = borders.into_iter().filter(|(_, b)| b.1).collect();
    corners.sort_unstable_by_key(|c| c.0);
    let mut mitres: Vec<Plane> = Vec::new();
    // each side with the number of corners it stands in
    let mut sides: Vec<(usize, Plane)> = Vec::new();
    let joins = |o: &Plane, normal: &Vector3<f64>, seeds: &[u32]| {
        o.normal.cross(normal).norm() < 1e-3
            && seeds.iter().all(|&v| {
                (body.vertices[v as usize] - o.point).dot(&o.normal).abs()
                    <= 2.0 * patches.tolerance
            })
    };
    for ((p, q), (mut seeds, _)) in corners {
        seeds.sort_unstable();
        seeds.dedup();
        let flat = [p, q].map(|p| patches.list[p as usize].plane());
        let normals = flat.map(|s| s.map(|(_, n)| n));
        let Some((point, normal, corner)) = plane_at(body, &seeds, normals, patches.tolerance)
        else {
            continue;
        };
        if let [Some(m), Some(n)] = normals {
            for normal in [m, n] {
                let same = |o: &Plane| normal.dot(&o.normal) > 0.0 && joins(o, &normal, &seeds);
                match sides.iter_mut().find(|(_, o)| same(o)) {
                    Some((corners, o)) => {
                        *corners += 1;
                        o.seeds.extend(&seeds);
                    }
                    None => sides.push((
                        1,
                        Plane {
                            point,
                            normal,
                            seeds: seeds.clone(),
                            corner,
                        },
                    )),
                }
            }
        }
        match mitres.iter_mut().find(|o| joins(o, &normal, &seeds)) {
            Some(o) => {
                o.seeds.extend(seeds);
                o.corner = o.corner.max(corner);
            }
            None => mitres.push(Plane {
                point,
                normal,
                seeds,
                corner,
            }),
        }
        if mitres.len() > MOST_PLANES {
            return (Vec::new(), Vec::new());
        }
    }
    sides.sort_by_key(|(corners, _)| std::cmp::Reverse(*corners));
    sides.truncate(MOST_CHOICES);
    (mitres, sides.into_iter().map(|s| s.1).collect())
}

/// The plane that the corner's vertices lie on; for a straight corner of two flat sides the one that
/// halves the angle between them.
fn plane_at(
    body: &Body,
    vertices: &[u32],
    sides: [Option<Vector3<f64>>; 2],
    tolerance: f64,
) -> Option<(Pt3, Vector3<f64>, f64)> {
    let at = |v: u32| body.vertices[v as usize];
    let first = at(*vertices.first()?);
    let far = |from: Pt3| {
        vertices
            .iter()
            .map(|&v| at(v))
            .max_by(|a, b| (a - from).norm().total_cmp(&(b - from).norm()))
    };
    let a = far(first)?;
    let b = far(a)?;
    let along = (b - a).try_normalize(0.0)?;
    let off = |p: &Pt3| (p - a).cross(&along).norm();
    let widest = vertices
        .iter()
        .map(|&v| at(v))
        .max_by(|p, q| off(p).total_cmp(&off(q)))?;
    let point = nalgebra::center(&a, &b);
    if off(&widest) <= 2.0 * tolerance {
        let [Some(m), Some(n)] = sides else {
            return None;
        };
        let normal = along.cross(&(m + n)).try_normalize(0.0)?;
        return Some((point, normal, (b - a).norm()));
    }
    let normal = along.cross(&(widest - a)).try_normalize(0.0)?;
    let lever = (b - a).norm() / off(&widest);
    vertices
        .iter()
        .all(|&v| (at(v) - point).dot(&normal).abs() <= tolerance * (1.0 + lever))
        .then_some((point, normal, (b - a).norm()))
}

/// The planes in sets to try, all of them first, then without those of the longest corners: a sharp
/// inner corner that runs along a member is no mitre.
pub fn choices(mut all: Vec<Plane>) -> Vec<Vec<Plane>> {
    let mut out = Vec::new();
    while !all.is_empty() && out.len() < MOST_CHOICES {
        let longest = all.iter().map(|p| p.corner).fold(0.0, f64::max);
        let shorter = all
            .iter()
            .filter(|p| p.corner < longest / LONGER)
            .cloned()
            .collect();
        out.push(std::mem::replace(&mut all, shorter));
    }
    out
}

struct Work {
    vertices: Vec<Pt3>,
    facets: Vec<[u32; 3]>,
    /// Edges along cuts, lower vertex first.
    cut: std::collections::HashSet<(u32, u32)>,
}

/// Cuts a body along planes. `None` where the mesh doesn't stay sound.
pub fn cut(body: &Body, planes: Vec<Plane>, tolerance: f64) -> Option<Cut> {
    let mut work = Work {
        vertices: body.vertices.clone(),
        facets: body.facets.clone(),
        cut: Default::default(),
    };
    for plane in &planes {
        cut_one(&mut work, plane, tolerance);
    }
    let mut across: HashMap<(u32, u32), (u32, usize)> = HashMap::new();
    for (f, corner) in work.facets.iter().enumerate() {
        for k in 0..3 {
            let edge = (corner[k], corner[(k + 1) % 3]);
            if across.insert(edge, (f as u32, k)).is_some() {
                return None;
            }
        }
    }
    let mut sets = UnionFind::new(work.facets.len());
    let mut neighbours = vec![[NONE; 3]; work.facets.len()];
    for (f, corner) in work.facets.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (corner[k], corner[(k + 1) % 3]);
            if let Some(&(g, _)) = across.get(&(b, a)) {
                neighbours[f][k] = g;
                if !work.cut.contains(&(a.min(b), a.max(b))) {
                    sets.join(f as u32, g);
                }
            }
        }
    }
    let of_facet = super::gather::numbered(&mut sets, work.facets.len());
    let count = of_facet.iter().max().map_or(0, |&m| m as usize + 1);
    let mut refined = body.clone();
    refined.vertices = work.vertices;
    refined.facets = work.facets;
    refined.neighbours = neighbours;
    Some(Cut {
        body: refined,
        of_facet,
        count,
        planes,
    })
}

fn cut_one(work: &mut Work, plane: &Plane, tolerance: f64) {
    let side: Vec<i8> = work
        .vertices
        .iter()
        .map(|p| (p - plane.point).dot(&plane.normal))
        .map(|d| {
            if d.abs() <= 2.0 * tolerance {
                0
            } else {
                d.signum() as i8
            }
        })
        .collect();
    let of = |v: u32| side[v as usize];
    // where the plane meets the mesh: in vertices (v, v) and on edges (lower, higher)
    let mut number: HashMap<(u32, u32), u32> = HashMap::new();
    let mut meets: Vec<(u32, Vec<u32>)> = Vec::new();
    for (f, corner) in work.facets.iter().enumerate() {
        let mut own: Vec<u32> = Vec::new();
        for k in 0..3 {
            let (a, b) = (corner[k], corner[(k + 1) % 3]);
            let next = number.len() as u32;
            if of(a) == 0 {
                own.push(*number.entry((a, a)).or_insert(next));
            }
            let next = number.len() as u32;
            if of(a) * of(b) < 0 {
                own.push(*number.entry((a.min(b), a.max(b))).or_insert(next));
            }
        }
        if own.len() > 1 {
            meets.push((f as u32, own));
        }
    }
    let mut sets = UnionFind::new(number.len());
    for (_, own) in &meets {
        for pair in own.windows(2) {
            sets.join(pair[0], pair[1]);
        }
    }
    let mut chosen: Vec<bool> = vec![false; number.len()];
    for v in &plane.seeds {
        if let Some(&n) = number.get(&(*v, *v)) {
            chosen[sets.root(n) as usize] = true;
        }
    }
    meets.retain(|(_, own)| chosen[sets.root(own[0]) as usize]);
    let mut on_edge: HashMap<(u32, u32), u32> = HashMap::new();
    let mut pieces: Vec<[u32; 3]> = Vec::new();
    for (f, _) in &meets {
        let corner = work.facets[*f as usize];
        // the polygon with the new vertices on it; its parts on either side are fans
        let mut ring: Vec<(u32, i8)> = Vec::with_capacity(5);
        for k in 0..3 {
            let (a, b) = (corner[k], corner[(k + 1) % 3]);
            ring.push((a, of(a)));
            if of(a) * of(b) < 0 {
                let key = (a.min(b), a.max(b));
                let w = *on_edge.entry(key).or_insert_with(|| {
                    let [p, q] = [key.0, key.1].map(|v| work.vertices[v as usize]);
                    let [d, e] = [p, q].map(|p| (p - plane.point).dot(&plane.normal));
                    work.vertices.push(p + (q - p) * (d / (d - e)));
                    if work.cut.remove(&key) {
                        let w = work.vertices.len() as u32 - 1;
                        work.cut.extend([(key.0, w), (key.1, w)]);
                    }
                    work.vertices.len() as u32 - 1
                });
                ring.push((w, 0));
            }
        }
        if ring.len() == 3 && !(ring.iter().any(|r| r.1 > 0) && ring.iter().any(|r| r.1 < 0)) {
            pieces.push(corner);
            continue;
        }
        for s in [1, -1] {
            let part: Vec<u32> = ring.iter().filter(|r| r.1 != -s).map(|r| r.0).collect();
            for w in part[1..].windows(2) {
                pieces.push([part[0], w[0], w[1]]);
            }
        }
    }
    let mut first_pieces = work.facets.clone();
    let gone: std::collections::HashSet<u32> = meets.iter().map(|m| m.0).collect();
    let mut f = 0;
    first_pieces.retain(|_| {
        f += 1;
        !gone.contains(&(f - 1))
    });
    // an edge in the plane is cut where the facets beside it stand on either side
    let side_of = |c: &[u32; 3]| -> i8 {
        let own = c
            .iter()
            .map(|&v| side.get(v as usize).copied().unwrap_or(0));
        match own.clone().find(|s| *s != 0) {
            Some(s) => s,
            None => {
                // metal is behind a face in the plane
                let [a, b, d] = c.map(|v| work.vertices[v as usize]);
                if (b - a).cross(&(d - a)).dot(&plane.normal) > 0.0 {
                    -1
                } else {
                    1
                }
            }
        }
    };
    let in_plane = |v: u32| side.get(v as usize).is_none_or(|s| *s == 0);
    let mut beside: HashMap<(u32, u32), i8> = HashMap::new();
    let mut cut = Vec::new();
    for c in &pieces {
        for k in 0..3 {
            let (a, b) = (c[k], c[(k + 1) % 3]);
            if in_plane(a) && in_plane(b) {
                let key = (a.min(b), a.max(b));
                match beside.insert(key, side_of(c)) {
                    Some(s) if s != side_of(c) => cut.push(key),
                    _ => {}
                }
            }
        }
    }
    work.cut.extend(cut);
    first_pieces.extend(pieces);
    work.facets = first_pieces;
}

/// The sets of facets between the cuts, with the rings where they end.
pub fn components(cut: &Cut, tolerance: f64) -> Option<Vec<Component>> {
    let body = &cut.body;
    let mut list: Vec<Component> = vec![
        Component {
            facets: Vec::new(),
            patches: Vec::new(),
            area: 0.0,
            seams: Vec::new(),
        };
        cut.count
    ];
    for (f, &c) in cut.of_facet.iter().enumerate() {
        list[c as usize].facets.push(f as u32);
    }
    for (id, component) in list.iter_mut().enumerate() {
        let own = rings(body, &component.facets, &|g| {
            cut.of_facet[g as usize] == id as u32
        });
        for ring in own {
            if ring.iter().any(|e| e.across(body) == NONE) {
                continue;
            }
            let vertices: Vec<u32> = ring.iter().map(|e| e.start(body)).collect();
            let off = |p: &Plane, v: u32| (body.vertices[v as usize] - p.point).dot(&p.normal);
            let k = cut
                .planes
                .iter()
                .position(|p| vertices.iter().all(|&v| off(p, v).abs() <= 4.0 * tolerance))?;
            let plane = &cut.planes[k];
            let reach: f64 = ring
                .iter()
                .flat_map(|e| body.facets[e.facet as usize])
                .map(|v| off(plane, v))
                .sum();
            component.seams.push(Seam {
                across: vec![k as u32],
                normal: plane.normal * reach.signum(),
                newell: crate::geometry::face::newell(&body.vertices, &vertices),
                ring,
            });
        }
    }
    Some(list)
}
