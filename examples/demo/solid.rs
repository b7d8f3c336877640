//! A solid as triangles: faces of three-dimensional outlines with holes, looking outwards.

use earcut::Earcut;
use nalgebra::{Point3, Vector3};

pub type P3 = Point3<f64>;
pub type V3 = Vector3<f64>;

/// One body of the model.
#[derive(Clone, Debug, Default)]
pub struct Solid {
    pub name: String,
    pub triangles: Vec<[P3; 3]>,
}

impl Solid {
    /// Adds a face whose corners lie on (or, where the metal is rolled, near) one plane. No three
    /// neighbouring corners may stand in one line: the library would leave out the middle one.
    pub fn face(&mut self, outer: &[P3], holes: &[Vec<P3>], outward: V3) {
        let n = outward.normalize();
        let u = if n.x.abs() < 0.7 { V3::x() } else { V3::y() };
        let u = (u - n * u.dot(&n)).normalize();
        let v = n.cross(&u);
        let mut corners: Vec<P3> = outer.to_vec();
        let mut starts: Vec<u32> = Vec::new();
        for hole in holes {
            starts.push(corners.len() as u32);
            corners.extend(hole);
        }
        let flat = corners.iter().map(|p| [p.coords.dot(&u), p.coords.dot(&v)]);
        let mut out: Vec<u32> = Vec::new();
        Earcut::new().earcut(flat, &starts, &mut out);
        for t in out.chunks_exact(3) {
            self.triangle([0, 1, 2].map(|k| corners[t[k] as usize]), n);
        }
    }

    /// Adds four corners that follow each other.
    pub fn quad(&mut self, corners: [P3; 4], outward: V3) {
        let [a, b, c, d] = corners;
        self.triangle([a, b, c], outward);
        self.triangle([a, c, d], outward);
    }

    /// Joins two loops of as many corners by a wall; `outward` leads out of the metal at a place of it.
    pub fn wall(&mut self, one: &[P3], other: &[P3], outward: impl Fn(P3) -> V3) {
        for i in 0..one.len() {
            let j = (i + 1) % one.len();
            let middle = nalgebra::center(&one[i], &one[j]);
            self.quad([one[i], one[j], other[j], other[i]], outward(middle));
        }
    }

    fn triangle(&mut self, [a, b, c]: [P3; 3], outward: V3) {
        let normal = (b - a).cross(&(c - a));
        match normal.dot(&outward) < 0.0 {
            true => self.triangles.push([a, c, b]),
            false => self.triangles.push([a, b, c]),
        }
    }
}
