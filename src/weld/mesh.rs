//! The welded mesh and what every stage may rely on in it.

use nalgebra::Point3;

/// No facet across this edge.
pub const NONE: u32 = u32::MAX;

/// A welded mesh in millimetres. Flat arrays, 32-bit indices.
#[derive(Clone, Debug)]
pub struct Mesh {
    /// Vertex positions, mm.
    pub vertices: Vec<Point3<f64>>,
    /// Corner indices, counter-clockwise seen from outside where orientation could be decided.
    pub facets: Vec<[u32; 3]>,
    /// Facet across edge (corner k, corner k+1), or [`NONE`].
    pub neighbours: Vec<[u32; 3]>,
    /// Group of the file each facet came from (index into the soup's groups), or [`NONE`].
    pub group: Vec<u32>,
    /// 95 % half-width of a coordinate's rounding in the file, mm.
    pub quantum: f64,
}

impl Mesh {
    /// Checks what every other stage relies on; the error names the first thing found wrong.
    pub fn check(&self) -> Result<(), String> {
        let n = self.facets.len();
        if self.neighbours.len() != n || self.group.len() != n {
            return Err(format!(
                "{n} facets, {} neighbours, {} groups",
                self.neighbours.len(),
                self.group.len()
            ));
        }
        if let Some(v) = self
            .vertices
            .iter()
            .position(|p| !p.iter().all(|x| x.is_finite()))
        {
            return Err(format!("vertex {v} is not finite"));
        }
        if !(self.quantum.is_finite() && self.quantum > 0.0) {
            return Err(format!("quantum {}", self.quantum));
        }
        check_topology(self.vertices.len(), &self.facets, &self.neighbours)
    }
}

/// Corners in range and different; neighbours mutual, over the same edge, run the other way.
pub(crate) fn check_topology(
    vertex_count: usize,
    facets: &[[u32; 3]],
    neighbours: &[[u32; 3]],
) -> Result<(), String> {
    for (i, f) in facets.iter().enumerate() {
        if f.iter().any(|&v| v as usize >= vertex_count) {
            return Err(format!("facet {i} names vertex {f:?} of {vertex_count}"));
        }
        if f[0] == f[1] || f[1] == f[2] || f[2] == f[0] {
            return Err(format!("facet {i} repeats a corner: {f:?}"));
        }
    }
    for (i, across) in neighbours.iter().enumerate() {
        for k in 0..3 {
            let j = across[k];
            if j == NONE {
                continue;
            }
            let (a, b) = (facets[i][k], facets[i][(k + 1) % 3]);
            let Some(other) = facets.get(j as usize) else {
                return Err(format!("facet {i} has neighbour {j} of {}", facets.len()));
            };
            let back = (0..3).find(|&m| other[m] == b && other[(m + 1) % 3] == a);
            if back.is_none_or(|m| neighbours[j as usize][m] != i as u32) {
                return Err(format!(
                    "facets {i} and {j} are not neighbours of each other over {a}-{b}"
                ));
            }
        }
    }
    Ok(())
}

/// Drops vertices that no facet uses; the rest keep their order.
pub(super) fn compact(mesh: &mut Mesh) {
    let mut used = vec![false; mesh.vertices.len()];
    for &v in mesh.facets.iter().flatten() {
        used[v as usize] = true;
    }
    if used.iter().all(|u| *u) {
        return;
    }
    let mut number = vec![NONE; mesh.vertices.len()];
    let mut count = 0;
    for v in 0..mesh.vertices.len() {
        if used[v] {
            mesh.vertices[count] = mesh.vertices[v];
            number[v] = count as u32;
            count += 1;
        }
    }
    mesh.vertices.truncate(count);
    for v in mesh.facets.iter_mut().flatten() {
        *v = number[*v as usize];
    }
}
