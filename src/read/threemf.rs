//! 3MF: a package with a model, whose build list places its objects.

use std::collections::BTreeSet;

use crate::finding::{Code, Severity};

use super::assembly::{self, Models, Placed};
use super::budget;
use super::error::ReadError;
use super::model_xml::{Model, Use, parse};
use super::package::Package;
use super::placement::IDENTITY;
use super::precision::{Tally, step_at};
use super::remarks::Remarks;
use super::wording::{count, quoted};
use super::{Format, Precision, TriangleSoup};

/// Reads a 3MF.
///
/// # Errors
/// [`ReadError::Package`], [`ReadError::Malformed`], [`ReadError::DecimalComma`],
/// [`ReadError::TooLarge`], [`ReadError::Empty`].
pub(super) fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<TriangleSoup, ReadError> {
    let mut package = Package::open(bytes)?;
    let root = package.model_part(remarks)?;
    let mut tally = Tally::default();
    let models = models(&mut package, &root, &mut tally, remarks)?;
    let model = &models[&root.to_ascii_lowercase()];
    let declared_mm_per_unit = unit(model.unit.as_deref(), remarks);
    let items = build(model, remarks);
    budget::check(&models, &root, &items)?;
    let mut placed = Placed::default();
    for item in &items {
        let number = item.part_number.as_deref();
        assembly::place(&models, &root, item, &IDENTITY, number, &mut placed);
    }
    placed.say(remarks);
    if placed.facets.is_empty() {
        let holds = match remarks.worst() {
            Some(worst) => format!("The 3MF holds no triangles that can be used. {worst}"),
            None => "The 3MF holds no triangles.".into(),
        };
        return Err(ReadError::Empty { holds });
    }
    let precision = tally.precision();
    let step = step_at(precision, tally.largest());
    let precision = match placed.moved {
        false => precision,
        true => Precision::Step(placed.scale * step + placed.step * tally.largest()),
    };
    Ok(TriangleSoup {
        distinct: false,
        points: placed.points,
        facets: placed.facets,
        groups: placed.groups,
        precision,
        declared_mm_per_unit,
        format: Format::ThreeMf,
    })
}

/// The root model and all parts it refers to, by lower-case name.
fn models(
    package: &mut Package,
    root: &str,
    tally: &mut Tally,
    remarks: &mut Remarks,
) -> Result<Models, ReadError> {
    let mut models = Models::new();
    let mut wanted = vec![root.to_owned()];
    while let Some(path) = wanted.pop() {
        let key = path.to_ascii_lowercase();
        if models.contains_key(&key) || (path != root && package.find(&path).is_none()) {
            continue;
        }
        let text = package.text(&path, remarks)?;
        let model = parse(&text, tally, remarks)?;
        let uses = model
            .objects
            .values()
            .flat_map(|o| &o.components)
            .chain(model.build.iter().flatten());
        wanted.extend(uses.filter_map(|used| used.path.clone()));
        models.insert(key, model);
    }
    Ok(models)
}

/// Millimetres per unit of the model (3MF Core Specification 1.3, 3.4: millimetre where none is given).
fn unit(written: Option<&str>, remarks: &mut Remarks) -> Option<f64> {
    let mm = match written.map(str::to_ascii_lowercase).as_deref() {
        None | Some("millimeter") => 1.0,
        Some("micron") => 0.001,
        Some("centimeter") => 10.0,
        Some("inch") => 25.4,
        Some("foot") => 304.8,
        Some("meter") => 1000.0,
        Some(other) => {
            remarks.add(
                Code::UnitUnclear,
                Severity::Warning,
                format!(
                    "The 3MF gives \"{}\" as its unit, which the format does not know.",
                    quoted(other.as_bytes())
                ),
                "State the unit with --unit.",
            );
            return None;
        }
    };
    Some(mm)
}

/// The build list; where there is none, every object that no other uses, once, as it lies.
fn build(model: &Model, remarks: &mut Remarks) -> Vec<Use> {
    let seen = match model.build.as_deref() {
        Some(items @ [_, ..]) => return items.to_vec(),
        Some([]) => "The build list of the 3MF is empty",
        None => {
            "The 3MF is without a build element (the list that says what to make, where and how large)"
        }
    };
    let used: BTreeSet<i64> = model
        .objects
        .values()
        .flat_map(|o| &o.components)
        .map(|c| c.object)
        .collect();
    let free = model.objects.keys().filter(|id| !used.contains(id));
    let items: Vec<Use> = free
        .map(|&object| Use {
            path: None,
            object,
            place: IDENTITY,
            part_number: None,
            line: 0,
        })
        .collect();
    remarks.add(
        Code::PackageDamaged,
        Severity::Warning,
        format!(
            "{seen}; {} read once, as drawn.",
            count(items.len(), "object")
        ),
        "Check quantities and sizes: a build list can repeat and scale its objects.",
    );
    items
}
