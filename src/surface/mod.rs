//! One body to patches: facets that came from one plane, cylinder or cone.
//!
//! Vertices are data, the inside of a facet is not: a facet belongs to a surface when its corners
//! lie on it, within what the file's coordinates allow.

mod boundary;
mod chord;
mod facets;
mod flat;
mod gaps;
mod grow;
mod invariant;
mod noise;
mod revolved;
mod rings;
mod scan;
mod seed;
mod uneven;

use nalgebra::{Point3, Vector3};

use crate::body::Body;

pub use gaps::fill_gaps;
pub use invariant::fault;
pub use rings::{HalfEdge, rings};

/// The surface under a patch, in the file's frame, mm and radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Surface {
    /// A plane.
    Plane {
        /// A point of it, amid the patch.
        point: Point3<f64>,
        /// Unit normal out of the metal.
        normal: Vector3<f64>,
    },
    /// A circular cylinder.
    Cylinder {
        /// The point of the axis beside the middle of the patch.
        point: Point3<f64>,
        /// Unit direction of the axis.
        axis: Vector3<f64>,
        /// Radius, mm.
        radius: f64,
        /// True when the metal is inside (the outside of a bend), false for a hole's wall.
        convex: bool,
    },
    /// A circular cone.
    Cone {
        /// Tip.
        apex: Point3<f64>,
        /// Unit direction of the axis from the tip into the opening cone.
        axis: Vector3<f64>,
        /// Angle between axis and surface, radians.
        half_angle: f64,
        /// True when the metal is inside.
        convex: bool,
    },
    /// Anything else.
    Unknown,
}

/// How two patches meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeKind {
    /// An outer corner of the metal.
    Convex,
    /// An inner corner of the metal.
    Concave,
    /// No corner: one surface runs into the other.
    Smooth,
}

/// The border between a patch and one neighbour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Border {
    /// Index of the neighbour.
    pub patch: u32,
    /// How they meet, along most of the border.
    pub kind: EdgeKind,
    /// Length of the border along the facets' edges, mm.
    pub length: f64,
}

/// Facets that share one surface.
#[derive(Clone, Debug)]
pub struct Patch {
    /// The surface.
    pub surface: Surface,
    /// Its facets.
    pub facets: Vec<u32>,
    /// Area of its facets, mm².
    pub area: f64,
    /// Closed border loops as vertex numbers, the patch on the left seen from outside the metal;
    /// the first vertex is not repeated.
    pub loops: Vec<Vec<u32>>,
    /// Patches it meets.
    pub borders: Vec<Border>,
    /// Root mean square distance of its vertices from the surface, mm.
    pub rms: f64,
    /// Largest distance of one of its vertices from the surface, mm.
    pub largest: f64,
    /// 95 % half-width of the radius (cylinder), of the place (plane), of the radius at its middle
    /// (cone), mm.
    pub plus_minus: f64,
}

/// A body taken apart into patches.
#[derive(Clone, Debug)]
pub struct Patches {
    /// Patches, largest first.
    pub list: Vec<Patch>,
    /// Patch of each facet.
    pub of_facet: Vec<u32>,
    /// How far a vertex may lie from its surface, mm: from the file's rounding, or its noise.
    pub tolerance: f64,
    /// 95 % half-width of a vertex' place, mm: the file's rounding, or what the vertices themselves
    /// show to be worse.
    pub accuracy: f64,
    /// Standard deviation of a scan's noise, mm, where the mesh shows one.
    pub noise: Option<f64>,
}

impl Patch {
    /// Vertex numbers of the patch, ascending, each once.
    pub fn vertices(&self, body: &Body) -> Vec<u32> {
        facets::vertices_of(body, &self.facets)
    }

    /// The plane's point and normal, if it is one.
    pub fn plane(&self) -> Option<(Point3<f64>, Vector3<f64>)> {
        match self.surface {
            Surface::Plane { point, normal } => Some((point, normal)),
            _ => None,
        }
    }
}

/// Standard deviation of a scan's noise, mm; `None` for a drawn model.
pub fn noise(body: &Body) -> Option<f64> {
    let shape = facets::Shape::of(body);
    noise::estimate(body, &shape, 3.0 * body.quantum + 1e-7 * shape.size)
}

/// Takes a body apart into planes, cylinders, cones and the rest.
///
/// Works on flat groups of facets first; each curved surface grows from a few neighbouring groups
/// whose vertices settle it, as long as vertices lie on it. What is left is planes where it is
/// flat, [`Surface::Unknown`] where small flats run on smoothly.
pub fn segment(body: &Body) -> Patches {
    let shape = facets::Shape::of(body);
    let exact = 3.0 * body.quantum + 1e-7 * shape.size;
    let mut tolerance = exact;
    let mut flats = flat::group(body, &shape, tolerance);
    // A drawn model is mostly made of surfaces that many vertices share to the last digit.
    let mut noise = noise::estimate(body, &shape, exact);
    let attempts = if noise.is_some() {
        grow::FEW_ATTEMPTS
    } else {
        grow::ATTEMPTS
    };
    let mut curved = grow::curved(body, &flats, tolerance, attempts);
    if noise.is_some() && noise::mostly_recognised(&flats, &curved) {
        noise = None;
        curved = grow::curved(body, &flats, tolerance, grow::ATTEMPTS);
    }
    let mut accuracy = body.quantum;
    let stray = match noise {
        Some(sigma) => {
            // Edges and planes are means over many vertices; what a few share is still unsure.
            accuracy = sigma;
            Some(4.0 * sigma + exact)
        }
        None => uneven::estimate(body, &shape, &flats, &curved, exact).map(|off| {
            accuracy = off;
            1.5 * off + exact
        }),
    };
    if let Some(stray) = stray {
        tolerance = stray;
        flats = flat::group(body, &shape, tolerance);
        curved = grow::curved(
            body,
            &flats,
            tolerance,
            if noise.is_some() {
                grow::FEW_ATTEMPTS
            } else {
                grow::ATTEMPTS
            },
        );
        if let Some(sigma) = noise {
            let (other, round) = scan::surfaces(body, &shape, sigma, tolerance);
            let share = |flats, curved: &[_]| noise::share_recognised(body, flats, curved, sigma);
            if share(&other, &round) > share(&flats, &curved) {
                (flats, curved) = (other, round);
            }
        }
    }
    if noise.is_none() {
        chord::bends(body, &flats, tolerance, &mut curved);
    }
    Patches {
        accuracy,
        noise,
        ..boundary::assemble(body, &shape, &flats, curved, tolerance)
    }
}
