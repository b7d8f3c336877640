//! The numbers of a model that a fit may move.

use super::model::Model;
use super::path::{Frame, Path};
use super::profile::{Contour, Profile};
use crate::geometry::Vec3;

/// Which numbers of a model are free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Free {
    /// Turn of the start frame about its own axis: 0 w, 1 h, 2 t; radians.
    Turn(usize),
    /// Shift of the start along w (0) or h (1), mm.
    Shift(usize),
    /// Length of a piece, mm.
    Length(usize),
    /// Curvature of a piece, 1/mm.
    Curvature(usize),
    /// Bend direction of a piece, radians.
    Bend(usize),
    /// Torsion of a piece, 1/mm.
    Torsion(usize),
    /// Radius of a round contour, mm.
    Radius(usize),
    /// Offset of side j of contour i, mm.
    Offset(usize, usize),
    /// Opposite sides of a rectangle together: contour, 0 width or 1 height; half size, mm.
    Half(usize, usize),
    /// All rounded corners of a contour of one sense (+1 convex, −1 concave), mm.
    Corner(usize, i8),
}

impl Free {
    /// Contour a number of the profile belongs to; `None` for numbers of the path.
    pub fn contour(self) -> Option<usize> {
        match self {
            Free::Radius(i) | Free::Offset(i, _) | Free::Half(i, _) | Free::Corner(i, _) => Some(i),
            _ => None,
        }
    }
}

/// True for a contour of four sides at right angles.
pub fn is_rectangle(c: &Contour) -> bool {
    matches!(c, Contour::Sides(s) if s.len() == 4
    && (0..4).all(|j| {
        let turn = s[(j + 1) % 4].normal - s[j].normal;
        (turn.sin() - 1.0).abs() < 1e-6
    }))
}

/// Corner senses of a contour: +1 convex, −1 concave.
fn corner_sense(sides: &[super::profile::Side], j: usize) -> i8 {
    let turn = (sides[(j + 1) % sides.len()].normal - sides[j].normal).sin();
    if turn >= 0.0 { 1 } else { -1 }
}

/// True when the profile is symmetric about its origin, so that the path's own place is free.
fn centred(profile: &Profile) -> bool {
    profile
        .contours
        .iter()
        .all(|c| matches!(c, Contour::Circle { .. }) || is_rectangle(c))
}

/// The free numbers of a model.
pub fn free_numbers(model: &Model) -> Vec<Free> {
    let mut free = vec![Free::Turn(0), Free::Turn(1)];
    let round = model
        .profile
        .contours
        .iter()
        .all(|c| matches!(c, Contour::Circle { .. }));
    if !round {
        free.push(Free::Turn(2));
    }
    if centred(&model.profile) {
        free.extend([Free::Shift(0), Free::Shift(1)]);
    }
    let last = model.path.pieces.len() - 1;
    for (i, p) in model.path.pieces.iter().enumerate() {
        if i < last {
            free.push(Free::Length(i));
        }
        if p.curvature != 0.0 {
            free.extend([Free::Curvature(i), Free::Bend(i)]);
        }
        if p.torsion != 0.0 {
            free.push(Free::Torsion(i));
        }
    }
    for (i, c) in model.profile.contours.iter().enumerate() {
        match c {
            Contour::Circle { .. } => free.push(Free::Radius(i)),
            Contour::Sides(sides) => {
                if is_rectangle(c) && centred(&model.profile) {
                    free.extend([Free::Half(i, 0), Free::Half(i, 1)]);
                } else {
                    free.extend((0..sides.len()).map(|j| Free::Offset(i, j)));
                }
                for sense in [1, -1] {
                    if (0..sides.len())
                        .any(|j| sides[j].corner > 0.0 && corner_sense(sides, j) == sense)
                    {
                        free.push(Free::Corner(i, sense));
                    }
                }
            }
        }
    }
    free
}

/// The model with its free numbers moved by `by`.
pub fn moved(model: &Model, free: &[Free], by: &[f64]) -> Model {
    let mut start = model.path.start;
    let mut pieces = model.path.pieces.clone();
    let mut profile = model.profile.clone();
    let mut turn = Vec3::zeros();
    for (f, &d) in free.iter().zip(by) {
        match *f {
            Free::Turn(k) => turn += d * [start.w, start.h, start.t][k],
            Free::Shift(k) => start.point += d * [model.path.start.w, model.path.start.h][k],
            Free::Length(i) => pieces[i].length = (pieces[i].length + d).max(1e-6),
            Free::Curvature(i) => pieces[i].curvature += d,
            Free::Bend(i) => pieces[i].bend += d,
            Free::Torsion(i) => pieces[i].torsion += d,
            Free::Radius(i) => {
                if let Contour::Circle { radius } = &mut profile.contours[i] {
                    *radius = (*radius + d).max(1e-6);
                }
            }
            Free::Offset(i, j) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    s[j].offset += d;
                }
            }
            Free::Half(i, k) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    for j in 0..4 {
                        if (s[j].normal.cos().abs() > 0.5) == (k == 0) {
                            s[j].offset += d;
                        }
                    }
                }
            }
            Free::Corner(i, sense) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    for j in 0..s.len() {
                        if s[j].corner > 0.0 && corner_sense(s, j) == sense {
                            s[j].corner = (s[j].corner + d).max(1e-6);
                        }
                    }
                }
            }
        }
    }
    let rotation = nalgebra::Rotation3::new(turn);
    start = Frame {
        point: start.point,
        w: rotation * start.w,
        h: rotation * start.h,
        t: rotation * start.t,
    };
    Model {
        path: Path::new(start, pieces),
        profile,
        stretch: model.stretch.clone(),
        stretched_between: model.stretched_between,
    }
}

/// Shortens a step that would move a size or the start by more than a third of the section.
pub fn hold_back(free: &[Free], by: &mut [f64], reach: f64, lengths: &[f64]) {
    let longest = free
        .iter()
        .zip(by.iter())
        .map(|(f, d)| match f {
            Free::Shift(_)
            | Free::Radius(_)
            | Free::Offset(..)
            | Free::Half(..)
            | Free::Corner(..) => d.abs() / (0.33 * reach),
            Free::Turn(_) | Free::Bend(_) => d.abs() / 0.5,
            Free::Length(i) => d.abs() / (0.5 * lengths[*i] + reach),
            Free::Curvature(_) | Free::Torsion(_) => 0.0,
        })
        .fold(0.0, f64::max);
    if longest > 1.0 {
        by.iter_mut().for_each(|d| *d /= longest);
    }
}

/// A step for the derivative by `f` that is small against the section and the path.
pub fn probe_step(f: Free, reach: f64, length: f64) -> f64 {
    match f {
        Free::Turn(2) => 1e-6,
        Free::Turn(_) => 1e-5 / (1.0 + length / reach.max(1e-9)).max(1.0),
        Free::Curvature(_) => 1e-4 / (length * length).max(reach * reach),
        Free::Bend(_) => 1e-6,
        Free::Torsion(_) => 1e-4 / (length * length).max(reach * reach),
        _ => 1e-5 * reach.max(1e-3),
    }
}
