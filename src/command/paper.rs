//! Options of everything that is printed, and writing it as PDF or SVG.

use std::path::PathBuf;

use clap::Args;

use super::model::Model;
use super::output::{OutFile, Overwrite, write_all};
use super::shop_file::InForce;
use super::{Failure, terminal};
use crate::drawing::leaf::{Document, Leaf, pages};
use crate::drawing::paper::Paper;
use crate::drawing::pdf::{Page, pdf};
use crate::drawing::svg::svg_page;
use crate::drawing::words;
use crate::report::{Report, UnitBasis};

/// How the unit of the file is known, one sentence.
fn known(report: &Report) -> String {
    let unit = &report.length_unit;
    match unit.basis {
        UnitBasis::Stated => format!(
            "One unit of the file was taken as {} mm, as told.",
            unit.mm_per_file_unit
        ),
        _ => unit.reason.clone(),
    }
}

/// Where the pages go, and what stands on all of them.
#[derive(Debug, Args)]
pub struct Printing {
    /// File to write: .pdf, or .svg for one file a page; a sheet also as .html, one file for any screen
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,

    /// Paper: A4, A3, letter or tabloid; A4 without it
    #[arg(long, value_name = "PAPER")]
    paper: Option<Paper>,

    /// Name of the job, printed on every page
    #[arg(long, value_name = "NAME")]
    job: Option<String>,

    /// Date, printed on every page as given
    #[arg(long, value_name = "DATE")]
    date: Option<String>,

    #[command(flatten)]
    overwrite: Overwrite,
}

impl Printing {
    /// What stands on all pages.
    pub fn document(
        &self,
        model: &Model,
        report: &Report,
        shop: &InForce,
    ) -> Result<Document, Failure> {
        Ok(Document {
            paper: shop.paper(self.paper)?,
            job: self.job.clone(),
            date: self.date.clone(),
            file: model.name(),
            unit: format!(
                "Lengths in {}. {}",
                words::unit_name(model.show(shop)),
                known(report)
            ),
            projection: None,
        })
    }

    /// Ending of the file's name in small letters.
    pub fn ending(&self) -> String {
        self.output
            .extension()
            .map_or(String::new(), |e| e.to_string_lossy().to_lowercase())
    }

    /// Writes the pages, and says where; `endings` names those the verb knows.
    pub fn print(
        &self,
        leaves: Vec<Leaf>,
        document: &Document,
        title: &str,
        endings: &'static str,
    ) -> Result<(), Failure> {
        let pages = pages(leaves, document);
        let files = match self.ending().as_str() {
            "pdf" => vec![OutFile {
                path: self.output.clone(),
                bytes: pdf(&pages, title),
            }],
            "svg" => self.svgs(&pages, title),
            _ => {
                return Err(Failure::Ending {
                    path: self.output.display().to_string(),
                    endings,
                });
            }
        };
        self.save(&files)
    }

    /// Writes one file, and says where.
    pub fn one(&self, bytes: Vec<u8>) -> Result<(), Failure> {
        self.save(&[OutFile {
            path: self.output.clone(),
            bytes,
        }])
    }

    /// Writes files, and says where.
    pub fn save(&self, files: &[OutFile]) -> Result<(), Failure> {
        write_all(files, self.overwrite)?;
        let names: String = files
            .iter()
            .map(|f| format!("{}\n", f.path.display()))
            .collect();
        terminal::write(names.as_bytes())?;
        Ok(())
    }

    fn svgs(&self, pages: &[Page], title: &str) -> Vec<OutFile> {
        let stem = self
            .output
            .file_stem()
            .map_or(String::new(), |s| s.to_string_lossy().into_owned());
        let many = pages.len() > 1;
        pages
            .iter()
            .zip(1..)
            .map(|(page, n): (&Page, usize)| OutFile {
                path: match many {
                    true => self.output.with_file_name(format!("{stem}-{n}.svg")),
                    false => self.output.clone(),
                },
                bytes: svg_page(page, title).into_bytes(),
            })
            .collect()
    }
}
