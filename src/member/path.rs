//! A path in space made of screw motions: straights, arcs and helices are one formula.

use crate::geometry::{Pt3, Vec3};

/// A place on a path with its section axes: (w, h, t) is right-handed, t is the direction of travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Point on the path, mm.
    pub point: Pt3,
    /// Width axis.
    pub w: Vec3,
    /// Height axis.
    pub h: Vec3,
    /// Direction of travel.
    pub t: Vec3,
}

/// A piece of the path with constant curvature and torsion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Length, mm. The first and the last piece of a path are carried on past their ends.
    pub length: f64,
    /// Curvature, 1/mm, towards `cos(bend)·h − sin(bend)·w`; zero for a straight.
    pub curvature: f64,
    /// Direction of the centre of curvature about t, from h towards −w, radians.
    pub bend: f64,
    /// Torsion, 1/mm; zero for straights and arcs.
    pub torsion: f64,
}

impl Piece {
    /// A straight piece.
    pub fn straight(length: f64) -> Self {
        Piece {
            length,
            curvature: 0.0,
            bend: 0.0,
            torsion: 0.0,
        }
    }
}

/// A path: a start frame and pieces carried on without kinks.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Frame at distance 0.
    pub start: Frame,
    /// Pieces in order.
    pub pieces: Vec<Piece>,
    /// Motion along each piece, from its start.
    screws: Vec<Screw>,
    /// Distance at the start of each piece.
    starts: Vec<f64>,
}

/// A point seen from the path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Local {
    /// Along the width axis, mm.
    pub x: f64,
    /// Along the height axis, mm.
    pub y: f64,
    /// Distance along the path, mm.
    pub s: f64,
}

/// The frame carried `s` along a piece that starts at `f`.
pub fn carry(f: &Frame, piece: &Piece, s: f64) -> Frame {
    Screw::new(f, piece).carry(s)
}

/// The motion along one piece: a rigid motion about one screw axis (exponential of a twist; Murray,
/// Li and Sastry, "A mathematical introduction to robotic manipulation", 1994, ch. 2), with all that
/// does not change along it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    start: Frame,
    /// Sine and cosine of the direction of the centre of curvature.
    bend: (f64, f64),
    /// Angle about the axis per mm.
    rate: f64,
    /// The part of t along the axis.
    along: Vec3,
    /// axis × w, h, t.
    turned: [Vec3; 3],
    /// The parts of w, h, t square to the axis.
    across: [Vec3; 3],
}

impl Screw {
    /// The motion along a piece that starts at `f`.
    pub fn new(f: &Frame, piece: &Piece) -> Screw {
        let (sin, cos) = piece.bend.sin_cos();
        let omega = f.t.cross(&(f.h * cos - f.w * sin)) * piece.curvature + f.t * piece.torsion;
        let rate = omega.norm();
        let axis = if rate > 0.0 { omega / rate } else { f.t };
        let part = |v: &Vec3| axis * axis.dot(v);
        Screw {
            start: *f,
            bend: (sin, cos),
            rate,
            along: part(&f.t),
            turned: [axis.cross(&f.w), axis.cross(&f.h), axis.cross(&f.t)],
            across: [f.w - part(&f.w), f.h - part(&f.h), f.t - part(&f.t)],
        }
    }

    /// The start frame carried by `s`.
    pub fn carry(&self, s: f64) -> Frame {
        let f = &self.start;
        let angle = self.rate * s;
        if angle.abs() < 1e-12 {
            return Frame {
                point: f.point + f.t * s,
                ..*f
            };
        }
        let (sin, cos) = angle.sin_cos();
        // 1 − cos without losing digits where the angle is small
        let versed = if cos > 0.0 {
            sin * sin / (1.0 + cos)
        } else {
            1.0 - cos
        };
        let turn = |v: &Vec3, k: usize| v + self.turned[k] * sin - self.across[k] * versed;
        // ∫ exp(u ω) t du = s·along + across·sin/ω + (axis × t)·(1 − cos)/ω
        let shift = self.along * s
            + self.across[2] * (sin / self.rate)
            + self.turned[2] * (versed / self.rate);
        Frame {
            point: f.point + shift,
            w: turn(&f.w, 0),
            h: turn(&f.h, 1),
            t: turn(&f.t, 2),
        }
    }
}

/// `p` seen from a piece along `screw`, nearest to distance `near` along it.
fn local(screw: &Screw, piece: &Piece, p: &Pt3, near: f64) -> Local {
    let f = &screw.start;
    let d = p - f.point;
    let (sin, cos) = screw.bend;
    if piece.torsion == 0.0 {
        let c = f.h * cos - f.w * sin;
        let k = piece.curvature;
        let along = d.dot(&f.t);
        let towards = d.dot(&c);
        if (k * along).abs() < 1e-7 && (k * towards).abs() < 1e-7 {
            // nearly straight: first terms of the series, exact to far below any file's resolution
            let s = along * (1.0 + k * towards);
            let q = towards - 0.5 * k * along * along;
            let z = -(f.w * cos + f.h * sin).dot(&d);
            return Local {
                x: -q * sin - z * cos,
                y: q * cos - z * sin,
                s,
            };
        }
        let r = 1.0 / k;
        let (mut angle, reach);
        if r > 0.0 {
            angle = along.atan2(r - towards);
            reach = r - along.hypot(r - towards);
        } else {
            angle = -along.atan2(towards - r);
            reach = r + along.hypot(r - towards);
        }
        let turn = std::f64::consts::TAU;
        angle += turn * ((near * k - angle) / turn).round();
        let z = -(f.w * cos + f.h * sin).dot(&d);
        return Local {
            x: -reach * sin - z * cos,
            y: reach * cos - z * sin,
            s: angle / k,
        };
    }
    let mut s = near;
    let mut g = screw.carry(s);
    for _ in 0..30 {
        let e = p - g.point;
        let miss = e.dot(&g.t);
        let towards = e.dot(&(g.h * cos - g.w * sin));
        let slope = (1.0 - piece.curvature * towards).max(0.2);
        s += miss / slope;
        g = screw.carry(s);
        if miss.abs() < 1e-10 * (1.0 + s.abs()) {
            break;
        }
    }
    let e = p - g.point;
    Local {
        x: e.dot(&g.w),
        y: e.dot(&g.h),
        s,
    }
}

