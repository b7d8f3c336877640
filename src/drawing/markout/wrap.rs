//! Wraps on paper at 1:1, for ends that are not cut square.

use nalgebra::Vector2;

use super::layout::Layout;
use super::lines::way_round;
use super::strip::{Strip, strip};
use crate::drawing::leaf::{Document, Leaf, TEXT, room};
use crate::drawing::scene::{
    Anchor, CENTRE, Corner, Dash, Extent, Fill, NARROW, Pen, Place, Purpose, Scene, Shape, Text,
    WIDE,
};
use crate::drawing::tile::{split, tiles};
use crate::drawing::walk::Which;
use crate::drawing::words;
use crate::measure::Show;
use crate::member::{Cut, Member};

/// The strip's straight edge lies this far below the deepest point of the cut, mm.
const BELOW: f64 = 30.0;
/// Paper to paste the strip's ends together with, mm.
const TAB: f64 = 12.0;
/// Cuts nearer to square than this need no wrap, degrees.
const SQUARE: f64 = 0.05;

/// Nobody pastes more sheets than this together.
const MOST_SHEETS: usize = 400;

/// Pages with the wraps of a member. `paper` is the thickness of the paper, mm.
pub fn wraps(
    mark: &str,
    member: &Member,
    layout: &Layout,
    document: &Document,
    show: Show,
    paper: f64,
) -> Vec<Leaf> {
    let mut leaves = Vec::new();
    for (index, end) in member.ends.iter().enumerate() {
        let which = if index == 0 {
            Which::First
        } else {
            Which::Last
        };
        let square = |c: &Cut| c.off_square.value.abs() < SQUARE;
        if end.saddle.is_none() && end.cuts.iter().all(square) {
            continue;
        }
        let Some(strip) = strip(&member.section, &layout.walk, which, end, paper, BELOW) else {
            continue;
        };
        let edge = match which {
            Which::First => layout.before + strip.to_end,
            Which::Last => layout.before + length_of(layout) - strip.to_end,
        };
        let (scene, extent) = draw(mark, index, member, layout, &strip, show, edge);
        let cautions = vec![
            format!(
                "Once round at the paper: {}, for paper {} thick. Check it against the tube before marking; give the paper's thickness with --paper-thickness if the ends do not meet.",
                words::plain_length(strip.around, show),
                words::plain_size(paper, show)
            ),
            "Printed side out. The straight edge goes square round the tube, the curve towards the end; mark along the curve.".to_owned(),
        ];
        let space = room(document.paper, true, &cautions);
        let (columns, rows) = split(extent, space);
        if columns * rows > MOST_SHEETS {
            leaves.push(Leaf {
                heading: format!("{mark} end {index}: no wrap"),
                under: format!(
                    "At 1:1 it would take more than {MOST_SHEETS} sheets of this paper. Mark the end from the numbers of the mark-out; check the unit of the model."
                ),
                landscape: true,
                scene: Scene::default(),
                inset: None,
                cautions: Vec::new(),
            });
            continue;
        }
        for tile in tiles(&scene, extent, space) {
            let (c, r) = tile.place;
            let piece = match tile.of {
                (1, 1) => "in one piece".to_owned(),
                (columns, 1) => {
                    format!("piece {c} of {columns}, from the left; join at the circles")
                }
                (columns, rows) => format!(
                    "column {c} of {columns}, row {r} of {rows}, from the lower left; join at the circles"
                ),
            };
            leaves.push(Leaf {
                heading: format!("{mark} end {index}: wrap 1:1"),
                under: format!(
                    "{piece}; straight edge at {} {} from the datum",
                    words::plain_length(edge, show),
                    show.length_symbol()
                ),
                landscape: true,
                scene: Scene::default(),
                inset: Some(tile.inset),
                cautions: cautions.clone(),
            });
        }
    }
    leaves
}

fn length_of(layout: &Layout) -> f64 {
    crate::drawing::walk::length(&layout.walk)
}

