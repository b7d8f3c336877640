//! Triangles to one mesh with shared vertices, millimetres, sound winding.
//!
//! Equal points become one vertex first. Only where edges stay open are near vertices joined, so
//! bodies that touch or overlap never fuse. What is certain is repaired; what was done is told.

mod coincident;
mod edges;
mod fans;
mod near;
mod orientation;
mod pairing;
mod resolution;
mod sliver;
mod t_junction;
mod tally;
mod twin;
mod vertices;

use nalgebra::Point3;

use crate::finding::Finding;
use crate::read::TriangleSoup;
use pairing::Pairing;
use tally::Tally;

/// No facet across this edge.
pub const NONE: u32 = u32::MAX;

/// A welded mesh in millimetres. Flat arrays, 32-bit indices.
#[derive(Clone, Debug)]
pub struct Mesh {
    /// Vertex positions, mm.
    pub vertices: Vec<Point3<f64>>,
    /// Corner indices, counter-clockwise seen from outside where orientation could be decided.
    pub facets: Vec<[u32; 3]>,
    /// Facet across edge (corner k, corner k+1), or [`NONE`].
    pub neighbours: Vec<[u32; 3]>,
    /// Group of the file each facet came from (index into the soup's groups), or [`NONE`].
    pub group: Vec<u32>,
    /// 95 % half-width of a coordinate's rounding in the file, mm.
    pub quantum: f64,
}

impl Mesh {
    /// Checks what every other stage relies on; the error names the first thing found wrong.
    pub fn check(&self) -> Result<(), String> {
        let n = self.facets.len();
        if self.neighbours.len() != n || self.group.len() != n {
            return Err(format!(
                "{n} facets, {} neighbours, {} groups",
                self.neighbours.len(),
                self.group.len()
            ));
        }
        if let Some(v) = self
            .vertices
            .iter()
            .position(|p| !p.iter().all(|x| x.is_finite()))
        {
            return Err(format!("vertex {v} is not finite"));
        }
        if !(self.quantum.is_finite() && self.quantum > 0.0) {
            return Err(format!("quantum {}", self.quantum));
        }
        check_topology(self.vertices.len(), &self.facets, &self.neighbours)
    }
}

/// Corners in range and different; neighbours mutual, over the same edge, run the other way.
pub(crate) fn check_topology(
    vertex_count: usize,
    facets: &[[u32; 3]],
    neighbours: &[[u32; 3]],
) -> Result<(), String> {
    for (i, f) in facets.iter().enumerate() {
        if f.iter().any(|&v| v as usize >= vertex_count) {
            return Err(format!("facet {i} names vertex {f:?} of {vertex_count}"));
        }
        if f[0] == f[1] || f[1] == f[2] || f[2] == f[0] {
            return Err(format!("facet {i} repeats a corner: {f:?}"));
        }
    }
    for (i, across) in neighbours.iter().enumerate() {
        for k in 0..3 {
            let j = across[k];
            if j == NONE {
                continue;
            }
            let (a, b) = (facets[i][k], facets[i][(k + 1) % 3]);
            let Some(other) = facets.get(j as usize) else {
                return Err(format!("facet {i} has neighbour {j} of {}", facets.len()));
            };
            let back = (0..3).find(|&m| other[m] == b && other[(m + 1) % 3] == a);
            if back.is_none_or(|m| neighbours[j as usize][m] != i as u32) {
                return Err(format!(
                    "facets {i} and {j} are not neighbours of each other over {a}-{b}"
                ));
            }
        }
    }
    Ok(())
}

/// Facets and what belongs to them, in mm, while they are being put right.
struct Work {
    vertices: Vec<Point3<f64>>,
    facets: Vec<[u32; 3]>,
    group: Vec<u32>,
    quantum: f64,
}

impl Work {
    /// Keeps the facets for which `keep` holds, in order.
    fn retain(&mut self, mut keep: impl FnMut(usize, [u32; 3]) -> bool) {
        let mut to = 0;
        for i in 0..self.facets.len() {
            if keep(i, self.facets[i]) {
                self.facets[to] = self.facets[i];
                self.group[to] = self.group[i];
                to += 1;
            }
        }
        self.facets.truncate(to);
        self.group.truncate(to);
    }

