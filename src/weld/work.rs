//! From the soup to facets on shared vertices, in millimetres.

use nalgebra::Point3;

use super::pairing::{self, Pairing};
use super::tally::Tally;
use super::{NONE, resolution, vertices};
use crate::read::TriangleSoup;

/// Facets and what belongs to them, in mm, while they are being put right.
pub struct Work {
    pub vertices: Vec<Point3<f64>>,
    pub facets: Vec<[u32; 3]>,
    /// Group of the file each facet came from.
    pub group: Vec<u32>,
    /// 95 % half-width of a coordinate, mm.
    pub quantum: f64,
}

impl Work {
    /// Keeps the facets for which `keep` holds, in order.
    pub fn retain(&mut self, mut keep: impl FnMut(usize, [u32; 3]) -> bool) {
        let mut to = 0;
        for i in 0..self.facets.len() {
            if keep(i, self.facets[i]) {
                self.facets[to] = self.facets[i];
                self.group[to] = self.group[i];
                to += 1;
            }
        }
        self.facets.truncate(to);
        self.group.truncate(to);
    }

    /// Drops facets with a repeated corner; returns how many.
    pub fn drop_collapsed(&mut self) -> usize {
        let before = self.facets.len();
        self.retain(|_, f| f[0] != f[1] && f[1] != f[2] && f[2] != f[0]);
        before - self.facets.len()
    }

    /// Pairs the facets across edges.
    pub fn pair(&self) -> Pairing {
        pairing::pair(&self.facets, self.vertices.len())
    }
}

/// Exact weld and change of unit; facets that name no or no finite vertex are left out.
pub fn start(soup: &mut TriangleSoup, mm_per_unit: f64, tally: &mut Tally) -> Work {
    let mut points = std::mem::take(&mut soup.points);
    let mut facets = std::mem::take(&mut soup.facets);
    let mut group = groups_of_facets(soup, facets.len());
    // Squares and products of three coordinates must stay finite too.
    let limit = 1e90 / mm_per_unit.max(1.0);
    let usable = |p: &[f64; 3]| p.iter().fold(true, |ok, x| ok & (x.abs() <= limit));
    let in_range = |f: &[u32; 3]| {
        f.iter()
            .fold(true, |ok, &v| ok & ((v as usize) < points.len()))
    };
    let sound = points.iter().fold(true, |ok, p| ok & usable(p))
        && facets.iter().fold(true, |ok, f| ok & in_range(f));
    if !sound {
        let keep: Vec<bool> = facets
            .iter()
            .map(|f| in_range(f) && f.iter().all(|&v| usable(&points[v as usize])))
            .collect();
        let mut it = keep.iter();
        facets.retain(|_| it.next().is_some_and(|k| *k));
        let mut it = keep.iter();
        group.retain(|_| it.next().is_some_and(|k| *k));
        tally.unusable = keep.len() - facets.len();
        points
            .iter_mut()
            .filter(|p| !usable(p))
            .for_each(|p| *p = [0.0; 3]);
        soup.distinct = false;
    }
    if !soup.distinct {
        vertices::join_equal(&mut points, &mut facets);
    }
    let half_width = resolution::half_width(&points, soup.precision);
    Work {
        vertices: points
            .into_iter()
            .map(|p| Point3::from(p.map(|x| x * mm_per_unit)))
            .collect(),
        facets,
        group,
        quantum: (half_width * mm_per_unit).max(f64::MIN_POSITIVE),
    }
}

/// Group number of each facet.
fn groups_of_facets(soup: &TriangleSoup, facet_count: usize) -> Vec<u32> {
    let mut group = vec![NONE; facet_count];
    for (i, g) in soup.groups.iter().enumerate() {
        let from = (g.first_facet as usize).min(facet_count);
        let to = soup
            .groups
            .get(i + 1)
            .map_or(facet_count, |n| n.first_facet as usize);
        if from < to {
            group[from..to.min(facet_count)].fill(i as u32);
        }
    }
    group
}
