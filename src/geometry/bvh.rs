//! Trees of boxes: which triangles a ray meets, how far a point is from a surface, which boxes
//! hold a point. The only module that sees parry and its vector types.

use nalgebra::{Point2, Point3, Vector3};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhNode};
use parry3d_f64::query::details::local_ray_intersection_with_triangle;
use parry3d_f64::query::{PointQuery, Ray};
use parry3d_f64::shape::{Segment, Triangle};

fn vector(p: &Point3<f64>) -> Vector {
    Vector::new(p.x, p.y, p.z)
}

/// A tree over the triangles of a mesh it borrows.
pub struct TriangleTree<'a> {
    vertices: &'a [Point3<f64>],
    facets: &'a [[u32; 3]],
    tree: Bvh,
}

/// Three directions that no drawing board would choose, so that a ray hardly ever runs along
/// an edge.
const DIRECTIONS: [[f64; 3]; 3] = [
    [0.5612, 0.4271, 0.7093],
    [-0.7318, 0.3359, 0.5929],
    [0.2473, -0.8127, 0.5276],
];

impl<'a> TriangleTree<'a> {
    /// A tree over `facets`, whose corners must exist in `vertices`. O(n log n).
    pub fn new(vertices: &'a [Point3<f64>], facets: &'a [[u32; 3]]) -> Self {
        let boxes: Vec<Aabb> = facets
            .iter()
            .map(|f| {
                let [a, b, c] = f.map(|v| vector(&vertices[v as usize]));
                Aabb::new(a.min(b).min(c), a.max(b).max(c))
            })
            .collect();
        TriangleTree {
            vertices,
            facets,
            tree: Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes),
        }
    }

    fn triangle(&self, f: u32) -> Triangle {
        let [a, b, c] = self.facets[f as usize].map(|v| vector(&self.vertices[v as usize]));
        Triangle::new(a, b, c)
    }

    /// How many triangles a ray from `origin` along `direction` meets.
    pub fn crossings(&self, origin: &Point3<f64>, direction: &Vector3<f64>) -> usize {
        let ray = Ray::new(
            vector(origin),
            Vector::new(direction.x, direction.y, direction.z),
        );
        self.tree
            .leaves(|node: &BvhNode| node.cast_ray(&ray, f64::MAX) < f64::MAX)
            .filter(|&f| {
                let t = self.triangle(f);
                local_ray_intersection_with_triangle(t.a, t.b, t.c, &ray).is_some()
            })
            .count()
    }

    /// True when a ray from `origin` along `direction` meets a triangle.
    pub fn meets(&self, origin: &Point3<f64>, direction: &Vector3<f64>) -> bool {
        let ray = Ray::new(
            vector(origin),
            Vector::new(direction.x, direction.y, direction.z),
        );
        self.tree
            .leaves(|node: &BvhNode| node.cast_ray(&ray, f64::MAX) < f64::MAX)
            .any(|f| {
                let t = self.triangle(f);
                local_ray_intersection_with_triangle(t.a, t.b, t.c, &ray).is_some()
            })
    }

    /// True when a ray from `origin` along `direction` meets a triangle from its outer side.
    pub fn enters(&self, origin: &Point3<f64>, direction: &Vector3<f64>) -> bool {
        let way = Vector::new(direction.x, direction.y, direction.z);
        let ray = Ray::new(vector(origin), way);
        self.tree
            .leaves(|node: &BvhNode| node.cast_ray(&ray, f64::MAX) < f64::MAX)
            .any(|f| {
                let t = self.triangle(f);
                (t.b - t.a).cross(t.c - t.a).dot(way) < 0.0
                    && local_ray_intersection_with_triangle(t.a, t.b, t.c, &ray).is_some()
            })
    }

    /// True when the closed surface holds the point: most of three rays cross it an odd number
    /// of times. Undefined for points on the surface.
    pub fn holds(&self, point: &Point3<f64>) -> bool {
        let odd = DIRECTIONS
            .iter()
            .filter(|d| self.crossings(point, &Vector3::from(**d)) % 2 == 1)
            .count();
        odd >= 2
    }

    /// Nearest point of the surface, the triangle it lies on, and its distance, mm; `None` when
    /// nothing is nearer than `most`.
    pub fn closest(&self, point: &Point3<f64>, most: f64) -> Option<(Point3<f64>, u32, f64)> {
        let p = vector(point);
        let (facet, distance) = self.tree.find_best(
            most,
            |node: &BvhNode, _| node.aabb().distance_to_local_point(p, true),
            |f, _| Some(self.foot(f, p).distance(p)),
        )?;
        let foot = self.foot(facet, p);
        Some((Point3::new(foot.x, foot.y, foot.z), facet, distance))
    }

    /// The same among the triangles that `accept` lets pass.
    pub fn closest_of(
        &self,
        point: &Point3<f64>,
        most: f64,
        accept: impl Fn(u32) -> bool,
    ) -> Option<(Point3<f64>, u32, f64)> {
        let p = vector(point);
        let (facet, distance) = self.tree.find_best(
            most,
            |node: &BvhNode, _| node.aabb().distance_to_local_point(p, true),
            |f, _| accept(f).then(|| self.foot(f, p).distance(p)),
        )?;
        let foot = self.foot(facet, p);
        Some((Point3::new(foot.x, foot.y, foot.z), facet, distance))
    }

    fn foot(&self, f: u32, p: Vector) -> Vector {
        self.triangle(f).project_local_point(p, false).point
    }
}

/// A tree over boxes.
pub struct BoxTree {
    tree: Bvh,
}

