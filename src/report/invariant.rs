//! What every report keeps to, whatever the model.

use std::collections::HashSet;

use super::{Report, ReportedPart};
use crate::measure::{self, Quantity};
use crate::member::{Member, Span};
use crate::plate::{Plate, Segment};

/// The first rule that `report` breaks, with the mark of the part, or `None` when it is sound.
///
/// Every number is finite and every ± at least 0; marks are unique; copies are as many as are counted;
/// directions have length 1 and frames are square; sizes that can't be negative aren't; lengths of a
/// path add up to its centreline; contours close, and lie in their rectangle; findings name parts there
/// are, worst first, each with words and a remedy.
pub fn fault(report: &Report) -> Option<String> {
    let mut marks = HashSet::new();
    for part in &report.parts {
        if !marks.insert(part.mark.as_str()) {
            return Some(format!("two parts have the mark {}", part.mark));
        }
        if let Some(fault) = part_fault(part) {
            return Some(format!("{}: {fault}", part.mark));
        }
    }
    let there = |mark: &String| marks.contains(mark.as_str());
    for finding in &report.findings {
        if finding.message.is_empty() || finding.remedy.is_empty() {
            return Some(format!("a finding without words: {finding:?}"));
        }
        if finding.part.as_ref().is_some_and(|mark| !there(mark)) {
            return Some(format!("a finding about no part: {finding:?}"));
        }
    }
    let sorted = report
        .findings
        .windows(2)
        .all(|f| f[0].severity >= f[1].severity);
    let placed = report
        .unresolved
        .iter()
        .all(|u| there(&u.part) && !u.reason.is_empty());
    let unit = report.length_unit.mm_per_file_unit;
    match (sorted, placed, unit > 0.0 && unit.is_finite()) {
        (false, _, _) => Some("findings are not sorted, worst first".into()),
        (_, false, _) => Some("an undescribed body belongs to no part".into()),
        (_, _, false) => Some(format!("a unit of {unit} mm")),
        _ => None,
    }
}

fn part_fault(part: &ReportedPart) -> Option<String> {
    let numbers = match toml::Value::try_from(part) {
        Ok(numbers) => numbers,
        Err(why) => return Some(format!("can't be written: {why}")),
    };
    number_fault(&numbers, "")
        .or_else(|| count_fault(part))
        .or_else(|| part.member.as_ref().and_then(member_fault))
        .or_else(|| part.plate.as_ref().and_then(plate_fault))
}

/// A number that is not finite, a ± or a size below 0, a direction whose length is not 1.
fn number_fault(value: &toml::Value, name: &str) -> Option<String> {
    const DIRECTIONS: [&str; 7] = [
        "axis",
        "normal",
        "tangent",
        "width_axis",
        "height_axis",
        "x",
        "y",
    ];
    /// Beside these, every quantity is a size.
    const SIGNED: [&str; 11] = [
        "angle",
        "tilt_width",
        "tilt_height",
        "offset",
        "beyond",
        "rotation",
        "twist",
        "around",
        "x",
        "y",
        "station",
    ];
    match value {
        toml::Value::Float(number) if !number.is_finite() => Some(format!("{name} is {number}")),
        toml::Value::Table(table) => {
            let half = table.get("plus_minus").and_then(toml::Value::as_float);
            let value = table.get("value").and_then(toml::Value::as_float);
            if half.is_some_and(|half| half < 0.0) {
                return Some(format!("{name} is {value:?} ± {half:?}"));
            }
            if let Some((value, half)) = value.zip(half)
                && value < -half
                && !SIGNED.contains(&name)
            {
                return Some(format!("{name} is {value} ± {half}"));
            }
            table
                .iter()
                .find_map(|(name, value)| number_fault(value, name))
        }
        toml::Value::Array(list) => {
            let numbers: Vec<f64> = list.iter().filter_map(toml::Value::as_float).collect();
            if let &[x, y, z] = &numbers[..]
                && DIRECTIONS.contains(&name)
                && (x.hypot(y).hypot(z) - 1.0).abs() > 1e-6
            {
                return Some(format!("the direction {name} is {numbers:?}"));
            }
            list.iter().find_map(|value| number_fault(value, name))
        }
        _ => None,
    }
}

fn count_fault(part: &ReportedPart) -> Option<String> {
    let mirrored = part.copies.iter().filter(|copy| copy.mirrored).count();
    let bodies: HashSet<u32> = part.copies.iter().map(|copy| copy.body).collect();
    let listed: HashSet<u32> = part.bodies.iter().copied().collect();
    let first = part.copies.first();
    let rules = [
        (part.quantity >= 1, "there is none of it"),
        (
            part.copies.len() as u64 == u64::from(part.quantity) + u64::from(part.opposite_hand),
            "copies are not as many as are counted",
        ),
        (
            mirrored as u64 == u64::from(part.opposite_hand),
            "mirrored copies are not as many as are counted",
        ),
        (
            bodies == listed,
            "the bodies listed are not those of the copies",
        ),
        (
            first.is_some_and(|copy| {
                copy.body == part.body && !copy.mirrored && copy.frame == part.frame
            }),
            "the first copy is not the piece described",
        ),
        (
            part.member.is_none() || part.plate.is_none(),
            "it is both member and plate",
        ),
        (
            part.volume.map(|v| measure::mass(v, part.density)) == part.mass,
            "the mass is not that of its volume",
        ),
        (
            part.frame
                .is_none_or(|f| square(f.x, f.y) && square(f.y, f.z) && square(f.z, f.x)),
            "its frame is not square",
        ),
    ];
    broken(&rules)
}

