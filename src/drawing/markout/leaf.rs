//! The page of numbers of one member.

use nalgebra::Vector2;

use super::layout::{CutMarks, Layout};
use super::saw::{Setting, setting};
use crate::drawing::flow::{Block, Section};
use crate::drawing::font::{self, Face};
use crate::drawing::leaf::TEXT;
use crate::drawing::scene::{Anchor, CENTRE, Corner, Place, Purpose, Scene, Shape, Text, WIDE};
use crate::drawing::table::Table;
use crate::drawing::words::{self, counted};
use crate::measure::{Quantity, Show, quantity};
use crate::member::Member;
use crate::report::{ReportedPart, what};

/// Side of the picture of the section, mm.
const PICTURE: f64 = 46.0;

/// What stands on its page.
pub fn section(
    part: &ReportedPart,
    member: &Member,
    layout: &Layout,
    width: f64,
    show: Show,
) -> Section {
    let cautions = vec![
        "Measure the stock first: wall, outside size and corner radius vary. Cut and fit the first piece before the rest.".to_owned(),
        format!(
            "Every distance runs along the line named, on the outside of the metal. The model holds them to {} (95 in 100); kerf is not allowed for: keep the blade on the waste side.",
            words::plus_minus(spread(member), show)
        ),
    ];
    let mut blocks: Vec<Block> = vec![picture(width, member, layout)];
    blocks.extend(
        steps(part, member, layout, show)
            .into_iter()
            .map(Block::Words),
    );
    blocks.push(Block::Heading("Running dimensions from the datum".into()));
    blocks.push(Block::Table(marks(layout, show)));
    let saws = saws(member);
    if !saws.is_empty() {
        blocks.push(Block::Heading("Saw settings".into()));
        blocks.extend(saws.into_iter().map(Block::Words));
    }
    if !layout.tangents.is_empty() {
        blocks.push(Block::Heading("Where bends begin and end".into()));
        blocks.push(Block::Table(bends(layout, show)));
    }
    if !layout.holes.is_empty() {
        blocks.push(Block::Heading("Holes".into()));
        blocks.push(Block::Table(holes(member, layout, show)));
    }

    let pieces = match part.opposite_hand {
        0 => counted(part.quantity as usize, "piece"),
        n => format!(
            "{} as shown, {} of the opposite hand (same distances, lines numbered clockwise)",
            counted(part.quantity as usize, "piece"),
            n
        ),
    };
    Section {
        mark: part.mark.clone(),
        heading: format!("{} mark-out", part.mark),
        under: format!(
            "{}; {pieces}; lengths in {}",
            what(part, show),
            words::unit_name(show)
        ),
        blocks,
        cautions,
    }
}

/// The widest doubt of a length on the page.
fn spread(member: &Member) -> Quantity {
    let all = [
        member.centreline.length,
        member.longest_edge,
        member.section.width,
        member.section.diameter,
    ];
    let widest = all.iter().flatten().map(|q| q.plus_minus);
    quantity(0.0, widest.fold(0.0, f64::max))
}

fn steps(part: &ReportedPart, member: &Member, layout: &Layout, show: Show) -> Vec<String> {
    let rolled = !layout.tangents.is_empty();
    let blank = words::plain_length(layout.blank_centreline, show);
    let first = match rolled {
        false => format!(
            "1. Cut the blank square at both ends, {blank} long. Its end 0 is the datum. Make {}.",
            counted((part.quantity + part.opposite_hand) as usize, "piece")
        ),
        true => format!(
            "1. Roll or bend a piece longer than {blank} on the centreline, with the waste the machine needs at both ends. Scribe the datum square round it where end 0 begins: every distance is measured along the rolled surface from there."
        ),
    };
    let join = match member.section.diameter {
        Some(_) => "Join the marks with the wrap, or with a flexible strip.",
        None => "Join the marks across each flat face with a straight edge, round a corner by eye.",
    };
    let double = member.ends.iter().any(|e| e.cuts.len() > 1);
    let order = match double {
        false => "3. Cut end 1 first and end 0 last: its cut takes the datum away.",
        true => {
            "3. Cut end 1 first and end 0 last: its cut takes the datum away. Where an end has two cuts, mark both before the first is made; marks beyond the blank's end, or on the piece cut off first, are not needed."
        }
    };
    vec![
        first,
        format!(
            "2. Draw the lines of the picture along the blank. Mark the distances of the table on them. {join}"
        ),
        order.to_owned(),
    ]
}

