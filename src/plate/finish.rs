//! The flat in its own axes, as the report gives it.

use nalgebra::{Point2, Vector2};

use super::contour::{Doubt, reversed, single_chords};
use super::hole::Hole;
use super::k_factor::KFrom;
use super::order::{Axes, Mark, choose, sorted};
use super::{Flat, HoleKind, PlateFace, PlateHole, Segment};
use crate::geometry::min_rectangle::min_rectangle;
use crate::geometry::outline::{OutlineSegment, length, moments, window};
use crate::measure::Quantity;

/// A flat as laid out, complete but for its axes.
pub(super) struct Flattened {
    /// Outer contour, anticlockwise with the front up.
    pub outline: Vec<OutlineSegment>,
    pub holes: Vec<Hole>,
    /// Bends.
    pub marks: Vec<Mark>,
    /// 95 % half-width of a place on the flat, mm, and of its lengths besides.
    pub place_plus_minus: f64,
    pub length_plus_minus: f64,
    /// Fit tolerance of the contours.
    pub tolerance: f64,
    pub k_factor: Option<f64>,
    pub k_from: Option<KFrom>,
    /// Largest distance of an edge of the mesh from its contour beside what the contours tell, mm.
    pub departure: f64,
    /// Length of lines of the outline where a closed ring is cut open, mm: edges of the flat, not of
    /// the solid.
    pub seams: f64,
    /// How far front and back outline differ where edges are not square to the sheet, mm.
    pub oblique: f64,
    pub thickness: f64,
}

/// The flat in its own axes.
pub(super) struct Finished {
    pub flat: Flat,
    pub outline: Vec<Segment>,
    pub holes: Vec<PlateHole>,
    pub axes: Axes,
    /// Outer length and net area, with half-widths.
    pub net_area: Quantity,
    /// Length of all edges of the solid that go through the sheet, mm.
    pub edge_length: f64,
    /// Bevels that could be arcs.
    pub doubt: Doubt,
    pub oblique: f64,
}

pub(super) fn finish(flattened: Flattened) -> Option<Finished> {
    let f = &flattened;
    let rectangle = min_rectangle(&f.outline, f.tolerance)?;
    let same = 8.0 * f.place_plus_minus + f.length_plus_minus + 1e-6;
    let axes = choose(&f.outline, &f.holes, &f.marks, &rectangle, same);
    let whole = moments(&f.outline);
    let taken: f64 = f.holes.iter().map(|h| h.area).sum();
    let perimeter = length(&f.outline);
    let cut_length: f64 = perimeter + f.holes.iter().map(round_hole_length).sum::<f64>();
    let side = 1.5 * f.place_plus_minus + f.length_plus_minus;
    let spread: f64 = f
        .outline
        .iter()
        .map(|s| s.length_plus_minus.powi(2))
        .sum::<f64>()
        .sqrt();
    let doubt = single_chords(&f.outline, f.tolerance);
    let spread = spread + doubt.length;
    let net_area = Quantity::new(
        whole.area - taken,
        0.5 * cut_length * f.place_plus_minus
            + rectangle.width * f.length_plus_minus
            + doubt.area
            + f.holes.iter().map(|h| h.area_plus_minus).sum::<f64>()
            // An oblique edge keeps the area at half thickness only nearly: its own curvature counts.
            + f.oblique * f.thickness / 4.0,
    );
    let flat = Flat {
        length: Some(Quantity::new(rectangle.length, side)),
        width: Some(Quantity::new(rectangle.width, side)),
        perimeter: Some(Quantity::new(
            perimeter,
            spread + 2.0 * f.place_plus_minus + 2.0 * f.length_plus_minus,
        )),
        area: Some(net_area),
        k_factor: f.k_factor,
        k_from: f.k_from,
        departure: Some(departure(f)),
    };
    let mut order: Vec<usize> = (0..f.holes.len()).collect();
    let places: Vec<[f64; 2]> = f.holes.iter().map(|h| axes.place(&h.centre)).collect();
    let rank = sorted(
        places
            .iter()
            .enumerate()
            .map(|(i, p)| (*p, i as f64))
            .collect(),
        same,
    );
    order.sort_by_key(|&i| rank.iter().position(|r| r[2] == i as f64));
    let holes = order
        .iter()
        .map(|&i| {
            plate_hole(
                &f.holes[i],
                &axes,
                &whole.centroid,
                f,
                doubt.area / whole.area * rectangle.length,
            )
        })
        .collect();
    let outline = segments(&f.outline, &axes, f.place_plus_minus);
    Some(Finished {
        flat,
        outline,
        holes,
        axes,
        net_area,
        edge_length: cut_length - f.seams,
        doubt,
        oblique: f.oblique,
    })
}

/// How far vertices of the mesh lie from the contours given for them at most, mm.
fn departure(f: &Flattened) -> f64 {
    let of = |contour: &[OutlineSegment]| contour.iter().map(|s| s.residual).fold(0.0, f64::max);
    let holes = f.holes.iter().map(|h| h.departure.max(of(&h.contour)));
    // Corners that lie on a line between their neighbours were left out of the contours.
    holes.fold(f.departure.max(of(&f.outline)), f64::max) + f.tolerance
}

fn round_hole_length(h: &Hole) -> f64 {
    match (h.kind, h.diameter) {
        (HoleKind::Blind, _) => 0.0,
        (_, Some(d)) if h.contour.is_empty() => std::f64::consts::PI * d.value,
        _ => length(&h.contour),
    }
}

