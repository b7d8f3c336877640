//! Dimension lines: text above the line, read from below or from the right; projection lines stand
//! off the edge and pass the line (ISO 129-1, from memory).

use nalgebra::Vector2;

use super::font::Face;
use super::scene::{Anchor, Fill, Item, NARROW, Place, Purpose, Scene, Shape, Text};

/// Height of the letters, mm.
pub const LETTERS: f64 = 2.5;
/// Room one dimension line takes beside a view, mm.
pub const LANE: f64 = 9.0;
const GAP: f64 = 1.0;
const PASS: f64 = 2.0;
const ARROW: f64 = 2.5;

/// A level dimension between two points, its line at height `y`.
pub fn level(scene: &mut Scene, a: Place, b: Place, y: f64, words: &str) {
    let (a, b) = if a.x <= b.x { (a, b) } else { (b, a) };
    for p in [a, b] {
        project(scene, p, Place::new(p.x, y));
    }
    measured(scene, Place::new(a.x, y), Place::new(b.x, y), words);
}

/// An upright dimension between two points, its line at `x`.
pub fn upright(scene: &mut Scene, a: Place, b: Place, x: f64, words: &str) {
    let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
    for p in [a, b] {
        project(scene, p, Place::new(x, p.y));
    }
    measured(scene, Place::new(x, a.y), Place::new(x, b.y), words);
}

fn project(scene: &mut Scene, from: Place, to: Place) {
    if let Some(u) = (to - from).try_normalize(1e-9) {
        scene.line(NARROW, from + u * GAP, to + u * PASS);
    }
}

/// The line with its arrows and words; where there is no room the words stand beyond its end.
fn measured(scene: &mut Scene, a: Place, b: Place, words: &str) {
    let along = b - a;
    let length = along.norm();
    let Some(u) = along.try_normalize(1e-9) else {
        return;
    };
    let turn = u.y.atan2(u.x).to_degrees();
    let left = Vector2::new(-u.y, u.x);
    let text = Text::plain(Place::origin(), LETTERS, words);
    let width = text.width();
    let inside = length > 2.0 * ARROW + 1.0;
    if inside {
        scene.line(NARROW, a, b);
        arrow(scene, a, u);
        arrow(scene, b, -u);
    } else {
        scene.line(NARROW, a - u * (2.0 * ARROW), b + u * (2.0 * ARROW));
        arrow(scene, a, -u);
        arrow(scene, b, u);
    }
    let (at, anchor) = match width + 1.0 <= length {
        true => (a + along / 2.0 + left * 0.8, Anchor::Middle),
        false => {
            let end = b + u * (2.0 * ARROW + 1.0);
            scene.line(NARROW, b, end + u * (width - ARROW));
            (end - u * ARROW + left * 0.8, Anchor::Start)
        }
    };
    scene.text(
        Purpose::Sheet,
        Text { at, ..text }.anchored(anchor).turned(turn),
    );
}

/// A filled arrow whose point is at `tip` and whose line goes off along `u`.
pub fn arrow(scene: &mut Scene, tip: Place, u: Vector2<f64>) {
    let back = tip + u * ARROW;
    let side = Vector2::new(-u.y, u.x) * (ARROW / 6.0);
    let corners = [tip, back + side, back - side].map(|at| super::scene::Corner { at, bulge: 0.0 });
    scene.items.push(Item {
        purpose: Purpose::Sheet,
        pen: None,
        fill: Some(Fill::Black),
        shape: Shape::Path {
            corners: corners.to_vec(),
            closed: true,
        },
    });
}

/// A pointer from words to a place: the words stand where the line bends.
pub fn pointer(scene: &mut Scene, to: Place, words_at: Place, words: &str) {
    let text = Text::plain(words_at, LETTERS, words);
    let right = words_at.x >= to.x;
    let edge = match right {
        true => words_at - Vector2::new(1.0, -LETTERS / 2.0),
        false => words_at + Vector2::new(1.0, LETTERS / 2.0),
    };
    if let Some(u) = (edge - to).try_normalize(1e-9) {
        scene.line(NARROW, to, edge);
        arrow(scene, to, u);
    }
    let anchor = if right { Anchor::Start } else { Anchor::End };
    scene.text(Purpose::Sheet, text.anchored(anchor));
}

/// A round label with a line to what it names.
pub fn balloon(scene: &mut Scene, at: Place, to: Place, words: &str) {
    let radius = balloon_radius(words);
    if let Some(u) = (to - at).try_normalize(1e-9) {
        scene.line(NARROW, at + u * radius, to);
        scene.items.push(Item {
            purpose: Purpose::Sheet,
            pen: None,
            fill: Some(Fill::Black),
            shape: Shape::Circle {
                centre: to,
                radius: 0.6,
            },
        });
    }
    scene.items.push(Item {
        purpose: Purpose::Sheet,
        pen: Some(super::scene::Pen {
            width: 0.35,
            ..NARROW
        }),
        fill: Some(Fill::White),
        shape: Shape::Circle { centre: at, radius },
    });
    let text = Text {
        face: Face::Bold,
        ..Text::plain(at - Vector2::new(0.0, 1.25), LETTERS, words)
    };
    scene.text(Purpose::Sheet, text.anchored(Anchor::Middle));
}

/// Radius of a label, mm.
pub fn balloon_radius(words: &str) -> f64 {
    (super::font::width(words, Face::Bold, LETTERS) / 2.0 + 1.2).max(3.6)
}
