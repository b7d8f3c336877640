//! Sections: contours with their round corners cut into chords, corners of the chords on the arcs.

use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::{Point2, Vector2};

pub type P2 = Point2<f64>;

/// A flat wall of a section, between two edges it can be drilled through.
#[derive(Clone, Copy, Debug)]
pub struct Wall {
    /// Out of the metal at the first edge.
    pub normal: Vector2<f64>,
    /// Contour and number of its first corner, for both faces.
    pub faces: [(usize, usize); 2],
}

/// Contours (the outer first, anticlockwise; a tube's inner has as many corners) and flat walls.
#[derive(Clone, Debug)]
pub struct Section {
    pub contours: Vec<Vec<P2>>,
    pub walls: Vec<Wall>,
}

/// Chords of a quarter turn.
const QUARTER: usize = 4;

fn p(x: f64, y: f64) -> P2 {
    Point2::new(x, y)
}

/// Arc of a quarter turn about `c`, both ends included.
fn quarter(c: P2, radius: f64, from: f64, by: f64) -> impl Iterator<Item = P2> {
    (0..=QUARTER).map(move |k| {
        let a = from + by * k as f64 / QUARTER as f64;
        p(c.x + radius * a.cos(), c.y + radius * a.sin())
    })
}

fn rounded(width: f64, height: f64, radius: f64, sides: &[f64]) -> Vec<P2> {
    let (x, y) = (width / 2.0 - radius, height / 2.0 - radius);
    let mut out = Vec::new();
    let corners = [(x, -y), (x, y), (-x, y), (-x, -y)];
    for (k, (cx, cy)) in corners.into_iter().enumerate() {
        let from = FRAC_PI_2 * (k as f64 - 1.0);
        out.extend(quarter(p(cx, cy), radius, from, FRAC_PI_2));
        // corners where the faces at ±x are broken by a second cut
        match k {
            0 => out.extend(sides.iter().map(|&at| p(width / 2.0, at))),
            2 => out.extend(sides.iter().rev().map(|&at| p(-width / 2.0, at))),
            _ => {}
        }
    }
    out
}

/// Square or rectangular tube; width along x. `broken` are heights at which the sides get a corner.
pub fn tube(width: f64, height: f64, wall: f64, radii: [f64; 2], broken: &[f64]) -> Section {
    let outer = rounded(width, height, radii[0], broken);
    let inner = rounded(width - 2.0 * wall, height - 2.0 * wall, radii[1], broken);
    let n = outer.len();
    let (q, b) = (QUARTER, broken.len());
    // Edge after each quarter; where a side is broken, its longest piece below the break.
    let edges = [q, 2 * q + 1 + b, 3 * q + 2 + b, n - 1];
    let normals = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
    let walls = (0..4).map(|k| Wall {
        normal: Vector2::new(normals[k].0, normals[k].1),
        faces: [
            (0, edges[k] + if k == 2 { b } else { 0 }),
            (1, edges[k] + if k == 2 { b } else { 0 }),
        ],
    });
    let walls = walls.collect();
    Section {
        contours: vec![outer, inner],
        walls,
    }
}

/// Round tube.
pub fn round(diameter: f64, wall: f64) -> Section {
    let ring = |r: f64| {
        (0..36)
            .map(|k| TAU * f64::from(k) / 36.0)
            .map(|a| p(r * a.cos(), r * a.sin()))
            .collect()
    };
    Section {
        contours: vec![ring(diameter / 2.0), ring(diameter / 2.0 - wall)],
        walls: Vec::new(),
    }
}

/// Solid strip; width along x. The first wall is drilled along y.
pub fn strip(width: f64, thickness: f64) -> Section {
    let (x, y) = (width / 2.0, thickness / 2.0);
    Section {
        contours: vec![vec![p(-x, -y), p(x, -y), p(x, y), p(-x, y)]],
        walls: vec![Wall {
            normal: Vector2::new(0.0, -1.0),
            faces: [(0, 0), (0, 2)],
        }],
    }
}

/// Equal angle: heel at the origin, legs along x and y, toes sharp. Walls: the leg along x, drilled
/// along y; the leg along y, drilled along x.
pub fn angle(leg: f64, thickness: f64, root: f64) -> Section {
    let (l, t, r) = (leg, thickness, root);
    let mut c = vec![p(0.0, 0.0), p(l, 0.0), p(l, t)];
    c.extend(quarter(p(t + r, t + r), r, -FRAC_PI_2, -FRAC_PI_2));
    c.extend([p(t, l), p(0.0, l)]);
    let n = c.len();
    Section {
        walls: vec![
            Wall {
                normal: Vector2::new(0.0, -1.0),
                faces: [(0, 0), (0, 2)],
            },
            Wall {
                normal: Vector2::new(-1.0, 0.0),
                faces: [(0, n - 1), (0, n - 3)],
            },
        ],
        contours: vec![c],
    }
}

/// Channel with parallel flanges: back of the web on x = 0, flanges along x, height along y. Walls:
/// the web, drilled along x; the upper flange, drilled along y.
pub fn channel(height: f64, flange: f64, web: f64, thickness: f64, root: f64) -> Section {
    let (h, b, w, t, r) = (height / 2.0, flange, web, thickness, root);
    let mut c = vec![p(0.0, -h), p(b, -h), p(b, t - h)];
    c.extend(quarter(p(w + r, t - h + r), r, -FRAC_PI_2, -FRAC_PI_2));
    c.extend(quarter(p(w + r, h - t - r), r, 2.0 * FRAC_PI_2, -FRAC_PI_2));
    c.extend([p(b, h - t), p(b, h), p(0.0, h)]);
    let n = c.len();
    Section {
        walls: vec![
            Wall {
                normal: Vector2::new(-1.0, 0.0),
                faces: [(0, n - 1), (0, 3 + QUARTER)],
            },
            Wall {
                normal: Vector2::new(0.0, 1.0),
                faces: [(0, n - 2), (0, n - 4)],
            },
        ],
        contours: vec![c],
    }
}

/// Strip folded once by 90°: outer corner at the origin, flanges along x and y to `x` and `y` over the
/// outside, inner and outer arc about one centre. The wall is the flange along x.
pub fn folded(x: f64, y: f64, thickness: f64, inside: f64) -> Section {
    let (t, r) = (thickness, inside);
    let o = t + r;
    let mut c = vec![p(x, 0.0), p(x, t)];
    c.extend(quarter(p(o, o), r, -FRAC_PI_2, -FRAC_PI_2));
    c.extend([p(t, y), p(0.0, y)]);
    c.extend(quarter(p(o, o), o, 2.0 * FRAC_PI_2, FRAC_PI_2));
    let n = c.len();
    Section {
        walls: vec![Wall {
            normal: Vector2::new(0.0, -1.0),
            faces: [(0, n - 1), (0, 1)],
        }],
        contours: vec![c],
    }
}
