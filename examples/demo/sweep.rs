//! A section moved along a straight line, an arc and a straight line, cut at both ends, drilled.

use std::f64::consts::TAU;

use super::section::{P2, Section};
use super::solid::{P3, Solid, V3};

/// A place with the directions of width, height and travel.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    pub at: P3,
    pub width: V3,
    pub height: V3,
    pub along: V3,
}

/// Straight, arc towards +height, straight. All on the line of the section's origin.
#[derive(Clone, Copy, Debug)]
pub struct Path {
    pub start: Frame,
    pub before: f64,
    pub radius: f64,
    pub angle: f64,
    pub after: f64,
}

/// Chord of a roll in degrees.
const CHORD: f64 = 5.0;

impl Path {
    pub fn straight(start: Frame, length: f64) -> Path {
        Path {
            start,
            before: length,
            radius: 1.0,
            angle: 0.0,
            after: 0.0,
        }
    }

    pub fn length(&self) -> f64 {
        self.before + self.radius * self.angle.to_radians() + self.after
    }

    /// Station of an angle of the arc.
    pub fn station(&self, degrees: f64) -> f64 {
        self.before + self.radius * degrees.to_radians()
    }

    pub fn frame(&self, s: f64) -> Frame {
        let f = &self.start;
        let arc = self.radius * self.angle.to_radians();
        let on_arc = (s - self.before).clamp(0.0, arc);
        let a = on_arc / self.radius;
        let (sin, cos) = a.sin_cos();
        let along = f.along * cos + f.height * sin;
        let height = f.height * cos - f.along * sin;
        let at = f.at
            + f.along * (s.min(self.before) + self.radius * sin)
            + f.height * (self.radius * (1.0 - cos))
            + along * (s - self.before - arc).max(0.0);
        Frame {
            at,
            width: f.width,
            height,
            along,
        }
    }

    pub fn place(&self, p: P2, s: f64) -> P3 {
        let f = self.frame(s);
        f.at + f.width * p.x + f.height * p.y
    }

    /// Stations of the rings between the ends.
    fn rings(&self) -> Vec<f64> {
        if self.angle == 0.0 {
            return Vec::new();
        }
        let n = (self.angle / CHORD).round();
        let all = (0..=n as usize).map(|k| self.station(self.angle * k as f64 / n));
        all.filter(|s| *s > 1e-6 && *s < self.length() - 1e-6)
            .collect()
    }
}

/// Where a fibre of the section ends.
pub type End<'a> = &'a dyn Fn(P2) -> f64;

/// A drilled hole: number of the section's wall, station, distance along the wall's own direction (x
/// for walls that face ±y, else y).
#[derive(Clone, Copy, Debug)]
pub struct Drilled {
    pub wall: usize,
    pub station: f64,
    pub across: f64,
    pub diameter: f64,
}

/// Corners of a drilled circle.
const CIRCLE: usize = 24;

/// The solid. `caps` says which ends are closed; an end that runs into other metal is not.
pub fn sweep(
    name: &str,
    section: &Section,
    path: &Path,
    ends: [End; 2],
    drilled: &[Drilled],
    caps: [bool; 2],
) -> Solid {
    let mut out = Solid {
        name: name.to_owned(),
        ..Solid::default()
    };
    let rings = path.rings();
    let stations = |p: P2| {
        let mut all = vec![ends[0](p)];
        all.extend(&rings);
        all.push(ends[1](p));
        all
    };
    for (number, contour) in section.contours.iter().enumerate() {
        for (i, &p) in contour.iter().enumerate() {
            let q = contour[(i + 1) % contour.len()];
            let (at_p, at_q) = (stations(p), stations(q));
            let side = if number == 0 { 1.0 } else { -1.0 };
            for k in 0..at_p.len() - 1 {
                let corners = [
                    path.place(p, at_p[k]),
                    path.place(q, at_q[k]),
                    path.place(q, at_q[k + 1]),
                    path.place(p, at_p[k + 1]),
                ];
                let f = path.frame((at_p[k] + at_p[k + 1]) / 2.0);
                let outward = (f.width * (q.y - p.y) - f.height * (q.x - p.x)) * side;
                let holes: Vec<Vec<P3>> = drilled
                    .iter()
                    .filter(|d| section.walls[d.wall].faces.contains(&(number, i)))
                    .filter(|d| {
                        d.station > at_p[k].max(at_q[k]) && d.station < at_p[k + 1].min(at_q[k + 1])
                    })
                    .map(|d| circle(section, path, d, p))
                    .collect();
                match holes.is_empty() {
                    true => out.quad(corners, outward),
                    false => out.face(&corners, &holes, outward),
                }
            }
        }
    }
    for d in drilled {
        let [one, other] = section.walls[d.wall]
            .faces
            .map(|(contour, edge)| circle(section, path, d, section.contours[contour][edge]));
        let middle = mean(&one);
        let axis = (mean(&other) - middle).normalize();
        out.wall(&one, &other, |p| {
            let r = middle - p;
            r - axis * r.dot(&axis)
        });
    }
    for (end, closed) in caps.into_iter().enumerate() {
        if closed {
            cap(&mut out, section, path, ends, end);
        }
    }
    out
}

fn mean(points: &[P3]) -> P3 {
    P3::from(points.iter().map(|p| p.coords).sum::<V3>() / points.len() as f64)
}

/// The hole on the face of the section that `on` lies on. A drill goes straight: on a face that is
/// rolled, its circle is that of the drill's cylinder.
fn circle(section: &Section, path: &Path, d: &Drilled, on: P2) -> Vec<P3> {
    let r = d.diameter / 2.0;
    let facing_x = section.walls[d.wall].normal.x != 0.0;
    (0..CIRCLE)
        .map(|k| {
            let (b, a) = (TAU * k as f64 / CIRCLE as f64).sin_cos();
            let (a, b) = (a * r, b * r);
            if facing_x {
                let f = path.frame(d.station);
                return f.at + f.width * on.x + f.height * (d.across + a) + f.along * b;
            }
            let on_arc = path.angle > 0.0
                && d.station > path.before
                && d.station < path.length() - path.after;
            let s = match on_arc {
                true => d.station + (b / (path.radius - on.y)).asin() * path.radius,
                false => d.station + b,
            };
            path.place(P2::new(d.across + a, on.y), s)
        })
        .collect()
}

fn cap(out: &mut Solid, section: &Section, path: &Path, ends: [End; 2], end: usize) {
    let f = path.frame(if end == 0 { 0.0 } else { path.length() });
    let outward = f.along * if end == 0 { -1.0 } else { 1.0 };
    let at = |p: &P2| path.place(*p, ends[end](*p));
    let outer: Vec<P3> = section.contours[0].iter().map(at).collect();
    match section.contours.get(1) {
        // both contours have as many corners, so a cut in two planes comes out too
        Some(inner) => out.wall(&outer, &inner.iter().map(at).collect::<Vec<_>>(), |_| {
            outward
        }),
        None => out.face(&outer, &[], outward),
    }
}
