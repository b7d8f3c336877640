//! Holes: what the wall between front and back is, and where.

use nalgebra::{Point2, Point3, Vector2, Vector3};

use super::HoleKind;
use super::contour::{self, Form};
use super::face::Face;
use super::skin::Wall;
use super::through::through;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::outline::{OutlineSegment, moments};
use crate::measure::Quantity;
use crate::surface::Surface;

/// A hole on the flat as laid out, before the flat is turned to its own axes.
#[derive(Clone, Debug)]
pub(super) struct Hole {
    pub kind: HoleKind,
    pub diameter: Option<Quantity>,
    pub length: Option<Quantity>,
    pub head: Option<Quantity>,
    /// Full angle of the head, degrees.
    pub head_angle: Option<Quantity>,
    pub depth: Option<Quantity>,
    /// Place on the flat, and its 95 % half-width.
    pub centre: Point2<f64>,
    pub place_plus_minus: f64,
    /// Direction of a slot.
    pub along: Option<Vector2<f64>>,
    /// Point of the axis on the solid, unit axis into the metal there.
    pub point: Point3<f64>,
    pub axis: Vector3<f64>,
    /// Which face it is made from, where that shows: true for the front.
    pub from_front: Option<bool>,
    /// True where its rim is too rough to tell a size.
    pub rough: bool,
    /// How far its contours on front and back differ, mm.
    pub skew: f64,
    /// 95 % half-width of its area by that, mm².
    pub area_plus_minus: f64,
    /// How far vertices of its rims lie from the circle it is given as at most, mm.
    pub departure: f64,
    /// Contour on the flat, anticlockwise.
    pub contour: Vec<OutlineSegment>,
    /// Area it takes from the flat, mm² (0 for a blind hole).
    pub area: f64,
    /// Metal taken beyond a straight hole of that area (heads, blind holes), mm³, and the surface
    /// that adds, mm².
    pub extra_volume: f64,
    pub extra_surface: f64,
    /// Length of the axis in the metal, mm.
    pub through: f64,
}

/// A cylinder in a wall: radius and its half-width, axis point and direction.
pub(super) type Drill = (f64, f64, Point3<f64>, Vector3<f64>);

/// A cone in a wall: half angle in radians, tip and axis.
pub(super) type Sink = (f64, Point3<f64>, Vector3<f64>);

/// What the wall of a hole is made of.
pub(super) struct Made {
    pub cylinders: Vec<Drill>,
    pub cones: Vec<Sink>,
    /// Points of planes that face the front or back.
    pub floors: Vec<Point3<f64>>,
}

/// Reads one hole. `None`, with findings, where it can't be described or is no hole.
pub(super) fn read(face: &Face, wall: &Wall, findings: &mut Vec<Finding>) -> Option<Hole> {
    let contours = |rings: &[usize], front: bool| -> Vec<Vec<OutlineSegment>> {
        rings
            .iter()
            .map(|&r| contour::anticlockwise(face.contour(front, r)))
            .collect()
    };
    let (front, back) = (contours(&wall.front, true), contours(&wall.back, false));
    findings.extend(few_chords(face, wall));
    let piece = face.piece_of(wall)?;
    let made = made_of(face, wall, &face.normal(piece, &face.any_point(wall)));
    match (&front[..], &back[..]) {
        ([f], [b]) => through(face, wall, piece, &made, f, b, findings),
        ([one], []) | ([], [one]) => blind(
            face,
            wall,
            piece,
            &made,
            one,
            !wall.front.is_empty(),
            findings,
        ),
        ([], []) => None,
        _ => {
            findings.push(unclear("An opening runs into others between the two faces"));
            None
        }
    }
}

/// A word about a circle of few chords, which could as well be drawn with straight sides.
fn few_chords(face: &Face, wall: &Wall) -> Option<Finding> {
    let front = wall.front.iter().filter_map(|&r| face.few_chords(true, r));
    let back = wall.back.iter().filter_map(|&r| face.few_chords(false, r));
    let found = front
        .chain(back)
        .min_by(|a, b| a.radius.total_cmp(&b.radius))?;
    Some(Finding::new(
        Code::ArcUnclear,
        Severity::Note,
        format!(
            "A hole of {:.1} mm stands in the model as a regular polygon of {} sides; it is taken as round.",
            2.0 * found.radius,
            found.straight.len()
        ),
        "Export the model with finer facets if the hole is not round.",
    ))
}

fn unclear(what: &str) -> Finding {
    Finding::new(
        Code::HoleUnclear,
        Severity::Warning,
        format!("{what}; its sizes are not given."),
        "Check this opening against the drawing.",
    )
}

fn made_of(face: &Face, wall: &Wall, normal: &Vector3<f64>) -> Made {
    let mut made = Made {
        cylinders: Vec::new(),
        cones: Vec::new(),
        floors: Vec::new(),
    };
    for &p in &wall.patches {
        let patch = &face.patches.list[p as usize];
        match patch.surface {
            Surface::Cylinder {
                point,
                axis,
                radius,
                convex: false,
            } => made.cylinders.push((radius, patch.plus_minus, point, axis)),
            // A wall that leans a little is no head (heads are of 60° and more: common practice).
            Surface::Cone {
                half_angle,
                apex,
                axis,
                convex: false,
            } if half_angle > 0.25 => made.cones.push((half_angle, apex, axis)),
            Surface::Plane { point, normal: n } if n.dot(normal).abs() > 0.99 => {
                made.floors.push(point)
            }
            _ => {}
        }
    }
    made
}

