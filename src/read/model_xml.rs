//! The model part of a 3MF: objects, and the build list.
//!
//! 3MF Core Specification 1.3, chapters 3 to 5; `path` of the Production Extension.

use std::collections::BTreeMap;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use crate::finding::{Code, Severity};

use super::decimal::{self, Unusable};
use super::error::ReadError;
use super::faces::integer;
use super::placement::{IDENTITY, Placement};
use super::precision::Tally;
use super::remarks::Remarks;
use super::text::{bad_number, line_of};
use super::wording::{name, quoted};

/// A reference to an object: a component or a build item.
#[derive(Clone, Debug)]
pub(super) struct Use {
    /// Part the object is in, where it is not the same.
    pub path: Option<String>,
    pub object: i64,
    pub place: Placement,
    pub part_number: Option<String>,
    pub line: usize,
}

/// An object: a mesh, or components.
#[derive(Clone, Debug, Default)]
pub(super) struct Object {
    pub name: Option<String>,
    /// Printed but no part: support.
    pub support: bool,
    pub points: Vec<[f64; 3]>,
    pub triangles: Vec<[u32; 3]>,
    pub components: Vec<Use>,
    /// Triangles that name a vertex that is not there, and the line of the first.
    pub bad_index: Option<(usize, usize)>,
}

/// One model part.
#[derive(Clone, Debug, Default)]
pub(super) struct Model {
    /// The unit as written.
    pub unit: Option<String>,
    pub objects: BTreeMap<i64, Object>,
    /// `None` where the element is missing.
    pub build: Option<Vec<Use>>,
}

struct Parser<'t> {
    text: &'t str,
    tally: &'t mut Tally,
    remarks: &'t mut Remarks,
    model: Model,
    /// Prefix of the core namespace, as the model element has it.
    prefix: Option<String>,
    object: Option<(i64, Object)>,
    in_mesh: bool,
    at: usize,
}

/// Reads one model part; coordinates go to `tally`.
///
/// # Errors
/// [`ReadError::Malformed`] with the line where the XML or a number is wrong,
/// [`ReadError::DecimalComma`], [`ReadError::Truncated`] when the text stops before its end.
pub(super) fn parse(
    text: &str,
    tally: &mut Tally,
    remarks: &mut Remarks,
) -> Result<Model, ReadError> {
    let mut xml = Reader::from_str(text);
    let mut parser = Parser {
        text,
        tally,
        remarks,
        model: Model::default(),
        prefix: None,
        object: None,
        in_mesh: false,
        at: 0,
    };
    let mut depth = 0usize;
    loop {
        parser.at = usize::try_from(xml.buffer_position()).unwrap_or(usize::MAX);
        match xml.read_event() {
            Ok(Event::Start(element)) => {
                depth += 1;
                parser.start(&element)?;
            }
            Ok(Event::Empty(element)) => {
                parser.start(&element)?;
                parser.end(element.local_name().as_ref());
            }
            Ok(Event::End(element)) => {
                depth = depth.saturating_sub(1);
                parser.end(element.local_name().as_ref());
            }
            Ok(Event::Eof) if depth > 0 => {
                let done = parser.model.objects.len() as u64;
                return Err(ReadError::Truncated {
                    item: "object",
                    done,
                    of: None,
                });
            }
            Ok(Event::Eof) => return Ok(parser.model),
            Ok(Event::DocType(_)) => parser
                .remarks
                .odd("the 3MF model has a DTD, which the format forbids"),
            Ok(_) => {}
            Err(error) => return Err(parser.fault(&format!("the XML is broken ({error})"))),
        }
    }
}

