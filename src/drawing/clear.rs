//! Labels put where nothing else stands.

use super::bulge::{self, ArcOf};
use super::scene::{Extent, Place, Purpose, Scene, Shape, Text};

/// Air between a label and what stands beside it, mm.
const AIR: f64 = 0.5;
/// What lies under other words counts as much as this many lines.
const WORDS: usize = 100;

/// Adds a level label at the first of `places` (each where its base line begins) that is inside
/// `room` and has nothing under it; where all are taken, at the one with the fewest lines under it.
pub fn put(scene: &mut Scene, text: Text, places: &[Place], room: Extent) {
    let mut best: Option<(usize, Place)> = None;
    for &at in places {
        let text = Text { at, ..text.clone() };
        let found = in_the_way(scene, &text, room);
        if best.is_none_or(|(least, _)| found < least) {
            best = Some((found, at));
        }
        if found == 0 {
            break;
        }
    }
    if let Some((_, at)) = best {
        scene.text(Purpose::Sheet, Text { at, ..text });
    }
}

/// How much stands where a level label would: lines, words (each as many lines), and the border of
/// the room.
pub fn in_the_way(scene: &Scene, text: &Text, room: Extent) -> usize {
    let [low, _, high, _] = text.outline();
    let own = (
        Place::new(low.x - AIR, low.y - AIR),
        Place::new(high.x + AIR, high.y + AIR),
    );
    let outside =
        own.0.x < room.0.x || own.0.y < room.0.y || own.1.x > room.1.x || own.1.y > room.1.y;
    let covered: usize = scene
        .items
        .iter()
        .map(|item| match &item.shape {
            Shape::Text(other) => WORDS * usize::from(overlap(own, around(other))),
            shape => touches(shape, own),
        })
        .sum();
    covered + 2 * WORDS * usize::from(outside)
}

/// The upright box around a line of text.
fn around(text: &Text) -> Extent {
    bulge::around(text.outline())
}

fn overlap(a: Extent, b: Extent) -> bool {
    a.0.x < b.1.x && b.0.x < a.1.x && a.0.y < b.1.y && b.0.y < a.1.y
}

/// Lines of a shape that enter the box.
fn touches(shape: &Shape, own: Extent) -> usize {
    if !overlap(own, bulge::extent(shape)) {
        return 0;
    }
    let lines: Vec<[Place; 2]> = match shape {
        Shape::Line { from, to } => vec![[*from, *to]],
        Shape::Circle { centre, radius } => on_arc(&ArcOf {
            centre: *centre,
            radius: *radius,
            start: 0.0,
            sweep: std::f64::consts::TAU,
        }),
        Shape::Arc {
            centre,
            radius,
            start,
            sweep,
        } => on_arc(&ArcOf {
            centre: *centre,
            radius: *radius,
            start: *start,
            sweep: *sweep,
        }),
        Shape::Path { corners, closed } => bulge::pieces(corners, *closed)
            .flat_map(|(from, to, turn)| match bulge::arc(from, to, turn) {
                Some(arc) => on_arc(&arc),
                None => vec![[from, to]],
            })
            .collect(),
        Shape::Text(_) => Vec::new(),
    };
    lines.iter().filter(|line| enters(line, own)).count()
}

fn on_arc(arc: &ArcOf) -> Vec<[Place; 2]> {
    let n = 24;
    let at = |k: i32| {
        let turn = arc.start + arc.sweep * f64::from(k) / f64::from(n);
        arc.centre + nalgebra::Vector2::new(turn.cos(), turn.sin()) * arc.radius
    };
    (0..n).map(|k| [at(k), at(k + 1)]).collect()
}

/// True when a part of the line lies in the box.
fn enters([a, b]: &[Place; 2], (low, high): Extent) -> bool {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for k in 0..2 {
        let way = b[k] - a[k];
        if way == 0.0 {
            if a[k] < low[k] || a[k] > high[k] {
                return false;
            }
            continue;
        }
        let (p, q) = ((low[k] - a[k]) / way, (high[k] - a[k]) / way);
        from = from.max(p.min(q));
        to = to.min(p.max(q));
    }
    from <= to
}

#[cfg(test)]
mod tests {
    use super::super::scene::NARROW;
    use super::*;

    #[test]
    fn the_first_free_place_is_taken() {
        let mut scene = Scene::default();
        scene.line(NARROW, Place::new(0.0, 1.0), Place::new(20.0, 1.0));
        let room = (Place::new(-5.0, -20.0), Place::new(40.0, 20.0));
        let text = Text::plain(Place::origin(), 2.5, "R 5");
        let places = [
            Place::new(2.0, 0.0),
            Place::new(-4.0, 30.0),
            Place::new(2.0, -8.0),
        ];
        put(&mut scene, text.clone(), &places, room);
        assert_eq!(scene.texts().last().map(|t| t.at), Some(places[2]));
        put(&mut scene, text, &places, room);
        assert_eq!(scene.texts().last().map(|t| t.at), Some(places[0]));
    }
}
