//! Numbers that are not finite never leave the program.

mod member;
mod plate;

use super::ReportedPart;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use crate::plate::Frame;

/// Takes every number that is not finite out of `part`: a quantity becomes `None`; a span, end, hole,
/// segment or bend that can't do without it goes, spans and segments together, for a path with a gap
/// is no path. Says so when anything went.
pub(super) fn keep_finite(part: &mut ReportedPart) -> Option<Finding> {
    let mut lost = false;
    for q in [&mut part.volume, &mut part.surface_area, &mut part.mass] {
        lost |= drop_broken(q);
    }
    if part
        .frame
        .as_ref()
        .is_some_and(|frame| !frame_is_sound(frame))
    {
        part.frame = None;
        lost = true;
    }
    for copy in &mut part.copies {
        if copy.frame.as_ref().is_some_and(|f| !frame_is_sound(f)) {
            copy.frame = None;
            lost = true;
        }
    }
    lost |= part.member.as_mut().is_some_and(member::clean);
    lost |= part.plate.as_mut().is_some_and(plate::clean);
    lost.then(|| {
        Finding::new(
            Code::NotFinite,
            Severity::Warning,
            "Some numbers of this part could not be worked out and are left out.",
            "Look for folded or zero-area facets on this part and export it again.",
        )
    })
}

fn frame_is_sound(frame: &Frame) -> bool {
    [&frame.origin, &frame.x, &frame.y, &frame.z]
        .into_iter()
        .all(|a| all_finite(a))
}

fn drop_broken(q: &mut Option<Quantity>) -> bool {
    let broken = q.as_ref().is_some_and(|q| !sound(q));
    if broken {
        *q = None;
    }
    broken
}

fn clear_unless<T>(list: &mut Vec<T>, sound: impl Fn(&T) -> bool) -> bool {
    let broken = !list.iter().all(sound);
    if broken {
        list.clear();
    }
    broken
}

fn retain<T>(list: &mut Vec<T>, sound: impl Fn(&T) -> bool) -> bool {
    let before = list.len();
    list.retain(|entry| sound(entry));
    list.len() < before
}

fn sound(q: &Quantity) -> bool {
    q.value.is_finite() && q.plus_minus.is_finite()
}

fn all_finite(numbers: &[f64]) -> bool {
    numbers.iter().all(|n| n.is_finite())
}
