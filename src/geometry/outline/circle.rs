//! Least-squares circle through points, touching given lines.

use nalgebra::{Matrix3, Point2, Vector2, Vector3};

/// A fitted circle.
#[derive(Clone, Debug)]
pub(super) struct Circle {
    pub centre: Point2<f64>,
    pub radius: f64,
    /// Largest distance of a point from it.
    pub largest: f64,
    /// Sum of squared distances, lines included.
    pub squares: f64,
    /// Observations less parameters.
    pub freedom: usize,
    /// Covariance of (centre x, centre y, radius) for points of unit standard deviation.
    pub cofactor: Matrix3<f64>,
}

/// A line the circle is to touch: a point of it and the unit normal towards the centre.
#[derive(Clone, Copy, Debug)]
pub(super) struct Touch {
    pub point: Point2<f64>,
    pub normal: Vector2<f64>,
}

/// Circle of least squared distances to `points`, started by Kåsa's linear fit and finished by
/// Gauss–Newton; each line in `touch` counts as one more observation (its distance from the centre
/// less the radius). `None` when the points lie on a line or nothing converges.
pub(super) fn fit(points: &[Point2<f64>], touch: &[Touch]) -> Option<Circle> {
    if points.len() < 3 {
        return None;
    }
    let mean = points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / points.len() as f64;
    let size = points
        .iter()
        .map(|p| (p.coords - mean).norm())
        .fold(0.0, f64::max);
    if size <= 0.0 {
        return None;
    }
    let local: Vec<Vector2<f64>> = points.iter().map(|p| (p.coords - mean) / size).collect();
    let lines: Vec<(f64, Vector2<f64>)> = touch
        .iter()
        .map(|t| (t.normal.dot(&((t.point.coords - mean) / size)), t.normal))
        .collect();
    let (mut c, mut r) = kasa(&local)?;
    let mut normal = Matrix3::zeros();
    for _ in 0..12 {
        normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        let mut observe = |row: Vector3<f64>, residual: f64| {
            normal += row * row.transpose();
            right -= row * residual;
        };
        for p in &local {
            let d = p - c;
            let rho = d.norm();
            if rho > 0.0 {
                let u = d / rho;
                observe(Vector3::new(-u.x, -u.y, -1.0), rho - r);
            }
        }
        for (offset, n) in &lines {
            observe(Vector3::new(n.x, n.y, -1.0), n.dot(&c) - offset - r);
        }
        let step = normal.cholesky()?.solve(&right);
        c += step.xy();
        r += step.z;
        if !(r.is_finite() && r > 0.0 && r < 1e7) {
            return None;
        }
        if step.norm() <= 1e-14 * (1.0 + r) {
            break;
        }
    }
    let residuals = local.iter().map(|p| (p - c).norm() - r);
    let largest = residuals.clone().map(f64::abs).fold(0.0, f64::max);
    let squares = residuals.map(|e| e * e).sum::<f64>()
        + lines
            .iter()
            .map(|(o, n)| (n.dot(&c) - o - r).powi(2))
            .sum::<f64>();
    Some(Circle {
        centre: Point2::from(c * size + mean),
        radius: r * size,
        largest: largest * size,
        squares: squares * size * size,
        freedom: (points.len() + touch.len()).saturating_sub(3),
        cofactor: normal.try_inverse()?,
    })
}

impl Circle {
    /// Standard deviation of a point: the scatter seen, not below `floor`.
    pub fn scatter(&self, floor: f64) -> f64 {
        if self.freedom == 0 {
            floor
        } else {
            (self.squares / self.freedom as f64).sqrt().max(floor)
        }
    }
}

/// Linear fit of x² + y² + bx + cy + d = 0.
fn kasa(points: &[Vector2<f64>]) -> Option<(Vector2<f64>, f64)> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for p in points {
        let row = Vector3::new(p.x, p.y, 1.0);
        normal += row * row.transpose();
        right -= row * p.norm_squared();
    }
    let s = normal.cholesky()?.solve(&right);
    let c = -s.xy() / 2.0;
    let squared = c.norm_squared() - s.z;
    (squared > 0.0 && squared.is_finite()).then(|| (c, squared.sqrt()))
}
