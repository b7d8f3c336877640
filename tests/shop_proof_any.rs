//! No program of any content panics, hangs or gives a number that is none.
//!
//! `SOAPSTONE_PROOF_SECONDS=3600 cargo test --release --test shop_proof_any -- --nocapture` goes on for so
//! long and says how many programs it tried.

mod proof_programs;

use std::path::Path;
use std::time::{Duration, Instant};

use proof_programs::{Make, Side, program, report};
use proptest::prelude::*;
use soapstone::measure::Show;
use soapstone::report::Report;
use soapstone::shop::proof::{Asked, Saying, TOLERANCE, prove, read};

/// Programs that are changed at random.
const SEEDS: [&str; 3] = [
    include_str!("../fixtures/proof/sample_plate.ngc"),
    include_str!("../fixtures/proof/sample_plate_r12.dxf"),
    include_str!("../fixtures/proof/sample_plate_2000.dxf"),
];

/// Pieces of text that mean something to a reader of programs.
const SCRAPS: [&str; 48] = [
    "G0",
    "G1",
    "G2",
    "G3",
    "G20",
    "G21",
    "G28",
    "G41",
    "G53",
    "G54",
    "G90",
    "G91",
    "G90.1",
    "G92",
    "M3",
    "M5",
    "M2",
    "X",
    "Y",
    "Z",
    "I",
    "J",
    "R",
    "-",
    ".",
    "1e300",
    "nan",
    "inf",
    "99999999999",
    "0.0000001",
    "(",
    ")",
    ";",
    "%",
    "/",
    "#1=2",
    "[",
    "O100 sub",
    "\n",
    "\r\n",
    "\n0\nLINE\n",
    "\n0\nENDSEC\n",
    "\n0\nPOLYLINE\n",
    "\n0\nVERTEX\n",
    "\n42\n1e9\n",
    "\n40\n-1\n",
    "\u{fffd}",
    "\t",
];

fn model() -> Report {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    report(&root.join("fixtures/proof/sample_plate.obj"), 1.0)
}

fn try_one(report: &Report, bytes: &[u8], saying: &Saying) -> bool {
    let Ok(program) = read(bytes, saying) else {
        return false;
    };
    let asked = Asked {
        part: None,
        kerf: None,
        tolerance: TOLERANCE,
        sheet: Some([3000.0, 1500.0]),
        show: Show::Millimetre,
    };
    let Ok(answer) = prove(report, &program, saying, &asked) else {
        return false;
    };
    let numbers = [
        answer.cut_length,
        answer.lead_length,
        answer.largest_departure.unwrap_or(0.0),
        answer.scale.unwrap_or(1.0),
        answer.kerf.map_or(0.0, |k| k.value + k.plus_minus),
        answer.extent[0][0],
        answer.extent[1][1],
    ];
    assert!(numbers.iter().all(|n| n.is_finite()), "{answer:?}");
    assert!(
        !answer.reasons.iter().any(|r| r.contains("NaN")),
        "{answer:?}"
    );
    true
}

/// A small generator of numbers, the same on every machine (xorshift, 64 bit).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % below.max(1) as u64) as usize
    }
}

fn seeds(report: &Report) -> Vec<Vec<u8>> {
    let plate = report.parts[0].plate.as_ref().expect("a plate");
    let makes = [
        Make {
            kerf: 1.5,
            lead: 5.0,
            ..Make::default()
        },
        Make {
            kerf: 1.5,
            side: Side::Right,
            by_radius: true,
            inch: true,
            incremental: true,
            lead: 3.0,
            ..Make::default()
        },
    ];
    let made = makes.iter().map(|make| program(plate, make).into_bytes());
    SEEDS
        .iter()
        .map(|s| s.as_bytes().to_vec())
        .chain(made)
        .collect()
}

fn changed(dice: &mut Dice, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = seeds[dice.roll(seeds.len())].clone();
    for _ in 0..=dice.roll(8) {
        let at = dice.roll(bytes.len() + 1);
        match dice.roll(7) {
            0 => {
                let byte = dice.roll(256) as u8;
                bytes.insert(at, byte);
            }
            1 if at < bytes.len() => bytes[at] = dice.roll(128) as u8,
            2 => {
                let end = (at + dice.roll(40)).min(bytes.len());
                bytes.drain(at..end);
            }
            3 => {
                let scrap = SCRAPS[dice.roll(SCRAPS.len())];
                bytes.splice(at..at, scrap.bytes());
            }
            4 => {
                let end = (at + dice.roll(120)).min(bytes.len());
                let copy = bytes[at..end].to_vec();
                let to = dice.roll(bytes.len() + 1);
                bytes.splice(to..to, copy);
            }
            5 if at < bytes.len() && bytes[at].is_ascii_digit() => {
                bytes[at] = b'0' + dice.roll(10) as u8;
            }
            _ => {
                let other = &seeds[dice.roll(seeds.len())];
                let from = dice.roll(other.len());
                let end = (from + dice.roll(200)).min(other.len());
                bytes.splice(at..at, other[from..end].iter().copied());
            }
        }
        bytes.truncate(60_000);
    }
    bytes
}

