//! Surfaces of a noisy mesh: facets grown together as long as their scatter about one surface is the
//! noise and no more.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

use super::facets::{Shape, across, corners, vertices_of};
use super::flat::{Flat, Flats, link, plane_through};
use super::grow::Curved;
use super::revolved::{self, Revolved};
use crate::body::Body;

/// Facets a region needs: fewer would fit anything.
const FEWEST: usize = 16;
/// Scatter about a true surface over the noise; a wrong kind of surface, grown as far as its
/// tolerance lets it, scatters twice the noise.
const SCATTER: f64 = 1.45;
/// Facets that may be grown over in vain, times those of the body, before the rest is taken as free
/// form: where nothing is recognised every seed grows far, and the work would grow with the square.
const IN_VAIN: usize = 16;
const FREE: u32 = u32::MAX;

/// What a region grew on.
#[derive(Clone, Copy)]
enum Model {
    Plane(Point3<f64>, Vector3<f64>),
    /// Surface, and 1 where the metal is inside, −1 where it is outside.
    Round(Revolved, f64),
}

impl Model {
    fn distance(&self, p: &Point3<f64>) -> f64 {
        match self {
            Model::Plane(q, n) => (p - q).dot(n),
            Model::Round(fit, _) => fit.distance(p),
        }
    }

    fn normal(&self, p: &Point3<f64>) -> Vector3<f64> {
        match self {
            Model::Plane(_, n) => *n,
            Model::Round(fit, sign) => fit.normal(p) * *sign,
        }
    }
}

struct Region {
    facets: Vec<u32>,
    model: Model,
    rms: f64,
}

/// Flat groups and curved surfaces of a mesh with noise of standard deviation `sigma`.
pub(super) fn surfaces(
    body: &Body,
    shape: &Shape,
    sigma: f64,
    tolerance: f64,
) -> (Flats, Vec<Curved>) {
    let n = body.facets.len();
    let mut owner = vec![FREE; n];
    let mut tried = vec![false; n];
    let mut regions: Vec<Region> = Vec::new();
    let mut in_vain = 0;
    for seed in calm_first(body, shape) {
        if in_vain > IN_VAIN * n {
            break;
        }
        if owner[seed as usize] != FREE || tried[seed as usize] {
            continue;
        }
        let near = around(body, &owner, seed, 40);
        let mut grown = 0;
        match best(body, shape, &owner, &near, sigma, tolerance, &mut grown) {
            Some(region) => {
                for &f in &region.facets {
                    owner[f as usize] = regions.len() as u32;
                }
                regions.push(region);
            }
            None => {
                in_vain += grown;
                near.iter().for_each(|&f| tried[f as usize] = true);
            }
        }
    }
    adopt(body, &mut owner, &mut regions, 1.5 * tolerance);
    hand_over(body, shape, &owner, regions)
}

/// Facets by how little their neighbours' normals differ from theirs.
fn calm_first(body: &Body, shape: &Shape) -> Vec<u32> {
    let unrest: Vec<f64> = (0..body.facets.len() as u32)
        .map(|f| {
            let n = shape.normal[f as usize];
            across(body, f)
                .map(|g| 1.0 - n.dot(&shape.normal[g as usize]))
                .fold(0.0, f64::max)
        })
        .collect();
    let mut order: Vec<u32> = (0..body.facets.len() as u32).collect();
    order.sort_by(|&a, &b| {
        unrest[a as usize]
            .total_cmp(&unrest[b as usize])
            .then(a.cmp(&b))
    });
    order
}

fn around(body: &Body, owner: &[u32], seed: u32, count: usize) -> Vec<u32> {
    let mut out = vec![seed];
    let mut next = 0;
    while next < out.len() && out.len() < count {
        for g in across(body, out[next]) {
            if owner[g as usize] == FREE && !out.contains(&g) && out.len() < count {
                out.push(g);
            }
        }
        next += 1;
    }
    out
}