/// The strip as a drawing, and its box.
fn draw(
    mark: &str,
    index: usize,
    member: &Member,
    layout: &Layout,
    strip: &Strip,
    show: Show,
    edge: f64,
) -> (Scene, Extent) {
    // Seen from outside with the end up, the numbers run to the right on end 1, to the left on end 0.
    let x = |around: f64| match index {
        0 => strip.around - around,
        _ => around,
    };
    let top = strip.high + 6.0;
    let mut scene = Scene::default();
    let outline = [
        (0.0, 0.0),
        (strip.around, 0.0),
        (strip.around, top),
        (0.0, top),
    ];
    let corners = outline.map(|(x, y)| Corner {
        at: Place::new(x, y),
        bulge: 0.0,
    });
    scene.stroke(
        Purpose::Sheet,
        NARROW,
        Shape::Path {
            corners: corners.to_vec(),
            closed: true,
        },
    );
    scene.line(WIDE, Place::new(0.0, 0.0), Place::new(strip.around, 0.0));
    let curve: Vec<Corner> = strip
        .cut
        .iter()
        .map(|p| Corner {
            at: Place::new(x(p.around), p.up),
            bulge: 0.0,
        })
        .collect();
    let pen = Pen {
        width: 0.35,
        dash: Dash::Solid,
    };
    scene.stroke(
        Purpose::Sheet,
        pen,
        Shape::Path {
            corners: curve,
            closed: false,
        },
    );
    for (name, around) in named(member, layout, strip) {
        let at = x(around);
        scene.line(CENTRE, Place::new(at, 0.0), Place::new(at, top));
        scene.text(
            Purpose::Sheet,
            Text::plain(Place::new(at + 1.0, 2.0), TEXT, name).bold(),
        );
    }
    let tab = [
        Place::new(strip.around, 0.0),
        Place::new(strip.around + TAB, 4.0),
        Place::new(strip.around + TAB, top - 4.0),
        Place::new(strip.around, top),
    ];
    for pair in tab.windows(2) {
        if let [a, b] = pair {
            scene.line(NARROW, *a, *b);
        }
    }
    scene.text(
        Purpose::Sheet,
        Text::plain(
            Place::new(strip.around + TAB / 2.0 + 1.0, top / 2.0),
            TEXT,
            "paste under",
        )
        .anchored(Anchor::Middle)
        .turned(90.0),
    );
    let lines = [
        format!("{mark} end {index}"),
        format!(
            "this edge square round the tube, {} {} from the datum",
            words::plain_length(edge, show),
            show.length_symbol()
        ),
    ];
    let limit = strip.around.min(220.0) - 8.0;
    for (k, line) in lines.into_iter().enumerate() {
        let at = Place::new(5.0, 16.0 - 6.0 * k as f64);
        let text =
            crate::drawing::leaf::fitted(&line, crate::drawing::font::Face::Plain, 3.5, limit);
        let text = Text { at, ..text };
        let [low, _, high, _] = text.outline();
        scene.rectangle(None, Some(Fill::White), (low, high));
        scene.text(Purpose::Sheet, text);
    }
    let margin = Vector2::new(1.0, 1.0);
    (
        scene,
        (
            Place::origin() - margin,
            Place::new(strip.around + TAB, top) + margin,
        ),
    )
}

/// Where each named line stands on the strip.
fn named(member: &Member, layout: &Layout, strip: &Strip) -> Vec<(String, f64)> {
    let Some(way) = way_round(&member.section, 0.0) else {
        return Vec::new();
    };
    layout
        .lines
        .iter()
        .filter_map(|line| {
            let gap = |spot: [f64; 2]| (spot[0] - line.spot[0]).hypot(spot[1] - line.spot[1]);
            let (k, _) = way
                .iter()
                .enumerate()
                .min_by(|a, b| gap(a.1.spot).total_cmp(&gap(b.1.spot)))?;
            Some((line.name.clone(), strip.cut.get(k)?.around))
        })
        .collect()
}
