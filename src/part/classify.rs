//! Member, plate or neither: the class rule of the report.

use super::member::{BELIEVABLE, NEAR_FLOOR, Seen, WORST_VOLUME, hollow};
use super::{Class, Part, Reading};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::member::describe::Described;
use crate::member::legs::Corners;
use crate::member::{Shape, Span};
use crate::plate::{self, Form, Neutral};
use crate::surface::{Patches, Surface};

/// A section is preferred to a folded sheet where it explains as much, but for the walls of some holes.
const LESS_EXPLAINED: f64 = 0.05;
/// A strip is a bar when it is at least this many times as long as wide,
pub const BAR_SLENDER: f64 = 4.0;
/// at most this wide, mm,
const BAR_WIDEST_MM: f64 = 150.0;
/// and at least this thick, mm.
const BAR_THINNEST_MM: f64 = 3.0;
/// A closed hollow cylinder of no published size is a tube when this many times as long as its diameter.
pub(super) const TUBE_SLENDER: f64 = 2.0;
/// A flat plate whose two faces are less than this share of its skin may be a bar lying flat.
const MOSTLY_EDGE: f64 = 0.5;
/// Within this share of a limit the other reading is named.
pub(super) const CLOSE: f64 = 0.2;

/// A fold that leaves the square by more than this, as a tangent, is no bend of a bar.
const SKEW: f64 = 0.01;

/// A surface of at least this share of a body's area is named as what stands in the way.
const FREE_SHARE: f64 = 0.05;

/// What the class rule says, and whether it was close.
struct Verdict {
    member: bool,
    close: Option<&'static str>,
}

/// Measures one body, folds laid flat by DIN 6935.
pub fn measure(body: &Body) -> Part {
    measure_with(body, &Neutral::Din6935)
}

/// The same with the neutral surface of folds chosen by the caller.
pub fn measure_with(body: &Body, neutral: &Neutral) -> Part {
    explained(body, neutral).part
}

/// What a look at a body gave.
pub(super) struct Looked {
    /// The part.
    pub part: Part,
    /// Share of the body's skin that a member explains; 0 for anything else.
    pub share: f64,
    /// The body's surfaces, where they were asked for.
    pub patches: Option<Patches>,
}

/// The same, with what was seen on the way.
pub(super) fn explained(body: &Body, neutral: &Neutral) -> Looked {
    let first = looked(Seen::new(body), neutral);
    if first.part.unresolved.is_none() && first.part.volume.is_some() {
        return first;
    }
    let Some(moved) = as_if_moved(body) else {
        return first;
    };
    let seen = Seen::new(&moved);
    if seen.as_plate(neutral).is_none() {
        return first;
    }
    let second = looked(seen, neutral);
    match second.part.volume {
        // its surfaces are those of a coarser file
        Some(_) => Looked {
            patches: None,
            ..second
        },
        None => first,
    }
}

/// Share of a body's size that its vertices are rounded by when it is drawn some ten times its size
/// away from the origin in binary32: a micrometre on three metres.
const MOVED_SHARE: f64 = 3e-7;

/// The body as one that was rounded far from the origin and moved since, if its file is finer.
fn as_if_moved(body: &Body) -> Option<Body> {
    let (low, high) = body.vertices.iter().fold(
        (body.vertices.first()?.coords, body.vertices.first()?.coords),
        |(low, high), p| (low.inf(&p.coords), high.sup(&p.coords)),
    );
    let quantum = MOVED_SHARE * (high - low).norm();
    (quantum > body.quantum).then(|| Body {
        quantum,
        ..body.clone()
    })
}

