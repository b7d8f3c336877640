//! The zip package around a 3MF model: which part is the model, and its text.
//!
//! 3MF Core Specification 1.3, chapter 2 (packages as in ECMA-376, Open Packaging Conventions).

use std::io::{Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::Event;
use zip::ZipArchive;

use crate::finding::{Code, Severity};

use super::encoding;
use super::error::ReadError;
use super::remarks::Remarks;
use super::wording::grouped;

/// Unpacked bytes taken from one package, all parts together: 1 GiB, some 15 million facets.
pub(super) const MOST_UNPACKED: u64 = 1 << 30;

const RELATIONSHIPS: &str = "_rels/.rels";
const USUAL_MODEL: &str = "3d/3dmodel.model";
const AGAIN: &str = "Export it again, or fetch the file again.";

/// An opened package and how much may still be unpacked from it.
pub(super) struct Package<'a> {
    archive: ZipArchive<Cursor<&'a [u8]>>,
    names: Vec<String>,
    left: u64,
}

fn damaged(problem: impl Into<String>, remedy: &str) -> ReadError {
    ReadError::Package {
        problem: problem.into(),
        remedy: remedy.into(),
    }
}

impl<'a> Package<'a> {
    /// Opens the zip archive.
    ///
    /// # Errors
    /// [`ReadError::Package`] when its table of contents cannot be read, as in a file cut short.
    pub fn open(bytes: &'a [u8]) -> Result<Self, ReadError> {
        Self::open_with(bytes, MOST_UNPACKED)
    }

    fn open_with(bytes: &'a [u8], left: u64) -> Result<Self, ReadError> {
        let archive = ZipArchive::new(Cursor::new(bytes)).map_err(|_| {
            let problem = "The 3MF package cannot be opened: the table of contents at its end is missing or damaged, \
                           as when a file is cut short.";
            damaged(problem, AGAIN)
        })?;
        let name = |raw: &[u8]| {
            String::from_utf8_lossy(raw)
                .trim_start_matches('/')
                .to_owned()
        };
        let names = archive.file_names_raw().map(name).collect();
        Ok(Package {
            archive,
            names,
            left,
        })
    }

    /// The part's name as the package writes it; names are compared without regard to capitals.
    pub fn find(&self, path: &str) -> Option<&str> {
        let path = path.trim_start_matches('/');
        self.names
            .iter()
            .find(|name| name.eq_ignore_ascii_case(path))
            .map(String::as_str)
    }

    /// The text of a part.
    ///
    /// # Errors
    /// [`ReadError::Package`] when it is missing, locked or damaged, [`ReadError::TooLarge`].
    pub fn text(&mut self, path: &str, remarks: &mut Remarks) -> Result<String, ReadError> {
        let path = path.trim_start_matches('/');
        let index = self
            .names
            .iter()
            .position(|name| name.eq_ignore_ascii_case(path));
        let Some(index) = index.filter(|i| *i < self.archive.len()) else {
            return Err(damaged(
                format!("The part \"{path}\" is missing from the 3MF package."),
                AGAIN,
            ));
        };
        let mut part = self.archive.by_index(index).map_err(|error| match error {
            zip::result::ZipError::UnsupportedArchive(zip::result::ZipError::PASSWORD_REQUIRED) => {
                damaged(
                    format!("The part \"{path}\" of the 3MF package is locked with a password."),
                    "Export it without one.",
                )
            }
            zip::result::ZipError::CompressionMethodNotSupported(_)
            | zip::result::ZipError::UnsupportedArchive(_) => damaged(
                format!(
                    "The part \"{path}\" of the 3MF package is packed in a way 3MF does not allow."
                ),
                "Export it again.",
            ),
            _ => damaged(
                format!("The part \"{path}\" of the 3MF package is damaged."),
                AGAIN,
            ),
        })?;
        let mut bytes = Vec::new();
        // The package says how much it unpacks to; one that says too little is stopped on the way.
        let unpacked = match part.size() > self.left {
            true => Ok(0),
            false => (&mut part)
                .take(self.left.saturating_add(1))
                .read_to_end(&mut bytes),
        };
        if part.size().max(bytes.len() as u64) > self.left {
            let problem = format!(
                "The 3MF package unpacks to more than the {} bytes this program takes.",
                grouped(MOST_UNPACKED)
            );
            return Err(ReadError::TooLarge { problem });
        }
        if unpacked.is_err() {
            return Err(damaged(
                format!("The part \"{path}\" of the 3MF package is damaged or cut short."),
                AGAIN,
            ));
        }
        self.left -= bytes.len() as u64;
        Ok(encoding::xml(bytes, remarks))
    }

