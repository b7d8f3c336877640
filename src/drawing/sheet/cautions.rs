//! Cautions at the foot of a sheet. Common practice of the trade, no source.

use crate::member::Shape;
use crate::report::ReportedPart;

/// For the page of the whole model.
pub fn whole() -> Vec<String> {
    [
        "This sheet tells what the model says, not what the metal is. A model carries no unit of its own: measure one known size before anything is cut. Check one long dimension and one diagonal by tape.",
        "Weights are those of the modelled metal alone. Nothing here says that a part is strong enough: loads, welds, anchors, guards and stairs need a licensed engineer and the local rules.",
    ]
    .map(String::from)
    .to_vec()
}

/// For the page of one part.
pub fn part(part: &ReportedPart) -> Vec<String> {
    let mut list = vec![
        "Measure the stock: wall, outside size and corner radius vary within the mill's tolerance. Cut the first piece over-long, fit it, then cut the rest.".to_owned(),
    ];
    if let Some(member) = &part.member {
        if matches!(
            member.section.shape,
            Shape::Round | Shape::Square | Shape::Rect
        ) {
            list.push("A tube closed at both ends needs a vent before it is welded, heated or galvanized: trapped air or water can burst it.".to_owned());
        }
        if member.spans.len() > 1 || member.centreline.rise.is_some() {
            list.push("Rolled and bent metal springs back: let go of it from the side, support the free end, keep hands and gloves away from the nip.".to_owned());
        }
    }
    if part.plate.is_some() {
        list.push("Run the cutting program in the air first. Kerf is not in these sizes. Cut edges and slivers are hot and sharp.".to_owned());
    }
    list
}
