//! Pieces made by formula, for scans whose truth is known: tubes along an arc or a straight, plates
//! with a hole; moved about, roughened, cut down.

use nalgebra::{Point3, Rotation3, Vector3};

pub type P = Point3<f64>;

/// Normal numbers by the polar method (SIAM Review 6, 1964; from memory).
pub struct Dice(pub u64);

impl Dice {
    pub fn even(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        loop {
            let (u, v) = (2.0 * self.even() - 1.0, 2.0 * self.even() - 1.0);
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                return u * (-2.0 * s.ln() / s).sqrt();
            }
        }
    }
}

/// Triangles that share vertices.
#[derive(Clone, Default)]
pub struct Mesh {
    pub vertices: Vec<P>,
    pub facets: Vec<[u32; 3]>,
}

impl Mesh {
    /// A grid of points as facets, `close` joining its last column to the first.
    fn quads(&mut self, ids: &[Vec<u32>], close: bool, turn: bool) {
        for pair in ids.windows(2) {
            let n = pair[0].len();
            for k in 0..if close { n } else { n - 1 } {
                let j = (k + 1) % n;
                let (a, b, c, d) = (pair[0][k], pair[0][j], pair[1][j], pair[1][k]);
                for f in [[a, b, c], [a, c, d]] {
                    self.facets.push(if turn { [f[0], f[2], f[1]] } else { f });
                }
            }
        }
    }

    pub fn moved(mut self, turn: [f64; 3], shift: [f64; 3]) -> Mesh {
        let r = Rotation3::new(Vector3::from(turn));
        for v in &mut self.vertices {
            *v = r * *v + Vector3::from(shift);
        }
        self
    }

    pub fn rough(mut self, sigma: f64, seed: u64) -> Mesh {
        let mut dice = Dice(seed);
        for v in &mut self.vertices {
            for k in 0..3 {
                v[k] += sigma * dice.normal();
            }
        }
        self
    }

    /// Only the facets whose middle passes.
    pub fn kept(&self, keep: impl Fn(&P) -> bool) -> Mesh {
        let middle = |f: &[u32; 3]| {
            P::from(
                f.map(|v| self.vertices[v as usize].coords)
                    .iter()
                    .sum::<Vector3<f64>>()
                    / 3.0,
            )
        };
        Mesh {
            vertices: self.vertices.clone(),
            facets: self
                .facets
                .iter()
                .filter(|f| keep(&middle(f)))
                .copied()
                .collect(),
        }
    }

    pub fn and(mut self, other: &Mesh) -> Mesh {
        let base = self.vertices.len() as u32;
        self.vertices.extend(&other.vertices);
        self.facets
            .extend(other.facets.iter().map(|f| f.map(|v| v + base)));
        self
    }

    /// Binary STL, coordinates divided by `mm_per_unit`.
    pub fn stl(&self, mm_per_unit: f64) -> Vec<u8> {
        let mut out = vec![0; 80];
        out.extend((self.facets.len() as u32).to_le_bytes());
        for f in &self.facets {
            out.extend([0; 12]);
            for v in f {
                for x in self.vertices[*v as usize].iter() {
                    out.extend(((x / mm_per_unit) as f32).to_le_bytes());
                }
            }
            out.extend([0; 2]);
        }
        out
    }
}

/// A tube or bar along one arc or straight.
#[derive(Clone, Copy)]
pub struct Tube {
    /// Width and height of the section, or its diameter twice.
    pub size: [f64; 2],
    /// Corner radius; half the size for a round one.
    pub corner: f64,
    pub wall: f64,
    /// Centreline radius, or none.
    pub radius: Option<f64>,
    pub length: f64,
    /// Turn of the section from one end to the other, degrees.
    pub twist: f64,
    /// Rings along the length, and points along a flat side and along a corner.
    pub rings: usize,
    pub flat: usize,
    pub round: usize,
}

