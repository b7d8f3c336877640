//! Lays the pieces of a sheet out flat, one after the other, from the largest flat outwards.

use std::f64::consts::TAU;

use nalgebra::{Point2, Point3, Vector2, Vector3};

use super::bend::{self, Bend};
use super::k_factor::{KFrom, Neutral};
use super::sheet::Sheet;
use super::unfold::{Map, Roll};
use crate::body::Body;
use crate::surface::{Patches, Surface};

/// The sheet laid flat.
pub(super) struct Layout {
    /// Map of each piece.
    pub maps: Vec<Map>,
    /// Bends between two flats.
    pub bends: Vec<Bend>,
    /// Rolled edges: pieces with a flat on one side only, each with its K-factor.
    pub curls: Vec<(usize, (f64, KFrom))>,
    /// Pieces in the order they were laid; the first is the root.
    pub order: Vec<usize>,
}

/// Where the walk enters a piece: a line across the sheet.
struct Entry {
    /// Point of the line on the front face, and where it goes on the flat.
    point: Point3<f64>,
    place: Point2<f64>,
    /// Unit direction of travel, and of the line, in the file and on the flat.
    travel: Vector3<f64>,
    line: Vector3<f64>,
    travel_flat: Vector2<f64>,
    line_flat: Vector2<f64>,
}

/// Lays out a sheet whose pieces are planes and cylinders. `None` where a piece can't be laid.
pub(super) fn lay_out(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    neutral: &Neutral,
) -> Option<Layout> {
    let n = sheet.elements.len();
    let t = sheet.thickness.value;
    let surface = |e: usize| patches.list[sheet.elements[e].front as usize].surface;
    let area = |e: usize| patches.list[sheet.elements[e].front as usize].area;
    let is_plane = |e: usize| matches!(surface(e), Surface::Plane { .. });
    let beside = |e: usize| -> Vec<usize> {
        let mut list: Vec<usize> = sheet
            .joints
            .iter()
            .filter_map(|&(a, b)| {
                if a == e {
                    Some(b)
                } else if b == e {
                    Some(a)
                } else {
                    None
                }
            })
            .collect();
        list.sort_unstable();
        list
    };
    let root = (0..n)
        .filter(|&e| is_plane(e))
        .max_by(|&a, &b| area(a).total_cmp(&area(b)).then(b.cmp(&a)))?;
    let mut maps: Vec<Option<Map>> = vec![None; n];
    let (origin, normal) = patches.list[sheet.elements[root].front as usize].plane()?;
    let a = any_square_to(&normal);
    maps[root] = Some(Map::Flat {
        origin,
        a,
        b: normal.cross(&a),
        base: Point2::origin(),
    });
    let mut bends = Vec::new();
    let mut curls = Vec::new();
    let mut order = vec![root];
    let mut next = 0;
    while next < order.len() {
        let here = order[next];
        next += 1;
        for piece in beside(here) {
            if maps[piece].is_some() {
                continue;
            }
            let Some(Map::Flat { origin, a, b, base }) = maps[here] else {
                continue;
            };
            let onward: Vec<usize> = beside(piece)
                .into_iter()
                .filter(|&e| e != here && is_plane(e) && maps[e].is_none())
                .collect();
            let Surface::Cylinder { .. } = surface(piece) else {
                return None;
            };
            let Some(&after) = onward.first() else {
                let (roll, _, used) = curl(
                    body,
                    patches,
                    sheet,
                    piece,
                    here,
                    &(origin, a, b, base),
                    neutral,
                )?;
                maps[piece] = Some(Map::Roll(roll));
                curls.push((piece, used));
                order.push(piece);
                continue;
            };
            let mut bend = bend::solve(body, patches, &sheet.elements, piece, here, after, t)?;
            (bend.k_factor, bend.k_from) = neutral.k_factor(bend.inside.value, t);
            let entry = enter(&bend.begins, &bend.into, &bend.axis, &(origin, a, b, base));
            let rho = bend.inside.value + bend.k_factor * t;
            let roll = roll(&entry, &bend.centre, rho, bend.angle / 2.0);
            let base = entry.place + entry.travel_flat * (rho * bend.angle);
            let by =
                |k: usize| bend.out_of * entry.travel_flat[k] + entry.line * entry.line_flat[k];
            maps[piece] = Some(Map::Roll(roll));
            maps[after] = Some(Map::Flat {
                origin: bend.ends,
                a: by(0),
                b: by(1),
                base,
            });
            order.extend([piece, after]);
            bends.push(bend);
        }
    }
    let maps: Option<Vec<Map>> = maps.into_iter().collect();
    Some(Layout {
        maps: maps?,
        bends,
        curls,
        order,
    })
}

