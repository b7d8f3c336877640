//! Which side of the flat is up and which corner is the origin, so that no number depends on how the
//! model lies.

use std::cmp::Ordering;

use nalgebra::{Point2, Vector2};

use super::hole::Hole;
use crate::geometry::min_rectangle::Rectangle;
use crate::geometry::outline::{OutlineSegment, support};

/// Axes of the finished flat on the flat as laid out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axes {
    /// Lower-left corner of the rectangle.
    pub origin: Point2<f64>,
    /// Unit directions along the rectangle's length and width.
    pub x: Vector2<f64>,
    pub y: Vector2<f64>,
    /// True when the front as laid out is up.
    pub front: bool,
}

/// A bend on the flat as laid out: amid its line, and its angle, positive where it comes up towards
/// the front.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    pub place: Point2<f64>,
    pub turn: f64,
}

impl Axes {
    /// A place on the flat in these axes.
    pub fn place(&self, p: &Point2<f64>) -> [f64; 2] {
        let d = p - self.origin;
        [d.dot(&self.x), d.dot(&self.y)]
    }

    /// A direction in these axes.
    pub fn turn(&self, d: &Vector2<f64>) -> [f64; 2] {
        [d.dot(&self.x), d.dot(&self.y)]
    }
}

/// The axes whose hole list, sorted by x, then y, comes first; without holes the list of corners
/// decides. Countersunk and blind sides are up. Values closer than `same` count as equal.
pub(super) fn choose(
    outline: &[OutlineSegment],
    holes: &[Hole],
    marks: &[Mark],
    rectangle: &Rectangle,
    same: f64,
) -> Axes {
    let front = holes.iter().filter(|h| h.from_front == Some(true)).count();
    let back = holes.iter().filter(|h| h.from_front == Some(false)).count();
    let sides: &[bool] = match front.cmp(&back) {
        Ordering::Greater => &[true],
        Ordering::Less => &[false],
        Ordering::Equal => &[true, false],
    };
    let u = rectangle.along;
    let v = Vector2::new(-u.y, u.x);
    let square = rectangle.length - rectangle.width <= 4.0 * same;
    let round = matches!(outline, [one] if one.is_circle());
    let directions: Vec<Vector2<f64>> = if round {
        towards_holes(outline, holes, u)
    } else if square {
        vec![u, v, -u, -v]
    } else {
        vec![u, -u]
    };
    let tries: Vec<Axes> = sides
        .iter()
        .flat_map(|&front| directions.iter().map(move |x| (front, *x)))
        .map(|(front, x)| {
            let y = if front {
                Vector2::new(-x.y, x.x)
            } else {
                Vector2::new(x.y, -x.x)
            };
            let origin = Point2::from(-x * support(outline, &-x) - y * support(outline, &-y));
            Axes {
                origin,
                x,
                y,
                front,
            }
        })
        .collect();
    let mut best = (tries[0], key(&tries[0], outline, holes, marks, same));
    for axes in &tries[1..] {
        let k = key(axes, outline, holes, marks, same);
        if compare(&k, &best.1, same) == Ordering::Less {
            best = (*axes, k);
        }
    }
    best.0
}

/// A disc has no sides; its axes run square to and along the lines from its middle to its holes (or
/// along a slot in its middle).
fn towards_holes(
    outline: &[OutlineSegment],
    holes: &[Hole],
    otherwise: Vector2<f64>,
) -> Vec<Vector2<f64>> {
    let Some(middle) = outline.first().and_then(|s| s.arc).map(|a| a.centre) else {
        return vec![otherwise];
    };
    let mut out: Vec<Vector2<f64>> = Vec::new();
    for h in holes.iter().take(200) {
        let off = h.centre - middle;
        let line = if off.norm() > 20.0 * h.place_plus_minus {
            off.try_normalize(0.0)
        } else {
            h.along
        };
        if let Some(d) = line {
            let e = Vector2::new(-d.y, d.x);
            out.extend([d, e, -d, -e]);
        }
    }
    if out.is_empty() {
        out.push(otherwise);
    }
    out
}

/// Numbers that decide: holes in order, then bends, then corners.
fn key(
    axes: &Axes,
    outline: &[OutlineSegment],
    holes: &[Hole],
    marks: &[Mark],
    same: f64,
) -> Vec<f64> {
    let size = |h: &Hole| h.diameter.map_or(h.area.sqrt(), |d| d.value);
    let mut out: Vec<f64> = sorted(
        holes
            .iter()
            .map(|h| (axes.place(&h.centre), size(h)))
            .collect(),
        same,
    )
    .concat();
    // A bend that comes up goes before one that goes down at the same place.
    let up = if axes.front { 1.0 } else { -1.0 };
    let marks = marks
        .iter()
        .map(|m| (axes.place(&m.place), -m.turn * up))
        .collect();
    out.extend(sorted(marks, same).concat());
    // Arcs by their crowns, so that a bevel and a round of one size differ.
    let crowns = outline
        .iter()
        .filter_map(|s| s.arc.map(|a| (axes.place(&a.centre), a.radius)));
    let corners = outline.iter().map(|s| (axes.place(&s.start), 0.0));
    out.extend(sorted(corners.chain(crowns).collect(), same).concat());
    out
}

/// Sorted by x, then y, where x closer than `same` are one; (x, y, size) each.
pub(super) fn sorted(mut list: Vec<([f64; 2], f64)>, same: f64) -> Vec<[f64; 3]> {
    list.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
    let mut out: Vec<[f64; 3]> = Vec::with_capacity(list.len());
    let mut from = 0;
    for i in 0..list.len() {
        if i + 1 == list.len() || list[i + 1].0[0] - list[i].0[0] > same {
            let group = &mut list[from..=i];
            group.sort_by(|a, b| a.0[1].total_cmp(&b.0[1]));
            out.extend(group.iter().map(|g| [g.0[0], g.0[1], g.1]));
            from = i + 1;
        }
    }
    out
}

/// Lexicographic order of two lists, numbers closer than `same` being equal.
pub(super) fn compare(a: &[f64], b: &[f64], same: f64) -> Ordering {
    for (x, y) in a.iter().zip(b) {
        if (x - y).abs() > same {
            return x.total_cmp(y);
        }
    }
    a.len().cmp(&b.len())
}
