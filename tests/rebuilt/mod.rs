//! Pieces made again from the JSON report alone, with no code of the program's analysis: sections
//! swept along spans, ends cut, holes drilled, plates rolled and folded, each put where its frame says.

pub mod contour;
pub mod drill;
pub mod fold;
pub mod json;
pub mod member;
pub mod model;
pub mod path;
pub mod plate;
pub mod section;
pub mod sheet;

use nalgebra::{Point3, Vector3};
use serde_json::Value;

use json::Frame;
use member::Member;
use model::Model;
use plate::Plate;

enum Solid {
    Member(Box<Member>),
    Plate(Box<Plate>),
}

/// One piece in its place.
pub struct Piece {
    pub name: String,
    solid: Solid,
    /// From the file to where the described piece stands: the same for that piece itself.
    place: Option<(Frame, Frame)>,
    points: Vec<Point3<f64>>,
    low: Point3<f64>,
    high: Point3<f64>,
}

/// On the surface, as far as rounding goes, mm.
const ON: f64 = 1e-4;

impl Piece {
    fn new(name: String, solid: Solid, place: Option<(Frame, Frame)>) -> Piece {
        let mut piece = Piece {
            name,
            solid,
            place,
            points: Vec::new(),
            low: Point3::from([f64::MAX; 3]),
            high: Point3::from([f64::MIN; 3]),
        };
        let candidates = match &piece.solid {
            Solid::Member(m) => m.candidates(),
            Solid::Plate(p) => p.candidates(),
        };
        let kept = candidates.into_iter().filter(|p| piece.own(p).abs() < ON);
        piece.points = kept
            .map(|p| match &piece.place {
                Some((here, there)) => there.out(&here.within(&p)),
                None => p,
            })
            .collect();
        for p in &piece.points {
            piece.low = piece.low.inf(p);
            piece.high = piece.high.sup(p);
        }
        piece
    }

    /// Distance in the place of the described piece.
    fn own(&self, p: &Point3<f64>) -> f64 {
        match &self.solid {
            Solid::Member(m) => m.value(p),
            Solid::Plate(m) => m.value(p),
        }
    }

    /// Distance from the surface, negative in the metal; never too large outside.
    fn value(&self, p: &Point3<f64>) -> f64 {
        match &self.place {
            Some((here, there)) => self.own(&here.out(&there.within(p))),
            None => self.own(p),
        }
    }

    /// How far a point may lie outside the box of the piece without being far from it.
    fn outside(&self, p: &Point3<f64>) -> f64 {
        (self.low - p).sup(&(p - self.high)).max()
    }

    /// Direction in which the distance grows, not of unit length across an edge.
    fn slope(&self, p: &Point3<f64>) -> Vector3<f64> {
        let h = 1e-4;
        Vector3::from_fn(|k, _| {
            let mut d = Vector3::zeros();
            d[k] = h;
            (self.value(&(p + d)) - self.value(&(p - d))) / (2.0 * h)
        })
    }

    /// How far the surface leaves a facet of the model square to it: what the facet cuts off of a
    /// curved surface its corners lie on.
    fn cut_off(&self, [a, b, c]: &[Point3<f64>; 3]) -> f64 {
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(1e-12) else {
            return 0.0;
        };
        let n = 6;
        let mut most = 0.0f64;
        for i in 0..=n {
            for k in 0..=n - i {
                let share = |x: usize| x as f64 / n as f64;
                let p = a + (b - a) * share(i) + (c - a) * share(k);
                let off = self.value(&p).abs();
                if off > most && off.is_finite() && self.slope(&p).dot(&normal).abs() > 0.6 {
                    most = off;
                }
            }
        }
        // Between the places looked at it may be a little more.
        1.1 * most
    }

    /// Distance of a point from the surface; outside the metal by walking down to it.
    fn distance(&self, p: &Point3<f64>) -> f64 {
        let first = self.value(p);
        if first < 1e-3 {
            return first.abs();
        }
        let (mut q, mut value) = (*p, first);
        for _ in 0..60 {
            if !value.is_finite() {
                break;
            }
            if value < (1e-2 * first).min(1e-3) {
                return (q - p).norm();
            }
            let slope = self.slope(&q);
            if !(slope.norm_squared() > 1e-4) {
                break;
            }
            q -= slope * (value / slope.norm_squared());
            value = self.value(&q);
        }
        self.points
            .iter()
            .map(|s| (s - p).norm())
            .fold(f64::INFINITY, f64::min)
    }
}

