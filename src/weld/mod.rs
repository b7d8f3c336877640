//! Triangles to one mesh with shared vertices, millimetres, sound winding.

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