impl BoxTree {
    /// A tree over boxes given by their lowest and highest corner.
    pub fn new(boxes: impl Iterator<Item = (Point3<f64>, Point3<f64>)>) -> Self {
        let boxes: Vec<Aabb> = boxes
            .map(|(low, high)| Aabb::new(vector(&low), vector(&high)))
            .collect();
        BoxTree {
            tree: Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes),
        }
    }

    /// Numbers of the boxes that hold the point, ascending.
    pub fn holding(&self, point: &Point3<f64>) -> Vec<u32> {
        let p = vector(point);
        let mut found: Vec<u32> = self
            .tree
            .leaves(|node: &BvhNode| node.aabb().contains_local_point(p))
            .collect();
        found.sort_unstable();
        found
    }
}

/// A tree over the segments of a path in the plane, which run from each point to the next.
pub struct SegmentTree<'a> {
    points: &'a [Point2<f64>],
    tree: Bvh,
}

impl<'a> SegmentTree<'a> {
    /// A tree over the segments of `points`. O(n log n).
    pub fn new(points: &'a [Point2<f64>]) -> Self {
        let boxes: Vec<Aabb> = points
            .windows(2)
            .map(|w| {
                let (low, high) = (w[0].inf(&w[1]), w[0].sup(&w[1]));
                Aabb::new(
                    Vector::new(low.x, low.y, 0.0),
                    Vector::new(high.x, high.y, 0.0),
                )
            })
            .collect();
        SegmentTree {
            points,
            tree: Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes),
        }
    }

    /// Segments whose boxes lie within `reach` of a point, at most `most` of them, ascending.
    pub fn near(&self, p: Point2<f64>, reach: f64, most: usize) -> Vec<usize> {
        let p = Vector::new(p.x, p.y, 0.0);
        let mut found: Vec<usize> = self
            .tree
            .leaves(|node: &BvhNode| node.aabb().distance_to_local_point(p, true) <= reach)
            .take(most)
            .map(|leaf| leaf as usize)
            .collect();
        found.sort_unstable();
        found
    }

    /// Distance of the path from a point, mm; `None` when nothing is nearer than `most`.
    pub fn distance(&self, p: Point2<f64>, most: f64) -> Option<f64> {
        let p = Vector::new(p.x, p.y, 0.0);
        let foot = |s: u32| {
            let [a, b] = [s as usize, s as usize + 1].map(|k| self.points[k]);
            let segment = Segment::new(Vector::new(a.x, a.y, 0.0), Vector::new(b.x, b.y, 0.0));
            segment.project_local_point(p, false).point
        };
        self.tree
            .find_best(
                most,
                |node: &BvhNode, _| node.aabb().distance_to_local_point(p, true),
                |s, _| Some(foot(s).distance(p)),
            )
            .map(|(_, distance)| distance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tetrahedron() -> (Vec<Point3<f64>>, Vec<[u32; 3]>) {
        let v = [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]].map(Point3::from);
        (v.to_vec(), vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    }

    #[test]
    fn inside_outside_and_distance_of_a_tetrahedron() {
        let (v, f) = tetrahedron();
        let tree = TriangleTree::new(&v, &f);
        assert!(tree.holds(&Point3::new(0.2, 0.2, 0.2)));
        assert!(!tree.holds(&Point3::new(0.6, 0.6, 0.6)));
        assert!(!tree.holds(&Point3::new(-0.1, 0.2, 0.2)));
        // The origin's far face x + y + z = 1 is 1/√3 from it.
        let corner = Point3::new(1.0, 1.0, 1.0);
        let (foot, facet, d) = tree.closest(&corner, 10.0).unwrap();
        assert!((d - 2.0 / 3f64.sqrt()).abs() < 1e-12, "{d}");
        assert_eq!(facet, 2);
        assert!((foot - corner / 3.0).norm() < 1e-12);
        assert!(tree.closest(&corner, 0.1).is_none());
        let along = Vector3::new(1.0, 0.7, 0.6);
        assert!(tree.enters(&Point3::new(-1.0, -0.6, -0.5), &along));
        assert!(!tree.enters(&Point3::new(0.1, 0.1, 0.1), &along));
    }

    #[test]
    fn distance_of_a_path() {
        let path = [[0., 0.], [10., 0.], [10., 10.]].map(Point2::from);
        let tree = SegmentTree::new(&path);
        assert_eq!(tree.distance(Point2::new(4.0, 3.0), 100.0), Some(3.0));
        assert_eq!(tree.distance(Point2::new(13.0, -4.0), 100.0), Some(5.0));
        assert_eq!(tree.distance(Point2::new(13.0, -4.0), 1.0), None);
        assert_eq!(tree.near(Point2::new(9.9, 0.2), 0.5, 9), [0, 1]);
        assert_eq!(tree.near(Point2::new(9.9, 0.2), 0.5, 1).len(), 1);
    }

    #[test]
    fn few_triangles_and_many_alike() {
        let (v, _) = tetrahedron();
        for n in [0usize, 1, 2, 3, 5000] {
            let f = vec![[1, 2, 3]; n];
            let tree = TriangleTree::new(&v, &f);
            let hits = tree.crossings(&Point3::new(0.1, 0.1, 0.1), &Vector3::new(1.0, 1.0, 1.0));
            assert_eq!(hits, n);
            assert_eq!(tree.closest(&Point3::origin(), 10.0).is_some(), n > 0);
        }
        let boxes =
            BoxTree::new((0..4).map(|i| (Point3::origin(), Point3::new(f64::from(i), 1.0, 1.0))));
        assert_eq!(boxes.holding(&Point3::new(1.5, 0.5, 0.5)), vec![2, 3]);
    }
}
