//! Members and plates that were made one mesh, taken apart into the pieces a shop makes.
//!
//! Only a body that one member or plate does not explain is tried, and only a split whose every piece
//! is explained, with ends that are, and whose volumes add up to the body's, is believed.

mod close;
mod gather;
mod mitre;
mod overlap;
mod seams;
mod words;

use super::Part;
use super::classify::{BAR_SLENDER, Looked, explained, looked};
use super::member::{Seen, WHOLE};
use crate::body::Body;
use crate::finding::Code;
use crate::geometry::union_find::UnionFind;
use crate::geometry::{Pt3, Vec3};
use crate::measure::Quantity;
use crate::member::{EndShape, Shape};
use crate::plate::Neutral;
use crate::surface::Patches;
pub use overlap::note_overlaps;
use seams::Component;

/// A cut less off square than this, degrees, is the step from one facet of a bend to the next.
const LEAST_MITRE: f64 = 4.0;

/// Share by which the volume of facets may differ from that of the solid they stand for.
const VOLUME_SHARE: f64 = 0.02;

/// How many times over the facets of a body are measured at most while trying.
const EFFORT: usize = 8;
/// How often pieces are taken apart again.
const DEEPEST: usize = 3;

/// Measures a body: one part, or the pieces it was joined from.
pub fn measure_pieces(body: &Body) -> Vec<Part> {
    measure_pieces_with(body, &Neutral::Din6935)
}

/// The same with the neutral surface of folds chosen by the caller.
pub fn measure_pieces_with(body: &Body, neutral: &Neutral) -> Vec<Part> {
    let Looked {
        part: whole,
        share,
        patches,
    } = explained(body, neutral);
    if explains(&whole, share, body) && !is_frame(&whole) {
        return vec![whole];
    }
    let mut tree = Tree {
        facets_left: EFFORT * body.facets.len(),
        neutral: neutral.clone(),
        ..Tree::default()
    };
    if tree.take_apart(body, patches, 0) && adds_up(&tree.leaves, body) {
        let mut parts: Vec<Part> = tree.leaves.into_iter().map(|l| l.part).collect();
        words::note(&mut parts, &tree.joints);
        return parts;
    }
    let mut whole = whole;
    if whole.unresolved.is_some() && tree.most > 1 {
        whole.findings.push(words::not_taken_apart(tree.most));
    }
    vec![whole]
}

/// Whether a part is all that the body is: measured, its ends known, its volume the body's. `share` of
/// the skin is explained.
fn explains(part: &Part, share: f64, body: &Body) -> bool {
    if part.unresolved.is_some() || part.findings.iter().any(|f| f.code == Code::EndAssumed) {
        return false;
    }
    match part.volume {
        Some(v) if body.closed => {
            let short = v.value - body.volume;
            let allowed = v.plus_minus + VOLUME_SHARE * body.volume.abs();
            short.abs() <= allowed
                || short > 0.0 && short <= OCTAGON * v.value && round(part, share)
        }
        _ => true,
    }
}

/// Share by which an octagon is smaller than the circle round it: few facets to the turn, and a little.
const OCTAGON: f64 = 0.11;

/// True for a round section whose whole skin is explained: only its facets make it smaller.
fn round(part: &Part, share: f64) -> bool {
    let shape = part.member.as_ref().map(|m| m.section.shape);
    share > WHOLE && matches!(shape, Some(Shape::Round | Shape::RoundBar))
}

/// Whether a part is an angle or channel so short, with corners so sharp, that its legs may be bars
/// joined to a frame: no such section is rolled or folded.
fn is_frame(part: &Part) -> bool {
    let Some(m) = &part.member else { return false };
    let s = &m.section;
    let sharp = |q: Option<Quantity>| q.is_none_or(|q| q.value <= q.plus_minus);
    let longer = |q: Option<Quantity>| {
        q.zip(m.centreline.length)
            .is_some_and(|(q, length)| q.value >= BAR_SLENDER * length.value)
    };
    matches!(s.shape, Shape::Angle | Shape::Channel)
        && sharp(s.corner_radius)
        && sharp(s.inner_corner_radius)
        && s.stock.is_none()
        && longer(s.width)
        && longer(s.height)
}

