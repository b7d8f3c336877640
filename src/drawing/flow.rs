//! What is said of one thing, block after block, laid out on as many pages as it takes.

use nalgebra::Vector2;

use super::bulge;
use super::font::{self, Face};
use super::leaf::{Document, Leaf, TEXT, room};
use super::scene::{Place, Purpose, Scene, Text};
use super::table::{self, Table};

/// One block.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A drawing, its lower left corner at the origin. Drawings that follow one another stand side
    /// by side as far as the page is wide.
    Picture {
        /// What it shows, in words.
        name: String,
        /// The drawing.
        scene: Scene,
        /// The room it takes, mm.
        size: Vector2<f64>,
    },
    /// A heading; it stays with the block after it.
    Heading(String),
    /// Running text.
    Words(String),
    /// A table.
    Table(Table),
}

/// A drawing made as high as what stands on it: words of a dimension too short for them reach beyond
/// its end.
pub fn picture(name: String, scene: Scene, size: Vector2<f64>) -> Block {
    let boxes = scene.items.iter().map(|item| bulge::extent(&item.shape));
    let (low, high) = bulge::around(boxes.flat_map(|(low, high)| [low, high]));
    let up = if low.y < 0.0 { 0.5 - low.y } else { 0.0 };
    let top = if high.y > size.y {
        high.y + 0.5
    } else {
        size.y
    };
    let mut moved = Scene::default();
    moved.place(scene, Vector2::new(0.0, up));
    Block::Picture {
        name,
        scene: moved,
        size: Vector2::new(size.x, top + up),
    }
}

/// The blocks about one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Mark of the part it is about; empty for the whole model.
    pub mark: String,
    /// Heading of its pages.
    pub heading: String,
    /// Line under the heading.
    pub under: String,
    /// The blocks.
    pub blocks: Vec<Block>,
    /// Lines at the foot of its pages.
    pub cautions: Vec<String>,
}

/// Distance between lines of running text, in heights of a letter.
const LEADING: f64 = 1.9;

/// Width that blocks have on upright paper, mm.
pub fn width(document: &Document) -> f64 {
    let (low, high) = room(document.paper, false, &[]);
    high.x - low.x
}

/// Height the free room of a page has for a section, mm.
pub fn height(document: &Document, cautions: &[String]) -> f64 {
    let (low, high) = room(document.paper, false, cautions);
    high.y - low.y
}

/// The pages of a section. A table longer than a page is split between rows.
pub fn leaves(section: Section, document: &Document) -> Vec<Leaf> {
    let (low, high) = room(document.paper, false, &section.cautions);
    let width = high.x - low.x;
    let blocks = split_tables(side_by_side(section.blocks, width), width, high.y - low.y);
    let heights: Vec<f64> = blocks.iter().map(|b| block_height(b, width)).collect();
    let mut scenes = vec![Scene::default()];
    let mut y = high.y;
    for (k, block) in blocks.into_iter().enumerate() {
        let needed = heights.get(k).copied().unwrap_or(0.0);
        let together = match block {
            Block::Heading(_) => needed + heights.get(k + 1).copied().unwrap_or(0.0),
            _ => needed,
        };
        if y - together < low.y && y < high.y {
            scenes.push(Scene::default());
            y = high.y;
        }
        if let Some(scene) = scenes.last_mut() {
            draw(block, scene, Place::new(low.x, y), width);
        }
        y -= needed;
    }
    scenes
        .into_iter()
        .map(|scene| Leaf {
            heading: section.heading.clone(),
            under: section.under.clone(),
            landscape: false,
            scene,
            inset: None,
            cautions: section.cautions.clone(),
        })
        .collect()
}

/// Room between drawings that stand side by side, mm.
const BETWEEN: f64 = 3.0;

/// Drawings that follow one another joined to rows, their upper edges level.
fn side_by_side(blocks: Vec<Block>, width: f64) -> Vec<Block> {
    let mut out: Vec<Block> = Vec::new();
    for block in blocks {
        match (out.last_mut(), block) {
            (
                Some(Block::Picture {
                    scene: row, size, ..
                }),
                Block::Picture {
                    scene, size: own, ..
                },
            ) if size.x + BETWEEN + own.x <= width => {
                let high = size.y.max(own.y);
                let mut both = Scene::default();
                both.place(std::mem::take(row), Vector2::new(0.0, high - size.y));
                both.place(scene, Vector2::new(size.x + BETWEEN, high - own.y));
                *row = both;
                *size = Vector2::new(size.x + BETWEEN + own.x, high);
            }
            (_, block) => out.push(block),
        }
    }
    out
}

fn split_tables(blocks: Vec<Block>, width: f64, room: f64) -> Vec<Block> {
    let mut out = Vec::new();
    for block in blocks {
        match block {
            Block::Table(table) => {
                let row = size(&table, width) * 2.1;
                // A heading above it and its own headings take room too.
                let fit = (((room - 15.0) / row) as usize).saturating_sub(2).max(5);
                for rows in table.rows.chunks(fit) {
                    out.push(Block::Table(Table {
                        headings: table.headings.clone(),
                        rows: rows.to_vec(),
                    }));
                }
            }
            other => out.push(other),
        }
    }
    out
}

fn block_height(block: &Block, width: f64) -> f64 {
    match block {
        Block::Picture { size, .. } => size.y + 2.0,
        Block::Heading(_) => 9.0,
        Block::Words(words) => {
            font::wrap(words, Face::Plain, TEXT, width).len() as f64 * TEXT * LEADING + 1.5
        }
        Block::Table(table) => table::height_of(table, size(table, width)) + 3.0,
    }
}

fn draw(block: Block, scene: &mut Scene, top: Place, width: f64) {
    match block {
        Block::Picture {
            scene: picture,
            size,
            ..
        } => scene.place(picture, Vector2::new(top.x, top.y - size.y)),
        Block::Heading(words) => {
            let at = top - Vector2::new(0.0, 7.0);
            scene.text(Purpose::Sheet, Text::plain(at, 3.0, words).bold());
        }
        Block::Words(words) => {
            let lines = font::wrap(&words, Face::Plain, TEXT, width);
            for (k, line) in lines.into_iter().enumerate() {
                let at = top - Vector2::new(0.0, (k as f64 + 0.75) * TEXT * LEADING);
                scene.text(Purpose::Sheet, Text::plain(at, TEXT, line));
            }
        }
        Block::Table(table) => {
            table::draw(scene, &table, top, size(&table, width));
        }
    }
}

/// Letters of a table: smaller where it would be wider than the page.
fn size(table: &Table, width: f64) -> f64 {
    let mut scratch = Scene::default();
    let (taken, _) = table::draw(&mut scratch, table, Place::origin(), TEXT);
    TEXT * (width / taken).min(1.0)
}
