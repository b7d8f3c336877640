//! A face inside the PDF: the letters, their widths, and what to copy when words are selected.

use std::collections::BTreeMap;

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use ttf_parser::Face as Parsed;

use super::{Page, deflate};
use crate::drawing::font::{self, Face};

const ORDER: SystemInfo = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// Writes the face under `id` and the four numbers after it.
pub fn embed(pdf: &mut Pdf, id: Ref, face: Face, pages: &[Page]) {
    let next = |k: i32| Ref::new(id.get() + k);
    let (cid, descriptor, file, unicode) = (next(1), next(2), next(3), next(4));
    let name = match face {
        Face::Plain => Name(b"SPSTNA+DejaVuSans"),
        Face::Bold => Name(b"SPSTNB+DejaVuSans-Bold"),
    };
    pdf.type0_font(id)
        .base_font(name)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(unicode);
    let letters = used(face, pages);

    let mut font = pdf.cid_font(cid);
    font.subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(ORDER)
        .font_descriptor(descriptor)
        .default_width(600.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = font.widths();
    for letter in letters.values() {
        let width = (letter.advance * 1000.0) as f32;
        widths.consecutive(letter.glyph, [width]);
    }
    widths.finish();
    font.finish();

    let (bounds, ascent, descent) = metrics(face);
    pdf.font_descriptor(descriptor)
        .name(name)
        .flags(FontFlags::NON_SYMBOLIC)
        .bbox(bounds)
        .italic_angle(0.0)
        .ascent(ascent)
        .descent(descent)
        .cap_height((font::CAPITAL * 1000.0) as f32)
        .stem_v(if face == Face::Bold { 140.0 } else { 80.0 })
        .font_file2(file);
    let packed = deflate(font::bytes(face));
    let mut stream = pdf.stream(file, &packed);
    stream
        .insert(Name(b"Length1"))
        .primitive(font::bytes(face).len() as i32);
    stream.filter(Filter::FlateDecode);
    stream.finish();

    let mut table = UnicodeCmap::new(Name(b"Letters"), ORDER);
    for (c, letter) in &letters {
        table.pair(letter.glyph, *c);
    }
    let packed = deflate(&table.finish().into_vec());
    pdf.stream(unicode, &packed).filter(Filter::FlateDecode);
}

/// Letters that the pages hold in this face.
fn used(face: Face, pages: &[Page]) -> BTreeMap<char, font::Letter> {
    pages
        .iter()
        .flat_map(Page::texts)
        .filter(|text| text.face == face)
        .flat_map(|text| text.words.chars())
        .map(|c| (c, font::letter(c, face)))
        .collect()
}

/// Bounding box, ascent and descent in thousandths of an em.
fn metrics(face: Face) -> (Rect, f32, f32) {
    let Ok(parsed) = Parsed::parse(font::bytes(face), 0) else {
        return (Rect::new(0.0, -240.0, 1000.0, 930.0), 930.0, -240.0);
    };
    let scale = 1000.0 / f32::from(parsed.units_per_em());
    let b = parsed.global_bounding_box();
    let em = |n: i16| f32::from(n) * scale;
    (
        Rect::new(em(b.x_min), em(b.y_min), em(b.x_max), em(b.y_max)),
        em(parsed.ascender()),
        em(parsed.descender()),
    )
}
