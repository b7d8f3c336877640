//! Holes through the walls of a member.

use super::caps::{Cap, Sorted};
use super::path::Path;
use super::trace::Traced;
use super::track::Facets;
use super::{HoleKind, MemberHole};
use crate::body::Body;
use crate::geometry::cylinder_fit::fit_cylinder;
use crate::geometry::least_squares::Options;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::measure::Quantity;

/// One opening through one wall (or right through a solid section).
struct Opening {
    kind: HoleKind,
    /// A point on the axis, in the wall.
    point: Pt3,
    axis: Vec3,
    diameter: Option<Quantity>,
    length: Option<Quantity>,
    /// Shorter side and corner radius of a cut-out.
    width: Option<Quantity>,
    corner: Option<Quantity>,
    /// Direction of the longer side.
    along: Option<Vec3>,
    /// How far its wall reaches along the axis, mm.
    depth: f64,
    /// 95 % half-width of the axis' place, mm.
    place_pm: f64,
}

fn points_of(body: &Body, cap: &Cap) -> Vec<Pt3> {
    cap.vertices
        .iter()
        .map(|&v| body.vertices[v as usize])
        .collect()
}

/// Direction most nearly square to the normals of the facets: the axis of a hole's wall.
fn wall_axis(facets: &Facets, cap: &Cap) -> Option<Vec3> {
    let m: nalgebra::Matrix3<f64> = cap
        .facets
        .iter()
        .map(|&f| {
            let n = facets.normal[f as usize];
            n * n.transpose() * facets.area[f as usize]
        })
        .sum();
    if !(m.norm() > 0.0) {
        return None;
    }
    let eigen = nalgebra::SymmetricEigen::new(m);
    Some(eigen.eigenvectors.column(eigen.eigenvalues.imin()).into())
}

/// An obround through `points` seen along `axis`: two half circles joined by straight sides.
/// Returns the middle, the half-distance between the centres, its direction and the radius.
fn as_slot(points: &[Pt3], axis: &Vec3, tolerance: f64) -> Option<(Pt3, f64, Vec3, f64, f64)> {
    let (u, v) = perpendicular_pair(axis);
    let n = points.len() as f64;
    let mean = Pt3::from(points.iter().fold(Vec3::zeros(), |s, p| s + p.coords) / n);
    let flat: Vec<nalgebra::Vector2<f64>> = points
        .iter()
        .map(|p| nalgebra::Vector2::new((p - mean).dot(&u), (p - mean).dot(&v)))
        .collect();
    // the narrowest strip around the points gives the width and the long direction
    let mut best: Option<(f64, f64)> = None;
    let width = |angle: f64| {
        let d = nalgebra::Vector2::new(-angle.sin(), angle.cos());
        let (lo, hi) = flat
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| {
                (a.min(p.dot(&d)), b.max(p.dot(&d)))
            });
        hi - lo
    };
    for k in 0..720 {
        let angle = std::f64::consts::PI * k as f64 / 720.0;
        let w = width(angle);
        if best.is_none_or(|(b, _)| w < b) {
            best = Some((w, angle));
        }
    }
    let (_, mut angle) = best?;
    let mut step = std::f64::consts::PI / 720.0;
    while step > 1e-9 {
        let (a, b) = (width(angle - step), width(angle + step));
        let here = width(angle);
        if a < here && a <= b {
            angle -= step;
        } else if b < here {
            angle += step;
        } else {
            step *= 0.5;
        }
    }
    let along = nalgebra::Vector2::new(angle.cos(), angle.sin());
    let across = nalgebra::Vector2::new(-along.y, along.x);
    let range = |d: &nalgebra::Vector2<f64>| {
        flat.iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| {
                (a.min(p.dot(d)), b.max(p.dot(d)))
            })
    };
    let (w0, w1) = range(&across);
    let (l0, l1) = range(&along);
    let radius = 0.5 * (w1 - w0);
    // a facetted end may stop short of its crown: take the length from the end arcs instead
    let centre = along * (0.5 * (l0 + l1)) + across * (0.5 * (w0 + w1));
    let half = |side: f64| -> f64 {
        let mut far = 0.0f64;
        let mut sum = 0.0;
        let mut count = 0.0;
        for p in &flat {
            let d = p - centre;
            let (x, y) = (d.dot(&along) * side, d.dot(&across));
            if y.abs() < 0.98 * radius && x > 0.0 {
                sum += x - (radius * radius - y * y).max(0.0).sqrt();
                count += 1.0;
            }
            far = far.max(x);
        }
        if count > 0.0 {
            sum / count
        } else {
            far - radius
        }
    };
    let (a, b) = (half(1.0), half(-1.0));
    let centre = centre + along * (0.5 * (a - b));
    let h = 0.5 * (a + b);
    if h < 2.0 * tolerance {
        return None;
    }
    let worst = flat
        .iter()
        .map(|p| {
            let d = p - centre;
            let (x, y) = (d.dot(&along).abs(), d.dot(&across));
            if x > h {
                ((x - h).hypot(y) - radius).abs()
            } else {
                (y.abs() - radius).abs()
            }
        })
        .fold(0.0, f64::max);
    if worst > tolerance {
        return None;
    }
    Some((
        mean + u * centre.x + v * centre.y,
        h,
        u * along.x + v * along.y,
        radius,
        worst,
    ))
}

