//! Sizes that may tell the unit of a file, taken from a first reading in file units.

use crate::member::Shape;
use crate::part::Part;
use crate::stock::Evidence;

/// Sizes of `parts` as the unit search wants them; `extent` is the largest side of the model.
pub fn evidence(parts: &[Part], extent: f64) -> Evidence {
    let mut out = Evidence {
        extent,
        ..Evidence::default()
    };
    for part in parts {
        if let Some(m) = &part.member {
            let s = &m.section;
            let value = |q: Option<crate::measure::Quantity>| q.map(|q| q.value);
            match (
                s.shape,
                value(s.diameter),
                value(s.width),
                value(s.height),
                value(s.wall),
            ) {
                (Shape::Round, Some(d), _, _, Some(t)) => out.round.push((d, t)),
                (Shape::RoundBar, Some(d), ..) => out.round_bar.push(d),
                (Shape::Square | Shape::Rect, _, Some(w), Some(h), Some(t)) => {
                    out.rect.push((w, h, t))
                }
                (Shape::SquareBar | Shape::FlatBar, _, Some(w), Some(h), _) => {
                    out.flat_bar.push((w, h))
                }
                (Shape::Angle, _, Some(w), Some(h), Some(t)) => out.angle.push((w, h, t)),
                (Shape::Channel, _, Some(w), Some(h), Some(t)) => out.channel.push((h, w, t)),
                _ => {}
            }
            out.lengths.extend(m.centreline.length.map(|q| q.value));
            out.holes
                .extend(m.holes.iter().filter_map(|h| h.diameter.map(|d| d.value)));
        }
        if let Some(p) = &part.plate {
            out.thickness.extend(p.thickness.map(|q| q.value));
            out.lengths.extend(
                [p.flat.length, p.flat.width]
                    .iter()
                    .flatten()
                    .map(|q| q.value),
            );
            out.lengths.extend(p.flanges.iter().map(|q| q.value));
            out.lengths
                .extend(p.bends.iter().map(|b| b.inside_radius.value));
            out.lengths.extend(p.inside_radius.map(|q| q.value));
            out.holes
                .extend(p.holes.iter().filter_map(|h| h.diameter.map(|d| d.value)));
        }
    }
    out
}
