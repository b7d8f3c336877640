//! Ways a single face may differ from what was asked: an end, a hole, the size of the section.

use super::target::{Probe, Role, Target, Under};
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::member::Shape as Section;
use crate::plate::Form;
use crate::surface::Surface;

use super::undo::Shape;

/// One such way. Lengths in mm, turns in radians (as tangents).
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Local {
    /// A face stands out of the metal.
    Offset(usize),
    /// A face leans: it stands out the more, the farther along `0` from `1` of it.
    Lean(usize, Vec3, Pt3),
    /// The section is wider.
    Width,
    /// The section is higher.
    Height,
    /// The section is larger all round.
    Diameter,
    /// The inside of a tube stands out of the metal.
    Bore,
    /// A plate is thicker.
    Thickness,
    /// A hole is elsewhere, along a direction.
    Shift(usize, Vec3),
    /// A hole is larger.
    Hole(usize),
}

/// The ways the faces of a part may differ.
pub(super) fn locals(target: &Target) -> Vec<Local> {
    let mut all = Vec::new();
    let part = target.part;
    let flat = matches!(target.shape, Shape::Flat(..));
    if let (Some(member), Shape::Sweep(_)) = (&part.member, &target.shape) {
        match member.section.shape {
            Section::Round | Section::RoundBar => all.push(Local::Diameter),
            Section::Square | Section::Rect | Section::SquareBar | Section::FlatBar => {
                all.extend([Local::Width, Local::Height]);
            }
            _ => {}
        }
        if target
            .faces
            .iter()
            .any(|f| f.role == Role::Bore && f.area > 0.0)
        {
            all.push(Local::Bore);
        }
    }
    if let Some(plate) = &part.plate
        && (plate.form != Form::Bent || matches!(target.shape, Shape::Sweep(_)))
    {
        all.push(Local::Thickness);
    }
    let mut holes = Vec::new();
    for (number, face) in target.faces.iter().enumerate() {
        if face.area <= 0.0 {
            continue;
        }
        match (face.role, &face.under) {
            (Role::End(end), Under::Is(Surface::Plane { point, .. })) => {
                all.push(Local::Offset(number));
                if let Some(end) = part.member.as_ref().and_then(|m| m.ends.get(end)) {
                    for axis in [end.width_axis, end.height_axis] {
                        all.push(Local::Lean(number, axis.into(), *point));
                    }
                }
            }
            (Role::End(_), Under::Is(_)) => all.push(Local::Offset(number)),
            (Role::Edge(_), Under::Is(Surface::Plane { .. })) if !flat => {
                all.push(Local::Offset(number));
            }
            (Role::Hole(hole), Under::Is(Surface::Cylinder { .. })) if !holes.contains(&hole) => {
                holes.push(hole);
                for way in hole_axes(target, hole) {
                    all.push(Local::Shift(hole, way));
                }
                all.push(Local::Hole(hole));
            }
            _ => {}
        }
    }
    all
}

/// Two directions square to a hole's axis: along the piece (along the length of a flat plate), then
/// across it.
pub(super) fn hole_axes(target: &Target, hole: usize) -> [Vec3; 2] {
    let part = target.part;
    let square = |axis: Vec3, along: Vec3| {
        (along - axis * axis.dot(&along))
            .try_normalize(1e-6)
            .map(|t| [t, axis.cross(&t)])
    };
    let member = part.member.as_ref().and_then(|m| m.holes.get(hole));
    let plate = part.plate.as_ref().and_then(|p| p.holes.get(hole));
    let found = match (member, plate, &target.shape) {
        (Some(h), _, Shape::Sweep(path)) => {
            let s = h.station.map_or(0.0, |s| s.value);
            square(h.axis.into(), path.at(s).t)
        }
        (_, Some(h), Shape::Flat(frame, _)) => {
            let axes = [Vec3::from(frame.x), Vec3::from(frame.y)];
            (Vec3::from(h.axis).dot(&Vec3::from(frame.z)).abs() > 0.99).then_some(axes)
        }
        (_, Some(h), Shape::Sweep(path)) => {
            let s = super::undo::station(&target.shape, &Pt3::from(h.point));
            square(h.axis.into(), path.at(s).t)
        }
        _ => None,
    };
    found.unwrap_or_else(|| {
        let axis = member
            .map(|h| h.axis)
            .or(plate.map(|h| h.axis))
            .unwrap_or([0.0, 0.0, 1.0]);
        let (a, b) = perpendicular_pair(&axis.into());
        [a, b]
    })
}

impl Local {
    /// Share of this way in the distance of a point: how far the face stands out there per unit.
    pub(super) fn share(&self, target: &Target, probe: &Probe, at: &Pt3) -> f64 {
        let role = target.faces[probe.face].role;
        match self {
            Local::Offset(face) => f64::from(u8::from(probe.face == *face)),
            Local::Lean(face, along, from) if probe.face == *face => along.dot(&(at - from)),
            Local::Width if matches!(role, Role::Side(_)) => probe.across[0].abs() / 2.0,
            Local::Height if matches!(role, Role::Side(_)) => probe.across[1].abs() / 2.0,
            Local::Diameter if matches!(role, Role::Side(_)) => 0.5,
            Local::Bore if role == Role::Bore => 1.0,
            Local::Thickness if matches!(role, Role::Front | Role::Back) => 0.5,
            Local::Shift(hole, way) if role == Role::Hole(*hole) => way.dot(&probe.normal),
            Local::Hole(hole) if role == Role::Hole(*hole) => -0.5,
            _ => 0.0,
        }
    }

    /// Change that moves a surface by about 1 mm.
    pub(super) fn unit(&self, target: &Target) -> f64 {
        match self {
            Local::Lean(..) => 2.0 / target.section_size().max(1.0),
            _ => 1.0,
        }
    }
}
