//! Lines and arcs in a plane, and the points that stand for them.

use nalgebra::{Point2, Vector2};

/// A place in the plane, mm.
pub type Place = Point2<f64>;

/// A straight or round piece of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// A straight line.
    Line {
        /// Start.
        from: Place,
        /// End.
        to: Place,
    },
    /// An arc; where its ends lie at slightly different distances from the centre, the radius grows
    /// evenly from one to the other.
    Arc {
        /// Start.
        from: Place,
        /// End.
        to: Place,
        /// Centre.
        centre: Place,
        /// Angle turned, radians, positive anticlockwise; a full circle is ±2π.
        sweep: f64,
    },
}

impl Piece {
    /// Where it starts.
    pub fn from(&self) -> Place {
        match *self {
            Piece::Line { from, .. } | Piece::Arc { from, .. } => from,
        }
    }

    /// Where it ends.
    pub fn to(&self) -> Place {
        match *self {
            Piece::Line { to, .. } | Piece::Arc { to, .. } => to,
        }
    }

    /// Its length, mm.
    pub fn length(&self) -> f64 {
        match *self {
            Piece::Line { from, to } => (to - from).norm(),
            Piece::Arc {
                from,
                to,
                centre,
                sweep,
            } => ((from - centre).norm() + (to - centre).norm()) / 2.0 * sweep.abs(),
        }
    }

    /// The same run from its end to its start.
    pub fn reversed(&self) -> Piece {
        match *self {
            Piece::Line { from, to } => Piece::Line { from: to, to: from },
            Piece::Arc {
                from,
                to,
                centre,
                sweep,
            } => Piece::Arc {
                from: to,
                to: from,
                centre,
                sweep: -sweep,
            },
        }
    }

    /// The same with left and right changed over at x = 0.
    pub fn mirrored(&self) -> Piece {
        let flip = |p: Place| Place::new(-p.x, p.y);
        match *self {
            Piece::Line { from, to } => Piece::Line {
                from: flip(from),
                to: flip(to),
            },
            Piece::Arc {
                from,
                to,
                centre,
                sweep,
            } => Piece::Arc {
                from: flip(from),
                to: flip(to),
                centre: flip(centre),
                sweep: -sweep,
            },
        }
    }

    /// Straight parts it takes so that none leaves it by more than `sag` mm.
    pub fn parts(&self, sag: f64) -> usize {
        let Piece::Arc {
            from,
            to,
            centre,
            sweep,
        } = *self
        else {
            return 1;
        };
        let radius = (from - centre).norm().max((to - centre).norm());
        // Half the angle of a part: its sag is r (1 − cos).
        let half = (1.0 - (sag / radius).min(0.3)).acos();
        let parts = (sweep.abs() / (2.0 * half)).ceil();
        match parts.is_finite() {
            true => (parts as usize).clamp(1, 1 << 16),
            false => 1,
        }
    }

    /// Point at share `t` of the way, 0 to 1.
    pub fn at(&self, t: f64) -> Place {
        match *self {
            Piece::Line { from, to } => from + (to - from) * t,
            Piece::Arc {
                from,
                to,
                centre,
                sweep,
            } => {
                let (out, end) = (from - centre, to - centre);
                let radius = out.norm() + (end.norm() - out.norm()) * t;
                let turn = out.y.atan2(out.x) + sweep * t;
                centre + Vector2::new(turn.cos(), turn.sin()) * radius
            }
        }
    }

    /// Appends the points after its start.
    pub fn flatten(&self, sag: f64, points: &mut Vec<Place>) {
        let parts = self.parts(sag);
        for k in 1..parts {
            points.push(self.at(k as f64 / parts as f64));
        }
        points.push(self.to());
    }
}

/// Pieces of a full circle, anticlockwise.
pub fn circle(centre: Place, radius: f64) -> [Piece; 2] {
    let (right, left) = (
        centre + Vector2::new(radius, 0.0),
        centre - Vector2::new(radius, 0.0),
    );
    [(right, left), (left, right)].map(|(from, to)| Piece::Arc {
        from,
        to,
        centre,
        sweep: std::f64::consts::PI,
    })
}

/// The arc a bulge stands for: the tangent of a quarter of the angle turned, 0 for a straight line.
pub fn bulged(from: Place, to: Place, bulge: f64) -> Piece {
    let chord = to - from;
    if bulge == 0.0 || chord.norm() == 0.0 {
        return Piece::Line { from, to };
    }
    let left = Vector2::new(-chord.y, chord.x);
    Piece::Arc {
        from,
        to,
        centre: from + chord / 2.0 + left * ((1.0 - bulge * bulge) / (4.0 * bulge)),
        sweep: 4.0 * bulge.atan(),
    }
}

/// Corners of the upright box around points; `None` for none.
pub fn extent<'a>(points: impl IntoIterator<Item = &'a Place>) -> Option<(Place, Place)> {
    points.into_iter().fold(None, |seen, p| {
        let (low, high) = seen.unwrap_or((*p, *p));
        Some((low.inf(p), high.sup(p)))
    })
}

/// Signed area inside a ring of points, mm², positive anticlockwise.
pub fn area(ring: &[Place]) -> f64 {
    let Some(&origin) = ring.first() else {
        return 0.0;
    };
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter()
        .zip(next)
        .map(|(a, b)| (a - origin).perp(&(b - origin)) / 2.0)
        .sum()
}

/// Length of a ring of points, mm.
pub fn around(ring: &[Place]) -> f64 {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).map(|(a, b)| (b - a).norm()).sum()
}

/// Centroid of the area inside a ring; the mean of its points where it has none.
pub fn centroid(ring: &[Place]) -> Place {
    let Some(&origin) = ring.first() else {
        return Place::origin();
    };
    let next = ring.iter().skip(1).chain(ring.first());
    let (mut sum, mut twice) = (Vector2::zeros(), 0.0);
    for (a, b) in ring.iter().zip(next) {
        let (a, b) = (a - origin, b - origin);
        let cross = a.perp(&b);
        twice += cross;
        sum += (a + b) * (cross / 3.0);
    }
    let length = around(ring);
    if twice.abs() <= 1e-9 * length * length {
        let mean: Vector2<f64> = ring.iter().map(|p| p - origin).sum();
        return origin + mean / ring.len() as f64;
    }
    origin + sum / twice
}

/// True when the ring goes round the point.
pub fn holds(ring: &[Place], p: Place) -> bool {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).fold(false, |inside, (a, b)| {
        let crosses =
            (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x;
        inside != crosses
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn a_circle_has_its_area_length_and_centroid() {
        let mut ring = Vec::new();
        for piece in circle(Place::new(3.0, 4.0), 10.0) {
            piece.flatten(1e-4, &mut ring);
        }
        assert!((area(&ring) - 100.0 * PI).abs() < 0.01);
        assert!((around(&ring) - 20.0 * PI).abs() < 0.01);
        assert!((centroid(&ring) - Place::new(3.0, 4.0)).norm() < 1e-9);
        assert!(holds(&ring, Place::new(9.0, 9.0)) && !holds(&ring, Place::new(13.5, 4.0)));
    }

    #[test]
    fn a_bulge_of_one_is_half_a_circle() {
        let arc = bulged(Place::new(0.0, 0.0), Place::new(10.0, 0.0), 1.0);
        assert!((arc.length() - 5.0 * PI).abs() < 1e-12);
        assert!((arc.at(0.5) - Place::new(5.0, -5.0)).norm() < 1e-12);
    }
}
