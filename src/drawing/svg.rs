//! A scene as SVG at 1:1: one user unit is one millimetre.

use std::fmt::Write;

use nalgebra::Vector2;

use super::bulge::{self, ArcOf};
use super::font::{CAPITAL, Face};
use super::number::number;
use super::pdf::Page;
use super::scene::{Corner, Extent, Fill, Item, Pen, Place, Scene, Shape, Text};

/// Decimals of a millimetre in the file.
const PLACES: usize = 5;

/// The part of `scene` inside `window`, as a file of its own.
pub fn svg(scene: &Scene, window: Extent, title: &str) -> String {
    let size = window.1 - window.0;
    let (w, h) = (number(size.x, PLACES), number(size.y, PLACES));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
         <title>{}</title>\n",
        escape(title)
    );
    out.push_str(&body(scene, window));
    out.push_str("</svg>\n");
    out
}

/// A page as a file of its own, white below it.
pub fn svg_page(page: &Page, title: &str) -> String {
    let window = (Place::origin(), Place::new(page.width, page.height));
    let (w, h) = (number(page.width, PLACES), number(page.height, PLACES));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
         <title>{}</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>\n",
        escape(title)
    );
    if let Some(inset) = &page.inset {
        let size = inset.window.1 - inset.window.0;
        let low = at(Place::new(inset.window.0.x, inset.window.1.y), window);
        let _ = writeln!(
            out,
            "<clipPath id=\"window\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>\n<g clip-path=\"url(#window)\">",
            number(low.x, PLACES),
            number(low.y, PLACES),
            number(size.x, PLACES),
            number(size.y, PLACES)
        );
        out.push_str(&body(&inset.scene, window));
        out.push_str("</g>\n");
    }
    out.push_str(&body(&page.scene, window));
    out.push_str("</svg>\n");
    out
}

/// The elements of a scene, without the file around them; `window` gives the upper left corner.
pub fn body(scene: &Scene, window: Extent) -> String {
    let mut out = String::new();
    for run in scene.items.chunk_by(|a, b| a.purpose == b.purpose) {
        let name = run.first().map_or("", |item| item.purpose.name());
        let _ = writeln!(out, "<g class=\"{}\">", name.to_lowercase());
        for item in run {
            element(item, window, &mut out);
        }
        out.push_str("</g>\n");
    }
    out
}

/// A place in the file: y runs down from the upper edge.
fn at(place: Place, window: Extent) -> Place {
    Place::new(place.x - window.0.x, window.1.y - place.y)
}

fn pair(place: Place, window: Extent) -> String {
    let p = at(place, window);
    format!("{} {}", number(p.x, PLACES), number(p.y, PLACES))
}

