//! Caps for open tube ends, in the plane of their cut.

use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::Vector2;

use super::flat::WhyNot;
use crate::drawing::scene::{Corner, Place, Shape};
use crate::drawing::walk::{self, Spot, Walk, Which};
use crate::drawing::{arcs, bulge, offset};
use crate::geometry::{Pt3, Vec3};
use crate::member::{Cut, EndShape, Member, Section, Shape as SectionShape};

/// Which cap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// Lies on the cut: the outside shape, this much smaller all round in the plane of the cut, mm.
    Outside(f64),
    /// Goes into the tube: the inside shape, this much clear of the walls, measured square to them,
    /// mm.
    Inside(f64),
}

/// A cap.
#[derive(Clone, Debug, PartialEq)]
pub struct Cap {
    /// Its contour.
    pub shape: Shape,
    /// How far the arcs leave the true curve at most, mm.
    pub departure: f64,
    /// Angle between the cut and square, degrees.
    pub off_square: f64,
}

/// Arcs may leave the true curve by this much, mm: a tenth of what a cutting table holds (common
/// practice, no source).
const TOLERANCE: f64 = 0.01;

/// The cap for one end of a tube.
pub fn cap(member: &Member, index: usize, fit: Fit) -> Result<Cap, WhyNot> {
    let end = member.ends.get(index).ok_or("there is no such end")?;
    let cut = match (end.shape, end.cuts.as_slice()) {
        (EndShape::Plane, [cut]) => cut,
        _ => return Err("its end is not one plane cut"),
    };
    let ring = ring(&member.section, fit)?;
    let which = if index == 0 {
        Which::First
    } else {
        Which::Last
    };
    let walk =
        walk::walk(member).ok_or("the path is no chain of straights and arcs of known radius")?;
    let frame = plane(cut, Vec3::from(end.width_axis)).ok_or("the cut runs along the tube")?;
    let mut corners = Vec::new();
    let mut departure = 0.0_f64;
    for piece in &ring {
        let curve = |t: f64| on_plane(&walk, which, cut, &frame, piece.at(t));
        let (some, off) = arcs::along(&curve, 0.0, 1.0, TOLERANCE)
            .ok_or("the cut does not meet the whole section")?;
        corners.extend(some);
        departure = departure.max(off);
    }
    if bulge::area(&corners) < 0.0 {
        corners = turned_over(&corners);
    }
    if let Fit::Outside(inset) = fit {
        corners = offset::inset(&corners, inset).ok_or("it would be cut away by its inset")?;
    }
    Ok(Cap {
        shape: round(&corners).unwrap_or(Shape::Path {
            corners,
            closed: true,
        }),
        departure,
        off_square: cut.off_square.value,
    })
}

/// A straight side or a corner arc of a section.
enum Piece {
    Side {
        from: Spot,
        to: Spot,
    },
    Arc {
        centre: Spot,
        radius: f64,
        start: f64,
        sweep: f64,
    },
}

impl Piece {
    fn at(&self, t: f64) -> Spot {
        match self {
            Piece::Side { from, to } => [0, 1].map(|k| from[k] + (to[k] - from[k]) * t),
            Piece::Arc {
                centre,
                radius,
                start,
                sweep,
            } => {
                let turn = start + sweep * t;
                [
                    centre[0] + radius * turn.cos(),
                    centre[1] + radius * turn.sin(),
                ]
            }
        }
    }
}

