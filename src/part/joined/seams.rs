//! Facets that hang together without passing an inner corner, and the rings where they end at one.

use nalgebra::Vector3;

use crate::body::Body;
use crate::geometry::Pt3;
use crate::geometry::union_find::UnionFind;
use crate::surface::{EdgeKind, HalfEdge, Patches, Surface, rings};
use crate::weld::NONE;

/// Sine of the least turn (about 5°) at which an edge of a border that is mostly another kind counts
/// as an inner corner.
const SHARP: f64 = 0.087;
/// Length of the mean normal across a ring, from which on the ring stands on one surface; walls that
/// stand round a ring have a mean near none.
pub const STANDS: f64 = 0.3;

/// A ring where a component ends at inner corners.
#[derive(Clone, Debug)]
pub struct Seam {
    /// Its edges, the component on the left.
    pub ring: Vec<HalfEdge>,
    /// Patches across, ascending.
    pub across: Vec<u32>,
    /// Mean unit normal of the facets across, weighted by length.
    pub normal: Vector3<f64>,
    /// Twice the area vector of the ring.
    pub newell: Vector3<f64>,
}

impl Seam {
    /// True when the component ends on a surface here, false when something else stands on it here.
    pub fn stands(&self) -> bool {
        self.normal.norm() > STANDS
    }

    /// True when metal is on the inside of the ring: the outer skin of a tube, or a bar.
    pub fn is_outer(&self) -> bool {
        self.newell.dot(&self.normal) > 0.0
    }
}

/// A set of facets between inner corners.
#[derive(Clone, Debug)]
pub struct Component {
    /// Facets, ascending.
    pub facets: Vec<u32>,
    /// Patches, ascending.
    pub patches: Vec<u32>,
    /// Area, mm².
    pub area: f64,
    /// Where it ends.
    pub seams: Vec<Seam>,
}

/// Components in the order of their first facet, and the component of each facet.
pub fn components(body: &Body, patches: &Patches) -> (Vec<Component>, Vec<u32>) {
    let normals: Vec<Vector3<f64>> = (0..body.facets.len() as u32)
        .map(|f| normal(body, f))
        .collect();
    let mut sets = UnionFind::new(body.facets.len());
    for f in 0..body.facets.len() as u32 {
        for k in 0..3 {
            let g = body.neighbours[f as usize][k];
            if g != NONE && g > f && !is_inner_corner(body, patches, &normals, f, k) {
                sets.join(f, g);
            }
        }
    }
    let mut of_root = vec![NONE; body.facets.len()];
    let mut of_facet = vec![NONE; body.facets.len()];
    let mut list: Vec<Component> = Vec::new();
    for f in 0..body.facets.len() as u32 {
        let root = sets.root(f) as usize;
        if of_root[root] == NONE {
            of_root[root] = list.len() as u32;
            list.push(Component {
                facets: Vec::new(),
                patches: Vec::new(),
                area: 0.0,
                seams: Vec::new(),
            });
        }
        of_facet[f as usize] = of_root[root];
        let own = &mut list[of_root[root] as usize];
        own.facets.push(f);
        own.patches.push(patches.of_facet[f as usize]);
        own.area += 0.5 * doubled(body, f).norm();
    }
    for (id, component) in list.iter_mut().enumerate() {
        component.patches.sort_unstable();
        component.patches.dedup();
        component.seams = rings(body, &component.facets, &|g| {
            of_facet[g as usize] == id as u32
        })
        .into_iter()
        .filter_map(|ring| seam(body, patches, &normals, ring))
        .collect();
    }
    (list, of_facet)
}

/// Whether the metal has an inner corner on edge `k` of facet `f`, between two surfaces.
pub fn is_inner_corner(
    body: &Body,
    patches: &Patches,
    normals: &[Vector3<f64>],
    f: u32,
    k: usize,
) -> bool {
    let g = body.neighbours[f as usize][k];
    let (p, q) = (patches.of_facet[f as usize], patches.of_facet[g as usize]);
    if p == q {
        return false;
    }
    let kind = patches
        .list
        .get(p as usize)
        .and_then(|patch| patch.borders.iter().find(|b| b.patch == q))
        .map_or(EdgeKind::Smooth, |b| b.kind);
    let corner = body.facets[f as usize];
    let edge = body.vertices[corner[(k + 1) % 3] as usize] - body.vertices[corner[k] as usize];
    let sine = normals[f as usize].cross(&normals[g as usize]).dot(&edge)
        / edge.norm().max(f64::MIN_POSITIVE);
    match kind {
        EdgeKind::Smooth => false,
        EdgeKind::Concave => sine < 0.0,
        EdgeKind::Convex => sine < -SHARP,
    }
}

/// `None` for a ring with an edge that was open in the file.
fn seam(
    body: &Body,
    patches: &Patches,
    normals: &[Vector3<f64>],
    ring: Vec<HalfEdge>,
) -> Option<Seam> {
    let mut across = Vec::with_capacity(ring.len());
    let (mut normal, mut length) = (Vector3::zeros(), 0.0);
    for e in &ring {
        let g = e.across(body);
        if g == NONE {
            return None;
        }
        let [a, b] = ends(body, *e);
        across.push(patches.of_facet[g as usize]);
        normal += normals[g as usize] * (b - a).norm();
        length += (b - a).norm();
    }
    across.sort_unstable();
    across.dedup();
    let vertices: Vec<u32> = ring.iter().map(|e| e.start(body)).collect();
    Some(Seam {
        newell: crate::geometry::face::newell(&body.vertices, &vertices),
        ring,
        across,
        normal: normal / length.max(f64::MIN_POSITIVE),
    })
}

fn ends(body: &Body, e: HalfEdge) -> [Pt3; 2] {
    let corner = body.facets[e.facet as usize];
    let k = usize::from(e.corner);
    [corner[k], corner[(k + 1) % 3]].map(|v| body.vertices[v as usize])
}

fn doubled(body: &Body, f: u32) -> Vector3<f64> {
    let [a, b, c] = body.facets[f as usize].map(|v| body.vertices[v as usize]);
    (b - a).cross(&(c - a))
}

/// Unit normal of a facet; zero for one without area.
pub fn normal(body: &Body, f: u32) -> Vector3<f64> {
    doubled(body, f)
        .try_normalize(0.0)
        .unwrap_or_else(Vector3::zeros)
}

/// Distance of a point from a plane or cylinder, and the outward unit normal there.
pub fn at(surface: &Surface, p: &Pt3) -> Option<(f64, Vector3<f64>)> {
    match surface {
        Surface::Plane { point, normal } => Some(((p - point).dot(normal), *normal)),
        Surface::Cylinder {
            point,
            axis,
            radius,
            convex,
        } => {
            let d = p - point;
            let out = d - axis * d.dot(axis);
            let unit = out.try_normalize(0.0)?;
            Some((out.norm() - radius, if *convex { unit } else { -unit }))
        }
        _ => None,
    }
}
