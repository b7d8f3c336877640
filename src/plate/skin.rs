//! Front and back of a sheet as whole faces: their border rings, and the walls between them.

use super::sheet::Sheet;
use crate::body::Body;
use crate::surface::{Patches, rings};
use crate::weld::NONE;

/// One step round a border: a vertex, the piece of sheet beside the edge that starts there, and the
/// wall the edge belongs to ([`NONE`] at a gap in the mesh).
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub vertex: u32,
    pub piece: usize,
    pub wall: u32,
    /// Patch across the edge, or [`NONE`].
    pub patch: u32,
}

/// A closed border, the face on its left seen from outside the metal.
pub(super) type Ring = Vec<Step>;

/// Facets between the two faces that hang together: the edge of the sheet, or the wall of a hole.
#[derive(Clone, Debug, Default)]
pub(super) struct Wall {
    pub facets: Vec<u32>,
    pub patches: Vec<u32>,
    /// Rings it meets, on the front and on the back.
    pub front: Vec<usize>,
    pub back: Vec<usize>,
}

/// Both faces of a sheet.
pub(super) struct Skin {
    pub front: Vec<Ring>,
    pub back: Vec<Ring>,
    pub walls: Vec<Wall>,
}

pub(super) fn skin(body: &Body, patches: &Patches, sheet: &Sheet) -> Skin {
    let mut side = vec![0u8; patches.list.len()];
    let mut piece_of = vec![0usize; patches.list.len()];
    for (i, e) in sheet.elements.iter().enumerate() {
        side[e.front as usize] = 1;
        side[e.back as usize] = 2;
        piece_of[e.front as usize] = i;
        piece_of[e.back as usize] = i;
    }
    let side_of = |f: u32| side[patches.of_facet[f as usize] as usize];
    let (wall_of, mut walls) = walls(body, patches, &side_of);
    let face = |which: u8| -> Vec<Ring> {
        let facets: Vec<u32> = (0..body.facets.len() as u32)
            .filter(|&f| side_of(f) == which)
            .collect();
        rings(body, &facets, &|f| side_of(f) == which)
            .into_iter()
            .map(|ring| {
                ring.into_iter()
                    .map(|e| {
                        let g = e.across(body);
                        let gap = g == NONE;
                        Step {
                            vertex: e.start(body),
                            piece: piece_of[patches.of_facet[e.facet as usize] as usize],
                            wall: if gap { NONE } else { wall_of[g as usize] },
                            patch: if gap {
                                NONE
                            } else {
                                patches.of_facet[g as usize]
                            },
                        }
                    })
                    .collect()
            })
            .collect()
    };
    let (front, back) = (face(1), face(2));
    for (rings, is_front) in [(&front, true), (&back, false)] {
        for (i, ring) in rings.iter().enumerate() {
            let mut met: Vec<u32> = ring.iter().map(|s| s.wall).filter(|&w| w != NONE).collect();
            met.sort_unstable();
            met.dedup();
            for w in met {
                let wall = &mut walls[w as usize];
                if is_front {
                    wall.front.push(i)
                } else {
                    wall.back.push(i)
                }
            }
        }
    }
    Skin { front, back, walls }
}

fn walls(body: &Body, patches: &Patches, side_of: &impl Fn(u32) -> u8) -> (Vec<u32>, Vec<Wall>) {
    let mut wall_of = vec![NONE; body.facets.len()];
    let mut walls: Vec<Wall> = Vec::new();
    for start in 0..body.facets.len() as u32 {
        if wall_of[start as usize] != NONE || side_of(start) != 0 {
            continue;
        }
        let id = walls.len() as u32;
        wall_of[start as usize] = id;
        let mut facets = vec![start];
        let mut next = 0;
        while next < facets.len() {
            for g in body.neighbours[facets[next] as usize] {
                if g != NONE && wall_of[g as usize] == NONE && side_of(g) == 0 {
                    wall_of[g as usize] = id;
                    facets.push(g);
                }
            }
            next += 1;
        }
        let mut own: Vec<u32> = facets
            .iter()
            .map(|&f| patches.of_facet[f as usize])
            .collect();
        own.sort_unstable();
        own.dedup();
        walls.push(Wall {
            facets,
            patches: own,
            ..Wall::default()
        });
    }
    (wall_of, walls)
}
