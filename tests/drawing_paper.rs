//! 1:1 is 1:1: bars and wraps measured on the rendered page.

mod outside;

use std::path::{Path, PathBuf};
use std::process::Command;

/// Pixels of a page in a millimetre, at 300 to the inch.
const PER_MM: f64 = 300.0 / 25.4;

/// A rendered page: rows of ink, 0 white to 1 black, from the top.
struct Page {
    width: usize,
    height: usize,
    ink: Vec<f64>,
}

impl Page {
    /// Ink at a pixel, row counted from the top.
    fn at(&self, x: usize, y: usize) -> f64 {
        self.ink[y * self.width + x]
    }

    /// Row of a height above the lower edge, mm.
    fn row(&self, mm: f64) -> usize {
        (self.height as f64 - mm * PER_MM).round() as usize
    }

    /// Middles of the dark runs of a row between two columns, mm from the left edge.
    fn runs_along(&self, row: usize, from: f64, to: f64) -> Vec<f64> {
        let line = |k: usize| self.at(k, row);
        runs((from * PER_MM) as usize, (to * PER_MM) as usize, line)
    }

    /// The same up a column, mm from the lower edge.
    fn runs_up(&self, x: f64, from: f64, to: f64) -> Vec<f64> {
        let column = (x * PER_MM).round() as usize;
        let line = |k: usize| self.at(column, self.height - 1 - k);
        runs((from * PER_MM) as usize, (to * PER_MM) as usize, line)
    }
}

/// Middles of runs of ink, weighted by it, mm.
fn runs(from: usize, to: usize, ink: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut found = Vec::new();
    let (mut sum, mut moment) = (0.0, 0.0);
    for k in from..=to {
        let dark = if k == to { 0.0 } else { ink(k) };
        if dark > 0.1 {
            sum += dark;
            moment += dark * (k as f64 + 0.5);
        } else if sum > 0.0 {
            if sum > 0.8 {
                found.push(moment / sum / PER_MM);
            }
            (sum, moment) = (0.0, 0.0);
        }
    }
    found
}

fn rendered(arguments: &[&str]) -> Option<Vec<Page>> {
    let program = outside::program(&["pdftoppm"], "poppler-utils")?;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("page.pdf");
    let done = assert_cmd::Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(arguments)
        .arg("-o")
        .arg(&file)
        .output()
        .expect("a run");
    assert!(done.status.success(), "{done:?}");
    let done = Command::new(program)
        .args(["-r", "300", "-gray"])
        .arg(&file)
        .arg(folder.path().join("p"))
        .status()
        .expect("a run");
    assert!(done.success());
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder.path())
        .expect("the folder")
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "pgm"))
        .collect();
    files.sort();
    Some(files.iter().map(|f| page(f)).collect())
}

/// Reads a grey picture: `P5`, width, height, 255, then the pixels.
fn page(file: &Path) -> Page {
    let bytes = std::fs::read(file).expect("the picture");
    let mut at = 0;
    let mut word = || {
        let start = at;
        while !bytes[at].is_ascii_whitespace() {
            at += 1;
        }
        at += 1;
        String::from_utf8_lossy(&bytes[start..at - 1]).into_owned()
    };
    assert_eq!(word(), "P5");
    let [width, height, most] =
        [word(), word(), word()].map(|w| w.parse::<usize>().expect("a number"));
    assert_eq!(most, 255);
    let ink = bytes[at..].iter().map(|b| 1.0 - f64::from(*b) / 255.0);
    Page {
        width,
        height,
        ink: ink.collect(),
    }
}

