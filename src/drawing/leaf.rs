//! What every printed page carries: a heading, the unit, check bars, cautions, page n of m.

use super::font::{self, Face};
use super::paper::Paper;
use super::pdf::Page;
use super::projection::{self, Projection};
use super::scene::{Anchor, Extent, NARROW, Place, Purpose, Scene, Text, WIDE};

/// What stands on all pages of a document.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// Paper.
    pub paper: Paper,
    /// Name of the job, where one is given.
    pub job: Option<String>,
    /// Date, where one is given: the program has no clock.
    pub date: Option<String>,
    /// Name of the model's file.
    pub file: String,
    /// Unit of the numbers, and how the unit of the file is known, one sentence.
    pub unit: String,
    /// Where views are placed, on sheets that have several.
    pub projection: Option<Projection>,
}

/// A page before its number is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaf {
    /// Heading, upper left.
    pub heading: String,
    /// Under it, one line.
    pub under: String,
    /// Wide side level.
    pub landscape: bool,
    /// What stands on it, in the page's millimetres.
    pub scene: Scene,
    /// Part of a larger drawing.
    pub inset: Option<super::pdf::Inset>,
    /// Lines at the foot.
    pub cautions: Vec<String>,
}

/// No printer known prints closer to the edge than this, mm (common practice, no source).
pub const MARGIN: f64 = 12.0;
/// Letters of running text, mm.
pub const TEXT: f64 = 2.5;
/// Letters at the foot, mm.
const SMALL: f64 = 1.9;
const HEAD: f64 = 16.0;
const BARS: f64 = 15.0;

/// Width and height of a page, mm.
pub fn size(paper: Paper, landscape: bool) -> (f64, f64) {
    let (short, long) = paper.sides();
    match landscape {
        true => (long, short),
        false => (short, long),
    }
}

/// The free room of a page with these cautions.
pub fn room(paper: Paper, landscape: bool, cautions: &[String]) -> Extent {
    let (w, h) = size(paper, landscape);
    let lines = caution_lines(cautions, w);
    let foot = MARGIN + BARS + lines.len() as f64 * SMALL * 1.8 + 2.0;
    (
        Place::new(MARGIN, foot),
        Place::new(w - MARGIN, h - MARGIN - HEAD),
    )
}

fn caution_lines(cautions: &[String], width: f64) -> Vec<String> {
    cautions
        .iter()
        .flat_map(|c| font::wrap(c, Face::Plain, SMALL, width - 2.0 * MARGIN))
        .collect()
}

/// Finished pages, numbered.
pub fn pages(leaves: Vec<Leaf>, document: &Document) -> Vec<Page> {
    let of = leaves.len();
    leaves
        .into_iter()
        .zip(1..)
        .map(|(leaf, n): (Leaf, usize)| page(leaf, document, n, of))
        .collect()
}

fn page(leaf: Leaf, document: &Document, n: usize, of: usize) -> Page {
    let (w, h) = size(document.paper, leaf.landscape);
    let mut scene = leaf.scene;
    heading(&mut scene, &leaf.heading, &leaf.under, document, (w, h));
    foot(&mut scene, &leaf.cautions, document, (w, h), (n, of));
    Page {
        width: w,
        height: h,
        scene,
        inset: leaf.inset,
    }
}

fn heading(scene: &mut Scene, title: &str, under: &str, document: &Document, (w, h): (f64, f64)) {
    let right = w - MARGIN;
    let job: Vec<&str> = [document.job.as_deref(), document.date.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    let job = fitted(&job.join(", "), Face::Plain, TEXT, (w - 2.0 * MARGIN) / 3.0);
    let file = fitted(&document.file, Face::Plain, TEXT, (w - 2.0 * MARGIN) / 3.0);
    let beside = job.width().max(file.width());
    let mut put = |text: Text, x: f64, y: f64, anchor: Anchor| {
        let text = Text {
            at: Place::new(x, y),
            ..text
        };
        scene.text(Purpose::Sheet, text.anchored(anchor));
    };
    put(file, right, h - MARGIN - 4.5, Anchor::End);
    put(job, right, h - MARGIN - 10.0, Anchor::End);
    let left = w - 2.0 * MARGIN - beside - 5.0;
    put(
        fitted(title, Face::Bold, 4.5, left),
        MARGIN,
        h - MARGIN - 5.0,
        Anchor::Start,
    );
    put(
        fitted(under, Face::Plain, TEXT, left),
        MARGIN,
        h - MARGIN - 10.5,
        Anchor::Start,
    );
    let y = h - MARGIN - HEAD + 2.5;
    scene.line(WIDE, Place::new(MARGIN, y), Place::new(right, y));
}

/// A line of text made smaller until it is no longer than `limit`.
pub fn fitted(words: &str, face: Face, height: f64, limit: f64) -> Text {
    let text = Text {
        face,
        ..Text::plain(Place::origin(), height, words)
    };
    let width = text.width();
    match width > limit && limit > 0.0 {
        true => Text {
            height: height * limit / width,
            ..text
        },
        false => text,
    }
}

fn foot(
    scene: &mut Scene,
    cautions: &[String],
    document: &Document,
    (w, _): (f64, f64),
    (n, of): (usize, usize),
) {
    let top = MARGIN + BARS;
    let lines = caution_lines(cautions, w);
    for (k, line) in lines.iter().rev().enumerate() {
        let at = Place::new(MARGIN, top + k as f64 * SMALL * 1.8);
        scene.text(Purpose::Sheet, Text::plain(at, SMALL, line));
    }
    let rule = top - 2.5;
    scene.line(
        NARROW,
        Place::new(MARGIN, rule),
        Place::new(w - MARGIN, rule),
    );
    bar(scene, Place::new(MARGIN, MARGIN + 6.0), 100.0, 10, "100 mm");
    bar(scene, Place::new(MARGIN, MARGIN), 101.6, 4, "4 in");
    let right = w - MARGIN;
    let page = Text::plain(
        Place::new(right, MARGIN),
        TEXT,
        format!("sheet {n} of {of}"),
    );
    let page = page.bold().anchored(Anchor::End);
    if let Some(projection) = document.projection {
        let x = page.origin().x - projection::SIGN.x - 2.0;
        projection::sign(scene, projection, Place::new(x, MARGIN + 1.2));
    }
    scene.text(Purpose::Sheet, page);
    let beside = MARGIN + 101.6 + 16.0;
    let print = "Print at 100 %; both bars must measure true.";
    for (k, line) in [print, &document.unit].into_iter().enumerate() {
        let at = Place::new(right, MARGIN + 10.2 - k as f64 * 3.4);
        let text = fitted(line, Face::Plain, SMALL, right - beside);
        scene.text(Purpose::Sheet, Text { at, ..text }.anchored(Anchor::End));
    }
}

/// A bar to lay a rule on: `length` mm between its outer ticks.
fn bar(scene: &mut Scene, at: Place, length: f64, parts: u32, name: &str) {
    let end = Place::new(at.x + length, at.y);
    scene.line(NARROW, at, end);
    for k in 0..=parts {
        let x = at.x + length * f64::from(k) / f64::from(parts);
        let tall = if k == 0 || k == parts { 3.0 } else { 1.5 };
        scene.line(NARROW, Place::new(x, at.y), Place::new(x, at.y + tall));
    }
    let text = Text::plain(Place::new(end.x + 1.5, at.y + 0.3), SMALL, name);
    scene.text(Purpose::Sheet, text);
}
