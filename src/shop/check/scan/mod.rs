//! A scan or a re-export of the piece against the part that was asked for.
//!
//! The scan is laid on the part ([`align`]); least squares then find how the piece differs, as a bend
//! that is off, a length, a twist, a hole ([`solve`], [`sizes`]). Distances for the verdict and the
//! picture are those after the best rigid laying ([`distances`]).

mod align;
mod cover;
mod distances;
mod fold;
mod local;
mod points;
mod section;
mod sizes;
mod solve;
mod target;
mod undo;
mod words;

use schemars::JsonSchema;
use serde::Serialize;

pub use distances::{FaceOff, Spot};
pub use sizes::{Kind, Size};

use super::{Answer, Evidence, Tolerance, Verdict};
use crate::body::Body;
use crate::geometry::Pt3;
use crate::measure::{Show, Unit};
use crate::report::{Report, ReportedPart};
use crate::shop::text::with_unit;
use crate::shop::{Origin, Refused};
use points::Scan;
use solve::Problem;
use target::Target;

/// What the fabricator says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// How far off the surface is still good.
    pub tolerance: Tolerance,
    /// True when the scan shows all of the outside.
    pub full: bool,
    /// Unit of the sentences.
    pub show: Show,
    /// The arc whose radius the answer gives, from 1.
    pub arc: Option<u32>,
}

/// The bodies of a scan and how they were read.
#[derive(Clone, Debug)]
pub struct Read {
    /// Its bodies, mm.
    pub bodies: Vec<Body>,
    /// Millimetres in one unit of its file.
    pub mm_per_file_unit: f64,
    /// Where that comes from, one sentence.
    pub unit_reason: String,
}

/// What the scan says. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ScanFit {
    /// Facets of the scan.
    pub facets: usize,
    /// Millimetres in one unit of its file.
    pub mm_per_file_unit: f64,
    /// Where that comes from, one sentence.
    pub unit_reason: String,
    /// Standard deviation of one point by its neighbours.
    pub noise: f64,
    /// Share of the outside of the part that the scan shows, 0 to 1.
    pub coverage: f64,
    /// True when the scan is said to show all of the outside.
    pub full: bool,
    /// True when the scan fits only the mirror image of the part.
    pub opposite_hand: bool,
    /// Root mean square distance, after the best rigid laying.
    pub rms: f64,
    /// Where metal stands out farthest.
    pub most_out: Option<Spot>,
    /// Where metal is missing most.
    pub most_in: Option<Spot>,
    /// Share of the scan that lies nowhere near the part.
    pub elsewhere: f64,
    /// Distances face by face.
    pub faces: Vec<FaceOff>,
    /// Sizes as made.
    pub sizes: Vec<Size>,
    /// Rows of the matrix that turns places of the scan (mm) into places of the model, the shift last.
    pub scan_to_model: [[f64; 4]; 3],
}

/// The scan laid on the model, for a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Painted {
    /// Corners of its facets in the frame of the model, mm.
    pub facets: Vec<[Pt3; 3]>,
    /// Distance of each out of the metal, mm; `None` where it belongs to nothing of the part.
    pub values: Vec<Option<f64>>,
}

/// Points the fit is made with, and points distances are taken of.
const FIT_POINTS: usize = 5000;
const DISTANCE_POINTS: usize = 40_000;
/// Least share of the outside a scan must show before it can say yes.
const ENOUGH: f64 = 0.4;