impl Tube {
    fn outline(&self, inset: f64) -> Vec<[f64; 2]> {
        let [a, b] = self.size.map(|s| s / 2.0 - inset);
        let r = (self.corner - inset).max(0.0);
        let mut points = Vec::new();
        let centres = [
            [a - r, b - r],
            [r - a, b - r],
            [r - a, r - b],
            [a - r, r - b],
        ];
        for k in 0..4 {
            let start = std::f64::consts::FRAC_PI_2 * k as f64;
            let n = if r > 0.0 { self.round } else { 0 };
            for j in 0..=n {
                let t = start + std::f64::consts::FRAC_PI_2 * j as f64 / n.max(1) as f64;
                points.push([centres[k][0] + r * t.cos(), centres[k][1] + r * t.sin()]);
            }
            let last = points[points.len() - 1];
            let next = centres[(k + 1) % 4];
            let t = start + std::f64::consts::FRAC_PI_2;
            let to = [next[0] + r * t.cos(), next[1] + r * t.sin()];
            if (to[0] - last[0]).hypot(to[1] - last[1]) < 1e-9 {
                points.pop();
                continue;
            }
            for j in 1..=self.flat {
                let u = j as f64 / (self.flat + 1) as f64;
                points.push([
                    last[0] + (to[0] - last[0]) * u,
                    last[1] + (to[1] - last[1]) * u,
                ]);
            }
        }
        points
    }

    /// The point of the section at a distance along the centreline.
    pub fn point(&self, [x, y]: [f64; 2], s: f64) -> P {
        let (sin, cos) = (self.twist.to_radians() * (s / self.length - 0.5)).sin_cos();
        let (x, y) = (cos * x - sin * y, sin * x + cos * y);
        match self.radius {
            None => P::new(x, y, s),
            // The centre lies towards +y.
            Some(r) => {
                let a = s / r;
                P::new(x, r - (r - y) * a.cos(), (r - y) * a.sin())
            }
        }
    }

    pub fn mesh(&self) -> Mesh {
        let mut mesh = Mesh::default();
        let mut skins = Vec::new();
        for (inset, turn) in [(0.0, false), (self.wall, true)] {
            if inset == 0.0 && turn {
                break;
            }
            let outline = self.outline(inset);
            let ids: Vec<Vec<u32>> = (0..=self.rings)
                .map(|ring| {
                    let s = self.length * ring as f64 / self.rings as f64;
                    outline
                        .iter()
                        .map(|p| {
                            mesh.vertices.push(self.point(*p, s));
                            mesh.vertices.len() as u32 - 1
                        })
                        .collect()
                })
                .collect();
            mesh.quads(&ids, true, turn);
            skins.push(ids);
        }
        let n = skins[0][0].len();
        for (ring, turn) in [(0, true), (self.rings, false)] {
            if skins.len() == 2 {
                mesh.quads(
                    &[skins[0][ring].clone(), skins[1][ring].clone()],
                    true,
                    turn,
                );
            } else {
                let rim = skins[0][ring].clone();
                for k in 1..n - 1 {
                    let f = [rim[0], rim[k], rim[k + 1]];
                    mesh.facets.push(if turn { [f[0], f[2], f[1]] } else { f });
                }
            }
        }
        mesh
    }
}

/// A plate with one round hole: rings of points from the hole out to the rectangle.
#[derive(Clone, Copy)]
pub struct Holed {
    pub size: [f64; 2],
    pub thickness: f64,
    pub hole: [f64; 2],
    pub diameter: f64,
    /// Radius it is rolled to about an axis along y, middle of the thickness.
    pub rolled: Option<f64>,
    pub around: usize,
    pub rings: usize,
}

