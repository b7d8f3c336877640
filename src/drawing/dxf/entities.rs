//! One item of a scene as one entity.

use std::f64::consts::TAU;

use super::{Pairs, ascii};
use crate::drawing::scene::{Anchor, Corner, Item, Place, Shape, Text};

/// Handle of the space all entities stand in.
const SPACE: &str = "1F";

pub fn entity(out: &mut Pairs, item: &Item) {
    let layer = item.purpose.name();
    match &item.shape {
        Shape::Line { from, to } => {
            start(out, "LINE", layer);
            out.marker("AcDbLine");
            out.place(10, *from);
            out.place(11, *to);
        }
        Shape::Circle { centre, radius } => {
            start(out, "CIRCLE", layer);
            out.marker("AcDbCircle");
            out.place(10, *centre);
            out.length(40, *radius);
        }
        Shape::Arc {
            centre,
            radius,
            start: from,
            sweep,
        } => {
            // An arc of this format always runs anticlockwise.
            let (a, b) = match *sweep >= 0.0 {
                true => (*from, from + sweep),
                false => (from + sweep, *from),
            };
            start(out, "ARC", layer);
            out.marker("AcDbCircle");
            out.place(10, *centre);
            out.length(40, *radius);
            out.marker("AcDbArc");
            out.real(50, a.rem_euclid(TAU).to_degrees());
            out.real(51, b.rem_euclid(TAU).to_degrees());
        }
        Shape::Path { corners, closed } if out.new_edition() => light(out, layer, corners, *closed),
        Shape::Path { corners, closed } => old(out, layer, corners, *closed),
        Shape::Text(text) => words(out, layer, text),
    }
}

fn start(out: &mut Pairs, kind: &str, layer: &str) {
    out.word(0, kind);
    out.own(SPACE);
    out.marker("AcDbEntity");
    out.word(8, layer);
}

/// One entity that holds all corners.
fn light(out: &mut Pairs, layer: &str, corners: &[Corner], closed: bool) {
    start(out, "LWPOLYLINE", layer);
    out.marker("AcDbPolyline");
    out.whole(90, corners.len() as i64);
    out.whole(70, i64::from(closed));
    for corner in corners {
        out.length(10, corner.at.x);
        out.length(20, corner.at.y);
        if corner.bulge != 0.0 {
            out.real(42, corner.bulge);
        }
    }
}

/// One entity that is followed by its corners; each of them names the layer, for readers sort
/// entities by it.
fn old(out: &mut Pairs, layer: &str, corners: &[Corner], closed: bool) {
    start(out, "POLYLINE", layer);
    out.whole(66, 1);
    out.place(10, Place::origin());
    out.whole(70, i64::from(closed));
    for corner in corners {
        start(out, "VERTEX", layer);
        out.place(10, corner.at);
        if corner.bulge != 0.0 {
            out.real(42, corner.bulge);
        }
    }
    start(out, "SEQEND", layer);
}

fn words(out: &mut Pairs, layer: &str, text: &Text) {
    start(out, "TEXT", layer);
    out.marker("AcDbText");
    out.place(10, text.origin());
    out.length(40, text.height);
    out.word(1, &ascii(&text.words));
    if text.turn != 0.0 {
        out.real(50, text.turn);
    }
    // The reader's letters have other widths: it must do the centring itself.
    let side = match text.anchor {
        Anchor::Start => None,
        Anchor::Middle => Some(1),
        Anchor::End => Some(2),
    };
    if let Some(side) = side {
        out.whole(72, side);
        out.place(11, text.at);
    }
    out.marker("AcDbText");
}
