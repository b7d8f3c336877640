//! Lays a scan on the part and finds, by least squares, how the piece differs.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::local::Local;
use super::points::Seen;
use super::target::{Probe, Role, Target, Under, beside_surface};
use super::undo::{Pose, Way};
use crate::geometry::statistics::{SIGMA_PER_MAD, median};
use crate::geometry::{Pt3, Vec3};

/// What is sought.
pub(super) struct Problem<'a> {
    /// The part.
    pub target: &'a Target<'a>,
    /// Ways the whole piece may differ.
    pub ways: Vec<Way>,
    /// Ways single faces may differ.
    pub locals: Vec<Local>,
    /// 1 when the scan's normals point out of the metal, −1 when they point into it.
    pub out: f64,
    /// Least scale of the residuals, mm: rounding of the coordinates.
    pub floor: f64,
}

/// Where the scan lies and how the piece differs.
#[derive(Clone, Debug)]
pub(super) struct State {
    /// Scan to model.
    pub pose: Pose,
    /// Value of each way.
    pub ways: Vec<f64>,
    /// Value of each local.
    pub locals: Vec<f64>,
}

/// One point of the scan held against the part.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    /// Number of the point.
    pub seen: usize,
    /// Where it would be on a piece made as asked.
    pub at: Pt3,
    /// How it stands there.
    pub probe: Probe,
    /// Distance that the fit leaves unexplained, mm.
    pub residual: f64,
    /// Weight in the fit, 0 to 1.
    pub weight: f64,
}

/// The answer of a fit.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    /// The state found.
    pub state: State,
    /// Points that lie near enough to be held against the part.
    pub held: Vec<Held>,
    /// Robust standard deviation of the residuals, mm.
    pub scale: f64,
    /// Covariance of all unknowns: 6 of the pose (turn, shift), ways, locals.
    pub covariance: DMatrix<f64>,
    /// Directions of the unknowns, in units of about 1 mm, that the scan doesn't tell.
    pub untold: Vec<DVector<f64>>,
    /// Change of each unknown that moves a surface by about 1 mm.
    pub units: Vec<f64>,
}

