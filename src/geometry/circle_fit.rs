//! Circle through points in the plane: algebraic start, geometric finish.
//!
//! The finish minimises true distances over curvature κ, foot point and direction instead of centre
//! and radius, so it neither overflows nor loses digits as an arc becomes straight.

use nalgebra::{Matrix3, Point2, Vector2, Vector3};

use super::circle_algebraic::algebraic;
pub use super::circle_algebraic::taubin;
use super::least_squares::{self, Options};

/// A fitted circle. Lengths in the unit of the points.
#[derive(Clone, Debug)]
pub struct CircleFit {
    /// Centre.
    pub centre: Point2<f64>,
    /// Radius.
    pub radius: f64,
    /// Root mean square distance of the points from the circle (weighted).
    pub rms: f64,
    /// Largest distance of a point from the circle.
    pub largest: f64,
    /// Standard deviation of a point of unit weight; `None` for three points.
    pub sigma: Option<f64>,
    /// Covariance of (centre x, centre y, radius) for a point standard deviation of 1.
    pub cofactor: Matrix3<f64>,
    /// Points less than half believed (robust fits only).
    pub doubted: usize,
}

impl CircleFit {
    fn scatter(&self, floor: f64) -> f64 {
        self.sigma.unwrap_or(0.0).max(floor)
    }

    /// Covariance of (centre x, centre y, radius), a point's standard deviation not taken below
    /// `floor`.
    pub fn covariance(&self, floor: f64) -> Matrix3<f64> {
        self.cofactor * self.scatter(floor).powi(2)
    }

    /// Standard uncertainty of the radius. Linear: for an arc whose rise is not many times the
    /// scatter use [`CircleFit::radius_interval`].
    pub fn radius_uncertainty(&self, floor: f64) -> f64 {
        self.cofactor[(2, 2)].max(0.0).sqrt() * self.scatter(floor)
    }

    /// Standard uncertainty of the curvature 1/radius.
    pub fn curvature_uncertainty(&self, floor: f64) -> f64 {
        self.radius_uncertainty(floor) / self.radius.powi(2)
    }

    /// 95 % interval of the radius, [1/(κ + 2u), 1/(κ − 2u)] with u the standard uncertainty of κ;
    /// no upper end when a straight line cannot be excluded.
    pub fn radius_interval(&self, floor: f64) -> (f64, Option<f64>) {
        let curvature = 1.0 / self.radius;
        let u = 2.0 * self.curvature_uncertainty(floor);
        (
            1.0 / (curvature + u),
            (curvature > u).then(|| 1.0 / (curvature - u)),
        )
    }

    /// Signed distance of a point from the circle, positive outside.
    pub fn distance(&self, p: &Point2<f64>) -> f64 {
        (p - self.centre).norm() - self.radius
    }
}

/// Geometric least-squares circle. `weights` are 1/σ² up to a common factor.
///
/// Exact points give the exact circle to rounding of their coordinates, whatever the arc. `None`
/// for fewer than three points or when the points lie on one line to within rounding.
pub fn fit_circle(points: &[Point2<f64>], weights: Option<&[f64]>) -> Option<CircleFit> {
    fit_circle_with(points, weights, &Options::default())
}

