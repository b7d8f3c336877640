//! Members: a section moved along a path.

pub mod caps;
pub mod centres;
pub mod derivative;
pub mod describe;
pub mod ends;
pub mod fit;
pub mod flats;
pub mod free;
pub mod freedom;
pub mod guide;
pub mod guided;
pub mod holes;
pub mod lateral;
pub mod legs;
pub mod model;
pub mod numbers;
pub mod one_arc;
pub mod ordinates;
pub mod orient;
pub mod path;
pub mod profile;
pub mod recognise;
pub mod residual;
pub mod rounded;
pub mod saddle;
pub mod skin;
pub mod spans;
pub mod stretch;
pub mod trace;
pub mod track;
pub mod window;

use schemars::JsonSchema;
use serde::Serialize;

use crate::measure::Quantity;

/// Shape of a member's section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Round tube.
    Round,
    /// Square tube.
    Square,
    /// Rectangular tube.
    Rect,
    /// Solid round.
    RoundBar,
    /// Solid square.
    SquareBar,
    /// Solid rectangle.
    FlatBar,
    /// L section with a sharp outer corner.
    Angle,
    /// U section with sharp outer corners.
    Channel,
    /// Any other section.
    Other,
}

/// Nearest published size.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Stock {
    /// Size as a supplier lists it.
    pub designation: String,
    /// Standard and edition the size stands in.
    pub standard: String,
    /// True when every measured size agrees within its ± and the standard's rounding.
    pub exact: bool,
    /// Largest difference between a measured and a published size, mm.
    pub off_by: f64,
    /// Other published sizes that fit as well.
    pub also: Vec<String>,
}

/// Section of a member; sizes in mm, null where the shape has none or it can't be seen.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Section {
    /// Shape.
    pub shape: Shape,
    /// Outside diameter (round shapes).
    pub diameter: Option<Quantity>,
    /// Outside width.
    pub width: Option<Quantity>,
    /// Outside height; in the plane of the first arc.
    pub height: Option<Quantity>,
    /// Wall (of a tube) or leg thickness (of an angle or channel); null on a channel whose web and
    /// flanges differ.
    pub wall: Option<Quantity>,
    /// Thickness of a channel's web.
    pub web_thickness: Option<Quantity>,
    /// Thickness of a channel's flanges.
    pub flange_thickness: Option<Quantity>,
    /// Outer corner radius (heel of an angle or channel; toes are not given).
    pub corner_radius: Option<Quantity>,
    /// Inner corner radius (root radius of an angle or channel).
    pub inner_corner_radius: Option<Quantity>,
    /// Metal area, mm².
    pub area: Option<Quantity>,
    /// Nearest published size.
    pub stock: Option<Stock>,
    /// Outline of the section as contours of [x, y] points in the section's own axes
    /// (x along width, y along height, origin on the centreline), outer contour first, mm.
    pub contours: Vec<Vec<[f64; 2]>>,
}

/// The curve through the section centroids between the two end cuts.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Centreline {
    /// Length along the curve, mm.
    pub length: Option<Quantity>,
    /// Straight distance between its two ends, mm.
    pub chord: Option<Quantity>,
    /// Greatest distance of the curve from its chord, mm; null unless the curve lies in one plane.
    pub rise: Option<Quantity>,
    /// True for a full ring.
    pub closed: bool,
}

/// Where each span begins, as length along the centreline from end 0, mm: what an operator marks on the
/// blank before bending. Half-widths add up, since lengths that meet at a tangent point lean on each
/// other.
pub fn starts(spans: &[Span]) -> Vec<Quantity> {
    let mut at = Quantity::new(0.0, 0.0);
    spans
        .iter()
        .map(|span| {
            let here = at;
            let length = span.length();
            at = Quantity::new(at.value + length.value, at.plus_minus + length.plus_minus);
            here
        })
        .collect()
}

/// Hand of a helix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Hand {
    Left,
    Right,
}

/// One piece of the path, in order from end 0.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Span {
    /// A straight piece.
    Straight {
        /// Length, mm.
        length: Quantity,
    },
    /// A circular arc.
    Arc {
        /// Arc length on the centreline, mm.
        length: Quantity,
        /// Centreline radius, mm.
        radius: Option<Quantity>,
        /// Angle turned, degrees.
        angle: Quantity,
        /// Radius of the innermost line of the section, mm.
        inside_radius: Option<Quantity>,
        /// Radius of the outermost line of the section, mm.
        outside_radius: Option<Quantity>,
        /// Turn from the previous bend plane into this one about the direction of travel,
        /// right-handed, degrees in (−180, 180]; null for the first arc.
        rotation: Option<Quantity>,
        /// Curvature 1/radius, 1/mm.
        curvature: Quantity,
        /// Rise of this arc over its own chord, mm.
        rise: Quantity,
        /// Centre of the arc, file frame, mm.
        centre: [f64; 3],
        /// Unit axis of the bend, right-handed with the travel from end 0 to end 1.
        axis: [f64; 3],
    },
    /// A screw curve.
    Helix {
        /// Length on the centreline, mm.
        length: Quantity,
        /// Centreline to axis, mm.
        radius: Quantity,
        /// Advance per turn, mm.
        pitch: Quantity,
        /// Number of turns.
        turns: Quantity,
        /// Hand.
        hand: Hand,
        /// A point on the axis, file frame, mm.
        centre: [f64; 3],
        /// Unit direction of the axis.
        axis: [f64; 3],
    },
    /// Any other curve.
    Free {
        /// Length on the centreline, mm.
        length: Quantity,
        /// Smallest radius of curvature, mm.
        radius_min: Option<Quantity>,
        /// Largest radius of curvature, mm.
        radius_max: Option<Quantity>,
        /// Points along the centreline, file frame, mm.
        points: Vec<[f64; 3]>,
    },
}