/// Both bars at the foot of every page: between the outer ticks, which stand higher than the others.
#[test]
fn the_bars_measure_true_on_every_paper() {
    for (paper, width) in [
        ("A4", 210.0),
        ("A3", 297.0),
        ("letter", 215.9),
        ("tabloid", 279.4),
    ] {
        let sheet = [
            "sheet",
            "fixtures/drawing/beam_01_t02.stl",
            "--unit",
            "mm",
            "--paper",
            paper,
        ];
        let Some(pages) = rendered(&sheet) else {
            return;
        };
        assert!(!pages.is_empty());
        for page in &pages {
            assert!((page.width as f64 / PER_MM - width).abs() < 0.1, "{paper}");
            for (base, want) in [(18.0, 100.0), (12.0, 101.6)] {
                let end = 12.0 + want + 0.8;
                let ticks = page.runs_along(page.row(base + 2.3), 10.0, end);
                let [first, last] = ticks[..] else {
                    panic!("{paper}: {ticks:?}");
                };
                assert!(
                    (last - first - want).abs() < 0.1,
                    "{paper}: {}",
                    last - first
                );
                // All ticks, lower down: tenths of 100 mm, whole inches.
                let ticks = page.runs_along(page.row(base + 0.8), 10.0, end);
                let n = if want > 100.5 { 4.0 } else { 10.0 };
                assert_eq!(ticks.len() as f64, n + 1.0, "{paper}: {ticks:?}");
                for (k, tick) in ticks.iter().enumerate() {
                    let off = tick - ticks[0] - want * k as f64 / n;
                    assert!(off.abs() < 0.1, "{paper}, tick {k}: {off}");
                }
            }
        }
    }
}

/// The wrap of a mitred pipe: y = r tan a (1 − cos θ) above the short point (pattern drafting, and
/// `fixtures/drawing/mitre_pipe_ordinates.csv`), measured on the paper, where the straight edge lies
/// 30 mm below the short point. The strut by its design: round tube 48.3, the ends cut 45° and, by
/// tilts of 35° and 25°, atan √(tan² 35° + tan² 25°) = 40.07° off square; paper 0.1 thick.
#[test]
fn a_known_wrap_measures_true() {
    let model = "fixtures/drawing/strut_01_t10.stl";
    let Some(pages) = rendered(&["markout", model, "--unit", "mm", "--paper", "A3"]) else {
        return;
    };
    let wraps: Vec<&Page> = pages.iter().filter(|p| p.width > p.height).collect();
    let mut rises: Vec<f64> = wraps.iter().map(|page| rise_of_wrap(page)).collect();
    rises.sort_by(f64::total_cmp);
    let square = 35.0_f64
        .to_radians()
        .tan()
        .hypot(25.0_f64.to_radians().tan());
    let want = [24.15 * square, 24.15 * 45.0_f64.to_radians().tan()];
    assert_eq!(rises.len(), 2);
    for (found, want) in rises.iter().zip(want) {
        assert!((found - want).abs() < 0.1, "{found}, not {want}");
    }
}

/// r tan a of the wrap on a page; every measured place of the curve must lie on one cosine.
fn rise_of_wrap(page: &Page) -> f64 {
    let middle = 150.0;
    let edges = page.runs_along(page.row(middle), 15.0, 405.0);
    let left = edges[0];
    // Once round at the middle of the paper's thickness.
    let around = std::f64::consts::PI * 48.4;
    let closes = edges.iter().any(|x| (x - left - around).abs() < 0.1);
    assert!(closes, "no border {around} from the first of {edges:?}");
    // Between the numbered lines, which stand every 30°.
    let n = 24;
    let turn = |k: usize| (7.5 + 15.0 * k as f64).to_radians();
    let heights: Vec<f64> = (0..n)
        .map(|k| {
            let x = left + around * turn(k) / std::f64::consts::TAU;
            let up = page.runs_up(x, 60.0, 260.0);
            let curve = up.iter().find(|y| *y - up[0] > 28.0);
            curve.expect("the curve") - up[0]
        })
        .collect();
    let mean = heights.iter().sum::<f64>() / n as f64;
    let part = |wave: fn(f64) -> f64| {
        let sum: f64 = heights
            .iter()
            .enumerate()
            .map(|(k, h)| h * wave(turn(k)))
            .sum();
        2.0 * sum / n as f64
    };
    let (c, s) = (part(f64::cos), part(f64::sin));
    for (k, h) in heights.iter().enumerate() {
        let on_cosine = mean + c * turn(k).cos() + s * turn(k).sin();
        assert!(
            (h - on_cosine).abs() < 0.1,
            "{}°: {h}, not {on_cosine}",
            turn(k).to_degrees()
        );
    }
    let rise = c.hypot(s);
    assert!(
        (mean - rise - 30.0).abs() < 0.1,
        "the straight edge: {mean} − {rise}"
    );
    rise
}
