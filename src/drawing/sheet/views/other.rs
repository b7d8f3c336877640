//! A piece that was not recognised.

use nalgebra::Vector2;

use super::super::Asked;
use super::{CAPTION, caption, corner, main_height, seat, taken};
use crate::body::Body;
use crate::drawing::dimension::{LANE, level, upright};
use crate::drawing::flow::{self, Block};
use crate::drawing::scene::{EDGE, Place, Scene};
use crate::drawing::view::{self, Look};
use crate::drawing::words;
use crate::report::ReportedPart;

/// From the front with the sides of its box, and from above a corner.
pub fn other(part: &ReportedPart, body: &Body, asked: &Asked) -> Vec<Block> {
    let seat = seat(part, body);
    let look = Look {
        right: seat.x,
        up: seat.y,
    };
    let room = Vector2::new(asked.width - 3.0 * LANE, main_height(asked));
    let (seen, scale, name) = taken(body, look, room);
    let mut scene = Scene::default();
    let size = view::size(&seen) * scale;
    let at = Place::new((asked.width - size.x) / 2.0, CAPTION + LANE + 2.0);
    view::draw(&mut scene, &seen, EDGE, scale, at);
    let far = at + size;
    let [w, h] = [size.x, size.y].map(|v| words::plain_length(v / scale, asked.show));
    let right = Place::new(far.x, at.y);
    level(&mut scene, at, right, at.y - LANE + 1.5, &w);
    let top = Place::new(at.x, far.y);
    upright(&mut scene, at, top, at.x - LANE + 1.5, &h);
    let name = format!("from the front, {name}");
    caption(&mut scene, name.clone());
    let size = Vector2::new(asked.width, far.y + 3.0);
    vec![flow::picture(name, scene, size), corner(body, &seat, asked)]
}