/// The outside of a hollow section, or its inside less the clearance.
fn ring(section: &Section, fit: Fit) -> Result<Vec<Piece>, WhyNot> {
    let unknown = "the sizes of its section are not known";
    let hollow = "its wall can't be seen";
    let less = match fit {
        Fit::Outside(_) => 0.0,
        Fit::Inside(clear) => section.wall.ok_or(hollow)?.value + clear,
    };
    match section.shape {
        SectionShape::Round => {
            let radius = section.diameter.ok_or(unknown)?.value / 2.0 - less;
            (radius > 0.0)
                .then(|| {
                    vec![Piece::Arc {
                        centre: [0.0, 0.0],
                        radius,
                        start: 0.0,
                        sweep: TAU,
                    }]
                })
                .ok_or("nothing is left inside the clearance")
        }
        SectionShape::Square | SectionShape::Rect => {
            let w = section.width.ok_or(unknown)?.value;
            let h = section.height.or(section.width).ok_or(unknown)?.value;
            let radius = match fit {
                Fit::Outside(_) => section.corner_radius.map_or(0.0, |r| r.value),
                // A parallel curve inside a corner arc has a smaller radius, a sharp one stays sharp.
                Fit::Inside(clear) => section
                    .inner_corner_radius
                    .map_or(0.0, |r| (r.value - clear).max(0.0)),
            };
            let (x, y) = (w / 2.0 - less, h / 2.0 - less);
            if x <= radius || y <= radius || x <= 0.0 || y <= 0.0 {
                return Err("nothing is left inside the clearance");
            }
            Ok(rectangle(x, y, radius))
        }
        _ => Err("it is no round, square or rectangular tube"),
    }
}

fn rectangle(x: f64, y: f64, r: f64) -> Vec<Piece> {
    let (a, b) = (x - r, y - r);
    let centres: [Spot; 4] = [[a, b], [-a, b], [-a, -b], [a, -b]];
    let mut pieces = Vec::new();
    let mut from = [x, -b];
    for (k, centre) in (0..).zip(centres) {
        let start = FRAC_PI_2 * f64::from(k);
        let to = [centre[0] + r * start.cos(), centre[1] + r * start.sin()];
        pieces.push(Piece::Side { from, to });
        let end = start + FRAC_PI_2;
        from = [centre[0] + r * end.cos(), centre[1] + r * end.sin()];
        if r > 1e-6 {
            pieces.push(Piece::Arc {
                centre,
                radius: r,
                start,
                sweep: FRAC_PI_2,
            });
        }
    }
    pieces
}

/// Origin and two unit axes of the cut's plane, the first along the tube's width as it lies there.
fn plane(cut: &Cut, width: Vec3) -> Option<(Pt3, Vec3, Vec3)> {
    let n = Vec3::from(cut.normal);
    let u = (width - n * n.dot(&width)).try_normalize(1e-6)?;
    Some((Pt3::from(cut.point), u, n.cross(&u)))
}

fn on_plane(
    walk: &Walk,
    which: Which,
    cut: &Cut,
    (origin, u, v): &(Pt3, Vec3, Vec3),
    spot: Spot,
) -> Option<Place> {
    let p = walk::meet(walk, which, spot, cut)? - origin;
    Some(Place::new(p.dot(u), p.dot(v)))
}

/// The same contour run the other way.
fn turned_over(corners: &[Corner]) -> Vec<Corner> {
    let n = corners.len();
    (0..n)
        .filter_map(|k| {
            Some(Corner {
                at: corners.get(n - 1 - k)?.at,
                bulge: -corners.get((2 * n - 2 - k) % n)?.bulge,
            })
        })
        .collect()
}

/// A circle, where all arcs are parts of one.
fn round(corners: &[Corner]) -> Option<Shape> {
    let arcs: Option<Vec<_>> = bulge::pieces(corners, true)
        .map(|(a, b, turn)| bulge::arc(a, b, turn))
        .collect();
    let arcs = arcs?;
    let first = arcs.first()?;
    let same = |o: &bulge::ArcOf| {
        (o.centre - first.centre).norm() < 1e-5 && (o.radius - first.radius).abs() < 1e-5
    };
    arcs.iter().all(same).then_some(Shape::Circle {
        centre: first.centre,
        radius: first.radius,
    })
}

/// True when one cap can be laid on the other, turned over where need be, to within the tolerance
/// of both: told by area, length and extents across the width.
pub fn alike(a: &Shape, b: &Shape) -> bool {
    let measures = |s: &Shape| {
        let (low, high) = bulge::extent(s);
        let size: Vector2<f64> = high - low;
        [
            super::flat::length(s),
            super::flat::area(s).sqrt(),
            size.x,
            size.y,
        ]
    };
    measures(a)
        .iter()
        .zip(measures(b))
        .all(|(x, y)| (x - y).abs() < 2.0 * TOLERANCE + 0.01)
}
