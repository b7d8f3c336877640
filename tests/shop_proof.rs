//! Programs made from the plates of models, right and with one thing wrong: the right verdict on all.

mod proof_programs;

use std::path::{Path, PathBuf};

use proof_programs::{Make, Side, program, report, rings};
use soapstone::measure::Show;
use soapstone::plate::Form;
use soapstone::report::{Report, ReportedPart};
use soapstone::shop::check::Verdict;
use soapstone::shop::proof::{Answer, Asked, Hand, KerfSide, Saying, TOLERANCE, prove, read};

/// Models with plates, and millimetres in their unit. Truths: beside them in `truth.json`.
const MODELS: [(&str, f64); 21] = [
    ("fixtures/corpus/base_plate_01.stl", 1.0),
    ("fixtures/corpus/gusset_01.obj", 1.0),
    ("fixtures/corpus/ell_plate_01.obj", 1.0),
    ("fixtures/corpus/saddle_plate_01.stl", 1.0),
    ("fixtures/corpus/saddle_plate_01_p.3mf", 1.0),
    ("fixtures/corpus/cover_csk_01_t005.stl", 1.0),
    ("fixtures/corpus/shim_01.stl", 1.0),
    ("fixtures/corpus/wavy_plate_01.stl", 1.0),
    ("fixtures/corpus/gutter_01_t02.stl", 1.0),
    ("fixtures/corpus/collar_01_t01.stl", 1.0),
    ("fixtures/corpus/canopy_panel_01_wrap.stl", 1.0),
    ("fixtures/corpus/cowl_cone_01_t02.stl", 1.0),
    ("fixtures/corpus/l_bracket_01.stl", 1.0),
    ("fixtures/corpus/l_bracket_01_p.obj", 1.0),
    ("fixtures/corpus/u_bracket_01_inch.stl", 25.4),
    ("fixtures/corpus/hat_tray_01.stl", 1.0),
    ("fixtures/corpus/foot_welded_01.stl", 1.0),
    ("fixtures/canopy_bay_01.stl", 1.0),
    ("fixtures/plate/disc.stl", 1.0),
    ("fixtures/plate/drilled.stl", 1.0),
    ("fixtures/plate/corner_bracket.stl", 1.0),
];

struct Case {
    name: String,
    report: Report,
    part: usize,
}

impl Case {
    fn part(&self) -> &ReportedPart {
        &self.report.parts[self.part]
    }

    fn program(&self, make: &Make) -> String {
        program(self.part().plate.as_ref().expect("a plate"), make)
    }

    /// True where turning the flat over makes another piece.
    fn handed(&self) -> bool {
        let plate = self.part().plate.as_ref().expect("a plate");
        plate.form != Form::Flat
            || plate
                .holes
                .iter()
                .any(|h| h.countersink_diameter.is_some() || h.depth.is_some())
    }

    fn holes(&self) -> usize {
        rings(self.part().plate.as_ref().expect("a plate")).1.len()
    }
}

fn cases() -> Vec<Case> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let paths = MODELS.iter().map(|(name, unit)| (root.join(name), *unit));
    plates(paths.collect())
}

fn plates(paths: Vec<(PathBuf, f64)>) -> Vec<Case> {
    let mut cases = Vec::new();
    for (path, unit) in paths {
        let report = report(&path, unit);
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        for part in 0..report.parts.len() {
            let whole = report.parts[part]
                .plate
                .as_ref()
                .is_some_and(|p| !p.outline.is_empty());
            if whole {
                cases.push(Case {
                    name: format!("{name} {}", report.parts[part].mark),
                    report: report.clone(),
                    part,
                });
            }
        }
    }
    cases
}

fn asked() -> Asked {
    Asked {
        part: None,
        kerf: None,
        tolerance: TOLERANCE,
        sheet: None,
        show: Show::Millimetre,
    }
}

fn answer(report: &Report, text: &str, asked: &Asked) -> Answer {
    let saying = Saying::default();
    let program = read(text.as_bytes(), &saying).unwrap_or_else(|why| panic!("{why}\n{text}"));
    prove(report, &program, &saying, asked).expect("an answer")
}

/// Makes the program, and holds the answer against what is expected of it.
struct Tally {
    asked: usize,
    wrong: Vec<String>,
}

impl Tally {
    fn check(&mut self, case: &Case, what: &str, found: &Answer, good: bool) {
        self.asked += 1;
        if !good {
            self.wrong.push(format!(
                "{}, {what}: {:?} {:?} {:?} scale {:?} kerf {:?} {:?} off {:?} holes -{} +{} !{} open {}: {}",
                case.name,
                found.verdict,
                found.part,
                found.hand,
                found.scale,
                found.kerf.map(|k| k.value),
                found.kerf_side,
                found.largest_departure,
                found.missing_holes,
                found.extra_holes,
                found.wrong_size_holes,
                found.open_contours,
                found.reasons.join(" ")
            ));
        }
    }
}