/// Compares a scan with a part; `body` is the part's own body in the model.
pub fn check(
    report: &Report,
    part: &ReportedPart,
    body: &Body,
    read: &Read,
    asked: &Asked,
) -> Result<(Answer, Painted), Refused> {
    let target = Target::new(part, body);
    let (tolerance, source) = tolerance_of(asked, target.size)?;
    let scan = Scan::new(&read.bodies);
    if scan.seen.len() < 12 {
        return Err(Refused::new(
            "The scan has too few facets to lay it on anything.",
            "Export it again, with its surface.",
        ));
    }
    // Nobody lays a hundredth of a millimetre on metal; the model's own surfaces are no better known.
    let floor = (scan.quantum + body.quantum).max(0.005);
    let nowhere = || {
        Refused::new(
            format!(
                "The scan can't be laid on {}: no part of it fits.",
                part.mark
            ),
            "Check that it is this piece, and its unit with --scan-unit.",
        )
    };
    let (laid, out) = align::align(&target, &scan, false, floor).ok_or_else(nowhere)?;
    let fitted = deformed(&target, &scan, &laid, out, floor).unwrap_or((laid, None));
    let cost = |fit: &(solve::Solved, Option<Problem>)| fit.0.scale;
    // A piece of the opposite hand fits its mirror image, and this one badly.
    let reach = 0.5 * tolerance.max(6.0 * floor);
    let mirrored = if cost(&fitted) > reach {
        align::align(&target, &scan, true, floor).and_then(|(laid, out)| {
            let fit = deformed(&target, &scan, &laid, out, floor)?;
            (cost(&fit) < 0.3 * cost(&fitted) && cost(&fit) <= reach).then_some((fit, out))
        })
    } else {
        None
    };
    let opposite = mirrored.is_some();
    let ((solved, problem), out) = mirrored.unwrap_or((fitted, out));
    let plain = Problem {
        target: &target,
        ways: Vec::new(),
        locals: Vec::new(),
        out,
        floor,
    };
    let problem = problem.unwrap_or(Problem {
        target: &target,
        ways: Vec::new(),
        locals: Vec::new(),
        out,
        floor,
    });
    let cover = cover::cover(&problem, &solved, &scan, asked.full);
    let (found, painted) =
        distances::distances(&plain, &solved, &scan, &cover, tolerance).ok_or_else(nowhere)?;
    // Where the piece can't be bent into the part, what it was bent by means nothing.
    let stranger = solved.scale > tolerance && found.rms > 3.0 * tolerance;
    let sizes = match stranger {
        true => Vec::new(),
        false => sizes::sizes(&problem, &solved),
    };
    let mut answer = Answer::blank(
        part,
        Evidence::Scan,
        Origin::of(report, &[&part.mark]),
        asked.show,
    );
    answer.tolerance = Some(tolerance);
    let largest = [&found.most_out, &found.most_in]
        .into_iter()
        .flatten()
        .max_by(|a, b| a.off.value.abs().total_cmp(&b.off.value.abs()));
    answer.deviation = largest.map(|spot| spot.off);
    let radius = sizes
        .iter()
        .filter(|s| s.kind == Kind::Radius)
        .nth(asked.arc.map_or(0, |k| k.saturating_sub(1) as usize));
    answer.radius = radius.and_then(|s| s.made);
    answer.radius_asked = radius.map(|s| s.asked);
    let pose = &solved.state.pose;
    let m = pose.turn.matrix();
    let flip = if pose.mirrored { -1.0 } else { 1.0 };
    let fit = ScanFit {
        facets: read.bodies.iter().map(|b| b.facets.len()).sum(),
        mm_per_file_unit: read.mm_per_file_unit,
        unit_reason: read.unit_reason.clone(),
        noise: found.noise,
        coverage: cover.outside,
        full: asked.full,
        opposite_hand: opposite,
        rms: found.rms,
        most_out: found.most_out,
        most_in: found.most_in,
        elsewhere: found.elsewhere,
        faces: found.faces,
        sizes,
        scan_to_model: std::array::from_fn(|k| {
            [flip * m[(k, 0)], m[(k, 1)], m[(k, 2)], pose.shift[k]]
        }),
    };
    answer.verdict = judged(&answer, &fit, tolerance);
    answer.reasons = words::reasons(&answer, &fit, tolerance, asked.show);
    if stranger {
        answer.reasons.insert(
            1,
            "The scan fits this part badly all over: check that it is this piece, and its unit with --scan-unit. No sizes are given.".into(),
        );
    }
    answer.reasons.extend(source);
    answer.scan = Some(fit);
    Ok((answer, painted))
}

/// The fit with everything the part may differ in, started from a rigid laying.
fn deformed<'a>(
    target: &'a Target<'a>,
    scan: &Scan,
    laid: &solve::Solved,
    out: f64,
    floor: f64,
) -> Option<(solve::Solved, Option<Problem<'a>>)> {
    let member = target.part.member.as_ref();
    let round = member.is_some_and(|m| m.section.diameter.is_some());
    let closed = member.is_some_and(|m| m.centreline.closed);
    let problem = Problem {
        target,
        ways: undo::ways(&target.shape, target.part.plate.is_some(), round, closed),
        locals: local::locals(target),
        out,
        floor,
    };
    let start = problem.at(laid.state.pose);
    let which = scan.thinned(FIT_POINTS);
    let solved = problem.solve(start, &scan.seen, &which, 0.04 * target.size, 16)?;
    Some((solved, Some(problem)))
}

