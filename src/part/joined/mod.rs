//! Members and plates that were made one mesh, taken apart into the pieces a shop makes.
//!
//! Only a body that one member or plate does not explain is tried, and only a split whose every piece
//! is explained, with ends that are, and whose volumes add up to the body's, is believed.

mod close;
mod gather;
mod seams;
mod words;

use super::{Part, measure};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::Pt3;

/// Share by which the volume of facets may differ from that of the solid they stand for.
const VOLUME_SHARE: f64 = 0.02;

/// Measures a body: one part, or the pieces it was joined from.
pub fn measure_pieces(body: &Body) -> Vec<Part> {
    let whole = measure(body);
    if explains(&whole, body) {
        return vec![whole];
    }
    match apart(body) {
        Apart::Pieces(parts) => parts,
        Apart::Unclear(pieces) if whole.unresolved.is_some() => {
            let mut whole = whole;
            whole.findings.push(words::not_taken_apart(pieces));
            vec![whole]
        }
        _ => vec![whole],
    }
}

/// Whether a part is all that the body is: measured, its ends known, its volume the body's.
fn explains(part: &Part, body: &Body) -> bool {
    if part.unresolved.is_some() || part.findings.iter().any(|f| f.code == Code::EndAssumed) {
        return false;
    }
    match part.volume {
        Some(v) if body.closed => {
            (v.value - body.volume).abs() <= v.plus_minus + VOLUME_SHARE * body.volume.abs()
        }
        _ => true,
    }
}

enum Apart {
    /// Nothing to take apart.
    One,
    /// There are seams, but not every piece between them is one.
    Unclear(usize),
    /// The pieces.
    Pieces(Vec<Part>),
}

/// Where two pieces meet.
struct Joint {
    /// The piece that ends here, and the one it stands on.
    ends: usize,
    on: usize,
    /// Middle of the seam.
    at: Pt3,
}

fn apart(body: &Body) -> Apart {
    let patches = crate::surface::segment(body);
    let (list, of_facet) = seams::components(body, &patches);
    if list.len() < 2 {
        return Apart::One;
    }
    let piece_of = gather::pieces(body, &patches, &list, &of_facet);
    let count = piece_of.iter().max().map_or(0, |&m| m as usize + 1);
    if count < 2 {
        return Apart::One;
    }
    let piece = |f: u32| piece_of[of_facet[f as usize] as usize];
    let mut facets: Vec<Vec<u32>> = vec![Vec::new(); count];
    for f in 0..body.facets.len() as u32 {
        facets[piece(f) as usize].push(f);
    }
    let mut parts = Vec::with_capacity(count);
    for (id, own) in facets.iter().enumerate() {
        let Some(cut) = close::closed(body, own, &|f| piece(f) == id as u32, patches.tolerance)
        else {
            return Apart::Unclear(count);
        };
        let part = (!cut.closed || cut.volume > 0.0).then(|| measure(&cut));
        match part {
            Some(part) if explains(&part, &cut) && part.volume.is_some() => parts.push(part),
            _ => return Apart::Unclear(count),
        }
    }
    if body.closed {
        let volumes = parts.iter().filter_map(|p| p.volume);
        let (sum, doubt) = volumes.fold((0.0, 0.0), |(s, d), v| (s + v.value, d + v.plus_minus));
        if (sum - body.volume).abs() > doubt + VOLUME_SHARE * body.volume.abs() {
            return Apart::Unclear(count);
        }
    }
    let mut joints = Vec::new();
    for (c, component) in list.iter().enumerate() {
        for s in component.seams.iter().filter(|s| s.stands()) {
            let Some(e) = s.ring.first() else { continue };
            let (ends, on) = (piece_of[c] as usize, piece(e.across(body)) as usize);
            // the inside of a tube meets where its outside does
            if ends == on || !s.is_outer() {
                continue;
            }
            let first = body.vertices[e.start(body) as usize];
            let sum = s.ring.iter().fold(nalgebra::Vector3::zeros(), |sum, e| {
                sum + (body.vertices[e.start(body) as usize] - first)
            });
            joints.push(Joint {
                ends,
                on,
                at: first + sum / s.ring.len() as f64,
            });
        }
    }
    words::note(&mut parts, &joints);
    Apart::Pieces(parts)
}

fn finding(code: Code, message: String, remedy: &str) -> Finding {
    Finding::new(code, Severity::Note, message, remedy)
}
