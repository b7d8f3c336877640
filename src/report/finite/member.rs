//! Members without numbers that are not finite.

use super::{all_finite, clear_unless, drop_broken, retain, sound};
use crate::member::{End, Member, MemberHole, Section, Span};

/// True when something went.
pub(super) fn clean(m: &mut Member) -> bool {
    let Section {
        diameter,
        width,
        height,
        wall,
        web_thickness,
        flange_thickness,
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
        web_thickness,
        flange_thickness,
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
            width,
            corner_radius,
            metal,
            station,
            around,
            from_nearest_end,
            ..
        } = hole;
        for q in [
            diameter,
            length,
            width,
            corner_radius,
            metal,
            station,
            around,
            from_nearest_end,
        ] {
            lost |= drop_broken(q);
        }
    }
    for hole in &mut m.holes {
        hole.direction = hole.direction.filter(|d| d.is_finite());
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
