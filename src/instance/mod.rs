//! Same part, opposite hand: copies are counted, not repeated.

mod fit;
mod frames;
mod in_order;
mod landmarks;
mod moments;
mod parameters;
mod sag;
mod size;

pub use sag::sag;

use std::collections::BTreeMap;

use crate::body::Body;
use crate::finding::Finding;
use crate::geometry::side_by_side;
use crate::geometry::union_find::UnionFind;
use crate::measure::Quantity;
use crate::part::{Class, Part};
use fit::{Hand, Master};
pub use frames::Placement;
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

/// A part whose copies are looked for.
struct Candidate<'a> {
    part: Part,
    volume: Option<Quantity>,
    /// `None` where the part is not its whole body.
    size: Option<Size>,
    body: Option<&'a Body>,
}

/// Parts, by their numbers, in lists of which no two hold copies of each other, each list in order.
fn families(candidates: &[Candidate]) -> Vec<Vec<usize>> {
    let mut cells: BTreeMap<[i64; 2], Vec<usize>> = BTreeMap::new();
    for (i, c) in candidates.iter().enumerate() {
        match c.size {
            Some(size) => cells.entry(size.step()).or_default().push(i),
            // it may be a copy of any other
            None => return vec![(0..candidates.len()).collect()],
        }
    }
    let numbers: BTreeMap<[i64; 2], u32> = cells.keys().copied().zip(0..).collect();
    let mut sets = UnionFind::new(numbers.len());
    for (&[a, s], &own) in &numbers {
        for near in neighbours([a, s]) {
            if let Some(&other) = numbers.get(&near) {
                sets.join(own, other);
            }
        }
    }
    let mut families: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (members, own) in cells.into_values().zip(0..) {
        families.entry(sets.root(own)).or_default().extend(members);
    }
    let mut families: Vec<Vec<usize>> = families.into_values().collect();
    families.iter_mut().for_each(|f| f.sort_unstable());
    families
}

/// A step of sizes and those beside it.
fn neighbours([a, s]: [i64; 2]) -> impl Iterator<Item = [i64; 2]> {
    (-1..=1).flat_map(move |i| (-1..=1).map(move |j| [a + i, s + j]))
}

/// A piece by its number, its hand beside the first of its group, and how it is laid on that one.
type Laid = (usize, Hand, Option<Placement>);

/// Groups of copies among parts of one family, given by their numbers.
fn grouped(family: &[usize], candidates: &[Candidate]) -> Vec<Vec<Laid>> {
    let mut groups: Vec<Vec<Laid>> = Vec::new();
    let mut firsts: Vec<(&Part, Option<Master>)> = Vec::new();
    let mut by_size: BTreeMap<[i64; 2], Vec<Entry>> = BTreeMap::new();
    let (mut without_body, mut every) = (Vec::new(), Vec::new());
    for &i in family {
        let part = &candidates[i];
        let entry = Entry {
            group: groups.len(),
            volume: part.volume,
            size: part.size,
        };
        let step = entry.size.map(|size| size.step());
        let lists: Vec<&[Entry]> = match step {
            Some(step) => neighbours(step)
                .filter_map(|near| Some(by_size.get(&near)?.as_slice()))
                .chain([&without_body[..]])
                .collect(),
            None => vec![&every],
        };
        let master = part.body.map(Master::new);
        let place = latest_first(lists)
            .take_while(|one| volumes_near(one.volume, entry.volume))
            .filter(|one| match (&one.size, &entry.size) {
                (Some(mine), Some(theirs)) => mine.near(theirs),
                _ => true,
            })
            .find_map(|one| {
                let (first, its_master) = &firsts[one.group];
                let masters = its_master.as_ref().zip(master.as_ref());
                let (hand, laid) = hand_of(first, &part.part, masters)?;
                Some((one.group, (i, hand, laid)))
            });
        match place {
            Some((group, laid)) => groups[group].push(laid),
            None => {
                match step {
                    Some(step) => by_size.entry(step).or_default().push(entry),
                    None => without_body.push(entry),
                }
                every.push(entry);
                groups.push(vec![(i, Hand::Same, Some(Placement::stay()))]);
                firsts.push((&part.part, master));
            }
        }
    }
    groups
}

/// What is known of a group without a look at it.
#[derive(Clone, Copy)]
struct Entry {
    group: usize,
    volume: Option<Quantity>,
    /// `None` where the part is not its whole body.
    size: Option<Size>,
}

/// The entries of several lists, each in the order of its groups, latest group first.
fn latest_first(mut lists: Vec<&[Entry]>) -> impl Iterator<Item = Entry> {
    std::iter::from_fn(move || {
        let latest = |list: &&mut &[Entry]| list.last().map(|entry| entry.group);
        let list = lists.iter_mut().max_by_key(latest)?;
        let (last, rest) = list.split_last()?;
        *list = rest;
        Some(*last)
    })
}

/// How `part` is a copy of `first`, if it is one, and how it is laid on it; `masters` where both are
/// whole bodies.
fn hand_of(
    first: &Part,
    part: &Part,
    masters: Option<(&Master, &Master)>,
) -> Option<(Hand, Option<Placement>)> {
    let agree = || parameters::agree(first, part);
    match masters {
        Some((master, theirs)) => master
            .hand_of(theirs, agree)
            .map(|(hand, laid)| (hand, Some(laid))),
        // Pieces of a united model have no surface of their own.
        None if agree() => landmarks::hand_of(first, part),
        None => None,
    }
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

fn volumes_near(a: Option<Quantity>, b: Option<Quantity>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => {
            let reach = (a.plus_minus + b.plus_minus).max(2e-3 * a.value.abs());
            (a.value - b.value).abs() <= reach.min(VOLUME_SHARE * 2.0 * a.value.abs())
        }
        _ => true,
    }
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
