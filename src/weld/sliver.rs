//! Facets without area that bridge a vertex standing on a neighbour's edge.

use super::coincident::{self, height};
use super::{Mesh, NONE};

/// Heights up to this many quanta are what rounding makes of a vertex on an edge.
const FLAT_QUANTA: f64 = 4.0;

/// Takes facets without area out of the mesh and keeps it closed; returns how many.
///
/// A facet whose apex n stands on its longest edge a–b goes together with n where n serves only
/// to split one neighbour (three facets meet at n): those three become one. Otherwise the edge is
/// turned: the facet across a–b is cut at n instead.
pub fn repair(mesh: &mut Mesh) -> usize {
    let flat = FLAT_QUANTA * mesh.quantum;
    let mut queue: Vec<u32> = (0..mesh.facets.len() as u32)
        .filter(|&f| is_flat(mesh, f, flat))
        .collect();
    if queue.is_empty() {
        return 0;
    }
    let mut gone = vec![false; mesh.facets.len()];
    let mut count = 0;
    // Turning an edge may make the neighbour the flat one: go on, but not for ever.
    for _ in 0..8 {
        let mut again = Vec::new();
        for f in queue {
            if gone[f as usize] || !is_flat(mesh, f, flat) {
                continue;
            }
            if remove_apex(mesh, f, flat, &mut gone) {
                count += 1;
            } else if let Some(other) = turn_edge(mesh, f, flat) {
                count += 1;
                again.extend([f, other]);
            }
        }
        queue = again;
        if queue.is_empty() {
            break;
        }
    }
    drop_gone(mesh, &gone);
    count
}

fn is_flat(mesh: &Mesh, f: u32, flat: f64) -> bool {
    coincident::is_flat(&mesh.vertices, mesh.facets[f as usize], flat)
}

/// The facet's longest edge, if its apex stands on it clear of both ends.
fn cap_edge(mesh: &Mesh, f: u32, flat: f64) -> Option<usize> {
    let p = mesh.facets[f as usize].map(|v| mesh.vertices[v as usize]);
    let length = |k: usize| (p[(k + 1) % 3] - p[k]).norm();
    let k = (0..3).max_by(|&i, &j| length(i).total_cmp(&length(j)))?;
    (length((k + 1) % 3) > flat && length((k + 2) % 3) > flat).then_some(k)
}

/// Which edge of `g` borders on `f`.
fn edge_towards(mesh: &Mesh, g: u32, a: u32, b: u32) -> Option<usize> {
    let t = mesh.facets[g as usize];
    (0..3).find(|&k| t[k] == a && t[(k + 1) % 3] == b)
}

/// Replaces the pointer of `g` across its edge a→b.
fn repoint(mesh: &mut Mesh, g: u32, a: u32, b: u32, to: u32) {
    if g != NONE
        && let Some(k) = edge_towards(mesh, g, a, b)
    {
        mesh.neighbours[g as usize][k] = to;
    }
}

/// (a,b,n), (n,b,c) and (a,n,c) become (a,b,c). True when done.
fn remove_apex(mesh: &mut Mesh, f: u32, flat: f64, gone: &mut [bool]) -> bool {
    let Some(k) = cap_edge(mesh, f, flat) else {
        return false;
    };
    let t = mesh.facets[f as usize];
    let (a, b, n) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
    let across = mesh.neighbours[f as usize];
    let (right, left) = (across[(k + 1) % 3], across[(k + 2) % 3]);
    if right == NONE || left == NONE || right == left {
        return false;
    }
    // right = (n, b, c), left = (a, n, c).
    let (Some(r), Some(l)) = (
        edge_towards(mesh, right, n, b),
        edge_towards(mesh, left, a, n),
    ) else {
        return false;
    };
    let c = mesh.facets[right as usize][(r + 2) % 3];
    let same_apex = mesh.facets[left as usize][(l + 2) % 3] == c;
    let meet = mesh.neighbours[right as usize][(r + 2) % 3] == left;
    let base = across[k];
    let folded = base != NONE && mesh.facets[base as usize].contains(&c);
    if !same_apex || !meet || c == a || c == b || folded {
        return false;
    }
    let beyond_right = mesh.neighbours[right as usize][(r + 1) % 3];
    let beyond_left = mesh.neighbours[left as usize][(l + 2) % 3];
    mesh.facets[f as usize] = [a, b, c];
    mesh.neighbours[f as usize] = [base, beyond_right, beyond_left];
    repoint(mesh, beyond_right, c, b, f);
    repoint(mesh, beyond_left, a, c, f);
    mesh.group[f as usize] = mesh.group[right as usize];
    gone[right as usize] = true;
    gone[left as usize] = true;
    true
}