/// As [`fit_circle`], with the options of the least-squares finish (robust weights, floor).
pub fn fit_circle_with(
    points: &[Point2<f64>],
    weights: Option<&[f64]>,
    options: &Options,
) -> Option<CircleFit> {
    let algebraic = algebraic(points, weights)?;
    let (foot, toward, curvature) = algebraic.foot(points)?;
    let size = algebraic.size;
    let local: Vec<Vector2<f64>> = points.iter().map(|p| (p - foot) / size).collect();
    let solution = least_squares::fit_with_jacobian(
        &[toward.y.atan2(toward.x), 0.0, curvature * size],
        &[1.0, 1.0, 1.0],
        local.len(),
        weights,
        &Options {
            floor: options.floor / size,
            ..options.clone()
        },
        |p, out| {
            let arc = Arc::new(p);
            out.iter_mut()
                .zip(&local)
                .for_each(|(o, q)| *o = arc.residual(q));
        },
        |p, out| {
            let arc = Arc::new(p);
            for (i, q) in local.iter().enumerate() {
                out.row_mut(i).copy_from_slice(&arc.gradient(q));
            }
        },
    )?;
    let mut arc = Arc::new(&solution.parameters);
    if arc.curvature < 0.0 {
        arc = Arc {
            normal: -arc.normal,
            distance: -arc.distance,
            curvature: -arc.curvature,
        };
    }
    // A curvature that rounding of the coordinates alone could make is no circle.
    let rounding =
        points.iter().map(|p| p.coords.amax()).fold(size, f64::max) * f64::EPSILON / size;
    if arc.curvature <= 16.0 * rounding {
        return None;
    }
    let radius = size / arc.curvature;
    let reach = arc.distance * size + radius;
    let (n, t) = (arc.normal, Vector2::new(-arc.normal.y, arc.normal.x));
    // ∂(cx, cy, R)/∂(φ, d, κ), lengths back in the unit of the points.
    let by = Matrix3::from_columns(&[
        Vector3::new(t.x * reach, t.y * reach, 0.0),
        Vector3::new(n.x * size, n.y * size, 0.0),
        Vector3::new(n.x, n.y, 1.0) * (-radius / arc.curvature),
    ]);
    let local_cofactor = solution.cofactor.as_ref()?.fixed_view::<3, 3>(0, 0) / (size * size);
    let total: f64 = weights.map_or(points.len() as f64, |w| w.iter().sum());
    Some(CircleFit {
        centre: foot + n * reach,
        radius,
        rms: size * (solution.sum_sq / total).sqrt(),
        largest: size
            * solution
                .residuals
                .iter()
                .fold(0.0, |m: f64, e| m.max(e.abs())),
        sigma: solution.sigma.map(|s| s * size),
        cofactor: by * local_cofactor * by.transpose(),
        doubted: solution.doubted,
    })
}

/// A circle by curvature: it passes the origin at `distance` along `normal`, which points to its
/// centre.
struct Arc {
    normal: Vector2<f64>,
    distance: f64,
    curvature: f64,
}

impl Arc {
    fn new(p: &[f64]) -> Self {
        Arc {
            normal: Vector2::new(p[0].cos(), p[0].sin()),
            distance: p[1],
            curvature: p[2],
        }
    }

    /// |q − centre| − radius, multiplied out so that curvature 0 is a straight line.
    fn residual(&self, q: &Vector2<f64>) -> f64 {
        let (n, k) = (self.normal, self.curvature);
        let r = q - n * self.distance;
        (k * r.norm_squared() - 2.0 * r.dot(&n)) / ((r * k - n).norm() + 1.0)
    }

