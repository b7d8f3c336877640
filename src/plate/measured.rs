//! A body measured as a plate, and how much of it that explains.

use super::{Neutral, Plate, Segment, cone, folded, rolled, sheet, skin, solid};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use crate::surface::{Patches, Surface};

/// The flat outline of a strip: two parallel sides, two straight cuts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    /// Length over everything along the sides, mm.
    pub length: f64,
    /// Distance of the sides, mm.
    pub width: f64,
    /// True when both cuts are square to the sides.
    pub square: bool,
}

/// A body measured as a plate.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The plate.
    pub plate: Plate,
    /// What was noticed.
    pub findings: Vec<Finding>,
    /// Share of the body's area that faces, edges and holes of this plate account for, 0 to 1.
    pub explained: f64,
    /// Volume of the design solid, mm³.
    pub volume: Quantity,
    /// Area of all faces of the design solid, mm².
    pub surface_area: Quantity,
    /// The flat outline as a strip, where it is one.
    pub strip: Option<Strip>,
    /// True when a rolled plate or cone closes on itself.
    pub closed: bool,
}

/// Measures a body as a plate, bends laid flat by DIN 6935. `None` where no sheet is in it.
///
/// Whether the body *is* a plate is for the caller to say: [`Measured::explained`] tells how much of
/// it this reading accounts for.
pub fn measure(body: &Body, patches: &Patches) -> Option<Measured> {
    measure_with(body, patches, &Neutral::Din6935)
}

/// As [`measure`], with the neutral surface of bends chosen by the caller.
pub fn measure_with(body: &Body, patches: &Patches, neutral: &Neutral) -> Option<Measured> {
    // Where the vertices are worse than their coordinates, ± starts from the vertices.
    let coarse;
    let body = if patches.accuracy > body.quantum {
        coarse = Body {
            quantum: patches.accuracy,
            ..body.clone()
        };
        &coarse
    } else {
        body
    };
    let bridged = super::bridge::bridged(patches);
    let patches = bridged.as_ref().unwrap_or(patches);
    let mut measured = of_form(body, patches, neutral)?;
    let plate = &measured.plate;
    // Thicker than wide is no plate: the wrong two faces were paired.
    if plate.thickness?.value > plate.flat.width?.value * 1.001 {
        return None;
    }
    // The faces of a plate are its largest part; on a scan a tube's two ends may be all that was told.
    let (area, t) = (plate.flat.area?.value, plate.thickness?.value);
    let edge = plate.flat.perimeter.map_or(0.0, |p| p.value) * t;
    if patches.noise.is_some() && (2.0 * area < edge || measured.explained < 0.95) {
        return None;
    }
    if let Some(sigma) = patches.noise {
        let area = measured.surface_area;
        measured.surface_area = Quantity::new(area.value, area.plus_minus + 0.02 * area.value);
        let rectangle = measured.strip.is_some_and(|s| s.square);
        if measured.plate.outline.len() > 24
            || measured.plate.form != super::Form::Flat && !rectangle
        {
            // A frayed edge is longer than the one that was cut.
            measured.plate.flat.perimeter = None;
        }
        measured.findings.push(Finding::new(
            Code::Noisy,
            Severity::Warning,
            format!("The vertices scatter about the surfaces by some {sigma:.2} mm; sizes are means over many of them and ± is wide."),
            "Measure critical sizes on the piece itself.",
        ));
    }
    Some(measured)
}

fn of_form(body: &Body, patches: &Patches, neutral: &Neutral) -> Option<Measured> {
    let sheet = sheet::find(body, patches)?;
    let surface = |e: &sheet::Element| patches.list[e.front as usize].surface;
    if sheet
        .elements
        .iter()
        .any(|e| matches!(surface(e), Surface::Plane { .. }))
    {
        // Pieces that close to a ring are a tube's walls.
        return if sheet.closed {
            None
        } else {
            folded::measure(body, patches, &sheet, neutral)
        };
    }
    match (&sheet.elements[..], surface(sheet.elements.first()?)) {
        ([_], Surface::Cylinder { .. }) => rolled::measure(body, patches, &sheet),
        ([_], Surface::Cone { .. }) => cone::measure(body, patches, &sheet),
        _ => None,
    }
}