fn plate_hole(
    h: &Hole,
    axes: &Axes,
    centroid: &Point2<f64>,
    f: &Flattened,
    centroid_doubt: f64,
) -> PlateHole {
    let [x, y] = axes.place(&h.centre);
    let at = |v: f64| {
        Some(Quantity::new(
            v,
            1.5 * h.place_plus_minus + f.length_plus_minus,
        ))
    };
    let up = axes.front;
    let one_sided = h.from_front.is_some();
    let size = over_all(h, f);
    let along = h.along.or(size.as_ref().map(|s| s.along));
    PlateHole {
        kind: h.kind,
        diameter: h.diameter,
        length: h.length.or(size.as_ref().map(|s| s.length)),
        width: size.as_ref().map(|s| s.width),
        corner_radius: size.as_ref().and_then(|s| s.corner),
        countersink_diameter: h.head,
        countersink_angle: h.head_angle,
        depth: h.depth,
        x: at(x),
        y: at(y),
        made_from: h.from_front.map(|f| match f == axes.front {
            true => PlateFace::Front,
            false => PlateFace::Back,
        }),
        direction: along.map(|d| {
            let turned = half_turn(&Vector2::from(axes.turn(&d)));
            match size.as_ref().is_some_and(|s| s.square) {
                true => turned - 90.0 * (turned / 90.0).round(),
                false => turned,
            }
        }),
        from_centroid: at((h.centre - centroid).norm())
            .map(|q| Quantity::new(q.value, q.plus_minus + centroid_doubt)),
        point: (if one_sided || up {
            h.point
        } else {
            h.point + h.axis * h.through
        })
        .into(),
        axis: (if one_sided || up { h.axis } else { -h.axis }).into(),
        outline: if h.contour.is_empty() {
            Vec::new()
        } else {
            segments(&h.contour, axes, f.place_plus_minus)
        },
    }
}

/// Front and back of an opening differ by no more than this share of its width for one size to stand
/// for both.
const UNLIKE: f64 = 0.1;

/// Size of an opening that is neither round nor a slot.
struct OverAll {
    length: Quantity,
    width: Quantity,
    corner: Option<Quantity>,
    along: Vector2<f64>,
    /// True when both sides are alike.
    square: bool,
}

fn over_all(h: &Hole, f: &Flattened) -> Option<OverAll> {
    let shaped = matches!(h.kind, HoleKind::Cutout | HoleKind::Blind);
    if !shaped || h.rough || h.diameter.is_some() || h.contour.is_empty() {
        return None;
    }
    let found = window(&h.contour, f.tolerance)?;
    let side = 1.5 * h.place_plus_minus + f.length_plus_minus + found.plus_minus + 2.0 * h.skew;
    // Where front and back have little in common no size says what to cut.
    if 2.0 * h.skew > UNLIKE * found.rectangle.width {
        return None;
    }
    let square = found.rectangle.length - found.rectangle.width <= 2.0 * side;
    Some(OverAll {
        square,
        length: Quantity::new(found.rectangle.length, side),
        width: Quantity::new(found.rectangle.width, side),
        corner: found
            .corner
            .map(|(r, doubt)| Quantity::new(r, doubt.max(f.place_plus_minus / 2.0))),
        along: found.rectangle.along,
    })
}

/// Direction of a line against x, degrees in (−90, 90]; what is upright but for its ± is 90.
fn half_turn(d: &Vector2<f64>) -> f64 {
    let a = d.y.atan2(d.x).to_degrees();
    if a > 90.0 + 1e-9 {
        a - 180.0
    } else if a <= -90.0 + 1e-3 {
        a + 180.0
    } else {
        a
    }
}

/// A contour in the flat's axes, anticlockwise, from the joint nearest the origin.
pub(super) fn segments(
    contour: &[OutlineSegment],
    axes: &Axes,
    place_plus_minus: f64,
) -> Vec<Segment> {
    let mut list = if axes.front {
        contour.to_vec()
    } else {
        reversed(contour)
    };
    // The joint nearest the origin; of two alike the lower one.
    let places: Vec<[f64; 2]> = list.iter().map(|s| axes.place(&s.start)).collect();
    let far = |p: &[f64; 2]| p[0].hypot(p[1]);
    let least = places.iter().map(far).fold(f64::INFINITY, f64::min);
    let near = (0..list.len()).filter(|&i| far(&places[i]) <= least + 8.0 * place_plus_minus);
    if let Some(first) = near.min_by(|&a, &b| places[a][1].total_cmp(&places[b][1])) {
        list.rotate_left(first);
    }
    let sign = if axes.front { 1.0 } else { -1.0 };
    list.iter()
        .map(|s| {
            let length = Quantity::new(s.length(), s.length_plus_minus.max(1.5 * place_plus_minus));
            let (start, end) = (axes.place(&s.start), axes.place(&s.end));
            match &s.arc {
                None => Segment::Line { length, start, end },
                Some(arc) => Segment::Arc {
                    length,
                    radius: Quantity::new(
                        arc.radius,
                        arc.radius_plus_minus.max(place_plus_minus / 2.0),
                    ),
                    angle: Quantity::new(
                        (arc.angle * sign).to_degrees(),
                        arc.angle_plus_minus.to_degrees(),
                    ),
                    start,
                    end,
                    centre: axes.place(&arc.centre),
                },
            }
        })
        .collect()
}
