//! Nearest published section.

use super::catalogue::{Entry, Family, entries_of};
use crate::measure::Quantity;
use crate::member::{Section, Shape, Stock};

/// Outside farther from the nearest published one than this share of it: "nearest" says nothing.
const FARTHEST: f64 = 0.25;
/// How many other sizes to name.
const OTHERS: usize = 5;

/// The published size nearest to a measured section, in shares of what the standards let a mill
/// deviate. `None` for a shape no table lists, when an outside size is missing, or when nothing
/// published is anywhere near.
///
/// Where the wall is not visible only the outside is compared, and the designation says so.
pub fn nearest(section: &Section) -> Option<Stock> {
    let measured = Measured::of(section)?;
    let mut ranked: Vec<Match> = entries_of(measured.family)
        .iter()
        .filter(|e| e.outside.len() == measured.outside.len())
        .map(|entry| measured.against(entry))
        .collect();
    ranked.sort_by(|a, b| {
        (b.fits.cmp(&a.fits))
            .then(a.misfit.total_cmp(&b.misfit))
            .then(a.corner.total_cmp(&b.corner))
    });
    let best = *ranked.first()?;
    if best.share > FARTHEST {
        return None;
    }
    let designation = measured.designation(best.entry);
    // One size in several standards is one size, unless the corners tell the standards apart.
    let same = |m: &&Match| {
        m.misfit == best.misfit
            && (m.corner - best.corner).abs() < measured.corner_doubt
            && measured.designation(m.entry) == designation
    };
    let mut standards: Vec<&str> = Vec::new();
    for m in ranked.iter().filter(same) {
        if !standards.contains(&m.entry.standard) {
            standards.push(m.entry.standard);
        }
    }
    // A size that does not fit has company only where others are about as near.
    let near = best.misfit * 1.25 + 0.1;
    let mut also: Vec<String> = Vec::new();
    for m in ranked
        .iter()
        .filter(|m| if best.fits { m.fits } else { m.misfit <= near })
    {
        let name = measured.designation(m.entry);
        let text = format!("{name} ({})", m.entry.standard);
        let known =
            (name == designation && standards.contains(&m.entry.standard)) || also.contains(&text);
        if !known && also.len() < OTHERS {
            also.push(text);
        }
    }
    Some(Stock {
        designation,
        standard: standards.join(", "),
        exact: best.fits,
        off_by: best.off_by,
        also,
    })
}

/// True when a round tube of this diameter and wall is a published size, within both ± and the
/// rounding of the tables.
pub fn is_published_round(diameter: Quantity, wall: Quantity) -> bool {
    let measured = Measured {
        family: Family::RoundTube,
        outside: vec![diameter],
        walls: vec![wall],
        corner_radius: None,
        corner_doubt: 0.0,
    };
    entries_of(Family::RoundTube)
        .iter()
        .any(|e| measured.against(e).fits)
}

/// What was measured of a section, in the order of the tables.
struct Measured {
    family: Family,
    outside: Vec<Quantity>,
    /// One for all walls or legs; of a channel web and flange where they differ.
    walls: Vec<Quantity>,
    corner_radius: Option<f64>,
    /// Corners closer than this are not told apart, mm.
    corner_doubt: f64,
}

#[derive(Clone, Copy)]
struct Match<'a> {
    entry: &'a Entry,
    /// Every measured size agrees within its ± and the table's rounding.
    fits: bool,
    /// Largest difference in shares of the mill's tolerance.
    misfit: f64,
    /// Largest difference, mm.
    off_by: f64,
    /// Largest difference of an outside size as a share of it.
    share: f64,
    /// Difference of the outer corner radius, mm.
    corner: f64,
}

impl Measured {
    fn of(section: &Section) -> Option<Self> {
        let larger_first = |a: Quantity, b: Quantity| {
            if a.value >= b.value {
                vec![a, b]
            } else {
                vec![b, a]
            }
        };
        let sides = || {
            let (w, h) = (
                section.width.or(section.height)?,
                section.height.or(section.width)?,
            );
            Some(larger_first(w, h))
        };
        let (family, outside) = match section.shape {
            Shape::Round => (Family::RoundTube, vec![section.diameter?]),
            Shape::RoundBar => (Family::RoundBar, vec![section.diameter?]),
            Shape::Square => (Family::RectTube, sides()?),
            Shape::SquareBar => (Family::FlatBar, sides()?),
            Shape::Rect => (
                Family::RectTube,
                larger_first(section.width?, section.height?),
            ),
            Shape::FlatBar => (
                Family::FlatBar,
                larger_first(section.width?, section.height?),
            ),
            Shape::Angle => (Family::Angle, larger_first(section.width?, section.height?)),
            // Where a channel is rolled its height may lie either way; the tables' height is over
            // the flanges and nearly always the larger.
            Shape::Channel => (
                Family::Channel,
                larger_first(section.width?, section.height?),
            ),
            Shape::Other => return None,
        };
        let solid = matches!(family, Family::RoundBar | Family::FlatBar);
        let corner = section.corner_radius;
        let legs = section.web_thickness.zip(section.flange_thickness);
        let walls = match (section.wall, legs) {
            _ if solid => Vec::new(),
            (None, Some((web, flange))) => vec![web, flange],
            (wall, _) => wall.into_iter().collect(),
        };
        let sound = outside
            .iter()
            .chain(&walls)
            .all(|q| q.value.is_finite() && q.plus_minus.is_finite());
        sound.then_some(Measured {
            family,
            outside,
            walls,
            corner_radius: corner.map(|q| q.value),
            corner_doubt: corner.map_or(f64::INFINITY, |q| q.plus_minus.max(1e-6)),
        })
    }

    fn against<'a>(&self, entry: &'a Entry) -> Match<'a> {
        let mut m = Match {
            entry,
            fits: true,
            misfit: 0.0,
            off_by: 0.0,
            share: 0.0,
            corner: match (self.corner_radius, entry.corner_radius) {
                (Some(a), Some(b)) => (a - b).abs(),
                _ => 0.0,
            },
        };
        let solid = entry.wall.is_empty();
        // EN 10219-2 and EN 10210-2: outside ±1 %, at least 0.5 mm; wall ±10 %.
        let outside_tolerance = |v: f64| (0.01 * v).max(if solid { 0.3 } else { 0.5 });
        for (q, size) in self.outside.iter().zip(&entry.outside) {
            m.compare(*q, *size, outside_tolerance(*size));
            m.share = m.share.max((q.value - size).abs() / size);
        }
        for (k, size) in entry.wall.iter().enumerate() {
            if let Some(q) = self.walls.get(k).or(self.walls.first()) {
                m.compare(*q, *size, 0.1 * size);
            }
        }
        m
    }

    fn designation(&self, entry: &Entry) -> String {
        let unseen =
            self.walls.is_empty() && !entry.wall.is_empty() && entry.family != Family::Channel;
        match unseen {
            true => format!("{}, wall not visible", entry.outside_name),
            false => format!("{}{}", entry.outside_name, entry.wall_name),
        }
    }
}

impl Match<'_> {
    fn compare(&mut self, measured: Quantity, size: f64, tolerance: f64) {
        let off = (measured.value - size).abs();
        // The last digits of a product like 1.9 × 25.4 are no difference.
        self.fits &= off <= measured.plus_minus + self.entry.rounding + 1e-9 * size;
        self.misfit = self.misfit.max(off / tolerance);
        self.off_by = self.off_by.max(off);
    }
}

#[cfg(test)]
mod tests;
