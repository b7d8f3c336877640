//! A piece of the program laid on a plate: which hole is which, and how far the cut is off.

use super::contours::Contour;
use super::design::{Design, Ring};
use super::nest::Cutting;
use super::piece::{Piece, Place, centroid};
use super::pose::{Pose, along};
use super::refine::{Fit, Free, Pair, refine};
use crate::geometry::bvh::SegmentTree;

/// A contour made ready: anticlockwise, closed.
#[derive(Clone, Debug)]
pub struct Cut {
    /// Number of the contour.
    pub contour: usize,
    /// Its points, anticlockwise, the first again at the end.
    pub path: Vec<Place>,
    /// Centroid of the area inside.
    pub centre: Place,
}

/// A piece made ready.
#[derive(Clone, Debug)]
pub struct Ready {
    /// Outside.
    pub outer: Cut,
    /// Holes.
    pub holes: Vec<Cut>,
}

/// A hole of the program on a hole of the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Match {
    /// Number of the hole among the cuts of the piece.
    pub cut: usize,
    /// Number of the hole of the plate.
    pub hole: usize,
    /// How much too small all round it comes out, mm; negative where too large.
    pub small: f64,
    /// Distance of its centre from where it should be, mm.
    pub astray: f64,
}

/// Where the cut is off most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worst {
    /// How far, mm; positive where metal is cut away that should stay, negative where metal stays.
    pub departure: f64,
    /// Place in the program.
    pub at: Place,
    /// The hole of the plate, or the outside.
    pub hole: Option<usize>,
    /// 95 % half-width of the plate's own edge there, mm.
    pub doubt: f64,
}

/// The piece laid on the plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Where it lies, and half the kerf.
    pub fit: Fit,
    /// Holes found.
    pub matches: Vec<Match>,
    /// Holes of the plate that are not cut.
    pub missing: Vec<usize>,
    /// Holes cut that the plate has not: numbers among the cuts of the piece.
    pub extra: Vec<usize>,
    /// How far off most of the outside is, mm.
    pub misfit: f64,
    /// How far the path stands off the outside into the waste, mm on the plate.
    pub stands_off: f64,
}

/// Points of a contour that a fit looks at.
const FIT_POINTS: usize = 120;
/// The same for a hole.
const HOLE_POINTS: usize = 24;
/// Holes a fit looks at.
const FIT_HOLES: usize = 60;

/// Makes a piece ready.
pub fn ready(contours: &[Contour], piece: &Cutting) -> Option<Ready> {
    let cut = |number: usize| {
        let contour = contours.get(number)?;
        let mut path = contour.ring.clone();
        if contour.area < 0.0 {
            path.reverse();
        }
        let centre = centroid(&path);
        path.push(*path.first()?);
        Some(Cut {
            contour: number,
            path,
            centre,
        })
    };
    Some(Ready {
        outer: cut(piece.outer)?,
        holes: piece.holes.iter().filter_map(|hole| cut(*hole)).collect(),
    })
}

impl Cut {
    /// The ring without its repeated point.
    pub fn ring(&self) -> &[Place] {
        self.path.split_last().map_or(&[], |(_, ring)| ring)
    }
}

/// Lays the piece on the plate, starting from `start`.
pub fn lay(piece: &Ready, design: &Design, start: Fit, free: Free) -> Comparison {
    let outer = || Pair {
        ring: &design.outer,
        points: along(piece.outer.ring(), FIT_POINTS),
    };
    let mut fit = refine(&[outer()], start, free);
    let mut matches = pair_up(piece, design, &fit.pose);
    if !matches.is_empty() {
        for _ in 0..2 {
            let holes = matches.iter().take(FIT_HOLES).filter_map(|(cut, hole)| {
                Some(Pair {
                    ring: design.holes.get(*hole)?,
                    points: along(piece.holes.get(*cut)?.ring(), HOLE_POINTS),
                })
            });
            let pairs: Vec<Pair> = [outer()].into_iter().chain(holes).collect();
            fit = refine(&pairs, fit, free);
            let again = pair_up(piece, design, &fit.pose);
            if again == matches {
                break;
            }
            matches = again;
        }
    }
    let mut off: Vec<f64> = offsets(&piece.outer, &design.outer, &fit.pose, FIT_POINTS);
    off.sort_by(f64::total_cmp);
    let stands_off = off.get(off.len() / 2).copied().unwrap_or(0.0);
    if free.offset {
        // The outside says what the kerf is: a hole cut too small does not.
        fit.offset = stands_off;
    }
    let mut far: Vec<f64> = off.iter().map(|o| (o - fit.offset).abs()).collect();
    far.sort_by(f64::total_cmp);
    let misfit = far
        .get(far.len() * 85 / 100)
        .copied()
        .unwrap_or(f64::INFINITY);
    let found: Vec<Match> = matches
        .iter()
        .filter_map(|(cut, hole)| {
            let (own, ring) = (piece.holes.get(*cut)?, design.holes.get(*hole)?);
            // Its size is told with the hole where it belongs.
            let astray = fit.pose.to_plate(own.centre) - ring.centre;
            let points = along(own.ring(), 2 * HOLE_POINTS);
            let off = points
                .iter()
                .map(|p| ring.stand(fit.pose.to_plate(*p) - astray).off)
                .sum::<f64>();
            Some(Match {
                cut: *cut,
                hole: *hole,
                small: off / points.len().max(1) as f64 - fit.offset,
                astray: astray.norm(),
            })
        })
        .collect();
    Comparison {
        missing: (0..design.holes.len())
            .filter(|h| !found.iter().any(|m| m.hole == *h))
            .collect(),
        extra: (0..piece.holes.len())
            .filter(|c| !found.iter().any(|m| m.cut == *c))
            .collect(),
        matches: found,
        misfit,
        stands_off,
        fit,
    }
}

