//! Files beside the model of any content: programs, tables, logs, points, readings, the shop file.
//! Shared by the tests and the fuzz targets.

use std::path::Path;

use soapstone::analysis::{Asked, analyse};
use soapstone::measure::{STEEL_DENSITY, Show, Unit};
use soapstone::plate::shop_table;
use soapstone::report::{Report, ReportedPart};
use soapstone::shop::check::{self, Answer, Tolerance, measured, points};
use soapstone::shop::curved::Side;
use soapstone::shop::roll::{self, Waste, log, roll};
use soapstone::shop::{file, json, proof};

/// A rolled member and a plate to hold the files against.
pub struct Beside {
    rolled: Report,
    plate: Report,
}

impl Beside {
    /// Measures both.
    pub fn new() -> Beside {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).ancestors();
        let fixtures = |folder: &&Path| folder.join("fixtures").is_dir();
        let root = root
            .filter(|f| f.join("src").is_dir())
            .find(fixtures)
            .expect("the repository");
        let model = |name: &str| {
            let asked = Asked {
                mm_per_unit: Some(1.0),
                density: STEEL_DENSITY,
            };
            let bytes = std::fs::read(root.join("fixtures").join(name)).expect("a fixture");
            analyse(&bytes, name, &asked).expect("a model")
        };
        Beside {
            rolled: model("canopy_bay_01.stl"),
            plate: model("proof/sample_plate.obj"),
        }
    }

    /// Tries the bytes as every kind of file; true when they were one.
    ///
    /// # Panics
    /// Where an answer holds a number that is none.
    pub fn table(&self, bytes: &[u8]) -> bool {
        let part = &self.rolled.parts[0];
        let text = String::from_utf8_lossy(bytes);
        let mut known = 0;
        for bare in [Unit::Millimetre, Unit::Inch] {
            if let Ok(rows) = shop_table(&text, bare) {
                known += 1;
                words(&format!("{rows:?}"));
            }
        }
        known += usize::from(file::read(&text).is_ok());
        known += usize::from(self.points(part, bytes).is_some_and(|answer| said(&answer)));
        let asked = measured::Asked {
            tolerance: None,
            angle_tolerance: None,
            error: None,
            show: Show::InchFraction(16),
        };
        let answer = measured::check(&self.rolled, part, bytes, &asked);
        known += usize::from(answer.is_ok_and(|answer| said(&answer)));
        known += usize::from(self.log(part, bytes).is_some());
        known > 0
    }

    fn points(&self, part: &ReportedPart, bytes: &[u8]) -> Option<Answer> {
        let read = points::read_points(bytes, Unit::Millimetre).ok()?;
        let curve = check::curve(part, None).ok()?;
        let asked = points::Asked {
            on: Side::Outside,
            error: None,
            tolerance: Tolerance::Given(1.0),
            show: Show::Millimetre,
        };
        points::check(&self.rolled, part, &curve, &read, &asked).ok()
    }

    fn log(&self, part: &ReportedPart, bytes: &[u8]) -> Option<()> {
        let (passes, by_setting) = log::read_log(bytes, Unit::Millimetre).ok()?;
        let asked = roll::Asked {
            gauges: vec![300.0],
            show: Show::Millimetre,
            tolerance: None,
            piece_tolerance: None,
            reading: 0.0,
            waste: Waste::Each(0.0),
            template_side: Side::Outside,
            template_chord: None,
            pitch: None,
            arc: None,
        };
        let sheet = roll(&self.rolled, part, &asked).expect("a sheet");
        let sheet = log::with_progress(sheet, &passes, by_setting, 0.1).ok()?;
        words(&sheet.progress.as_ref()?.words);
        words(&json(&sheet).expect("JSON"));
        Some(())
    }

    /// Follows the bytes as a cutting program and holds it against the plate; true when it was one.
    ///
    /// # Panics
    /// Where the answer holds a number that is none.
    pub fn program(&self, bytes: &[u8]) -> bool {
        let saying = proof::Saying::default();
        let asked = proof::Asked {
            part: None,
            kerf: None,
            tolerance: proof::TOLERANCE,
            sheet: Some([3000.0, 1500.0]),
            show: Show::Millimetre,
        };
        let answer = proof::read(bytes, &saying)
            .and_then(|program| proof::prove(&self.plate, &program, &saying, &asked));
        let Ok(answer) = answer else {
            return false;
        };
        words(&answer.reasons.join("\n"));
        let numbers = [
            answer.cut_length,
            answer.lead_length,
            answer.extent[0][0],
            answer.extent[1][1],
        ];
        assert!(numbers.iter().all(|n| n.is_finite()), "{answer:?}");
        true
    }
}

fn said(answer: &Answer) -> bool {
    words(&answer.reasons.join("\n"));
    words(&format!(
        "{:?} {:?} {:?}",
        answer.radius, answer.points, answer.lines
    ));
    true
}

/// No number that is none may be read anywhere.
fn words(text: &str) {
    let wrong = text
        .split(|c: char| !c.is_alphanumeric())
        .find(|word| matches!(*word, "NaN" | "inf" | "nan"));
    assert_eq!(wrong, None, "{text}");
}