/// What came of one model.
#[derive(Default)]
pub struct Outcome {
    pub pieces: usize,
    pub vertices: usize,
    pub points: usize,
    /// Farthest vertex from what was made: distance, piece, place.
    pub vertex: Option<Far>,
    /// Vertices farther than allowed.
    pub vertices_off: usize,
    /// Farthest made point from the model, what its facets cut off taken off.
    pub surface: Option<Far>,
    pub points_off: usize,
    /// Largest that facets cut off where that mattered.
    pub sag: f64,
    /// What could not be made, and why.
    pub missing: Vec<String>,
}

#[derive(Clone, Debug)]
pub struct Far {
    pub distance: f64,
    pub piece: String,
    pub at: Point3<f64>,
}

fn farther(far: &mut Option<Far>, distance: f64, piece: &str, at: &Point3<f64>) {
    if far.as_ref().is_none_or(|f| distance > f.distance) {
        *far = Some(Far {
            distance,
            piece: piece.to_owned(),
            at: *at,
        });
    }
}

/// Makes what the report describes, every copy in its place. `after`: round holes of rolled and
/// folded plates are drilled after that.
pub fn make(report: &Value, after: bool, missing: &mut Vec<String>) -> Vec<Piece> {
    let mut out = Vec::new();
    for part in json::list(&report["parts"]) {
        let mark = part["mark"].as_str().unwrap_or("?");
        let read = || {
            if !part["member"].is_null() {
                let member = Member::read(part)?;
                let missing = member.missing.clone();
                Ok((Solid::Member(Box::new(member)), missing))
            } else if !part["plate"].is_null() {
                let plate = Plate::read(part, after)?;
                let missing = plate.missing.clone();
                Ok((Solid::Plate(Box::new(plate)), missing))
            } else {
                Err("neither member nor plate".to_owned())
            }
        };
        match read() {
            Ok((solid, lacks)) => {
                missing.extend(lacks.into_iter().map(|why| format!("{mark}: {why}")));
                out.push(Piece::new(mark.to_owned(), solid, None));
            }
            Err(why) => {
                missing.push(format!("{mark}: {why}"));
                continue;
            }
        }
        let copies =
            part["quantity"].as_u64().unwrap_or(0) + part["opposite_hand"].as_u64().unwrap_or(0);
        let mut found = 1;
        for copy in json::list(&part["copies"]) {
            let frames = Frame::read(&part["frame"]).zip(Frame::read(&copy["frame"]));
            let Some(frames) = frames else { continue };
            found += 1;
            if copy["body"] == part["body"] && (frames.0.origin - frames.1.origin).norm() < 1e-9 {
                found -= 1;
                continue;
            }
            if let Ok((solid, _)) = read() {
                let name = format!("{mark} as body {}", copy["body"]);
                out.push(Piece::new(name, solid, Some(frames)));
            }
        }
        if found < copies {
            missing.push(format!(
                "{mark}: {} of {copies} copies have no place",
                copies - found
            ));
        }
    }
    out
}

/// Lays what was made on the model, both ways.
pub fn compare(pieces: &[Piece], model: &Model, allowed: f64) -> Outcome {
    let mut out = Outcome {
        pieces: pieces.len(),
        vertices: model.vertices.len(),
        ..Outcome::default()
    };
    let reach = allowed.max(3.0);
    for p in &model.vertices {
        let near = pieces
            .iter()
            .filter(|piece| piece.outside(p) < reach)
            .map(|piece| (piece.distance(p), piece.name.as_str()))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|(d, _)| d.is_finite());
        let (d, name) = near.unwrap_or_else(|| {
            let boxes = pieces
                .iter()
                .map(|piece| (piece.outside(p), piece.name.as_str()));
            boxes
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or((f64::INFINITY, "nothing"))
        });
        farther(&mut out.vertex, d, name, p);
        out.vertices_off += usize::from(d > allowed);
    }
    for (i, piece) in pieces.iter().enumerate() {
        for p in &piece.points {
            // Where pieces touch or run into each other, a model need show no surface.
            let hidden = (pieces.iter().enumerate())
                .any(|(k, other)| k != i && other.outside(p) < 0.01 && other.value(p) < 0.01);
            if hidden {
                continue;
            }
            out.points += 1;
            let (d, mut sag, facet) = model.distance(p);
            if d - sag > 0.5 * allowed {
                sag = sag.max(piece.cut_off(&facet));
            }
            let left = (d - sag).max(0.0);
            out.sag = out.sag.max(d.min(sag));
            farther(&mut out.surface, left, &piece.name, p);
            out.points_off += usize::from(left > allowed);
        }
    }
    out
}
