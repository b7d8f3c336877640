//! Flat plates: an outline with holes moved through a thickness.

use std::f64::consts::TAU;

use super::section::P2;
use super::solid::{P3, Solid};
use super::sweep::Frame;

/// A round hole: middle and diameter.
pub type Hole = (f64, f64, f64);

/// Corners of a rectangle about the origin.
pub fn rectangle(length: f64, width: f64) -> Vec<P2> {
    let (x, y) = (length / 2.0, width / 2.0);
    [(-x, -y), (x, -y), (x, y), (-x, y)]
        .map(|(x, y)| P2::new(x, y))
        .to_vec()
}

/// The plate: outline in width and height of the frame, thickness along it. Where a tube is one with
/// the plate, `foot` holds the tube's contours where it stands on the far face.
pub fn plate(
    name: &str,
    outline: &[P2],
    holes: &[Hole],
    thickness: f64,
    frame: &Frame,
    foot: &[Vec<P2>],
) -> Solid {
    let mut out = Solid {
        name: name.to_owned(),
        ..Solid::default()
    };
    let at = |p: &P2, z: f64| frame.at + frame.width * p.x + frame.height * p.y + frame.along * z;
    let lift = |ring: &[P2], z: f64| ring.iter().map(|p| at(p, z)).collect::<Vec<P3>>();
    let circles: Vec<Vec<P2>> = holes
        .iter()
        .map(|&(x, y, d)| {
            let turn = |k: usize| TAU * k as f64 / 24.0;
            (0..24)
                .map(|k| P2::new(x + d / 2.0 * turn(k).cos(), y + d / 2.0 * turn(k).sin()))
                .collect()
        })
        .collect();
    for (z, side) in [(0.0, -1.0), (thickness, 1.0)] {
        let mut inner: Vec<Vec<P3>> = circles.iter().map(|c| lift(c, z)).collect();
        if z > 0.0 && !foot.is_empty() {
            inner.push(lift(&foot[0], z));
            out.face(&lift(&foot[1], z), &[], frame.along);
        }
        out.face(&lift(outline, z), &inner, frame.along * side);
    }
    let middle = P2::from(
        outline
            .iter()
            .map(|p| p.coords)
            .sum::<nalgebra::Vector2<f64>>()
            / outline.len() as f64,
    );
    for i in 0..outline.len() {
        let (p, q) = (outline[i], outline[(i + 1) % outline.len()]);
        let side = if (q - p).perp(&(middle - p)) > 0.0 {
            1.0
        } else {
            -1.0
        };
        let outward = (frame.width * (q.y - p.y) - frame.height * (q.x - p.x)) * side;
        out.quad(
            [
                at(&p, 0.0),
                at(&q, 0.0),
                at(&q, thickness),
                at(&p, thickness),
            ],
            outward,
        );
    }
    for (circle, &(x, y, _)) in circles.iter().zip(holes) {
        let centre = at(&P2::new(x, y), 0.0);
        out.wall(&lift(circle, 0.0), &lift(circle, thickness), |p| {
            let r = centre - p;
            r - frame.along * r.dot(&frame.along)
        });
    }
    out
}