/// The plane, else cylinder, else cone that a neighbourhood grows into; adds to `grown` the facets it
/// grew over.
fn best(
    body: &Body,
    shape: &Shape,
    owner: &[u32],
    near: &[u32],
    sigma: f64,
    tolerance: f64,
    grown: &mut usize,
) -> Option<Region> {
    let mean = near
        .iter()
        .map(|&f| shape.normal[f as usize] * shape.area[f as usize])
        .sum::<Vector3<f64>>();
    let (point, normal) = plane_through(body, &vertices_of(body, near), &mean)?;
    let flat = grow(
        body,
        shape,
        owner,
        near,
        Model::Plane(point, normal),
        tolerance,
    )?;
    let mut good = |r: &Region| {
        *grown += r.facets.len();
        r.facets.len() >= FEWEST && r.rms <= SCATTER * sigma
    };
    if good(&flat) {
        return Some(flat);
    }
    let vertices = vertices_of(body, &flat.facets);
    let points: Vec<Point3<f64>> = vertices
        .iter()
        .map(|&v| body.vertices[v as usize])
        .collect();
    let about = |centred: bool| -> (Vector3<f64>, f64) {
        let total: f64 = flat.facets.iter().map(|&f| shape.area[f as usize]).sum();
        let weigh = |f: &u32| (shape.normal[*f as usize], shape.area[*f as usize] / total);
        let mean = flat
            .facets
            .iter()
            .map(weigh)
            .map(|(n, w)| n * w)
            .sum::<Vector3<f64>>();
        let origin = if centred { mean } else { Vector3::zeros() };
        let spread: Matrix3<f64> = flat
            .facets
            .iter()
            .map(weigh)
            .map(|(n, w)| (n - origin) * (n - origin).transpose() * w)
            .sum();
        let eigen = SymmetricEigen::new(spread);
        let axis: Vector3<f64> = eigen
            .eigenvectors
            .column(eigen.eigenvalues.imin())
            .into_owned();
        (axis, mean.dot(&axis).clamp(-1.0, 1.0).asin())
    };
    let (axis, _) = about(false);
    let (leaning, lean) = about(true);
    let starts = [(axis, None), (leaning, Some(lean)), (leaning, Some(-lean))];
    starts
        .into_iter()
        .filter(|(_, slope)| slope.is_none_or(|s| (0.02..1.5).contains(&s.abs())))
        .filter_map(|(axis, slope)| {
            let fit = revolved::fit(&points, &axis, slope, 12)?;
            let side: f64 = flat
                .facets
                .iter()
                .map(|&f| {
                    shape.normal[f as usize].dot(&fit.normal(&corners(body, f)[0]))
                        * shape.area[f as usize]
                })
                .sum();
            grow(
                body,
                shape,
                owner,
                near,
                Model::Round(fit, side.signum()),
                tolerance,
            )
        })
        .find(good)
}

