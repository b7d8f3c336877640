//! Where a path comes back to itself: what is left before and after is a lead.

use super::contours::SAME;
use super::piece::{Place, area};
use crate::geometry::bvh::SegmentTree;

/// The closed part of a path and its ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    /// The closed part; the last point leads back to the first.
    pub ring: Vec<Place>,
    /// What comes before and after it.
    pub leads: Vec<Vec<Place>>,
}

/// Touching parts that are looked at for one point of a path.
const MOST_TOUCHES: usize = 64;

/// A place where the path meets itself: between the points `start` (earlier) and `end` (later), from
/// `at` round to `at` again.
#[derive(Clone, Copy, Debug)]
struct Meeting {
    /// The loop's points run from this one …
    start: usize,
    /// … to this one.
    end: usize,
    at: Place,
    area: f64,
}

/// The largest loop of a path; `None` where it does not come back to itself.
pub fn find_loop(points: &[Place]) -> Option<Loop> {
    if points.len() < 3 {
        return None;
    }
    let (first, last) = (*points.first()?, *points.last()?);
    let whole = ((last - first).norm() <= SAME).then(|| area(points).abs());
    let meeting = largest(points);
    match (meeting, whole) {
        // A way in and out again leaves the whole path closed, too.
        (Some(found), Some(whole)) if found.area.abs() > 0.5 * whole => {
            Some(cut_out(points, found))
        }
        (Some(found), None) => Some(cut_out(points, found)),
        (_, Some(whole)) if whole > 0.0 => {
            let mut ring = points.to_vec();
            ring.pop();
            Some(Loop {
                ring,
                leads: Vec::new(),
            })
        }
        _ => None,
    }
}

fn cut_out(points: &[Place], found: Meeting) -> Loop {
    let mut ring = vec![found.at];
    ring.extend(points.iter().take(found.end + 1).skip(found.start));
    ring.dedup_by(|a, b| (*a - *b).norm() < 1e-6);
    while ring.len() > 3 && ring.last().is_some_and(|p| (p - found.at).norm() < 1e-6) {
        ring.pop();
    }
    let before: Vec<Place> = points
        .iter()
        .take(found.start)
        .copied()
        .chain([found.at])
        .collect();
    let after: Vec<Place> = [found.at]
        .into_iter()
        .chain(points.iter().skip(found.end + 1).copied())
        .collect();
    let long =
        |lead: &Vec<Place>| lead.windows(2).map(|w| (w[1] - w[0]).norm()).sum::<f64>() > SAME;
    Loop {
        ring,
        leads: [before, after].into_iter().filter(long).collect(),
    }
}

/// The meeting with the largest area, not counting that of the two ends of the path.
fn largest(points: &[Place]) -> Option<Meeting> {
    let tree = SegmentTree::new(points);
    let origin = *points.first()?;
    // Twice the area swept from the first point, up to each point.
    let mut swept = vec![0.0];
    for pair in points.windows(2) {
        let before = swept.last().copied().unwrap_or(0.0);
        swept.push(before + (pair[0] - origin).perp(&(pair[1] - origin)));
    }
    let mut length = vec![0.0];
    for pair in points.windows(2) {
        let before = length.last().copied().unwrap_or(0.0);
        length.push(before + (pair[1] - pair[0]).norm());
    }
    let total = length.last().copied().unwrap_or(0.0);
    let mut best: Option<Meeting> = None;
    let mut offer = |found: Meeting, ends: bool| {
        if ends {
            return;
        }
        let better = best.is_none_or(|b| {
            let (a, b_area) = (found.area.abs(), b.area.abs());
            let equal = (a - b_area).abs() <= 1e-4 * a.max(b_area);
            let shorter = found.end - found.start < b.end - b.start;
            if equal { shorter } else { a > b_area }
        });
        if better {
            best = Some(found);
        }
    };
    for (v, &p) in points.iter().enumerate() {
        for s in tree.near(p, SAME, MOST_TOUCHES) {
            // Segment s runs from point s to point s + 1; neighbours along the path don't count.
            let (Some(&a), Some(&b)) = (points.get(s), points.get(s + 1)) else {
                continue;
            };
            let apart = if s >= v {
                length.get(s).zip(length.get(v)).map(|(s, v)| s - v)
            } else {
                length.get(v).zip(length.get(s + 1)).map(|(v, s)| v - s)
            };
            if !(apart? > 4.0 * SAME) {
                continue;
            }
            let foot = foot(a, b, p);
            if (foot - p).norm() > SAME {
                continue;
            }
            let (start, end) = if s >= v { (v, s) } else { (s + 1, v) };
            let inner = swept.get(end)? - swept.get(start)?;
            // Back from the last point of the loop to the meeting, and on to its first point.
            let (from, to) = (points.get(end)? - origin, points.get(start)? - origin);
            let m = p - origin;
            let area = (inner + from.perp(&m) + m.perp(&to)) / 2.0;
            let before = length.get(start)?;
            let after = total - length.get(end)?;
            let ends = *before <= SAME && after <= SAME;
            offer(
                Meeting {
                    start,
                    end,
                    at: p,
                    area,
                },
                ends,
            );
        }
    }
    // A loop that is only a wobble of the path is none.
    best.filter(|b| b.area.abs() > 0.001 * total * total / 16.0)
}

/// Nearest point of a segment.
fn foot(a: Place, b: Place, p: Place) -> Place {
    let along = b - a;
    let square = along.norm_squared();
    let t = if square > 0.0 {
        ((p - a).dot(&along) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    a + along * t
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(points: &[(f64, f64)]) -> Vec<Place> {
        points.iter().map(|&(x, y)| Place::new(x, y)).collect()
    }

    #[test]
    fn leads_are_told_from_the_contour() {
        let square = [(0., 0.), (100., 0.), (100., 100.), (0., 100.), (0., 0.)];
        let straight = find_loop(&path(&square)).expect("closed");
        assert_eq!((straight.ring.len(), straight.leads.len()), (4, 0));
        // In at the corner, over the start and out again.
        let led = [&[(-5., -5.)][..], &square, &[(3., 0.), (4., -4.)]].concat();
        let found = find_loop(&path(&led)).expect("closed");
        assert!((area(&found.ring) - 1e4).abs() < 1.0, "{found:?}");
        assert_eq!(found.leads.len(), 2);
        // In at the middle of a side, closed in the middle, back to the pierce.
        let middle = [
            (50., -9.),
            (50., 0.),
            (100., 0.),
            (100., 100.),
            (0., 100.),
            (0., 0.),
            (50., 0.),
            (50., -9.),
        ];
        let found = find_loop(&path(&middle)).expect("closed");
        assert!((area(&found.ring) - 1e4).abs() < 1.0, "{found:?}");
        assert_eq!(found.leads.len(), 2);
        assert!(find_loop(&path(&square[..4])).is_none());
        assert!(find_loop(&path(&[(0., 0.), (10., 0.), (0., 0.)])).is_none());
    }
}