fn is(found: &Answer, verdict: Verdict, case: &Case) -> bool {
    found.verdict == verdict && found.part.as_deref() == Some(case.part().mark.as_str())
}

/// Every way a right program may be written.
fn right(tally: &mut Tally, case: &Case) {
    let posed = Make {
        turn: 37.0,
        shift: [412.0, -33.5],
        ..Make::default()
    };
    // Kerf, side, lead, by radius, absolute centres, inch, incremental.
    let ways = [
        ("no kerf", 0.0, Side::Left, 0.0, false, false, false, false),
        (
            "kerf left",
            1.5,
            Side::Left,
            5.0,
            false,
            false,
            false,
            false,
        ),
        (
            "kerf right",
            1.5,
            Side::Right,
            4.0,
            true,
            false,
            false,
            false,
        ),
        ("laser", 0.2, Side::Left, 2.0, false, true, false, false),
        ("inch", 1.5, Side::Left, 5.0, true, false, true, false),
        (
            "incremental",
            1.5,
            Side::Right,
            5.0,
            false,
            false,
            false,
            true,
        ),
        (
            "inch, incremental",
            0.0,
            Side::Right,
            5.0,
            true,
            false,
            true,
            true,
        ),
    ];
    for (what, kerf, side, lead, by_radius, absolute_centres, inch, incremental) in ways {
        // A torch is wider than the holes of a small shim.
        let kerf = if case.name.starts_with("shim") {
            f64::min(kerf, 0.3)
        } else {
            kerf
        };
        let make = Make {
            kerf,
            side,
            lead,
            by_radius,
            absolute_centres,
            inch,
            incremental,
            ..posed.clone()
        };
        let found = answer(&case.report, &case.program(&make), &asked());
        let near = found.kerf.is_some_and(|k| (k.value - kerf).abs() < 0.05);
        let on = match (kerf > 0.0, side) {
            (false, _) => KerfSide::None,
            (true, Side::Left) => KerfSide::Left,
            (true, Side::Right) => KerfSide::Right,
        };
        let good = is(&found, Verdict::Yes, case)
            && found.hand == Some(Hand::Same)
            && found.scale == Some(1.0)
            && near
            && found.kerf_side == on
            && found.largest_departure.is_some_and(|off| off < 0.1)
            && found.pierces == case.holes() + 1;
        tally.check(case, what, &found, good);
    }
}

