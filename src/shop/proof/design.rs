//! A plate as closed rings of lines and arcs, and how far a place is from them.

use nalgebra::Vector2;

use super::piece::{Piece, Place, area, centroid, circle, extent};
use crate::measure::Quantity;
use crate::plate::{Form, HoleKind, Plate, PlateHole, Segment};

/// One closed contour, run anticlockwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// Its pieces.
    pub pieces: Vec<Piece>,
    /// Points of it, anticlockwise.
    pub points: Vec<Place>,
    /// True for a hole: the metal lies outside it.
    pub hole: bool,
    /// Centroid of the area inside.
    pub centre: Place,
    /// Area inside, mm².
    pub area: f64,
    /// 95 % half-width of the place of its edge, mm.
    pub doubt: f64,
    /// Diameter, where it is a round hole.
    pub diameter: Option<f64>,
}

/// The flat of a plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// Outside.
    pub outer: Ring,
    /// What goes through.
    pub holes: Vec<Ring>,
    /// Places where something is sunk in, not through.
    pub blind: Vec<Place>,
    /// True where turning the flat over makes another piece: it is bent or rolled afterwards, or has
    /// heads on one side.
    pub handed: bool,
}

/// How a place lies to a ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stand {
    /// Distance from the edge, mm, positive on the side of the waste.
    pub off: f64,
    /// Unit vector from the metal into the waste at the nearest place of the edge.
    pub out: Vector2<f64>,
}

const SAG: f64 = 0.002;

/// The rings of a plate; why there are none otherwise, one sentence without its stop.
pub fn design(plate: &Plate) -> Result<Design, &'static str> {
    let doubt = [plate.flat.length, plate.flat.width]
        .into_iter()
        .flatten()
        .map(|q: Quantity| q.plus_minus / 2.0)
        .fold(0.0, f64::max);
    let outer = ring(contour(&plate.outline), false, doubt, None)
        .ok_or("its outer contour was not found")?;
    let mut design = Design {
        outer,
        holes: Vec::new(),
        blind: Vec::new(),
        handed: plate.form != Form::Flat,
    };
    for hole in &plate.holes {
        let place = hole
            .x
            .zip(hole.y)
            .map(|(x, y)| Place::new(x.value, y.value));
        if matches!(
            hole.kind,
            HoleKind::Countersunk | HoleKind::Counterbored | HoleKind::Blind
        ) {
            design.handed = true;
        }
        if hole.kind == HoleKind::Blind {
            design.blind.extend(place);
            continue;
        }
        let through = through(hole, place, doubt);
        design
            .holes
            .push(through.ok_or("the place or the size of one of its holes is not known")?);
    }
    Ok(design)
}

fn through(hole: &PlateHole, place: Option<Place>, outline: f64) -> Option<Ring> {
    let doubts = [hole.x, hole.y].map(|q| q.map_or(outline, |q| q.plus_minus));
    let size = hole.diameter.map_or(outline, |d| d.plus_minus / 2.0);
    let doubt = doubts.into_iter().fold(0.0, f64::max).hypot(size);
    match hole.kind {
        HoleKind::Slot | HoleKind::Cutout if !hole.outline.is_empty() => {
            ring(contour(&hole.outline), true, doubt, None)
        }
        HoleKind::Slot => ring(slot(hole, place?)?, true, doubt, None),
        HoleKind::Cutout => None,
        _ => {
            let diameter = hole.diameter?.value;
            let pieces = circle(place?, diameter / 2.0).to_vec();
            ring(pieces, true, doubt, Some(diameter))
        }
    }
}