#[test]
fn changed_programs() {
    let report = model();
    let seeds = seeds(&report);
    let asked = std::env::var("SOAPSTONE_PROOF_SECONDS").ok();
    let seconds: Option<u64> = asked.as_ref().and_then(|text| text.parse().ok());
    let seed = std::env::var("SOAPSTONE_PROOF_SEED")
        .ok()
        .and_then(|text| text.parse().ok());
    let mut dice = Dice(seed.unwrap_or(0x5eed_0f5a_9570_0001));
    let begun = Instant::now();
    let (mut tried, mut answered) = (0u64, 0u64);
    let mut slowest = Duration::ZERO;
    let sayings = [
        Saying::default(),
        Saying {
            layers: vec!["CUT".into()],
            on: vec![7],
            off: vec![8],
            ..Saying::default()
        },
    ];
    loop {
        let go_on = match seconds {
            Some(seconds) => begun.elapsed() < Duration::from_secs(seconds),
            None => tried < 150,
        };
        if !go_on {
            break;
        }
        let bytes = changed(&mut dice, &seeds);
        let saying = &sayings[usize::from(dice.roll(10) == 0)];
        let start = Instant::now();
        let before = dice.0;
        let done = std::panic::catch_unwind(|| try_one(&report, &bytes, saying));
        let Ok(done) = done else {
            panic!("state {before:#x}:\n{}", String::from_utf8_lossy(&bytes));
        };
        let took = start.elapsed();
        if took > slowest {
            slowest = took;
            if seconds.is_some() && took > Duration::from_secs(1) {
                println!("{took:?}:\n{}", String::from_utf8_lossy(&bytes));
            }
        }
        tried += 1;
        answered += u64::from(done);
    }
    println!("{tried} programs tried, {answered} answered, slowest {slowest:?}");
    assert!(answered > 0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let _ = read(&bytes, &Saying::default());
    }

    #[test]
    fn any_words(words in proptest::collection::vec((0..SCRAPS.len(), -300i32..300, any::<bool>()), 0..120)) {
        let mut text = String::from("G21 G90 M3 G0 X0 Y0\nF100\n");
        for (scrap, number, end) in words {
            text.push_str(SCRAPS[scrap]);
            text.push_str(&number.to_string());
            if end { text.push('\n'); }
        }
        let _ = read(text.as_bytes(), &Saying::default());
    }
}

/// Programs that would be slow or large for a careless reader.
#[test]
fn monsters() {
    let report = model();
    let many = |line: &dyn Fn(usize) -> String, count: usize| -> String {
        let head = "G21 G90 G17\nG0 X0 Y0\nM3\nF100\n".to_owned();
        (0..count).fold(head, |text, k| text + &line(k) + "\n") + "M5\nM2\n"
    };
    let programs = [
        // Many full circles of the largest size.
        many(&|_| "G2 X0 Y0 I90000 J0".into(), 20_000),
        // A knot: everything within a hair.
        many(
            &|k| {
                format!(
                    "G1 X{} Y{}",
                    (k * 7 % 13) as f64 * 1e-3,
                    (k * 5 % 11) as f64 * 1e-3
                )
            },
            40_000,
        ),
        // A spiral that never closes.
        many(
            &|k| {
                let turn = k as f64 * 0.3;
                format!(
                    "G1 X{:.4} Y{:.4}",
                    turn.cos() * (10.0 + turn),
                    turn.sin() * (10.0 + turn)
                )
            },
            20_000,
        ),
        // Many small closed contours.
        many(
            &|k| {
                let (x, y) = ((k % 60) * 20, (k / 60) * 20);
                format!("G0 X{} Y{y}\nG2 X{} Y{y} I-5 J0", x + 5, x + 5)
            },
            2_900,
        ),
        // Rings in rings.
        many(
            &|k| format!("G0 X{0} Y0\nG2 X{0} Y0 I-{0} J0", 1 + k),
            2_000,
        ),
        // Strokes that all start at one place.
        many(
            &|k| format!("M5\nG0 X0 Y0\nM3\nG1 X{} Y{}", k % 170, k / 170),
            20_000,
        ),
        // A star of one stroke.
        many(
            &|k| format!("G1 X{} Y{}\nG1 X0 Y0", 50 + k % 170, k / 170),
            20_000,
        ),
    ];
    for text in &programs {
        try_one(&report, text.as_bytes(), &Saying::default());
    }
}
