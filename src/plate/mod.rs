//! Plates: an outline moved through its thickness, flat, rolled or folded.

use schemars::JsonSchema;
use serde::Serialize;

use crate::measure::Quantity;

mod bend;
mod bridge;
mod cone;
mod contour;
mod distort;
mod face;
mod finish;
mod flanges;
mod folded;
mod hole;
mod k_factor;
mod measured;
mod order;
mod rim;
mod rolled;
mod sheet;
mod shell;
mod shop_table;
mod skin;
mod solid;
mod through;
mod unfold;
mod walk;

pub use k_factor::{KFrom, Neutral, ShopRow, din_6935};
pub use measured::{Measured, Strip, measure, measure_with};
pub use shop_table::{ShopTableError, shop_table};

/// Form of a plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Flat.
    Flat,
    /// Rolled to a cylinder.
    Cylinder,
    /// Rolled to a cone.
    Cone,
    /// Folded along lines.
    Bent,
}

/// The flat (developed) plate; lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Flat {
    /// Longer side of the smallest-area rectangle around the flat outline.
    pub length: Option<Quantity>,
    /// Shorter side of that rectangle.
    pub width: Option<Quantity>,
    /// Outer outline length.
    pub perimeter: Option<Quantity>,
    /// Net area, holes taken out, mm².
    pub area: Option<Quantity>,
    /// Distance of the neutral surface from the inside ÷ thickness; null when the bends differ.
    pub k_factor: Option<f64>,
    /// Where that factor comes from; null on a flat plate and when the bends differ in it.
    pub k_from: Option<KFrom>,
    /// How far the edges of the mesh, laid flat, leave the lines, arcs and circles given here at most,
    /// mm; null where that was not measured.
    pub departure: Option<f64>,
}

/// One segment of the outer contour, with its coordinates on the flat (x along the rectangle's
/// length, y along its width, origin at its lower-left corner).
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Segment {
    /// A straight line.
    Line {
        /// Length, mm.
        length: Quantity,
        /// Start on the flat, mm.
        start: [f64; 2],
        /// End on the flat, mm.
        end: [f64; 2],
    },
    /// A circular arc; a full circle is one arc of 360.
    Arc {
        /// Arc length, mm.
        length: Quantity,
        /// Radius, mm.
        radius: Quantity,
        /// Angle turned, degrees; positive anticlockwise (convex on an anticlockwise contour).
        angle: Quantity,
        /// Start on the flat, mm.
        start: [f64; 2],
        /// End on the flat, mm.
        end: [f64; 2],
        /// Centre on the flat, mm.
        centre: [f64; 2],
    },
}

impl Segment {
    /// Start and end on the flat, mm.
    pub fn ends(&self) -> [[f64; 2]; 2] {
        let (Segment::Line { start, end, .. } | Segment::Arc { start, end, .. }) = self;
        [*start, *end]
    }
}

/// Kind of a hole in a plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum HoleKind {
    Round,
    Slot,
    Countersunk,
    Counterbored,
    Blind,
    Cutout,
}

/// A face of a plate as it lies on the flat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlateFace {
    /// The face that is up on the flat.
    Front,
    /// The face below.
    Back,
}

impl PlateFace {
    /// The same in words.
    pub fn words(self) -> &'static str {
        match self {
            PlateFace::Front => "front",
            PlateFace::Back => "back",
        }
    }
}

