//! Walking along a member: where the section stands at a station, how long each line of its
//! surface is, and where that line meets the cut of an end.

use nalgebra::{Rotation3, Unit};

use crate::geometry::{Pt3, Vec3};
use crate::member::{Cut, End, Member, Saddle, Span};

/// The section at a station: its centre, the direction of travel, its width and height, all in the
/// file's frame. Width, height and travel are right-handed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Centre of the section, mm.
    pub at: Pt3,
    /// Direction of travel from end 0 to end 1.
    pub travel: Vec3,
    /// Direction of the width.
    pub width: Vec3,
    /// Direction of the height.
    pub height: Vec3,
}

/// One straight or arc of the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The section where it begins.
    pub start: Station,
    /// Length on the centreline, mm.
    pub length: f64,
    /// Centre, unit axis right-handed with the travel, and radius of an arc.
    pub arc: Option<(Pt3, Vec3, f64)>,
}

/// The whole way, from end 0 to end 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Its stretches in order.
    pub stretches: Vec<Stretch>,
    /// The section where it ends.
    pub end: Station,
}

/// A place on the section: across its width and across its height from the centre, mm.
pub type Spot = [f64; 2];

impl Station {
    /// The point of the section at `spot`.
    pub fn point(&self, spot: Spot) -> Pt3 {
        self.at + self.width * spot[0] + self.height * spot[1]
    }
}

/// The way along a member of straights and arcs with two ends; `None` for rings, helices, free
/// curves and radii that aren't known.
pub fn walk(member: &Member) -> Option<Walk> {
    let [first, _] = member.ends.as_slice() else {
        return None;
    };
    let mut here = Station {
        at: first.point.into(),
        travel: -Vec3::from(first.tangent),
        width: first.width_axis.into(),
        height: first.height_axis.into(),
    };
    let mut stretches = Vec::new();
    for span in &member.spans {
        let stretch = match span {
            Span::Straight { length } => Stretch {
                start: here,
                length: length.value,
                arc: None,
            },
            Span::Arc {
                length,
                radius,
                centre,
                axis,
                ..
            } => Stretch {
                start: here,
                length: length.value,
                arc: Some((Pt3::from(*centre), Vec3::from(*axis), (*radius)?.value)),
            },
            _ => return None,
        };
        here = along(&stretch, stretch.length);
        stretches.push(stretch);
    }
    (!stretches.is_empty()).then_some(Walk {
        stretches,
        end: here,
    })
}

/// The section `by` mm into a stretch.
pub fn along(stretch: &Stretch, by: f64) -> Station {
    let start = stretch.start;
    match stretch.arc {
        None => Station {
            at: start.at + start.travel * by,
            ..start
        },
        Some((centre, axis, radius)) => {
            let turn = Rotation3::from_axis_angle(&Unit::new_normalize(axis), by / radius);
            Station {
                at: centre + turn * (start.at - centre),
                travel: turn * start.travel,
                width: turn * start.width,
                height: turn * start.height,
            }
        }
    }
}

/// Length of the whole centreline, mm.
pub fn length(walk: &Walk) -> f64 {
    walk.stretches.iter().map(|s| s.length).sum()
}

/// The section at a station along the centreline; beyond the ends the first or last stretch goes on.
pub fn station(walk: &Walk, mut s: f64) -> Station {
    let last = walk.stretches.len().saturating_sub(1);
    for (k, stretch) in walk.stretches.iter().enumerate() {
        if s <= stretch.length || k == last {
            return along(stretch, s);
        }
        s -= stretch.length;
    }
    walk.end
}

/// How much longer a line of the surface is than the centreline in a stretch: its own radius over
/// the centreline's.
pub fn stretch_ratio(stretch: &Stretch, spot: Spot) -> f64 {
    match stretch.arc {
        None => 1.0,
        Some((centre, axis, radius)) => {
            let out = stretch.start.point(spot) - centre;
            (out - axis * axis.dot(&out)).norm() / radius
        }
    }
}

/// Length of the line at `spot` between the square sections at stations 0 and `to`, mm.
pub fn line_length(walk: &Walk, spot: Spot, to: f64) -> f64 {
    let mut left = to;
    let mut sum = 0.0;
    let last = walk.stretches.len().saturating_sub(1);
    for (k, stretch) in walk.stretches.iter().enumerate() {
        let part = if k == last {
            left
        } else {
            left.min(stretch.length)
        };
        sum += part * stretch_ratio(stretch, spot);
        left -= part;
        if left <= 0.0 {
            break;
        }
    }
    sum
}

/// One of the two ends of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Where the walk begins.
    First,
    /// Where it ends.
    Last,
}

/// A line of the surface near an end, leaving the square section there, outwards.
#[derive(Clone, Copy, Debug)]
struct Outward {
    from: Pt3,
    way: Vec3,
    /// Centre, axis right-handed with the outward way, own radius.
    arc: Option<(Pt3, Vec3, f64)>,
}