impl Path {
    /// A path from its start frame and pieces.
    pub fn new(start: Frame, pieces: Vec<Piece>) -> Self {
        let mut screws = Vec::with_capacity(pieces.len());
        let mut starts = Vec::with_capacity(pieces.len());
        let mut f = start;
        let mut s = 0.0;
        for piece in &pieces {
            let screw = Screw::new(&f, piece);
            screws.push(screw);
            starts.push(s);
            f = screw.carry(piece.length);
            s += piece.length;
        }
        Path {
            start,
            pieces,
            screws,
            starts,
        }
    }

    /// Distance at which piece `i` starts, mm.
    pub fn start_of(&self, i: usize) -> f64 {
        self.starts[i]
    }

    /// Frame at the start of piece `i`.
    pub fn frame_of(&self, i: usize) -> &Frame {
        &self.screws[i].start
    }

    /// Sine and cosine of the bend direction of piece `i`.
    pub fn bend_of(&self, i: usize) -> (f64, f64) {
        self.screws[i].bend
    }

    /// Frame `s` past the start of piece `i`, on its screw.
    pub fn carried(&self, i: usize, s: f64) -> Frame {
        self.screws[i].carry(s)
    }

    /// Sum of the lengths of the pieces, mm.
    pub fn length(&self) -> f64 {
        self.pieces.iter().map(|p| p.length).sum()
    }

    /// Index of the piece that holds distance `s`; the first and last reach past their ends.
    pub fn piece_at(&self, s: f64) -> usize {
        self.starts.iter().rposition(|&a| a <= s).unwrap_or(0)
    }

    /// Frame at distance `s`.
    pub fn at(&self, s: f64) -> Frame {
        let i = self.piece_at(s);
        self.carried(i, s - self.starts[i])
    }

    /// `p` seen from the path, nearest to distance `near`, and the index of the piece it lies beside.
    pub fn local(&self, p: &Pt3, near: f64) -> (Local, usize) {
        let mut i = self.piece_at(near);
        let mut guess = near;
        let last = self.pieces.len() - 1;
        for _ in 0..=2 * self.pieces.len() {
            let mut l = local(&self.screws[i], &self.pieces[i], p, guess - self.starts[i]);
            l.s += self.starts[i];
            if l.s < self.starts[i] && i > 0 {
                // the joint plane is shared: on the boundary either side gives the same answer
                let mut m = local(
                    &self.screws[i - 1],
                    &self.pieces[i - 1],
                    p,
                    self.starts[i] - self.starts[i - 1],
                );
                m.s += self.starts[i - 1];
                if m.s <= self.starts[i] {
                    i -= 1;
                    guess = m.s;
                    if m.s >= self.starts[i] || i == 0 {
                        return (m, i);
                    }
                    continue;
                }
                return (l, i);
            }
            if i < last && l.s > self.starts[i + 1] {
                i += 1;
                guess = self.starts[i];
                continue;
            }
            return (l, i);
        }
        let mut l = local(&self.screws[i], &self.pieces[i], p, near - self.starts[i]);
        l.s += self.starts[i];
        (l, i)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start() -> Frame {
        Frame {
            point: Pt3::new(3.0, -2.0, 7.0),
            w: Vec3::x(),
            h: Vec3::y(),
            t: Vec3::z(),
        }
    }

    #[test]
    fn points_beside_a_path_are_found_again() {
        let path = Path::new(
            start(),
            vec![
                Piece::straight(100.0),
                Piece {
                    length: 300.0,
                    curvature: 1.0 / 120.0,
                    bend: 0.4,
                    torsion: 0.0,
                },
                Piece::straight(50.0),
                Piece {
                    length: 500.0,
                    curvature: 1.0 / 200.0,
                    bend: -2.0,
                    torsion: 1.0 / 900.0,
                },
            ],
        );
        for k in 0..95 {
            let s = 10.0 * k as f64 + 1.0;
            let f = path.at(s);
            let p = f.point + f.w * 11.0 - f.h * 7.0;
            let (l, _) = path.local(&p, s + 9.0);
            assert!((l.s - s).abs() < 1e-7, "s {s}: {l:?}");
            assert!(
                (l.x - 11.0).abs() < 1e-7 && (l.y + 7.0).abs() < 1e-7,
                "s {s}: {l:?}"
            );
        }
    }

    #[test]
    fn an_arc_returns_after_a_full_turn() {
        let piece = Piece {
            length: 0.0,
            curvature: 1.0 / 80.0,
            bend: 1.0,
            torsion: 0.0,
        };
        let f = carry(&start(), &piece, std::f64::consts::TAU * 80.0);
        assert!((f.point - start().point).norm() < 1e-9 && (f.t - Vec3::z()).norm() < 1e-12);
    }
}