impl Problem<'_> {
    fn unknowns(&self) -> usize {
        6 + self.ways.len() + self.locals.len()
    }

    fn units(&self) -> Vec<f64> {
        let target = self.target;
        let turn = 2.0 / target.size.max(1.0);
        let mut units = vec![turn, turn, turn, 1.0, 1.0, 1.0];
        let step = (target.body.facets.len() / 200).max(1);
        let spots: Vec<(Pt3, f64)> = (0..target.body.facets.len() as u32)
            .step_by(step)
            .map(|f| (target.middle(f), target.station(f)))
            .collect();
        units.extend(self.ways.iter().map(|way| {
            // A trial, and by how much it moves the surface.
            let trial = 0.1 * target.shape.unit(*way, target.section_size());
            let made = target.shape.made(std::slice::from_ref(way), &[trial]);
            let moved = spots
                .iter()
                .map(|(p, s)| (made.undo(p, *s) - p).norm())
                .fold(0.0, f64::max);
            trial / moved.clamp(1e-6, 10.0)
        }));
        units.extend(self.locals.iter().map(|l| l.unit(target)));
        units
    }

    /// A state with nothing but a pose.
    pub(super) fn at(&self, pose: Pose) -> State {
        State {
            pose,
            ways: vec![0.0; self.ways.len()],
            locals: vec![0.0; self.locals.len()],
        }
    }

    /// Holds points against the part, the piece undone by `state`; `near` are facets they lay beside
    /// before, if known.
    pub(super) fn hold(
        &self,
        state: &State,
        seen: &[Seen],
        which: &[usize],
        near: &[Option<u32>],
        most: f64,
    ) -> Vec<Option<(Pt3, Probe, f64)>> {
        let made = self.target.shape.made(&self.ways, &state.ways);
        which
            .iter()
            .zip(near)
            .map(|(k, near)| {
                let s = seen.get(*k)?;
                let p = state.pose.place(&s.at);
                let n = state.pose.direction(&s.normal) * self.out;
                let along = self.target.station_near(&p, *near);
                let at = made.undo(&p, along);
                let mut probe = self.target.probe(&at, &n, most)?;
                let moved = self.hole_moved(state, &probe);
                let mut stands = probe.distance;
                if let (Some(moved), Under::Is(surface)) =
                    (moved, &self.target.faces[probe.face].under)
                {
                    // A round hole elsewhere is not round about the place it was asked for.
                    (stands, probe.normal) = beside_surface(surface, &(at - moved));
                }
                let explained: f64 = self
                    .locals
                    .iter()
                    .zip(&state.locals)
                    .filter(|(l, _)| !matches!(l, Local::Shift(..)))
                    .map(|(l, v)| l.share(self.target, &probe, &at) * v)
                    .sum();
                Some((at, probe, stands - explained))
            })
            .collect()
    }

    /// How far the hole a point belongs to was moved by the fit.
    fn hole_moved(&self, state: &State, probe: &Probe) -> Option<Vec3> {
        let Role::Hole(hole) = self.target.faces[probe.face].role else {
            return None;
        };
        let moves = self.locals.iter().zip(&state.locals);
        moves
            .filter_map(|(l, v)| match l {
                Local::Shift(own, way) if *own == hole => Some(way * *v),
                _ => None,
            })
            .reduce(|a, b| a + b)
    }

    /// Least squares from `start` over the points `which`, `rounds` times; points farther than `reach`
    /// from the facets are left out, and robust weights take care of the rest.
    pub(super) fn solve(
        &self,
        start: State,
        seen: &[Seen],
        which: &[usize],
        reach: f64,
        rounds: usize,
    ) -> Option<Solved> {
        let mut state = start;
        let units = self.units();
        let n = self.unknowns();
        let mut near: Vec<Option<u32>> = vec![None; which.len()];
        let mut most = reach;
        let mut last: Option<Solved> = None;
        let about = middle(seen, which);
        for round in 0..rounds.max(1) {
            let found = self.hold(&state, seen, which, &near, most);
            for (near, found) in near.iter_mut().zip(&found) {
                *near = found.map_or(*near, |(_, probe, _)| Some(probe.facet));
            }
            let mut held: Vec<Held> = found
                .iter()
                .zip(which)
                .filter_map(|(found, k)| {
                    let (at, probe, residual) = (*found)?;
                    // A table the piece lies on is flush with it and says nothing.
                    (probe.overhang < 0.05 * self.target.size).then_some(Held {
                        seen: *k,
                        at,
                        probe,
                        residual,
                        weight: 1.0,
                    })
                })
                .collect();
            if held.len() < 6 {
                return last;
            }
            let scale = weigh(&mut held, self.floor, round, most);
            let rows = self.rows(&state, seen, &held, &units);
            let (a, g) = normal(&rows, &held, n);
            if !(a.iter().chain(g.iter())).all(|x| x.is_finite()) {
                return last;
            }
            let eigen = a.clone().symmetric_eigen();
            let largest = eigen.eigenvalues.amax();
            let told = |value: f64| value > 0.01 && value > 1e-9 * largest;
            let mut step = DVector::zeros(n);
            let mut inverse = DMatrix::zeros(n, n);
            let mut untold = Vec::new();
            for (value, vector) in eigen
                .eigenvalues
                .iter()
                .zip(eigen.eigenvectors.column_iter())
            {
                if told(*value) {
                    step += vector * (vector.dot(&g) / *value);
                    inverse += vector * vector.transpose() / *value;
                } else {
                    untold.push(vector.into_owned());
                }
            }
            let done = step.amax() < 1e-6 + 1e-3 * scale.min(0.01) && round > 2;
            let finished = done || round + 1 == rounds.max(1);
            // No step is larger than what the points can be followed over.
            let limit = 0.2 * self.target.size;
            if step.amax() > limit {
                step *= limit / step.amax();
            }
            self.take(&mut state, &step, &units, &about);
            if finished {
                let covariance = spread(&rows, &held, &inverse, scale, self.target);
                let unit = DMatrix::from_diagonal(&DVector::from_vec(units.clone()));
                last = Some(Solved {
                    state: state.clone(),
                    held,
                    scale,
                    covariance: &unit * covariance * &unit,
                    untold,
                    units: units.clone(),
                });
                break;
            }
            most = (8.0 * scale)
                .max(0.01 * self.target.size)
                .min(most)
                .max(0.15 * reach);
        }
        last
    }

    fn take(&self, state: &mut State, step: &DVector<f64>, units: &[f64], about: &Pt3) {
        let value = |k: usize| step[k] * units[k];
        let place = state.pose.place(about);
        state.pose = state.pose.moved(
            &place,
            &Vec3::new(value(0), value(1), value(2)),
            &Vec3::new(value(3), value(4), value(5)),
        );
        for k in 0..self.ways.len() {
            state.ways[k] += value(6 + k);
        }
        for k in 0..self.locals.len() {
            state.locals[k] += value(6 + self.ways.len() + k);
        }
    }

    /// Change of each residual with each unknown, negative: what a step explains.
    fn rows(&self, state: &State, seen: &[Seen], held: &[Held], units: &[f64]) -> Vec<Vec<f64>> {
        const PART: f64 = 0.02;
        let shape = &self.target.shape;
        let which: Vec<usize> = held.iter().map(|h| h.seen).collect();
        let about = state.pose.place(&middle(seen, &which));
        let mut moved = Vec::new();
        for k in 0..6 {
            let mut by = [0.0; 6];
            by[k] = PART * units[k];
            moved.push(state.pose.moved(
                &about,
                &Vec3::new(by[0], by[1], by[2]),
                &Vec3::new(by[3], by[4], by[5]),
            ));
        }
        let now = shape.made(&self.ways, &state.ways);
        let other: Vec<_> = (0..self.ways.len())
            .map(|k| {
                let mut ways = state.ways.clone();
                ways[k] += PART * units[6 + k];
                ways
            })
            .collect();
        let other: Vec<_> = other.iter().map(|w| shape.made(&self.ways, w)).collect();
        held.iter()
            .map(|h| {
                let at = seen[h.seen].at;
                let near = self.target.station(h.probe.facet);
                let change = |p: Pt3| -h.probe.normal.dot(&(p - h.at)) / PART;
                let mut row = Vec::with_capacity(units.len());
                for pose in &moved {
                    row.push(change(now.undo(&pose.place(&at), near)));
                }
                let placed = state.pose.place(&at);
                for made in &other {
                    row.push(change(made.undo(&placed, near)));
                }
                for (k, local) in self.locals.iter().enumerate() {
                    let unit = units[6 + self.ways.len() + k];
                    row.push(local.share(self.target, &h.probe, &h.at) * unit);
                }
                row
            })
            .collect()
    }
}