fn offsets(cut: &Cut, ring: &Ring, pose: &Pose, count: usize) -> Vec<f64> {
    along(cut.ring(), count)
        .iter()
        .map(|p| ring.stand(pose.to_plate(*p)).off)
        .collect()
}

/// Holes of the program and of the plate that are nearest to each other.
fn pair_up(piece: &Ready, design: &Design, pose: &Pose) -> Vec<(usize, usize)> {
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (c, cut) in piece.holes.iter().enumerate() {
        let centre = pose.to_plate(cut.centre);
        for (h, hole) in design.holes.iter().enumerate() {
            let distance = (centre - hole.centre).norm();
            // Farther off than its own radius it is another hole.
            if distance <= (hole.area / std::f64::consts::PI).sqrt().max(2.0) {
                near.push((distance, c, h));
            }
        }
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let (mut cuts, mut holes) = (
        vec![false; piece.holes.len()],
        vec![false; design.holes.len()],
    );
    let mut pairs = Vec::new();
    for (_, c, h) in near {
        if !cuts[c] && !holes[h] {
            (cuts[c], holes[h]) = (true, true);
            pairs.push((c, h));
        }
    }
    pairs.sort_by_key(|(_, hole)| *hole);
    pairs
}

/// Where the cut departs most from the edge, once half the kerf is allowed for: into the metal anywhere along
/// the path, and metal left anywhere along the edge that a tool of this kerf can reach.
pub fn worst(piece: &Ready, design: &Design, comparison: &Comparison) -> Option<Worst> {
    let holes = comparison.matches.iter().filter_map(|m| {
        Some((
            piece.holes.get(m.cut)?,
            design.holes.get(m.hole)?,
            Some(m.hole),
        ))
    });
    [(&piece.outer, &design.outer, None)]
        .into_iter()
        .chain(holes)
        .filter_map(|(cut, ring, hole)| worst_of(cut, ring, hole, &comparison.fit))
        .max_by(|a, b| a.departure.abs().total_cmp(&b.departure.abs()))
}

/// The same for one contour.
pub fn worst_of(cut: &Cut, ring: &Ring, hole: Option<usize>, fit: &Fit) -> Option<Worst> {
    let half = fit.offset.max(0.0);
    let stride = cut.path.len() / 2000 + 1;
    let points = cut.path.iter().step_by(stride).copied();
    let mut worst: Option<Worst> = None;
    let mut offer = |departure: f64, at: Place| {
        if worst.is_none_or(|w| departure.abs() > w.departure.abs()) {
            worst = Some(Worst {
                departure,
                at,
                hole,
                doubt: ring.doubt,
            });
        }
    };
    for p in points.chain(along(cut.ring(), 300)) {
        let into = fit.offset - ring.stand(fit.pose.to_plate(p)).off;
        offer(into.max(0.0), p);
    }
    let tree = SegmentTree::new(&cut.path);
    let shrink = 1.0 / fit.pose.scale();
    for piece in &ring.pieces {
        let count = (piece.length() / 2.0).ceil().clamp(3.0, 200.0) as usize;
        for k in 0..count {
            let edge = piece.at((k as f64 + 0.5) / count as f64);
            // Where the tool's middle should be when it touches the edge here.
            let middle = edge + waste_side(piece, edge, ring.hole) * half;
            if ring.stand(middle).off < half - 0.005 {
                continue;
            }
            let at = fit.pose.to_program(edge);
            let distance = tree.distance(at, f64::INFINITY)? * shrink;
            offer(half - distance, at);
        }
    }
    worst
}

/// Unit vector from the metal into the waste at a place inside a piece of an anticlockwise ring.
fn waste_side(piece: &Piece, at: Place, hole: bool) -> nalgebra::Vector2<f64> {
    let right = match *piece {
        Piece::Line { from, to } => {
            let along = to - from;
            nalgebra::Vector2::new(along.y, -along.x)
        }
        Piece::Arc { centre, sweep, .. } => (at - centre) * sweep.signum(),
    };
    let unit = right.try_normalize(0.0).unwrap_or_default();
    if hole { -unit } else { unit }
}
