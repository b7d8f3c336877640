//! Strokes whose ends meet, joined end to end.

use std::collections::BTreeMap;

use nalgebra::Vector2;

use super::contours::SAME;
use super::piece::Place;
use crate::geometry::union_find::UnionFind;

/// Strokes joined.
#[derive(Clone, Debug, PartialEq)]
pub struct Joined {
    /// Points in order.
    pub points: Vec<Place>,
    /// Lowest number of its strokes.
    pub order: usize,
    /// Strokes that end on it and go nowhere.
    pub leads: Vec<Vec<Place>>,
}

/// Strokes at one place that are looked at; more is a knot.
const MOST_MEETING: usize = 256;
/// Strokes of a chain that its free end is looked for in.
const LONGEST_CHAIN: usize = 5_000;

struct Edge {
    points: Vec<Place>,
    order: usize,
    nodes: [usize; 2],
    used: bool,
}

/// Joins open strokes given with their numbers. What goes round comes out closed (its last point on its
/// first), strokes that dangle from it as its leads; chains that do not close come out open.
pub fn join(open: Vec<(Vec<Place>, usize)>) -> Vec<Joined> {
    let mut edges = edges(open);
    let mut at: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (k, edge) in edges.iter().enumerate() {
        for node in edge.nodes {
            at.entry(node).or_default().push(k);
        }
    }
    let dangling = dangling(&edges, &at);
    let mut found = Vec::new();
    // Rings first, of what doesn't dangle.
    for k in 0..edges.len() {
        if edges[k].used || dangling[k] {
            continue;
        }
        found.push(walk(&mut edges, &at, k, &dangling, false));
    }
    let rings = found.len();
    let mut ends: BTreeMap<usize, usize> = BTreeMap::new();
    for (number, joined) in found.iter().take(rings).enumerate() {
        for point in &joined.1 {
            ends.insert(*point, number);
        }
    }
    // What dangles: a lead where it hangs on a ring, a chain of its own otherwise.
    for k in 0..edges.len() {
        if edges[k].used {
            continue;
        }
        let hangs = edges[k]
            .nodes
            .iter()
            .find_map(|node| ends.get(node).copied());
        match hangs.and_then(|ring| found.get_mut(ring)) {
            Some(ring) => {
                edges[k].used = true;
                let lead = std::mem::take(&mut edges[k].points);
                ring.0.leads.push(lead);
            }
            None => {
                let start = leaf_end(&edges, &at, k);
                found.push(walk(&mut edges, &at, start, &[], true));
            }
        }
    }
    found.into_iter().map(|(joined, _)| joined).collect()
}

/// Edges between nodes; ends nearer than the tolerance are one node.
fn edges(open: Vec<(Vec<Place>, usize)>) -> Vec<Edge> {
    let ends: Vec<Place> = open
        .iter()
        .flat_map(|(points, _)| [points.first(), points.last()])
        .map(|p| p.copied().unwrap_or_else(Place::origin))
        .collect();
    let cell = |p: Place| ((p.x / SAME).floor() as i64, (p.y / SAME).floor() as i64);
    let mut union = UnionFind::new(ends.len());
    // One end stands for its cell.
    let mut cells: BTreeMap<(i64, i64), u32> = BTreeMap::new();
    for (number, p) in (0u32..).zip(&ends) {
        let (x, y) = cell(*p);
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            if let Some(&other) = cells.get(&(x + dx, y + dy))
                && ends
                    .get(other as usize)
                    .is_some_and(|q| (p - q).norm() <= SAME)
            {
                union.join(number, other);
            }
        }
        cells.entry((x, y)).or_insert(number);
    }
    open.into_iter()
        .enumerate()
        .filter(|(_, (points, _))| points.len() > 1)
        .map(|(k, (points, order))| Edge {
            points,
            order,
            nodes: [2 * k, 2 * k + 1].map(|end| union.root(end as u32) as usize),
            used: false,
        })
        .collect()
}

