//! The sheet as one HTML file: everything in it, nothing fetched, no program in it.
//!
//! Pictures are drawings inside the text; their round labels lead to the part they name. The letters
//! travel in the file, so that every sign is there on every device.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::flow::{Block, Section};
use super::font::{BOLD, PLAIN};
use super::leaf::Document;
use super::number::number;
use super::projection::{SIGN, sign};
use super::scene::{Extent, Place, Scene};
use super::sheet::WHOLE;
use super::svg::{body, escape};
use super::table::Table;

/// Width pictures are laid out for, mm: letters stay readable where a telephone shows all of it.
pub const WIDTH: f64 = 120.0;

/// How much larger than life a picture may stand on a wide screen.
const LARGEST: f64 = 1.5;

const STYLE: &str = include_str!("style.css");

/// The file.
pub fn html(sections: &[Section], document: &Document, title: &str) -> String {
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; font-src data:\">\n\
         <title>{}</title>\n<style>\n{}{}{STYLE}</style>\n</head>\n<body>\n",
        escape(title),
        face(PLAIN, "normal"),
        face(BOLD, "bold"),
    );
    heading(&mut out, sections, document, title);
    out.push_str("<main>\n");
    for section in sections {
        part(&mut out, section, sections.len() > 1);
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

fn face(bytes: &[u8], weight: &str) -> String {
    format!(
        "@font-face{{font-family:\"DejaVu Sans\";font-weight:{weight};src:url(data:font/ttf;base64,{}) format(\"truetype\")}}\n",
        STANDARD.encode(bytes)
    )
}

fn heading(out: &mut String, sections: &[Section], document: &Document, title: &str) {
    out.push_str(&format!(
        "<header id=\"top\">\n<h1>{}</h1>\n<dl>\n",
        escape(title)
    ));
    let mut say = |what: &str, value: &str| {
        out.push_str(&format!(
            "<div><dt>{what}</dt><dd>{}</dd></div>\n",
            escape(value)
        ));
    };
    for (what, value) in [("Job", &document.job), ("Date", &document.date)] {
        if let Some(value) = value {
            say(what, value);
        }
    }
    say("File", &document.file);
    say("Unit", &document.unit);
    if let Some(projection) = document.projection {
        let mut scene = Scene::default();
        sign(&mut scene, projection, Place::new(0.0, SIGN.y / 2.0));
        let window = (Place::origin(), Place::new(SIGN.x, SIGN.y));
        out.push_str(&format!(
            "<div><dt>Views</dt><dd>{} {}</dd></div>\n",
            projection.name(),
            drawing(&scene, window, "sign of the projection", "sign")
        ));
    }
    out.push_str("</dl>\n");
    let marks: Vec<String> = sections
        .iter()
        .filter(|s| s.heading != WHOLE)
        .map(|s| format!("<a href=\"#{}\">{}</a>", place(s), escape(&s.heading)))
        .collect();
    if marks.len() > 1 {
        out.push_str(&format!(
            "<nav aria-label=\"parts\">{}</nav>\n",
            marks.join("\n")
        ));
    }
    out.push_str("</header>\n");
}

fn part(out: &mut String, section: &Section, back: bool) {
    out.push_str(&format!(
        "<article id=\"{}\">\n<h2>{}</h2>\n<p class=\"under\">{}</p>\n",
        place(section),
        escape(&section.heading),
        escape(&section.under)
    ));
    for run in section
        .blocks
        .chunk_by(|a, b| is_picture(a) && is_picture(b))
    {
        if run.first().is_some_and(is_picture) {
            out.push_str("<div class=\"pictures\">\n");
            run.iter().for_each(|block| write(out, block));
            out.push_str("</div>\n");
        } else {
            run.iter().for_each(|block| write(out, block));
        }
    }
    out.push_str("<div class=\"cautions\">\n");
    for caution in &section.cautions {
        out.push_str(&format!("<p>{}</p>\n", escape(caution)));
    }
    out.push_str("</div>\n");
    if back {
        out.push_str("<p class=\"back\"><a href=\"#top\">All parts</a></p>\n");
    }
    out.push_str("</article>\n");
}

fn is_picture(block: &Block) -> bool {
    matches!(block, Block::Picture { .. })
}

fn write(out: &mut String, block: &Block) {
    match block {
        Block::Picture { name, scene, size } => {
            let window = (Place::origin(), Place::new(size.x, size.y));
            out.push_str(&format!(
                "<figure style=\"--own:{}mm;--most:{}mm\">{}</figure>\n",
                number(size.x, 2),
                number(size.x * LARGEST, 2),
                drawing(scene, window, name, "picture")
            ));
        }
        Block::Heading(words) => out.push_str(&format!("<h3>{}</h3>\n", escape(words))),
        Block::Words(words) => out.push_str(&format!("<p>{}</p>\n", escape(words))),
        Block::Table(table) => ruled(out, table),
    }
}

fn drawing(scene: &Scene, window: Extent, name: &str, class: &str) -> String {
    let size = window.1 - window.0;
    let links: String = scene
        .links
        .iter()
        .map(|link| {
            format!(
                "<a href=\"#{}\" aria-label=\"{}\"><circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"#fff\" fill-opacity=\"0\"/></a>\n",
                anchor(&link.to),
                escape(&link.to),
                number(link.at.x - window.0.x, 3),
                number(window.1.y - link.at.y, 3),
                number(link.radius, 3)
            )
        })
        .collect();
    // A picture that can be clicked is a group of links, not one image.
    let role = if links.is_empty() { "img" } else { "group" };
    format!(
        "<svg class=\"{class}\" role=\"{role}\" aria-label=\"{}\" viewBox=\"0 0 {} {}\" width=\"{}mm\" height=\"{}mm\">\n{}{links}</svg>",
        escape(name),
        number(size.x, 3),
        number(size.y, 3),
        number(size.x, 3),
        number(size.y, 3),
        body(scene, window)
    )
}

fn ruled(out: &mut String, table: &Table) {
    out.push_str("<div class=\"table\"><table>\n<thead><tr>");
    let left = |k: usize| table.headings.get(k).is_some_and(|h| h.ends_with(' '));
    let class = |k: usize| if left(k) { " class=\"left\"" } else { "" };
    for (k, words) in table.headings.iter().enumerate() {
        out.push_str(&format!(
            "<th scope=\"col\"{}>{}</th>",
            class(k),
            escape(words.trim())
        ));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (k, words) in row.iter().enumerate() {
            out.push_str(&format!("<td{}>{}</td>", class(k), escape(words)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table></div>\n");
}

/// The name a section's place in the file has.
fn place(section: &Section) -> String {
    match section.mark.is_empty() {
        true => anchor(&section.heading).replacen("part", "whole", 1),
        false => anchor(&section.mark),
    }
}

/// The name a part's place in the file has.
fn anchor(mark: &str) -> String {
    let plain: String = mark
        .chars()
        .map(|c| match c {
            c if c.is_ascii_alphanumeric() => c.to_string(),
            c => format!("_{:x}", u32::from(c)),
        })
        .collect();
    format!("part-{plain}")
}

#[cfg(test)]
mod tests {
    use super::anchor;

    #[test]
    fn places_have_plain_and_different_names() {
        assert_eq!(anchor("M1"), "part-M1");
        assert_eq!(anchor("a b"), "part-a_20b");
        assert_ne!(anchor("a\"b"), anchor("a'b"));
    }
}
