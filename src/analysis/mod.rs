//! The whole path of the data: bytes of a model file in, a report out.

mod evidence;
mod forced;
mod length_unit;

pub use crate::part::{Choices, Reading};
pub use forced::ExamineError;
pub use length_unit::{Inferred, length_unit};

use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::side_by_side;
use crate::instance::Counted;
use crate::part::Part;
use crate::plate::Neutral;
use crate::read::{Format, ReadError, TriangleSoup, read};
use crate::report::{Assembly, LengthUnit, Report, Source, assemble};

/// What the caller knows beside the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Millimetres in one unit of the file, when the caller knows it.
    pub mm_per_unit: Option<f64>,
    /// Density of the metal, kg/m³.
    pub density: f64,
}

/// A report, and the bodies it was measured on.
#[derive(Clone, Debug)]
pub struct Examined {
    /// The report.
    pub report: Report,
    /// The bodies by their number in the report, mm.
    pub bodies: Vec<Body>,
    /// The pieces of each part of the report, each as measured in its own place; true for mirrored
    /// ones.
    pub pieces: Vec<Vec<(Part, bool)>>,
}

/// The report of the model in `bytes`; `path` is only repeated in it.
pub fn analyse(bytes: &[u8], path: &str, asked: &Asked) -> Result<Report, ReadError> {
    Ok(examine(bytes, path, asked)?.report)
}

/// The same with the bodies, for drawings of them.
pub fn examine(bytes: &[u8], path: &str, asked: &Asked) -> Result<Examined, ReadError> {
    let (soup, findings) = read(bytes, path)?;
    let seen = seen(soup, findings, asked, &Neutral::Din6935, &mut |_| {});
    Ok(told(seen, path, asked))
}

/// How far the work has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The file is being read.
    Reading,
    /// Facets are being joined to a mesh.
    Joining,
    /// Bodies are being measured.
    Measuring {
        /// Bodies measured.
        done: usize,
        /// Bodies there are.
        of: usize,
    },
    /// Copies are being counted.
    Counting,
}

/// The same with choices about folds, and about what the class rule leaves open, telling `watch` of
/// every step before it is taken. Bytes given for good are let go once they are read.
pub fn examine_with(
    bytes: impl AsRef<[u8]>,
    path: &str,
    asked: &Asked,
    choices: &Choices,
    watch: &mut dyn FnMut(Step),
) -> Result<Examined, ExamineError> {
    watch(Step::Reading);
    let (soup, findings) = read(bytes.as_ref(), path)?;
    drop(bytes);
    let mut seen = seen(soup, findings, asked, &choices.neutral, watch);
    forced::force(&mut seen.counted, &seen.measured, choices)?;
    Ok(told(seen, path, asked))
}

/// The bodies of a scan, without a word about what they are.
#[derive(Clone, Debug)]
pub struct Bodies {
    /// The bodies, mm.
    pub bodies: Vec<Body>,
    /// Millimetres in one unit of the file.
    pub mm_per_file_unit: f64,
    /// The unit the file itself declares, mm.
    pub declared: Option<f64>,
}

/// Reads the bodies in `bytes`; `unit` chooses the millimetres in one unit of the file from what the
/// file declares and from the largest side of the box around it, in its own units.
pub fn bodies(
    bytes: &[u8],
    path: &str,
    unit: impl FnOnce(Option<f64>, f64) -> f64,
) -> Result<Bodies, ReadError> {
    let (soup, _) = read(bytes, path)?;
    let declared = soup.declared_mm_per_unit;
    let side = (0..3)
        .map(|k| {
            let along = soup.points.iter().map(|p| p[k]);
            let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
                (l.min(x), h.max(x))
            });
            high - low
        })
        .fold(0.0, f64::max);
    let mm_per_file_unit = unit(declared, side);
    let names: Vec<Option<String>> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, _) = crate::weld::weld(soup, mm_per_file_unit);
    let (bodies, _) = crate::body::separate(mesh, &names);
    Ok(Bodies {
        bodies,
        mm_per_file_unit,
        declared,
    })
}

