//! The outline of a section as circles and straight sides with rounded corners.

/// A point of the section plane: x along the width axis, y along the height axis, mm.
pub type Pt2 = nalgebra::Point2<f64>;
/// A direction of the section plane.
pub type Vec2 = nalgebra::Vector2<f64>;

/// One closed contour of a section.
#[derive(Clone, Debug, PartialEq)]
pub enum Contour {
    /// A circle about the origin of the section.
    Circle {
        /// Radius, mm.
        radius: f64,
    },
    /// Straight sides joined by sharp or rounded corners.
    Sides(Vec<Side>),
}

/// One straight side and the corner that follows it, going anticlockwise about the contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    /// Direction of the outward normal (away from the area inside the contour), radians.
    pub normal: f64,
    /// Distance of the side's line from the origin along that normal, mm.
    pub offset: f64,
    /// Radius of the corner between this side and the next, mm; zero when sharp.
    pub corner: f64,
}

/// A piece of a contour, ready for distances.
#[derive(Clone, Copy, Debug)]
pub enum Element {
    /// A straight piece from `a` to `b` with outward unit normal `n`.
    Line {
        /// Start.
        a: Pt2,
        /// End.
        b: Pt2,
        /// Outward normal.
        n: Vec2,
    },
    /// A corner arc.
    Arc {
        /// Centre.
        centre: Pt2,
        /// Radius, mm.
        radius: f64,
        /// Start.
        a: Pt2,
        /// End.
        b: Pt2,
        /// +1 for a convex corner, −1 for a concave one.
        sense: f64,
    },
    /// A whole circle about the origin.
    Circle {
        /// Radius, mm.
        radius: f64,
    },
}