/// The rule for readings, and what a scan has to show before it can say yes.
fn judged(answer: &Answer, fit: &ScanFit, tolerance: f64) -> Verdict {
    let Some(off) = answer.deviation else {
        return Verdict::Unclear;
    };
    let by_rule = super::verdict(off, tolerance);
    if fit.opposite_hand {
        return Verdict::No;
    }
    match by_rule {
        Verdict::Yes
            if fit.coverage < ENOUGH || fit.elsewhere > 0.02 || !untold(fit).is_empty() =>
        {
            Verdict::Unclear
        }
        other => other,
    }
}

/// Sizes a yes has to stand on that the scan doesn't tell.
fn untold(fit: &ScanFit) -> Vec<&Size> {
    fit.sizes
        .iter()
        .filter(|s| {
            // A plate lying on its back shows one face: its thickness isn't asked for.
            s.made.is_none() && matches!(s.kind, Kind::Radius | Kind::Length | Kind::AngleTurned)
        })
        .collect()
}

fn tolerance_of(asked: &Asked, size: f64) -> Result<(f64, Option<String>), Refused> {
    match asked.tolerance {
        Tolerance::Given(mm) if mm > 0.0 && mm.is_finite() => Ok((mm, None)),
        Tolerance::Given(_) => Err(Refused::new(
            "The tolerance must be more than nothing.",
            "Give it as a length, as in --tol 1mm.",
        )),
        Tolerance::Class(class) => {
            let found = class.linear(size).ok_or_else(|| {
                Refused::new(
                    format!(
                        "{class} gives no tolerance for a length of {}.",
                        with_unit(size, asked.show)
                    ),
                    "Give the tolerance itself with --tol.",
                )
            })?;
            Ok((
                found,
                Some(format!(
                    "{class} has no row for a distance of surfaces; its linear tolerance for the largest size of the part, {}, was used: ±{}.",
                    with_unit(size, asked.show),
                    with_unit(found, asked.show)
                )),
            ))
        }
    }
}

/// Largest side of the box around a body, mm.
pub fn largest_side(body: &Body) -> f64 {
    (0..3)
        .map(|k| {
            let along = body.vertices.iter().map(|p| p[k]);
            let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
                (l.min(x), h.max(x))
            });
            high - low
        })
        .fold(0.0, f64::max)
}

/// Millimetres in one unit of a scan's file, and where that comes from: what was said, what the file
/// declares, millimetres where they fit the part (`size`, mm, against the largest side of the scan in
/// its own units), else the unit that fits best.
pub fn unit(said: Option<Unit>, declared: Option<f64>, side: f64, size: f64) -> (f64, String) {
    if let Some(unit) = said {
        return (unit.millimetres(), "--scan-unit says so.".into());
    }
    if let Some(mm) = declared {
        return (mm, "The scan's file says so.".into());
    }
    // A scan shows between a twentieth and somewhat more than the whole of the piece.
    let ratio = |mm: f64| side * mm / size.max(1e-9);
    if (0.05..2.0).contains(&ratio(1.0)) {
        return (1.0, "Nothing says it; millimetres fit the part.".into());
    }
    let units = [
        (Unit::Metre, "metres"),
        (Unit::Inch, "inches"),
        (Unit::Centimetre, "centimetres"),
        (Unit::Foot, "feet"),
    ];
    let best = units.into_iter().min_by(|a, b| {
        let off = |u: Unit| ratio(u.millimetres()).ln().abs();
        off(a.0).total_cmp(&off(b.0))
    });
    match best {
        Some((unit, name)) if (0.05..2.0).contains(&ratio(unit.millimetres())) => (
            unit.millimetres(),
            format!(
                "Nothing says it; {name} fit the part, millimetres don't. Say it with --scan-unit."
            ),
        ),
        _ => (1.0, "Nothing says it; millimetres were taken.".into()),
    }
}
