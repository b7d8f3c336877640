//! Groups of copies within a family.

use std::collections::BTreeMap;

use super::VOLUME_SHARE;
use super::families::{Candidate, neighbours};
use super::fit::{Hand, Master};
use super::frames::Placement;
use super::size::Size;
use super::{landmarks, parameters};
use crate::measure::Quantity;
use crate::part::Part;

/// A piece by its number, its hand beside the first of its group, and how it is laid on that one.
pub type Laid = (usize, Hand, Option<Placement>);

/// Groups of copies among parts of one family, given by their numbers.
pub fn grouped(family: &[usize], candidates: &[Candidate]) -> Vec<Vec<Laid>> {
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

fn volumes_near(a: Option<Quantity>, b: Option<Quantity>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => {
            let reach = (a.plus_minus + b.plus_minus).max(2e-3 * a.value.abs());
            (a.value - b.value).abs() <= reach.min(VOLUME_SHARE * 2.0 * a.value.abs())
        }
        _ => true,
    }
}