    /// Drops facets with a repeated corner; returns how many.
    fn drop_collapsed(&mut self) -> usize {
        let before = self.facets.len();
        self.retain(|_, f| f[0] != f[1] && f[1] != f[2] && f[2] != f[0]);
        before - self.facets.len()
    }

    fn pair(&self) -> Pairing {
        pairing::pair(&self.facets, self.vertices.len())
    }
}

/// Welds a soup into one mesh in millimetres (`mm_per_unit` × file units).
///
/// Takes the soup by value: points and facets are renumbered in place, so that the peak is the
/// soup itself and a third of it. The winding of each connected piece follows the majority of
/// its facets; which side of a closed shell is metal is settled by [`crate::body::separate`].
pub fn weld(mut soup: TriangleSoup, mm_per_unit: f64) -> (Mesh, Vec<Finding>) {
    let mut tally = Tally::default();
    let mut work = start(&mut soup, mm_per_unit, &mut tally);
    tally.collapsed += work.drop_collapsed();

    let mut pairing = work.pair();
    if !pairing.open.is_empty() {
        pairing = close_gaps(&mut work, pairing, &mut tally);
    }
    let mut no_vote = Vec::new();
    if pairing.crowded_ends.len() > 3 || pairing.coincident {
        (pairing, no_vote) = sort_out_doubles(&mut work, pairing, &mut tally);
    }
    let neighbours = orient(&mut work, pairing, &no_vote, &mut tally);
    let mut mesh = Mesh {
        vertices: work.vertices,
        facets: work.facets,
        neighbours,
        group: work.group,
        quantum: work.quantum,
    };
    tally.slivers = sliver::repair(&mut mesh);
    compact(&mut mesh);
    let findings = tally.findings(&mesh);
    (mesh, findings)
}

/// Exact weld and change of unit; facets that name no or no finite vertex are left out.
fn start(soup: &mut TriangleSoup, mm_per_unit: f64, tally: &mut Tally) -> Work {
    let mut points = std::mem::take(&mut soup.points);
    let mut facets = std::mem::take(&mut soup.facets);
    let mut group = groups_of_facets(soup, facets.len());
    // Squares and products of three coordinates must stay finite too.
    let limit = 1e90 / mm_per_unit.max(1.0);
    let usable = |p: &[f64; 3]| p.iter().fold(true, |ok, x| ok & (x.abs() <= limit));
    let in_range = |f: &[u32; 3]| {
        f.iter()
            .fold(true, |ok, &v| ok & ((v as usize) < points.len()))
    };
    let sound = points.iter().fold(true, |ok, p| ok & usable(p))
        && facets.iter().fold(true, |ok, f| ok & in_range(f));
    if !sound {
        let keep: Vec<bool> = facets
            .iter()
            .map(|f| in_range(f) && f.iter().all(|&v| usable(&points[v as usize])))
            .collect();
        let mut it = keep.iter();
        facets.retain(|_| it.next().is_some_and(|k| *k));
        let mut it = keep.iter();
        group.retain(|_| it.next().is_some_and(|k| *k));
        tally.unusable = keep.len() - facets.len();
        points
            .iter_mut()
            .filter(|p| !usable(p))
            .for_each(|p| *p = [0.0; 3]);
    }
    vertices::join_equal(&mut points, &mut facets);
    let half_width = resolution::half_width(&points, soup.precision);
    Work {
        vertices: points
            .into_iter()
            .map(|p| Point3::from(p.map(|x| x * mm_per_unit)))
            .collect(),
        facets,
        group,
        quantum: (half_width * mm_per_unit).max(f64::MIN_POSITIVE),
    }
}

/// Group number of each facet.
fn groups_of_facets(soup: &TriangleSoup, facet_count: usize) -> Vec<u32> {
    let mut group = vec![NONE; facet_count];
    for (i, g) in soup.groups.iter().enumerate() {
        let from = (g.first_facet as usize).min(facet_count);
        let to = soup
            .groups
            .get(i + 1)
            .map_or(facet_count, |n| n.first_facet as usize);
        if from < to {
            group[from..to.min(facet_count)].fill(i as u32);
        }
    }
    group
}