fn opening(
    body: &Body,
    facets: &Facets,
    cap: &Cap,
    tolerance: f64,
    sigma: f64,
    largest: f64,
) -> Option<Opening> {
    let points = points_of(body, cap);
    let guess = wall_axis(facets, cap)?;
    let mean = Pt3::from(
        points.iter().fold(Vec3::zeros(), |s, p| s + p.coords) / points.len().max(1) as f64,
    );
    let floor = body.quantum.max(1e-3);
    let along = points.iter().map(|p| p.coords.dot(&guess));
    let (near, far) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| {
        (a.min(s), b.max(s))
    });
    let depth = far - near;
    if let Some(c) = fit_cylinder(&points, None, guess, &Options::default())
        && points.iter().all(|p| c.distance(p).abs() < tolerance)
        && c.radius < largest
        && faces_axis(body, facets, cap, &c.point, &c.axis)
    {
        let at = c.point + c.axis * (mean - c.point).dot(&c.axis);
        return Some(Opening {
            kind: HoleKind::Round,
            point: at,
            axis: c.axis,
            diameter: Some(Quantity::new(
                2.0 * c.radius,
                4.0 * c.radius_uncertainty(sigma) + floor,
            )),
            length: None,
            width: None,
            corner: None,
            along: None,
            depth,
            place_pm: 2.0
                * c.place_uncertainty(sigma)
                    .iter()
                    .fold(0.0f64, |a, b| a.max(*b))
                + floor,
        });
    }
    if let Some((middle, half, along, radius, worst)) = as_slot(&points, &guess, tolerance)
        && radius < largest
        && faces_axis(body, facets, cap, &middle, &guess)
    {
        let pm = 2.0 * worst + floor;
        return Some(Opening {
            kind: HoleKind::Slot,
            point: middle,
            axis: guess,
            diameter: Some(Quantity::new(2.0 * radius, pm)),
            length: Some(Quantity::new(2.0 * (half + radius), pm)),
            width: None,
            corner: None,
            along: Some(along),
            depth,
            place_pm: pm,
        });
    }
    let seen = super::window::seen(body, cap, &guess, floor.max(2.0 * sigma));
    Some(Opening {
        kind: HoleKind::Cutout,
        point: seen.as_ref().map_or(mean, |s| s.centre),
        axis: guess,
        diameter: None,
        length: seen.as_ref().map(|s| s.sides[0]),
        width: seen.as_ref().map(|s| s.sides[1]),
        corner: seen.as_ref().and_then(|s| s.corner),
        along: seen.as_ref().map(|s| s.along),
        depth,
        place_pm: seen.map_or(1.0, |s| s.sides[0].plus_minus + floor),
    })
}

/// True when the facets look at the axis, as the wall of a hole does; a pin's or a bend's look away.
fn faces_axis(body: &Body, facets: &Facets, cap: &Cap, point: &Pt3, axis: &Vec3) -> bool {
    cap.facets
        .iter()
        .map(|&f| {
            let p = body.vertices[body.facets[f as usize][0] as usize];
            let d = point - p;
            let across = d - axis * d.dot(axis);
            across.dot(&facets.normal[f as usize]) * facets.area[f as usize]
        })
        .sum::<f64>()
        > 0.0
}

