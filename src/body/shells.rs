//! Facets connected across edges, and what each connected shell measures.

use nalgebra::{Point3, Vector3};

use crate::weld::{Mesh, NONE};

/// Connected shells: facet numbers, shell after shell.
pub struct Shells {
    /// Facets, grouped by shell, ascending within each.
    pub facets: Vec<u32>,
    /// Where each shell begins in `facets`; one more entry at the end.
    pub starts: Vec<u32>,
}

impl Shells {
    /// Shells in the order of their first facet. O(n), flat arrays.
    pub fn find(mesh: &Mesh) -> Self {
        let mut label = vec![NONE; mesh.facets.len()];
        let mut starts = vec![0u32];
        let mut stack = Vec::new();
        let mut count = 0;
        for seed in 0..mesh.facets.len() as u32 {
            if label[seed as usize] != NONE {
                continue;
            }
            let mut size = 0;
            label[seed as usize] = count;
            stack.push(seed);
            while let Some(f) = stack.pop() {
                size += 1;
                for g in mesh.neighbours[f as usize] {
                    if g != NONE && label[g as usize] == NONE {
                        label[g as usize] = count;
                        stack.push(g);
                    }
                }
            }
            starts.push(starts[count as usize] + size);
            count += 1;
        }
        let mut next = starts.clone();
        let mut facets = vec![0; mesh.facets.len()];
        for (f, &l) in label.iter().enumerate() {
            let at = &mut next[l as usize];
            facets[*at as usize] = f as u32;
            *at += 1;
        }
        Shells { facets, starts }
    }

    /// Number of shells.
    pub fn len(&self) -> usize {
        self.starts.len() - 1
    }

    /// Facets of shell `i`.
    pub fn of(&self, i: usize) -> &[u32] {
        &self.facets[self.starts[i] as usize..self.starts[i + 1] as usize]
    }
}

/// Sums over facets, about a point near them so that nothing cancels.
#[derive(Clone, Copy, Debug)]
pub struct Sums {
    /// Signed volume, mm³ (divergence theorem; about the first corner).
    pub volume: f64,
    /// Area, mm².
    pub area: f64,
    /// First moment of the volume about `origin`, mm⁴.
    pub volume_moment: Vector3<f64>,
    /// First moment of the area about `origin`, mm³.
    pub area_moment: Vector3<f64>,
    /// What the moments are taken about.
    pub origin: Point3<f64>,
    /// Lowest corner of the box.
    pub low: Point3<f64>,
    /// Highest corner of the box.
    pub high: Point3<f64>,
    /// True when no edge is open.
    pub closed: bool,
}

impl Sums {
    /// Sums over the given facets of a mesh.
    pub fn over(mesh: &Mesh, facets: &[u32]) -> Self {
        let origin = facets.first().map_or(Point3::origin(), |&f| {
            mesh.vertices[mesh.facets[f as usize][0] as usize]
        });
        let mut s = Sums {
            volume: 0.0,
            area: 0.0,
            volume_moment: Vector3::zeros(),
            area_moment: Vector3::zeros(),
            origin,
            low: origin,
            high: origin,
            closed: true,
        };
        for &f in facets {
            let p = mesh.facets[f as usize].map(|v| mesh.vertices[v as usize]);
            let [a, b, c] = p.map(|q| q - origin);
            let sum = a + b + c;
            let area = (b - a).cross(&(c - a)).norm() / 2.0;
            let volume = a.dot(&b.cross(&c)) / 6.0;
            s.area += area;
            s.volume += volume;
            s.area_moment += sum * (area / 3.0);
            s.volume_moment += sum * (volume / 4.0);
            s.low = p.iter().fold(s.low, |l, q| l.inf(q));
            s.high = p.iter().fold(s.high, |h, q| h.sup(q));
            s.closed &= !mesh.neighbours[f as usize].contains(&NONE);
        }
        s
    }
}