/// Whether the pieces' volumes make up the body's.
fn adds_up(leaves: &[Leaf], body: &Body) -> bool {
    let volumes = leaves.iter().filter_map(|l| l.part.volume);
    let (sum, doubt) = volumes.fold((0.0, 0.0), |(s, d), v| (s + v.value, d + v.plus_minus));
    !body.closed || (sum - body.volume).abs() <= doubt + VOLUME_SHARE * body.volume.abs()
}

/// A piece that is explained.
struct Leaf {
    part: Part,
    body: Body,
}

/// How two pieces meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Meeting {
    /// One ends on a surface of the other.
    Stands,
    /// Both are cut on one plane.
    Mitre,
    /// One ends on a side of the other, flush with others of its sides.
    Butt,
}

/// Where two pieces meet.
struct Joint {
    /// The piece that ends here, and the one it ends on.
    ends: usize,
    on: usize,
    meeting: Meeting,
    /// Middle of the seam.
    at: Pt3,
    /// Normal of what it ends on there.
    normal: Vec3,
    /// How far a plane fitted to the cut may lie from it, mm.
    slack: f64,
}

/// A way to split a body once.
struct Split {
    /// The body, with edges along the split.
    body: Body,
    list: Vec<Component>,
    of_facet: Vec<u32>,
    /// Piece of each component, and how many there are.
    piece_of: Vec<u32>,
    count: usize,
    tolerance: f64,
    meeting: Meeting,
    /// The first plane's normal: out of the side that a piece butts on.
    normal: Vec3,
}

#[derive(Default)]
struct Tree {
    leaves: Vec<Leaf>,
    joints: Vec<Joint>,
    /// Most pieces seen between seams.
    most: usize,
    /// Facets that may still be measured.
    facets_left: usize,
    neutral: Neutral,
}

impl Tree {
    /// Adds the pieces of a body; false when one of them is not explained.
    fn take_apart(&mut self, body: &Body, patches: Option<Patches>, depth: usize) -> bool {
        if depth > DEEPEST {
            return false;
        }
        let patches = patches.unwrap_or_else(|| crate::surface::segment(body));
        let kept = (self.leaves.len(), self.joints.len());
        let (mitres, sides) = mitre::planes(body, &patches);
        let mitres = mitre::choices(mitres).into_iter();
        let mitres = mitres.map(|planes| Some((Meeting::Mitre, planes)));
        let sides = sides.into_iter().map(|p| Some((Meeting::Butt, vec![p])));
        for way in std::iter::once(None).chain(mitres).chain(sides) {
            let split = match way {
                None => at_seams(body, &patches),
                Some((meeting, planes)) => at_planes(body, &patches, planes, meeting),
            };
            if let Some(split) = split {
                if split.meeting == Meeting::Stands {
                    self.most = self.most.max(split.count);
                }
                if self.all_pieces(&split, depth) && self.joints_hold(kept.1) {
                    return true;
                }
                self.leaves.truncate(kept.0);
                self.joints.truncate(kept.1);
            }
        }
        false
    }