/// (a,b,n) and (b,a,d) become (a,d,n) and (d,b,n). The other facet when done.
fn turn_edge(mesh: &mut Mesh, f: u32, flat: f64) -> Option<u32> {
    let k = cap_edge(mesh, f, flat)?;
    let t = mesh.facets[f as usize];
    let (a, b, n) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
    let g = mesh.neighbours[f as usize][k];
    if g == NONE {
        return None;
    }
    let m = edge_towards(mesh, g, b, a)?;
    let d = mesh.facets[g as usize][(m + 2) % 3];
    let (one, two) = ([a, d, n], [d, b, n]);
    if d == n || joined(mesh, f, n, d) {
        return None;
    }
    let before = height(&mesh.vertices, mesh.facets[g as usize]).min(flat);
    if height(&mesh.vertices, one).min(height(&mesh.vertices, two)) < before {
        return None;
    }
    let (across_f, across_g) = (mesh.neighbours[f as usize], mesh.neighbours[g as usize]);
    let (beyond_bn, beyond_na) = (across_f[(k + 1) % 3], across_f[(k + 2) % 3]);
    let (beyond_ad, beyond_db) = (across_g[(m + 1) % 3], across_g[(m + 2) % 3]);
    mesh.facets[f as usize] = one;
    mesh.neighbours[f as usize] = [beyond_ad, g, beyond_na];
    mesh.facets[g as usize] = two;
    mesh.neighbours[g as usize] = [beyond_db, beyond_bn, f];
    repoint(mesh, beyond_ad, d, a, f);
    repoint(mesh, beyond_bn, n, b, g);
    mesh.group[f as usize] = mesh.group[g as usize];
    Some(g)
}

/// True when an edge already joins n and d, going round n from facet `f`.
fn joined(mesh: &Mesh, f: u32, n: u32, d: u32) -> bool {
    [1, 2].into_iter().any(|way| {
        let mut here = f;
        for _ in 0..1000 {
            let t = mesh.facets[here as usize];
            if t.contains(&d) {
                return true;
            }
            let Some(k) = t.iter().position(|&v| v == n) else {
                return true;
            };
            // Leave by the edge that begins (way 1) or ends (way 2) at n.
            here = mesh.neighbours[here as usize][if way == 1 { k } else { (k + 2) % 3 }];
            if here == NONE || here == f {
                return false;
            }
        }
        true
    })
}

/// Drops the facets that were taken out and renumbers the neighbours.
fn drop_gone(mesh: &mut Mesh, gone: &[bool]) {
    if !gone.iter().any(|g| *g) {
        return;
    }
    let mut number = vec![NONE; gone.len()];
    let mut to = 0;
    for from in 0..gone.len() {
        if !gone[from] {
            mesh.facets[to] = mesh.facets[from];
            mesh.neighbours[to] = mesh.neighbours[from];
            mesh.group[to] = mesh.group[from];
            number[from] = to as u32;
            to += 1;
        }
    }
    mesh.facets.truncate(to);
    mesh.neighbours.truncate(to);
    mesh.group.truncate(to);
    for n in mesh.neighbours.iter_mut().flatten().filter(|n| **n != NONE) {
        *n = number[*n as usize];
    }
}