type Flat = (Point3<f64>, Vector3<f64>, Vector3<f64>, Point2<f64>);

fn enter(
    point: &Point3<f64>,
    travel: &Vector3<f64>,
    line: &Vector3<f64>,
    (origin, a, b, base): &Flat,
) -> Entry {
    let onto = |d: &Vector3<f64>| Vector2::new(d.dot(a), d.dot(b));
    Entry {
        point: *point,
        place: base + onto(&(point - origin)),
        travel: *travel,
        line: *line,
        travel_flat: onto(travel).normalize(),
        line_flat: onto(line).normalize(),
    }
}

fn roll(entry: &Entry, centre: &Point3<f64>, neutral: f64, middle: f64) -> Roll {
    let point = centre + entry.line * (entry.point - centre).dot(&entry.line);
    Roll {
        point,
        axis: entry.line,
        start: (entry.point - point).normalize(),
        quarter: entry.travel,
        neutral,
        middle,
        u: entry.travel_flat,
        v: entry.line_flat,
        base: entry.place,
    }
}

/// A rolled piece with a flat on one side only.
fn curl(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    piece: usize,
    before: usize,
    flat: &Flat,
    neutral: &Neutral,
) -> Option<(Roll, f64, (f64, KFrom))> {
    let element = sheet.elements[piece];
    let Surface::Cylinder {
        point,
        axis,
        radius,
        convex,
    } = patches.list[element.front as usize].surface
    else {
        return None;
    };
    let (p, n) = patches.list[sheet.elements[before].front as usize].plane()?;
    let sign = if convex { 1.0 } else { -1.0 };
    let axis = (axis - n * axis.dot(&n)).try_normalize(0.0)?;
    let foot = point - n * (point - p).dot(&n);
    let centre = foot - n * (sign * radius);
    // Travel is away from the flat: towards the rolled piece's own middle.
    let vertices = patches.list[element.front as usize].vertices(body);
    let mean = vertices
        .iter()
        .map(|&v| body.vertices[v as usize] - foot)
        .sum::<Vector3<f64>>();
    let side = axis.cross(&n);
    let travel = if side.dot(&mean) < 0.0 { -side } else { side };
    let inside = if convex {
        radius - sheet.thickness.value
    } else {
        radius
    };
    let used = neutral.k_factor(inside, sheet.thickness.value);
    let rho = inside + used.0 * sheet.thickness.value;
    let entry = enter(&foot, &travel, &axis, flat);
    let mut roll = roll(&entry, &centre, rho, std::f64::consts::PI - 0.1);
    let span = vertices
        .iter()
        .map(|&v| roll.angle(&body.vertices[v as usize]))
        .filter(|x| *x < TAU - 0.2)
        .fold(0.0, f64::max);
    roll.middle = span / 2.0;
    Some((roll, span, used))
}

/// A unit direction square to `n`.
pub(super) fn any_square_to(n: &Vector3<f64>) -> Vector3<f64> {
    let mut e = Vector3::zeros();
    e[n.iamin()] = 1.0;
    n.cross(&e).normalize()
}
