//! The pieces of a jig that fit on a sheet.

use nalgebra::Rotation2;

use super::joint::slot;
use super::region::{Region, around, holds, without};
use super::way::Way;
use super::{Asked, WhyNot};
use crate::drawing::bulge;
use crate::drawing::scene::{Corner, Place};
use crate::geometry::hull::convex_hull;

/// Metal that is cut as one: the whole jig, an end of it, or the two rails between joints.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its metal, on the drawing of the whole.
    pub regions: Vec<Region>,
    /// Stations it reaches from and to.
    pub stations: (f64, f64),
    /// How it is turned to lie on the sheet, radians.
    pub turn: f64,
}

/// More pieces than this are not tried.
const MOST: usize = 40;

/// As few sections as fit on the sheet, in order from end 0.
pub fn split(
    way: &Way,
    outer: &[Corner],
    pocket: &[Corner],
    (before, after): (f64, f64),
    asked: &Asked,
) -> Result<Vec<Section>, WhyNot> {
    let reach = (-before, way.length() + after);
    for n in 1..=MOST {
        let step = (reach.1 - reach.0) / n as f64;
        // A joint's dovetail needs length of rail to stand in.
        if n > 1 && step < 2.0 * asked.width {
            break;
        }
        let borders: Vec<f64> = (0..=n).map(|k| reach.0 + step * k as f64).collect();
        let Some(sections) = cut(way, outer, pocket, &borders, asked) else {
            continue;
        };
        let Some(sheet) = asked.sheet else {
            return Ok(sections);
        };
        let placed: Option<Vec<Section>> = sections.into_iter().map(|s| lie(s, sheet)).collect();
        if let Some(placed) = placed {
            return Ok(placed);
        }
    }
    Err("no piece of it that could be keyed to the next fits on the sheet")
}

/// Sections between borders; `None` where a piece of metal belongs to none of them.
fn cut(
    way: &Way,
    outer: &[Corner],
    pocket: &[Corner],
    borders: &[f64],
    asked: &Asked,
) -> Option<Vec<Section>> {
    let mut blanks = vec![outer.to_vec()];
    for station in borders.get(1..borders.len() - 1)? {
        let taken = slot(way, *station, asked.clearance, asked.width);
        blanks = blanks
            .iter()
            .flat_map(|blank| without(blank, &taken))
            .map(|region| region.outer)
            .collect();
    }
    let metal: Vec<Region> = blanks
        .iter()
        .flat_map(|blank| without(blank, pocket))
        .collect();
    let mut sections: Vec<Section> = borders
        .windows(2)
        .map(|pair| Section {
            regions: Vec::new(),
            stations: (pair[0], pair[1]),
            turn: 0.0,
        })
        .collect();
    for region in metal {
        let (from, to) = belongs(way, &region, borders, asked)?;
        // Rails of a bend so tight that they run into each other are one piece of several sections.
        if from != to {
            return None;
        }
        sections.get_mut(from)?.regions.push(region);
    }
    sections
        .iter()
        .all(|s| !s.regions.is_empty())
        .then_some(sections)
}

/// First and last section whose rails lie in the metal.
fn belongs(way: &Way, region: &Region, borders: &[f64], asked: &Asked) -> Option<(usize, usize)> {
    let rails = [
        way.sides.0 - asked.clearance - asked.width / 2.0,
        way.sides.1 + asked.clearance + asked.width / 2.0,
    ];
    let mut found: Option<(usize, usize)> = None;
    for (k, pair) in borders.windows(2).enumerate() {
        let within = (1..8).any(|j| {
            let station = pair[0] + (pair[1] - pair[0]) * f64::from(j) / 8.0;
            rails
                .iter()
                .any(|by| holds(region, way.beside(station, *by)))
        });
        if within {
            found = Some((found.map_or(k, |f| f.0), k));
        }
    }
    found
}

/// The section turned so that it fits on the sheet; its smallest box that does.
fn lie(section: Section, (long, short): (f64, f64)) -> Option<Section> {
    let points: Vec<Place> = section.regions.iter().flat_map(around).collect();
    let hull = convex_hull(&points);
    let turns = (0..hull.len()).map(|k| {
        let side = hull[(k + 1) % hull.len()] - hull[k];
        -side.y.atan2(side.x)
    });
    let quarter = std::f64::consts::FRAC_PI_2;
    let best = std::iter::once(0.0)
        .chain(turns)
        .flat_map(|turn| [turn, turn + quarter])
        .filter_map(|turn| {
            let turned = Rotation2::new(turn);
            let (low, high) = bulge::around(hull.iter().map(|p| turned * p));
            let size = high - low;
            (size.x <= long && size.y <= short).then_some((size.x * size.y, turn))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Section {
        turn: best.1,
        ..section
    })
}