impl Holed {
    pub fn mesh(&self) -> Mesh {
        let [w, h] = self.size;
        let n = self.around;
        // Points around the rim, equal numbers on each side, beginning at a corner.
        let rim = |k: usize| -> [f64; 2] {
            let q = n / 4;
            let u = (k % q) as f64 / q as f64;
            match k / q {
                0 => [w * u, 0.0],
                1 => [w, h * u],
                2 => [w * (1.0 - u), h],
                _ => [0.0, h * (1.0 - u)],
            }
        };
        let place = |x: f64, y: f64, z: f64| match self.rolled {
            None => P::new(x, y, z),
            Some(r) => {
                let a = (x - w / 2.0) / r;
                P::new((r + z) * a.sin(), y, (r + z) * a.cos())
            }
        };
        let mut mesh = Mesh::default();
        let mut faces = Vec::new();
        for z in [self.thickness / 2.0, -self.thickness / 2.0] {
            let ids: Vec<Vec<u32>> = (0..=self.rings)
                .map(|ring| {
                    let u = ring as f64 / self.rings as f64;
                    (0..n)
                        .map(|k| {
                            let out = rim(k);
                            let way =
                                Vector3::new(out[0] - self.hole[0], out[1] - self.hole[1], 0.0)
                                    .normalize();
                            let r = self.diameter / 2.0;
                            let inner = [self.hole[0] + r * way.x, self.hole[1] + r * way.y];
                            let x = inner[0] + (out[0] - inner[0]) * u;
                            let y = inner[1] + (out[1] - inner[1]) * u;
                            mesh.vertices.push(place(x, y, z));
                            mesh.vertices.len() as u32 - 1
                        })
                        .collect()
                })
                .collect();
            faces.push(ids);
        }
        mesh.quads(&faces[0], true, true);
        mesh.quads(&faces[1], true, false);
        let steps = ((self.thickness / 2.0).ceil() as usize).max(1);
        for (ring, turn) in [(0, false), (self.rings, true)] {
            let mut ids = vec![faces[0][ring].clone()];
            for step in 1..steps {
                let u = step as f64 / steps as f64;
                let row = (0..n)
                    .map(|k| {
                        let a = mesh.vertices[faces[0][ring][k] as usize];
                        let b = mesh.vertices[faces[1][ring][k] as usize];
                        mesh.vertices.push(a + (b - a) * u);
                        mesh.vertices.len() as u32 - 1
                    })
                    .collect();
                ids.push(row);
            }
            ids.push(faces[1][ring].clone());
            mesh.quads(&ids, true, turn);
        }
        mesh
    }
}

/// A sheet folded along parallel lines: flats between bends, all bends the same way.
#[derive(Clone, Copy)]
pub struct Folded {
    /// Straight lengths of the flats, mm.
    pub flats: [f64; 3],
    /// Angles of the bends, degrees.
    pub bends: [f64; 2],
    /// True where the second bend goes the other way.
    pub joggled: bool,
    pub inside: f64,
    pub thickness: f64,
    pub width: f64,
    /// Steps along a flat, along a bend and across.
    pub steps: [usize; 3],
}

impl Folded {
    pub fn mesh(&self) -> Mesh {
        // The line amid the thickness: points and normals, turning to the left where not joggled.
        let mut line: Vec<([f64; 2], f64)> = vec![([0.0, 0.0], 0.0)];
        let amid = self.inside + self.thickness / 2.0;
        let mut add = |length: f64, turn: f64, steps: usize| {
            let (start, way) = line[line.len() - 1];
            for k in 1..=steps {
                let u = k as f64 / steps as f64;
                let (chord, bent) = match turn {
                    0.0 => (length * u, 0.0),
                    _ => (2.0 * amid * (turn.abs() * u / 2.0).sin(), turn * u),
                };
                let (sin, cos) = (way + bent / 2.0).sin_cos();
                line.push(([start[0] + chord * cos, start[1] + chord * sin], way + bent));
            }
        };
        for k in 0..3 {
            add(self.flats[k], 0.0, self.steps[0]);
            if k < 2 {
                let sign = if k == 1 && self.joggled { -1.0 } else { 1.0 };
                add(0.0, sign * self.bends[k].to_radians(), self.steps[1]);
            }
        }
        let side = |sign: f64| -> Vec<[f64; 2]> {
            let half = sign * self.thickness / 2.0;
            let point =
                |(p, way): &([f64; 2], f64)| [p[0] - half * way.sin(), p[1] + half * way.cos()];
            line.iter().map(point).collect()
        };
        let (left, right) = (side(1.0), side(-1.0));
        let outline: Vec<[f64; 2]> = right.iter().chain(left.iter().rev()).copied().collect();
        let mut mesh = Mesh::default();
        let rows = self.steps[2];
        let ids: Vec<Vec<u32>> = (0..=rows)
            .map(|row| {
                let z = self.width * row as f64 / rows as f64;
                outline
                    .iter()
                    .map(|[x, y]| {
                        mesh.vertices.push(P::new(*x, *y, z));
                        mesh.vertices.len() as u32 - 1
                    })
                    .collect()
            })
            .collect();
        mesh.quads(&ids, true, false);
        // both sides, a strip between the two faces
        let n = outline.len();
        for (row, turn) in [(0, false), (rows, true)] {
            for k in 0..n / 2 - 1 {
                let ring = &ids[row];
                let (a, b, c, d) = (ring[k], ring[k + 1], ring[n - 2 - k], ring[n - 1 - k]);
                for f in [[a, c, b], [a, d, c]] {
                    mesh.facets.push(if turn { [f[0], f[2], f[1]] } else { f });
                }
            }
        }
        mesh
    }
}
