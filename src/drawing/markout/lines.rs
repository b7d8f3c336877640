//! The lines along a member that marks are set out on.

use std::f64::consts::{FRAC_PI_2, TAU};

use crate::drawing::walk::Spot;
use crate::member::{Section, Shape};

/// A line along the surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its name: a number on a round, face and corner on a rectangle.
    pub name: String,
    /// Where it stands on the section, mm.
    pub spot: Spot,
}

/// Diameter from which a round gets twelve lines, and sixteen, mm (common practice, no source).
const TWELVE: f64 = 40.0;
const SIXTEEN: f64 = 90.0;

/// The lines to mark along. Rounds: 8, 12 or 16 in equal steps from the width axis. Rectangles: the
/// corners; where they are rounded, the two edges of the flat faces beside each corner. Other
/// sections: the outermost corners. `None` where the sizes aren't known.
///
/// Order and names go round anticlockwise as seen on end 1.
pub fn lines(section: &Section) -> Option<Vec<Line>> {
    match section.shape {
        Shape::Round | Shape::RoundBar => {
            let d = section.diameter?.value;
            let n = match d {
                d if d < TWELVE => 8,
                d if d < SIXTEEN => 12,
                _ => 16,
            };
            Some(round_lines(d / 2.0, n))
        }
        Shape::Square | Shape::Rect | Shape::SquareBar | Shape::FlatBar => {
            let (w, h) = (
                section.width?.value,
                section.height.or(section.width)?.value,
            );
            let r = section.corner_radius.map_or(0.0, |q| q.value);
            Some(rectangle_lines(w, h, r))
        }
        _ => corner_lines(section),
    }
}

/// `n` lines in equal steps about a round of radius `r`, the first on the width axis.
pub fn round_lines(r: f64, n: usize) -> Vec<Line> {
    (0..n)
        .map(|k| {
            let turn = TAU * k as f64 / n as f64;
            Line {
                name: (k + 1).to_string(),
                spot: [r * turn.cos(), r * turn.sin()],
            }
        })
        .collect()
}

/// Faces A (towards +height), B, C, D and corners 1 (A with D), 2, 3, 4.
fn rectangle_lines(w: f64, h: f64, r: f64) -> Vec<Line> {
    let (x, y) = (w / 2.0, h / 2.0);
    let corners = [[x, y], [-x, y], [-x, -y], [x, -y]];
    // A corner rounded by less than a scriber's width is sharp.
    if r < 0.5 {
        return corners
            .into_iter()
            .zip(1..)
            .map(|(spot, k): (Spot, u32)| Line {
                name: k.to_string(),
                spot,
            })
            .collect();
    }
    let faces = ["A", "B", "C", "D"];
    (0..4)
        .flat_map(|k| {
            let [cx, cy] = corners[k];
            let on_side = [cx, cy - r * cy.signum()];
            let on_top = [cx - r * cx.signum(), cy];
            let (before, after) = match k % 2 {
                0 => (on_side, on_top),
                _ => (on_top, on_side),
            };
            [(faces[(k + 3) % 4], before), (faces[k], after)].map(|(face, spot)| Line {
                name: format!("{face}{}", k + 1),
                spot,
            })
        })
        .collect()
}

/// Corners of the hull around the outer contour, where they are few.
fn corner_lines(section: &Section) -> Option<Vec<Line>> {
    let points: Vec<nalgebra::Point2<f64>> = section
        .contours
        .first()?
        .iter()
        .map(|p| nalgebra::Point2::from(*p))
        .collect();
    let hull = crate::geometry::hull::convex_hull(&points);
    let lines = hull.iter().zip(1..).map(|(p, k): (_, u32)| Line {
        name: k.to_string(),
        spot: [p.x, p.y],
    });
    (3..=12).contains(&hull.len()).then(|| lines.collect())
}

/// A point on the way round the outside of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Round {
    /// How far round from where the way begins, on paper of the given thickness, mm.
    pub around: f64,
    /// Where it stands on the section, mm.
    pub spot: Spot,
}

/// The way round the outside, anticlockwise, in fine steps, for paper `paper` thick: what is
/// wrapped lies half its thickness above the metal. Rounds begin at the width axis, rectangles in
/// the middle of face D, also on the width axis. `None` for other sections.
pub fn way_round(section: &Section, paper: f64) -> Option<Vec<Round>> {
    let mut way = Vec::new();
    let arc_steps = 180;
    match section.shape {
        Shape::Round | Shape::RoundBar => {
            let r = section.diameter?.value / 2.0;
            let n = 4 * arc_steps;
            for k in 0..=n {
                let turn = TAU * f64::from(k) / f64::from(n);
                way.push(Round {
                    around: turn * (r + paper / 2.0),
                    spot: [r * turn.cos(), r * turn.sin()],
                });
            }
        }
        Shape::Square | Shape::Rect | Shape::SquareBar | Shape::FlatBar => {
            let (w, h) = (
                section.width?.value,
                section.height.or(section.width)?.value,
            );
            let r = section.corner_radius.map_or(0.0, |q| q.value);
            let (x, y) = (w / 2.0, h / 2.0);
            way.push(Round {
                around: 0.0,
                spot: [x, 0.0],
            });
            let centres = [
                [x - r, y - r],
                [r - x, y - r],
                [r - x, r - y],
                [x - r, r - y],
            ];
            for (k, c) in (0..).zip(centres) {
                let from = FRAC_PI_2 * f64::from(k);
                for j in 0..=arc_steps {
                    let turn = from + FRAC_PI_2 * f64::from(j) / f64::from(arc_steps);
                    let spot = [c[0] + r * turn.cos(), c[1] + r * turn.sin()];
                    if j == 0 {
                        straight_to(&mut way, spot);
                        continue;
                    }
                    let last = way.last().map_or(0.0, |p: &Round| p.around);
                    let step = (r + paper / 2.0) * FRAC_PI_2 / f64::from(arc_steps);
                    way.push(Round {
                        around: last + step,
                        spot,
                    });
                }
            }
            straight_to(&mut way, [x, 0.0]);
        }
        _ => return None,
    }
    Some(way)
}

/// Goes on along a flat face in small steps: two cuts may meet amid it.
fn straight_to(way: &mut Vec<Round>, spot: Spot) {
    let Some(from) = way.last().copied() else {
        return;
    };
    let length = (from.spot[0] - spot[0]).hypot(from.spot[1] - spot[1]);
    let steps = (length * 8.0).ceil().clamp(1.0, 4000.0);
    for k in 1..=steps as usize {
        let share = k as f64 / steps;
        let between = |a: f64, b: f64| a + (b - a) * share;
        way.push(Round {
            around: from.around + length * share,
            spot: [
                between(from.spot[0], spot[0]),
                between(from.spot[1], spot[1]),
            ],
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_round_the_rectangle() {
        let names = |r| {
            let lines = rectangle_lines(80.0, 40.0, r);
            let list: Vec<String> = lines.into_iter().map(|l| l.name).collect();
            list.join(" ")
        };
        assert_eq!(names(7.0), "D1 A1 A2 B2 B3 C3 C4 D4");
        assert_eq!(names(0.0), "1 2 3 4");
        let lines = rectangle_lines(80.0, 40.0, 7.0);
        assert_eq!(lines[0].spot, [40.0, 13.0]);
        assert_eq!(lines[1].spot, [33.0, 20.0]);
        assert_eq!(lines[2].spot, [-33.0, 20.0]);
        assert_eq!(lines[3].spot, [-40.0, 13.0]);
    }
}