/// Distance along `path`, section offset and frame of the foot of a line on the path: where it passes
/// nearest to the centreline.
fn foot(path: &Path, point: &Pt3, axis: &Vec3, near: f64) -> f64 {
    // the point of the axis nearest to the centreline, then its distance along the path; twice is enough
    let mut s = near;
    for _ in 0..20 {
        let f = path.at(s);
        // on the axis, the point in the section plane nearest to the centreline
        let d = f.point - point;
        let q = point + axis * d.dot(axis);
        let (l, _) = path.local(&q, s);
        if (l.s - s).abs() < 1e-9 {
            break;
        }
        s = l.s;
    }
    s
}

/// Holes of a traced member, in order along `path` between distances `extent`.
pub fn holes(
    body: &Body,
    facets: &Facets,
    traced: &Traced,
    sorted: &Sorted,
    path: &Path,
    extent: &[f64; 2],
) -> Vec<MemberHole> {
    let tolerance = super::ends::face_tolerance(body, traced);
    let profile = &traced.fitted.model.profile;
    let solid = profile.contours.len() == 1;
    // a bar is one wall, an angle or a channel has one in each leg
    let bar = solid && profile.contours.iter().all(is_convex);
    let mut openings: Vec<Opening> = sorted
        .caps
        .iter()
        .filter(|c| {
            c.facing.abs() <= 0.25 && c.facets.len() >= 4 && c.to > c.from + 4.0 * tolerance
        })
        .filter(|c| solid || c.crosses_wall)
        .filter_map(|c| {
            let found = opening(body, facets, c, tolerance, traced.sigma, traced.track.reach)?;
            // in a solid section a notch in an edge is no opening
            let notch =
                solid && found.kind == HoleKind::Cutout && super::window::rims(body, c).len() != 2;
            (!notch).then_some(found)
        })
        .collect();
    let mut out = Vec::new();
    while !openings.is_empty() {
        let first = openings.remove(0);
        // the second wall of a hole drilled right through: same size on the same axis
        let twin = openings.iter().position(|o| {
            o.kind == first.kind
                && o.kind != HoleKind::Cutout
                && o.axis.cross(&first.axis).norm() < 0.02
                && (o.point - first.point).cross(&first.axis).norm()
                    < 0.02 * (o.point - first.point).norm() + 4.0 * tolerance
                && match (o.diameter, first.diameter) {
                    (Some(a), Some(b)) => {
                        (a.value - b.value).abs() < a.plus_minus + b.plus_minus + tolerance
                    }
                    _ => false,
                }
        });
        let twin = twin.map(|i| openings.remove(i));
        if let Some(hole) = place(path, &traced.fitted.model, extent, first, twin, bar) {
            out.push(hole);
        }
    }
    out.sort_by(|a, b| {
        let s = |h: &MemberHole| h.station.map_or(f64::INFINITY, |q| q.value);
        s(a).total_cmp(&s(b))
    });
    out
}

impl Opening {
    /// True for a cut-out whose sides are alike.
    fn is_square(&self) -> bool {
        let sides = self.length.zip(self.width);
        sides.is_some_and(|(l, w)| l.value - w.value <= l.plus_minus + w.plus_minus)
    }
}

/// A direction without a sense, degrees in (−90, 90]; of a square in (−45, 45].
fn upright(degrees: f64, square: bool) -> f64 {
    let turn = if square { 90.0 } else { 180.0 };
    let folded = degrees - turn * (degrees / turn).round();
    // what is upright but for its ± is 90, not -90
    if folded <= -turn / 2.0 + 1e-3 {
        folded + turn
    } else {
        folded
    }
}

/// True for a contour without a hollow side.
fn is_convex(contour: &super::profile::Contour) -> bool {
    match contour {
        super::profile::Contour::Circle { .. } => true,
        super::profile::Contour::Sides(sides) => {
            let n = sides.len();
            (0..n).all(|j| (sides[(j + 1) % n].normal - sides[j].normal).sin() >= 0.0)
        }
    }
}

