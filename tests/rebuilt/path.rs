//! The centreline, laid out from its first frame by the spans alone.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point2, Point3, Unit, UnitQuaternion, Vector3};
use serde_json::Value;

use super::json::{self, Frame};

/// One span with the frame of the section at its start.
#[derive(Clone, Debug)]
struct Span {
    start: Frame,
    length: f64,
    kind: Kind,
}

#[derive(Clone, Debug)]
enum Kind {
    Straight,
    /// Unit direction to the centre, radius.
    Arc(Vector3<f64>, f64),
    /// A point on the axis, its direction, radians per mm of length (signed), advance per mm.
    Screw(Point3<f64>, Vector3<f64>, f64, f64),
    /// Sections close together, each with its length from the start.
    Curve(Vec<(f64, Frame)>),
}

/// A point as the path sees it.
#[derive(Clone, Copy, Debug)]
pub struct Foot {
    /// Length of the centreline from end 0, mm.
    pub station: f64,
    /// Place in the section.
    pub at: Point2<f64>,
}

#[derive(Clone, Debug)]
pub struct Path {
    spans: Vec<Span>,
    pub length: f64,
    pub straight: bool,
    pub closed: bool,
}

fn turned(
    frame: &Frame,
    about: &Point3<f64>,
    axis: Vector3<f64>,
    angle: f64,
    advance: f64,
) -> Frame {
    let turn = UnitQuaternion::from_axis_angle(&Unit::new_normalize(axis), angle);
    Frame {
        origin: about + turn * (frame.origin - about) + axis.normalize() * advance,
        x: turn * frame.x,
        y: turn * frame.y,
        z: turn * frame.z,
    }
}

impl Path {
    pub fn read(member: &Value, frame: Frame) -> Result<Path, String> {
        let mut at = frame;
        let mut bend: Option<Vector3<f64>> = None;
        let mut spans = Vec::new();
        let listed = json::list(&member["spans"]);
        for (i, span) in listed.iter().enumerate() {
            let need =
                |name: &str| json::number(&span[name]).ok_or(format!("span {i} has no {name}"));
            let length = need("length")?;
            let (kind, next) = match span["kind"].as_str() {
                Some("straight") => {
                    let mut next = at;
                    next.origin += at.z * length;
                    (Kind::Straight, next)
                }
                Some("arc") => {
                    let radius = need("radius").or_else(|_| need("curvature").map(f64::recip))?;
                    // Only the first bend plane needs a direction of the file.
                    let axis = match (bend, json::number(&span["rotation"])) {
                        (Some(before), Some(rotation)) => {
                            let about = Unit::new_normalize(at.z);
                            UnitQuaternion::from_axis_angle(&about, rotation.to_radians()) * before
                        }
                        _ => {
                            let given = json::direction(&span["axis"])
                                .ok_or(format!("span {i} has no axis"))?;
                            (given - at.z * given.dot(&at.z)).normalize()
                        }
                    };
                    let inward = axis.cross(&at.z);
                    let centre = at.origin + inward * radius;
                    let angle = need("angle")?.to_radians();
                    let next = turned(&at, &centre, axis, angle, 0.0);
                    bend = Some(axis);
                    (Kind::Arc(inward, radius), next)
                }
                Some("helix") => {
                    let axis = json::direction(&span["axis"]).ok_or("a helix has no axis")?;
                    let centre = json::point(&span["centre"]).ok_or("a helix has no centre")?;
                    let axis = axis * axis.dot(&at.z).signum();
                    let turn = need("turns")? * TAU;
                    let turn = if span["hand"] == "left" { -turn } else { turn };
                    let advance = need("pitch")? * need("turns")?;
                    let next = turned(&at, &centre, axis, turn, advance);
                    (
                        Kind::Screw(centre, axis, turn / length, advance / length),
                        next,
                    )
                }
                _ => {
                    let points: Vec<_> = json::list(&span["points"])
                        .iter()
                        .filter_map(json::point)
                        .collect();
                    if points.len() < 3 {
                        return Err(format!("span {i} is free and has no points"));
                    }
                    let sections = curve(&points, at);
                    let next = sections[sections.len() - 1].1;
                    (Kind::Curve(sections), next)
                }
            };
            let length = match &kind {
                Kind::Curve(sections) => sections[sections.len() - 1].0,
                _ => length,
            };
            spans.push(Span {
                start: at,
                length,
                kind,
            });
            at = next;
        }
        if spans.is_empty() {
            return Err("no spans".into());
        }
        Ok(Path {
            length: spans.iter().map(|s| s.length).sum(),
            straight: spans.iter().all(|s| matches!(s.kind, Kind::Straight)),
            closed: member["centreline"]["closed"] == true,
            spans,
        })
    }