/// A hole in a plate; places on the flat.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlateHole {
    /// Kind.
    pub kind: HoleKind,
    /// Diameter (a slot's width), mm.
    pub diameter: Option<Quantity>,
    /// Length of a slot over its ends, or of a cut-out: longer side of the smallest-area rectangle
    /// around it, mm.
    pub length: Option<Quantity>,
    /// Shorter side of that rectangle (cut-outs and blind pockets that are not round), mm.
    pub width: Option<Quantity>,
    /// Corner radius of a rectangular cut-out, 0 where its corners are sharp, mm; null where it is no
    /// rectangle with four like corners.
    pub corner_radius: Option<Quantity>,
    /// Head diameter of a countersink, bore of a counterbore, mm.
    pub countersink_diameter: Option<Quantity>,
    /// Full angle of a countersink, degrees.
    pub countersink_angle: Option<Quantity>,
    /// Depth of a blind hole or counterbore, mm.
    pub depth: Option<Quantity>,
    /// Face it is countersunk, counterbored or, blind, drilled from; null where both look alike.
    pub made_from: Option<PlateFace>,
    /// Along the rectangle's length from its lower-left corner, mm.
    pub x: Option<Quantity>,
    /// Along the rectangle's width, mm.
    pub y: Option<Quantity>,
    /// Direction of a slot, or of a cut-out's longer side, on the flat against x, degrees.
    pub direction: Option<f64>,
    /// Distance from the centroid of the area inside the outer outline, mm.
    pub from_centroid: Option<Quantity>,
    /// A point of the axis on the solid's surface, file frame, mm.
    pub point: [f64; 3],
    /// Unit axis, file frame, into the plate from the countersunk or blind side.
    pub axis: [f64; 3],
    /// Contour on the flat (slots and cut-outs), empty for round holes.
    pub outline: Vec<Segment>,
}

/// Which way a bend goes, seen with the front face up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Sense {
    Up,
    Down,
}

/// One bend of a folded plate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Bend {
    /// Angle turned, degrees.
    pub angle: Quantity,
    /// Inside radius, mm.
    pub inside_radius: Quantity,
    /// K-factor used for this bend.
    pub k_factor: f64,
    /// Where it comes from.
    pub k_from: KFrom,
    /// Up or down.
    pub sense: Sense,
    /// Bend line on the flat: start and end, mm.
    pub line: [[f64; 2]; 2],
    /// Point on the bend axis, file frame, mm.
    pub point: [f64; 3],
    /// Unit direction of the bend axis, file frame.
    pub axis: [f64; 3],
}

/// A plate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Plate {
    /// Form.
    pub form: Form,
    /// Thickness, mm.
    pub thickness: Option<Quantity>,
    /// The flat.
    pub flat: Flat,
    /// Segments of the outer contour, anticlockwise.
    pub outline: Vec<Segment>,
    /// Holes.
    pub holes: Vec<PlateHole>,
    /// Frame of the flat in the file: origin (lower-left corner on the front face), x, y, z (out of
    /// the front face); for rolled and folded plates, of the first flat part or start edge.
    pub frame: Option<Frame>,
    /// Inside radius (cylinder), mm.
    pub inside_radius: Option<Quantity>,
    /// Outside radius (cylinder), mm.
    pub outside_radius: Option<Quantity>,
    /// Angle of the rolled arc (cylinder), degrees.
    pub arc_angle: Option<Quantity>,
    /// Half angle of the cone, degrees.
    pub half_angle: Option<Quantity>,
    /// Slant length on the mid-surface (cone), mm.
    pub slant_length: Option<Quantity>,
    /// Angle of the flat sector (cone), degrees.
    pub sector_angle: Option<Quantity>,
    /// Inner radius of the flat sector (cone), mm.
    pub sector_inner_radius: Option<Quantity>,
    /// Outer radius of the flat sector (cone), mm.
    pub sector_outer_radius: Option<Quantity>,
    /// Bends, in order across the plate.
    pub bends: Vec<Bend>,
    /// Flange lengths to the outside mould line, in order, mm.
    pub flanges: Vec<Quantity>,
    /// Axis of a rolled plate or cone, file frame: a point and a unit direction.
    pub roll_axis: Option<[[f64; 3]; 2]>,
}

/// A right-handed frame in the file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs)]
pub struct Frame {
    pub origin: [f64; 3],
    pub x: [f64; 3],
    pub y: [f64; 3],
    pub z: [f64; 3],
}