/// Which edges lead nowhere: taken away from the free ends inwards until only rings are left.
fn dangling(edges: &[Edge], at: &BTreeMap<usize, Vec<usize>>) -> Vec<bool> {
    let mut gone = vec![false; edges.len()];
    let mut degree: BTreeMap<usize, usize> = at.iter().map(|(n, e)| (*n, e.len())).collect();
    let mut free: Vec<usize> = degree
        .iter()
        .filter(|(_, d)| **d == 1)
        .map(|(n, _)| *n)
        .collect();
    while let Some(node) = free.pop() {
        let Some(&edge) = at
            .get(&node)
            .and_then(|list| list.iter().find(|k| !gone[**k]))
        else {
            continue;
        };
        gone[edge] = true;
        for end in edges[edge].nodes {
            if let Some(d) = degree.get_mut(&end) {
                *d = d.saturating_sub(1);
                if *d == 1 {
                    free.push(end);
                }
            }
        }
    }
    gone
}

/// Goes on from edge `first` until it is back, or can't go on; straight on where there is a choice.
fn walk(
    edges: &mut [Edge],
    at: &BTreeMap<usize, Vec<usize>>,
    first: usize,
    barred: &[bool],
    from_free_end: bool,
) -> (Joined, Vec<usize>) {
    let alone = |node: usize| at.get(&node).is_some_and(|list| list.len() == 1);
    let turned = from_free_end && !alone(edges[first].nodes[0]) && alone(edges[first].nodes[1]);
    let mut joined = Joined {
        points: Vec::new(),
        order: edges[first].order,
        leads: Vec::new(),
    };
    let mut nodes = Vec::new();
    let (start, mut node) = append(&mut edges[first], turned, &mut joined);
    nodes.extend([start, node]);
    while node != start {
        let heading = direction(&joined.points);
        let meeting = at.get(&node).into_iter().flatten().copied();
        let next = meeting
            .take(MOST_MEETING)
            .filter(|k| !edges[*k].used && !barred.get(*k).copied().unwrap_or(false));
        let straightest = next
            .map(|k| {
                let turned = edges[k].nodes[0] != node;
                let mut ahead = [edges[k].points.first(), edges[k].points.get(1)];
                if turned {
                    ahead = [edges[k].points.last(), edges[k].points.iter().rev().nth(1)];
                }
                let step = match ahead {
                    [Some(a), Some(b)] => (b - a).try_normalize(0.0).unwrap_or_default(),
                    _ => Vector2::zeros(),
                };
                (heading.dot(&step), k, turned)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        let Some((_, k, turned)) = straightest else {
            break;
        };
        joined.order = joined.order.min(edges[k].order);
        node = append(&mut edges[k], turned, &mut joined).1;
        nodes.push(node);
    }
    (joined, nodes)
}

/// Adds an edge's points; its two nodes in the direction of the walk.
fn append(edge: &mut Edge, turned: bool, joined: &mut Joined) -> (usize, usize) {
    edge.used = true;
    let mut points = std::mem::take(&mut edge.points);
    if turned {
        points.reverse();
    }
    let skip = usize::from(!joined.points.is_empty());
    joined.points.extend(points.into_iter().skip(skip));
    match turned {
        false => (edge.nodes[0], edge.nodes[1]),
        true => (edge.nodes[1], edge.nodes[0]),
    }
}

fn direction(points: &[Place]) -> Vector2<f64> {
    match points {
        [.., a, b] => (b - a).try_normalize(0.0).unwrap_or_default(),
        _ => Vector2::zeros(),
    }
}

/// An unused edge with a free end on the chain of `from`, or `from` itself.
fn leaf_end(edges: &[Edge], at: &BTreeMap<usize, Vec<usize>>, from: usize) -> usize {
    let free = |k: usize| {
        edges[k]
            .nodes
            .iter()
            .any(|node| at.get(node).is_some_and(|list| list.len() == 1))
    };
    let (mut k, mut node) = (from, edges[from].nodes[0]);
    for _ in 0..edges.len().min(LONGEST_CHAIN) {
        if free(k) {
            return k;
        }
        let next = at
            .get(&node)
            .into_iter()
            .flatten()
            .copied()
            .find(|n| *n != k && !edges[*n].used);
        let Some(next) = next else { break };
        node = if edges[next].nodes[0] == node {
            edges[next].nodes[1]
        } else {
            edges[next].nodes[0]
        };
        k = next;
    }
    k
}
