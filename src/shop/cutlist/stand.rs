//! The pieces as they stand in the model, and lines through their metal.

use super::{Model, mark_of};
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::instance::sag;
use crate::part::Part;

/// A piece in its place.
#[derive(Clone, Debug)]
pub struct Standing<'a> {
    /// Piece mark.
    pub mark: String,
    /// As measured in its place.
    pub part: &'a Part,
    /// Number of its body.
    pub body: usize,
}

/// All pieces of a model in their places.
pub struct Stand<'a> {
    /// Bodies of the model.
    pub bodies: &'a [Body],
    /// Pieces.
    pub pieces: Vec<Standing<'a>>,
    /// Boxes around the bodies: lowest and highest corner.
    pub boxes: Vec<(Pt3, Pt3)>,
    /// Piece of each body; `None` where it has several or none.
    pub piece_of: Vec<Option<usize>>,
    /// How far each facet of each body may lie inside its true surface, mm.
    pub sag: Vec<Vec<f32>>,
    /// How many of the model are made.
    pub quantity: u32,
}

/// Where a line meets a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Way along the line, mm.
    pub way: f64,
    /// True where it goes into the metal.
    pub inward: bool,
    /// The facet.
    pub facet: usize,
}

impl<'a> Stand<'a> {
    /// The pieces of a model.
    pub fn of(model: &Model<'a>, letter: Option<&str>) -> Stand<'a> {
        let bodies = model.bodies;
        let mut pieces = Vec::new();
        for (part, own) in model.report.parts.iter().zip(model.pieces) {
            pieces.extend(own.iter().map(|(piece, _)| Standing {
                mark: mark_of(letter, &part.mark),
                part: piece,
                body: piece.body as usize,
            }));
        }
        let mut piece_of = vec![None; bodies.len()];
        let mut many = vec![0u32; bodies.len()];
        for (k, piece) in pieces.iter().enumerate() {
            if let Some(count) = many.get_mut(piece.body) {
                *count += 1;
                piece_of[piece.body] = (*count == 1).then_some(k);
            }
        }
        Stand {
            bodies,
            boxes: bodies.iter().map(bounds).collect(),
            sag: bodies.iter().map(sag).collect(),
            pieces,
            piece_of,
            quantity: model.quantity,
        }
    }

    /// Bodies other than `own` whose box comes within `reach` of the box of `low` and `high`.
    pub fn near(&self, own: usize, (low, high): (Pt3, Pt3), reach: f64) -> Vec<usize> {
        let apart = |k: usize| {
            let (l, h) = self.boxes[k];
            (0..3).any(|i| l[i] - reach > high[i] || h[i] + reach < low[i])
        };
        (0..self.bodies.len())
            .filter(|&k| k != own && !apart(k))
            .collect()
    }

    /// Mark of a body's piece, or of its pieces.
    pub fn name(&self, body: usize) -> String {
        let mut marks: Vec<&str> = self
            .pieces
            .iter()
            .filter(|piece| piece.body == body)
            .map(|piece| piece.mark.as_str())
            .collect();
        marks.dedup();
        match marks.is_empty() {
            true => "a body without a mark".to_owned(),
            false => marks.join(" + "),
        }
    }

    /// Marks of the other pieces of a body that `mark` is one of.
    pub fn others(&self, body: usize, mark: &str) -> String {
        let other = |m: &&str| *m != mark;
        let name = self.name(body);
        let rest: Vec<&str> = name.split(" + ").filter(other).collect();
        match rest.is_empty() {
            true => mark.to_owned(),
            false => rest.join(" + "),
        }
    }

    /// Where the line from `from` along the unit vector `along` meets a body within `reach` either way,
    /// by the way.
    pub fn crossings(&self, body: usize, from: &Pt3, along: &Vec3, reach: f64) -> Vec<Crossing> {
        let solid = &self.bodies[body];
        let mut out: Vec<Crossing> = Vec::new();
        for (k, facet) in solid.facets.iter().enumerate() {
            let [a, b, c] = facet.map(|v| solid.vertices[v as usize] - from);
            let sides = [(a, b), (b, c), (c, a)].map(|(p, q)| along.dot(&p.cross(&q)));
            if !(sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0)) {
                continue;
            }
            let normal = (b - a).cross(&(c - a));
            let speed = normal.dot(along);
            let way = normal.dot(&a) / speed;
            if way.is_finite() && way.abs() <= reach {
                out.push(Crossing {
                    way,
                    inward: speed < 0.0,
                    facet: k,
                });
            }
        }
        out.sort_by(|a, b| a.way.total_cmp(&b.way));
        // an edge between two facets is met once
        out.dedup_by(|a, b| a.inward == b.inward && (a.way - b.way).abs() < 1e-6);
        out
    }
}

fn bounds(body: &Body) -> (Pt3, Pt3) {
    let far = f64::INFINITY;
    let start = (Pt3::new(far, far, far), Pt3::new(-far, -far, -far));
    body.vertices
        .iter()
        .fold(start, |(low, high), p| (low.inf(p), high.sup(p)))
}