fn element(item: &Item, window: Extent, out: &mut String) {
    let look = look(item.pen, item.fill);
    let _ = match &item.shape {
        Shape::Line { from, to } => {
            let (a, b) = (pair(*from, window), pair(*to, window));
            writeln!(out, "<path d=\"M{a} L{b}\"{look}/>")
        }
        Shape::Circle { centre, radius } => {
            let c = at(*centre, window);
            let (x, y) = (number(c.x, PLACES), number(c.y, PLACES));
            let r = number(*radius, PLACES);
            writeln!(out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{look}/>")
        }
        Shape::Arc {
            centre,
            radius,
            start,
            sweep,
        } => {
            let point = |turn: f64| centre + Vector2::new(turn.cos(), turn.sin()) * *radius;
            let from = point(*start);
            let corners = bulge::corners_of(from, point(start + sweep), *centre, *sweep);
            let end = Corner {
                at: point(start + sweep),
                bulge: 0.0,
            };
            let corners: Vec<Corner> = corners.into_iter().chain([end]).collect();
            writeln!(out, "<path d=\"{}\"{look}/>", path(&corners, false, window))
        }
        Shape::Path { corners, closed } => {
            writeln!(
                out,
                "<path d=\"{}\"{look}/>",
                path(corners, *closed, window)
            )
        }
        Shape::Text(text) => writeln!(out, "{}", words(text, window)),
    };
}

fn path(corners: &[Corner], closed: bool, window: Extent) -> String {
    let mut d = corners
        .first()
        .map_or(String::new(), |c| format!("M{}", pair(c.at, window)));
    for (from, to, bulge) in bulge::pieces(corners, closed) {
        let to_text = pair(to, window);
        let _ = match bulge::arc(from, to, bulge) {
            None => write!(d, " L{to_text}"),
            Some(ArcOf { radius, sweep, .. }) => {
                let r = number(radius, PLACES);
                let large = u8::from(sweep.abs() > std::f64::consts::PI);
                // The file's y runs down, so anticlockwise here is the file's negative turn.
                let turn = u8::from(sweep < 0.0);
                write!(d, " A{r} {r} 0 {large} {turn} {to_text}")
            }
        };
    }
    if closed {
        d.push_str(" Z");
    }
    d
}

fn look(pen: Option<Pen>, fill: Option<Fill>) -> String {
    let fill = match fill {
        None => "none".to_owned(),
        Some(Fill::White) => "#fff".to_owned(),
        Some(Fill::Black) => "#000".to_owned(),
        Some(Fill::Tint(ink)) => {
            let level = 255 - (ink.clamp(0.0, 1.0) * 255.0).round() as u8;
            format!("#{level:02x}{level:02x}{level:02x}")
        }
    };
    let mut text = format!(" fill=\"{fill}\"");
    if let Some(pen) = pen {
        let width = number(pen.width, 3);
        let _ = write!(
            text,
            " stroke=\"#000\" stroke-width=\"{width}\" stroke-linecap=\"round\" stroke-linejoin=\"round\""
        );
        let pattern: Vec<String> = pen
            .dash
            .pattern()
            .iter()
            .map(|n| number(n * pen.width, 3))
            .collect();
        if !pattern.is_empty() {
            let _ = write!(text, " stroke-dasharray=\"{}\"", pattern.join(" "));
        }
    }
    text
}

fn words(text: &Text, window: Extent) -> String {
    let p = at(text.origin(), window);
    let (x, y) = (number(p.x, PLACES), number(p.y, PLACES));
    let turn = match text.turn {
        0.0 => String::new(),
        turn => format!(" transform=\"rotate({} {x} {y})\"", number(-turn, 4)),
    };
    let weight = match text.face {
        Face::Plain => "",
        Face::Bold => " font-weight=\"bold\"",
    };
    // The length holds the words in their measured box whatever face the viewer has.
    format!(
        "<text x=\"{x}\" y=\"{y}\"{turn} font-family=\"DejaVu Sans, Verdana, sans-serif\" font-size=\"{}\"{weight} textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>",
        number(text.height / CAPITAL, 4),
        number(text.width(), 4),
        escape(&text.words)
    )
}

/// Text with the signs of XML written out; what XML can't hold becomes a blank.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::scene::{NARROW, Purpose};
    use super::*;

    #[test]
    fn millimetres_true_arcs_and_safe_words() {
        let mut scene = Scene::default();
        let corners = vec![
            Corner {
                at: Place::new(0.0, 0.0),
                bulge: 1.0,
            },
            Corner {
                at: Place::new(10.0, 0.0),
                bulge: 0.0,
            },
        ];
        scene.stroke(
            Purpose::CutOutside,
            NARROW,
            Shape::Path {
                corners,
                closed: true,
            },
        );
        scene.text(
            Purpose::Words,
            Text::plain(Place::new(0.0, 2.0), 3.5, "a < b & \u{1}c"),
        );
        let window = (Place::new(-1.0, -6.0), Place::new(21.0, 14.0));
        let text = svg(&scene, window, "<P1>");
        assert!(text.contains("width=\"22mm\" height=\"20mm\" viewBox=\"0 0 22 20\""));
        // A half circle below the chord: anticlockwise here, and so it stays on paper.
        assert!(text.contains("M1 14 A5 5 0 0 0 11 14 L1 14 Z"), "{text}");
        assert!(text.contains("a &lt; b &amp;  c"));
        assert!(text.contains("<title>&lt;P1&gt;</title>"));
    }
}
