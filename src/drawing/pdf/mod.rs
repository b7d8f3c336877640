//! Scenes as the pages of a PDF, 1:1, with the letters in the file and the wish not to be scaled.

mod face;
mod page;

use pdf_writer::types::PageMode;
use pdf_writer::{Finish, Name, Pdf, Rect, Ref, TextStr};

use super::font::Face;
use super::scene::{Extent, Scene, Text};

/// One page; the scene's origin is its lower left corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// What stands on it.
    pub scene: Scene,
    /// A part of a larger drawing on it, cut off at the edges of its window.
    pub inset: Option<Inset>,
}

/// A window on a drawing that is larger than the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Inset {
    /// The drawing, already where it belongs on the page.
    pub scene: Scene,
    /// The window.
    pub window: Extent,
}

impl Page {
    /// The lines of text on the page, those of the inset among them.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        let inset = self.inset.iter().flat_map(|inset| inset.scene.texts());
        self.scene.texts().chain(inset)
    }
}

/// Points of a PDF in a millimetre.
const POINT: f64 = 72.0 / 25.4;

const CATALOG: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const INFO: Ref = Ref::new(3);
const PLAIN: Ref = Ref::new(4);
const BOLD: Ref = Ref::new(9);
const FIRST_PAGE: i32 = 14;

/// The bytes of a PDF with these pages. Nothing in it depends on the clock.
pub fn pdf(pages: &[Page], title: &str) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let mut catalog = pdf.catalog(CATALOG);
    catalog.pages(PAGES).page_mode(PageMode::UseNone);
    let mut viewer = catalog.viewer_preferences();
    viewer.display_doc_title(true);
    viewer
        .insert(Name(b"PrintScaling"))
        .primitive(Name(b"None"));
    viewer.finish();
    catalog.finish();
    pdf.document_info(INFO)
        .title(TextStr(title))
        .creator(TextStr(concat!("soapstone ", env!("CARGO_PKG_VERSION"))));

    let ids: Vec<(Ref, Ref)> = (0..pages.len() as i32)
        .map(|k| {
            (
                Ref::new(FIRST_PAGE + 2 * k),
                Ref::new(FIRST_PAGE + 2 * k + 1),
            )
        })
        .collect();
    pdf.pages(PAGES)
        .kids(ids.iter().map(|id| id.0))
        .count(ids.len() as i32);
    for (page, (id, content)) in pages.iter().zip(ids) {
        let mut object = pdf.page(id);
        object
            .parent(PAGES)
            .media_box(Rect::new(
                0.0,
                0.0,
                (page.width * POINT) as f32,
                (page.height * POINT) as f32,
            ))
            .contents(content);
        object
            .resources()
            .fonts()
            .pair(page::name_of(Face::Plain), PLAIN)
            .pair(page::name_of(Face::Bold), BOLD);
        object.finish();
        let packed = deflate(&page::content(page));
        pdf.stream(content, &packed)
            .filter(pdf_writer::Filter::FlateDecode);
    }
    face::embed(&mut pdf, PLAIN, Face::Plain, pages);
    face::embed(&mut pdf, BOLD, Face::Bold, pages);
    pdf.finish()
}

fn deflate(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write;
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::new(6));
    // Writing into memory does not fail; an empty page would show it if it did.
    let done = encoder.write_all(bytes).and_then(|()| encoder.finish());
    done.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::super::scene::{NARROW, Place, Text};
    use super::*;

    #[test]
    fn the_same_scene_gives_the_same_bytes() {
        let mut scene = Scene::default();
        scene.line(NARROW, Place::new(10.0, 10.0), Place::new(110.0, 10.0));
        scene.text(
            super::super::scene::Purpose::Sheet,
            Text::plain(Place::new(10.0, 20.0), 3.5, "⌀ 12 ±0.1° ½"),
        );
        let page = Page {
            width: 210.0,
            height: 297.0,
            scene,
            inset: None,
        };
        let first = pdf(std::slice::from_ref(&page), "test");
        assert_eq!(first, pdf(&[page], "test"));
        assert!(first.starts_with(b"%PDF-1.7"));
        let text = String::from_utf8_lossy(&first);
        assert!(text.contains("/PrintScaling /None"));
        assert!(text.contains("/MediaBox [0 0 595.2756 841.8898]"));
    }
}