    /// Frame of the section at a station; before 0 and beyond the end the outer spans go on.
    pub fn frame(&self, station: f64) -> Frame {
        let mut left = station;
        for (i, span) in self.spans.iter().enumerate() {
            if left <= span.length || i + 1 == self.spans.len() {
                return span.frame(left);
            }
            left -= span.length;
        }
        self.spans[0].start
    }

    pub fn place(&self, station: f64, at: &Point2<f64>) -> Point3<f64> {
        self.frame(station).out(&Point3::new(at.x, at.y, 0.0))
    }

    /// Where a point lies beside the path; `beyond` is how far the path goes on past either end.
    pub fn feet(&self, p: &Point3<f64>, beyond: [f64; 2]) -> Vec<Foot> {
        let mut out = Vec::new();
        let mut before = 0.0;
        for (i, span) in self.spans.iter().enumerate() {
            let low = if i == 0 { -beyond[0] } else { 0.0 };
            let high = span.length
                + if i + 1 == self.spans.len() {
                    beyond[1]
                } else {
                    0.0
                };
            for (s, at) in span.feet(p, low, high) {
                if s >= low - 1e-6 && s <= high + 1e-6 {
                    out.push(Foot {
                        station: before + s,
                        at,
                    });
                }
            }
            before += span.length;
        }
        out
    }
}

impl Span {
    fn frame(&self, s: f64) -> Frame {
        match &self.kind {
            Kind::Straight => Frame {
                origin: self.start.origin + self.start.z * s,
                ..self.start
            },
            Kind::Arc(inward, radius) => {
                let centre = self.start.origin + inward * *radius;
                turned(
                    &self.start,
                    &centre,
                    self.start.z.cross(inward),
                    s / radius,
                    0.0,
                )
            }
            Kind::Screw(centre, axis, turn, advance) => {
                turned(&self.start, centre, *axis, turn * s, advance * s)
            }
            Kind::Curve(sections) => {
                let k = sections
                    .partition_point(|f| f.0 < s)
                    .clamp(1, sections.len() - 1);
                let (a, b) = (&sections[k - 1], &sections[k]);
                let share = (s - a.0) / (b.0 - a.0);
                let mix = |u: Vector3<f64>, v: Vector3<f64>| u + (v - u) * share.clamp(0.0, 1.0);
                Frame {
                    origin: a.1.origin + (b.1.origin - a.1.origin) * share,
                    x: mix(a.1.x, b.1.x).normalize(),
                    y: mix(a.1.y, b.1.y).normalize(),
                    z: mix(a.1.z, b.1.z).normalize(),
                }
            }
        }
    }