impl Parser<'_> {
    fn line(&self) -> usize {
        // The event starts behind the blanks before it.
        let rest = self.text.as_bytes().get(self.at..).unwrap_or_default();
        let blanks = rest.iter().take_while(|b| b.is_ascii_whitespace()).count();
        line_of(self.text.as_bytes(), self.at + blanks)
    }

    fn fault(&self, what: &str) -> ReadError {
        ReadError::Malformed {
            problem: format!("Line {} of the 3MF model: {what}.", self.line()),
        }
    }

    fn number_fault(&self, value: &str, why: Unusable) -> ReadError {
        bad_number(self.text.as_bytes(), self.at, value.as_bytes(), why)
    }

    fn core(&self, element: &BytesStart) -> bool {
        element.name().prefix().map(|p| p.as_ref().to_owned()) == self.prefix
    }

    fn start(&mut self, element: &BytesStart) -> Result<(), ReadError> {
        let local = element.local_name();
        match local.as_ref() {
            "vertex" if self.in_mesh && self.core(element) => self.vertex(element),
            "triangle" if self.in_mesh && self.core(element) => self.triangle(element),
            "model" => self.model(element),
            "object" if self.core(element) => self.object(element),
            "mesh" if self.core(element) => {
                self.in_mesh = true;
                Ok(())
            }
            "component" if self.core(element) => {
                let used = self.used(element)?;
                if let Some((_, object)) = &mut self.object {
                    object.components.push(used);
                }
                Ok(())
            }
            "build" if self.core(element) => {
                self.model.build.get_or_insert_default();
                Ok(())
            }
            "item" if self.core(element) && self.model.build.is_some() => {
                let used = self.used(element)?;
                self.model.build.get_or_insert_default().push(used);
                Ok(())
            }
            "beamlattice" | "booleanshape" | "displacementmesh" | "levelset" => {
                self.remarks.add(
                    Code::IgnoredContent,
                    Severity::Warning,
                    format!(
                        "Line {}: a shape given as {} was left out.",
                        self.line(),
                        local.as_ref()
                    ),
                    "Export the part as a plain mesh.",
                );
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn end(&mut self, local: &str) {
        match local {
            "mesh" => self.in_mesh = false,
            "object" => self.finish_object(),
            _ => {}
        }
    }

    fn model(&mut self, element: &BytesStart) -> Result<(), ReadError> {
        self.prefix = element.name().prefix().map(|p| p.as_ref().to_owned());
        let (mut required, mut spaces) = (String::new(), BTreeMap::new());
        for attribute in element.attributes().with_checks(false).flatten() {
            match (
                attribute.key.prefix().map(|p| p.as_ref().to_owned()),
                attribute.key.local_name().as_ref(),
            ) {
                (None, "unit") => self.model.unit = Some(attribute.value.trim().to_owned()),
                (None, "requiredextensions") => required = attribute.value.into_owned(),
                (Some(xmlns), prefix) if xmlns == "xmlns" => {
                    spaces.insert(prefix.to_owned(), attribute.value.into_owned());
                }
                _ => {}
            }
        }
        // These add colours, layers or paths, or are read.
        let known = ["/production/", "/material/", "/slice/", "/trianglesets/"];
        for prefix in required.split_ascii_whitespace() {
            let space = spaces.get(prefix).map_or("", String::as_str);
            if !known.iter().any(|k| space.contains(k)) {
                self.remarks.add(
                    Code::IgnoredContent,
                    Severity::Warning,
                    format!(
                        "The 3MF needs the extension \"{}\", which this program does not read.",
                        quoted(prefix.as_bytes())
                    ),
                    "Export the part as a plain mesh if something is missing.",
                );
            }
        }
        Ok(())
    }

    fn object(&mut self, element: &BytesStart) -> Result<(), ReadError> {
        let (mut id, mut object, mut number) = (None, Object::default(), None);
        for attribute in element.attributes().with_checks(false).flatten() {
            match attribute.key.as_ref() {
                "id" => id = integer(attribute.value.trim().as_bytes()),
                "name" => object.name = text_of(&attribute),
                "partnumber" => number = text_of(&attribute),
                "type" => {
                    object.support = matches!(attribute.value.as_ref(), "support" | "solidsupport")
                }
                _ => {}
            }
        }
        object.name = object.name.or(number);
        let id = id.ok_or_else(|| self.fault("an object has no number (id)"))?;
        self.object = Some((id, object));
        Ok(())
    }

    fn finish_object(&mut self) {
        let Some((id, mut object)) = self.object.take() else {
            return;
        };
        let vertices = object.points.len() as u32;
        let before = object.triangles.len();
        object.triangles.retain(|t| t.iter().all(|i| *i < vertices));
        let lost = before - object.triangles.len();
        if lost > 0 {
            let line = object.bad_index.map_or(self.line(), |(_, line)| line);
            object.bad_index = Some((lost, line));
        }
        if self.model.objects.contains_key(&id) {
            self.remarks.add(
                Code::PackageDamaged,
                Severity::Warning,
                format!(
                    "Two objects of the 3MF have the same number (id {id}); the first was used."
                ),
                "Export it again if a part is missing.",
            );
            return;
        }
        self.model.objects.insert(id, object);
    }

    fn vertex(&mut self, element: &BytesStart) -> Result<(), ReadError> {
        let mut point = [None; 3];
        for attribute in element.attributes().with_checks(false).flatten() {
            let k = match attribute.key.as_ref() {
                "x" => 0,
                "y" => 1,
                "z" => 2,
                _ => continue,
            };
            point[k] = match decimal::word(attribute.value.trim().as_bytes()) {
                Ok(number) => {
                    self.tally.add(&number);
                    Some(number.value)
                }
                Err(Unusable::NotFinite) => Some(f64::NAN),
                Err(why) => return Err(self.number_fault(&attribute.value, why)),
            };
        }
        let [Some(x), Some(y), Some(z)] = point else {
            return Err(self.fault("a vertex without x, y and z"));
        };
        if let Some((_, object)) = &mut self.object {
            object.points.push([x, y, z]);
        }
        Ok(())
    }

    fn triangle(&mut self, element: &BytesStart) -> Result<(), ReadError> {
        let mut corners = [None; 3];
        for attribute in element.attributes().with_checks(false).flatten() {
            let k = match attribute.key.as_ref() {
                "v1" => 0,
                "v2" => 1,
                "v3" => 2,
                _ => continue,
            };
            corners[k] = integer(attribute.value.trim().as_bytes());
        }
        let [Some(a), Some(b), Some(c)] = corners else {
            return Err(self.fault("a triangle without three vertex numbers (v1, v2, v3)"));
        };
        // A number no vertex can have: dropped with the others beyond the end.
        let corners = [a, b, c].map(|i| u32::try_from(i).unwrap_or(u32::MAX));
        let line = |p: &Self| p.line();
        let suspicious = self.object.as_ref().is_some_and(|(_, o)| {
            o.bad_index.is_none() && corners.iter().any(|i| *i as usize >= o.points.len())
        });
        let place = suspicious.then(|| line(self));
        if let Some((_, object)) = &mut self.object {
            object.triangles.push(corners);
            if let Some(line) = place {
                object.bad_index = Some((0, line));
            }
        }
        Ok(())
    }

    fn used(&mut self, element: &BytesStart) -> Result<Use, ReadError> {
        let mut used = Use {
            path: None,
            object: -1,
            place: IDENTITY,
            part_number: None,
            line: self.line(),
        };
        let mut id = None;
        for attribute in element.attributes().with_checks(false).flatten() {
            match attribute.key.local_name().as_ref() {
                "objectid" => id = integer(attribute.value.trim().as_bytes()),
                "path" => used.path = Some(attribute.value.trim_start_matches('/').to_owned()),
                "partnumber" => used.part_number = text_of(&attribute),
                "transform" => {
                    used.place = Placement::parse(&attribute.value).map_err(|why| match why {
                        Unusable::Comma => self.number_fault(&attribute.value, why),
                        _ => self.fault("a transform is not twelve numbers"),
                    })?;
                }
                _ => {}
            }
        }
        used.object =
            id.ok_or_else(|| self.fault("a reference to an object without its number (objectid)"))?;
        Ok(used)
    }
}

fn text_of(attribute: &quick_xml::events::attributes::Attribute) -> Option<String> {
    let value = attribute.normalized_value(quick_xml::XmlVersion::Explicit1_0);
    let value = value.unwrap_or_else(|_| attribute.value.clone());
    name(value.as_bytes())
}