fn place(
    path: &Path,
    model: &super::model::Model,
    extent: &[f64; 2],
    first: Opening,
    twin: Option<Opening>,
    bar: bool,
) -> Option<MemberHole> {
    let (rough, _) = path.local(&first.point, middle_guess(path, extent, &first.point));
    let two = twin.is_some();
    let middle = match &twin {
        Some(t) => nalgebra::center(&first.point, &t.point),
        None => first.point,
    };
    let mut axis = match &twin {
        // two walls give the direction far better than one
        Some(t) => (t.point - first.point)
            .try_normalize(1e-9)
            .unwrap_or(first.axis),
        None => first.axis,
    };
    let s = foot(path, &middle, &axis, rough.s);
    let f = path.at(s);
    // the axis runs into the metal at the wall named
    let outward = first.point - f.point;
    if axis.dot(&outward) > 0.0 {
        axis = -axis;
    }
    // where the axis enters the outer surface
    let outer = model.profile.contours.first()?;
    let outline = super::residual::Outline::new(&super::profile::Profile {
        contours: vec![outer.clone()],
    });
    let (_, g) = super::numbers::centred_path(model);
    let inside = |p: &Pt3| {
        let (l, _) = path.local(p, s);
        outline.signed(0, &super::profile::Pt2::new(l.x + g.x, l.y + g.y))
    };
    let mut reach = 0.0f64;
    for p in outer.points(1.0) {
        reach = reach.max(p.coords.norm());
    }
    let (mut near, mut far) = (0.0, 0.0);
    let from = first.point;
    let mut found = false;
    let step = reach / 50.0;
    for k in 0..200 {
        let d = step * k as f64;
        if inside(&(from - axis * d)) > 0.0 {
            near = d - step;
            far = d;
            found = true;
            break;
        }
    }
    if found {
        for _ in 0..60 {
            let mid = 0.5 * (near + far);
            if inside(&(from - axis * mid)) > 0.0 {
                far = mid
            } else {
                near = mid
            }
        }
    }
    let entry = from - axis * (0.5 * (near + far));
    // side of the section the hole is drilled from
    let to_wall = -axis;
    let around = to_wall.dot(&f.h).atan2(to_wall.dot(&f.w)).to_degrees();
    let radius = (entry - f.point).norm().max(1e-6);
    let station = s - extent[0];
    let pm = first.place_pm;
    let flat_sided = path.pieces.iter().all(|p| p.curvature == 0.0)
        && (model.profile.contours.iter()).all(|c| matches!(c, super::profile::Contour::Sides(_)));
    Some(MemberHole {
        kind: first.kind,
        diameter: first.diameter,
        length: first.length,
        width: first.width,
        corner_radius: first.corner,
        direction: first.along.map(|along| {
            let outward = -axis;
            let turned = f.t.cross(&along).dot(&outward).atan2(f.t.dot(&along));
            upright(turned.to_degrees(), first.is_square())
        }),
        metal: flat_sided.then(|| {
            let depth = first.depth + twin.as_ref().map_or(0.0, |t| t.depth);
            Quantity::new(depth, 2.0 * pm)
        }),
        station: Some(Quantity::new(station, pm)),
        // a direction that could be any other is none
        around: (pm < radius).then(|| Quantity::new(around, (pm / radius).to_degrees())),
        walls: if two || bar { 2 } else { 1 },
        point: [entry.x, entry.y, entry.z],
        axis: [axis.x, axis.y, axis.z],
        from_nearest_end: from_nearest_end(path, extent, s, &entry, pm),
    })
}

fn middle_guess(path: &Path, extent: &[f64; 2], p: &Pt3) -> f64 {
    let n = 64;
    (0..=n)
        .map(|k| extent[0] + (extent[1] - extent[0]) * k as f64 / n as f64)
        .min_by(|a, b| {
            (path.at(*a).point - p)
                .norm()
                .total_cmp(&(path.at(*b).point - p).norm())
        })
        .unwrap_or(extent[0])
}

/// Distance from the hole to the nearer end along the line of the surface through it, mm; on straight
/// pieces and arcs the surface line is the centreline's, scaled by its own radius.
fn from_nearest_end(
    path: &Path,
    extent: &[f64; 2],
    s: f64,
    entry: &Pt3,
    pm: f64,
) -> Option<Quantity> {
    let (l, _) = path.local(entry, s);
    let along = |a: f64, b: f64| -> f64 {
        super::numbers::trimmed(path, a, b)
            .into_iter()
            .map(|(i, a, b)| {
                let p = &path.pieces[i];
                let towards = -l.x * p.bend.sin() + l.y * p.bend.cos();
                (b - a) * (1.0 - p.curvature * towards)
            })
            .sum()
    };
    let d = along(extent[0], s).min(along(s, extent[1]));
    d.is_finite().then(|| Quantity::new(d, 2.0 * pm))
}
