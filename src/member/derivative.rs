//! How residuals answer to the free numbers of a model.
//!
//! A number of the path moves every later frame as a rigid body, by u + ω × r (Murray, Li and Sastry,
//! "A mathematical introduction to robotic manipulation", 1994, ch. 2). A vertex stays where it is, so
//! its section coordinates move the other way. The foot's slide along the path changes them only
//! where the axes twist.

use nalgebra::DVector;

use super::freedom::{Free, moved};
use super::lateral::Observation;
use super::model::{Model, squeezed};
use super::path::{Frame, Local, Path, Screw};
use super::profile::{Pt2, Vec2};
use super::residual::{Corners, Outline};
use crate::geometry::{Pt3, Vec3};

/// A vertex and the frame at its foot on the path.
pub struct Foot {
    point: Pt3,
    local: Local,
    piece: usize,
    /// Distance of the foot from the start of its piece, mm.
    along: f64,
    frame: Frame,
}

impl Foot {
    /// The foot of `point`, which lies near distance `near`.
    pub fn new(path: &Path, point: &Pt3, near: f64) -> Foot {
        let (local, piece) = path.local(point, near);
        let along = local.s - path.start_of(piece);
        Foot {
            point: *point,
            local,
            piece,
            along,
            frame: path.carried(piece, along),
        }
    }

    /// Section coordinates and distance along the path.
    pub fn local(&self) -> &Local {
        &self.local
    }
}

/// How fast a rigid body moves: `shift` at the point `about`, turning at `turn`.
struct Twist {
    shift: Vec3,
    turn: Vec3,
    about: Pt3,
}

impl Twist {
    /// From one frame to another in a step.
    fn between(from: &Frame, to: &Frame, step: f64) -> Twist {
        let turned = from.w.cross(&(to.w - from.w))
            + from.h.cross(&(to.h - from.h))
            + from.t.cross(&(to.t - from.t));
        Twist {
            shift: (to.point - from.point) / step,
            turn: turned * (0.5 / step),
            about: from.point,
        }
    }

    fn at(&self, p: &Pt3) -> Vec3 {
        self.shift + self.turn.cross(&(p - self.about))
    }
}

/// What a number of the path moves.
enum Motion {
    /// The whole path.
    Whole(Twist),
    /// What follows a piece, and the piece itself when it changes as it goes.
    After {
        piece: usize,
        changed: Option<Box<Screw>>,
        step: f64,
        rest: Twist,
    },
}

impl Motion {
    fn of(path: &Path, number: Free, step: f64) -> Option<Motion> {
        let start = path.start;
        let still = Vec3::zeros();
        let (piece, mut changed) = match number {
            Free::Turn(k) => {
                return Some(Motion::Whole(Twist {
                    shift: still,
                    turn: [start.w, start.h, start.t][k],
                    about: start.point,
                }));
            }
            Free::Shift(k) => {
                return Some(Motion::Whole(Twist {
                    shift: [start.w, start.h][k],
                    turn: still,
                    about: start.point,
                }));
            }
            Free::Length(i) | Free::Curvature(i) | Free::Bend(i) | Free::Torsion(i) => {
                (i, path.pieces[i])
            }
            _ => return None,
        };
        let p = path.pieces[piece];
        let end = path.carried(piece, p.length);
        match number {
            Free::Curvature(_) => changed.curvature += step,
            Free::Bend(_) => changed.bend += step,
            Free::Torsion(_) => changed.torsion += step,
            _ => {
                return Some(Motion::After {
                    piece,
                    changed: None,
                    step,
                    // a longer bend also turns further
                    rest: Twist {
                        shift: end.t,
                        turn: end.t.cross(&(end.h * p.bend.cos() - end.w * p.bend.sin()))
                            * p.curvature
                            + end.t * p.torsion,
                        about: end.point,
                    },
                });
            }
        }
        let changed = Screw::new(path.frame_of(piece), &changed);
        Some(Motion::After {
            piece,
            step,
            rest: Twist::between(&end, &changed.carry(p.length), step),
            changed: Some(Box::new(changed)),
        })
    }

