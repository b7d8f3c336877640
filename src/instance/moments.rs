//! Where a surface lies about its centre: second moments, and higher ones about an axis.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

use crate::body::Body;

/// Centre and principal axes of a body's surface.
pub struct Principal {
    /// Centroid of the area, mm.
    pub centre: Point3<f64>,
    /// Unit axes, ascending spread, right-handed.
    pub axes: [Vector3<f64>; 3],
    /// Mean square distance along each axis, mm², ascending.
    pub spread: [f64; 3],
}

/// Principal axes of the surface (exact for its facets).
///
/// The surface and not the volume, so that open shells have axes too.
pub fn principal(body: &Body) -> Principal {
    let mut first = Vector3::zeros();
    let mut area = 0.0;
    let origin = body
        .vertices
        .first()
        .copied()
        .unwrap_or_else(Point3::origin);
    for [a, b, c] in triangles(body, origin) {
        let w = (b - a).cross(&(c - a)).norm();
        first += (a + b + c) * (w / 3.0);
        area += w;
    }
    let centre = if area > 0.0 {
        origin + first / area
    } else {
        origin
    };
    let mut second = Matrix3::zeros();
    for [a, b, c] in triangles(body, centre) {
        let w = (b - a).cross(&(c - a)).norm();
        // Over a triangle, ∫ x xᵀ = A/12 (Σ pᵢ pᵢᵀ + s sᵀ) with s = Σ pᵢ.
        let s = a + b + c;
        second += (a * a.transpose() + b * b.transpose() + c * c.transpose() + s * s.transpose())
            * (w / 12.0);
    }
    if area > 0.0 {
        second /= area;
    }
    let eigen = SymmetricEigen::new(second);
    let mut order = [0, 1, 2];
    order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
    let column = |i: usize| eigen.eigenvectors.column(order[i]).into_owned();
    let (x, y) = (column(0), column(1));
    Principal {
        centre,
        axes: [x, y, x.cross(&y)],
        spread: order.map(|i| eigen.eigenvalues[i].max(0.0)),
    }
}

/// Corners relative to a point.
fn triangles(body: &Body, origin: Point3<f64>) -> impl Iterator<Item = [Vector3<f64>; 3]> {
    body.facets
        .iter()
        .map(move |f| f.map(|v| body.vertices[v as usize] - origin))
}

/// A complex moment ∫ zᵐ r²ⁿ (x + iy)ᵏ dA, divided by the area and by size to its degree.
#[derive(Clone, Copy, Debug, Default)]
pub struct Turning {
    /// How many turns of 360°/k leave it unchanged.
    pub fold: u32,
    /// Real and imaginary part.
    pub value: [f64; 2],
}

impl Turning {
    /// Size of the moment; 0 where the surface shows no such pattern.
    pub fn strength(&self) -> f64 {
        self.value[0].hypot(self.value[1])
    }

    /// Direction of the pattern in the frame's x, y, radians; one of `fold`.
    pub fn angle(&self) -> f64 {
        self.value[1].atan2(self.value[0]) / f64::from(self.fold)
    }
}

/// (fold k, power m of z, power n of r²), of degree up to four.
const PATTERNS: [(u32, i32, i32); 7] = [
    (1, 0, 1),
    (1, 2, 0),
    (2, 1, 0),
    (2, 0, 1),
    (3, 0, 0),
    (3, 1, 0),
    (4, 0, 0),
];

/// Moments about the z axis of a frame (x, y, z); integrated exactly over every facet.
pub fn turnings(
    body: &Body,
    centre: Point3<f64>,
    frame: &[Vector3<f64>; 3],
    size: f64,
) -> [Turning; PATTERNS.len()] {
    let mut sums = PATTERNS.map(|p| Turning {
        fold: p.0,
        value: [0.0; 2],
    });
    let mut area = 0.0;
    for [a, b, c] in triangles(body, centre) {
        let w = (b - a).cross(&(c - a)).norm();
        area += w;
        for (bary, weight) in rule() {
            let p = (a * bary[0] + b * bary[1] + c * bary[2]) / size;
            let (x, y, z) = (frame[0].dot(&p), frame[1].dot(&p), frame[2].dot(&p));
            for (sum, (k, m, n)) in sums.iter_mut().zip(PATTERNS) {
                let scale = w * weight * z.powi(m) * (x * x + y * y).powi(n);
                let (re, im) = power(x, y, k);
                sum.value[0] += scale * re;
                sum.value[1] += scale * im;
            }
        }
    }
    if area > 0.0 {
        for s in &mut sums {
            s.value = s.value.map(|v| v / area);
        }
    }
    sums
}

/// (x + iy)ᵏ.
fn power(x: f64, y: f64, k: u32) -> (f64, f64) {
    (0..k).fold((1.0, 0.0), |(re, im), _| (re * x - im * y, re * y + im * x))
}

/// Barycentric points and weights exact for polynomials of degree four over a triangle: the
/// six-point rule of Dunavant (International Journal for Numerical Methods in Engineering 21,
/// 1985; values from memory, checked by the test below).
fn rule() -> impl Iterator<Item = ([f64; 3], f64)> {
    const RULE: [(f64, f64); 2] = [
        (0.445_948_490_915_965, 0.223_381_589_678_011),
        (0.091_576_213_509_771, 0.109_951_743_655_322),
    ];
    RULE.into_iter().flat_map(|(a, w)| {
        let b = 1.0 - 2.0 * a;
        [([a, a, b], w), ([a, b, a], w), ([b, a, a], w)]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rule_is_exact_to_degree_four() {
        // ∫ uⁱ vʲ over a triangle of unit area = 2 i! j! / (i + j + 2)!, u and v barycentric.
        let factorial = |n: u32| (1..=n).map(f64::from).product::<f64>();
        for i in 0..=4u32 {
            for j in 0..=4 - i {
                let got: f64 = rule()
                    .map(|(b, w)| w * b[0].powi(i as i32) * b[1].powi(j as i32))
                    .sum();
                let want = 2.0 * factorial(i) * factorial(j) / factorial(i + j + 2);
                assert!((got - want).abs() < 1e-13, "{i} {j}: {got} {want}");
            }
        }
    }
}
