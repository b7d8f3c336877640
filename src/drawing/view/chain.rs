//! Short lines that follow one another joined to long ones, doubles left out.

use std::collections::{BTreeMap, BTreeSet};

use super::Stroke;
use crate::drawing::scene::Place;

type Cell = (i64, i64);

/// Lines whose ends lie within `reach` of each other are joined; those shorter than it are dropped.
pub(super) fn chains(lines: &[[Place; 2]], reach: f64) -> Vec<Stroke> {
    let cell = |p: &Place| -> Cell { ((p.x / reach).round() as i64, (p.y / reach).round() as i64) };
    let mut done: BTreeSet<(Cell, Cell)> = BTreeSet::new();
    let mut kept: Vec<[Place; 2]> = Vec::new();
    let mut at: BTreeMap<Cell, Vec<usize>> = BTreeMap::new();
    for [a, b] in lines {
        let (p, q) = (cell(a), cell(b));
        if p == q || !done.insert((p.min(q), p.max(q))) {
            continue;
        }
        let k = kept.len();
        kept.push([*a, *b]);
        at.entry(p).or_default().push(k);
        at.entry(q).or_default().push(k);
    }
    let mut used = vec![false; kept.len()];
    let mut strokes = Vec::new();
    // Where two lines meet they are one; where three or more meet each ends.
    let next = |used: &[bool], here: Cell| -> Option<usize> {
        let there = at.get(&here)?;
        match there.len() {
            2 => there.iter().copied().find(|&k| used.get(k) == Some(&false)),
            _ => None,
        }
    };
    for first in 0..kept.len() {
        if used.get(first) != Some(&false) {
            continue;
        }
        let Some([a, b]) = kept.get(first).copied() else {
            continue;
        };
        used[first] = true;
        let mut stroke = vec![a, b];
        for forward in [true, false] {
            loop {
                let end = match forward {
                    true => stroke.last(),
                    false => stroke.first(),
                };
                let Some(here) = end.map(cell) else { break };
                let Some(k) = next(&used, here) else { break };
                used[k] = true;
                let [p, q] = kept[k];
                let far = if cell(&p) == here { q } else { p };
                match forward {
                    true => stroke.push(far),
                    false => stroke.insert(0, far),
                }
            }
        }
        strokes.push(straightened(stroke, reach / 2.0));
    }
    strokes
}

/// Points that lie on the line between their neighbours left out.
fn straightened(stroke: Stroke, within: f64) -> Stroke {
    let mut kept: Stroke = Vec::with_capacity(stroke.len());
    let mut skipped: Vec<Place> = Vec::new();
    for p in stroke {
        if let [.., a, b] = kept.as_slice() {
            let chord = p - a;
            let length = chord.norm();
            skipped.push(*b);
            let near = |q: &Place| length > 0.0 && (chord.perp(&(q - a)) / length).abs() < within;
            let ahead = (b - a).dot(&chord) > 0.0;
            if ahead && skipped.iter().all(near) {
                kept.pop();
            } else {
                skipped.clear();
            }
        }
        kept.push(p);
    }
    kept
}
