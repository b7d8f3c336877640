//! Same part, opposite hand: copies are counted, not repeated.

mod families;
mod fit;
mod frames;
mod groups;
mod in_order;
mod landmarks;
mod moments;
mod parameters;
mod sag;
mod size;

pub use sag::sag;

use crate::body::Body;
use crate::finding::Finding;
use crate::geometry::side_by_side;
use crate::measure::Quantity;
use crate::part::{Class, Part};
use families::{Candidate, families};
use fit::Hand;
pub use frames::Placement;
use groups::grouped;
use size::Size;

/// A part with its copies.
#[derive(Clone, Debug)]
pub struct Counted {
    /// The first piece of the hand that occurs more often.
    pub part: Part,
    /// Piece mark: M for members, P for plates, X for the rest.
    pub mark: String,
    /// Pieces of this hand, this one counted.
    pub quantity: u32,
    /// Mirrored pieces.
    pub opposite_hand: u32,
    /// Bodies that are copies, either hand, ascending.
    pub bodies: Vec<u32>,
    /// Every piece as it was measured in its own place, the first being `part`; true for mirrored ones.
    pub pieces: Vec<(Part, bool)>,
    /// Where each of `pieces` stands.
    pub places: Vec<Place>,
}

/// Where a piece stands.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The body it is, or is a part of.
    pub body: u32,
    /// True for the opposite hand.
    pub mirrored: bool,
    /// How the described piece is moved to lie on it, a mirror included; `None` where that isn't known.
    pub placement: Option<Placement>,
}

/// Volumes further apart than this share are different parts whatever their ± (which may be
/// missing): a closed mesh of even the coarsest facets is nearer to its solid.
const VOLUME_SHARE: f64 = 0.02;

/// Counts identical and opposite-hand copies and gives each different part its mark.
///
/// Parts are sorted by volume and compared with those of nearly the same volume and area: first by
/// what was measured on them, then by laying one body on the other. Bodies whose vertices coincide
/// within rounding are copies whatever was measured; beyond that the parameters must agree and
/// the distance stay within what facets cut off. Near-linear in parts unless many different
/// ones have the same volume, area and spread.
pub fn count(parts: Vec<Part>, bodies: &[Body]) -> (Vec<Counted>, Vec<Finding>) {
    let mut pieces_of_body = vec![0u32; bodies.len()];
    for p in &parts {
        if let Some(n) = pieces_of_body.get_mut(p.body as usize) {
            *n += 1;
        }
    }
    let mut parts = parts;
    // one alone has nothing to be compared with
    let several = parts.len() > 1;
    let size = |p: &Part| volume(p, bodies).map_or(0.0, |q| q.value);
    parts.sort_by(|a, b| size(b).total_cmp(&size(a)).then(a.body.cmp(&b.body)));

    let candidates: Vec<Candidate> = (parts.into_iter())
        .map(|part| {
            // Only a part that is its whole body can be compared by the body's surface.
            let body = bodies
                .get(part.body as usize)
                .filter(|_| pieces_of_body[part.body as usize] == 1);
            Candidate {
                volume: volume(&part, bodies),
                size: body.filter(|_| several).map(Size::of),
                body,
                part,
            }
        })
        .collect();
    let families = families(&candidates);
    let groups = side_by_side::each(&families, |f| grouped(f, &candidates), |_| {});
    let mut parts: Vec<Option<Part>> = candidates.into_iter().map(|c| Some(c.part)).collect();
    let mut counted: Vec<Counted> = (groups.into_iter().flatten())
        .map(|group| {
            let pieces = group.into_iter();
            let own = pieces.filter_map(|(i, hand, laid)| Some((parts[i].take()?, hand, laid)));
            counted(own.collect())
        })
        .collect();
    mark(&mut counted);
    (counted, Vec::new())
}

/// Pieces that are copies of the first, each with its hand and how it is laid on it, counted.
fn counted(mut pieces: Vec<(Part, Hand, Option<Placement>)>) -> Counted {
    let mut bodies: Vec<u32> = pieces.iter().map(|p| p.0.body).collect();
    bodies.sort_unstable();
    bodies.dedup();
    let same = pieces.iter().filter(|p| p.1 == Hand::Same).count();
    let other = pieces.len() - same;
    let first = |hand: Hand| {
        pieces
            .iter()
            .filter(|p| p.1 == hand)
            .map(|p| p.0.body)
            .min()
    };
    let hand = match same.cmp(&other) {
        std::cmp::Ordering::Greater => Hand::Same,
        std::cmp::Ordering::Less => Hand::Opposite,
        std::cmp::Ordering::Equal if first(Hand::Opposite) < first(Hand::Same) => Hand::Opposite,
        std::cmp::Ordering::Equal => Hand::Same,
    };
    let quantity = if hand == Hand::Same { same } else { other };
    let opposite = pieces.len() - quantity;
    pieces.sort_by_key(|p| (p.1 != hand, p.0.body));
    let described = pieces[0].2;
    let places = (pieces.iter())
        .map(|(part, own, laid)| Place {
            body: part.body,
            mirrored: *own != hand,
            placement: (described.zip(*laid)).map(|(d, laid)| d.then(&laid.inverse())),
        })
        .collect();
    let pieces: Vec<(Part, bool)> = pieces
        .into_iter()
        .map(|(part, own, _)| (part, own != hand))
        .collect();
    Counted {
        part: pieces[0].0.clone(),
        mark: String::new(),
        quantity: quantity as u32,
        opposite_hand: opposite as u32,
        bodies,
        pieces,
        places,
    }
}

/// Volume of a part, else that of its body's facets.
fn volume(part: &Part, bodies: &[Body]) -> Option<Quantity> {
    part.volume.or_else(|| {
        let body = bodies.get(part.body as usize)?;
        Some(Quantity::new(
            body.volume.abs(),
            VOLUME_SHARE * body.volume.abs(),
        ))
    })
}

/// Orders members before plates before the rest, then by the first body (the largest), and
/// numbers them.
fn mark(counted: &mut [Counted]) {
    let kind = |c: &Counted| match c.part.class {
        Class::StraightMember | Class::RolledMember | Class::BentMember => 0,
        Class::FlatPlate | Class::RolledPlate | Class::BentPlate => 1,
        Class::Other => 2,
    };
    counted.sort_by(|a, b| kind(a).cmp(&kind(b)).then(a.bodies.cmp(&b.bodies)));
    let mut next = [0u32; 3];
    for c in counted {
        let k = kind(c);
        next[k] += 1;
        c.mark = format!("{}{}", ["M", "P", "X"][k], next[k]);
    }
}
