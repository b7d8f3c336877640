//! The section of a member with its outside sizes.

use nalgebra::Vector2;

use super::super::Asked;
use super::{CAPTION, ROW, caption, half};
use crate::drawing::bulge;
use crate::drawing::dimension::{LANE, level, upright};
use crate::drawing::flow::{self, Block};
use crate::drawing::scale::scale;
use crate::drawing::scene::{Corner, EDGE, Place, Purpose, Scene, Shape};
use crate::drawing::words;
use crate::member::Section;

/// The picture; `None` where the section's outline isn't known.
pub fn section(section: &Section, asked: &Asked) -> Option<Block> {
    let points = section.contours.iter().flatten();
    let (low, high) = bulge::around(points.map(|p| Place::from(*p)));
    let own = high - low;
    if !(own.x > 0.0 && own.y > 0.0 && own.x.is_finite() && own.y.is_finite()) {
        return None;
    }
    let size = Vector2::new(half(asked), ROW);
    let room = Vector2::new(size.x - 2.0 * LANE - 16.0, size.y - CAPTION - LANE - 6.0);
    let (scale, name) = scale(own, room);
    let mut scene = Scene::default();
    let drawn = own * scale;
    let base = CAPTION + LANE + 1.0;
    let corner = Place::new((size.x - drawn.x) / 2.0, base + (room.y - drawn.y) / 2.0);
    for contour in &section.contours {
        let corners = contour.iter().map(|p| Corner {
            at: corner + (Place::from(*p) - low) * scale,
            bulge: 0.0,
        });
        let shape = Shape::Path {
            corners: corners.collect(),
            closed: true,
        };
        scene.stroke(Purpose::Sheet, EDGE, shape);
    }
    let far = corner + drawn;
    let below = corner.y - LANE + 1.0;
    match section.diameter {
        Some(d) => {
            let middle = nalgebra::center(&corner, &far);
            let (a, b) = (Place::new(corner.x, middle.y), Place::new(far.x, middle.y));
            let words = format!("⌀{}", words::size(d, asked.show));
            level(&mut scene, a, b, below, &words);
        }
        None => {
            if let Some(w) = section.width {
                let right = Place::new(far.x, corner.y);
                let words = words::size(w, asked.show);
                level(&mut scene, corner, right, below, &words);
            }
            if let Some(h) = section.height {
                let top = Place::new(corner.x, far.y);
                let words = words::size(h, asked.show);
                upright(&mut scene, corner, top, corner.x - LANE + 1.0, &words);
            }
        }
    }
    let mut notes = vec![format!("section {name}")];
    let more = [
        ("wall", section.wall, 0.0),
        (
            "web",
            section.web_thickness.filter(|_| section.wall.is_none()),
            0.0,
        ),
        (
            "flange",
            section.flange_thickness.filter(|_| section.wall.is_none()),
            0.0,
        ),
        ("corner R", section.corner_radius, 0.05),
        ("inside R", section.inner_corner_radius, 0.05),
    ];
    for (what, q, above) in more {
        if let Some(q) = q.filter(|q| q.value > above) {
            notes.push(format!("{what} {}", words::size(q, asked.show)));
        }
    }
    caption(&mut scene, notes.join(", "));
    Some(flow::picture(format!("section, {name}"), scene, size))
}