fn title(cut: &CutMarks) -> String {
    match cut.cope {
        true => format!("end {}, cope", cut.end),
        false => format!("end {}, cut {}", cut.end, cut.cut),
    }
}

fn marks(layout: &Layout, show: Show) -> Table {
    let cell = |at: &Option<f64>| match at {
        Some(mm) => words::tape(*mm, show),
        None => "passes by".to_owned(),
    };
    let headings = std::iter::once("line ".to_owned())
        .chain(layout.cuts.iter().map(title))
        .chain(["blank ends".to_owned()]);
    let rows = layout.lines.iter().enumerate().map(|(k, line)| {
        std::iter::once(line.name.clone())
            .chain(
                layout
                    .cuts
                    .iter()
                    .map(|cut| cut.at.get(k).map_or(String::new(), cell)),
            )
            .chain(layout.blank.get(k).map(|mm| words::tape(*mm, show)))
            .collect()
    });
    Table {
        headings: headings.collect(),
        rows: rows.collect(),
    }
}

fn bends(layout: &Layout, show: Show) -> Table {
    let rows = layout
        .tangents
        .chunks(2)
        .enumerate()
        .map(|(k, pair)| {
            let at = |k: usize| {
                pair.get(k)
                    .map_or(String::new(), |t| words::tape(t.centreline, show))
            };
            vec![format!("bend {}", k + 1), at(0), at(1)]
        })
        .collect();
    Table {
        headings: ["on the centreline ", "begins at", "ends at"]
            .map(String::from)
            .to_vec(),
        rows,
    }
}

