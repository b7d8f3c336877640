//! The flat of a plate as closed contours, either hand.

use nalgebra::Vector2;

use crate::drawing::bulge;
use crate::drawing::scene::{Corner, Place, Shape};
use crate::plate::{HoleKind, Plate, PlateFace, PlateHole, Segment, Sense};

/// Which of the two hands of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// As measured.
    AsModelled,
    /// Its mirror image.
    Opposite,
}

/// A hole on the flat.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatHole {
    /// Kind.
    pub kind: HoleKind,
    /// The through contour; `None` when nothing goes through (a blind hole).
    pub through: Option<Shape>,
    /// The wider circle at the front face (countersink, counterbore), or the edge of a blind hole;
    /// `None` where it is on the back.
    pub head: Option<Shape>,
    /// Its middle, for round holes.
    pub centre: Option<Place>,
    /// Through diameter of a round hole, mm.
    pub diameter: Option<f64>,
}

/// A bend line on the flat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendLine {
    /// Start.
    pub from: Place,
    /// End.
    pub to: Place,
    /// Towards or away from the front face.
    pub sense: Sense,
    /// Angle turned, degrees.
    pub angle: f64,
    /// Inside radius, mm.
    pub inside_radius: f64,
}

/// The contours of a flat plate, mm, front face up.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatPlate {
    /// Outer contour.
    pub outer: Shape,
    /// Holes, in the order of the report.
    pub holes: Vec<FlatHole>,
    /// Bend lines.
    pub bends: Vec<BendLine>,
}

/// Why no outline can be written for a plate, one sentence.
pub type WhyNot = &'static str;

/// The contours of `plate`; mirrored left to right for the opposite hand.
pub fn flat_plate(plate: &Plate, hand: Hand) -> Result<FlatPlate, WhyNot> {
    let outer = contour(&plate.outline).ok_or("its outer contour was not found")?;
    let holes: Option<Vec<FlatHole>> = plate.holes.iter().map(hole).collect();
    let holes = holes.ok_or("the place or the size of one of its holes is not known")?;
    let bends = plate.bends.iter().map(|bend| {
        let [from, to] = bend.line;
        BendLine {
            from: from.into(),
            to: to.into(),
            sense: bend.sense,
            angle: bend.angle.value,
            inside_radius: bend.inside_radius.value,
        }
    });
    let flat = FlatPlate {
        outer,
        holes,
        bends: bends.collect(),
    };
    let finite = |shape: &Shape| {
        let (low, high) = bulge::extent(shape);
        [low.x, low.y, high.x, high.y].iter().all(|v| v.is_finite())
    };
    let all = flat
        .holes
        .iter()
        .flat_map(|h| h.through.iter().chain(&h.head));
    if !finite(&flat.outer) || !all.into_iter().all(finite) {
        return Err("a coordinate of its outline is not a number");
    }
    Ok(match hand {
        Hand::AsModelled => flat,
        Hand::Opposite => mirrored(flat),
    })
}

/// A closed contour; one arc of a full turn is a circle. `None` without segments.
fn contour(segments: &[Segment]) -> Option<Shape> {
    if let [
        Segment::Arc {
            radius,
            angle,
            centre,
            ..
        },
    ] = segments
        && angle.value.abs() > 359.99
    {
        return Some(Shape::Circle {
            centre: (*centre).into(),
            radius: radius.value,
        });
    }
    let corners: Vec<Corner> = segments
        .iter()
        .flat_map(|segment| match segment {
            Segment::Line { start, .. } => vec![Corner {
                at: (*start).into(),
                bulge: 0.0,
            }],
            Segment::Arc {
                angle,
                start,
                end,
                centre,
                ..
            } => bulge::corners_of(
                (*start).into(),
                (*end).into(),
                (*centre).into(),
                angle.value.to_radians(),
            ),
        })
        .collect();
    (corners.len() > 1).then_some(Shape::Path {
        corners,
        closed: true,
    })
}