impl Measured {
    pub(super) fn new(
        body: &Body,
        patches: &Patches,
        sheet: &sheet::Sheet,
        skin: &skin::Skin,
        plate: Plate,
        mut findings: Vec<Finding>,
        solid: solid::Solid,
    ) -> Measured {
        let explained = solid::explained(body, patches, sheet, skin);
        findings.dedup();
        let (mut volume, mut surface_area) = (solid.volume, solid.surface);
        if body.closed && explained > 0.98 {
            let by_mesh = solid.by_mesh.unwrap_or(body.volume.abs());
            let share = |x: f64| (x / volume.value.abs().max(f64::MIN_POSITIVE)).abs();
            let apart = share(volume.value - by_mesh);
            // Facets cut corners of bends and arcs; what they differ beyond that is not understood.
            let curved: f64 = patches
                .list
                .iter()
                .filter(|p| p.plane().is_none())
                .map(|p| p.area)
                .sum();
            let allowed = match solid.by_mesh {
                Some(v) => 0.005 + 0.5 * share(v - body.volume.abs()),
                None => 0.002 + 0.12 * curved / body.area,
            };
            if apart > allowed {
                findings.push(Finding::new(
                    Code::RoadsDisagree,
                    Severity::Warning,
                    format!("Volume from the flat and volume of the mesh differ by {:.1} %; something on this plate is not understood.", 100.0 * apart),
                    "Compare the flat with the drawing before cutting.",
                ));
                volume = Quantity::new(by_mesh, volume.plus_minus + apart * volume.value.abs());
                surface_area = Quantity::new(
                    surface_area.value,
                    surface_area.plus_minus + apart * body.area,
                );
            }
        }
        let strip = strip(
            &plate.outline,
            plate.thickness.map_or(0.0, |t| t.plus_minus),
        );
        let closed =
            plate.roll_axis.is_some() && plate.arc_angle.is_some_and(|a| a.value > 359.999);
        Measured {
            plate,
            findings,
            explained,
            volume,
            surface_area,
            strip,
            closed,
        }
    }
}

/// The strip an outline of four lines is, if two of them are parallel; the longer pair where both are.
fn strip(outline: &[Segment], same: f64) -> Option<Strip> {
    let mut ends = Vec::new();
    for s in outline {
        let Segment::Line { start, end, .. } = s else {
            return None;
        };
        ends.push((nalgebra::Point2::from(*start), nalgebra::Point2::from(*end)));
    }
    let [a, b, c, d] = ends[..] else { return None };
    let along = |s: (nalgebra::Point2<f64>, nalgebra::Point2<f64>)| s.1 - s.0;
    let parallel = |s: nalgebra::Vector2<f64>, t: nalgebra::Vector2<f64>| {
        s.perp(&t).abs() <= 4.0 * same.max(1e-6) * s.norm().max(t.norm())
    };
    let pairs = [(a, c, b, d), (b, d, a, c)];
    let best = pairs
        .into_iter()
        .filter(|p| parallel(along(p.0), along(p.1)))
        .max_by(|p, q| {
            (along(p.0).norm() + along(p.1).norm())
                .total_cmp(&(along(q.0).norm() + along(q.1).norm()))
        })?;
    let u = along(best.0).normalize();
    let reach = ends
        .iter()
        .map(|e| e.0.coords.dot(&u))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
    let square = [best.2, best.3]
        .iter()
        .all(|s| along(*s).dot(&u).abs() <= 4.0 * same.max(1e-6));
    Some(Strip {
        length: reach.1 - reach.0,
        width: u.perp(&(best.1.0 - best.0.0)).abs(),
        square,
    })
}
