//! One winding for every connected piece of surface.

use nalgebra::Point3;

use super::NONE;
use super::pairing::turn_over;

/// Pieces of surface connected across paired edges.
pub struct Pieces {
    /// Piece of each facet.
    pub label: Vec<u32>,
    /// Number of pieces.
    pub count: usize,
    /// True for facets that were turned over.
    pub turned: Vec<bool>,
    /// Pairs across which no winding fits (a one-sided surface); they were cut apart.
    pub one_sided: usize,
}

/// Carries the winding of each piece's first facet over its edges, turns over the facets that
/// disagree with the majority of their piece, and says which.
///
/// Facets in `no_vote` say nothing about the side (they were given for both); a piece of such
/// facets only is turned so that the volume it encloses, seen from its centre, is positive.
pub fn make_consistent(
    vertices: &[Point3<f64>],
    facets: &mut [[u32; 3]],
    neighbours: &mut [[u32; 3]],
    no_vote: &[bool],
) -> Pieces {
    let mut pieces = Pieces {
        label: vec![NONE; facets.len()],
        count: 0,
        turned: vec![false; facets.len()],
        one_sided: 0,
    };
    let mut members: Vec<u32> = Vec::new();
    for seed in 0..facets.len() {
        if pieces.label[seed] != NONE {
            continue;
        }
        members.clear();
        members.push(seed as u32);
        pieces.label[seed] = pieces.count as u32;
        let mut next = 0;
        while let Some(&f) = members.get(next) {
            next += 1;
            spread(f, facets, neighbours, &mut pieces, &mut members);
        }
        settle_side(vertices, facets, neighbours, no_vote, &mut pieces, &members);
        pieces.count += 1;
    }
    pieces
}

/// Visits the neighbours of `f`; turns new ones to agree with it.
fn spread(
    f: u32,
    facets: &mut [[u32; 3]],
    neighbours: &mut [[u32; 3]],
    pieces: &mut Pieces,
    members: &mut Vec<u32>,
) {
    let here = facets[f as usize];
    for k in 0..3 {
        let g = neighbours[f as usize][k];
        if g == NONE {
            continue;
        }
        let (a, b) = (here[k], here[(k + 1) % 3]);
        let agrees = runs(facets[g as usize], b, a);
        if pieces.label[g as usize] == NONE {
            pieces.label[g as usize] = pieces.count as u32;
            members.push(g);
            if !agrees {
                turn_over(&mut facets[g as usize], &mut neighbours[g as usize]);
                pieces.turned[g as usize] = true;
            }
        } else if !agrees {
            neighbours[f as usize][k] = NONE;
            let back = edge_between(facets[g as usize], a, b);
            if let Some(j) = back {
                neighbours[g as usize][j] = NONE;
            }
            pieces.one_sided += 1;
        }
    }
}

/// Turns the whole piece over if most of its facets were turned over to agree with the first.
fn settle_side(
    vertices: &[Point3<f64>],
    facets: &mut [[u32; 3]],
    neighbours: &mut [[u32; 3]],
    no_vote: &[bool],
    pieces: &mut Pieces,
    members: &[u32],
) {
    let votes = |f: &&u32| no_vote.is_empty() || !no_vote[**f as usize];
    let voters = members.iter().filter(votes).count();
    let against = members
        .iter()
        .filter(votes)
        .filter(|&&f| pieces.turned[f as usize])
        .count();
    let wrong = if voters > 0 {
        2 * against > voters
    } else {
        enclosed(vertices, facets, members) < 0.0
    };
    if wrong {
        for &f in members {
            turn_over(&mut facets[f as usize], &mut neighbours[f as usize]);
            pieces.turned[f as usize] = !pieces.turned[f as usize];
        }
    }
}

/// Six times the volume between the facets and the mean of their corners, mm³.
pub fn enclosed(vertices: &[Point3<f64>], facets: &[[u32; 3]], members: &[u32]) -> f64 {
    let at = |v: u32| vertices[v as usize].coords;
    let mut centre = nalgebra::Vector3::zeros();
    for &f in members {
        centre += facets[f as usize]
            .iter()
            .map(|&v| at(v))
            .sum::<nalgebra::Vector3<f64>>();
    }
    centre /= 3.0 * members.len().max(1) as f64;
    members
        .iter()
        .map(|&f| {
            let [a, b, c] = facets[f as usize].map(|v| at(v) - centre);
            a.dot(&b.cross(&c))
        })
        .sum()
}

/// True when the facet runs from a to b.
fn runs(facet: [u32; 3], a: u32, b: u32) -> bool {
    (0..3).any(|k| facet[k] == a && facet[(k + 1) % 3] == b)
}

/// Which edge of the facet joins a and b, either way.
fn edge_between(facet: [u32; 3], a: u32, b: u32) -> Option<usize> {
    (0..3).find(|&k| {
        let (p, q) = (facet[k], facet[(k + 1) % 3]);
        (p, q) == (a, b) || (p, q) == (b, a)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weld::pairing::pair;

    #[test]
    fn one_turned_facet_of_a_tetrahedron_is_put_right() {
        let vertices = [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]].map(Point3::from);
        let right = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
        for wrong in 0..4 {
            let mut facets = right;
            facets[wrong].swap(0, 1);
            let mut p = pair(&facets, 4);
            assert_eq!(p.same_way, 3);
            let pieces = make_consistent(&vertices, &mut facets, &mut p.neighbours, &[]);
            assert_eq!(pieces.count, 1);
            assert_eq!(pieces.turned.iter().filter(|t| **t).count(), 1);
            assert!(pieces.turned[wrong]);
            assert_eq!(pair(&facets, 4).same_way, 0);
        }
    }

    #[test]
    fn a_one_sided_strip_is_cut() {
        // Moebius band of six triangles on six vertices.
        let vertices: Vec<_> = (0..6)
            .map(|i| Point3::new(f64::from(i), f64::from(i * i), 0.0))
            .collect();
        let mut facets = [
            [0, 1, 2],
            [2, 1, 3],
            [2, 3, 4],
            [4, 3, 5],
            [4, 5, 1],
            [1, 5, 0],
        ];
        let mut p = pair(&facets, 6);
        let pieces = make_consistent(&vertices, &mut facets, &mut p.neighbours, &[]);
        assert!(pieces.one_sided > 0);
    }
}
