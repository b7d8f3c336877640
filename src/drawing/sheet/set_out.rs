//! Where the pieces of a model stand, from one datum and from one another.

use crate::body::Body;
use crate::drawing::table::Table;
use crate::drawing::words;
use crate::geometry::Pt3;
use crate::measure::Show;
use crate::report::{Report, ReportedPart};

/// Where each body reaches from and to, from the lowest corner of all.
pub fn places(report: &Report, bodies: &[Body], show: Show) -> Table {
    let datum = datum(bodies);
    let rows = by_body(report).into_iter().filter_map(|(marks, index)| {
        let (low, high) = box_of(bodies.get(index as usize)?);
        let span = |k: usize| {
            let [from, to] = [low, high].map(|p| words::tape(p[k] - datum[k], show));
            format!("{from} to {to}")
        };
        Some(vec![
            marks.join(", "),
            index.to_string(),
            span(0),
            span(1),
            span(2),
        ])
    });
    Table {
        headings: ["mark ", "body ", "x", "y", "z"].map(String::from).to_vec(),
        rows: rows.collect(),
    }
}

/// Bodies in the order of their parts, with the marks of all parts that are joined in them.
fn by_body(report: &Report) -> Vec<(Vec<&str>, u32)> {
    let mut list: Vec<(Vec<&str>, u32)> = Vec::new();
    for part in &report.parts {
        for &index in &part.bodies {
            match list.iter_mut().find(|entry| entry.1 == index) {
                Some((marks, _)) => marks.push(&part.mark),
                None => list.push((vec![&part.mark], index)),
            }
        }
    }
    for (marks, _) in &mut list {
        marks.dedup();
    }
    list
}

/// Steps from one to the next of pieces that are alike, in their order along the longest side of
/// the row they stand in.
pub fn spacings(report: &Report, bodies: &[Body], show: Show) -> Table {
    let bodies_of = by_body(report);
    let alone = |index: &u32| bodies_of.iter().any(|b| b.1 == *index && b.0.len() == 1);
    let rows = report
        .parts
        .iter()
        // The box of a body that is joined says nothing of one of its parts.
        .filter(|part| several(&part.bodies) && part.bodies.iter().all(alone))
        .flat_map(|part| steps(part, bodies, show))
        .collect();
    Table {
        headings: [
            "mark ",
            "from body ",
            "to body ",
            "along x",
            "along y",
            "along z",
        ]
        .map(String::from)
        .to_vec(),
        rows,
    }
}

/// True for more than one body, none of them named twice.
fn several(bodies: &[u32]) -> bool {
    let different: std::collections::BTreeSet<&u32> = bodies.iter().collect();
    different.len() > 1 && different.len() == bodies.len()
}

fn steps(part: &ReportedPart, bodies: &[Body], show: Show) -> Vec<Vec<String>> {
    let mut places: Vec<(u32, Pt3)> = part
        .bodies
        .iter()
        .filter_map(|&index| {
            let (low, high) = box_of(bodies.get(index as usize)?);
            let middle = nalgebra::center(&low, &high);
            middle
                .iter()
                .all(|v| v.is_finite())
                .then_some((index, middle))
        })
        .collect();
    let reach = |k: usize| {
        let along = places.iter().map(|p| p.1[k]);
        along.clone().fold(f64::NEG_INFINITY, f64::max) - along.fold(f64::INFINITY, f64::min)
    };
    let longest = (0..3).max_by(|&a, &b| reach(a).total_cmp(&reach(b)).then(b.cmp(&a)));
    let axis = longest.unwrap_or(0);
    places.sort_by(|a, b| a.1[axis].total_cmp(&b.1[axis]).then(a.0.cmp(&b.0)));
    places
        .windows(2)
        .filter_map(|pair| {
            let [(from, a), (to, b)] = pair else {
                return None;
            };
            let step = |k: usize| words::tape(b[k] - a[k], show);
            Some(vec![
                part.mark.clone(),
                from.to_string(),
                to.to_string(),
                step(0),
                step(1),
                step(2),
            ])
        })
        .collect()
}

/// The lowest corner of the box around all bodies.
fn datum(bodies: &[Body]) -> Pt3 {
    bodies
        .iter()
        .map(|b| box_of(b).0)
        .fold(Pt3::from([f64::INFINITY; 3]), |a, b| a.inf(&b))
}

fn box_of(body: &Body) -> (Pt3, Pt3) {
    let start = (
        Pt3::from([f64::INFINITY; 3]),
        Pt3::from([f64::NEG_INFINITY; 3]),
    );
    body.vertices
        .iter()
        .fold(start, |(low, high), v| (low.inf(v), high.sup(v)))
}