    fn all_pieces(&mut self, split: &Split, depth: usize) -> bool {
        let piece = |f: u32| split.piece_of[split.of_facet[f as usize] as usize];
        let mut facets: Vec<Vec<u32>> = vec![Vec::new(); split.count];
        for f in 0..split.body.facets.len() as u32 {
            facets[piece(f) as usize].push(f);
        }
        let mut leaves_of = Vec::with_capacity(split.count);
        for (id, own) in facets.iter().enumerate() {
            let inside = |f: u32| piece(f) == id as u32;
            let Some(cut) = close::closed(&split.body, own, &inside, split.tolerance) else {
                return false;
            };
            if cut.closed && cut.volume <= 0.0 {
                return false;
            }
            let first = self.leaves.len();
            let Some(left) = self.facets_left.checked_sub(cut.facets.len()) else {
                return false;
            };
            self.facets_left = left;
            let Looked {
                part,
                share,
                patches,
            } = looked(Seen::new(&cut), &self.neutral);
            let explained = explains(&part, share, &cut) && part.volume.is_some();
            let whole = explained && !is_frame(&part);
            let apart = !whole && self.take_apart(&cut, patches, depth + 1);
            if !apart && !explained {
                return false;
            }
            if !apart {
                self.leaves.push(Leaf { part, body: cut });
            }
            leaves_of.push(first..self.leaves.len());
        }
        for (c, component) in split.list.iter().enumerate() {
            for s in component
                .seams
                .iter()
                .filter(|s| s.stands() && s.is_outer())
                // the piece behind the side runs on
                .filter(|s| split.meeting != Meeting::Butt || s.normal.dot(&split.normal) > 0.0)
            {
                let Some(e) = s.ring.first() else { continue };
                let pieces = [split.piece_of[c], piece(e.across(&split.body))];
                // the inside of a tube meets where its outside does
                if pieces[0] == pieces[1] {
                    continue;
                }
                let corner = split.body.vertices[e.start(&split.body) as usize];
                let [ends, on] = pieces.map(|p| {
                    let own = leaves_of[p as usize].clone();
                    let holds = |l: &usize| self.leaves[*l].body.vertices.contains(&corner);
                    own.clone().find(holds).unwrap_or(own.start)
                });
                let sum = s.ring.iter().fold(Vec3::zeros(), |sum, e| {
                    sum + (split.body.vertices[e.start(&split.body) as usize] - corner)
                });
                self.joints.push(Joint {
                    ends,
                    on,
                    meeting: split.meeting,
                    at: corner + sum / s.ring.len() as f64,
                    normal: s.normal,
                    slack: 4.0 * split.tolerance,
                });
            }
        }
        true
    }

    /// Whether every mitre from joint `first` on is the end of a member, cut on its plane, and what
    /// butts on a member too: steps and lugs of one solid are no pieces.
    fn joints_hold(&self, first: usize) -> bool {
        let joints = self.joints[first..].iter();
        let cuts = joints.filter(|j| j.meeting != Meeting::Stands);
        cuts.into_iter().all(|j| {
            let butts = j.meeting == Meeting::Butt;
            if butts && self.leaves[j.on].part.member.is_none() {
                return false;
            }
            self.leaves[j.ends].part.member.as_ref().is_some_and(|m| {
                m.ends.iter().any(|e| {
                    let cut_here = |c: &crate::member::Cut| {
                        (butts || c.off_square.value >= LEAST_MITRE)
                            && Vec3::from(c.normal).dot(&j.normal) < -0.99
                            && (Pt3::from(c.point) - j.at).dot(&j.normal).abs() <= j.slack
                    };
                    e.shape == EndShape::Plane && e.cuts.iter().any(cut_here)
                })
            })
        })
    }
}

fn at_seams(body: &Body, patches: &Patches) -> Option<Split> {
    let (list, of_facet) = seams::components(body, patches);
    let piece_of = gather::pieces(body, patches, &list, &of_facet);
    let count = piece_of.iter().max().map_or(0, |&m| m as usize + 1);
    (count > 1).then(|| Split {
        body: body.clone(),
        list,
        of_facet,
        piece_of,
        count,
        tolerance: patches.tolerance,
        meeting: Meeting::Stands,
        normal: Vec3::zeros(),
    })
}

fn at_planes(
    body: &Body,
    patches: &Patches,
    planes: Vec<mitre::Plane>,
    meeting: Meeting,
) -> Option<Split> {
    let normal = planes.first()?.normal;
    let cut = mitre::cut(body, planes, patches.tolerance)?;
    let list = mitre::components(&cut, patches.tolerance)?;
    let mut sets = UnionFind::new(list.len());
    let faces: Vec<u32> = (0..cut.planes.len() as u32).collect();
    gather::join_skins(&cut.body, &list, &faces, &mut sets);
    let piece_of = gather::numbered(&mut sets, list.len());
    let count = piece_of.iter().max().map_or(0, |&m| m as usize + 1);
    (count > 1).then_some(Split {
        body: cut.body,
        list,
        of_facet: cut.of_facet,
        piece_of,
        count,
        tolerance: 4.0 * patches.tolerance,
        meeting,
        normal,
    })
}