/// A straight slot with round ends from its sizes.
fn slot(hole: &PlateHole, centre: Place) -> Option<Vec<Piece>> {
    let (width, length) = (hole.diameter?.value, hole.length?.value);
    let turn = hole.direction?.to_radians();
    let u = Vector2::new(turn.cos(), turn.sin());
    let along = u * (length / 2.0 - width / 2.0);
    let across = Vector2::new(-u.y, u.x) * (width / 2.0);
    let [a, b, c, d] = [
        centre - along - across,
        centre + along - across,
        centre + along + across,
        centre - along + across,
    ];
    let half = |from, to, centre| Piece::Arc {
        from,
        to,
        centre,
        sweep: std::f64::consts::PI,
    };
    (length > width).then(|| {
        vec![
            Piece::Line { from: a, to: b },
            half(b, c, centre + along),
            Piece::Line { from: c, to: d },
            half(d, a, centre - along),
        ]
    })
}

fn contour(segments: &[Segment]) -> Vec<Piece> {
    if let [
        Segment::Arc {
            radius,
            angle,
            centre,
            ..
        },
    ] = segments
        && angle.value.abs() > 359.99
    {
        return circle((*centre).into(), radius.value).to_vec();
    }
    segments
        .iter()
        .map(|segment| match segment {
            Segment::Line { start, end, .. } => Piece::Line {
                from: (*start).into(),
                to: (*end).into(),
            },
            Segment::Arc {
                angle,
                start,
                end,
                centre,
                ..
            } => Piece::Arc {
                from: (*start).into(),
                to: (*end).into(),
                centre: (*centre).into(),
                sweep: angle.value.to_radians(),
            },
        })
        .filter(|piece| piece.length() > 1e-9)
        .collect()
}

/// A ring run anticlockwise; `None` where it has no area or a coordinate that is no number.
fn ring(pieces: Vec<Piece>, hole: bool, doubt: f64, diameter: Option<f64>) -> Option<Ring> {
    let mut points = Vec::new();
    for piece in &pieces {
        piece.flatten(SAG, &mut points);
    }
    let inside = area(&points);
    if !(inside.is_finite() && inside != 0.0 && doubt.is_finite()) {
        return None;
    }
    if inside < 0.0 {
        points.reverse();
    }
    Some(Ring {
        pieces: match inside < 0.0 {
            true => pieces.iter().rev().map(Piece::reversed).collect(),
            false => pieces,
        },
        centre: centroid(&points),
        points,
        hole,
        area: inside.abs(),
        doubt,
        diameter,
    })
}

impl Ring {
    /// The mirror image.
    fn mirrored(&self) -> Option<Ring> {
        let pieces = self.pieces.iter().map(Piece::mirrored).collect();
        ring(pieces, self.hole, self.doubt, self.diameter)
    }

    /// How a place lies to the edge. The side is told by the normal where the nearest place lies inside a
    /// piece, and by the sum of both normals where it is a corner.
    pub fn stand(&self, p: Place) -> Stand {
        let mut best: Option<(f64, Near)> = None;
        for piece in &self.pieces {
            let near = nearest(piece, p);
            let distance = (p - near.foot).norm();
            if best.as_ref().is_none_or(|(least, _)| distance < *least) {
                best = Some((distance, near));
            }
        }
        let Some((distance, near)) = best else {
            return Stand {
                off: 0.0,
                out: Vector2::zeros(),
            };
        };
        let mut normal = near.right;
        if near.at_end {
            // Ends of neighbours may lie apart by the last digits of a fit.
            normal = self
                .pieces
                .iter()
                .map(|piece| nearest(piece, p))
                .filter(|other| other.at_end && (other.foot - near.foot).norm() < 1e-3)
                .map(|other| other.right)
                .sum();
        }
        let away = p - near.foot;
        let outside = away.dot(&normal) >= 0.0;
        let unit = match (distance > 1e-7, outside) {
            (false, _) => near.right,
            (true, true) => away / distance,
            (true, false) => -away / distance,
        };
        // Outside the ring is waste, unless the ring is a hole.
        match outside == self.hole {
            false => Stand {
                off: distance,
                out: if self.hole { -unit } else { unit },
            },
            true => Stand {
                off: -distance,
                out: if self.hole { -unit } else { unit },
            },
        }
    }

    /// Half the diagonal of its box, mm.
    pub fn size(&self) -> f64 {
        extent(&self.points).map_or(0.0, |(low, high)| (high - low).norm() / 2.0)
    }
}