fn outward(walk: &Walk, which: Which, spot: Spot) -> Option<Outward> {
    let (station, stretch, sign) = match which {
        Which::First => {
            let first = walk.stretches.first()?;
            (first.start, first, -1.0)
        }
        Which::Last => (walk.end, walk.stretches.last()?, 1.0),
    };
    let from = station.point(spot);
    let arc = stretch.arc.map(|(centre, axis, _)| {
        let out = from - centre;
        let own = (out - axis * axis.dot(&out)).norm();
        (centre, axis * sign, own)
    });
    Some(Outward {
        from,
        way: station.travel * sign,
        arc,
    })
}

/// How far beyond the square section of an end the line at `spot` runs to a plane cut, measured
/// along the line itself, mm; negative when the cut lies short of it. `None` when it never meets it.
pub fn reach_plane(walk: &Walk, which: Which, spot: Spot, cut: &Cut) -> Option<f64> {
    let line = outward(walk, which, spot)?;
    let (n, p) = (Vec3::from(cut.normal), Pt3::from(cut.point));
    let reach = match line.arc {
        None => -n.dot(&(line.from - p)) / n.dot(&line.way),
        // n·(rotated point − p) = D + A cos θ + B sin θ; the zero nearest to the end is meant.
        Some((centre, axis, own)) => {
            let out = line.from - centre;
            let level = axis * axis.dot(&out);
            let spoke = out - level;
            let (a, b) = (n.dot(&spoke), n.dot(&axis.cross(&spoke)));
            let d = n.dot(&(centre + level - p));
            let (size, phase) = (a.hypot(b), b.atan2(a));
            let open = (-d / size).clamp(-1.0, 1.0).acos();
            if d.abs() > size {
                return None;
            }
            let wrap = |t: f64| {
                (t + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI
            };
            let (t1, t2) = (wrap(phase + open), wrap(phase - open));
            own * if t1.abs() < t2.abs() { t1 } else { t2 }
        }
    };
    reach.is_finite().then_some(reach)
}

/// The point where the line at `spot` meets a plane cut.
pub fn meet(walk: &Walk, which: Which, spot: Spot, cut: &Cut) -> Option<Pt3> {
    let reach = reach_plane(walk, which, spot, cut)?;
    let line = outward(walk, which, spot)?;
    Some(match line.arc {
        None => line.from + line.way * reach,
        Some((centre, axis, own)) => {
            let turn = Rotation3::from_axis_angle(&Unit::new_normalize(axis), reach / own);
            centre + turn * (line.from - centre)
        }
    })
}

/// The same to the cylinder a cope fits, where the line first meets it.
pub fn reach_saddle(walk: &Walk, which: Which, spot: Spot, saddle: &Saddle) -> Option<f64> {
    let line = outward(walk, which, spot)?;
    let (p, axis) = (Pt3::from(saddle.point), Vec3::from(saddle.axis));
    let radius = saddle.diameter.value / 2.0;
    let square = |v: Vec3| v - axis * axis.dot(&v);
    match line.arc {
        None => {
            let (q, d) = (square(line.from - p), square(line.way));
            let (a, b, c) = (d.dot(&d), q.dot(&d), q.dot(&q) - radius * radius);
            let under = b * b - a * c;
            // A line that just touches the header does so within rounding.
            (under >= -1e-9 * radius * radius && a > 0.0).then(|| (-b - under.max(0.0).sqrt()) / a)
        }
        Some((centre, turn_axis, own)) => {
            let gap = |s: f64| {
                let turn = Rotation3::from_axis_angle(&Unit::new_normalize(turn_axis), s / own);
                square(centre + turn * (line.from - centre) - p).norm() - radius
            };
            // Outwards from well inside the piece, the first step across the surface.
            let step = radius / 50.0;
            let start = -200;
            (start..200).find_map(|k| {
                let (mut low, mut high) = (step * f64::from(k), step * f64::from(k + 1));
                if !(gap(low) > 0.0 && gap(high) <= 0.0) {
                    return None;
                }
                for _ in 0..60 {
                    let middle = (low + high) / 2.0;
                    match gap(middle) > 0.0 {
                        true => low = middle,
                        false => high = middle,
                    }
                }
                Some((low + high) / 2.0)
            })
        }
    }
}

/// How far beyond the square section of an end the metal runs along the line at `spot`, mm: to the
/// nearest of its cuts. `None` when the end has no cuts that are described.
pub fn reach(walk: &Walk, which: Which, spot: Spot, end: &End) -> Option<f64> {
    let cuts = end
        .cuts
        .iter()
        .map(|cut| reach_plane(walk, which, spot, cut));
    let cope = end
        .saddle
        .iter()
        .map(|saddle| reach_saddle(walk, which, spot, saddle));
    let all: Option<Vec<f64>> = cuts.chain(cope).collect();
    all?.into_iter().min_by(f64::total_cmp)
}
