//! One mesh to separate bodies, each closed shell with the inner shells that belong to it.

use nalgebra::Point3;

/// One body: an outer shell with the inner shells (cavities) inside it, in millimetres,
/// with vertices and facets numbered of its own.
#[derive(Clone, Debug)]
pub struct Body {
    /// Number of the body in the file: by volume (largest first), then by centroid.
    pub index: u32,
    /// Vertex positions, mm.
    pub vertices: Vec<Point3<f64>>,
    /// Corner indices, counter-clockwise seen from outside the metal.
    pub facets: Vec<[u32; 3]>,
    /// Facet across edge (corner k, corner k+1), or [`crate::weld::NONE`].
    pub neighbours: Vec<[u32; 3]>,
    /// 95 % half-width of a coordinate's rounding in the file, mm.
    pub quantum: f64,
    /// Name from the file.
    pub name: Option<String>,
    /// Volume of the facets, mm³ (divergence sum; only meaningful when `closed`).
    pub volume: f64,
    /// Area of the facets, mm².
    pub area: f64,
    /// Centroid of the volume (of the area when open), mm.
    pub centroid: Point3<f64>,
    /// True when every edge has exactly one neighbour.
    pub closed: bool,
}
