//! One plate of one hand as a scene for the cutting table.

use nalgebra::Vector2;

use super::flat::{self, FlatPlate, Hand, WhyNot, flat_plate};
use super::pilot::{Drilled, pilot};
use super::{Asked, notes};
use crate::drawing::bulge;
use crate::drawing::scene::{Anchor, CENTRE, Extent, NARROW, Place, Purpose, Scene, Shape, Text};
use crate::drawing::words;
use crate::finding::Finding;
use crate::measure::Show;
use crate::plate::{Plate, Sense};
use crate::report::ReportedPart;

/// An outline and what it will take to cut it.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The drawing; marks first, then inner contours, then the outer one.
    pub scene: Scene,
    /// Box around everything on it, mm.
    pub window: Extent,
    /// Length of all cuts, mm.
    pub cut_length: f64,
    /// Closed contours to cut.
    pub contours: usize,
    /// Area of the piece, pilot holes counted at the size they are cut, mm².
    pub area: f64,
}

/// The outline of a plate; why there is none otherwise. What was noticed about the plate and touches
/// its cutting stands on the drawing.
pub fn plan(
    part: &ReportedPart,
    plate: &Plate,
    hand: Hand,
    asked: &Asked,
    findings: &[Finding],
) -> Result<Plan, WhyNot> {
    let mut flat = flat_plate(plate, hand)?;
    let drilled: Drilled = match asked.pilot {
        Some(size) => pilot(&mut flat, size),
        None => Vec::new(),
    };
    let box_of_plate = bulge::extent(&flat.outer);
    let side = (box_of_plate.1 - box_of_plate.0).max();
    let height = (side * 0.025).clamp(2.5, 12.0);

    let mut scene = Scene::default();
    marks(&mut scene, &flat, height);
    let mut cuts: Vec<&Shape> = flat
        .holes
        .iter()
        .filter_map(|h| h.through.as_ref())
        .collect();
    for shape in &cuts {
        scene.stroke(Purpose::CutInside, NARROW, (*shape).clone());
    }
    scene.stroke(Purpose::CutOutside, NARROW, flat.outer.clone());
    bend_words(&mut scene, &flat, height, asked.show);
    let mut at = box_of_plate.0 - Vector2::new(0.0, 3.0 * height);
    let mut lines = notes::lines(part, plate, hand, &drilled, asked.show);
    lines.extend(notes::noticed(part, hand, findings));
    for (k, line) in lines.into_iter().enumerate() {
        let text = Text::plain(at, height, line);
        scene.text(Purpose::Words, if k == 0 { text.bold() } else { text });
        at.y -= 1.8 * height;
    }
    let boxes = scene.items.iter().map(|item| bulge::extent(&item.shape));
    let margin = Vector2::new(5.0, 5.0);
    let (low, high) = bulge::around(boxes.flat_map(|(low, high)| [low, high]));
    let holes: f64 = cuts.iter().map(|s| flat::area(s)).sum();
    cuts.push(&flat.outer);
    Ok(Plan {
        window: (low - margin, high + margin),
        cut_length: cuts.iter().map(|s| flat::length(s)).sum(),
        contours: cuts.len(),
        area: flat::area(&flat.outer) - holes,
        scene,
    })
}

/// Heads of holes, centres of blind ones, bend lines.
fn marks(scene: &mut Scene, flat: &FlatPlate, height: f64) {
    for hole in &flat.holes {
        if let Some(head) = &hole.head {
            scene.stroke(Purpose::Mark, NARROW, head.clone());
        }
        if let (None, Some(_), Some(centre)) = (&hole.through, &hole.head, hole.centre) {
            let arm = height / 2.0;
            for reach in [Vector2::new(arm, 0.0), Vector2::new(0.0, arm)] {
                let cross = Shape::Line {
                    from: centre - reach,
                    to: centre + reach,
                };
                scene.stroke(Purpose::Mark, NARROW, cross);
            }
        }
    }
    for bend in &flat.bends {
        let line = Shape::Line {
            from: bend.from,
            to: bend.to,
        };
        scene.stroke(bend_purpose(bend.sense), CENTRE, line);
    }
}

fn bend_purpose(sense: Sense) -> Purpose {
    match sense {
        Sense::Up => Purpose::BendUp,
        Sense::Down => Purpose::BendDown,
    }
}

/// Direction, angle and radius along each bend line, just above it.
fn bend_words(scene: &mut Scene, flat: &FlatPlate, height: f64, show: Show) {
    for bend in &flat.bends {
        let mut along = bend.to - bend.from;
        // Read from below or from the right.
        let upright = along.x.abs() <= 1e-3 * along.norm();
        if (upright && along.y < 0.0) || (!upright && along.x < 0.0) {
            along = -along;
        }
        let Some(u) = along.try_normalize(0.0) else {
            continue;
        };
        let way = match bend.sense {
            Sense::Up => "up",
            Sense::Down => "down",
        };
        let text = format!(
            "bend {way} {}, inside R {}",
            words::angle(crate::measure::quantity(bend.angle, 0.0)),
            words::plain_size(bend.inside_radius, show),
        );
        let middle = nalgebra::center(&bend.from, &bend.to);
        let mut small = height;
        let room = along.norm() * 0.9;
        let wide = Text::plain(Place::origin(), small, &text).width();
        if wide > room {
            small = (small * room / wide).max(1.0);
        }
        scene.text(
            Purpose::Words,
            Text::plain(
                middle + Vector2::new(-u.y, u.x) * (0.4 * small),
                small,
                text,
            )
            .anchored(Anchor::Middle)
            .turned(u.y.atan2(u.x).to_degrees()),
        );
    }
}
