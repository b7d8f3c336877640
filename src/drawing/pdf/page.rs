//! The drawing commands of one page.

use nalgebra::Vector2;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Name, Str};

use super::{POINT, Page};
use crate::drawing::bulge::{self, ArcOf};
use crate::drawing::font::{self, CAPITAL, Face};
use crate::drawing::scene::{Corner, Fill, Item, Place, Scene, Shape, Text};

/// Arcs are written as cubics of at most this angle, radians: off by 4e-7 of the radius.
const STEP: f64 = std::f64::consts::PI / 6.0;

/// Paper never reaches farther than this, mm; larger numbers are not safe to write.
const FAR: f64 = 1e6;

/// A coordinate as the file holds it.
fn near(x: f64) -> f32 {
    x.clamp(-FAR, FAR) as f32
}

/// Name of a face on every page.
pub fn name_of(face: Face) -> Name<'static> {
    match face {
        Face::Plain => Name(b"Plain"),
        Face::Bold => Name(b"Bold"),
    }
}

/// The commands, in millimetres from the lower left corner.
pub fn content(page: &Page) -> Vec<u8> {
    let mut content = Content::new();
    let scale = POINT as f32;
    content.transform([scale, 0.0, 0.0, scale, 0.0, 0.0]);
    content.set_line_cap(LineCapStyle::RoundCap);
    content.set_line_join(LineJoinStyle::RoundJoin);
    if let Some(inset) = &page.inset {
        let (low, high) = inset.window;
        let size = high - low;
        content.save_state();
        content.rect(near(low.x), near(low.y), near(size.x), near(size.y));
        content.clip_nonzero();
        content.end_path();
        items(&inset.scene, &mut content);
        content.restore_state();
    }
    items(&page.scene, &mut content);
    content.finish().into_vec()
}

fn items(scene: &Scene, content: &mut Content) {
    for item in &scene.items {
        match &item.shape {
            Shape::Text(text) => words(text, content),
            shape => draw(item, shape, content),
        }
    }
}

fn draw(item: &Item, shape: &Shape, content: &mut Content) {
    if let Some(pen) = item.pen {
        content.set_line_width(pen.width as f32);
        let pattern = pen.dash.pattern().iter().map(|n| (n * pen.width) as f32);
        content.set_dash_pattern(pattern, 0.0);
    }
    if let Some(fill) = item.fill {
        content.set_fill_gray(match fill {
            Fill::White => 1.0,
            Fill::Black => 0.0,
            Fill::Tint(ink) => 1.0 - ink.clamp(0.0, 1.0) as f32,
        });
    }
    let closed = trace(shape, content);
    match (item.fill.is_some(), item.pen.is_some(), closed) {
        (true, true, true) => content.close_fill_nonzero_and_stroke(),
        (true, true, false) => content.fill_nonzero_and_stroke(),
        (true, false, _) => content.fill_nonzero(),
        (false, true, true) => content.close_and_stroke(),
        (false, true, false) => content.stroke(),
        (false, false, _) => content.end_path(),
    };
}

/// Lays the path of a shape; true when it leads back to its start.
fn trace(shape: &Shape, content: &mut Content) -> bool {
    match shape {
        Shape::Line { from, to } => {
            content.move_to(near(from.x), near(from.y));
            content.line_to(near(to.x), near(to.y));
            false
        }
        Shape::Circle { centre, radius } => {
            let whole = ArcOf {
                centre: *centre,
                radius: *radius,
                start: 0.0,
                sweep: std::f64::consts::TAU,
            };
            move_to_start(&whole, content);
            curve(&whole, content);
            true
        }
        Shape::Arc {
            centre,
            radius,
            start,
            sweep,
        } => {
            let part = ArcOf {
                centre: *centre,
                radius: *radius,
                start: *start,
                sweep: *sweep,
            };
            move_to_start(&part, content);
            curve(&part, content);
            false
        }
        Shape::Path { corners, closed } => {
            outline(corners, *closed, content);
            *closed
        }
        Shape::Text(_) => false,
    }
}

fn outline(corners: &[Corner], closed: bool, content: &mut Content) {
    if let Some(first) = corners.first() {
        content.move_to(near(first.at.x), near(first.at.y));
    }
    for (from, to, bulge) in bulge::pieces(corners, closed) {
        match bulge::arc(from, to, bulge) {
            Some(arc) => curve(&arc, content),
            None => {
                content.line_to(near(to.x), near(to.y));
            }
        }
    }
}

fn move_to_start(arc: &ArcOf, content: &mut Content) {
    let p = on(arc, arc.start);
    content.move_to(near(p.x), near(p.y));
}

fn on(arc: &ArcOf, turn: f64) -> Place {
    arc.centre + Vector2::new(turn.cos(), turn.sin()) * arc.radius
}

/// Cubics along an arc: control points at 4/3 tan(a/4) of the radius along the tangents.
fn curve(arc: &ArcOf, content: &mut Content) {
    let parts = (arc.sweep.abs() / STEP).ceil().max(1.0);
    let step = arc.sweep / parts;
    let reach = 4.0 / 3.0 * (step / 4.0).tan() * arc.radius;
    for k in 0..parts as usize {
        let (a, b) = (
            arc.start + step * k as f64,
            arc.start + step * (k + 1) as f64,
        );
        let (p, q) = (on(arc, a), on(arc, b));
        let c1 = p + Vector2::new(-a.sin(), a.cos()) * reach;
        let c2 = q - Vector2::new(-b.sin(), b.cos()) * reach;
        content.cubic_to(
            near(c1.x),
            near(c1.y),
            near(c2.x),
            near(c2.y),
            near(q.x),
            near(q.y),
        );
    }
}

fn words(text: &Text, content: &mut Content) {
    let (u, origin) = (text.direction(), text.origin());
    let glyphs: Vec<u8> = text
        .words
        .chars()
        .flat_map(|c| font::letter(c, text.face).glyph.to_be_bytes())
        .collect();
    content.set_fill_gray(0.0);
    content.begin_text();
    content.set_font(name_of(text.face), (text.height / CAPITAL) as f32);
    content.set_text_matrix([
        near(u.x),
        near(u.y),
        near(-u.y),
        near(u.x),
        near(origin.x),
        near(origin.y),
    ]);
    content.show(Str(&glyphs));
    content.end_text();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::scene::NARROW;

    #[test]
    fn lines_to_the_moon_are_cut_short() {
        // -2^31 of a unit overflows where a number is written as a whole one
        for far in [-2_147_483_648.0, 1e12, -1e300] {
            let mut scene = Scene::default();
            scene.line(NARROW, Place::origin(), Place::new(far, 1.0));
            let mut content = Content::new();
            items(&scene, &mut content);
            let text = String::from_utf8(content.finish().to_vec()).unwrap();
            assert!(text.contains("1000000 1 l"), "{text}");
        }
    }
}