/// One look at a body, at its word.
pub(super) fn looked(seen: Seen, neutral: &Neutral) -> Looked {
    let body = seen.body;
    if let Some(d) = seen.plainly_a_tube() {
        return Looked {
            share: d.explained,
            part: member_part(body, d, None),
            patches: None,
        };
    }
    let plate = seen.as_plate(neutral).cloned();
    let verdict = plate.as_ref().map(|p| rule(p, &seen));
    let ring = plate
        .as_ref()
        .is_some_and(|p| p.closed && p.plate.form == Form::Cylinder);
    let described = match &verdict {
        Some(v) if !v.member => None,
        // a tube can also be seen as a strip rolled to a ring, which the rule has just denied
        _ if ring => seen.as_member_that(hollow),
        _ => seen.as_member().cloned(),
    };
    let scattered = plate.is_none() && described.as_ref().is_some_and(scattered_sheet);
    let described = described.filter(|_| !scattered);
    let close = verdict.and_then(|v| v.close);
    let share = described.as_ref().map_or(0.0, |d| d.explained);
    let part = match (described, plate) {
        (Some(d), _) => member_part(body, d, close),
        (None, Some(p)) => plate_part(body, p, close),
        (None, None) if scattered => Part {
            unresolved: Some(
                "A strip of sheet that is no bar, but its vertices scatter too much for a plate to be measured on it."
                    .into(),
            ),
            ..blank(body)
        },
        (None, None) => Part {
            unresolved: Some(format!(
                "Neither a section moved along a path nor a plate was recognised.{}",
                stumbling_block(&seen)
            )),
            ..blank(body)
        },
    };
    Looked {
        part,
        share,
        patches: seen.into_patches(),
    }
}

/// True for a strip measured through scatter that no shop would buy as a bar: as a plate it was not
/// understood.
fn scattered_sheet(d: &Described) -> bool {
    let s = &d.member.section;
    let strip = matches!(s.shape, Shape::FlatBar | Shape::SquareBar);
    let (Some(w), Some(h), Some(l)) = (s.width, s.height, d.member.centreline.length) else {
        return false;
    };
    let (wide, thick) = (w.value.max(h.value), w.value.min(h.value));
    d.noisy && strip && !bar_rule(l.value, wide, thick).member
}

/// Where the largest surface stands that is neither plane, cylinder nor cone, if it is a large one.
fn stumbling_block(seen: &Seen) -> String {
    let body = seen.body;
    let free = (seen.patches().list)
        .iter()
        .filter(|p| matches!(p.surface, Surface::Unknown));
    let Some(largest) = free.max_by(|a, b| a.area.total_cmp(&b.area)) else {
        return String::new();
    };
    if largest.area < FREE_SHARE * body.area {
        return String::new();
    }
    let vertices = largest.vertices(body);
    let sum: nalgebra::Vector3<f64> = vertices
        .iter()
        .map(|&v| body.vertices[v as usize].coords)
        .sum();
    let at = sum / vertices.len().max(1) as f64;
    format!(
        " A surface about x {:.1}, y {:.1}, z {:.1} of the file (mm) is neither plane, cylinder nor cone and can't be laid flat.",
        at.x, at.y, at.z
    )
}

/// Measures one body read as the caller asks, whatever the class rule says; an error says what it is
/// not.
pub fn measure_as(body: &Body, neutral: &Neutral, reading: Reading) -> Result<Part, &'static str> {
    let seen = Seen::new(body);
    if reading == Reading::Plate {
        let plate = (seen.as_plate(neutral).cloned())
            .ok_or("no two faces one thickness apart make it up")?;
        return Ok(plate_part(body, plate, None));
    }
    // A short tube can also be seen as a strip rolled to a ring: only what was asked for counts.
    let described = match reading {
        Reading::Tube => seen
            .as_member_that(hollow)
            .ok_or("its section is not a hollow one"),
        _ => seen
            .as_member_that(|d| !hollow(d))
            .ok_or("no solid section moved along a path makes it up"),
    };
    Ok(member_part(body, described?, None))
}

/// A body as a plate, if that explains it.
pub(super) fn as_plate(
    body: &Body,
    patches: &Patches,
    neutral: &Neutral,
) -> Option<plate::Measured> {
    plate::measure_with(body, patches, neutral)
        .filter(|p| p.explained > BELIEVABLE && is_sheet(p))
        // a strip coiled further than once round does not lie flat as one sheet
        .filter(|p| {
            !body.closed || p.volume.plus_minus < (WORST_VOLUME * p.volume.value).max(NEAR_FLOOR)
        })
}

fn blank(body: &Body) -> Part {
    Part {
        body: body.index,
        name: body.name.clone(),
        class: Class::Other,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: Vec::new(),
        unresolved: None,
    }
}

fn class_unclear(close: Option<&str>) -> Option<Finding> {
    close.map(|other| {
        Finding::new(
            Code::ClassUnclear,
            Severity::Note,
            format!("This piece is close to the limit: it could also be read as {other}."),
            "Decide by how the shop would buy it; --as MARK=plate, =bar or =tube forces the reading.",
        )
    })
}

