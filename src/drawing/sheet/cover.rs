//! The section of the whole model: picture with marks, parts list, set-out.

use nalgebra::Vector2;

use super::part::pieces;
use super::views::half;
use super::{Asked, cautions, set_out};
use crate::body::Body;
use crate::drawing::bulge;
use crate::drawing::dimension::{LANE, balloon, balloon_radius, level, upright};
use crate::drawing::flow::{self, Block, Section};
use crate::drawing::scale::scale;
use crate::drawing::scene::{Link, NARROW, Place, Purpose, Scene, Text};
use crate::drawing::table::Table;
use crate::drawing::view::{self, Look, picture};
use crate::drawing::words::{self, counted};
use crate::geometry::{Pt3, Vec3};
use crate::report::{Report, ReportedPart, what};

/// Height of the picture with the marks, mm; more where there are many marks.
const PICTURE: f64 = 104.0;
/// Height of the pictures with the overall sizes, mm.
const VIEWS: f64 = 62.0;
/// Room kept free on both sides of the picture for marks, mm.
const SIDE: f64 = 16.0;
/// Room one mark takes above the next, mm.
const STEP: f64 = 8.4;

/// Heading of the section of the whole model.
pub const WHOLE: &str = "Parts and set-out";

pub fn section(report: &Report, bodies: &[Body], asked: &Asked) -> Section {
    let all: Vec<&Body> = bodies.iter().collect();
    let mut blocks = vec![
        marked(report, &all, asked),
        Block::Heading("Parts".into()),
        Block::Table(parts(report, asked)),
    ];
    if !all.is_empty() {
        blocks.push(Block::Heading(
            "Set-out: overall sizes, and where the pieces stand".into(),
        ));
        blocks.extend(overall(&all, asked));
        blocks.push(Block::Words(
            "Datum: the lowest, leftmost, foremost corner of a box around the whole model. x runs to the right, y away from you, z up, as in the file. The table says from where to where each piece reaches."
                .into(),
        ));
        blocks.push(Block::Table(set_out::places(report, bodies, asked.show)));
        let spacings = set_out::spacings(report, bodies, asked.show);
        if !spacings.rows.is_empty() {
            blocks.push(Block::Heading(
                "Spacing of alike pieces, middle to middle".into(),
            ));
            blocks.push(Block::Table(spacings));
        }
    }
    let general: Vec<Block> = report
        .findings
        .iter()
        .filter(|f| f.part.is_none())
        .map(|f| Block::Words(format!("{} {}", f.message, f.remedy)))
        .collect();
    if !general.is_empty() {
        blocks.push(Block::Heading("About the file".into()));
        blocks.extend(general);
    }
    let different = counted(report.parts.len(), "different part");
    let n: u32 = report
        .parts
        .iter()
        .map(|p| p.quantity + p.opposite_hand)
        .sum();
    Section {
        mark: String::new(),
        heading: WHOLE.into(),
        under: format!("{different}, {}", counted(n as usize, "piece")),
        blocks,
        cautions: cautions::whole(),
    }
}

/// Everything from above a corner, each different part with its mark.
fn marked(report: &Report, all: &[&Body], asked: &Asked) -> Block {
    let look = Look::isometric(&Vec3::x(), &Vec3::y(), &Vec3::z());
    let (low, high) = around(all, &look);
    // Marks stand in two columns a side where one does not hold them.
    let least = (0.56 * asked.width).max(PICTURE);
    let column = ((least - 12.0) / STEP) as usize;
    let shown = largest(report, all, 4 * ((asked.width - 12.0) / STEP) as usize);
    let most = shown.len().div_ceil(2);
    let columns = if most > column { 2 } else { 1 };
    let picture_height = (12.0 + STEP * most.div_ceil(columns) as f64).max(least);
    let radius = shown.iter().map(|part| balloon_radius(&part.mark));
    let step_in = (2.0 * radius.fold(0.0, f64::max) + 0.8).max(8.5);
    let side = SIDE + step_in * (columns - 1) as f64;
    let room = Vector2::new(asked.width - 2.0 * side, picture_height - 12.0);
    let (scale, name) = scale(high - low, room);
    let seen = picture(all, look, 0.4 / scale);
    let size = view::size(&seen) * scale;
    let at = Place::new((asked.width - size.x) / 2.0, 8.0 + (room.y - size.y) / 2.0);
    let mut scene = Scene::default();
    view::draw(&mut scene, &seen, NARROW, scale, at);
    let mut marks: Vec<(Place, &str)> = shown
        .iter()
        .filter_map(|part| {
            let body = all.get(part.body as usize)?;
            let middle = nearest_to_centre(body);
            Some((
                at + (look.place(&middle) - seen.extent.0) * scale,
                part.mark.as_str(),
            ))
        })
        .collect();
    // Left half to the left, right half to the right, the highest on top: lines seldom cross.
    marks.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let right = marks.split_off(marks.len().div_ceil(2));
    for (left, mut list) in [(true, marks), (false, right)] {
        list.sort_by(|a, b| b.0.y.total_cmp(&a.0.y).then(a.0.x.total_cmp(&b.0.x)));
        let rows = list.len().div_ceil(columns).max(1);
        let step = (picture_height - 12.0) / rows as f64;
        for (k, (to, mark)) in list.iter().enumerate() {
            let y = picture_height - 4.0 - step * ((k / columns) as f64 + 0.5);
            let in_by = 6.0 + step_in * (k % columns) as f64;
            let x = if left { in_by } else { asked.width - in_by };
            let here = Place::new(x, y);
            balloon(&mut scene, here, *to, mark);
            scene.links.push(Link {
                at: here,
                radius: balloon_radius(mark).max((step / 2.0).min(6.0)),
                to: (*mark).to_owned(),
            });
        }
    }
    let mut name = format!("from above a corner, {name}");
    if shown.len() < report.parts.len() {
        name = format!("{name}; marks of the {} largest parts", shown.len());
    }
    let place = Place::new(2.0, 1.2);
    scene.text(Purpose::Sheet, Text::plain(place, 2.5, name.clone()));
    Block::Picture {
        name,
        scene,
        size: Vector2::new(asked.width, picture_height),
    }
}

