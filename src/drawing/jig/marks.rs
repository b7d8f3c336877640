//! What is scribed and written on a jig.

use nalgebra::Vector2;

use super::Asked;
use super::region::{Region, holds, inside};
use super::split::Section;
use super::way::{Way, left_of};
use crate::drawing::font::Face;
use crate::drawing::scene::{Anchor, Place, Text};
use crate::drawing::words::{self, counted};
use crate::measure::Show;
use crate::report::{ReportedPart, what};

/// A straight mark across the rails on both sides of the pocket.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it says.
    pub words: String,
    /// A point on it, between the rails.
    pub at: Place,
    /// Unit direction, to the left of the way.
    pub along: Vector2<f64>,
    /// Where on the way, mm.
    pub station: f64,
    /// From where to where it runs along its direction.
    pub runs: [(f64, f64); 2],
}

/// All marks: the cuts of both ends, holes, joints.
pub fn all(way: &Way, whole: &[Region], asked: &Asked) -> Vec<Mark> {
    let mut marks = Vec::new();
    for cut in &way.cuts {
        let lean = match cut.lean.abs() < 0.05 {
            true => String::new(),
            false => format!(
                ", leans {} out of the plane: its line at half height",
                words::angle(crate::measure::quantity(cut.lean.abs(), 0.0))
            ),
        };
        marks.extend(mark(
            way,
            whole,
            format!("{}{lean}", cut.name),
            (cut.at, cut.along, cut.station),
        ));
    }
    let joints = asked.joints.iter().map(|s| (*s, "joint".to_owned()));
    for (station, name) in way.holes.iter().cloned().chain(joints) {
        let (at, heading) = way.at(station);
        let words = format!("{name} at {}", words::plain_length(station, asked.show));
        marks.extend(mark(way, whole, words, (at, left_of(heading), station)));
    }
    marks
}

/// The mark with the stretches of it that lie on the rails beside the pocket.
fn mark(
    way: &Way,
    whole: &[Region],
    words: String,
    (at, along, station): (Place, Vector2<f64>, f64),
) -> Option<Mark> {
    let heading = way.at(station).1;
    let along = match along.dot(&left_of(heading)) < 0.0 {
        true => -along,
        false => along,
    };
    let all: Vec<(f64, f64)> = whole.iter().flat_map(|r| inside(r, at, along)).collect();
    let right = all
        .iter()
        .filter(|r| r.1 < 0.0)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let left = all
        .iter()
        .filter(|r| r.0 > 0.0)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    Some(Mark {
        words,
        at,
        along,
        station,
        runs: [*right?, *left?],
    })
}

/// The stretches of a mark on a piece of metal.
pub fn on(mark: &Mark, region: &Region) -> Vec<(Place, Place)> {
    let point = |t: f64| mark.at + mark.along * t;
    inside(region, mark.at, mark.along)
        .into_iter()
        .filter_map(|(a, b)| {
            let run = mark.runs.iter().find(|run| a < run.1 && b > run.0)?;
            Some((point(a.max(run.0)), point(b.min(run.1))))
        })
        .collect()
}

/// Straight distance between the marks of the first cuts of both ends, where they meet the left edge
/// of the pocket, which is the one the piece rises to.
pub fn between_cuts(way: &Way, whole: &[Region]) -> Option<f64> {
    let edge = |first: bool| {
        let station = if first { 0.0 } else { way.length() };
        let cut = way.cuts.iter().find(|c| c.station == station)?;
        let found = mark(way, whole, String::new(), (cut.at, cut.along, station))?;
        Some(found.at + found.along * found.runs[1].0)
    };
    Some((edge(true)? - edge(false)?).norm())
}

/// Letters, mm: the largest that fit are taken.
const LETTERS: [f64; 9] = [6.0, 5.0, 4.5, 4.0, 3.5, 3.0, 2.5, 2.0, 1.5];

/// The words on one piece: what it is and what it checks, and the names of its marks.
pub fn words(
    part: &ReportedPart,
    way: &Way,
    section: &Section,
    marks: &[Mark],
    (n, of): (usize, usize),
    asked: &Asked,
) -> Vec<Text> {
    let mut texts = Vec::new();
    for mark in marks {
        texts.extend(name(mark, section));
    }
    let lines = lines(part, way, (n, of), asked);
    texts.extend(block(way, section, marks, &lines, asked));
    texts
}