    fn feet(&self, p: &Point3<f64>, low: f64, high: f64) -> Vec<(f64, Point2<f64>)> {
        let flat = |s: f64| {
            let at = self.frame(s).within(p);
            (s, Point2::new(at.x, at.y))
        };
        match &self.kind {
            Kind::Straight => vec![flat(self.start.within(p).z)],
            Kind::Arc(inward, radius) => {
                let centre = self.start.origin + inward * *radius;
                let v = p - centre;
                let angle = v.dot(&self.start.z).atan2(-v.dot(inward));
                let middle = 0.5 * (low + high) / radius;
                let angle = middle - PI + (angle - middle + PI).rem_euclid(TAU);
                vec![flat(angle * radius)]
            }
            Kind::Screw(_, _, turn, _) => {
                // A start every eighth of a turn, then the section plane that holds the point.
                let step = (0.125 * TAU / turn.abs()).min(0.25 * (high - low));
                let n = ((high - low) / step).ceil() as usize;
                let ahead = |s: f64| self.frame(s).within(p).z;
                let mut out = Vec::new();
                for i in 0..n {
                    let (mut a, mut b) = (low + step * i as f64, low + step * (i + 1) as f64);
                    if ahead(a) < 0.0 || ahead(b) >= 0.0 {
                        continue;
                    }
                    for _ in 0..50 {
                        let m = 0.5 * (a + b);
                        if ahead(m) >= 0.0 { a = m } else { b = m }
                    }
                    out.push(flat(a));
                }
                out
            }
            Kind::Curve(sections) => {
                let mut out = Vec::new();
                let ahead = |f: &Frame| (p - f.origin).dot(&f.z);
                if ahead(&sections[0].1) < 0.0 {
                    out.push(flat(ahead(&sections[0].1)));
                }
                let last = &sections[sections.len() - 1];
                if ahead(&last.1) > 0.0 {
                    out.push(flat(last.0 + ahead(&last.1)));
                }
                for pair in sections.windows(2) {
                    let (a, b) = (ahead(&pair[0].1), ahead(&pair[1].1));
                    if a >= 0.0 && b <= 0.0 && a - b > 0.0 {
                        out.push(flat(pair[0].0 + (pair[1].0 - pair[0].0) * a / (a - b)));
                    }
                }
                out
            }
        }
    }
}

/// A smooth curve through points, as sections close together carried along without twist.
fn curve(points: &[Point3<f64>], start: Frame) -> Vec<(f64, Frame)> {
    let n = points.len();
    let knots: Vec<f64> = points
        .windows(2)
        .scan(0.0, |s, w| {
            *s += (w[1] - w[0]).norm();
            Some(*s)
        })
        .collect();
    let at = |i: usize| if i == 0 { 0.0 } else { knots[i - 1] };
    // Slope at each point from the parabola through it and its neighbours.
    let slope = |i: usize| {
        let k = i.clamp(1, n - 2);
        let (h0, h1) = (at(k) - at(k - 1), at(k + 1) - at(k));
        let (d0, d1) = (
            (points[k] - points[k - 1]) / h0,
            (points[k + 1] - points[k]) / h1,
        );
        let bend = (d1 - d0) / (h0 + h1);
        d0 + bend * h0 + bend * (2.0 * (at(i) - at(k)))
    };
    let mut out: Vec<(f64, Frame)> = Vec::new();
    for i in 0..n - 1 {
        let (h, s0, s1) = (at(i + 1) - at(i), slope(i), slope(i + 1));
        for j in 0..=40 {
            if i > 0 && j == 0 {
                continue;
            }
            let t = j as f64 / 40.0;
            let (a, b) = (points[i], points[i + 1]);
            let d = b - a;
            let origin = a + s0 * (h * t * (1.0 - t) * (1.0 - t)) + d * (t * t * (3.0 - 2.0 * t))
                - s1 * (h * t * t * (1.0 - t));
            let z = (s0 * ((1.0 - t) * (1.0 - 3.0 * t)) + d * (6.0 * t * (1.0 - t) / h)
                - s1 * (t * (2.0 - 3.0 * t)))
                .normalize();
            let (length, before) = out
                .last()
                .map_or((0.0, start), |(l, f)| (l + (origin - f.origin).norm(), *f));
            let turn = UnitQuaternion::rotation_between(&before.z, &z).unwrap_or_default();
            out.push((
                length,
                Frame {
                    origin,
                    x: turn * before.x,
                    y: turn * before.y,
                    z,
                },
            ));
        }
    }
    out
}
