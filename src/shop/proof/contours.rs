//! Strokes of the tool as closed contours: lead-ins told from the cut, ends joined, gaps found.

use super::joining;
use super::loops::{Loop, find_loop};
use super::piece::{Piece, Place, area, around, extent};
use super::program::{Side, Stroke};
use crate::shop::Refused;

/// One contour.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Its points in the order of the cut, mm; the last leads back to the first.
    pub ring: Vec<Place>,
    /// Signed area inside, mm², positive where it is cut anticlockwise.
    pub area: f64,
    /// Length around, mm.
    pub length: f64,
    /// Distance of its ends where it does not close, mm.
    pub gap: Option<f64>,
    /// Ways into it and out of it.
    pub leads: Vec<Vec<Place>>,
    /// Number of its first stroke.
    pub order: usize,
    /// Line of the program, or entity of the DXF, it starts in.
    pub line: usize,
    /// Side the control is told to move the tool to.
    pub compensated: Option<Side>,
}

/// The strokes as contours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contours {
    /// Closed contours, and open ones that go round something.
    pub list: Vec<Contour>,
    /// Cuts that go round nothing: the points, and the line of the program.
    pub loose: Vec<(Vec<Place>, usize)>,
    /// Contours that are cut a second time.
    pub repeated: usize,
}

/// Points farther apart than this are not the same, mm: coarser than the last decimal of any program,
/// finer than any kerf.
pub const SAME: f64 = 0.05;
/// Straight parts of an arc leave it by no more than this, mm.
const SAG: f64 = 0.001;
/// Points all arcs together may come to at that sag; more are made coarser.
const MOST_POINTS: usize = 1_000_000;
/// Contours that are looked at.
const MOST_CONTOURS: usize = 3_000;

/// Finds the contours.
pub fn contours(strokes: &[Stroke]) -> Result<Contours, Refused> {
    let sag = sag(strokes);
    let mut found = Contours::default();
    let mut open = Vec::new();
    for (order, stroke) in strokes.iter().enumerate() {
        let points = points(&stroke.pieces, sag);
        match find_loop(&points) {
            Some(part) => found.list.push(closed(part, order, stroke)),
            None => open.push((points, order)),
        }
    }
    for path in joining::join(open) {
        let Some(stroke) = strokes.get(path.order) else {
            continue;
        };
        if let Some(part) = find_loop(&path.points) {
            found.list.push(Contour {
                leads: [part.leads.clone(), path.leads].concat(),
                ..closed(part, path.order, stroke)
            });
            continue;
        }
        match almost(path.points) {
            Ok((part, gap)) => found.list.push(Contour {
                gap: Some(gap),
                ..closed(part, path.order, stroke)
            }),
            Err(points) => found.loose.push((points, stroke.line)),
        }
    }
    found.list.sort_by_key(|contour| contour.order);
    if found.list.len() + found.loose.len() > MOST_CONTOURS {
        return Err(Refused::new(
            format!("The program has more than the {MOST_CONTOURS} contours that are looked at."),
            "Give the program of one plate.",
        ));
    }
    found.repeated = drop_repeated(&mut found.list);
    Ok(found)
}

fn closed(part: Loop, order: usize, stroke: &Stroke) -> Contour {
    Contour {
        area: area(&part.ring),
        length: around(&part.ring),
        gap: None,
        leads: part.leads,
        ring: part.ring,
        order,
        line: stroke.line,
        compensated: stroke.compensated,
    }
}

/// Sag at which the points stay within bounds.
fn sag(strokes: &[Stroke]) -> f64 {
    let mut sag = SAG;
    let count = |sag: f64| -> usize {
        let pieces = strokes.iter().flat_map(|stroke| &stroke.pieces);
        pieces.map(|piece| piece.parts(sag)).sum()
    };
    while count(sag) > MOST_POINTS && sag < 1e3 {
        sag *= 4.0;
    }
    sag
}

fn points(pieces: &[Piece], sag: f64) -> Vec<Place> {
    let mut points: Vec<Place> = pieces.first().map(Piece::from).into_iter().collect();
    for piece in pieces {
        piece.flatten(sag, &mut points);
    }
    // Steps too small to have a direction say nothing.
    points.dedup_by(|a, b| (*a - *b).norm() < 1e-6);
    points
}

/// A path that does not come back to itself: where its end comes nearest to its beginning, if it goes
/// round something at all; the points again otherwise.
fn almost(points: Vec<Place>) -> Result<(Loop, f64), Vec<Place>> {
    let (Some(&first), Some(&last)) = (points.first(), points.last()) else {
        return Err(points);
    };
    let mut along = 0.0;
    let total: f64 = points.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
    let mut best = (0, (last - first).norm());
    for (k, pair) in points.windows(2).enumerate() {
        along += (pair[1] - pair[0]).norm();
        if along > total / 2.0 {
            break;
        }
        let gap = (last - pair[1]).norm();
        if gap < best.1 {
            best = (k + 1, gap);
        }
    }
    let (start, gap) = best;
    let ring: Vec<Place> = points.iter().skip(start).copied().collect();
    let length = around(&ring);
    // Thinner than this it is a line there and back; with half of it missing nothing can be told.
    if area(&ring).abs() < 0.002 * length * length || gap > 0.4 * length {
        return Err(points);
    }
    let lead: Vec<Place> = points.iter().take(start + 1).copied().collect();
    let leads = if lead.len() > 1 {
        vec![lead]
    } else {
        Vec::new()
    };
    Ok((Loop { ring, leads }, gap))
}

/// Takes out contours that are cut again where one was cut before; says how many.
fn drop_repeated(list: &mut Vec<Contour>) -> usize {
    let before = list.len();
    let key = |contour: &Contour| {
        let (low, high) = extent(&contour.ring)?;
        Some([low.x, low.y, high.x, high.y, contour.length])
    };
    let mut seen: std::collections::BTreeMap<i64, Vec<[f64; 5]>> =
        std::collections::BTreeMap::new();
    list.retain(|contour| {
        let Some(key) = key(contour) else {
            return false;
        };
        let row = (key[0] / SAME).floor() as i64;
        let alike = |other: &[f64; 5]| other.iter().zip(&key).all(|(a, b)| (a - b).abs() < SAME);
        let again = (row - 1..=row + 1)
            .filter_map(|row| seen.get(&row))
            .flatten()
            .any(alike);
        if !again {
            seen.entry(row).or_default().push(key);
        }
        !again
    });
    before - list.len()
}
