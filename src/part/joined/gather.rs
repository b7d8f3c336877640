//! Components put together to the pieces they are parts of.

use nalgebra::Point2;

use super::seams::{Component, Seam, at, normal};
use crate::body::Body;
use crate::geometry::polygon::{contains, signed_area};
use crate::geometry::union_find::UnionFind;
use crate::geometry::{Vec3, perpendicular_pair};
use crate::surface::Patches;

/// Piece of each component, numbered in the order of their first component.
///
/// A component that lies wholly in a face of another is part of that face, cut off by what stands
/// between: the disc inside a tube that stands on a plate. A skin that ends on the same faces as
/// another that goes round it is the inside of the same tube. What is left without anything standing
/// on a face of another is a floor, of a blind hole say, and goes with the walls round it.
pub fn pieces(body: &Body, patches: &Patches, list: &[Component], of_facet: &[u32]) -> Vec<u32> {
    let mut sets = UnionFind::new(list.len());
    let mut face: Vec<u32> = (0..patches.list.len() as u32).collect();
    for (c, component) in list.iter().enumerate() {
        if let Some(p) = lies_in(body, patches, list, c as u32, of_facet) {
            sets.join(c as u32, component_of(patches, of_facet, p));
            for &own in &component.patches {
                face[own as usize] = p;
            }
        }
    }
    join_skins(body, list, &face, &mut sets);
    for (c, component) in list.iter().enumerate() {
        let alone =
            (0..list.len() as u32).all(|o| o == c as u32 || sets.root(o) != sets.root(c as u32));
        let floor = component.patches.len() == 1 && component.seams.iter().all(|s| !s.stands());
        if let (true, true, Some(e)) = (
            alone,
            floor,
            component.seams.first().and_then(|s| s.ring.first()),
        ) {
            sets.join(c as u32, of_facet[e.across(body) as usize]);
        }
    }
    numbered(&mut sets, list.len())
}

/// Joins the inside of each tube, a skin whose every seam is the rim of a hole, to the skin that goes
/// round it on the same faces; `face` is the face that each number across a seam belongs to.
pub fn join_skins(body: &Body, list: &[Component], face: &[u32], sets: &mut UnionFind) {
    let faces = |s: &Seam| -> Vec<u32> {
        let mut out: Vec<u32> = s.across.iter().map(|&p| face[p as usize]).collect();
        out.sort_unstable();
        out.dedup();
        out
    };
    for (i, inner) in list.iter().enumerate() {
        let skin =
            !inner.seams.is_empty() && inner.seams.iter().all(|s| s.stands() && !s.is_outer());
        if !skin {
            continue;
        }
        let around = (0..list.len()).filter(|&o| o != i).filter_map(|o| {
            let mut size = 0.0;
            for s in &inner.seams {
                let own = faces(s);
                size += list[o]
                    .seams
                    .iter()
                    .filter(|t| {
                        t.stands()
                            && t.is_outer()
                            && t.normal.dot(&s.normal) > 0.0
                            && faces(t) == own
                    })
                    .find_map(|t| goes_round(body, t, s))?;
            }
            Some((size, o))
        });
        if let Some((_, o)) = around.min_by(|a, b| a.0.total_cmp(&b.0)) {
            sets.join(i as u32, o as u32);
        }
    }
}

/// Number of the set of each component, in the order of their first ones.
pub fn numbered(sets: &mut UnionFind, n: usize) -> Vec<u32> {
    let mut number = vec![u32::MAX; n];
    let mut count = 0;
    (0..n as u32)
        .map(|c| {
            let root = sets.root(c) as usize;
            if number[root] == u32::MAX {
                number[root] = count;
                count += 1;
            }
            number[root]
        })
        .collect()
}

fn component_of(patches: &Patches, of_facet: &[u32], patch: u32) -> u32 {
    patches.list[patch as usize]
        .facets
        .first()
        .map_or(0, |&f| of_facet[f as usize])
}

/// The largest patch of a larger component whose surface the whole of component `c` lies in.
fn lies_in(
    body: &Body,
    patches: &Patches,
    list: &[Component],
    c: u32,
    of_facet: &[u32],
) -> Option<u32> {
    let own = &list[c as usize];
    if own.seams.is_empty() || own.seams.iter().any(Seam::stands) {
        return None;
    }
    // patches come largest first
    (0..patches.list.len() as u32).find(|&p| {
        let other = component_of(patches, of_facet, p);
        let surface = &patches.list[p as usize].surface;
        other != c
            && list[other as usize].area > own.area
            && own.facets.iter().all(|&f| {
                let n = normal(body, f);
                body.facets[f as usize].iter().all(|&v| {
                    at(surface, &body.vertices[v as usize]).is_some_and(|(d, m)| {
                        d.abs() <= patches.tolerance && (n.dot(&m) > 0.5 || n == Vec3::zeros())
                    })
                })
            })
    })
}

/// The area inside `outer`, seen along it, when all of `inner` is in there.
fn goes_round(body: &Body, outer: &Seam, inner: &Seam) -> Option<f64> {
    let (u, v) = perpendicular_pair(&outer.newell.try_normalize(0.0)?);
    let flat = |s: &Seam| -> Vec<Point2<f64>> {
        s.ring
            .iter()
            .map(|e| body.vertices[e.start(body) as usize])
            .map(|p| Point2::new(p.coords.dot(&u), p.coords.dot(&v)))
            .collect()
    };
    let polygon = flat(outer);
    flat(inner)
        .iter()
        .all(|p| contains(&polygon, p))
        .then(|| signed_area(&polygon).abs())
}
