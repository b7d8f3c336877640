//! Bars with the pieces that come out of them, one strip each, to one scale.

use nalgebra::Vector2;

use super::font::{self, Face};
use super::scene::{
    Anchor, Corner, Extent, Fill, Item, NARROW, Place, Purpose, Scene, Shape, Text, WIDE,
};

/// A piece in a bar. Lengths in mm, along the bar.
#[derive(Clone, Debug, PartialEq)]
pub struct BarPiece {
    /// Words in it: its mark.
    pub mark: String,
    /// Where its box begins and ends.
    pub from: f64,
    /// Where its box ends.
    pub to: f64,
    /// How far the short side stays behind the long one at the end that comes first and at the other.
    pub lean: [f64; 2],
    /// True when both ends have their long point on the same side of the bar.
    pub same_side: bool,
    /// True when its first end is parted from the piece before by one cut.
    pub shared: bool,
}

/// A bar to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnBar {
    /// Words over it: number and stock.
    pub title: String,
    /// Words at its end: its length and what is left.
    pub end: String,
    /// Whole length, mm.
    pub length: f64,
    /// Pieces from left to right.
    pub pieces: Vec<BarPiece>,
}

/// Height of a bar, mm of paper.
const HEIGHT: f64 = 7.0;
/// Height of the letters, mm.
const LETTERS: f64 = 2.2;
/// From bar to bar, mm.
const ROW: f64 = 15.0;
/// Least room beside a mark, mm.
const BESIDE: f64 = 0.6;

/// The bars below each other in `width` mm, the longest of `longest` mm as long as there is room; and
/// the size the drawing takes, its lower left corner at the origin. What is left of a bar is tinted.
pub fn bars(list: &[DrawnBar], longest: f64, width: f64) -> (Scene, Vector2<f64>) {
    let mut scene = Scene::default();
    let height = ROW * list.len() as f64;
    let scale = if longest > 0.0 { width / longest } else { 0.0 };
    for (k, bar) in list.iter().enumerate() {
        let low = height - ROW * (k as f64 + 1.0) + 2.0;
        draw(&mut scene, bar, low, scale, width);
    }
    (scene, Vector2::new(width, height))
}

fn draw(scene: &mut Scene, bar: &DrawnBar, low: f64, scale: f64, width: f64) {
    let high = low + HEIGHT;
    let long = bar.length * scale;
    let words = |x: f64, text: &str, anchor: Anchor, room: f64| {
        let size = LETTERS.min(LETTERS * room / font::width(text, Face::Plain, LETTERS).max(1e-9));
        Text::plain(Place::new(x, high + 1.2), size, text).anchored(anchor)
    };
    scene.text(
        Purpose::Sheet,
        words(0.0, &bar.title, Anchor::Start, 0.55 * width),
    );
    scene.text(
        Purpose::Sheet,
        words(width, &bar.end, Anchor::End, 0.43 * width),
    );
    let whole: Extent = (Place::new(0.0, low), Place::new(long, high));
    scene.rectangle(None, Some(Fill::Tint(0.25)), whole);
    // long side of the end last cut: false below
    let mut above = false;
    for piece in &bar.pieces {
        let first = if piece.shared { !above } else { false };
        let last = if piece.same_side { first } else { !first };
        let x = |mm: f64| mm * scale;
        let at = |mm: f64, y: f64| Corner {
            at: Place::new(x(mm), y),
            bulge: 0.0,
        };
        let side =
            |upper: bool, long_above: bool, lean: f64| if upper == long_above { 0.0 } else { lean };
        let corners = vec![
            at(piece.from + side(false, first, piece.lean[0]), low),
            at(piece.to - side(false, last, piece.lean[1]), low),
            at(piece.to - side(true, last, piece.lean[1]), high),
            at(piece.from + side(true, first, piece.lean[0]), high),
        ];
        above = last;
        scene.items.push(Item {
            purpose: Purpose::Sheet,
            pen: Some(NARROW),
            fill: Some(Fill::White),
            shape: Shape::Path {
                corners,
                closed: true,
            },
        });
        mark(scene, piece, low, scale);
    }
    scene.rectangle(Some(WIDE), None, whole);
}

