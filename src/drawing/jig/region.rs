//! Flat regions bounded by lines and true arcs: cut apart, and tested for what lies inside.

use cavalier_contours::polyline::{BooleanOp, PlineSource, PlineSourceMut, PlineVertex, Polyline};
use nalgebra::{Point2, Vector2};

use crate::drawing::bulge::{self, ArcOf};
use crate::drawing::scene::{Corner, Place};

/// One piece of metal: its outer contour and what is cut out of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Outer contour, anticlockwise.
    pub outer: Vec<Corner>,
    /// Contours inside it.
    pub inner: Vec<Vec<Corner>>,
}

/// What is left of `outer` when `taken` is cut away.
pub fn without(outer: &[Corner], taken: &[Corner]) -> Vec<Region> {
    // The library takes places nearer than 1e-5 for one: what is metres across is cut in metres.
    let sizes = outer.iter().chain(taken).flat_map(|c| [c.at.x, c.at.y]);
    let scale = 1e-3 * sizes.fold(1e3, |m: f64, x| m.max(x.abs()));
    let result = line(outer, scale).boolean(&line(taken, scale), BooleanOp::Not);
    let inner: Vec<Vec<Corner>> = result
        .neg_plines
        .iter()
        .map(|p| corners(&p.pline, scale))
        .collect();
    result
        .pos_plines
        .iter()
        .map(|p| Region {
            outer: corners(&p.pline, scale),
            inner: inner.clone(),
        })
        .collect()
}

fn line(corners: &[Corner], scale: f64) -> Polyline<f64> {
    let mut line = Polyline::new_closed();
    for (from, to, turn) in bulge::pieces(corners, true) {
        let (from, to) = (from / scale, to / scale);
        // The library takes arcs of at most half a turn.
        match bulge::arc(from, to, turn) {
            Some(arc) if turn.abs() > 0.9 => {
                let at = on(&arc, 0.5);
                let half = (arc.sweep / 8.0).tan();
                line.add_vertex(PlineVertex::new(from.x, from.y, half));
                line.add_vertex(PlineVertex::new(at.x, at.y, half));
            }
            _ => line.add_vertex(PlineVertex::new(from.x, from.y, turn)),
        }
    }
    line
}

fn corners(line: &Polyline<f64>, scale: f64) -> Vec<Corner> {
    line.iter_vertexes()
        .map(|v| Corner {
            at: Point2::new(v.x, v.y) * scale,
            bulge: v.bulge,
        })
        .collect()
}

fn on(arc: &ArcOf, share: f64) -> Place {
    let turn = arc.start + arc.sweep * share;
    arc.centre + Vector2::new(turn.cos(), turn.sin()) * arc.radius
}

/// True when a place lies in the metal.
pub fn holds(region: &Region, at: Place) -> bool {
    let crossings: usize = contours(region)
        .map(|c| {
            crossings(c, at, Vector2::x())
                .into_iter()
                .filter(|t| *t > 0.0)
                .count()
        })
        .sum();
    crossings % 2 == 1
}

fn contours(region: &Region) -> impl Iterator<Item = &Vec<Corner>> {
    std::iter::once(&region.outer).chain(&region.inner)
}

/// The parts of the straight line through `at` that lie in the metal, as distances from `at` along
/// the unit vector `along`, in order.
pub fn inside(region: &Region, at: Place, along: Vector2<f64>) -> Vec<(f64, f64)> {
    let mut all: Vec<f64> = contours(region)
        .flat_map(|c| crossings(c, at, along))
        .collect();
    all.sort_by(f64::total_cmp);
    all.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

/// Where a straight line crosses a contour, as distances along it.
fn crossings(contour: &[Corner], at: Place, along: Vector2<f64>) -> Vec<f64> {
    let mut found = Vec::new();
    let side = |p: Place| along.perp(&(p - at));
    for (from, to, turn) in bulge::pieces(contour, true) {
        match bulge::arc(from, to, turn) {
            None => {
                let (a, b) = (side(from), side(to));
                // One end counts, the other belongs to the next piece.
                if (a >= 0.0) != (b >= 0.0) {
                    let p = from + (to - from) * (a / (a - b));
                    found.push(along.dot(&(p - at)));
                }
            }
            Some(arc) => {
                let off = side(arc.centre);
                let under = arc.radius * arc.radius - off * off;
                if under <= 0.0 {
                    continue;
                }
                let middle = along.dot(&(arc.centre - at));
                for t in [middle - under.sqrt(), middle + under.sqrt()] {
                    let p = at + along * t - arc.centre;
                    let ahead = (p.y.atan2(p.x) - arc.start) * arc.sweep.signum();
                    if ahead.rem_euclid(std::f64::consts::TAU) < arc.sweep.abs() {
                        found.push(t);
                    }
                }
            }
        }
    }
    found
}

/// Points around the outer contour, close enough together for its size to be told.
pub fn around(region: &Region) -> Vec<Place> {
    let mut points = Vec::new();
    for (from, to, turn) in bulge::pieces(&region.outer, true) {
        points.push(from);
        if let Some(arc) = bulge::arc(from, to, turn) {
            points.extend((1..64).map(|k| on(&arc, f64::from(k) / 64.0)));
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_less_a_bar_is_two_caps() {
        let disc = bulge::corners_of(
            Place::new(10.0, 0.0),
            Place::new(10.0, 0.0),
            Place::origin(),
            std::f64::consts::TAU,
        );
        let bar: Vec<Corner> = [(-20.0, -1.0), (20.0, -1.0), (20.0, 1.0), (-20.0, 1.0)]
            .map(|(x, y)| Corner {
                at: Place::new(x, y),
                bulge: 0.0,
            })
            .to_vec();
        let caps = without(&disc, &bar);
        assert_eq!(caps.len(), 2);
        let area: f64 = caps.iter().map(|r| bulge::area(&r.outer).abs()).sum();
        // A cap of half angle acos(h / r): r² acos(h/r) − h √(r² − h²).
        let cap = 100.0 * 0.1_f64.acos() - 99.0_f64.sqrt();
        assert!((area - 2.0 * cap).abs() < 1e-6, "{area}");
        let all = inside(&caps[0], Place::origin(), Vector2::y());
        let near = |a: f64, b: f64| (a.abs() - b).abs() < 1e-9;
        assert!(all.len() == 1 && (near(all[0].0, 1.0) || near(all[0].1, 1.0)));
        assert!(caps.iter().any(|r| holds(r, Place::new(0.0, 5.0))));
        assert!(!caps.iter().any(|r| holds(r, Place::origin())));
    }
}