    /// Derivatives of the residual by direction, distance and curvature.
    fn gradient(&self, q: &Vector2<f64>) -> [f64; 3] {
        let (n, k) = (self.normal, self.curvature);
        let t = Vector2::new(-n.y, n.x);
        let r = q - n * self.distance;
        let s = r * k - n;
        let length = s.norm().max(f64::MIN_POSITIVE);
        let e = (k * r.norm_squared() - 2.0 * r.dot(&n)) / (length + 1.0);
        [
            -(self.distance * s.dot(&t) + r.dot(&t)) / length,
            -s.dot(&n) / length,
            (r.norm_squared() - e * (k * r.norm_squared() - r.dot(&n)) / length) / (length + 1.0),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(centre: [f64; 2], radius: f64, from: f64, to: f64, n: usize) -> Vec<Point2<f64>> {
        (0..n)
            .map(|k| {
                let a = (from + (to - from) * k as f64 / (n - 1) as f64).to_radians();
                Point2::new(centre[0] + radius * a.cos(), centre[1] + radius * a.sin())
            })
            .collect()
    }

    /// Repeatable scatter, roughly normal, standard deviation 1.
    fn scatter(seed: &mut u64) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            *seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (*seed >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }

    #[test]
    fn exact_on_exact_arcs_of_every_size() {
        for (degrees, relative) in [
            (360.0, 1e-13),
            (180.0, 1e-13),
            (60.0, 1e-12),
            (5.0, 1e-10),
            (0.5, 1e-8),
            (0.05, 1e-5),
        ] {
            let fit = fit_circle(&arc([3.0, -7.0], 2500.0, 20.0, 20.0 + degrees, 9), None).unwrap();
            assert!(
                (fit.radius / 2500.0 - 1.0).abs() < relative,
                "{degrees}°: {}",
                fit.radius
            );
            assert!(fit.largest < 2e-12 * 2500.0);
        }
    }

    #[test]
    fn a_million_off_the_origin() {
        // Coordinates there step by 1.2e-10; the rise of this arc is 15.2.
        let fit = fit_circle(&arc([1e6, -1e6], 1000.0, 10.0, 30.0, 25), None).unwrap();
        assert!(
            (fit.radius - 1000.0).abs() < 1e-6,
            "{}",
            fit.radius - 1000.0
        );
        assert!((fit.centre - Point2::new(1e6, -1e6)).norm() < 1e-6);
    }

    #[test]
    fn points_on_a_line_are_no_circle() {
        let points: Vec<_> = (0..12)
            .map(|k| Point2::new(0.1 * k as f64, 0.3 * k as f64 + 1.0))
            .collect();
        assert!(fit_circle(&points, None).is_none());
        assert!(fit_circle(&points[..2], None).is_none());
        assert!(fit_circle(&[Point2::new(1.0, 1.0); 5], None).is_none());
    }

    #[test]
    fn a_small_arc_admits_that_it_may_be_straight() {
        // 3° of R 3000 with scatter 0.5 rises 1.03: the true radius lies inside the interval and
        // the interval is open above about as often as the formula of the curvature says.
        let mut seed = 1;
        let (mut inside, mut open) = (0, 0);
        for _ in 0..200 {
            let points: Vec<_> = arc([0.0, 0.0], 3000.0, 0.0, 3.0, 20)
                .into_iter()
                .map(|p| p + Vector2::new(scatter(&mut seed), scatter(&mut seed)) * 0.5)
                .collect();
            let Some(fit) = fit_circle(&points, None) else {
                continue;
            };
            let (low, high) = fit.radius_interval(0.0);
            // A fit that bends the other way has its centre on the other side.
            let same_way = fit.centre.x < 2990.0;
            inside += usize::from(same_way && low <= 3000.0 && high.is_none_or(|h| h >= 3000.0));
            open += usize::from(high.is_none());
        }
        assert!(inside >= 180, "{inside} of 200");
        assert!(open >= 20, "{open} of 200");
    }

    #[test]
    fn uncertainty_agrees_with_repeated_trials() {
        let mut seed = 7;
        let mut radii = Vec::new();
        let mut stated = 0.0;
        for _ in 0..400 {
            let points: Vec<_> = arc([10.0, 20.0], 500.0, 0.0, 90.0, 30)
                .into_iter()
                .map(|p| p + Vector2::new(scatter(&mut seed), scatter(&mut seed)) * 0.2)
                .collect();
            let fit = fit_circle(&points, None).unwrap();
            radii.push(fit.radius);
            stated += fit.radius_uncertainty(0.0) / 400.0;
        }
        let mean = radii.iter().sum::<f64>() / 400.0;
        let spread = (radii.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / 399.0).sqrt();
        assert!((mean - 500.0).abs() < 4.0 * spread / 20.0);
        assert!(
            (stated / spread - 1.0).abs() < 0.12,
            "stated {stated}, seen {spread}"
        );
    }

    #[test]
    fn wild_points_are_doubted() {
        let mut points = arc([0.0, 0.0], 40.0, 0.0, 200.0, 30);
        let mut seed = 3;
        for p in &mut points {
            *p += Vector2::new(scatter(&mut seed), scatter(&mut seed)) * 0.01;
        }
        points[4] *= 1.2;
        points[20] *= 0.9;
        let plain = fit_circle(&points, None).unwrap();
        let robust = fit_circle_with(
            &points,
            None,
            &Options {
                robust: true,
                ..Options::default()
            },
        )
        .unwrap();
        assert!((plain.radius - 40.0).abs() > 0.1);
        assert!((robust.radius - 40.0).abs() < 0.02, "{}", robust.radius);
        assert_eq!(robust.doubted, 2);
    }

    #[test]
    fn weights_scale_nothing_but_the_balance() {
        let points = arc([1.0, 2.0], 5.0, 0.0, 120.0, 7);
        let mut bent = points.clone();
        bent[3].x += 0.01;
        let once = fit_circle(&bent, Some(&[1.0; 7])).unwrap();
        let tenfold = fit_circle(&bent, Some(&[10.0; 7])).unwrap();
        assert!((once.radius - tenfold.radius).abs() < 1e-10);
        assert!(
            (once.radius_uncertainty(0.0) / tenfold.radius_uncertainty(0.0) - 1.0).abs() < 1e-6
        );
        let without = fit_circle(&bent, Some(&[1.0, 1.0, 1.0, 0.0, 1.0, 1.0, 1.0])).unwrap();
        assert!((without.radius - 5.0).abs() < 1e-12);
    }
}