fn broken(rules: &[(bool, &str)]) -> Option<String> {
    rules
        .iter()
        .find(|(kept, _)| !kept)
        .map(|(_, rule)| (*rule).to_owned())
}

fn square(a: [f64; 3], b: [f64; 3]) -> bool {
    (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]).abs() < 1e-6
}

fn member_fault(member: &Member) -> Option<String> {
    let lengths: Vec<Quantity> = member.spans.iter().map(Span::length).collect();
    let sum = Quantity::new(
        lengths.iter().map(|l| l.value).sum(),
        lengths.iter().map(|l| l.plus_minus).sum(),
    );
    let line = &member.centreline;
    let length = line.length.unwrap_or(sum);
    let no_longer = |a: Option<Quantity>, b: Option<Quantity>| match (a, b) {
        (Some(a), Some(b)) => a.value - a.plus_minus <= b.value + b.plus_minus,
        _ => true,
    };
    let radii = |span: &Span| match span {
        Span::Arc {
            inside_radius,
            radius,
            outside_radius,
            ..
        } => no_longer(*inside_radius, *radius) && no_longer(*radius, *outside_radius),
        _ => true,
    };
    let turned = |span: &Span| match span {
        Span::Arc {
            length,
            radius: Some(radius),
            angle,
            ..
        } => {
            let arc = radius.value * angle.value.to_radians();
            let give = radius.plus_minus * angle.value.to_radians()
                + radius.value * angle.plus_minus.to_radians()
                + length.plus_minus;
            (arc - length.value).abs() <= give + 1e-6 * arc
        }
        _ => true,
    };
    let section = &member.section;
    let rules = [
        (!member.spans.is_empty(), "it has no path"),
        (
            member.ends.len() == if line.closed { 0 } else { 2 },
            "ends do not go with a path that is open or closed",
        ),
        (
            sum.agrees_with(length),
            "spans do not add up to the centreline",
        ),
        (
            no_longer(line.chord, Some(length)),
            "the chord is longer than the centreline",
        ),
        (
            member.spans.iter().all(radii),
            "inside, centre and outside radius are out of order",
        ),
        (
            member.spans.iter().all(turned),
            "an arc is not as long as radius and angle say",
        ),
        (
            no_longer(member.shortest_edge, member.longest_edge),
            "the shortest edge is longer than the longest",
        ),
        (
            section.contours.iter().all(|contour| contour.len() >= 3),
            "a contour of the section has fewer than three points",
        ),
        (
            member.ends.iter().all(|end| {
                square(end.tangent, end.width_axis) && square(end.width_axis, end.height_axis)
            }),
            "the axes of an end are not square",
        ),
        (
            member
                .holes
                .iter()
                .all(|hole| (1..=2).contains(&hole.walls)),
            "a hole goes through neither one wall nor two",
        ),
    ];
    broken(&rules)
}

fn plate_fault(plate: &Plate) -> Option<String> {
    let flat = &plate.flat;
    let slack = |q: Quantity| q.plus_minus + 1e-6 * q.value + 1e-6;
    let inside = |limit: Option<Quantity>, x: f64| {
        limit.is_none_or(|q| -slack(q) <= x && x <= q.value + slack(q))
    };
    let in_rectangle =
        |place: [f64; 2]| inside(flat.length, place[0]) && inside(flat.width, place[1]);
    let contours = || {
        plate
            .holes
            .iter()
            .map(|h| &h.outline)
            .chain([&plate.outline])
    };
    let no_more = |a: Option<Quantity>, b: f64| a.is_none_or(|a| a.value - a.plus_minus <= b);
    let box_area = flat.length.zip(flat.width).map_or(f64::INFINITY, |(l, w)| {
        (l.value + l.plus_minus) * (w.value + w.plus_minus)
    });
    let rules = [
        (contours().all(|c| closes(c)), "a contour does not close"),
        (
            plate.outline.iter().all(|s| in_rectangle(s.ends()[0])),
            "the outline leaves its rectangle",
        ),
        (
            plate.holes.iter().all(|h| {
                h.x.is_none_or(|x| inside(flat.length, x.value))
                    && h.y.is_none_or(|y| inside(flat.width, y.value))
            }),
            "a hole lies off the plate",
        ),
        (
            flat.length
                .zip(flat.width)
                .is_none_or(|(l, w)| l.value + l.plus_minus >= w.value - w.plus_minus),
            "it is wider than long",
        ),
        (
            no_more(flat.area, box_area),
            "its area is larger than its rectangle",
        ),
        (
            no_more(
                plate.inside_radius,
                plate
                    .outside_radius
                    .map_or(f64::INFINITY, |r| r.value + r.plus_minus),
            ),
            "inside and outside radius are out of order",
        ),
        (
            flat.k_factor
                .iter()
                .chain(plate.bends.iter().map(|b| &b.k_factor))
                .all(|k| (0.0..=1.0).contains(k)),
            "a K-factor lies outside 0 to 1",
        ),
    ];
    broken(&rules)
}

/// True when each segment begins where the one before it ends.
fn closes(contour: &[Segment]) -> bool {
    let far = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let size = contour
        .iter()
        .flat_map(|s| s.ends())
        .flatten()
        .fold(1.0, |m: f64, x| m.max(x.abs()));
    let nexts = contour.iter().cycle().skip(1);
    contour
        .iter()
        .zip(nexts)
        .all(|(s, next)| far(s.ends()[1], next.ends()[0]) <= 1e-6 * size)
}
