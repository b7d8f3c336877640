//! Members and plates with design values, drawn by a seeded generator, and how the report's ± holds them.

pub mod member;
pub mod plate;
pub mod random;
pub mod shape;
pub mod tally;

use std::collections::HashMap;

use earcut::Earcut;
use nalgebra::{Point3, Rotation3, Vector3};

use random::Random;

pub type P3 = Point3<f64>;

/// What was drawn, with its numbers.
pub enum Case {
    Member {
        facets: Facets,
        sizes: Vec<(&'static str, f64)>,
        area: f64,
        length: f64,
        chord: f64,
        /// Length, and radius and angle of an arc.
        spans: Vec<(f64, Option<(f64, f64)>)>,
        /// How far off square each end is cut, degrees.
        off: [f64; 2],
        bent: bool,
    },
    Plate {
        facets: Facets,
        /// Kind of number, its place under `plate`, design value.
        numbers: Vec<(&'static str, &'static str, f64)>,
        /// Diameter, and place from a corner of the rectangle.
        holes: Vec<[f64; 3]>,
        size: [f64; 2],
    },
}

impl Case {
    pub fn words(&self) -> String {
        match self {
            Case::Member {
                sizes, spans, off, ..
            } => format!("member {sizes:?} {spans:?} cut {off:?}"),
            Case::Plate { numbers, .. } => format!("plate {numbers:?}"),
        }
    }
}

/// Triangles that look outwards.
#[derive(Default)]
pub struct Facets(Vec<[P3; 3]>);

impl Facets {
    /// Four corners anticlockwise seen from outside, or clockwise.
    pub fn quad(&mut self, [a, b, c, d]: [P3; 4], outwards: bool) {
        for t in [[a, b, c], [a, c, d]] {
            self.0.push(if outwards { t } else { [t[0], t[2], t[1]] });
        }
    }

    /// A flat face: the first rim with the others as holes.
    pub fn cap(&mut self, rims: &[Vec<P3>], normal: Vector3<f64>) {
        let n = normal.normalize();
        let aside = if n.x.abs() < 0.7 {
            Vector3::x()
        } else {
            Vector3::y()
        };
        let u = n.cross(&aside).normalize();
        let v = n.cross(&u);
        let corners: Vec<P3> = rims.concat();
        let starts: Vec<u32> = rims
            .iter()
            .scan(0, |at, rim| {
                *at += rim.len() as u32;
                Some(*at)
            })
            .take(rims.len() - 1)
            .collect();
        let mut out: Vec<u32> = Vec::new();
        let flat = corners.iter().map(|p| [p.coords.dot(&u), p.coords.dot(&v)]);
        Earcut::new().earcut(flat, &starts, &mut out);
        for t in out.chunks_exact(3) {
            let [a, b, c] = [0, 1, 2].map(|k| corners[t[k] as usize]);
            let outwards = (b - a).cross(&(c - a)).dot(&n) > 0.0;
            self.0.push(if outwards { [a, b, c] } else { [a, c, b] });
        }
    }
}

/// How the drawn facets are written.
#[derive(Clone, Copy, Debug)]
pub struct Written {
    /// Standard deviation of each coordinate, mm.
    pub noise: f64,
    /// Digits after the point in an OBJ, or a binary STL.
    pub digits: Option<usize>,
    /// Millimetres in a unit of the file.
    pub unit: f64,
}

pub fn draw(seed: u64) -> (Case, Written, Vec<u8>) {
    let mut random = Random::new(seed);
    let case = if random.chance(0.65) {
        member::member(&mut random)
    } else {
        plate::plate(&mut random)
    };
    let written = Written {
        noise: if random.chance(0.15) {
            random.pick(&[0.02, 0.05, 0.1])
        } else {
            0.0
        },
        digits: random.chance(0.4).then(|| random.pick(&[3usize, 4, 6])),
        unit: random.pick(&[1.0, 1.0, 1.0, 25.4, 10.0]),
    };
    let (Case::Member { facets, .. } | Case::Plate { facets, .. }) = &case;
    let turn = Rotation3::from_euler_angles(
        random.between(-3.0, 3.0),
        random.between(-1.5, 1.5),
        random.between(-3.0, 3.0),
    );
    let shift = Vector3::from_fn(|_, _| random.between(-900.0, 900.0));
    let mut seen: HashMap<[u64; 3], P3> = HashMap::new();
    let facets: Vec<[P3; 3]> = (facets.0.iter())
        .map(|t| {
            t.map(|p| {
                *seen
                    .entry([p.x, p.y, p.z].map(|c| (c + 0.0).to_bits()))
                    .or_insert_with(|| {
                        let off = Vector3::from_fn(|_, _| random.normal()) * written.noise;
                        (turn * p + shift + off) / written.unit
                    })
            })
        })
        .collect();
    let bytes = match written.digits {
        Some(digits) => obj(&facets, digits),
        None => stl(&facets),
    };
    (case, written, bytes)
}

fn obj(facets: &[[P3; 3]], digits: usize) -> Vec<u8> {
    let mut known: HashMap<String, usize> = HashMap::new();
    let (mut vertices, mut faces) = (String::new(), String::new());
    for t in facets {
        let numbers = t.map(|p| {
            let line = format!("v {:.digits$} {:.digits$} {:.digits$}\n", p.x, p.y, p.z);
            let next = known.len() + 1;
            *known.entry(line).or_insert_with_key(|line| {
                vertices.push_str(line);
                next
            })
        });
        faces.push_str(&format!("f {} {} {}\n", numbers[0], numbers[1], numbers[2]));
    }
    (vertices + &faces).into_bytes()
}

fn stl(facets: &[[P3; 3]]) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    out.extend((facets.len() as u32).to_le_bytes());
    for [a, b, c] in facets {
        let n = (b - a)
            .cross(&(c - a))
            .try_normalize(0.0)
            .unwrap_or_default();
        for v in [n, a.coords, b.coords, c.coords] {
            out.extend(v.iter().flat_map(|x| (*x as f32).to_le_bytes()));
        }
        out.extend([0, 0]);
    }
    out
}
