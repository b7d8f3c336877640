//! The objects of a 3MF where its build list puts them.

use std::collections::BTreeMap;

use crate::finding::{Code, Severity};

use super::Group;
use super::model_xml::{Model, Object, Use};
use super::placement::{IDENTITY, Placement};
use super::remarks::Remarks;
use super::wording::{count, grouped};

/// Model parts by lower-case name.
pub(super) type Models = BTreeMap<String, Model>;

/// Everything placed so far.
#[derive(Default)]
pub(super) struct Placed {
    pub points: Vec<[f64; 3]>,
    pub facets: Vec<[u32; 3]>,
    pub groups: Vec<Group>,
    mirrored: usize,
    support: usize,
    not_finite: usize,
    bad_index: Option<(usize, usize)>,
    /// First object left out and why, and how many.
    lost: Option<(String, usize)>,
    /// Any placement but the identity.
    pub moved: bool,
    /// Largest growth of a length.
    pub scale: f64,
    /// Largest step of a rounded transform.
    pub step: f64,
}

/// Places one use of an object and everything in it. The assembly must have passed
/// [`budget::check`](super::budget::check): it ends, and it fits.
pub(super) fn place(
    models: &Models,
    part: &str,
    used: &Use,
    outer: &Placement,
    name: Option<&str>,
    out: &mut Placed,
) {
    let part = used.path.as_deref().unwrap_or(part);
    let Some(object) = find(models, part, used.object) else {
        out.lose(|| {
            format!(
                "line {} names object {}, which is not there",
                used.line, used.object
            )
        });
        return;
    };
    let place_here = used.place.then(outer);
    if !place_here.usable() {
        out.lose(|| {
            format!(
                "object {} (line {}), placed by a transform that squeezes it flat",
                used.object, used.line
            )
        });
        return;
    }
    if object.support {
        out.support += 1;
        return;
    }
    if object.triangles.is_empty() && object.components.is_empty() {
        out.lose(|| format!("object {} has no mesh", used.object));
    }
    let name = object.name.as_deref().or(name);
    out.mesh(object, &place_here, name);
    for component in &object.components {
        place(models, part, component, &place_here, name, out);
    }
}

/// An object by the part it is in (any capitals) and its number.
pub(super) fn find<'m>(models: &'m Models, part: &str, object: i64) -> Option<&'m Object> {
    models.get(&part.to_ascii_lowercase())?.objects.get(&object)
}

impl Placed {
    fn lose(&mut self, why: impl Fn() -> String) {
        let (_, times) = self.lost.get_or_insert_with(|| (why(), 0));
        *times += 1;
    }

    fn mesh(&mut self, object: &Object, place: &Placement, name: Option<&str>) {
        if object.triangles.is_empty() {
            return;
        }
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
    }

    /// Reports what was left out or turned.
    pub fn say(&self, remarks: &mut Remarks) {
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
        if let Some((first, times)) = &self.lost {
            let more = match times {
                1 => String::new(),
                n => format!("; and {} more", grouped(*n as u64 - 1)),
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