/// Joins near vertices on open edges, then splits edges that a vertex of the other side stands on.
fn close_gaps(work: &mut Work, pairing: Pairing, tally: &mut Tally) -> Pairing {
    let mut pairing = pairing;
    let open_before = pairing.open.len();
    if let Some(joined) = near::join(
        &mut work.vertices,
        &mut work.facets,
        &pairing.open,
        work.quantum,
    ) {
        tally.joined_gap = joined.gap;
        tally.near_joined = joined.count;
        work.quantum = work.quantum.max(joined.half_width);
        tally.collapsed += work.drop_collapsed();
        pairing = work.pair();
        tally.edges_closed = open_before.saturating_sub(pairing.open.len());
    }
    let reach = (4.0 * work.quantum).max(tally.joined_gap);
    let splits = t_junction::split(
        &work.vertices,
        &mut work.facets,
        &mut work.group,
        &pairing.open,
        reach,
    );
    if splits > 0 {
        tally.t_junctions = splits;
        pairing = work.pair();
    }
    pairing
}

/// Removes facets given more than once.
fn sort_out_doubles(work: &mut Work, pairing: Pairing, tally: &mut Tally) -> (Pairing, Vec<bool>) {
    let flat = 4.0 * work.quantum;
    let twins = twin::align(&work.vertices, &mut work.facets, &pairing, flat);
    if twins == 0 && !pairing.coincident {
        return (pairing, Vec::new());
    }
    let verdict = coincident::judge(&work.vertices, &work.facets, flat);
    tally.repeats += verdict.repeats;
    tally.backs += verdict.backs;
    tally.common += verdict.common;
    for &f in &verdict.turn {
        work.facets[f as usize].swap(1, 2);
    }
    tally.flipped += verdict.turn.len();
    let mut no_vote = Vec::new();
    if verdict.two_sided.iter().any(|t| *t) {
        no_vote = verdict
            .two_sided
            .iter()
            .zip(&verdict.drop)
            .filter(|(_, d)| !**d)
            .map(|(t, _)| *t)
            .collect();
    }
    work.retain(|i, _| !verdict.drop[i]);
    (work.pair(), no_vote)
}

/// One winding per piece, then the pairs around crowded edges. Returns the neighbours.
fn orient(
    work: &mut Work,
    mut pairing: Pairing,
    no_vote: &[bool],
    tally: &mut Tally,
) -> Vec<[u32; 3]> {
    tally.crowded = pairing.crowded_ends.len();
    if pairing.same_way == 0 && pairing.crowded_ends.is_empty() && no_vote.is_empty() {
        return pairing.neighbours;
    }
    let pieces = orientation::make_consistent(
        &work.vertices,
        &mut work.facets,
        &mut pairing.neighbours,
        no_vote,
    );
    let counts = |i: usize| no_vote.is_empty() || !no_vote[i];
    tally.flipped += pieces
        .turned
        .iter()
        .enumerate()
        .filter(|(i, t)| **t && counts(*i))
        .count();
    tally.one_sided = pieces.one_sided;
    if !pairing.crowded_ends.is_empty() {
        for h in &mut pairing.crowded {
            if pieces.turned[(*h / 3) as usize] {
                *h = pairing::turned(*h);
            }
        }
        tally.crowded_left = fans::pair_by_angle(
            &work.vertices,
            &work.facets,
            work.quantum,
            &mut pairing,
            &pieces,
        );
    }
    pairing.neighbours
}

/// Drops vertices that no facet uses; the rest keep their order.
fn compact(mesh: &mut Mesh) {
    let mut used = vec![false; mesh.vertices.len()];
    for &v in mesh.facets.iter().flatten() {
        used[v as usize] = true;
    }
    if used.iter().all(|u| *u) {
        return;
    }
    let mut number = vec![NONE; mesh.vertices.len()];
    let mut count = 0;
    for v in 0..mesh.vertices.len() {
        if used[v] {
            mesh.vertices[count] = mesh.vertices[v];
            number[v] = count as u32;
            count += 1;
        }
    }
    mesh.vertices.truncate(count);
    for v in mesh.facets.iter_mut().flatten() {
        *v = number[*v as usize];
    }
}