/// The parts of a report, or as many of the largest by their surface, in the order of the report.
fn largest<'a>(report: &'a Report, all: &[&Body], most: usize) -> Vec<&'a ReportedPart> {
    let area = |part: &ReportedPart| all.get(part.body as usize).map_or(0.0, |b| b.area);
    let mut order: Vec<usize> = (0..report.parts.len()).collect();
    order.sort_by(|&i, &j| area(&report.parts[j]).total_cmp(&area(&report.parts[i])));
    order.truncate(most);
    order.sort_unstable();
    order.into_iter().map(|i| &report.parts[i]).collect()
}

/// The vertex nearest to the middle of a body: a bent piece's own middle may lie beside it.
fn nearest_to_centre(body: &Body) -> Pt3 {
    let from = |v: &Pt3| (v - body.centroid).norm_squared();
    let found = body
        .vertices
        .iter()
        .min_by(|a, b| from(a).total_cmp(&from(b)));
    found.copied().unwrap_or(body.centroid)
}

fn around(all: &[&Body], look: &Look) -> (Place, Place) {
    let points = all.iter().flat_map(|b| &b.vertices);
    let (low, high) = bulge::around(points.map(|v| look.place(v)));
    match low.x <= high.x {
        true => (low, high),
        false => (Place::origin(), Place::new(1.0, 1.0)),
    }
}

/// From the front and from above, with the three overall sizes.
fn overall(all: &[&Body], asked: &Asked) -> Vec<Block> {
    let front = Look {
        right: Vec3::x(),
        up: Vec3::z(),
    };
    let above = Look {
        right: Vec3::x(),
        up: Vec3::y(),
    };
    let width = half(asked);
    let room = Vector2::new(width - 2.0 * LANE - 8.0, VIEWS - LANE - 12.0);
    let views = [("from the front", front), ("from above", above)];
    let tallest = views
        .iter()
        .map(|(_, look)| {
            let (low, high) = around(all, look);
            (high.y - low.y) * scale(high - low, room).0
        })
        .fold(0.0, f64::max);
    let height = LANE + 10.0 + tallest;
    let draw = |(k, (title, look)): (usize, (&str, Look))| {
        let mut scene = Scene::default();
        let (low, high) = around(all, &look);
        let (scale, name) = scale(high - low, room);
        let seen = picture(all, look, 0.4 / scale);
        let size = view::size(&seen) * scale;
        let at = Place::new((width - size.x) / 2.0, LANE + 7.0);
        view::draw(&mut scene, &seen, NARROW, scale, at);
        let far = at + size;
        let [w, h] = [size.x, size.y].map(|v| words::plain_length(v / scale, asked.show));
        // The length across both views is the same and is said once.
        if k == 0 {
            let right = Place::new(far.x, at.y);
            level(&mut scene, at, right, at.y - LANE + 1.5, &w);
        }
        let top = Place::new(at.x, far.y);
        upright(&mut scene, at, top, at.x - LANE + 1.5, &h);
        let name = format!("{title}, {name}");
        let place = Place::new(2.0, 1.2);
        scene.text(Purpose::Sheet, Text::plain(place, 2.5, name.clone()));
        flow::picture(name, scene, Vector2::new(width, height))
    };
    views.into_iter().enumerate().map(draw).collect()
}

fn parts(report: &Report, asked: &Asked) -> Table {
    let mass = asked.show.mass_symbol();
    let rows = report.parts.iter().map(|part| {
        let n = f64::from(part.quantity + part.opposite_hand);
        let weight = |factor: f64| {
            part.mass
                .and_then(|m| asked.show.mass(m.scaled(factor)))
                .map_or(words::NOT_KNOWN.to_owned(), |w| w.value)
        };
        let mut name = what(part, asked.show);
        if let Some(own) = &part.name {
            name = format!("{name} \"{own}\"");
        }
        vec![
            part.mark.clone(),
            name,
            pieces(part),
            weight(1.0),
            weight(n),
        ]
    });
    Table {
        headings: vec![
            "mark ".into(),
            "what it is ".into(),
            "pieces ".into(),
            format!("one, {mass}"),
            format!("all, {mass}"),
        ],
        rows: rows.collect(),
    }
}
