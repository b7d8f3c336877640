//! Big models, the same every time: one finely meshed tube, and many separate pieces.

use std::f64::consts::TAU;
use std::io::Write;
use std::path::Path;

/// Triangles of a model, corners in millimetres.
pub type Triangles = Vec<[[f32; 3]; 3]>;

/// A round tube Ø60 x 4 rolled to R 3000 over 100 degrees in about `count` facets.
pub fn tube(count: usize) -> Triangles {
    // outside and inside, two facets for each of `round` x `along` quads
    let round = ((count as f64 / 20.0).sqrt() as usize).max(8) / 4 * 4;
    let along = (count / (4 * round)).max(2);
    let mut out = Vec::with_capacity(count + count / 8);
    let sweep = Sweep {
        centre: [0.0; 3],
        radius: Some(3000.0),
        length: 100f64.to_radians(),
        cuts: [0.3, -0.2],
        along,
    };
    sweep.tube(&ring(round, 30.0), &ring(round, 26.0), &mut out);
    out
}

/// Straight and rolled tubes, round and square, each of its own length, about `count` facets in all.
pub fn pieces(count: usize, each: usize) -> Triangles {
    let mut out = Vec::with_capacity(count + count / 8);
    let mut seed = Seed(20_261_129);
    let mut i = 0usize;
    while out.len() < count {
        let square = i.is_multiple_of(3);
        let side = if square { 4 } else { 24 };
        let along = (each / (4 * side)).max(1);
        let rolled = !i.is_multiple_of(4);
        let wide = 20.0 + 5.0 * (seed.next() * 7.0).floor();
        let wall = 2.0 + (seed.next() * 4.0).floor();
        let sweep = Sweep {
            centre: [(i % 32) as f64 * 3000.0, (i / 32) as f64 * 3000.0, 0.0],
            radius: rolled.then(|| 600.0 + 10.0 * (seed.next() * 80.0).floor()),
            length: if rolled {
                0.4 + seed.next()
            } else {
                300.0 + 900.0 * seed.next()
            },
            cuts: [0.4 * seed.next(), 0.4 * seed.next() - 0.2],
            along: if rolled { along.max(8) } else { along },
        };
        let outline = |half: f64| {
            if square {
                [[1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]]
                    .map(|[x, y]: [f64; 2]| [x * half, y * half])
                    .to_vec()
            } else {
                ring(side, half)
            }
        };
        sweep.tube(&outline(wide), &outline(wide - wall), &mut out);
        i += 1;
    }
    out
}

fn ring(n: usize, radius: f64) -> Vec<[f64; 2]> {
    (0..n)
        .map(|k| {
            let (sin, cos) = (TAU * k as f64 / n as f64).sin_cos();
            [radius * cos, radius * sin]
        })
        .collect()
}

/// A section moved about the z axis, or along y.
struct Sweep {
    centre: [f64; 3],
    /// Centreline radius, mm; `None` for a straight piece.
    radius: Option<f64>,
    /// Angle in radians, or length in mm.
    length: f64,
    /// How far each end is off square, radians.
    cuts: [f64; 2],
    along: usize,
}

impl Sweep {
    /// The corner of the section at (x, y), a share `t` of the way.
    fn at(&self, [x, y]: [f64; 2], t: f64) -> [f32; 3] {
        let p = match self.radius {
            None => {
                let [a, b] = self.cuts.map(|c| c.tan() * x);
                [x, a * (1.0 - t) + (self.length + b) * t, y]
            }
            Some(radius) => {
                // a plane through the centreline point, turned by the cut, meets the circle of the
                // fibre at this angle
                let r = radius + x;
                let [a, b] = self.cuts.map(|c| c - (radius * c.sin() / r).asin());
                let (sin, cos) = (a * (1.0 - t) + (self.length + b) * t).sin_cos();
                [r * cos, r * sin, y]
            }
        };
        [0, 1, 2].map(|k| (p[k] + self.centre[k]) as f32)
    }

    fn tube(&self, outer: &[[f64; 2]], inner: &[[f64; 2]], out: &mut Triangles) {
        let n = outer.len();
        let mut quad = |a: [f32; 3], b: [f32; 3], c: [f32; 3], d: [f32; 3]| {
            out.push([a, b, c]);
            out.push([a, c, d]);
        };
        let t = |i: usize| i as f64 / self.along as f64;
        for i in 0..self.along {
            for k in 0..n {
                let l = (k + 1) % n;
                let (o, m) = ([outer[k], outer[l]], [inner[k], inner[l]]);
                let (s, e) = (t(i), t(i + 1));
                quad(
                    self.at(o[0], s),
                    self.at(o[0], e),
                    self.at(o[1], e),
                    self.at(o[1], s),
                );
                quad(
                    self.at(m[0], s),
                    self.at(m[1], s),
                    self.at(m[1], e),
                    self.at(m[0], e),
                );
            }
        }
        for k in 0..n {
            let l = (k + 1) % n;
            for (at, from, to) in [(0.0, k, l), (1.0, l, k)] {
                quad(
                    self.at(outer[from], at),
                    self.at(outer[to], at),
                    self.at(inner[to], at),
                    self.at(inner[from], at),
                );
            }
        }
    }
}

/// A small generator of repeatable numbers (64-bit xorshift; Marsaglia, "Xorshift RNGs", 2003).
struct Seed(u64);

impl Seed {
    /// The next number, 0 to 1.
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// How a model is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum As {
    Binary,
    Text,
    Obj,
}

/// Writes a model; normals are left at nought, as some exporters do.
pub fn write(path: &Path, triangles: &Triangles, form: As) -> std::io::Result<()> {
    let mut file = std::io::BufWriter::new(std::fs::File::create(path)?);
    match form {
        As::Binary => {
            file.write_all(&[0; 80])?;
            file.write_all(&(triangles.len() as u32).to_le_bytes())?;
            for t in triangles {
                file.write_all(&[0; 12])?;
                for x in t.iter().flatten() {
                    file.write_all(&x.to_le_bytes())?;
                }
                file.write_all(&[0; 2])?;
            }
        }
        As::Text => {
            writeln!(file, "solid bench")?;
            for t in triangles {
                writeln!(file, "facet normal 0 0 0\n outer loop")?;
                for [x, y, z] in t {
                    writeln!(file, "  vertex {x} {y} {z}")?;
                }
                writeln!(file, " endloop\nendfacet")?;
            }
            writeln!(file, "endsolid bench")?;
        }
        As::Obj => {
            let mut number = std::collections::HashMap::new();
            let mut faces = Vec::with_capacity(triangles.len());
            for t in triangles {
                let mut face = [0; 3];
                for (k, p) in t.iter().enumerate() {
                    let next = number.len() + 1;
                    face[k] = *number.entry(p.map(f32::to_bits)).or_insert(next);
                    if face[k] == next {
                        writeln!(file, "v {} {} {}", p[0], p[1], p[2])?;
                    }
                }
                faces.push(face);
            }
            for [a, b, c] in faces {
                writeln!(file, "f {a} {b} {c}")?;
            }
        }
    }
    file.flush()
}