    /// How fast the section at `foot` carries the vertex with it.
    fn at(&self, foot: &Foot) -> Option<Vec3> {
        match self {
            Motion::Whole(twist) => Some(twist.at(&foot.point)),
            Motion::After {
                piece,
                changed,
                step,
                rest,
            } => {
                if foot.piece > *piece {
                    return Some(rest.at(&foot.point));
                }
                let changed = changed.as_ref().filter(|_| foot.piece == *piece)?;
                let to = changed.carry(foot.along);
                Some(Twist::between(&foot.frame, &to, *step).at(&foot.point))
            }
        }
    }
}

/// How the section coordinates of the feet answer to a number of the path; `None` for a number of the
/// profile.
pub fn of_path(path: &Path, number: Free, step: f64, feet: &[Foot]) -> Option<Vec<Vec2>> {
    let motion = Motion::of(path, number, step)?;
    let answer = feet.iter().map(|foot| {
        let Some(v) = motion.at(foot) else {
            return Vec2::zeros();
        };
        let f = &foot.frame;
        let mut d = -Vec2::new(f.w.dot(&v), f.h.dot(&v));
        let p = &path.pieces[foot.piece];
        if p.torsion != 0.0 {
            let (sin, cos) = path.bend_of(foot.piece);
            let towards = -foot.local.x * sin + foot.local.y * cos;
            let slide = -f.t.dot(&v) / (1.0 - p.curvature * towards).max(0.2);
            d += Vec2::new(foot.local.y, -foot.local.x) * (p.torsion * slide);
        }
        d
    });
    Some(answer.collect())
}

/// Derivatives of [`super::residual::residuals`] by each free number, a column each.
pub fn columns(
    model: &Model,
    free: &[Free],
    steps: &[f64],
    observations: &[Observation],
) -> Vec<DVector<f64>> {
    let last = model.profile.contours.len() - 1;
    let feet: Vec<Foot> = observations
        .iter()
        .map(|o| Foot::new(&model.path, &o.point, o.near))
        .collect();
    let places: Vec<Pt2> = feet
        .iter()
        .map(|f| squeezed(model, &f.local, f.piece))
        .collect();
    let value = |outline: &Outline, corners: &Corners, i: usize| {
        let contour = observations[i].contour.min(last);
        match observations[i].sharp {
            true => match corners.sides(contour, &places[i]) {
                Some((a, b)) => [a, b],
                None => [outline.signed(contour, &places[i]), 0.0],
            },
            false => [outline.signed(contour, &places[i]), 0.0],
        }
    };
    let (outline, corners) = (Outline::new(&model.profile), Corners::new(&model.profile));
    let normals: Vec<[Vec2; 2]> = observations
        .iter()
        .zip(&places)
        .map(|(o, q)| {
            let contour = o.contour.min(last);
            let sharp = o.sharp.then(|| corners.normals(contour, q)).flatten();
            sharp.unwrap_or_else(|| [outline.normal(contour, q), Vec2::zeros()])
        })
        .collect();
    let base: Vec<[f64; 2]> = (0..places.len())
        .map(|i| value(&outline, &corners, i))
        .collect();
    let column = |of: &dyn Fn(usize) -> [f64; 2]| {
        let both: Vec<[f64; 2]> = (0..places.len()).map(of).collect();
        let second = both
            .iter()
            .zip(observations)
            .filter(|(_, o)| o.sharp)
            .map(|(x, _)| x[1]);
        DVector::from_vec(both.iter().map(|x| x[0]).chain(second).collect())
    };
    free.iter()
        .zip(steps)
        .map(|(&number, &step)| {
            if let Some(moves) = of_path(&model.path, number, step, &feet) {
                return column(&|i| {
                    let d = stretched(model, feet[i].piece, feet[i].local.s, moves[i]);
                    normals[i].map(|n| n.dot(&d))
                });
            }
            let changed = moved(model, &[number], &[step]).profile;
            let (outline, corners) = (Outline::new(&changed), Corners::new(&changed));
            let contour = number.contour();
            column(&|i| {
                if contour != Some(observations[i].contour.min(last)) {
                    return [0.0; 2];
                }
                let now = value(&outline, &corners, i);
                [0, 1].map(|k| (now[k] - base[i][k]) / step)
            })
        })
        .collect()
}

