//! Small solids as loose triangles, and what can happen to them on the way.
#![allow(dead_code)]

use nalgebra::{Point3, Rotation3, Vector3};
use soapstone::body::{Body, separate};
use soapstone::finding::{Code, Finding};
use soapstone::read::{Format, Precision, TriangleSoup};
use soapstone::weld::weld;

pub type Triangle = [[f64; 3]; 3];

/// A box, its quadrilaterals cut along the diagonal from their lowest-numbered corner.
pub fn cuboid(low: [f64; 3], high: [f64; 3]) -> Vec<Triangle> {
    let corner = |i: usize| [0, 1, 2].map(|k| if i >> k & 1 == 1 { high[k] } else { low[k] });
    let sides = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    sides
        .iter()
        .flat_map(|q| {
            let [a, b, c, d] = q.map(corner);
            [[a, b, c], [a, c, d]]
        })
        .collect()
}

/// A prism over an anticlockwise polygon from z = 0 to `height`; sides cut one way.
pub fn prism(outline: &[[f64; 2]], height: f64) -> Vec<Triangle> {
    let n = outline.len();
    let at = |i: usize, z: f64| [outline[i % n][0], outline[i % n][1], z];
    let mut list = Vec::new();
    for i in 1..n - 1 {
        list.push([at(0, 0.0), at(i + 1, 0.0), at(i, 0.0)]);
        list.push([at(0, height), at(i, height), at(i + 1, height)]);
    }
    for i in 0..n {
        list.push([at(i, 0.0), at(i + 1, 0.0), at(i + 1, height)]);
        list.push([at(i, 0.0), at(i + 1, height), at(i, height)]);
    }
    list
}

/// The same surface seen from the other side.
pub fn reversed(mut list: Vec<Triangle>) -> Vec<Triangle> {
    list.iter_mut().for_each(|t| t.swap(1, 2));
    list
}

/// Mirrored in the plane x = 0, still wound outwards.
pub fn mirrored(list: &[Triangle]) -> Vec<Triangle> {
    reversed(list.iter().map(|t| t.map(|[x, y, z]| [-x, y, z])).collect())
}

/// Turned by Euler angles (radians) and moved.
pub fn posed(list: &[Triangle], angles: [f64; 3], shift: [f64; 3]) -> Vec<Triangle> {
    let turn = Rotation3::from_euler_angles(angles[0], angles[1], angles[2]);
    list.iter()
        .map(|t| {
            t.map(|p| {
                (turn * Point3::from(p) + Vector3::from(shift))
                    .coords
                    .into()
            })
        })
        .collect()
}

/// Coordinates as binary32 holds them.
pub fn rounded(list: &[Triangle]) -> Vec<Triangle> {
    list.iter()
        .map(|t| t.map(|p| p.map(|x| f64::from(x as f32))))
        .collect()
}

/// A list in an order that depends on the seed, corners of each triangle turned round as well.
pub fn shuffled(mut list: Vec<Triangle>, seed: u64) -> Vec<Triangle> {
    let mut random = Random(seed);
    for i in (1..list.len()).rev() {
        list.swap(i, random.below(i + 1));
    }
    for t in &mut list {
        t.rotate_left(random.below(3));
    }
    list
}

/// A small generator (splitmix64), so that a seed gives the same numbers everywhere.
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// From −1 to 1.
    pub fn signed(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// As a binary STL gives them.
pub fn soup(list: &[Triangle]) -> TriangleSoup {
    TriangleSoup {
        distinct: false,
        points: list.iter().flatten().copied().collect(),
        facets: (0..list.len() as u32)
            .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
            .collect(),
        groups: vec![],
        precision: Precision::Binary32,
        declared_mm_per_unit: None,
        format: Format::StlBinary,
    }
}

/// Bodies and all findings; every invariant is checked on the way.
pub fn bodies(soup: TriangleSoup) -> (Vec<Body>, Vec<Finding>) {
    let names: Vec<_> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, mut findings) = weld(soup, 1.0);
    mesh.check().unwrap();
    let (bodies, more) = separate(mesh, &names);
    findings.extend(more);
    for b in &bodies {
        b.check().unwrap();
    }
    (bodies, findings)
}

/// Codes of findings, without repeats.
pub fn codes(findings: &[Finding]) -> Vec<Code> {
    let mut list: Vec<Code> = findings.iter().map(|f| f.code).collect();
    list.dedup();
    list
}

/// Fails unless the two differ by less than the share.
pub fn assert_near(got: f64, want: f64, share: f64) {
    assert!(
        (got - want).abs() <= share * want.abs(),
        "got {got}, want {want}"
    );
}