impl Span {
    /// Length on the centreline, mm.
    pub fn length(&self) -> Quantity {
        let (Span::Straight { length }
        | Span::Arc { length, .. }
        | Span::Helix { length, .. }
        | Span::Free { length, .. }) = self;
        *length
    }
}

/// Shape of an end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EndShape {
    /// One plane cut.
    Plane,
    /// Two plane cuts.
    Double,
    /// Coped to a cylinder.
    Saddle,
    /// Anything else.
    Other,
}

/// One plane cut at an end. t (outward tangent), w and h are those of the end.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Cut {
    /// Angle between the outward cut normal and t, degrees (0 = square).
    pub off_square: Quantity,
    /// atan2(n·w, n·t), degrees.
    pub tilt_width: Quantity,
    /// atan2(n·h, n·t), degrees.
    pub tilt_height: Quantity,
    /// Outward unit normal, file frame.
    pub normal: [f64; 3],
    /// Where the plane meets the line through the end along t, file frame, mm.
    pub point: [f64; 3],
}

/// A cope that fits another tube.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Saddle {
    /// Diameter of the cylinder the cope fits, mm.
    pub diameter: Quantity,
    /// Angle between the axes, degrees (90 = square).
    pub angle: Quantity,
    /// Sideways distance of the axes, mm.
    pub offset: Quantity,
    /// A point on the other axis, file frame, mm.
    pub point: [f64; 3],
    /// Unit direction of the other axis.
    pub axis: [f64; 3],
}

/// One end of a member.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct End {
    /// What kind of end.
    pub shape: EndShape,
    /// Where the centreline ends, file frame, mm.
    pub point: [f64; 3],
    /// Unit tangent out of the member, file frame.
    pub tangent: [f64; 3],
    /// Unit direction of the section's width at this end, file frame.
    pub width_axis: [f64; 3],
    /// Unit direction of the section's height at this end, file frame.
    pub height_axis: [f64; 3],
    /// Plane cuts, least off square first.
    pub cuts: Vec<Cut>,
    /// The cope, if this end is one.
    pub saddle: Option<Saddle>,
    /// For an end of any other shape: where the outer edge of its metal runs, in order about the
    /// centreline from the width axis towards the height axis.
    pub ordinates: Vec<Ordinate>,
}

/// A point of the edge of an end, in the end's own axes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Ordinate {
    /// Across the width, from the centreline, mm.
    pub x: f64,
    /// Across the height, mm.
    pub y: f64,
    /// How far the metal reaches beyond the end's point here, along its tangent, mm; negative where it
    /// stops short of it.
    pub beyond: Quantity,
}

/// Kind of a hole in a member.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HoleKind {
    /// Round hole.
    Round,
    /// Straight slot with round ends.
    Slot,
    /// Any other opening.
    Cutout,
}

/// A hole through one or both walls of a member.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MemberHole {
    /// Kind.
    pub kind: HoleKind,
    /// Diameter (a slot's width), mm.
    pub diameter: Option<Quantity>,
    /// Overall length of a slot, or of a cut-out: longer side of the smallest rectangle around it,
    /// seen along its axis, mm.
    pub length: Option<Quantity>,
    /// Shorter side of that rectangle (cut-outs only), mm.
    pub width: Option<Quantity>,
    /// Corner radius of a rectangular cut-out, 0 where its corners are sharp, mm; null where it is no
    /// rectangle with four like corners.
    pub corner_radius: Option<Quantity>,
    /// Angle of a slot's or cut-out's longer side against the travel from end 0 to end 1, seen from
    /// outside, anticlockwise, in (−90, 90] degrees: 0 lies along the member, 90 across it.
    pub direction: Option<f64>,
    /// Length of the axis in the metal that was drilled through, mm; null in walls that are not flat.
    pub metal: Option<Quantity>,
    /// Length of the centreline from end 0 to the hole axis, mm.
    pub station: Option<Quantity>,
    /// Direction of the hole about the tangent, from the width axis towards the height axis, degrees.
    pub around: Option<Quantity>,
    /// Walls drilled, 1 or 2; both walls of a tube, both flanges of a channel or legs of an angle.
    /// Right through a solid bar counts as 2.
    pub walls: u32,
    /// Where the axis enters the (drilled) outer surface, file frame, mm.
    pub point: [f64; 3],
    /// Unit direction of the axis, into the metal at `point`.
    pub axis: [f64; 3],
    /// Distance along the drilled face from the nearest end's edge to the hole axis, mm.
    pub from_nearest_end: Option<Quantity>,
}

/// A swept member.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Member {
    /// Section.
    pub section: Section,
    /// Centreline.
    pub centreline: Centreline,
    /// Path, in order from end 0 to end 1.
    pub spans: Vec<Span>,
    /// The two ends; none when closed.
    pub ends: Vec<End>,
    /// Longest line of the lateral surface (straight members), mm.
    pub longest_edge: Option<Quantity>,
    /// Shortest line of the lateral surface (straight members), mm.
    pub shortest_edge: Option<Quantity>,
    /// How far the second end's cut is turned against the first about the axis, degrees.
    pub twist: Option<Quantity>,
    /// Holes, in order from end 0.
    pub holes: Vec<MemberHole>,
}
