//! Hand-made reports for the tests of the exporters.

use super::{Assembly, LengthUnit, Report, Source, UnitBasis, assemble};
use crate::finding::{Code, Finding, Severity};
use crate::instance::Counted;
use crate::measure::{Quantity, STEEL_DENSITY, quantity};
use crate::member::{
    Centreline, Cut, End, EndShape, HoleKind, Member, MemberHole, Section, Shape, Span, Stock,
};
use crate::part::{Class, Part};
use crate::plate::{self, Flat, Form, Frame, Plate, PlateHole, Segment};
use crate::read::Format;

fn q(value: f64, plus_minus: f64) -> Option<Quantity> {
    Some(quantity(value, plus_minus))
}

fn cut(off_square: f64, tilt_width: f64, tilt_height: f64) -> Cut {
    Cut {
        off_square: quantity(off_square, 0.012),
        tilt_width: quantity(tilt_width, 0.012),
        tilt_height: quantity(tilt_height, 0.012),
        normal: [0.0, 0.0, 1.0],
        point: [0.0, 0.0, 100.0],
    }
}

fn end(cuts: Vec<Cut>) -> End {
    End {
        shape: EndShape::Plane,
        point: [0.0, 0.0, 100.0],
        tangent: [0.0, 0.0, 1.0],
        width_axis: [1.0, 0.0, 0.0],
        height_axis: [0.0, 1.0, 0.0],
        cuts,
        saddle: None,
        ordinates: Vec::new(),
    }
}

fn square_tube() -> Section {
    Section {
        shape: Shape::Square,
        diameter: None,
        width: q(50.0, 0.004),
        height: q(50.001, 0.004),
        wall: q(3.0, 0.006),
        web_thickness: None,
        flange_thickness: None,
        corner_radius: q(6.0, 0.05),
        inner_corner_radius: q(3.0, 0.05),
        area: q(541.0, 0.9),
        stock: Some(Stock {
            designation: "50 x 50 x 3".into(),
            standard: "EN 10219-2".into(),
            exact: true,
            off_by: 0.001,
            also: vec![],
        }),
        contours: vec![],
    }
}

fn arc(length: f64, radius: Option<Quantity>, angle: f64, rotation: Option<Quantity>) -> Span {
    Span::Arc {
        length: quantity(length, 0.05),
        radius,
        angle: quantity(angle, 0.004),
        inside_radius: radius.map(|r| quantity(r.value - 25.0, r.plus_minus)),
        outside_radius: radius.map(|r| quantity(r.value + 25.0, r.plus_minus)),
        rotation,
        curvature: quantity(1.0 / 1500.0, 1e-8),
        rise: quantity(10.0, 0.02),
        centre: [0.0, 0.0, 0.0],
        axis: [0.0, 0.0, 1.0],
    }
}

fn member(section: Section, spans: Vec<Span>, length: f64) -> Member {
    Member {
        section,
        centreline: Centreline {
            length: q(length, 0.06),
            chord: q(0.9 * length, 0.05),
            rise: q(439.34, 0.04),
            closed: false,
        },
        spans,
        ends: vec![
            end(vec![cut(0.002, 0.0, 0.001)]),
            end(vec![cut(0.003, 0.002, 0.0), cut(32.52, 12.5, -30.0)]),
        ],
        longest_edge: None,
        shortest_edge: None,
        twist: q(90.0, 0.02),
        holes: vec![],
    }
}

fn counted(mark: &str, pieces: (u32, u32), part: Part) -> Counted {
    Counted {
        bodies: (part.body..part.body + pieces.0 + pieces.1).collect(),
        part,
        mark: mark.into(),
        quantity: pieces.0,
        opposite_hand: pieces.1,
        pieces: Vec::new(),
        places: Vec::new(),
    }
}

fn part(body: u32, class: Class) -> Part {
    Part {
        body,
        name: None,
        class,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: vec![],
        unresolved: None,
    }
}

fn rolled_rib() -> Counted {
    let radius = q(1500.002, 0.031);
    let part = Part {
        name: Some("rib".into()),
        volume: q(1_274_690.0, 1500.0),
        surface_area: q(871_200.0, 700.0),
        member: Some(member(
            square_tube(),
            vec![arc(2356.19, radius, 90.0, None)],
            2356.19,
        )),
        ..part(0, Class::RolledMember)
    };
    counted("M1", (4, 4), part)
}

