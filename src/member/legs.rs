//! Legs of angles and channels: their thickness, their heels, and whether the corners are folds.

use super::Section;
use super::profile::Side;

/// A root of an angle or channel and what lies opposite, as places in the list of sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Corner {
    /// The side before the root's arc; the arc is its corner.
    pub root: usize,
    /// The side before the heel, the outer corner round the back of the root.
    pub heel: usize,
    /// The two legs that meet: inner side and outer side of each.
    pub legs: [(usize, usize); 2],
}

fn turn(sides: &[Side], j: usize) -> f64 {
    (sides[(j + 1) % sides.len()].normal - sides[j].normal).sin()
}

/// The outer side of the leg whose inner side is `inner`: the nearest of those that face away.
fn outer(sides: &[Side], inner: usize) -> Option<usize> {
    let gap = |k: usize| (sides[inner].offset + sides[k].offset).abs();
    (0..sides.len())
        .filter(|&k| (sides[k].normal - sides[inner].normal).cos() < -0.5)
        .min_by(|&a, &b| gap(a).total_cmp(&gap(b)))
}

/// The corners where legs meet, in the order of the sides.
pub fn corners(sides: &[Side]) -> Vec<Corner> {
    let n = sides.len();
    (0..n)
        .filter(|&j| turn(sides, j) < 0.0)
        .filter_map(|root| {
            let next = (root + 1) % n;
            let legs = [(root, outer(sides, root)?), (next, outer(sides, next)?)];
            let meets = |a: usize, b: usize| (a + 1) % n == b && turn(sides, a) > 0.0;
            let (a, b) = (legs[0].1, legs[1].1);
            let heel = match (meets(a, b), meets(b, a)) {
                (true, _) => a,
                (_, true) => b,
                _ => return None,
            };
            Some(Corner { root, heel, legs })
        })
        .collect()
}

/// The legs, each once, in the order of the sides; of a channel flange, web, flange.
pub fn legs(corners: &[Corner]) -> Vec<(usize, usize)> {
    let mut all: Vec<(usize, usize)> = Vec::new();
    for leg in corners.iter().flat_map(|c| c.legs) {
        if !all.contains(&leg) {
            all.push(leg);
        }
    }
    all
}

/// What the corners of an angle or channel say about how it was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Corners {
    /// A sharp heel, or one that doesn't follow the root: rolled.
    Rolled,
    /// Nearly those of a fold.
    NearlyFolded,
    /// Both arcs about one centre: outside radius = inside radius + thickness.
    Folded,
}

/// Radii within this share of one thickness of a common centre are about one centre.
const CONCENTRIC: f64 = 0.05;
/// Within this share of the radius a fold has, the other reading is named.
const CLOSE: f64 = 0.2;

/// Judges the corners of an angle or channel from its sizes.
pub fn judge(section: &Section) -> Corners {
    let (Some(heel), Some(root)) = (section.corner_radius, section.inner_corner_radius) else {
        return Corners::Rolled;
    };
    let legs = [
        section.wall,
        section.web_thickness,
        section.flange_thickness,
    ];
    let off = |t: crate::measure::Quantity| {
        let off = (heel.value - root.value - t.value).abs();
        let doubt = heel.plus_minus + root.plus_minus + t.plus_minus;
        (off - doubt, t.value)
    };
    let worst = legs
        .into_iter()
        .flatten()
        .map(off)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match worst {
        Some((off, t)) if off <= CONCENTRIC * t => Corners::Folded,
        Some((off, t)) if off <= CLOSE * (root.value + t) => Corners::NearlyFolded,
        _ => Corners::Rolled,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;
    use std::f64::consts::FRAC_PI_2;

    fn sides(list: &[(f64, f64)]) -> Vec<Side> {
        let side = |&(quarter, offset): &(f64, f64)| Side {
            normal: quarter * FRAC_PI_2,
            offset,
            corner: 0.0,
        };
        list.iter().map(side).collect()
    }

    #[test]
    fn a_channel_has_two_heels_and_three_legs() {
        // UPE 160: 160 high, flanges 70 x 9.5, web 5.5
        let upe = sides(&[
            (3.0, 80.0),
            (0.0, 70.0),
            (1.0, -70.5),
            (0.0, 5.5),
            (3.0, -70.5),
            (0.0, 70.0),
            (1.0, 80.0),
            (2.0, 0.0),
        ]);
        let found = corners(&upe);
        assert_eq!(found.iter().map(|c| c.heel).collect::<Vec<_>>(), [7, 6]);
        let thick: Vec<f64> = legs(&found)
            .into_iter()
            .map(|(i, o)| (upe[i].offset + upe[o].offset).abs())
            .collect();
        assert_eq!(thick, [9.5, 5.5, 9.5]);
    }

    #[test]
    fn a_fold_has_both_arcs_about_one_centre() {
        let angle = |heel: f64, root: f64, t: f64| Section {
            shape: crate::member::Shape::Angle,
            diameter: None,
            width: None,
            height: None,
            wall: Some(quantity(t, 0.01)),
            web_thickness: None,
            flange_thickness: None,
            corner_radius: Some(quantity(heel, 0.01)),
            inner_corner_radius: Some(quantity(root, 0.01)),
            area: None,
            stock: None,
            contours: Vec::new(),
        };
        assert_eq!(judge(&angle(8.0, 4.0, 4.0)), Corners::Folded);
        assert_eq!(judge(&angle(7.0, 4.0, 4.0)), Corners::NearlyFolded);
        // a rolled angle 50 x 50 x 5 (EN 10056-1: root radius 7, sharp heel)
        assert_eq!(judge(&angle(0.0, 7.0, 5.0)), Corners::Rolled);
    }
}
