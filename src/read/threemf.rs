//! 3MF: a package with a model, whose build list places its objects.

use std::collections::BTreeMap;

use crate::finding::{Code, Severity};

use super::error::ReadError;
use super::model_xml::{Model, Object, Use, parse};
use super::package::Package;
use super::placement::{IDENTITY, Placement};
use super::precision::{Tally, step_at};
use super::remarks::Remarks;
use super::wording::{count, grouped, quoted};
use super::{Format, Group, Precision, TriangleSoup};

/// Components inside components.
const MOST_LEVELS: usize = 32;
/// Objects placed, all levels together.
const MOST_PLACED: usize = 1_000_000;
/// Facets after all placing.
const MOST_FACETS: usize = 50_000_000;

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
    let mut scene = Scene {
        models: &models,
        out: Placed::default(),
        stack: Vec::new(),
    };
    for item in build(model, remarks) {
        scene.place(
            &root,
            &item,
            &IDENTITY,
            item.part_number.as_deref(),
            remarks,
        )?;
    }
    let placed = scene.out;
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
) -> Result<BTreeMap<String, Model>, ReadError> {
    let mut models = BTreeMap::new();
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
    let used: Vec<i64> = model
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

#[derive(Default)]
struct Placed {
    points: Vec<[f64; 3]>,
    facets: Vec<[u32; 3]>,
    groups: Vec<Group>,
    objects: usize,
    mirrored: usize,
    support: usize,
    not_finite: usize,
    bad_index: Option<(usize, usize)>,
    lost: Vec<String>,
    /// Any placement but the identity.
    moved: bool,
    scale: f64,
    step: f64,
}

struct Scene<'m> {
    models: &'m BTreeMap<String, Model>,
    out: Placed,
    /// Part and object on the way down, against circles.
    stack: Vec<(String, i64)>,
}

impl Scene<'_> {
    fn place(
        &mut self,
        part: &str,
        used: &Use,
        outer: &Placement,
        name: Option<&str>,
        remarks: &mut Remarks,
    ) -> Result<(), ReadError> {
        let part = used.path.as_deref().unwrap_or(part);
        let key = (part.to_ascii_lowercase(), used.object);
        let circle = self.stack.contains(&key);
        if circle || self.stack.len() >= MOST_LEVELS {
            let what = if circle {
                "contains itself".to_owned()
            } else {
                format!("is nested deeper than {MOST_LEVELS} levels")
            };
            let problem = format!("Object {} of the 3MF {what}.", used.object);
            return Err(ReadError::Package {
                problem,
                remedy: "Export it again.".into(),
            });
        }
        self.out.objects += 1;
        if self.out.objects > MOST_PLACED {
            let problem = format!(
                "The 3MF places more than {} objects.",
                grouped(MOST_PLACED as u64)
            );
            return Err(ReadError::TooLarge { problem });
        }
        let place = used.place.then(outer);
        let models = self.models;
        let Some(object) = models.get(&key.0).and_then(|m| m.objects.get(&used.object)) else {
            self.out.lost.push(format!(
                "line {} names object {}, which is not there",
                used.line, used.object
            ));
            return Ok(());
        };
        if !place.usable() {
            let why = format!(
                "object {} (line {}) is placed by a transform that squeezes it flat",
                used.object, used.line
            );
            self.out.lost.push(why);
            return Ok(());
        }
        if object.support {
            self.out.support += 1;
            return Ok(());
        }
        let name = object.name.as_deref().or(name);
        if object.triangles.is_empty() && object.components.is_empty() {
            self.out
                .lost
                .push(format!("object {} has no mesh", used.object));
        }
        self.out.mesh(object, &place, name)?;
        self.stack.push(key);
        let components = object.components.iter();
        let result = components
            .into_iter()
            .try_for_each(|c| self.place(part, c, &place, name, remarks));
        self.stack.pop();
        result
    }
}

impl Placed {
    fn mesh(
        &mut self,
        object: &Object,
        place: &Placement,
        name: Option<&str>,
    ) -> Result<(), ReadError> {
        if object.triangles.is_empty() {
            return Ok(());
        }
        if self.facets.len() + object.triangles.len() > MOST_FACETS {
            let problem = format!(
                "The 3MF places more than {} facets.",
                grouped(MOST_FACETS as u64)
            );
            return Err(ReadError::TooLarge { problem });
        }
        super::corner_total((self.points.len() + object.points.len()) / 3 + 1)?;
        self.moved |= *place != IDENTITY;
        self.scale = self.scale.max(place.largest_scale());
        self.step = self.step.max(place.step);
        let mirrored = place.determinant() < 0.0;
        self.mirrored += usize::from(mirrored);
        if let Some((lost, line)) = object.bad_index {
            let (all, _) = self.bad_index.get_or_insert((0, line));
            *all += lost;
        }
        let first_facet = self.facets.len() as u32;
        self.groups.push(Group {
            name: name.map(str::to_owned),
            first_facet,
        });
        let first = self.points.len() as u32;
        self.points
            .extend(object.points.iter().map(|p| place.apply(*p)));
        for &[a, b, c] in &object.triangles {
            let corners = if mirrored { [a, c, b] } else { [a, b, c] };
            let facet = corners.map(|i| first + i);
            if facet
                .iter()
                .all(|i| self.points[*i as usize].iter().all(|x| x.is_finite()))
            {
                self.facets.push(facet);
            } else {
                self.not_finite += 1;
            }
        }
        Ok(())
    }

    fn say(&self, remarks: &mut Remarks) {
        super::say_not_finite(self.not_finite, "facet", remarks);
        if let Some((lost, line)) = self.bad_index
            && lost > 0
        {
            remarks.add(
                Code::BadIndex,
                Severity::Error,
                format!(
                    "{} left out that name a vertex that does not exist, the first on line {line} of the 3MF model.",
                    count(lost, "triangle")
                ),
                "Export the model again: surfaces are missing.",
            );
        }
        if let Some(first) = self.lost.first() {
            let more = match self.lost.len() {
                1 => String::new(),
                n => format!("; and {} like it", grouped(n as u64 - 1)),
            };
            remarks.add(
                Code::PackageDamaged,
                Severity::Error,
                format!("Left out of the 3MF: {first}{more}."),
                "Export it again: a part is missing.",
            );
        }
        if self.support > 0 {
            remarks.add(
                Code::IgnoredContent,
                Severity::Note,
                format!("{} left out.", count(self.support, "support structure")),
                "Nothing to do.",
            );
        }
        if self.mirrored > 0 {
            remarks.odd(format!(
                "{} placed as mirror image",
                count(self.mirrored, "object")
            ));
        }
    }
}
