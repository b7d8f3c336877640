//! Pictures of one part with the dimensions they carry.

mod member;
mod other;
mod plate;
mod section;

pub use member::{is_straight, member};
pub use other::other;
pub use plate::plate;

use nalgebra::Vector2;

use super::Asked;
use crate::body::Body;
use crate::drawing::bulge;
use crate::drawing::dimension::LETTERS;
use crate::drawing::flow::{self, Block};
use crate::drawing::lay;
use crate::drawing::scale::scale;
use crate::drawing::scene::{NARROW, Place, Purpose, Scene, Text};
use crate::drawing::view::{self, Look, Picture, picture};
use crate::geometry::{Pt3, Vec3};
use crate::report::ReportedPart;

/// Height of the pictures beside the main one, mm.
const ROW: f64 = 54.0;
/// Height of the line of words below a picture, mm.
const CAPTION: f64 = 5.5;
/// Details this fine are told apart on paper, mm.
const FINEST: f64 = 0.4;

/// Origin and axes a part is seen by: those it lies on the table with.
struct Seat {
    origin: Pt3,
    x: Vec3,
    y: Vec3,
    z: Vec3,
}

fn seat(part: &ReportedPart, body: &Body) -> Seat {
    let (origin, axes, _) = lay::place(part, body);
    Seat {
        origin,
        x: axes.column(0).into(),
        y: axes.column(1).into(),
        z: axes.column(2).into(),
    }
}

fn size_of(body: &Body, look: &Look) -> Vector2<f64> {
    let (low, high) = bulge::around(body.vertices.iter().map(|v| look.place(v)));
    match low.x <= high.x {
        true => high - low,
        false => Vector2::new(1.0, 1.0),
    }
}

fn taken(body: &Body, look: Look, room: Vector2<f64>) -> (Picture, f64, String) {
    let (scale, name) = scale(size_of(body, &look), room);
    (picture(&[body], look, FINEST / scale), scale, name)
}

/// Width of a picture that stands beside another one, mm. Where the page is too narrow for two it is
/// a screen, which finds its own rows.
pub fn half(asked: &Asked) -> f64 {
    let two = (asked.width - 3.0) / 2.0;
    if two >= 80.0 {
        two
    } else {
        asked.width.min(90.0)
    }
}

/// Height the main views may have, mm: more on larger paper.
fn main_height(asked: &Asked) -> f64 {
    (0.376 * asked.width).max(70.0)
}

/// The words below a picture.
fn caption(scene: &mut Scene, words: String) {
    scene.text(
        Purpose::Sheet,
        Text::plain(Place::new(2.0, 1.2), LETTERS, words),
    );
}

/// The part seen from above a corner.
fn corner(body: &Body, seat: &Seat, asked: &Asked) -> Block {
    let size = Vector2::new(half(asked), ROW);
    let room = Vector2::new(size.x - 8.0, size.y - CAPTION - 4.0);
    let look = Look::isometric(&seat.x, &seat.y, &seat.z);
    let (seen, scale, name) = taken(body, look, room);
    let own = view::size(&seen) * scale;
    let at = Place::new(
        (size.x - own.x) / 2.0,
        CAPTION + 2.0 + (room.y - own.y) / 2.0,
    );
    let mut scene = Scene::default();
    view::draw(&mut scene, &seen, NARROW, scale, at);
    let name = format!("from above a corner, {name}");
    caption(&mut scene, name.clone());
    flow::picture(name, scene, size)
}
