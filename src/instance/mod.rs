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

    let mut known = Known::default();
    let mut waiting = parts.into_iter();
    loop {
        let batch: Vec<Candidate> = (waiting.by_ref().take(BATCH))
            .map(|part| {
                // Only a part that is its whole body can be compared by the body's surface.
                let body = bodies
                    .get(part.body as usize)
                    .filter(|_| pieces_of_body[part.body as usize] == 1);
                Candidate {
                    volume: volume(&part, bodies),
                    size: body.filter(|_| several).map(Size::of),
                    master: body.map(Master::new),
                    part,
                }
            })
            .collect();
        if batch.is_empty() {
            break;
        }
        let before = known.groups.len();
        let places = side_by_side::each(&batch, |c| known.place_of(c, 0), |_| {});
        for (candidate, place) in batch.into_iter().zip(places) {
            // groups that this batch has made come first, as the latest
            let place = known.place_of(&candidate, before).or(place);
            known.add(candidate, place);
        }
    }
    let groups = known.groups;
    let mut counted: Vec<Counted> = groups.into_iter().map(Group::count).collect();
    mark(&mut counted);
    (counted, Vec::new())
}

/// Parts compared side by side with the groups there are before them.
const BATCH: usize = 64;

/// A part whose group is looked for.
struct Candidate<'a> {
    part: Part,
    volume: Option<Quantity>,
    /// `None` where the part is not its whole body.
    size: Option<Size>,
    master: Option<Master<'a>>,
}

/// The groups so far, and where to look for one.
#[derive(Default)]
struct Known<'a> {
    groups: Vec<Group<'a>>,
    by_size: BTreeMap<[i64; 2], Vec<Entry>>,
    without_body: Vec<Entry>,
    every: Vec<Entry>,
}

/// The number of a group, and how a piece is laid on its first.
type Laid = (usize, (Hand, Option<Placement>));

impl<'a> Known<'a> {
    /// The latest group, of number `from` or later, of which this is a copy.
    fn place_of(&self, candidate: &Candidate, from: usize) -> Option<Laid> {
        let lists: Vec<&[Entry]> = match candidate.size.map(|size| size.step()) {
            Some([a, s]) => (-1..=1)
                .flat_map(|i| (-1..=1).map(move |j| [a + i, s + j]))
                .filter_map(|near| Some(self.by_size.get(&near)?.as_slice()))
                .chain([&self.without_body[..]])
                .collect(),
            None => vec![&self.every],
        };
        latest_first(lists)
            .take_while(|one| one.group >= from && volumes_near(one.volume, candidate.volume))
            .filter(|one| match (&one.size, &candidate.size) {
                (Some(mine), Some(theirs)) => mine.near(theirs),
                _ => true,
            })
            .find_map(|one| {
                let group = &self.groups[one.group];
                let laid = group.hand_of(&candidate.part, candidate.master.as_ref())?;
                Some((one.group, laid))
            })
    }

    /// Puts a part into its group, or makes one of it.
    fn add(&mut self, candidate: Candidate<'a>, place: Option<Laid>) {
        let Candidate {
            part,
            volume,
            size,
            master,
        } = candidate;
        if let Some((i, (hand, laid))) = place {
            return self.groups[i].pieces.push((part, hand, laid));
        }
        let entry = Entry {
            group: self.groups.len(),
            volume,
            size,
        };
        match size.map(|size| size.step()) {
            Some(step) => self.by_size.entry(step).or_default().push(entry),
            None => self.without_body.push(entry),
        }
        self.every.push(entry);
        self.groups.push(Group {
            pieces: vec![(part, Hand::Same, Some(Placement::stay()))],
            master,
        });
    }
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

/// Pieces that are copies of the first, and how each is laid on it.
struct Group<'a> {
    pieces: Vec<(Part, Hand, Option<Placement>)>,
    /// The first piece's body, where the piece is all of it.
    master: Option<Master<'a>>,
}

impl<'a> Group<'a> {
    fn hand_of(&self, part: &Part, theirs: Option<&Master>) -> Option<(Hand, Option<Placement>)> {
        let agree = || parameters::agree(&self.pieces[0].0, part);
        match (&self.master, theirs) {
            (Some(master), Some(theirs)) => master
                .hand_of(theirs, agree)
                .map(|(hand, laid)| (hand, Some(laid))),
            // Pieces of a united model have no surface of their own.
            _ if agree() => landmarks::hand_of(&self.pieces[0].0, part),
            _ => None,
        }
    }

    fn count(self) -> Counted {
        let mut bodies: Vec<u32> = self.pieces.iter().map(|p| p.0.body).collect();
        bodies.sort_unstable();
        bodies.dedup();
        let same = self.pieces.iter().filter(|p| p.1 == Hand::Same).count();
        let other = self.pieces.len() - same;
        let first = |hand: Hand| {
            self.pieces
                .iter()
                .filter(|p| p.1 == hand)
                .map(|p| p.0.body)
                .min()
        };
        let hand = match same.cmp(&other) {
            std::cmp::Ordering::Greater => Hand::Same,
            std::cmp::Ordering::Less => Hand::Opposite,
            std::cmp::Ordering::Equal if first(Hand::Opposite) < first(Hand::Same) => {
                Hand::Opposite
            }
            std::cmp::Ordering::Equal => Hand::Same,
        };
        let quantity = if hand == Hand::Same { same } else { other };
        let opposite = self.pieces.len() - quantity;
        let mut pieces = self.pieces;
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