/// A word where a corner is nearly, but not quite, that of a fold: no one thickness can be folded to it.
fn nearly_folded(d: &Described) -> Option<Finding> {
    (d.corners == Corners::NearlyFolded).then(|| {
        Finding::new(
            Code::ClassUnclear,
            Severity::Note,
            "The inside and outside arcs of its corners nearly share a centre, as those of a fold do: it may be meant as a folded plate.",
            "Ask how it is to be made; as drawn it can't be folded from one thickness.",
        )
    })
}

fn member_part(body: &Body, d: Described, close: Option<&str>) -> Part {
    let mut d = d;
    d.member.section.stock = crate::stock::nearest(&d.member.section);
    let mut findings = d.findings.clone();
    findings.extend(class_unclear(close));
    findings.extend(nearly_folded(&d));
    let explained = d.explained;
    let mut part = Part {
        class: class_of(&d),
        volume: d.volume,
        surface_area: d.surface_area,
        findings,
        member: Some(d.member),
        ..blank(body)
    };
    super::left_out::note(&mut part, body, explained);
    part
}

fn plate_part(body: &Body, p: plate::Measured, close: Option<&str>) -> Part {
    let mut findings = p.findings;
    findings.extend(class_unclear(close));
    Part {
        class: match p.plate.form {
            Form::Flat => Class::FlatPlate,
            Form::Cylinder | Form::Cone => Class::RolledPlate,
            Form::Bent => Class::BentPlate,
        },
        volume: Some(p.volume),
        surface_area: Some(p.surface_area),
        findings,
        plate: Some(p.plate),
        ..blank(body)
    }
}

/// A sheet is thinner than it is wide; a bar seen end on is not one.
fn is_sheet(p: &plate::Measured) -> bool {
    match (p.plate.form, p.plate.thickness, p.plate.flat.width) {
        (Form::Flat, Some(t), Some(w)) => p.strip.is_some() || t.value < w.value,
        _ => true,
    }
}

/// Whether a body that reads as a plate is to be taken as a member.
fn rule(p: &plate::Measured, seen: &Seen) -> Verdict {
    let thickness = p.plate.thickness.map_or(0.0, |t| t.value);
    let published = match (p.plate.outside_radius, p.plate.thickness) {
        (Some(r), Some(t)) => crate::stock::is_published_round(r.scaled(2.0), t),
        _ => false,
    };
    if p.closed && p.plate.form == Form::Cylinder {
        let diameter = p.plate.outside_radius.map_or(0.0, |r| 2.0 * r.value);
        let length = p
            .plate
            .flat
            .width
            .map_or(0.0, |w| w.value)
            .min(p.plate.flat.length.map_or(0.0, |l| l.value));
        // of the flat's two sides one is the way round
        let round = std::f64::consts::PI * (diameter - thickness);
        let sides = [p.plate.flat.length, p.plate.flat.width].map(|q| q.map_or(0.0, |q| q.value));
        let axial = if (sides[0] - round).abs() < (sides[1] - round).abs() {
            sides[1]
        } else {
            sides[0]
        };
        let axial = if axial > 0.0 { axial } else { length };
        let member = published || axial >= TUBE_SLENDER * diameter;
        let close = near(axial, TUBE_SLENDER * diameter).then_some(if member {
            "a rolled plate"
        } else {
            "a tube"
        });
        return Verdict { member, close };
    }
    if let Some(strip) = p.strip
        && bends_run_across(p)
    {
        return bar_rule(strip.length, strip.width, thickness);
    }
    if matches!(p.plate.form, Form::Flat | Form::Bent)
        && could_be_curved_bar(p)
        && let Some(d) = seen.as_member()
        && matches!(d.member.section.shape, Shape::FlatBar | Shape::SquareBar)
        && !d.member.centreline.closed
        && let (Some(w), Some(h), Some(l)) = (
            d.member.section.width,
            d.member.section.height,
            d.member.centreline.length,
        )
    {
        // rolled on edge: the strip's width lies in the plane of the plate
        let in_plane = if (w.value - thickness).abs() < (h.value - thickness).abs() {
            h.value
        } else {
            w.value
        };
        return bar_rule(l.value, in_plane, thickness);
    }
    // two flats on a bent round bar are faces too, but most of its skin lies between them
    let mostly_edge = p
        .plate
        .flat
        .area
        .is_some_and(|a| 2.0 * a.value < MOSTLY_EDGE * seen.body.area);
    if p.plate.form == Form::Flat
        && mostly_edge
        && let Some(d) = seen.as_member()
        && d.member.section.shape == Shape::RoundBar
        && d.exact_bends
    {
        return Verdict {
            member: true,
            close: None,
        };
    }
    if p.plate.form == Form::Bent
        && let Some(d) = seen.as_member()
        && matches!(d.member.section.shape, Shape::Angle | Shape::Channel)
        && d.corners != Corners::Folded
        // a folded sheet with notched ends is no angle that was hardly understood
        && d.volume.is_some()
        && d.explained > p.explained - LESS_EXPLAINED
        // vertices of a drawn model that stand off the section say that it is another
        && (!d.noisy || crate::surface::noise(seen.body).is_some())
    {
        return Verdict {
            member: true,
            close: None,
        };
    }
    Verdict {
        member: false,
        close: None,
    }
}

