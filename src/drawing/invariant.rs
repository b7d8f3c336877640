//! What every drawing keeps to.

use super::leaf::MARGIN;
use super::pdf::Page;
use super::scene::{Fill, Item, Place, Scene, Shape};

/// The first rule that `scene` breaks, or `None` when it is sound.
///
/// Places, sizes and turns are finite; radii, heights of letters and widths of lines are positive; a
/// path has two corners or more; text has words, of one line.
pub fn fault(scene: &Scene) -> Option<String> {
    let lost = |item: &Item, what: &str| Some(format!("{what}: {item:?}"));
    for item in &scene.items {
        let at = |place: &Place| place.x.is_finite() && place.y.is_finite();
        let positive = |x: f64| x > 0.0 && x.is_finite();
        let finite = match &item.shape {
            Shape::Line { from, to } => at(from) && at(to),
            Shape::Circle { centre, radius } => at(centre) && positive(*radius),
            Shape::Arc {
                centre,
                radius,
                start,
                sweep,
            } => at(centre) && positive(*radius) && start.is_finite() && sweep.is_finite(),
            Shape::Path { corners, .. } => {
                corners.len() >= 2 && corners.iter().all(|c| at(&c.at) && c.bulge.is_finite())
            }
            Shape::Text(text) => at(&text.at) && positive(text.height) && text.turn.is_finite(),
        };
        if !finite {
            return lost(
                item,
                "a place, a size or a turn is no number that can be drawn",
            );
        }
        if item.pen.is_some_and(|pen| !positive(pen.width)) {
            return lost(item, "a line has no width");
        }
        if matches!(item.fill, Some(Fill::Tint(t)) if !(0.0..=1.0).contains(&t)) {
            return lost(item, "a tint is no share of ink");
        }
        if let Shape::Text(text) = &item.shape
            && text.words.chars().any(char::is_control)
        {
            return lost(item, "a line of text holds a control character");
        }
    }
    let links = scene.links.iter();
    let reach = |l: &super::scene::Link| l.at.x.is_finite() && l.at.y.is_finite() && l.radius > 0.0;
    (!links.clone().all(reach)).then(|| "a link lies nowhere".to_owned())
}

/// The same for a page; and all of its words stand on the paper, clear of the edge no printer reaches.
pub fn page_fault(page: &Page) -> Option<String> {
    let inset = page.inset.iter().map(|inset| &inset.scene);
    if let Some(fault) = [&page.scene].into_iter().chain(inset).find_map(fault) {
        return Some(fault);
    }
    // Half the usual margin: the least an office printer leaves.
    let (low, high) = (
        0.5 * MARGIN,
        [page.width - 0.5 * MARGIN, page.height - 0.5 * MARGIN],
    );
    page.scene.texts().find_map(|text| {
        let off = |p: &Place| p.x < low || p.y < low || p.x > high[0] || p.y > high[1];
        text.outline()
            .iter()
            .any(off)
            .then(|| format!("\"{}\" runs off the page", text.words))
    })
}
