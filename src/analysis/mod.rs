//! The whole path of the data: bytes of a model file in, a report out.

mod evidence;
mod length_unit;

pub use length_unit::{Inferred, length_unit};

use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::part::Part;
use crate::read::{ReadError, TriangleSoup, read};
use crate::report::{Assembly, Report, Source, assemble};

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
    Ok(examined(soup, findings, path, asked))
}

/// The bodies of a model, each measured, and what was noticed on the way.
struct Measured {
    bodies: Vec<Body>,
    parts: Vec<Part>,
    findings: Vec<Finding>,
}

fn measure(soup: TriangleSoup, mm_per_unit: f64) -> Measured {
    let names: Vec<Option<String>> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, mut findings) = crate::weld::weld(soup, mm_per_unit);
    let (bodies, body_findings) = crate::body::separate(mesh, &names);
    findings.extend(body_findings);
    let mut parts: Vec<Part> = bodies
        .iter()
        .flat_map(crate::part::measure_pieces)
        .collect();
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

fn examined(soup: TriangleSoup, mut findings: Vec<Finding>, path: &str, asked: &Asked) -> Examined {
    let source = Source {
        path: path.to_owned(),
        format: soup.format,
        facets: soup.facets.len() as u64,
    };
    let declared = soup.declared_mm_per_unit;
    // with no unit named anywhere the model is first measured in its own units; its sizes then tell
    let first =
        (asked.mm_per_unit.is_none() && declared.is_none()).then(|| measure(soup.clone(), 1.0));
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
    let measured = match first {
        Some(m) if length_unit.mm_per_file_unit == 1.0 => m,
        _ => measure(soup, length_unit.mm_per_file_unit),
    };
    findings.extend(measured.findings);
    let (bodies, parts) = (measured.bodies, measured.parts);
    let (mut counted, count_findings) = crate::instance::count(parts, &bodies);
    let pieces = counted
        .iter_mut()
        .map(|c| std::mem::take(&mut c.pieces))
        .collect();
    findings.extend(count_findings);
    let report = assemble(Assembly {
        source,
        length_unit,
        findings,
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