/// True when every fold goes square across the flat's length, as on a bar bent on the flat. A fold along
/// it makes an angle or a channel of a strip.
fn bends_run_across(p: &plate::Measured) -> bool {
    p.plate.bends.iter().all(|bend| {
        let [from, to] = bend.line;
        let (dx, dy) = ((to[0] - from[0]).abs(), (to[1] - from[1]).abs());
        dx <= SKEW * dy
    })
}

fn near(value: f64, limit: f64) -> bool {
    (value - limit).abs() < CLOSE * limit
}

/// Bar or plate, for a strip of this developed length, width and thickness, mm.
fn bar_rule(length: f64, width: f64, thickness: f64) -> Verdict {
    let slender = length / width.max(1e-9);
    let tests = [
        (slender >= BAR_SLENDER, near(slender, BAR_SLENDER)),
        (width <= BAR_WIDEST_MM, near(width, BAR_WIDEST_MM)),
        (
            thickness >= BAR_THINNEST_MM,
            near(thickness, BAR_THINNEST_MM),
        ),
    ];
    let member = tests.iter().all(|(holds, _)| *holds);
    let close =
        tests.iter().all(|(holds, near)| *holds || *near) && tests.iter().any(|(_, near)| *near);
    Verdict {
        member,
        close: close.then_some(if member { "a plate" } else { "a flat bar" }),
    }
}

/// True for a long narrow outline of two cuts and, between them, equal numbers of pieces on both
/// sides, some of them arcs: it may be a bar rolled on edge.
fn could_be_curved_bar(p: &plate::Measured) -> bool {
    let arcs = p
        .plate
        .outline
        .iter()
        .filter(|s| matches!(s, plate::Segment::Arc { .. }))
        .count();
    let n = p.plate.outline.len();
    let paired =
        arcs >= 2 && arcs.is_multiple_of(2) && n.is_multiple_of(2) && (4..=24).contains(&n);
    paired && slender(p) > (1.0 - CLOSE) * BAR_SLENDER
}

/// Length over width of the straight strip with the outline's length and area.
fn slender(p: &plate::Measured) -> f64 {
    let (Some(around), Some(area)) = (p.plate.flat.perimeter, p.plate.flat.area) else {
        return 0.0;
    };
    // length + width = half the way round, length x width = area
    let quarter = 0.25 * around.value;
    let width = quarter - (quarter * quarter - area.value).max(0.0).sqrt();
    area.value / (width * width).max(1e-9)
}

fn class_of(d: &Described) -> Class {
    let arcs = d
        .member
        .spans
        .iter()
        .filter(|s| matches!(s, Span::Arc { .. }))
        .count();
    let helix = d
        .member
        .spans
        .iter()
        .any(|s| matches!(s, Span::Helix { .. }));
    let free = d
        .member
        .spans
        .iter()
        .any(|s| matches!(s, Span::Free { .. }));
    match (free, helix, arcs) {
        (true, ..) => Class::Other,
        (_, true, _) => Class::BentMember,
        (_, _, 0) => Class::StraightMember,
        (_, _, 1) => Class::RolledMember,
        _ => Class::BentMember,
    }
}