fn holes(member: &Member, layout: &Layout, show: Show) -> Table {
    let rows = layout.holes.iter().filter_map(|marks| {
        let hole = member.holes.get(marks.index)?;
        let size = hole.diameter.map_or(words::NOT_KNOWN.to_owned(), |q| {
            format!("⌀{}", words::size(q, show))
        });
        let size = match hole.length {
            _ if hole.diameter.is_none() => {
                words::cutout(hole.length, hole.width, hole.corner_radius, show)
            }
            Some(q) => format!("{size}, slot {} long", words::size(q, show)),
            None => size,
        };
        let size = size + &words::lies(hole.direction);
        let around = hole
            .around
            .map_or(words::NOT_KNOWN.to_owned(), words::angle);
        let [x, y] = marks.spot;
        Some(vec![
            (marks.index + 1).to_string(),
            size,
            words::tape(marks.at, show),
            around,
            format!(
                "{}, {}",
                words::plain_length(x, show),
                words::plain_length(y, show)
            ),
            match hole.walls {
                1 => "one wall".to_owned(),
                _ => "both walls".to_owned(),
            },
        ])
    });
    Table {
        headings: [
            "hole ",
            "size ",
            "from the datum",
            "round from the width",
            "across width, height",
            "through ",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

fn saws(member: &Member) -> Vec<String> {
    let mut list = Vec::new();
    for (index, end) in member.ends.iter().enumerate() {
        for (k, cut) in end.cuts.iter().enumerate() {
            let which = match end.cuts.len() {
                1 => format!("End {index}"),
                _ => format!("End {index}, cut {}", k + 1),
            };
            let degrees = |v: f64| words::angle(quantity(v.abs(), cut.off_square.plus_minus));
            list.push(match setting(&member.section, end, cut) {
                Setting::Square => format!("{which}: square."),
                Setting::Turned { swing, long_point } => format!(
                    "{which}: swing {}, the tube turned so that its long point lies level; it stands {} round from line 1, as the lines are numbered.",
                    degrees(swing),
                    words::angle(quantity(long_point, cut.off_square.plus_minus))
                ),
                Setting::Compound { swing, tilt } => {
                    let reach = if swing.abs() > 60.0 || tilt.abs() > 45.0 {
                        " Beyond most saws: cut to the marks."
                    } else {
                        ""
                    };
                    format!(
                        "{which}: width level on the saw, blade swung {} from square and tilted {} from upright; the marks show to which sides.{reach}",
                        degrees(swing),
                        degrees(tilt)
                    )
                }
            });
        }
    }
    list
}

/// The section with its lines, seen on end 1.
fn picture(width: f64, member: &Member, layout: &Layout) -> Block {
    let mut scene = Scene::default();
    let top = Place::new(0.0, PICTURE + 16.0);
    let spots: Vec<[f64; 2]> = layout.lines.iter().map(|l| l.spot).collect();
    let reach = spots.iter().flatten().fold(1.0_f64, |m, v| m.max(v.abs()));
    let scale = PICTURE / 2.0 / reach * 0.8;
    let centre = Place::new(top.x + PICTURE / 2.0 + 8.0, top.y - PICTURE / 2.0 - 8.0);
    let place = |s: [f64; 2]| centre + Vector2::new(s[0], s[1]) * scale;
    for contour in &member.section.contours {
        let corners: Vec<Corner> = contour
            .iter()
            .map(|p| Corner {
                at: place(*p),
                bulge: 0.0,
            })
            .collect();
        let shape = Shape::Path {
            corners,
            closed: true,
        };
        scene.stroke(Purpose::Sheet, WIDE, shape);
    }
    let half = spots.iter().fold(Vector2::zeros(), |m: Vector2<f64>, s| {
        Vector2::new(m.x.max(s[0].abs()), m.y.max(s[1].abs()))
    });
    let arms = half * scale + Vector2::new(1.5, 1.5);
    for reach in [Vector2::new(arms.x, 0.0), Vector2::new(0.0, arms.y)] {
        scene.line(CENTRE, centre - reach, centre + reach);
    }
    for line in &layout.lines {
        let at = place(line.spot);
        scene.stroke(
            Purpose::Sheet,
            WIDE,
            Shape::Circle {
                centre: at,
                radius: 0.5,
            },
        );
        let out = outward(member, line.spot);
        let text = at + out * 4.2 - Vector2::new(0.0, TEXT / 2.0);
        scene.text(
            Purpose::Sheet,
            Text::plain(text, TEXT, &line.name)
                .bold()
                .anchored(Anchor::Middle),
        );
    }
    let left = top.x + PICTURE + 26.0;
    let words = [
        "End 1 seen from outside: the piece runs away from you.",
        "The width lies level, the height stands upright.",
        "The lines go round anticlockwise; they run along the whole piece, so on end 0, seen from outside, they go round clockwise.",
    ];
    let mut y = top.y - 12.0;
    for sentence in words {
        for line in font::wrap(sentence, Face::Plain, TEXT, top.x + width - left) {
            scene.text(Purpose::Sheet, Text::plain(Place::new(left, y), TEXT, line));
            y -= TEXT * 1.9;
        }
        y -= 1.5;
    }
    Block::Picture {
        name: "lines of the mark-out on end 1".to_owned(),
        scene,
        size: Vector2::new(width, PICTURE + 18.0),
    }
}

/// Square to the face a line stands on; on rounds and corners straight out.
fn outward(member: &Member, spot: [f64; 2]) -> Vector2<f64> {
    let v = Vector2::new(spot[0], spot[1]);
    let half = |q: Option<Quantity>| q.map(|q| q.value / 2.0);
    let (w, h) = (
        half(member.section.width),
        half(member.section.height.or(member.section.width)),
    );
    let on = |half: Option<f64>, v: f64| half.is_some_and(|half| (v.abs() - half).abs() < 1e-6);
    match (on(w, v.x), on(h, v.y)) {
        (true, false) => Vector2::new(v.x.signum(), 0.0),
        (false, true) => Vector2::new(0.0, v.y.signum()),
        _ => v.try_normalize(0.0).unwrap_or(Vector2::new(0.0, 1.0)),
    }
}