fn wrong(tally: &mut Tally, case: &Case) {
    let kerf = if case.name.starts_with("shim") {
        0.2
    } else {
        1.0
    };
    let make = Make {
        kerf,
        lead: 4.0,
        turn: -112.0,
        shift: [-20.0, 800.0],
        ..Make::default()
    };
    let try_it = |make: &Make| answer(&case.report, &case.program(make), &asked());

    let mirrored = try_it(&Make {
        mirror: true,
        ..make.clone()
    });
    let opposite = mirrored.hand == Some(Hand::Opposite);
    // A plate that is its own mirror image, or that may be turned over, is no wrong plate.
    let wanted = case.part().opposite_hand > 0;
    let good = match (opposite, case.handed() && !wanted) {
        (true, true) => is(&mirrored, Verdict::No, case),
        _ => is(&mirrored, Verdict::Yes, case),
    };
    tally.check(case, "mirrored", &mirrored, good);

    for (what, scale) in [
        ("1.05", 1.05),
        ("0.9", 0.9),
        ("2", 2.0),
        ("25.4", 25.4),
        ("1/25.4", 1.0 / 25.4),
        ("10", 10.0),
        ("1/10", 0.1),
    ] {
        let found = try_it(&Make {
            scale,
            ..make.clone()
        });
        let near = found.scale.is_some_and(|s| (s / scale - 1.0).abs() < 0.02);
        // A plain outline may be read as one with a wide kerf: then it can't be told, and says so.
        let vague = found.verdict == Verdict::Unclear && found.reasons.join(" ").contains("--kerf");
        let good = is(&found, Verdict::No, case) && near || vague && scale == 1.05;
        tally.check(case, &format!("scaled {what}"), &found, good);
    }

    let found = try_it(&Make {
        open: 3.0,
        lead: 0.0,
        ..make.clone()
    });
    tally.check(
        case,
        "open",
        &found,
        is(&found, Verdict::No, case) && found.open_contours == 1,
    );

    let found = try_it(&Make {
        kerf: -1.0,
        lead: 0.0,
        ..make.clone()
    });
    let small = found.reasons.join(" ").contains("wrong side");
    if !case.name.starts_with("shim") {
        tally.check(
            case,
            "kerf inside",
            &found,
            is(&found, Verdict::No, case) && small,
        );
    }
    if case.holes() == 0 {
        return;
    }
    let last = case.holes() - 1;
    let found = try_it(&Make {
        skip: Some(last),
        ..make.clone()
    });
    tally.check(
        case,
        "missing",
        &found,
        is(&found, Verdict::No, case) && found.missing_holes == 1,
    );

    let less = if case.name.starts_with("shim") {
        0.5
    } else {
        1.0
    };
    let found = try_it(&Make {
        shrink: Some((0, less)),
        ..make.clone()
    });
    let good = is(&found, Verdict::No, case) && found.wrong_size_holes == 1;
    tally.check(case, "undersized", &found, good);

    let found = try_it(&Make {
        outside_first: true,
        ..make.clone()
    });
    let late = found.reasons.join(" ").contains("after the outside");
    tally.check(
        case,
        "holes last",
        &found,
        is(&found, Verdict::No, case) && late,
    );

    let inside = case.part().plate.as_ref().expect("a plate").holes[0].clone();
    let at = inside.x.zip(inside.y).map(|(x, y)| [x.value, y.value]);
    // Between the first hole and the middle of the flat.
    let flat = &case.part().plate.as_ref().expect("a plate").flat;
    let size = flat.length.zip(flat.width).map(|(l, w)| [l.value, w.value]);
    if let (Some([x, y]), Some([l, w])) = (at, size)
        && !case.name.starts_with("shim")
    {
        let spot = [0.25 * x + 0.375 * l, 0.25 * y + 0.375 * w];
        let found = try_it(&Make {
            extra: Some([spot[0], spot[1], 5.0]),
            ..make.clone()
        });
        // On some plates that place is a hole already, or outside; then it is wrong in another way.
        let good = found.verdict == Verdict::No;
        tally.check(case, "extra", &found, good);
    }
}

fn run(cases: &[Case], check: fn(&mut Tally, &Case)) {
    let mut tally = Tally {
        asked: 0,
        wrong: Vec::new(),
    };
    for case in cases {
        check(&mut tally, case);
    }
    println!("{} programs of {} plates", tally.asked, cases.len());
    assert!(
        tally.wrong.is_empty(),
        "{} of {} wrong:\n{}",
        tally.wrong.len(),
        tally.asked,
        tally.wrong.join("\n")
    );
}

/// Plates of the corpus beside the repository that are not among the fixtures.
fn corpus() -> Vec<Case> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/corpus");
    let Ok(text) = std::fs::read_to_string(folder.join("truth.json")) else {
        println!("skipped: {} is not here", folder.display());
        return Vec::new();
    };
    let truth: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let mut paths = Vec::new();
    for model in truth["models"].as_array().expect("models") {
        let parts = model["parts"].as_array().expect("parts");
        let plate =
            |p: &serde_json::Value| p["class"].as_str().is_some_and(|c| c.ends_with("_plate"));
        let file = model["file"].as_str().expect("a file");
        let name = file.rsplit('/').next().unwrap_or_default();
        let known = MODELS.iter().any(|(path, _)| path.ends_with(name));
        if parts.iter().any(plate) && !known {
            let unit = model["mm_per_unit"].as_f64().expect("a unit");
            paths.push((folder.join(file), unit));
        }
    }
    plates(paths)
}

#[test]
fn programs_of_the_corpus() {
    let cases = corpus();
    run(&cases, right);
    run(&cases, wrong);
}

#[test]
fn right_programs_are_recognised() {
    run(&cases(), right);
}

#[test]
fn wrong_programs_are_refused() {
    run(&cases(), wrong);
}

/// The program of one model's plate against every other model.
#[test]
fn another_plates_program_is_refused() {
    let cases = cases();
    let stem = |case: &Case| case.name.split("_01").next().unwrap_or_default().to_owned();
    let mut tally = Tally {
        asked: 0,
        wrong: Vec::new(),
    };
    for case in &cases {
        let text = case.program(&Make {
            kerf: 0.3,
            ..Make::default()
        });
        for other in &cases {
            // Two exports of one part, or two parts of one model.
            if stem(case) == stem(other) {
                continue;
            }
            let found = answer(&other.report, &text, &asked());
            tally.check(
                case,
                &format!("on {}", other.name),
                &found,
                found.verdict == Verdict::No,
            );
        }
    }
    println!("{} programs", tally.asked);
    assert!(tally.wrong.is_empty(), "{}", tally.wrong.join("\n"));
}