    /// The name of the model part: the one the package's relationships name, else one that is there.
    ///
    /// # Errors
    /// [`ReadError::Package`] when there is no model at all.
    pub fn model_part(&mut self, remarks: &mut Remarks) -> Result<String, ReadError> {
        if self.find("[Content_Types].xml").is_none() {
            remarks.odd("the 3MF package has no list of content types");
        }
        let named = match self.find(RELATIONSHIPS) {
            Some(_) => target(&self.text(RELATIONSHIPS, &mut Remarks::default())?),
            None => None,
        };
        if let Some(found) = named.as_deref().and_then(|target| self.find(target)) {
            return Ok(found.to_owned());
        }
        let seen = match &named {
            Some(target) => {
                format!("The model part \"{target}\" that the 3MF package names is missing")
            }
            None => "The model part is missing from the list of the 3MF package (_rels/.rels)"
                .to_owned(),
        };
        let mut models: Vec<&String> = self
            .names
            .iter()
            .filter(|n| n.to_ascii_lowercase().ends_with(".model"))
            .collect();
        models.sort_by_key(|name| (!name.eq_ignore_ascii_case(USUAL_MODEL), name.to_owned()));
        let Some(model) = models.first() else {
            return Err(damaged(
                format!("{seen}, and there is no other model in it."),
                "Export it again.",
            ));
        };
        remarks.add(
            Code::PackageDamaged,
            Severity::Warning,
            format!("{seen}; \"{model}\" was read instead."),
            "Check that it is the right model, or export it again.",
        );
        Ok((*model).clone())
    }
}

/// Target of the relationship to the 3D model.
fn target(relationships: &str) -> Option<String> {
    let mut xml = Reader::from_str(relationships);
    loop {
        match xml.read_event() {
            Ok(Event::Start(element) | Event::Empty(element))
                if element.local_name().as_ref() == "Relationship" =>
            {
                let (mut kind, mut target) = (String::new(), None);
                for attribute in element.attributes().with_checks(false).flatten() {
                    match attribute.key.local_name().as_ref() {
                        "Type" => kind = attribute.value.into_owned(),
                        "Target" => target = Some(attribute.value.into_owned()),
                        _ => {}
                    }
                }
                if kind.trim().ends_with("/3dmodel") && target.is_some() {
                    return target;
                }
            }
            Ok(Event::Eof) | Err(_) => return None,
            Ok(_) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    fn packed(parts: &[(&str, &str)]) -> Vec<u8> {
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, text) in parts {
            zip.start_file(*name, zip::write::SimpleFileOptions::default())
                .unwrap();
            zip.write_all(text.as_bytes()).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    #[test]
    fn no_more_is_unpacked_than_allowed_in_all() {
        let bytes = packed(&[("a", &" ".repeat(600)), ("b", &" ".repeat(600))]);
        assert!(bytes.len() < 400);
        let mut package = Package::open_with(&bytes, 1000).unwrap();
        let mut remarks = Remarks::default();
        assert_eq!(
            package.text("/A", &mut remarks).map(|text| text.len()),
            Ok(600)
        );
        assert!(matches!(
            package.text("b", &mut remarks),
            Err(ReadError::TooLarge { .. })
        ));
    }

    #[test]
    fn a_damaged_part_is_named() {
        let mut bytes = packed(&[("3D/a.model", &"<model/>".repeat(90))]);
        bytes[50] ^= 0x55;
        let text =
            Package::open(&bytes).and_then(|mut p| p.text("3D/a.model", &mut Remarks::default()));
        assert!(text.unwrap_err().to_string().contains("\"3D/a.model\""));
    }
}