/// The mark in the middle of its piece, upright where it is too wide for it, left out where it is too
/// wide for that too: the list says the order.
fn mark(scene: &mut Scene, piece: &BarPiece, low: f64, scale: f64) {
    let from = piece.from + piece.lean[0] / 2.0;
    let to = piece.to - piece.lean[1] / 2.0;
    let room = (to - from) * scale - 2.0 * BESIDE;
    let wide = font::width(&piece.mark, Face::Plain, LETTERS);
    let middle = (from + to) / 2.0 * scale;
    if wide <= room {
        let at = Place::new(middle, low + (HEIGHT - LETTERS) / 2.0);
        scene.text(
            Purpose::Sheet,
            Text::plain(at, LETTERS, piece.mark.clone()).anchored(Anchor::Middle),
        );
    } else if LETTERS <= room && wide <= HEIGHT - 2.0 * BESIDE {
        let at = Place::new(middle + LETTERS / 2.0, low + HEIGHT / 2.0);
        scene.text(
            Purpose::Sheet,
            Text::plain(at, LETTERS, piece.mark.clone())
                .anchored(Anchor::Middle)
                .turned(90.0),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(mark: &str, from: f64, to: f64) -> BarPiece {
        BarPiece {
            mark: mark.into(),
            from,
            to,
            lean: [0.0; 2],
            same_side: true,
            shared: false,
        }
    }

    #[test]
    fn pieces_stay_in_their_bar_and_marks_in_their_pieces() {
        let bar = DrawnBar {
            title: "1  square tube 50 x 50 x 3".into(),
            end: "6000 mm, 240 left".into(),
            length: 6000.0,
            pieces: vec![
                piece("M1", 0.0, 2880.0),
                piece("M1", 2883.0, 5763.0),
                piece("M12", 5766.0, 5790.0),
            ],
        };
        let (scene, size) = bars(&[bar.clone(), bar], 6000.0, 180.0);
        assert_eq!(size.x, 180.0);
        for text in scene.texts() {
            for p in text.outline() {
                assert!(
                    (-0.01..=180.01).contains(&p.x) && (0.0..=size.y).contains(&p.y),
                    "{text:?}"
                );
            }
        }
        // 24 mm at 3 % has no room for three letters
        assert_eq!(scene.texts().filter(|t| t.words == "M12").count(), 0);
        assert_eq!(scene.texts().filter(|t| t.words == "M1").count(), 4);
    }

    #[test]
    fn neighbours_that_share_a_cut_lie_parallel() {
        let mut one = piece("M1", 0.0, 1000.0);
        one.lean = [50.0, 50.0];
        let mut two = piece("M1", 953.0, 1953.0);
        two.lean = [50.0, 50.0];
        two.shared = true;
        let bar = DrawnBar {
            title: String::new(),
            end: String::new(),
            length: 2000.0,
            pieces: vec![one, two],
        };
        let (scene, _) = bars(&[bar], 2000.0, 200.0);
        let paths: Vec<&Vec<Corner>> = scene
            .items
            .iter()
            .filter_map(|item| match (&item.shape, item.fill) {
                (Shape::Path { corners, .. }, Some(Fill::White)) => Some(corners),
                _ => None,
            })
            .collect();
        let right = paths[0][2].at - paths[0][1].at;
        let left = paths[1][3].at - paths[1][0].at;
        assert!(right.perp(&left).abs() < 1e-9, "{right} {left}");
        // 3 mm of kerf between them, at a tenth
        assert!((paths[1][0].at.x - paths[0][1].at.x - 0.3).abs() < 1e-9);
    }
}