fn handrail() -> Counted {
    let section = Section {
        shape: Shape::Round,
        diameter: q(48.3, 0.004),
        width: None,
        height: None,
        wall: None,
        web_thickness: None,
        flange_thickness: None,
        corner_radius: None,
        inner_corner_radius: None,
        area: None,
        stock: None,
        contours: vec![],
    };
    let straight = |length| Span::Straight {
        length: quantity(length, 0.05),
    };
    let spans = vec![
        straight(300.0),
        arc(157.08, q(100.0, 0.02), 90.0, None),
        straight(1200.0),
        arc(78.54, None, 45.0, q(-90.0, 0.05)),
        straight(31.4),
    ];
    let mut member = member(section, spans, 1767.02);
    member.centreline.rise = None;
    member.holes = vec![
        MemberHole {
            kind: HoleKind::Round,
            diameter: q(11.0, 0.03),
            length: None,
            width: None,
            corner_radius: None,
            direction: None,
            metal: None,
            station: q(150.0, 0.05),
            around: q(90.0, 0.1),
            walls: 2,
            point: [0.0; 3],
            axis: [0.0, 0.0, 1.0],
            from_nearest_end: q(150.0, 0.04),
        },
        MemberHole {
            kind: HoleKind::Slot,
            diameter: q(12.0, 0.03),
            length: q(30.0, 0.04),
            width: None,
            corner_radius: None,
            direction: None,
            metal: None,
            station: q(1000.0, 0.05),
            around: q(-45.0, 0.1),
            walls: 1,
            point: [0.0; 3],
            axis: [0.0, 0.0, 1.0],
            from_nearest_end: None,
        },
    ];
    let part = Part {
        member: Some(member),
        findings: vec![
            Finding::new(
                Code::WallNotVisible,
                Severity::Warning,
                "Both ends are closed by facets, so the inside of the tube can't be seen and neither wall nor mass can be given.",
                "Export the tube with open ends, or measure the wall on the stock.",
            ),
            Finding::new(
                Code::ArcUnclear,
                Severity::Note,
                "The second bend is too short to tell its radius.",
                "Measure the bend on the drawing.",
            ),
        ],
        ..part(8, Class::BentMember)
    };
    counted("M2", (1, 0), part)
}

fn base_plate() -> Counted {
    let hole = |kind, x: f64, y: f64| PlateHole {
        kind,
        diameter: q(14.0, 0.03),
        length: None,
        width: None,
        corner_radius: None,
        countersink_diameter: (kind == plate::HoleKind::Countersunk).then(|| quantity(28.0, 0.04)),
        countersink_angle: (kind == plate::HoleKind::Countersunk).then(|| quantity(90.0, 0.1)),
        depth: None,
        made_from: None,
        x: q(x, 0.04),
        y: q(y, 0.04),
        direction: None,
        from_centroid: q(107.7, 0.04),
        point: [0.0; 3],
        axis: [0.0, 0.0, -1.0],
        outline: vec![],
    };
    let line = |start: [f64; 2], end: [f64; 2]| Segment::Line {
        length: quantity((end[0] - start[0]).hypot(end[1] - start[1]), 0.02),
        start,
        end,
    };
    let plate = Plate {
        form: Form::Flat,
        thickness: q(10.0, 0.004),
        flat: Flat {
            length: q(254.0, 0.02),
            width: q(120.0, 0.02),
            perimeter: q(740.8, 0.06),
            area: q(29_844.0, 12.0),
            k_factor: None,
            k_from: None,
            departure: None,
        },
        outline: vec![
            line([0.0, 0.0], [254.0, 0.0]),
            line([254.0, 0.0], [254.0, 112.0]),
            Segment::Arc {
                length: quantity(12.57, 0.03),
                radius: quantity(8.0, 0.02),
                angle: quantity(90.0, 0.2),
                start: [254.0, 112.0],
                end: [246.0, 120.0],
                centre: [246.0, 112.0],
            },
            line([246.0, 120.0], [0.0, 120.0]),
            line([0.0, 120.0], [0.0, 0.0]),
        ],
        holes: vec![
            hole(plate::HoleKind::Countersunk, 20.0, 20.0),
            hole(plate::HoleKind::Round, 180.0, 100.0),
        ],
        frame: Some(Frame {
            origin: [0.0; 3],
            x: [1.0, 0.0, 0.0],
            y: [0.0, 1.0, 0.0],
            z: [0.0, 0.0, 1.0],
        }),
        inside_radius: None,
        outside_radius: None,
        arc_angle: None,
        half_angle: None,
        slant_length: None,
        sector_angle: None,
        sector_inner_radius: None,
        sector_outer_radius: None,
        bends: vec![],
        flanges: vec![],
        roll_axis: None,
    };
    let part = Part {
        volume: q(298_440.0, 120.0),
        surface_area: q(67_100.0, 30.0),
        plate: Some(plate),
        ..part(9, Class::FlatPlate)
    };
    counted("P1", (4, 0), part)
}

fn lump() -> Counted {
    let part = Part {
        unresolved: Some("No sweep of one section and no pair of parallel faces was found.".into()),
        ..part(13, Class::Other)
    };
    counted("X1", (1, 0), part)
}

/// A rolled rib in both hands, a rail with two bends, a base plate and a lump.
pub(super) fn canopy() -> Report {
    let unit = LengthUnit {
        mm_per_file_unit: 1.0,
        basis: UnitBasis::Inferred,
        reason: "In millimetres the rib is a listed square tube, 50 x 50 x 3.".into(),
    };
    let mut facets = vec![1200; 13];
    facets.push(120);
    assemble(Assembly {
        source: Source {
            path: "canopy.stl".into(),
            format: Format::StlBinary,
            facets: 15_720,
        },
        length_unit: unit,
        findings: vec![Finding::new(
            Code::DuplicateFacets,
            Severity::Note,
            "12 facets stand in the file twice; one of each was left out.",
            "Nothing to do.",
        )],
        counted: vec![rolled_rib(), handrail(), base_plate(), lump()],
        body_facets: facets,
        density: STEEL_DENSITY,
    })
}
