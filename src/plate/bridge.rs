//! Bends that an opening parts in two, made one again.

use std::collections::BTreeMap;

use crate::surface::{Border, EdgeKind, Patch, Patches, Surface};

/// The patches with the two or more ends of every parted bend as one patch; `None` where there is no
/// such bend. What was drawn into another patch stays behind without a facet.
pub(super) fn bridged(patches: &Patches) -> Option<Patches> {
    let mut into: Vec<usize> = (0..patches.list.len()).collect();
    let beside: Vec<Vec<u32>> = patches.list.iter().map(|p| flats(patches, p)).collect();
    let mut round: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (i, flats) in beside.iter().enumerate().filter(|(_, f)| f.len() >= 2) {
        for &f in flats {
            round.entry(f).or_default().push(i);
        }
    }
    for i in 0..patches.list.len() {
        if into[i] != i || beside[i].len() < 2 {
            continue;
        }
        // whatever shares two flats is met on either, so the one with fewer bends on it will do
        let mut rest: Vec<&Vec<usize>> = beside[i].iter().filter_map(|f| round.get(f)).collect();
        rest.sort_by_key(|on| on.len());
        rest.pop();
        let mut others: Vec<usize> = rest.into_iter().flatten().copied().collect();
        others.sort_unstable();
        others.dedup();
        for j in others.into_iter().filter(|&j| j > i) {
            if into[j] == j && shared(&beside[i], &beside[j]) == 2 && one_bend(patches, i, j) {
                into[j] = i;
            }
        }
    }
    if into.iter().enumerate().all(|(i, &to)| i == to) {
        return None;
    }
    let mut out = patches.clone();
    for (j, &i) in into.iter().enumerate() {
        if i != j {
            let gone = std::mem::replace(&mut out.list[j], nothing());
            draw_in(&mut out.list[i], gone);
        }
    }
    for of in &mut out.of_facet {
        if let Some(&to) = into.get(*of as usize) {
            *of = to as u32;
        }
    }
    for (k, patch) in out.list.iter_mut().enumerate() {
        patch.borders = redirected(&patch.borders, &into, k);
    }
    Some(out)
}

/// Planes a cylinder runs into without an edge, ascending.
fn flats(patches: &Patches, patch: &Patch) -> Vec<u32> {
    if !matches!(patch.surface, Surface::Cylinder { .. }) {
        return Vec::new();
    }
    let smooth = patch.borders.iter().filter(|b| b.kind == EdgeKind::Smooth);
    let mut all: Vec<u32> = smooth
        .map(|b| b.patch)
        .filter(|f| patches.list[*f as usize].plane().is_some())
        .collect();
    all.sort_unstable();
    all
}

/// How many flats are in both lists.
fn shared(a: &[u32], b: &[u32]) -> usize {
    a.iter().filter(|f| b.contains(f)).count()
}

/// True for two pieces of one cylinder.
fn one_bend(patches: &Patches, i: usize, j: usize) -> bool {
    let (a, b) = (&patches.list[i], &patches.list[j]);
    let (
        Surface::Cylinder {
            point: p,
            axis: u,
            radius: r,
            convex: c,
        },
        Surface::Cylinder {
            point: q,
            axis: v,
            radius: s,
            convex: d,
        },
    ) = (a.surface, b.surface)
    else {
        return false;
    };
    let slack = 8.0 * patches.tolerance + a.plus_minus + b.plus_minus;
    c == d
        && u.cross(&v).norm() < 0.01
        && (r - s).abs() <= slack.max(0.01 * r)
        && (q - p).cross(&u).norm() <= slack.max(0.01 * r)
}

fn nothing() -> Patch {
    Patch {
        surface: Surface::Unknown,
        facets: Vec::new(),
        area: 0.0,
        loops: Vec::new(),
        borders: Vec::new(),
        rms: 0.0,
        largest: 0.0,
        plus_minus: 0.0,
    }
}

/// Takes the facets of another piece of the same surface in.
fn draw_in(patch: &mut Patch, other: Patch) {
    patch.facets.extend(other.facets);
    patch.facets.sort_unstable();
    patch.area += other.area;
    patch.loops.extend(other.loops);
    patch.borders.extend(other.borders);
    patch.rms = patch.rms.max(other.rms);
    patch.largest = patch.largest.max(other.largest);
}

/// Borders with the neighbours' new numbers, those of one neighbour added up.
fn redirected(borders: &[Border], into: &[usize], own: usize) -> Vec<Border> {
    let mut out: Vec<Border> = Vec::new();
    for border in borders {
        let patch = into[border.patch as usize] as u32;
        if patch as usize == own {
            continue;
        }
        match out.iter_mut().find(|b| b.patch == patch) {
            Some(known) => {
                if border.length > known.length {
                    known.kind = border.kind;
                }
                known.length += border.length;
            }
            None => out.push(Border { patch, ..*border }),
        }
    }
    out
}
