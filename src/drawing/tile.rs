//! A drawing at 1:1 that is larger than the paper: pieces with overlap and register marks.

use nalgebra::Vector2;

use super::pdf::Inset;
use super::scene::{Anchor, CENTRE, Extent, NARROW, Place, Purpose, Scene, Shape, Text};

/// How far neighbouring pieces overlap, mm.
pub const OVERLAP: f64 = 12.0;

/// One piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Tile {
    /// The drawing through its window, in the page's millimetres.
    pub inset: Inset,
    /// Column from the left and row from the bottom, from 1.
    pub place: (usize, usize),
    /// How many columns and rows there are.
    pub of: (usize, usize),
}

/// Columns and rows of the pieces that the part `extent` of a drawing takes.
pub fn split(extent: Extent, room: Extent) -> (usize, usize) {
    let (size, space) = (extent.1 - extent.0, room.1 - room.0);
    (count(size.x, space.x), count(size.y, space.y))
}

/// The part `extent` of a drawing cut into pieces that fit into `room`; one piece, in the middle of
/// the room, where it fits whole.
pub fn tiles(scene: &Scene, extent: Extent, room: Extent) -> Vec<Tile> {
    let space = room.1 - room.0;
    let (columns, rows) = split(extent, room);
    let mut marked = scene.clone();
    registers(&mut marked, extent, (columns, rows), space);
    let mut tiles = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let low = Place::new(
                extent.0.x + column as f64 * (space.x - OVERLAP),
                extent.0.y + row as f64 * (space.y - OVERLAP),
            );
            let high = Place::new(
                (low.x + space.x).min(extent.1.x),
                (low.y + space.y).min(extent.1.y),
            );
            let spare = space - (high - low);
            let middle = Vector2::new(
                if columns == 1 { spare.x / 2.0 } else { 0.0 },
                spare.y / if rows == 1 { 2.0 } else { 1.0 },
            );
            let by = room.0 - low + middle;
            let mut moved = Scene::default();
            moved.place(marked.clone(), by);
            tiles.push(Tile {
                inset: Inset {
                    scene: moved,
                    window: (low + by, high + by),
                },
                place: (column + 1, row + 1),
                of: (columns, rows),
            });
        }
    }
    tiles
}

fn count(size: f64, space: f64) -> usize {
    if size <= space {
        return 1;
    }
    let step = (space - OVERLAP).max(1.0);
    (((size - OVERLAP) / step).ceil() as usize).clamp(1, 100_000)
}

/// Crosses and a line in the middle of each overlap, printed on both pieces.
fn registers(
    scene: &mut Scene,
    extent: Extent,
    (columns, rows): (usize, usize),
    space: Vector2<f64>,
) {
    for k in 1..columns {
        let x = extent.0.x + k as f64 * (space.x - OVERLAP) + OVERLAP / 2.0;
        scene.line(CENTRE, Place::new(x, extent.0.y), Place::new(x, extent.1.y));
        let height = extent.1.y - extent.0.y;
        for share in [0.12, 0.88] {
            cross(scene, Place::new(x, extent.0.y + height * share), k);
        }
    }
    for k in 1..rows {
        let y = extent.0.y + k as f64 * (space.y - OVERLAP) + OVERLAP / 2.0;
        scene.line(CENTRE, Place::new(extent.0.x, y), Place::new(extent.1.x, y));
        let width = extent.1.x - extent.0.x;
        for share in [0.12, 0.88] {
            cross(scene, Place::new(extent.0.x + width * share, y), k);
        }
    }
}

fn cross(scene: &mut Scene, at: Place, k: usize) {
    let arm = 4.0;
    for reach in [Vector2::new(arm, 0.0), Vector2::new(0.0, arm)] {
        scene.line(NARROW, at - reach, at + reach);
    }
    scene.stroke(
        Purpose::Sheet,
        NARROW,
        Shape::Circle {
            centre: at,
            radius: 2.0,
        },
    );
    let text = Text::plain(at + Vector2::new(2.4, 1.0), 1.8, k.to_string());
    scene.text(Purpose::Sheet, text.anchored(Anchor::Start));
}