/// A small move in section coordinates as [`squeezed`] carries it.
fn stretched(model: &Model, piece: usize, s: f64, d: Vec2) -> Vec2 {
    if model.stretch[piece] == 1.0 {
        return d;
    }
    let still = squeezed(model, &Local { x: 0.0, y: 0.0, s }, piece);
    let to = squeezed(model, &Local { x: d.x, y: d.y, s }, piece);
    to - still
}

#[cfg(test)]
mod tests {
    use super::super::path::Piece;
    use super::*;
    use crate::member::freedom::{free_numbers, probe_step};
    use crate::member::profile::{Contour, Profile, Side};
    use crate::member::residual::residuals;

    fn model(torsion: f64) -> Model {
        let start = Frame {
            point: Pt3::new(3.0, -2.0, 7.0),
            w: Vec3::x(),
            h: Vec3::y(),
            t: Vec3::z(),
        };
        let arc = |length: f64, radius: f64, bend: f64, torsion: f64| Piece {
            length,
            curvature: 1.0 / radius,
            bend,
            torsion,
        };
        let pieces = vec![
            Piece::straight(100.0),
            arc(300.0, 120.0, 0.4, 0.0),
            Piece::straight(50.0),
            arc(200.0, 200.0, -2.0, torsion),
        ];
        let side = |k: usize| Side {
            normal: std::f64::consts::FRAC_PI_2 * k as f64,
            offset: if k.is_multiple_of(2) { 30.0 } else { 20.0 },
            corner: 5.0,
        };
        Model {
            stretch: vec![1.0, 1.01, 1.0, 1.0],
            stretched_between: [f64::NEG_INFINITY, f64::INFINITY],
            path: Path::new(start, pieces),
            profile: Profile {
                contours: vec![Contour::Sides((0..4).map(side).collect())],
            },
        }
    }

    #[test]
    fn derivatives_agree_with_differences() {
        for torsion in [0.0, 1.0 / 900.0] {
            let model = model(torsion);
            let observations: Vec<Observation> = (0..60)
                .map(|k| {
                    let s = 10.0 * k as f64 + 3.0;
                    let f = model.path.at(s);
                    let (x, y) = [(30.2, 7.0), (-11.0, 20.1), (-29.7, 3.0), (28.9, 18.6)][k % 4];
                    Observation {
                        vertex: 0,
                        point: f.point + f.w * x + f.h * y,
                        contour: 0,
                        near: s,
                        interior: true,
                        sharp: false,
                    }
                })
                .collect();
            let free = free_numbers(&model);
            let steps: Vec<f64> = free
                .iter()
                .map(|&f| probe_step(f, 36.0, model.path.length()))
                .collect();
            let columns = columns(&model, &free, &steps, &observations);
            for (k, column) in columns.iter().enumerate() {
                let mut by = vec![0.0; free.len()];
                by[k] = steps[k];
                let up = residuals(&moved(&model, &free, &by), &observations);
                by[k] = -steps[k];
                let down = residuals(&moved(&model, &free, &by), &observations);
                let largest = column.amax().max(1e-9);
                for i in 0..observations.len() {
                    let slope = (up[i] - down[i]) / (2.0 * steps[k]);
                    // the bend's own stretch is left out: a hundredth of the distance
                    let allowed = 0.02 * largest;
                    assert!(
                        (column[i] - slope).abs() < allowed,
                        "{:?} at {i}: {} for {slope}",
                        free[k],
                        column[i]
                    );
                }
            }
        }
    }
}