fn blind(
    face: &Face,
    wall: &Wall,
    piece: usize,
    made: &Made,
    contour: &[OutlineSegment],
    front: bool,
    findings: &mut Vec<Finding>,
) -> Option<Hole> {
    let depth = wall
        .facets
        .iter()
        .flat_map(|&f| face.body.facets[f as usize])
        .map(|v| face.depth(piece, &face.body.vertices[v as usize], front));
    let (low, high) = depth.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), d| {
        (l.min(d), h.max(d))
    });
    if high < 2.0 * face.tolerance && low > -2.0 * face.tolerance {
        // Facets that strayed from the face by no more than its own unevenness.
        return None;
    }
    if low < -8.0 * face.tolerance {
        findings.push(Finding::new(
            Code::JoinedParts,
            Severity::Warning,
            "Something stands on the plate and is one body with it; it is not part of the flat.",
            "Export the parts apart to have the other one measured too.",
        ));
        return None;
    }
    let mut hole = plain(face, HoleKind::Blind, contour, moments(contour).centroid);
    hole.from_front = Some(front);
    let opening = hole.area;
    hole.extra_surface = crate::geometry::outline::length(contour) * high;
    hole.area = 0.0;
    match contour::form(contour, face.tolerance) {
        Form::Circle {
            centre,
            radius,
            plus_minus,
        } => {
            hole.centre = centre;
            hole.diameter = Some(Quantity::new(
                2.0 * radius,
                2.0 * plus_minus + face.body.quantum,
            ));
            hole.contour = Vec::new();
        }
        Form::Slot {
            centre,
            width,
            length,
            along,
            plus_minus,
        } => {
            hole.centre = centre;
            hole.diameter = Some(Quantity::new(width, 2.0 * plus_minus + face.body.quantum));
            hole.length = Some(Quantity::new(
                length,
                2.0 * plus_minus + 2.0 * face.body.quantum,
            ));
            hole.along = Some(along);
        }
        Form::Other => {}
    }
    // A drilled hole is as deep as its straight wall, not as its point.
    let straight = wall
        .patches
        .iter()
        .map(|&p| &face.patches.list[p as usize])
        .filter(|p| matches!(p.surface, Surface::Cylinder { convex: false, radius, .. } if radius * radius * 8.0 > opening))
        .flat_map(|p| p.vertices(face.body))
        .map(|v| face.depth(piece, &face.body.vertices[v as usize], front))
        .fold(0.0, f64::max);
    let floor = made
        .floors
        .iter()
        .map(|p| face.depth(piece, p, front))
        .fold(f64::INFINITY, f64::min);
    let deep = if floor.is_finite() {
        floor
    } else if straight > 0.0 && hole.contour.is_empty() {
        straight
    } else {
        high
    };
    // What lies below is the point of the drill.
    hole.extra_volume = opening * (deep + (high - deep) / 3.0);
    hole.depth = Some(Quantity::new(deep, 2.0 * face.body.quantum));
    place(face, piece, &mut hole);
    Some(hole)
}

pub(super) fn plain(
    face: &Face,
    kind: HoleKind,
    contour: &[OutlineSegment],
    centre: Point2<f64>,
) -> Hole {
    Hole {
        kind,
        diameter: None,
        length: None,
        head: None,
        head_angle: None,
        depth: None,
        centre,
        place_plus_minus: face.place_plus_minus,
        along: None,
        point: Point3::origin(),
        axis: Vector3::zeros(),
        from_front: None,
        rough: false,
        skew: 0.0,
        area_plus_minus: 0.0,
        departure: contour.iter().map(|s| s.residual).fold(0.0, f64::max),
        contour: contour.to_vec(),
        area: moments(contour).area,
        extra_volume: 0.0,
        extra_surface: 0.0,
        through: face.thickness,
    }
}

/// Axis and point of a hole square to the sheet.
pub(super) fn place(face: &Face, piece: usize, hole: &mut Hole) {
    let front = hole.from_front.unwrap_or(true);
    hole.point = face.solid(piece, &hole.centre, front);
    let normal = face.normal(piece, &hole.point);
    hole.axis = if front { -normal } else { normal };
}

/// A hole that is no flat piece's own: its contour on the flat, and where its middle stands.
pub(super) fn across_bend(face: &Face, wall: &Wall, contour: Vec<OutlineSegment>) -> Option<Hole> {
    let ring = wall.front.first().and_then(|&r| face.skin.front.get(r))?;
    let centre = moments(&contour).centroid;
    let nearest = ring.iter().min_by(|a, b| {
        let far = |s: &super::skin::Step| {
            (face
                .map(s.piece)
                .flat(&face.body.vertices[s.vertex as usize])
                - centre)
                .norm()
        };
        far(a).total_cmp(&far(b))
    })?;
    let mut hole = plain(face, HoleKind::Cutout, &contour, centre);
    if let Form::Circle {
        radius, plus_minus, ..
    } = contour::form(&contour, face.tolerance)
    {
        hole.kind = HoleKind::Round;
        hole.diameter = Some(Quantity::new(
            2.0 * radius,
            2.0 * plus_minus + face.body.quantum,
        ));
    }
    place(face, nearest.piece, &mut hole);
    Some(hole)
}
