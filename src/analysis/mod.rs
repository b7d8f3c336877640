//! The whole path of the data: bytes of a model file in, a report out.

mod length_unit;

pub use length_unit::{Inferred, length_unit};

use crate::body::{self, Body};
use crate::finding::Finding;
use crate::instance::Counted;
use crate::part::{Class, Part};
use crate::read::{self, ReadError, TriangleSoup};
use crate::report::{Assembly, Report, Source, assemble};
use crate::weld;

/// What the caller knows beside the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Millimetres in one unit of the file, when the caller knows it.
    pub mm_per_unit: Option<f64>,
    /// Density of the metal, kg/m³.
    pub density: f64,
}

/// The report of the model in `bytes`; `path` is repeated in it, and its ending helps where the
/// content leaves the format open.
///
/// # Errors
/// [`ReadError`] when nothing in the file could be measured.
pub fn analyse(bytes: &[u8], path: &str, asked: &Asked) -> Result<Report, ReadError> {
    let (soup, mut findings) = read::read(bytes, path)?;
    let source = Source {
        path: path.to_owned(),
        format: soup.format,
        facets: soup.facets.len() as u64,
    };
    let declared = soup.declared_mm_per_unit;
    let (length_unit, about_unit) = length_unit(asked.mm_per_unit, declared, || None);
    findings.extend(about_unit);

    let measured = measure(soup, length_unit.mm_per_file_unit);
    findings.extend(measured.findings);
    Ok(assemble(Assembly {
        source,
        length_unit,
        findings,
        counted: measured.counted,
        body_facets: measured.body_facets,
        density: asked.density,
    }))
}

struct Measured {
    counted: Vec<Counted>,
    body_facets: Vec<u64>,
    findings: Vec<Finding>,
}

/// From triangles in file units to counted parts in millimetres.
fn measure(soup: TriangleSoup, mm_per_unit: f64) -> Measured {
    let names: Vec<_> = soup.groups.iter().map(|group| group.name.clone()).collect();
    let (mesh, mut findings) = weld::weld(soup, mm_per_unit);
    let (bodies, about_bodies) = body::separate(mesh, &names);
    findings.extend(about_bodies);
    let parts: Vec<Part> = bodies.iter().map(undescribed).collect();
    Measured {
        counted: parts.into_iter().map(alone).collect(),
        body_facets: bodies.iter().map(|body| body.facets.len() as u64).collect(),
        findings,
    }
}

/// Stands in for the measuring of a body until that stage is joined.
fn undescribed(body: &Body) -> Part {
    Part {
        body: body.index,
        name: body.name.clone(),
        class: Class::Other,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: Vec::new(),
        unresolved: Some("Nothing a shop makes from stock was recognised.".to_owned()),
    }
}

/// Stands in for the counting of copies until that stage is joined.
fn alone(part: Part) -> Counted {
    Counted {
        mark: format!("X{}", part.body + 1),
        quantity: 1,
        opposite_hand: 0,
        bodies: vec![part.body],
        part,
    }
}