/// Middle of the points.
fn middle(seen: &[Seen], which: &[usize]) -> Pt3 {
    let sum = which
        .iter()
        .fold(Vec3::zeros(), |sum, k| sum + seen[*k].at.coords);
    Pt3::from(sum / which.len().max(1) as f64)
}

/// Robust weights (Tukey's biweight) and the scale they stand on.
fn weigh(held: &mut [Held], floor: f64, round: usize, most: f64) -> f64 {
    let off: Vec<f64> = held.iter().map(|h| h.residual.abs()).collect();
    let scale = (SIGMA_PER_MAD * median(&off).unwrap_or(0.0))
        .max(floor)
        .max(1e-6);
    // At first nearly all count, so that a bend that is off pulls the whole piece along.
    let limit = match round {
        0..2 => most.max(6.0 * scale),
        2..5 => 8.0 * scale,
        _ => 4.685 * scale,
    };
    for h in held.iter_mut() {
        let u = h.residual / limit;
        h.weight = if u.abs() < 1.0 {
            (1.0 - u * u).powi(2)
        } else {
            0.0
        };
    }
    scale
}

fn normal(rows: &[Vec<f64>], held: &[Held], n: usize) -> (DMatrix<f64>, DVector<f64>) {
    let mut a = DMatrix::zeros(n, n);
    let mut g = DVector::zeros(n);
    for (row, h) in rows.iter().zip(held) {
        if h.weight == 0.0 {
            continue;
        }
        for i in 0..n {
            if row[i] == 0.0 {
                continue;
            }
            g[i] += h.weight * row[i] * h.residual;
            for j in 0..=i {
                a[(i, j)] += h.weight * row[i] * row[j];
            }
        }
    }
    for i in 0..n {
        for j in 0..i {
            a[(j, i)] = a[(i, j)];
        }
    }
    (a, g)
}

/// Covariance of the unknowns. Neighbouring points err together where the piece is not quite the shape
/// that is fitted, so sums over places count, not single points (a sandwich with clusters: Liang and
/// Zeger, Biometrika 73, 1986, from memory); where places are few, what the scatter alone gives counts
/// if it is more.
fn spread(
    rows: &[Vec<f64>],
    held: &[Held],
    inverse: &DMatrix<f64>,
    scale: f64,
    target: &Target,
) -> DMatrix<f64> {
    let n = inverse.nrows();
    let cell = target.size / 16.0;
    let mut places: BTreeMap<(usize, [i64; 3]), DVector<f64>> = BTreeMap::new();
    for (row, h) in rows.iter().zip(held) {
        if h.weight == 0.0 {
            continue;
        }
        let at = [0, 1, 2].map(|k| (h.at[k] / cell).floor() as i64);
        let sum = places
            .entry((h.probe.face, at))
            .or_insert_with(|| DVector::zeros(n));
        for k in 0..n {
            sum[k] += h.weight * h.residual * row[k];
        }
    }
    let mut meat = DMatrix::zeros(n, n);
    for sum in places.values() {
        meat += sum * sum.transpose();
    }
    let groups = places.len() as f64;
    let small = if groups > n as f64 + 2.0 {
        groups / (groups - n as f64).max(2.0)
    } else {
        4.0
    };
    let clustered = inverse * meat * inverse * small;
    let plain = inverse * (scale * scale);
    // The larger variance of the two, unknown by unknown; correlations of the larger one on the whole.
    let (mut base, other) = if clustered.trace() > plain.trace() {
        (clustered, plain)
    } else {
        (plain, clustered)
    };
    for k in 0..n {
        let more = other[(k, k)] / base[(k, k)].max(1e-300);
        if more > 1.0 {
            let f = more.sqrt().min(1e6);
            for j in 0..n {
                base[(k, j)] *= f;
                base[(j, k)] *= f;
            }
        }
    }
    base
}
