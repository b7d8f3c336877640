//! A member as the fit sees it: a path, a profile, and how its sections are stretched.

use super::path::{Frame, Local, Path, Piece};
use super::profile::{Profile, Pt2};

/// A member as the fit sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// Path through the origin of the profile.
    pub path: Path,
    /// Section.
    pub profile: Profile,
    /// For each piece: how much sections between its ends are stretched towards the bend's centre
    /// (1 for true sections; 1/cos of half a facet step where flats carry the true section).
    pub stretch: Vec<f64>,
    /// Distances along the path between which sections are stretched; at the ends they are true.
    pub stretched_between: [f64; 2],
}

/// A vertex seen from the model: section coordinates with a piece's stretch taken out, and distance
/// along the path.
pub fn straightened(model: &Model, p: &crate::geometry::Pt3, near: f64) -> (Pt2, f64, usize) {
    let (l, i) = model.path.local(p, near);
    (squeezed(model, &l, i), l.s, i)
}

/// Section coordinates of a place beside piece `i` with that piece's stretch taken out.
pub fn squeezed(model: &Model, l: &Local, i: usize) -> Pt2 {
    let mut q = Pt2::new(l.x, l.y);
    let stretch = model.stretch[i];
    if stretch != 1.0 && l.s > model.stretched_between[0] && l.s < model.stretched_between[1] {
        let (sin, cos) = model.path.bend_of(i);
        let towards = -l.x * sin + l.y * cos;
        let less = towards / stretch - towards;
        q.x -= sin * less;
        q.y += cos * less;
    }
    q
}

/// The same path with its section axes turned by `roll` radians about t.
pub fn rolled(path: &Path, roll: f64) -> Path {
    let s = path.start;
    let (sin, cos) = roll.sin_cos();
    let start = Frame {
        point: s.point,
        w: s.w * cos + s.h * sin,
        h: s.h * cos - s.w * sin,
        t: s.t,
    };
    // centre direction cos(b) h − sin(b) w stays put: b measured from the turned axes is less by roll
    let pieces = path
        .pieces
        .iter()
        .map(|p| Piece {
            bend: p.bend - roll,
            ..*p
        })
        .collect();
    Path::new(start, pieces)
}

/// A piece with its curvature made positive and its bend direction in (−π, π].
pub fn tidy(piece: &Piece) -> Piece {
    let mut p = *piece;
    if p.curvature < 0.0 {
        p.curvature = -p.curvature;
        p.bend += std::f64::consts::PI;
    }
    p.bend -= std::f64::consts::TAU * (p.bend / std::f64::consts::TAU).round();
    p
}
