//! From stations to a first path: which stretches are straight and which turn steadily.
//!
//! Only tangents are used. On a straight they agree to the file's resolution; round a bend they climb
//! a staircase whose steps are the bend's facets. Dynamic programming over the stations finds the
//! fewest steady stretches that explain them.

use super::path::{Frame, Path, Piece};
use super::track::Track;
use crate::geometry::Vec3;

/// A steady stretch of stations `from..=to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// First station.
    pub from: usize,
    /// Last station.
    pub to: usize,
    /// Turn per mm travelled, 1/mm; zero for a straight.
    pub rate: f64,
    /// Unit axis of the turn (zero vector for a straight).
    pub axis: Vec3,
    /// Cosine between tangent and axis: zero for an arc, constant for a helix.
    pub lean: f64,
}

struct Fit {
    stretch: Stretch,
    square_error: f64,
}

fn fit_straight(tangents: &[Vec3], from: usize, to: usize) -> Fit {
    let mean: Vec3 = tangents[from..=to].iter().sum::<Vec3>().normalize();
    Fit {
        stretch: Stretch {
            from,
            to,
            rate: 0.0,
            axis: Vec3::zeros(),
            lean: 0.0,
        },
        square_error: tangents[from..=to]
            .iter()
            .map(|t| (t - mean).norm_squared())
            .sum(),
    }
}

/// Steady turning about a fixed axis; `twisted` allows the tangent to lean along the axis (helix).
fn fit_turn(
    tangents: &[Vec3],
    walked: &[f64],
    from: usize,
    to: usize,
    twisted: bool,
) -> Option<Fit> {
    let t = &tangents[from..=to];
    let n = t.len();
    if n < 3 {
        return None;
    }
    // the plane the tangents lie in: least variance about their mean (helix) or about the origin (arc)
    let mean = if twisted {
        t.iter().sum::<Vec3>() / n as f64
    } else {
        Vec3::zeros()
    };
    let scatter: nalgebra::Matrix3<f64> =
        t.iter().map(|v| (v - mean) * (v - mean).transpose()).sum();
    let eigen = nalgebra::SymmetricEigen::new(scatter);
    let mut axis: Vec3 = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
    let sense: f64 = (1..n).map(|k| t[k - 1].cross(&t[k]).dot(&axis)).sum();
    if sense < 0.0 {
        axis = -axis;
    }
    let lean = mean.dot(&axis);
    let u = (t[0] - axis * t[0].dot(&axis)).try_normalize(1e-6)?;
    let v = axis.cross(&u);
    let mut angles = Vec::with_capacity(n);
    let mut previous = 0.0;
    for x in t {
        let a = x.dot(&v).atan2(x.dot(&u));
        previous += (a - previous)
            - std::f64::consts::TAU * ((a - previous) / std::f64::consts::TAU).round();
        angles.push(previous);
    }
    let s = &walked[from..=to];
    let (ms, ma) = (
        s.iter().sum::<f64>() / n as f64,
        angles.iter().sum::<f64>() / n as f64,
    );
    let ss: f64 = s.iter().map(|x| (x - ms).powi(2)).sum();
    let sa: f64 = s
        .iter()
        .zip(&angles)
        .map(|(x, a)| (x - ms) * (a - ma))
        .sum();
    if ss <= 0.0 {
        return None;
    }
    let rate = sa / ss;
    let across = (1.0 - lean * lean).max(0.0).sqrt();
    let mut square_error = 0.0;
    for k in 0..n {
        square_error += (across * (angles[k] - ma - rate * (s[k] - ms))).powi(2);
        square_error += (t[k].dot(&axis) - lean).powi(2);
    }
    (rate > 0.0).then_some(Fit {
        stretch: Stretch {
            from,
            to,
            rate,
            axis,
            lean,
        },
        square_error,
    })
}