/// The bodies of a model, each measured, and what was noticed on the way.
struct Measured {
    bodies: Vec<Body>,
    parts: Vec<Part>,
    findings: Vec<Finding>,
}

fn measure(
    soup: TriangleSoup,
    mm_per_unit: f64,
    neutral: &Neutral,
    watch: &mut dyn FnMut(Step),
) -> Measured {
    watch(Step::Joining);
    let names: Vec<Option<String>> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, mut findings) = crate::weld::weld(soup, mm_per_unit);
    let (bodies, body_findings) = crate::body::separate(mesh, &names);
    findings.extend(body_findings);
    let of = bodies.len();
    if of == 0 {
        findings.push(Finding::new(
            Code::Empty,
            Severity::Error,
            "No facet of the file has an area: there is nothing to measure.",
            "Export the solid or surface itself, as a mesh.",
        ));
    }
    let measured = side_by_side::each(
        &bodies,
        |body| crate::part::measure_pieces_with(body, neutral),
        |done| watch(Step::Measuring { done, of }),
    );
    let mut parts: Vec<Part> = measured.into_iter().flatten().collect();
    crate::part::note_overlaps(&mut parts, &bodies);
    Measured {
        bodies,
        parts,
        findings,
    }
}

/// Largest side of the box around all bodies.
fn extent(bodies: &[Body]) -> f64 {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for p in bodies.iter().flat_map(|b| &b.vertices) {
        for k in 0..3 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    (0..3).map(|k| high[k] - low[k]).fold(0.0, f64::max)
}

/// A model measured and counted, before it is put into words.
struct Seen {
    format: Format,
    facets: u64,
    length_unit: LengthUnit,
    measured: Measured,
    counted: Vec<Counted>,
    findings: Vec<Finding>,
}

fn seen(
    soup: TriangleSoup,
    mut findings: Vec<Finding>,
    asked: &Asked,
    neutral: &Neutral,
    watch: &mut dyn FnMut(Step),
) -> Seen {
    let (format, facets) = (soup.format, soup.facets.len() as u64);
    let declared = soup.declared_mm_per_unit;
    // with no unit named anywhere the model is first measured in its own units; its sizes then tell
    let first = (asked.mm_per_unit.is_none() && declared.is_none())
        .then(|| measure(soup.clone(), 1.0, neutral, watch));
    let guess = first
        .as_ref()
        .map(|m| crate::stock::infer_unit(&evidence::evidence(&m.parts, extent(&m.bodies))));
    let (length_unit, unit_findings) = length_unit(asked.mm_per_unit, declared, || {
        guess.as_ref().map(|g| Inferred {
            mm_per_unit: g.mm_per_unit,
            reason: g.reason.clone(),
        })
    });
    findings.extend(unit_findings);
    if guess.as_ref().is_some_and(|g| !g.certain) {
        findings.push(Finding::new(
            Code::UnitUnclear,
            Severity::Warning,
            "The sizes in the file leave the unit in doubt.",
            "Measure or ask for one size, then give the unit with --unit.",
        ));
    }
    let mut measured = match first {
        Some(m) if length_unit.mm_per_file_unit == 1.0 => m,
        _ => measure(soup, length_unit.mm_per_file_unit, neutral, watch),
    };
    findings.append(&mut measured.findings);
    watch(Step::Counting);
    let (counted, count_findings) =
        crate::instance::count(measured.parts.clone(), &measured.bodies);
    findings.extend(count_findings);
    Seen {
        format,
        facets,
        length_unit,
        measured,
        counted,
        findings,
    }
}

fn told(seen: Seen, path: &str, asked: &Asked) -> Examined {
    let bodies = seen.measured.bodies;
    let mut counted = seen.counted;
    let pieces = counted
        .iter_mut()
        .map(|c| std::mem::take(&mut c.pieces))
        .collect();
    let report = assemble(Assembly {
        source: Source {
            path: path.to_owned(),
            format: seen.format,
            facets: seen.facets,
        },
        length_unit: seen.length_unit,
        findings: seen.findings,
        counted,
        body_facets: bodies.iter().map(|b| b.facets.len() as u64).collect(),
        density: asked.density,
    });
    Examined {
        report,
        bodies,
        pieces,
    }
}