impl Element {
    /// Distance to the element, mm, and the signed distance to its line or circle (outside positive).
    pub fn distance(&self, p: &Pt2) -> (f64, f64) {
        match *self {
            Element::Line { a, b, n } => {
                let d = b - a;
                let l = d.norm_squared();
                let u = if l > 0.0 {
                    ((p - a).dot(&d) / l).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                ((p - (a + d * u)).norm(), (p - a).dot(&n))
            }
            Element::Arc {
                centre,
                radius,
                a,
                b,
                sense,
            } => {
                let v = p - centre;
                let (ra, rb) = (a - centre, b - centre);
                let within = sense * ra.perp(&v) >= 0.0 && sense * v.perp(&rb) >= 0.0;
                let signed = sense * (v.norm() - radius);
                let away = if within {
                    signed.abs()
                } else {
                    (p - a).norm().min((p - b).norm())
                };
                (away, signed)
            }
            Element::Circle { radius } => {
                let signed = p.coords.norm() - radius;
                (signed.abs(), signed)
            }
        }
    }

    /// The place of the element nearest to `p`.
    pub fn foot(&self, p: &Pt2) -> Pt2 {
        match *self {
            Element::Line { a, b, .. } => {
                let d = b - a;
                let l = d.norm_squared();
                let u = if l > 0.0 { (p - a).dot(&d) / l } else { 0.0 };
                a + d * u.clamp(0.0, 1.0)
            }
            Element::Arc {
                centre,
                radius,
                a,
                b,
                sense,
            } => {
                let v = p - centre;
                let (ra, rb) = (a - centre, b - centre);
                if sense * ra.perp(&v) >= 0.0 && sense * v.perp(&rb) >= 0.0 {
                    centre + v * (radius / v.norm().max(f64::MIN_POSITIVE))
                } else if (p - a).norm() < (p - b).norm() {
                    a
                } else {
                    b
                }
            }
            Element::Circle { radius } => {
                Pt2::from(p.coords * (radius / p.coords.norm().max(f64::MIN_POSITIVE)))
            }
        }
    }

    /// Direction in which the signed distance to the element's line or circle grows at `p`.
    pub fn normal(&self, p: &Pt2) -> Vec2 {
        let away = |v: Vec2| v.try_normalize(0.0).unwrap_or_else(Vec2::zeros);
        match *self {
            Element::Line { n, .. } => n,
            Element::Arc { centre, sense, .. } => away(p - centre) * sense,
            Element::Circle { .. } => away(p.coords),
        }
    }

    /// Twice the area swept by the element about the origin, its length, and six times the first
    /// moments (Green's theorem).
    fn integrals(&self) -> (f64, f64, Vec2) {
        let chord = |a: &Pt2, b: &Pt2| {
            let cross = a.coords.perp(&b.coords);
            (cross, (a.coords + b.coords) * cross)
        };
        match *self {
            Element::Line { a, b, .. } => {
                let (twice, moment) = chord(&a, &b);
                (twice, (b - a).norm(), moment)
            }
            Element::Arc {
                centre,
                radius,
                a,
                b,
                sense,
            } => {
                let (mut twice, mut moment) = chord(&a, &b);
                let (ra, rb) = (a - centre, b - centre);
                let angle = ra.perp(&rb).atan2(ra.dot(&rb)).abs();
                let segment = 0.5 * radius * radius * (angle - angle.sin()) * sense;
                let mid = ra + rb;
                if segment != 0.0 && mid.norm() > 0.0 {
                    // centroid of a circular segment: 4 r sin³(φ/2) / (3 (φ − sin φ)) from the centre
                    let far =
                        4.0 * radius * (0.5 * angle).sin().powi(3) / (3.0 * (angle - angle.sin()));
                    twice += 2.0 * segment;
                    moment += 6.0 * segment * (centre.coords + mid.normalize() * far);
                }
                (twice, radius * angle, moment)
            }
            Element::Circle { radius } => {
                let pi = std::f64::consts::PI;
                (2.0 * pi * radius * radius, 2.0 * pi * radius, Vec2::zeros())
            }
        }
    }
}

/// Unit vector at an angle.
pub fn unit(angle: f64) -> Vec2 {
    Vec2::new(angle.cos(), angle.sin())
}

/// The point where the lines `n·p = d` of two sides meet, or `None` when they are parallel.
pub fn meet(n0: Vec2, d0: f64, n1: Vec2, d1: f64) -> Option<Pt2> {
    let det = n0.perp(&n1);
    if det.abs() < 1e-9 {
        return None;
    }
    Some(Pt2::new(
        (d0 * n1.y - d1 * n0.y) / det,
        (d1 * n0.x - d0 * n1.x) / det,
    ))
}

impl Contour {
    /// The contour's pieces in order.
    pub fn elements(&self) -> Vec<Element> {
        let sides = match self {
            Contour::Circle { radius } => return vec![Element::Circle { radius: *radius }],
            Contour::Sides(sides) => sides,
        };
        let count = sides.len();
        // for each corner: where the line before ends, where the next begins, the arc between
        let mut corners = Vec::with_capacity(count);
        for j in 0..count {
            let (s, next) = (sides[j], sides[(j + 1) % count]);
            let (n0, n1) = (unit(s.normal), unit(next.normal));
            let convex = n0.perp(&n1) > 0.0;
            let sense = if convex { 1.0 } else { -1.0 };
            let r = s.corner.max(0.0);
            let Some(centre) = meet(n0, s.offset - sense * r, n1, next.offset - sense * r) else {
                return Vec::new();
            };
            corners.push((
                centre + n0 * (sense * r),
                centre + n1 * (sense * r),
                centre,
                r,
                sense,
            ));
        }
        let mut elements = Vec::with_capacity(2 * count);
        for j in 0..count {
            let before = corners[(j + count - 1) % count];
            let (a, b, centre, radius, sense) = corners[j];
            elements.push(Element::Line {
                a: before.1,
                b: a,
                n: unit(sides[j].normal),
            });
            if radius > 0.0 {
                elements.push(Element::Arc {
                    centre,
                    radius,
                    a,
                    b,
                    sense,
                });
            }
        }
        elements
    }

    /// True when no two corners overlap by more than `slack`, mm: such an outline can't be drawn.
    pub fn drawable(&self, slack: f64) -> bool {
        self.elements().iter().all(|e| match e {
            // anticlockwise about the contour the outward normal is on the right of the run
            Element::Line { a, b, n } => (b - a).perp(n) < slack,
            _ => true,
        })
    }