/// Grows a model over free facets whose corners it keeps within `tolerance`, fitted anew as it grows.
fn grow(
    body: &Body,
    shape: &Shape,
    owner: &[u32],
    near: &[u32],
    start: Model,
    tolerance: f64,
) -> Option<Region> {
    let mut model = start;
    let mut region: Option<Region> = None;
    for _ in 0..40 {
        let on = |f: u32| {
            let c = corners(body, f);
            c.iter().all(|p| model.distance(p).abs() <= tolerance)
                && (shape.height[f as usize] <= tolerance
                    || shape.normal[f as usize].dot(&model.normal(&c[0])) > 0.3)
        };
        let mut member = std::collections::HashSet::new();
        let mut facets: Vec<u32> = near
            .iter()
            .copied()
            .filter(|&f| owner[f as usize] == FREE && on(f) && member.insert(f))
            .collect();
        // One round reaches as far as half as many facets again; what a better fit reaches comes next.
        let enough = region.as_ref().map_or(60, |r| r.facets.len() * 3 / 2 + 20);
        let mut next = 0;
        while next < facets.len() && facets.len() < enough {
            for g in across(body, facets[next]) {
                if owner[g as usize] == FREE && !member.contains(&g) && on(g) {
                    member.insert(g);
                    facets.push(g);
                }
            }
            next += 1;
        }
        let done = region
            .as_ref()
            .is_some_and(|r| facets.len() <= r.facets.len());
        if facets.len() < 6 {
            return region;
        }
        let vertices = vertices_of(body, &facets);
        // While it grows a few thousand vertices settle the surface as well as all.
        let every = if done {
            1
        } else {
            vertices.len().div_ceil(4000)
        };
        let points: Vec<Point3<f64>> = vertices
            .iter()
            .step_by(every)
            .map(|&v| body.vertices[v as usize])
            .collect();
        model = match model {
            Model::Plane(_, n) => {
                let (p, n) = plane_through(body, &vertices, &n)?;
                Model::Plane(p, n)
            }
            Model::Round(fit, sign) => Model::Round(
                revolved::fit(
                    &points,
                    &fit.axis,
                    (fit.slope != 0.0).then_some(fit.slope),
                    12,
                )?,
                sign,
            ),
        };
        let rms = (points
            .iter()
            .map(|p| model.distance(p).powi(2))
            .sum::<f64>()
            / points.len() as f64)
            .sqrt();
        region = Some(Region { facets, model, rms });
        if done {
            break;
        }
    }
    region
}

/// Gives facets left over to a neighbouring region that passes near their corners.
fn adopt(body: &Body, owner: &mut [u32], regions: &mut [Region], reach: f64) {
    loop {
        let mut changed = false;
        for f in 0..owner.len() as u32 {
            if owner[f as usize] != FREE {
                continue;
            }
            let c = corners(body, f);
            let off = |r: u32| {
                c.iter()
                    .map(|p| regions[r as usize].model.distance(p).abs())
                    .fold(0.0, f64::max)
            };
            let nearest = across(body, f)
                .map(|g| owner[g as usize])
                .filter(|&r| r != FREE)
                .map(|r| (r, off(r)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((r, d)) = nearest
                && d <= reach
            {
                owner[f as usize] = r;
                regions[r as usize].facets.push(f);
                changed = true;
            }
        }
        if !changed {
            return;
        }
    }
}

/// The regions as flat groups, each curved one a group of its own; facets of none stand alone.
fn hand_over(
    body: &Body,
    shape: &Shape,
    owner: &[u32],
    regions: Vec<Region>,
) -> (Flats, Vec<Curved>) {
    let mut list: Vec<Flat> = Vec::new();
    let mut curved = Vec::new();
    let mut group = |facets: Vec<u32>, point: Point3<f64>, normal: Vector3<f64>| {
        let vertices = vertices_of(body, &facets);
        let area = facets.iter().map(|&f| shape.area[f as usize]).sum();
        list.push(Flat {
            facets,
            vertices,
            point,
            normal,
            area,
            beside: Vec::new(),
        });
        list.len() as u32 - 1
    };
    for region in regions {
        match region.model {
            Model::Plane(point, normal) => {
                group(region.facets, point, normal);
            }
            Model::Round(fit, sign) => {
                let point = corners(body, region.facets[0])[0];
                let id = group(region.facets, point, fit.normal(&point) * sign);
                curved.push(Curved {
                    fit,
                    flats: vec![id],
                    convex: sign > 0.0,
                });
            }
        }
    }
    for f in (0..owner.len() as u32).filter(|&f| owner[f as usize] == FREE) {
        group(vec![f], corners(body, f)[0], shape.normal[f as usize]);
    }
    let mut of_facet = vec![FREE; body.facets.len()];
    for (id, flat) in list.iter().enumerate() {
        for &f in &flat.facets {
            of_facet[f as usize] = id as u32;
        }
    }
    link(body, &of_facet, &mut list);
    (Flats { list }, curved)
}
