//! The whole path of the data: bytes of a model file in, a report out.

mod length_unit;

pub use length_unit::{Inferred, length_unit};

use crate::finding::Finding;
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

/// The report of the model in `bytes`; `path` is only repeated in it.
pub fn analyse(bytes: &[u8], path: &str, asked: &Asked) -> Result<Report, ReadError> {
    let (soup, findings) = read(bytes, path)?;
    Ok(report_of(soup, findings, path, asked))
}

fn report_of(soup: TriangleSoup, mut findings: Vec<Finding>, path: &str, asked: &Asked) -> Report {
    let source = Source {
        path: path.to_owned(),
        format: soup.format,
        facets: soup.facets.len() as u64,
    };
    let (length_unit, unit_findings) =
        length_unit(asked.mm_per_unit, soup.declared_mm_per_unit, || None);
    findings.extend(unit_findings);
    let names: Vec<Option<String>> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, weld_findings) = crate::weld::weld(soup, length_unit.mm_per_file_unit);
    findings.extend(weld_findings);
    let (bodies, body_findings) = crate::body::separate(mesh, &names);
    findings.extend(body_findings);
    let parts: Vec<crate::part::Part> = bodies.iter().map(crate::part::measure).collect();
    let (counted, count_findings) = crate::instance::count(parts, &bodies);
    findings.extend(count_findings);
    assemble(Assembly {
        source,
        length_unit,
        findings,
        counted,
        body_facets: bodies.iter().map(|b| b.facets.len() as u64).collect(),
        density: asked.density,
    })
}