    /// Enclosed area (mm²), length (mm) and centroid.
    pub fn moments(&self) -> (f64, f64, Pt2) {
        let (mut twice, mut length, mut moment) = (0.0, 0.0, Vec2::zeros());
        for e in self.elements() {
            let (t, l, m) = e.integrals();
            twice += t;
            length += l;
            moment += m;
        }
        let area = 0.5 * twice;
        let centroid = if twice != 0.0 {
            Pt2::from(moment / (3.0 * twice))
        } else {
            Pt2::origin()
        };
        (area, length, centroid)
    }

    /// The contour as points, arcs cut into chords no further than `sag` from the arc.
    pub fn points(&self, sag: f64) -> Vec<Pt2> {
        let mut out = Vec::new();
        for e in self.elements() {
            let (centre, radius, from, angle, sense) = match e {
                Element::Line { a, .. } => {
                    out.push(a);
                    continue;
                }
                Element::Arc {
                    centre,
                    radius,
                    a,
                    b,
                    sense,
                } => {
                    let (ra, rb) = (a - centre, b - centre);
                    let angle = ra.perp(&rb).atan2(ra.dot(&rb));
                    (centre, radius, ra.y.atan2(ra.x), angle, sense)
                }
                Element::Circle { radius } => {
                    (Pt2::origin(), radius, 0.0, std::f64::consts::TAU, 1.0)
                }
            };
            let _ = sense;
            let step = 2.0 * (1.0 - (sag / radius).min(0.5)).acos();
            let n = (angle.abs() / step).ceil().clamp(1.0, 720.0) as usize;
            for k in 0..n {
                out.push(centre + unit(from + angle * k as f64 / n as f64) * radius);
            }
        }
        out
    }
}

/// A section: the outer contour first, then the contours of its hollows.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Contours.
    pub contours: Vec<Contour>,
}

impl Profile {
    /// Metal area (mm²), length of all contours (mm), area centroid of the metal.
    pub fn moments(&self) -> (f64, f64, Pt2) {
        let (mut area, mut length, mut moment) = (0.0, 0.0, Vec2::zeros());
        for (i, c) in self.contours.iter().enumerate() {
            let (a, l, g) = c.moments();
            let sign = if i == 0 { 1.0 } else { -1.0 };
            area += sign * a;
            length += l;
            moment += sign * a * g.coords;
        }
        (
            area,
            length,
            if area != 0.0 {
                Pt2::from(moment / area)
            } else {
                Pt2::origin()
            },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    fn rectangle(w: f64, h: f64, r: f64) -> Contour {
        Contour::Sides(
            (0..4)
                .map(|k| Side {
                    normal: FRAC_PI_2 * k as f64,
                    offset: if k % 2 == 0 { w / 2.0 } else { h / 2.0 },
                    corner: r,
                })
                .collect(),
        )
    }

    #[test]
    fn a_rounded_rectangle_has_its_textbook_area() {
        let (area, length, centroid) = rectangle(80.0, 40.0, 7.0).moments();
        assert!((area - (3200.0 - (4.0 - PI) * 49.0)).abs() < 1e-9);
        assert!((length - (240.0 - 8.0 * 7.0 + 2.0 * PI * 7.0)).abs() < 1e-9);
        assert!(centroid.coords.norm() < 1e-12);
    }

    #[test]
    fn an_angle_with_a_root_radius_has_its_area() {
        // legs 50 x 40 x 5, root radius 6: area 5·(50 + 40 − 5) + (1 − π/4)·36
        let side = |normal: f64, offset: f64, corner: f64| Side {
            normal,
            offset,
            corner,
        };
        let c = Contour::Sides(vec![
            side(-FRAC_PI_2, 0.0, 0.0),
            side(0.0, 50.0, 0.0),
            side(FRAC_PI_2, 5.0, 6.0),
            side(0.0, 5.0, 0.0),
            side(FRAC_PI_2, 40.0, 0.0),
            side(PI, 0.0, 0.0),
        ]);
        let (area, ..) = c.moments();
        assert!(
            (area - (425.0 + (1.0 - PI / 4.0) * 36.0)).abs() < 1e-9,
            "{area}"
        );
    }
}
