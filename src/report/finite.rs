//! Numbers that are not finite never leave the program.

use super::ReportedPart;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use crate::member::{End, Member, MemberHole, Section, Span};
use crate::plate::{Bend, Frame, Plate, PlateHole, Segment};

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
    lost |= part.member.as_mut().is_some_and(member);
    lost |= part.plate.as_mut().is_some_and(plate);
    lost.then(|| {
        Finding::new(
            Code::NotFinite,
            Severity::Warning,
            "Some numbers of this part could not be worked out and are left out.",
            "Look for folded or zero-area facets on this part and export it again.",
        )
    })
}

fn member(m: &mut Member) -> bool {
    let Section {
        diameter,
        width,
        height,
        wall,
        corner_radius,
        inner_corner_radius,
        area,
        contours,
        ..
    } = &mut m.section;
    let optional = [
        diameter,
        width,
        height,
        wall,
        corner_radius,
        inner_corner_radius,
        area,
        &mut m.centreline.length,
        &mut m.centreline.chord,
        &mut m.centreline.rise,
        &mut m.longest_edge,
        &mut m.shortest_edge,
        &mut m.twist,
    ];
    let mut lost = optional
        .into_iter()
        .fold(false, |lost, q| drop_broken(q) | lost);
    lost |= clear_unless(contours, |c| c.iter().all(|p| all_finite(p)));
    for span in &mut m.spans {
        lost |= drop_broken_of_span(span);
    }
    lost |= clear_unless(&mut m.spans, span_is_sound);
    lost |= clear_unless(&mut m.ends, end_is_sound);
    for hole in &mut m.holes {
        let MemberHole {
            diameter,
            length,
            station,
            around,
            from_nearest_end,
            ..
        } = hole;
        for q in [diameter, length, station, around, from_nearest_end] {
            lost |= drop_broken(q);
        }
    }
    lost | retain(&mut m.holes, |hole| {
        all_finite(&hole.point) && all_finite(&hole.axis)
    })
}

fn drop_broken_of_span(span: &mut Span) -> bool {
    match span {
        Span::Arc {
            radius,
            inside_radius,
            outside_radius,
            rotation,
            ..
        } => [radius, inside_radius, outside_radius, rotation]
            .into_iter()
            .fold(false, |lost, q| drop_broken(q) | lost),
        Span::Free {
            radius_min,
            radius_max,
            ..
        } => drop_broken(radius_min) | drop_broken(radius_max),
        Span::Straight { .. } | Span::Helix { .. } => false,
    }
}

fn span_is_sound(span: &Span) -> bool {
    match span {
        Span::Straight { length } => sound(length),
        Span::Arc {
            length,
            angle,
            curvature,
            rise,
            centre,
            axis,
            ..
        } => {
            [length, angle, curvature, rise].into_iter().all(sound)
                && all_finite(centre)
                && all_finite(axis)
        }
        Span::Helix {
            length,
            radius,
            pitch,
            turns,
            centre,
            axis,
            ..
        } => {
            [length, radius, pitch, turns].into_iter().all(sound)
                && all_finite(centre)
                && all_finite(axis)
        }
        Span::Free { length, points, .. } => sound(length) && points.iter().all(|p| all_finite(p)),
    }
}

fn end_is_sound(end: &End) -> bool {
    let axes = [&end.point, &end.tangent, &end.width_axis, &end.height_axis];
    let cuts = end.cuts.iter().all(|cut| {
        [&cut.off_square, &cut.tilt_width, &cut.tilt_height]
            .into_iter()
            .all(sound)
            && all_finite(&cut.normal)
            && all_finite(&cut.point)
    });
    let saddle = end.saddle.as_ref().is_none_or(|s| {
        [&s.diameter, &s.angle, &s.offset].into_iter().all(sound)
            && all_finite(&s.point)
            && all_finite(&s.axis)
    });
    axes.into_iter().all(|a| all_finite(a)) && cuts && saddle
}

fn plate(p: &mut Plate) -> bool {
    let optional = [
        &mut p.thickness,
        &mut p.flat.length,
        &mut p.flat.width,
        &mut p.flat.perimeter,
        &mut p.flat.area,
        &mut p.inside_radius,
        &mut p.outside_radius,
        &mut p.arc_angle,
        &mut p.half_angle,
        &mut p.slant_length,
        &mut p.sector_angle,
        &mut p.sector_inner_radius,
        &mut p.sector_outer_radius,
    ];
    let mut lost = optional
        .into_iter()
        .fold(false, |lost, q| drop_broken(q) | lost);
    if p.flat.k_factor.is_some_and(|k| !k.is_finite()) {
        p.flat.k_factor = None;
        lost = true;
    }
    if p.frame.as_ref().is_some_and(|frame| !frame_is_sound(frame)) {
        p.frame = None;
        lost = true;
    }
    if p.roll_axis
        .is_some_and(|axis| !axis.iter().all(|a| all_finite(a)))
    {
        p.roll_axis = None;
        lost = true;
    }
    lost |= clear_unless(&mut p.outline, segment_is_sound);
    lost |= clear_unless(&mut p.bends, bend_is_sound);
    lost |= clear_unless(&mut p.flanges, sound);
    for hole in &mut p.holes {
        lost |= plate_hole(hole);
    }
    lost | retain(&mut p.holes, |hole| {
        all_finite(&hole.point) && all_finite(&hole.axis)
    })
}

fn plate_hole(hole: &mut PlateHole) -> bool {
    let optional = [
        &mut hole.diameter,
        &mut hole.length,
        &mut hole.countersink_diameter,
        &mut hole.countersink_angle,
        &mut hole.depth,
        &mut hole.x,
        &mut hole.y,
        &mut hole.from_centroid,
    ];
    let lost = optional
        .into_iter()
        .fold(false, |lost, q| drop_broken(q) | lost);
    if hole.direction.is_some_and(|d| !d.is_finite()) {
        hole.direction = None;
    }
    lost | clear_unless(&mut hole.outline, segment_is_sound)
}

fn segment_is_sound(segment: &Segment) -> bool {
    match segment {
        Segment::Line { length, start, end } => {
            sound(length) && all_finite(start) && all_finite(end)
        }
        Segment::Arc {
            length,
            radius,
            angle,
            start,
            end,
            centre,
        } => {
            [length, radius, angle].into_iter().all(sound)
                && [start, end, centre].into_iter().all(|p| all_finite(p))
        }
    }
}

fn bend_is_sound(bend: &Bend) -> bool {
    sound(&bend.angle)
        && sound(&bend.inside_radius)
        && bend.k_factor.is_finite()
        && bend.line.iter().all(|p| all_finite(p))
        && all_finite(&bend.point)
        && all_finite(&bend.axis)
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