impl Design {
    /// The mirror image; `None` only where a ring has no area.
    pub fn mirrored(&self) -> Option<Design> {
        let holes: Option<Vec<Ring>> = self.holes.iter().map(Ring::mirrored).collect();
        Some(Design {
            outer: self.outer.mirrored()?,
            holes: holes?,
            blind: self.blind.iter().map(|p| Place::new(-p.x, p.y)).collect(),
            handed: self.handed,
        })
    }
}

struct Near {
    foot: Place,
    /// Unit normal to the right of the run: outwards, anticlockwise.
    right: Vector2<f64>,
    at_end: bool,
}

fn nearest(piece: &Piece, p: Place) -> Near {
    let right = |along: Vector2<f64>| {
        let u = along.try_normalize(0.0).unwrap_or_default();
        Vector2::new(u.y, -u.x)
    };
    match *piece {
        Piece::Line { from, to } => {
            let along = to - from;
            let t = (p - from).dot(&along) / along.norm_squared().max(1e-300);
            let held = t.clamp(0.0, 1.0);
            Near {
                foot: from + along * held,
                right: right(along),
                at_end: held != t,
            }
        }
        Piece::Arc {
            from,
            to,
            centre,
            sweep,
        } => {
            let (out, start) = (p - centre, from - centre);
            let turn = start.perp(&out).atan2(start.dot(&out));
            let ahead = match sweep >= 0.0 {
                true => turn.rem_euclid(std::f64::consts::TAU),
                false => (-turn).rem_euclid(std::f64::consts::TAU),
            };
            let outward =
                |v: Vector2<f64>| v.try_normalize(0.0).unwrap_or_default() * sweep.signum();
            if ahead <= sweep.abs() && out.norm() > 0.0 {
                let t = if sweep == 0.0 {
                    0.0
                } else {
                    ahead / sweep.abs()
                };
                let radius = start.norm() + ((to - centre).norm() - start.norm()) * t;
                return Near {
                    foot: centre + out * (radius / out.norm()),
                    right: outward(out),
                    at_end: false,
                };
            }
            let end = match (p - from).norm_squared() <= (p - to).norm_squared() {
                true => from,
                false => to,
            };
            Near {
                foot: end,
                right: outward(end - centre),
                at_end: true,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(hole: bool) -> Ring {
        let c = [(0., 0.), (10., 0.), (10., 10.), (0., 10.)].map(|(x, y)| Place::new(x, y));
        let pieces = (0..4).map(|k| Piece::Line {
            from: c[k],
            to: c[(k + 1) % 4],
        });
        ring(pieces.collect(), hole, 0.0, None).expect("a ring")
    }

    #[test]
    fn the_waste_lies_outside_a_plate_and_inside_a_hole() {
        for (x, y, off) in [
            (5.0, -2.0, 2.0),
            (5.0, 1.0, -1.0),
            (13.0, 14.0, 5.0),
            (5.0, 0.0, 0.0),
        ] {
            let p = Place::new(x, y);
            let (plate, hole) = (square(false).stand(p), square(true).stand(p));
            assert!((plate.off - off).abs() < 1e-12, "{x} {y}: {plate:?}");
            assert!((hole.off + off).abs() < 1e-12, "{x} {y}: {hole:?}");
            assert!((plate.out + hole.out).norm() < 1e-12);
            // A step along `out` is a step into the waste.
            let on = square(false).stand(p + plate.out * 0.1);
            assert!((on.off - off - 0.1).abs() < 1e-9, "{x} {y}: {on:?}");
        }
        let round = ring(
            circle(Place::new(1.0, 2.0), 5.0).to_vec(),
            true,
            0.0,
            Some(10.0),
        );
        let stand = round.expect("a ring").stand(Place::new(1.0, 5.0));
        assert!((stand.off - 2.0).abs() < 1e-12 && (stand.out.y + 1.0).abs() < 1e-12);
    }
}
