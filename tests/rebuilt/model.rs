//! The model: vertices and facets, in millimetres.

use std::collections::{HashMap, HashSet};

use nalgebra::{Point3, Vector3};
use parry3d_f64::math::Vector;
use parry3d_f64::query::PointQueryWithLocation;
use parry3d_f64::shape::TriMesh;

pub struct Model {
    pub vertices: Vec<Point3<f64>>,
    mesh: TriMesh,
    /// How far the true surface may lie from each facet or those about it, mm.
    sag: Vec<f64>,
    /// Largest step of the coordinates, mm.
    pub step: f64,
}

impl Model {
    /// Corners of triangles, in millimetres.
    pub fn new(points: &[[f64; 3]], facets: &[[u32; 3]], mm: f64) -> Model {
        let mut known: HashMap<[u64; 3], u32> = HashMap::new();
        let mut vertices = Vec::new();
        let mut step = 0.0f64;
        let index: Vec<u32> = points
            .iter()
            .map(|p| {
                *known
                    .entry(p.map(|c| (c + 0.0).to_bits()))
                    .or_insert_with(|| {
                        vertices.push(Point3::from(p.map(|c| c * mm)));
                        for c in p {
                            step =
                                step.max(f64::from(*c as f32).abs() * mm * f64::from(f32::EPSILON));
                        }
                        vertices.len() as u32 - 1
                    })
            })
            .collect();
        let facets: Vec<[u32; 3]> = facets
            .iter()
            .map(|f| f.map(|v| index[v as usize]))
            .filter(|[a, b, c]| a != b && b != c && c != a)
            .collect();
        let mut used = vec![false; vertices.len()];
        facets
            .iter()
            .flatten()
            .for_each(|v| used[*v as usize] = true);
        let split = split(&vertices, &facets, 4.0 * step);
        let sag = sag(&vertices, &facets);
        let corners = vertices
            .iter()
            .map(|p| Vector::new(p.x, p.y, p.z))
            .collect();
        let mesh = TriMesh::new(corners, facets).expect("a model with facets");
        let mut k = 0;
        vertices.retain(|_| {
            k += 1;
            used[k - 1] && !split.contains(&(k as u32 - 1))
        });
        Model {
            vertices,
            mesh,
            sag,
            step,
        }
    }

    /// Distance from the facets, what the nearest cuts off by the angles about it, and its corners.
    pub fn distance(&self, p: &Point3<f64>) -> (f64, f64, [Point3<f64>; 3]) {
        let at = Vector::new(p.x, p.y, p.z);
        let (foot, (facet, _)) = self.mesh.project_local_point_and_get_location(at, false);
        let t = self.mesh.triangle(facet);
        let corners = [t.a, t.b, t.c].map(|c| Point3::new(c.x, c.y, c.z));
        (
            (foot.point - at).length(),
            self.sag[facet as usize],
            corners,
        )
    }
}

/// Vertices that only split a side: the middle corners of facets without width. They lie on the
/// straight between two others and say nothing of the surface.
fn split(vertices: &[Point3<f64>], facets: &[[u32; 3]], rounding: f64) -> HashSet<u32> {
    let mut out = HashSet::new();
    for f in facets {
        for k in 0..3 {
            let [a, b, c] = [f[k], f[(k + 1) % 3], f[(k + 2) % 3]].map(|v| vertices[v as usize]);
            let side = c - b;
            let (v, length) = (a - b, side.norm());
            let along = v.dot(&side) / length;
            let off = (v - side * (along / length)).norm();
            if off < rounding && along > 0.0 && along < length {
                out.insert(f[k]);
            }
        }
    }
    out
}

/// Facets of a circle in steps of a have the angle a between them and lie w/2 · tan(a/4) inside it,
/// with w the width of a facet; where a surface curves both ways, both add up. Edges of more than 65°
/// count as corners of the metal. A face that ends in a curved edge cuts off what its neighbours do.
fn sag(vertices: &[Point3<f64>], facets: &[[u32; 3]]) -> Vec<f64> {
    let corner = |f: &[u32; 3]| f.map(|v| vertices[v as usize]);
    let normals: Vec<_> = facets
        .iter()
        .map(|f| {
            let [a, b, c] = corner(f);
            (b - a).cross(&(c - a)).try_normalize(1e-12)
        })
        .collect();
    let mut sides: HashMap<[u32; 2], Vec<usize>> = HashMap::new();
    for (i, f) in facets.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (f[k], f[(k + 1) % 3]);
            sides.entry([a.min(b), a.max(b)]).or_default().push(i);
        }
    }
    let mut bent: Vec<Vec<(f64, Vector3<f64>)>> = vec![Vec::new(); facets.len()];
    for (side, around) in &sides {
        let [i, j] = around[..] else { continue };
        let (Some(m), Some(n)) = (normals[i], normals[j]) else {
            continue;
        };
        let angle = m.cross(&n).norm().atan2(m.dot(&n));
        let [a, b] = side.map(|v| vertices[v as usize]);
        if angle > 65f64.to_radians() {
            continue;
        }
        let along = (b - a).normalize();
        for f in [i, j] {
            let width = corner(&facets[f])
                .iter()
                .map(|p| ((p - a) - along * (p - a).dot(&along)).norm())
                .fold(0.0, f64::max);
            bent[f].push((0.5 * width * (angle / 4.0).tan(), along));
        }
    }
    let own = |list: &Vec<(f64, Vector3<f64>)>| {
        let most = list.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        most.map_or(0.0, |(one, along)| {
            let across = list.iter().filter(|b| b.1.dot(along).abs() < 0.7);
            one + across.map(|b| b.0).fold(0.0, f64::max)
        })
    };
    let mut at = vec![0.0f64; vertices.len()];
    for (f, list) in facets.iter().zip(&bent) {
        for v in f {
            at[*v as usize] = at[*v as usize].max(own(list));
        }
    }
    let about = |f: &[u32; 3]| f.iter().map(|v| at[*v as usize]).fold(0.0, f64::max);
    facets.iter().map(about).collect()
}