fn hole(hole: &PlateHole) -> Option<FlatHole> {
    let centre = hole
        .x
        .zip(hole.y)
        .map(|(x, y)| Place::new(x.value, y.value));
    let circle = |diameter: f64| {
        centre.map(|centre| Shape::Circle {
            centre,
            radius: diameter / 2.0,
        })
    };
    let diameter = hole.diameter.map(|d| d.value).filter(|d| *d > 0.0);
    // What is made from the back is not marked on the front, where it would be drilled from.
    let back = hole.made_from == Some(PlateFace::Back);
    let head = hole
        .countersink_diameter
        .filter(|_| !back)
        .and_then(|d| circle(d.value));
    let round = |through: Option<Shape>, head: Option<Shape>| FlatHole {
        kind: hole.kind,
        through,
        head,
        centre,
        diameter,
    };
    Some(match hole.kind {
        HoleKind::Round => round(Some(circle(diameter?)?), None),
        HoleKind::Countersunk | HoleKind::Counterbored => round(Some(circle(diameter?)?), head),
        HoleKind::Blind if back => FlatHole {
            kind: hole.kind,
            through: None,
            head: None,
            centre,
            diameter: None,
        },
        HoleKind::Blind if diameter.is_none() => round(None, Some(contour(&hole.outline)?)),
        HoleKind::Blind => round(None, Some(circle(diameter?)?)),
        HoleKind::Slot | HoleKind::Cutout => FlatHole {
            kind: hole.kind,
            through: Some(match contour(&hole.outline) {
                Some(shape) => shape,
                None => slot(hole, centre?)?,
            }),
            head: None,
            centre: None,
            diameter: None,
        },
    })
}

/// A straight slot with round ends from its sizes, where its contour isn't given.
fn slot(hole: &PlateHole, centre: Place) -> Option<Shape> {
    if hole.kind != HoleKind::Slot {
        return None;
    }
    let (width, length) = (hole.diameter?.value, hole.length?.value);
    let turn = hole.direction?.to_radians();
    let (u, r) = (Vector2::new(turn.cos(), turn.sin()), width / 2.0);
    let (along, across) = (u * (length / 2.0 - r), Vector2::new(-u.y, u.x) * r);
    let corner = |at: Place, bulge: f64| Corner { at, bulge };
    let corners = vec![
        corner(centre - along - across, 0.0),
        corner(centre + along - across, 1.0),
        corner(centre + along + across, 0.0),
        corner(centre - along + across, 1.0),
    ];
    (length > width).then_some(Shape::Path {
        corners,
        closed: true,
    })
}

/// Left and right changed over, kept where it was.
fn mirrored(flat: FlatPlate) -> FlatPlate {
    let (low, high) = bulge::extent(&flat.outer);
    let sum = low.x + high.x;
    let place = |p: Place| Place::new(sum - p.x, p.y);
    let shape = |s: Shape| match s {
        Shape::Circle { centre, radius } => Shape::Circle {
            centre: place(centre),
            radius,
        },
        // Backwards, so that it stays anticlockwise: each bulge moves to the corner before it, and
        // turning round and mirroring change its sign twice.
        Shape::Path { corners, closed } => {
            let n = corners.len();
            let corners = (0..n)
                .filter_map(|k| {
                    let at = corners.get(n - 1 - k)?.at;
                    let bulge = corners.get((2 * n - 2 - k) % n)?.bulge;
                    Some(Corner {
                        at: place(at),
                        bulge,
                    })
                })
                .collect();
            Shape::Path { corners, closed }
        }
        other => other,
    };
    FlatPlate {
        outer: shape(flat.outer),
        holes: flat
            .holes
            .into_iter()
            .map(|h| FlatHole {
                through: h.through.map(shape),
                head: h.head.map(shape),
                centre: h.centre.map(place),
                ..h
            })
            .collect(),
        bends: flat
            .bends
            .into_iter()
            .map(|b| BendLine {
                from: place(b.to),
                to: place(b.from),
                ..b
            })
            .collect(),
    }
}

/// Length of a closed contour, mm.
pub fn length(shape: &Shape) -> f64 {
    match shape {
        Shape::Circle { radius, .. } => std::f64::consts::TAU * radius,
        Shape::Path { corners, closed } => bulge::length(corners, *closed),
        _ => 0.0,
    }
}

/// Area inside a closed contour, mm².
pub fn area(shape: &Shape) -> f64 {
    match shape {
        Shape::Circle { radius, .. } => std::f64::consts::PI * radius * radius,
        Shape::Path { corners, .. } => bulge::area(corners).abs(),
        _ => 0.0,
    }
}