/// The name of a mark, beside it on the left rail.
fn name(mark: &Mark, section: &Section) -> Option<Text> {
    let (from, to) = mark.runs[1];
    let room = to - from - 3.0;
    let middle = mark.at + mark.along * ((from + to) / 2.0);
    let mine = section.regions.iter().any(|r| holds(r, middle));
    let turn = mark.along.y.atan2(mark.along.x);
    // Read from below or from the right.
    let (turn, side) = match mark.along.x < -1e-9 {
        true => (turn + std::f64::consts::PI, -1.0),
        false => (turn, 1.0),
    };
    let letters = LETTERS.iter().map(|h| {
        let text = Text::plain(middle, *h, mark.words.clone());
        Text {
            at: middle + Vector2::new(-mark.along.y, mark.along.x) * (side * 0.5 * h),
            ..text
        }
        .anchored(Anchor::Middle)
        .turned(turn.to_degrees())
    });
    let fits = letters.clone().find(|t| t.width() <= room);
    let text = fits.or_else(|| letters.clone().next_back())?;
    mine.then_some(text)
}

fn lines(part: &ReportedPart, way: &Way, (n, of): (usize, usize), asked: &Asked) -> Vec<String> {
    let show = asked.show;
    let with_doubt = |q| format!("{} {}", words::length(q, show), words::plus_minus(q, show));
    let piece = match of {
        1 => String::new(),
        _ => format!(", piece {n} of {of}"),
    };
    let mut path = format!(
        "on the {}: chord {}, rise {}",
        way.line,
        with_doubt(way.chord),
        with_doubt(way.rise)
    );
    if let Some(radius) = way.radius {
        path = format!("{path}, R {}", with_doubt(radius));
    }
    let own = way.sides.1 - way.sides.0;
    vec![
        format!("{} check jig{piece}: {}", part.mark, what(part, show)),
        format!("{path}; {}", unit(show)),
        format!(
            "pocket {} = {} + 2 x {}; {} to check",
            words::plain_length(own + 2.0 * asked.clearance, show),
            words::plain_length(own, show),
            words::plain_length(asked.clearance, show),
            counted((part.quantity + part.opposite_hand) as usize, "piece")
        ),
    ]
}

fn unit(show: Show) -> String {
    format!("lengths in {}", words::unit_name(show))
}

/// The lines on the left rail, away from marks and joints, as large as the rail allows.
fn block(
    way: &Way,
    section: &Section,
    marks: &[Mark],
    lines: &[String],
    asked: &Asked,
) -> Vec<Text> {
    let (from, to) = section.stations;
    let by = way.sides.1 + asked.clearance + asked.width / 2.0;
    let stations: Vec<f64> = (1..40)
        .map(|k| from + (to - from) * f64::from(k) / 40.0)
        .collect();
    // A slanting mark crosses the rail elsewhere than at its own station.
    let crossings: Vec<f64> = marks
        .iter()
        .map(|mark| {
            let p = mark.at + mark.along * ((mark.runs[1].0 + mark.runs[1].1) / 2.0);
            let off = |s: f64| (way.beside(s, by) - p).norm_squared();
            let ends = [from, to];
            let all = stations.iter().chain(&ends).copied();
            all.min_by(|a, b| off(*a).total_cmp(&off(*b)))
                .unwrap_or(from)
        })
        .collect();
    let clear = |s: f64| {
        let gaps = crossings.iter().map(|m| (m - s).abs());
        gaps.chain([s - from, to - s]).fold(f64::INFINITY, f64::min)
    };
    let best = stations.iter().copied();
    let Some(station) = best.max_by(|a, b| clear(*a).total_cmp(&clear(*b))) else {
        return Vec::new();
    };
    let (_, heading) = way.at(station);
    let middle = way.beside(station, by);
    let along = Vector2::new(heading.cos(), heading.sin());
    let (along, up) = match along.x < -1e-9 {
        true => (-along, -left_of(heading)),
        false => (along, left_of(heading)),
    };
    let radius = match way.curvature(station) {
        0.0 => f64::INFINITY,
        k => (1.0 / k - by).abs(),
    };
    // Arc length of the rail that is free of marks, at its own radius.
    let stretch = (1.0 - way.curvature(station) * by).abs();
    let room = 2.0 * clear(station) * stretch - asked.width * 0.7;
    for height in LETTERS {
        let wide = lines
            .iter()
            .map(|l| crate::drawing::font::width(l, Face::Plain, height))
            .fold(0.0, f64::max);
        let sag = wide * wide / (8.0 * radius);
        let tall = lines.len() as f64 * height * 1.7 + sag;
        if (wide > room || tall > asked.width - 3.0) && height > LETTERS[LETTERS.len() - 1] {
            continue;
        }
        // The ends of straight lines stand farther out than their middles.
        let inwards = left_of(heading) * (way.curvature(station).signum() * sag / 2.0);
        let middle = middle + if sag > 0.0 { inwards } else { Vector2::zeros() };
        return lines
            .iter()
            .enumerate()
            .map(|(k, line)| {
                let row = (lines.len() as f64 - 1.0) / 2.0 - k as f64;
                let at = middle + up * (row * height * 1.7 - height / 2.0);
                Text::plain(at, height, line.clone())
                    .anchored(Anchor::Middle)
                    .turned(along.y.atan2(along.x).to_degrees())
            })
            .collect();
    }
    Vec::new()
}
