//! Bytes to triangles. No other module knows a file format.

use schemars::JsonSchema;
use serde::Serialize;

/// File format a model was read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Format {
    /// Binary STL.
    #[serde(rename = "stl-binary")]
    StlBinary,
    /// ASCII STL.
    #[serde(rename = "stl-ascii")]
    StlAscii,
    /// Wavefront OBJ.
    #[serde(rename = "obj")]
    Obj,
    /// PLY, ASCII or binary.
    #[serde(rename = "ply")]
    Ply,
    /// 3MF package.
    #[serde(rename = "3mf")]
    ThreeMf,
}

/// How finely the file writes a coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Precision {
    /// IEEE binary32: the step is the float spacing at the coordinate's size.
    Binary32,
    /// IEEE binary64.
    Binary64,
    /// Text whose coordinates are all multiples of `step` (file units).
    Step(f64),
    /// Text with this many significant digits.
    SignificantDigits(u32),
}

/// A named run of facets: an ASCII solid, an OBJ object or group, a 3MF build item.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Name in the file, if it has one.
    pub name: Option<String>,
    /// Index of its first facet; it runs to the next group's first facet.
    pub first_facet: u32,
}

/// Triangles as the file gives them, in file units, not yet welded.
#[derive(Clone, Debug)]
pub struct TriangleSoup {
    /// Vertex coordinates, file units.
    pub points: Vec<[f64; 3]>,
    /// Corner indices into `points`, counter-clockwise seen from outside when the file is sound.
    pub facets: Vec<[u32; 3]>,
    /// Named runs of facets, in order; empty when the file names nothing.
    pub groups: Vec<Group>,
    /// How finely coordinates are written.
    pub precision: Precision,
    /// Millimetres per file unit where the format states it (3MF), else `None`.
    pub declared_mm_per_unit: Option<f64>,
    /// Where it came from.
    pub format: Format,
}
