//! The model: vertices and facets, in millimetres, and what its facets cut off.

use std::collections::HashMap;

use nalgebra::Point3;
use parry3d_f64::math::Vector;
use parry3d_f64::query::PointQueryWithLocation;
use parry3d_f64::shape::TriMesh;

pub struct Model {
    pub vertices: Vec<Point3<f64>>,
    mesh: TriMesh,
    /// How far the true surface may lie from each facet, mm.
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
        let sag = sag(&vertices, &facets);
        let corners = vertices
            .iter()
            .map(|p| Vector::new(p.x, p.y, p.z))
            .collect();
        let mesh = TriMesh::new(corners, facets).expect("a model with facets");
        let mut k = 0;
        vertices.retain(|_| {
            k += 1;
            used[k - 1]
        });
        Model {
            vertices,
            mesh,
            sag,
            step,
        }
    }

    /// Distance from the facets, and what the nearest facet cuts off.
    pub fn distance(&self, p: &Point3<f64>) -> (f64, f64) {
        let at = Vector::new(p.x, p.y, p.z);
        let (foot, (facet, _)) = self.mesh.project_local_point_and_get_location(at, false);
        ((foot.point - at).length(), self.sag[facet as usize])
    }
}

/// Facets of a circle in steps of a have the angle a between them and lie w/2 · tan(a/4) inside it,
/// with w the width of a facet. Edges of more than 65° count as corners of the metal.
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
    let mut own = vec![0.0f64; facets.len()];
    for (side, around) in &sides {
        let [i, j] = around[..] else { continue };
        let (Some(m), Some(n)) = (normals[i], normals[j]) else {
            continue;
        };
        let angle = m.cross(&n).norm().atan2(m.dot(&n));
        if angle > 65f64.to_radians() {
            continue;
        }
        let [a, b] = side.map(|v| vertices[v as usize]);
        let along = (b - a).normalize();
        for f in [i, j] {
            let width = corner(&facets[f])
                .iter()
                .map(|p| ((p - a) - along * (p - a).dot(&along)).norm())
                .fold(0.0, f64::max);
            own[f] = own[f].max(0.5 * width * (angle / 4.0).tan());
        }
    }
    // The halves of a flat facet cut off as much as the whole.
    for _ in 0..3 {
        let before = own.clone();
        for around in sides.values() {
            let [i, j] = around[..] else { continue };
            if let (Some(m), Some(n)) = (normals[i], normals[j])
                && m.dot(&n) > 0.5
            {
                own[i] = own[i].max(before[j]);
                own[j] = own[j].max(before[i]);
            }
        }
    }
    own
}