/// Steady stretches of the track. `stair` is the tangent scatter (radians) a bend's facets may cause.
pub fn stretches(track: &Track, stair: f64) -> Vec<Stretch> {
    const PRICE: f64 = 14.0;
    const STRAIGHT_SCATTER: f64 = 2e-3;
    let every = track.stations.len().div_ceil(200);
    let picked: Vec<usize> = (0..track.stations.len()).step_by(every).collect();
    let tangents: Vec<Vec3> = picked.iter().map(|&i| track.stations[i].tangent).collect();
    let walked: Vec<f64> = picked.iter().map(|&i| track.stations[i].walked).collect();
    let n = picked.len();
    // best[j]: least cost of explaining stations 0..j, and the stretch that ends there
    let mut best: Vec<(f64, Option<Stretch>)> = vec![(0.0, None)];
    for j in 0..n {
        let mut choice = (f64::INFINITY, None);
        for i in 0..=j {
            let straight = fit_straight(&tangents, i, j);
            let scatter = STRAIGHT_SCATTER.min(stair);
            let mut consider = |fit: Fit, sigma: f64, price: f64| {
                let cost = best[i].0 + fit.square_error / (sigma * sigma) + price;
                if cost < choice.0 {
                    choice = (cost, Some(fit.stretch));
                }
            };
            consider(straight, scatter, PRICE);
            // a bend turns by more than its own stairs
            if let Some(turn) = fit_turn(&tangents, &walked, i, j, false)
                && turn.stretch.rate * (walked[j] - walked[i]) > 2.0 * stair
            {
                consider(turn, stair, 1.2 * PRICE);
            }
            if j >= i + 8
                && let Some(turn) = fit_turn(&tangents, &walked, i, j, true)
                && (0.01..0.9).contains(&turn.stretch.lean.abs())
                && turn.stretch.rate * (walked[j] - walked[i]) > 1.5
            {
                consider(turn, stair, 1.6 * PRICE);
            }
        }
        best.push(choice);
    }
    let mut out = Vec::new();
    let mut j = n;
    while j > 0 {
        let Some(mut stretch) = best[j].1 else { break };
        j = stretch.from;
        stretch.from = picked[stretch.from];
        stretch.to = picked[stretch.to];
        out.push(stretch);
    }
    out.reverse();
    out
}

/// Mean tangent of a straight stretch.
fn tangent_of(track: &Track, s: &Stretch) -> Vec3 {
    track.stations[s.from..=s.to]
        .iter()
        .map(|x| x.tangent)
        .sum::<Vec3>()
        .normalize()
}

/// True when two neighbouring stretches meet at more than an angle, radians.
fn kinked(track: &Track, a: &Stretch, b: &Stretch, angle: f64) -> bool {
    let end = if a.rate == 0.0 {
        tangent_of(track, a)
    } else {
        track.stations[a.to].tangent
    };
    let begin = if b.rate == 0.0 {
        tangent_of(track, b)
    } else {
        track.stations[b.from].tangent
    };
    let both_straight = a.rate == 0.0 && b.rate == 0.0;
    end.angle(&begin) > if both_straight { 2e-3 } else { 2.0 * angle }
}

/// The piece that turns the travel of `frame` into `to` over `length`.
fn turning(frame: &Frame, to: &Vec3, length: f64) -> Piece {
    let across = to - frame.t * to.dot(&frame.t);
    let Some(c) = across.try_normalize(1e-12) else {
        return Piece::straight(length);
    };
    Piece {
        length,
        curvature: frame.t.angle(to) / length,
        bend: (-c.dot(&frame.w)).atan2(c.dot(&frame.h)),
        torsion: 0.0,
    }
}

/// A first path along the stretches, starting at the first station with the given section axes there.
/// Where two stretches meet at an angle, the bend fell between two stations: an arc is put there.
pub fn first_path(track: &Track, stretches: &[Stretch], start: Frame, stair: f64) -> Path {
    const KINK: f64 = 2e-3;
    let stations = &track.stations;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut frame = start;
    let mut begin = stations[0].walked;
    for (k, s) in stretches.iter().enumerate() {
        let next = stretches.get(k + 1);
        let end = match next {
            None => stations[s.to].walked,
            Some(n) if kinked(track, s, n, stair.max(KINK)) => stations[s.to].walked,
            Some(n) => 0.5 * (stations[s.to].walked + stations[n.from].walked),
        };
        let length = (end - begin).max(1e-3);
        let piece = if s.rate == 0.0 {
            Piece::straight(length)
        } else {
            // t' = ω × t: the part of ω along t is torsion, the rest turns t towards axis × t
            let c = s.axis.cross(&frame.t);
            let across = c.norm().max(1e-9);
            let c = c / across;
            Piece {
                length,
                curvature: s.rate * across,
                bend: (-c.dot(&frame.w)).atan2(c.dot(&frame.h)),
                torsion: if s.lean.abs() > 0.005 {
                    s.rate * s.axis.dot(&frame.t)
                } else {
                    0.0
                },
            }
        };
        frame = super::path::carry(&frame, &piece, piece.length);
        pieces.push(piece);
        begin = end;
        if let Some(n) = next
            && kinked(track, s, n, stair.max(KINK))
        {
            let to = if n.rate == 0.0 {
                tangent_of(track, n)
            } else {
                stations[n.from].tangent
            };
            let gap = (stations[n.from].walked - end).max(1e-3);
            if frame.t.angle(&to) > KINK {
                let arc = turning(&frame, &to, gap);
                frame = super::path::carry(&frame, &arc, gap);
                pieces.push(arc);
                begin = stations[n.from].walked;
            }
        }
    }
    Path::new(start, pieces)
}
