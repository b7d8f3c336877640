//! Plates without numbers that are not finite.

use super::{all_finite, clear_unless, drop_broken, frame_is_sound, retain, sound};
use crate::plate::{Bend, Plate, PlateHole, Segment};

/// True when something went.
pub(super) fn clean(p: &mut Plate) -> bool {
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
    p.flat.departure = p.flat.departure.filter(|d| d.is_finite());
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
        &mut hole.width,
        &mut hole.corner_radius,
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
