//! Cylinder through points, geometric least squares from a guess of the axis.

use nalgebra::{DMatrix, Point2, Point3, Unit, UnitQuaternion, Vector3};

use super::circle_fit::taubin;
use super::least_squares::{self, Fit, Options};
use super::plane_fit::fit_plane;
use super::principal_axes::principal_axes;

/// A fitted cylinder. Lengths in the unit of the points.
#[derive(Clone, Debug)]
pub struct CylinderFit {
    /// Point of the axis nearest the middle of the points.
    pub point: Point3<f64>,
    /// Unit direction of the axis, on the side of the guess.
    pub axis: Vector3<f64>,
    /// Radius.
    pub radius: f64,
    /// Root mean square distance of the points from the cylinder (weighted).
    pub rms: f64,
    /// Largest distance of a point from the cylinder.
    pub largest: f64,
    /// Standard deviation of a point of unit weight; `None` for five points.
    pub sigma: Option<f64>,
    /// Covariance for a point standard deviation of 1, of: shift of `point` along `frame[0]` and
    /// `frame[1]`, tilt of the axis (radians) towards `frame[0]` and `frame[1]`, radius.
    pub cofactor: DMatrix<f64>,
    /// Two unit directions square to the axis.
    pub frame: [Vector3<f64>; 2],
    /// Points less than half believed (robust fits only).
    pub doubted: usize,
}

impl CylinderFit {
    fn uncertainty(&self, index: usize, floor: f64) -> f64 {
        self.cofactor[(index, index)].max(0.0).sqrt() * self.sigma.unwrap_or(0.0).max(floor)
    }

    /// Standard uncertainty of the radius, a point's standard deviation not taken below `floor`.
    pub fn radius_uncertainty(&self, floor: f64) -> f64 {
        self.uncertainty(4, floor)
    }

    /// Standard uncertainties of the axis' place along each of `frame`, at `point`.
    pub fn place_uncertainty(&self, floor: f64) -> [f64; 2] {
        [self.uncertainty(0, floor), self.uncertainty(1, floor)]
    }

    /// Standard uncertainties of the axis' tilt towards each of `frame`, radians.
    pub fn tilt_uncertainty(&self, floor: f64) -> [f64; 2] {
        [self.uncertainty(2, floor), self.uncertainty(3, floor)]
    }

    /// Signed distance of a point from the cylinder, positive outside.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        (p - self.point).cross(&self.axis).norm() - self.radius
    }
}

/// Geometric least-squares cylinder from a guess of the axis direction (good to some 10 degrees;
/// the place and the radius need no guess).
///
/// `weights` are 1/σ² up to a common factor. `None` when the points do not settle axis and radius,
/// or when a plane fits them as well.
pub fn fit_cylinder(
    points: &[Point3<f64>],
    weights: Option<&[f64]>,
    axis_guess: Vector3<f64>,
    options: &Options,
) -> Option<CylinderFit> {
    if points.len() < 5 || weights.is_some_and(|w| w.len() != points.len()) {
        return None;
    }
    let axis = Unit::try_new(axis_guess, 0.0)?;
    let [u, v] = square_to(&axis);
    let middle = points[0]
        + points.iter().map(|p| p - points[0]).sum::<Vector3<f64>>() / points.len() as f64;
    let seen: Vec<Point2<f64>> = points
        .iter()
        .map(|p| Point2::new((p - middle).dot(&u), (p - middle).dot(&v)))
        .collect();
    let problem = Problem {
        points,
        weights,
        middle,
        options,
    };
    let mut best: Option<CylinderFit> = None;
    for (k, (centre, radius)) in seeds(&seen, weights).into_iter().enumerate() {
        let start = Cylinder {
            place: middle + u * centre.x + v * centre.y,
            axis,
            radius,
        };
        if let Some(found) = problem.solve(start)
            && best.as_ref().is_none_or(|b| found.rms < b.rms)
        {
            best = Some(found);
        }
        // Only a short arc seen askew leads the first seed astray, and then it fits badly.
        if k == 0 && best.as_ref().is_some_and(|b| b.rms < 1e-4 * b.radius) {
            break;
        }
    }
    best
}

/// Circles to start from: the one that fits the points as seen along the guess, then flatter and
/// flatter ones on either side of the points' main direction.
fn seeds(seen: &[Point2<f64>], weights: Option<&[f64]>) -> Vec<(Point2<f64>, f64)> {
    let mut seeds: Vec<_> = taubin(seen, weights).into_iter().collect();
    if let Some(axes) = principal_axes(seen, weights) {
        let reach = seen
            .iter()
            .map(|p| (p - axes.centroid).dot(&axes.directions[0]).abs())
            .fold(0.0, f64::max);
        for flatter in [1.2, 5.0, 20.0] {
            for side in [1.0, -1.0] {
                seeds.push((
                    axes.centroid + axes.directions[1] * (side * flatter * reach),
                    flatter * reach,
                ));
            }
        }
    }
    seeds
}

#[derive(Clone, Copy)]
struct Cylinder {
    place: Point3<f64>,
    axis: Unit<Vector3<f64>>,
    radius: f64,
}

struct Problem<'a> {
    points: &'a [Point3<f64>],
    weights: Option<&'a [f64]>,
    middle: Point3<f64>,
    options: &'a Options,
}

impl Problem<'_> {
    fn solve(&self, start: Cylinder) -> Option<CylinderFit> {
        let (found, _) = self.pass(start)?;
        // Once more from there, so that the covariance is read in a frame square to the axis.
        let (found, fit) = self.pass(found)?;
        let [u, v] = square_to(&found.axis);
        let total: f64 = self
            .weights
            .map_or(self.points.len() as f64, |w| w.iter().sum());
        let fitted = CylinderFit {
            point: found.place,
            axis: found.axis.into_inner(),
            radius: found.radius,
            rms: (fit.sum_sq / total).sqrt(),
            largest: fit.residuals.iter().fold(0.0, |m: f64, e| m.max(e.abs())),
            sigma: fit.sigma,
            cofactor: fit.cofactor?,
            frame: [u, v],
            doubted: fit.doubted,
        };
        (fitted.radius > 0.0 && fitted.radius.is_finite() && !self.plane_would_do(&fitted))
            .then_some(fitted)
    }

    /// True when the curvature buys no more than scatter would (F above 4 for the one parameter
    /// more), or no more than the rounding of the coordinates.
    fn plane_would_do(&self, fitted: &CylinderFit) -> bool {
        let Some(plane) = fit_plane(self.points, self.weights) else {
            return false;
        };
        let rounding = self
            .points
            .iter()
            .map(|p| p.coords.amax())
            .fold(0.0, f64::max)
            * f64::EPSILON;
        let bought = plane.sum_sq - fitted.rms * fitted.rms * plane.weight;
        bought <= 4.0 * fitted.sigma.unwrap_or(0.0).max(4.0 * rounding).powi(2)
    }

    fn pass(&self, start: Cylinder) -> Option<(Cylinder, Fit)> {
        let Cylinder { axis, radius, .. } = start;
        let [u, v] = square_to(&axis);
        // Slide to the middle of the points: shift and tilt are least entangled there.
        let slide = |place: Point3<f64>, axis: &Unit<Vector3<f64>>| {
            place + axis.as_ref() * (self.middle - place).dot(axis)
        };
        let place = slide(start.place, &axis);
        let local: Vec<Vector3<f64>> = self
            .points
            .iter()
            .map(|p| p - place)
            .map(|d| Vector3::new(d.dot(&u), d.dot(&v), d.dot(&axis)))
            .collect();
        let length = local
            .iter()
            .map(|q| q.z.abs())
            .fold(radius * 1e-3, f64::max);
        let fit = least_squares::fit_with_jacobian(
            &[0.0; 5],
            &[radius, radius, radius / length, radius / length, radius],
            local.len(),
            self.weights,
            self.options,
            |p, out| {
                for (o, q) in out.iter_mut().zip(&local) {
                    *o = across(p, q).norm() - radius - p[4];
                }
            },
            |p, out| {
                let a = Vector3::new(p[2], p[3], 1.0);
                for (i, q) in local.iter().enumerate() {
                    let d = across(p, q);
                    let n = d / d.norm().max(f64::MIN_POSITIVE);
                    // d = r − a (r·a)/(a·a), and n is square to a: two terms survive.
                    let along = (q - Vector3::new(p[0], p[1], 0.0)).dot(&a) / a.norm_squared();
                    out.row_mut(i)
                        .copy_from_slice(&[-n.x, -n.y, -along * n.x, -along * n.y, -1.0]);
                }
            },
        )?;
        let p = &fit.parameters;
        let axis = Unit::try_new(u * p[2] + v * p[3] + axis.as_ref(), 0.0)?;
        let found = Cylinder {
            place: slide(place + u * p[0] + v * p[1], &axis),
            axis,
            radius: radius + p[4],
        };
        Some((found, fit))
    }
}

/// Vector from the axis (through (p0, p1, 0) along (p2, p3, 1)) to q, square to the axis.
fn across(p: &[f64], q: &Vector3<f64>) -> Vector3<f64> {
    let a = Vector3::new(p[2], p[3], 1.0);
    let r = q - Vector3::new(p[0], p[1], 0.0);
    r - a * (r.dot(&a) / a.norm_squared())
}

/// Two unit directions that make a right-handed frame with `axis` third; they turn smoothly with
/// it as long as it stays on the same side.
fn square_to(axis: &Unit<Vector3<f64>>) -> [Vector3<f64>; 2] {
    let turn =
        UnitQuaternion::rotation_between_axis(&Vector3::z_axis(), axis).unwrap_or_else(|| {
            UnitQuaternion::from_axis_angle(&Vector3::x_axis(), std::f64::consts::PI)
        });
    [turn * Vector3::x(), turn * Vector3::y()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_cylinder(
        place: Point3<f64>,
        axis: Vector3<f64>,
        radius: f64,
        degrees: f64,
    ) -> Vec<Point3<f64>> {
        let axis = Unit::new_normalize(axis);
        let [u, v] = square_to(&axis);
        let mut points = Vec::new();
        for k in 0..5 {
            for j in 0..8 {
                let a = (degrees * j as f64 / 7.0).to_radians();
                points.push(
                    place
                        + (u * a.cos() + v * a.sin()) * radius
                        + axis.into_inner() * (k as f64 * 40.0),
                );
            }
        }
        points
    }

    #[test]
    fn exact_points_from_a_poor_guess() {
        for (degrees, tolerance) in [(340.0, 1e-9), (90.0, 1e-9), (20.0, 1e-7)] {
            let axis = Vector3::new(0.3, -0.2, 0.9).normalize();
            let points = on_cylinder(Point3::new(5.0, 6.0, 7.0), axis, 60.0, degrees);
            let fit = fit_cylinder(
                &points,
                None,
                axis + Vector3::new(0.15, 0.1, 0.0),
                &Options::default(),
            )
            .unwrap();
            assert!(
                (fit.radius - 60.0).abs() < tolerance,
                "{degrees}°: {}",
                fit.radius
            );
            assert!(fit.axis.cross(&axis).norm() < 1e-9);
            assert!(points.iter().all(|p| fit.distance(p).abs() < 1e-9));
        }
    }

    #[test]
    fn far_from_the_origin_and_upside_down() {
        let points = on_cylinder(Point3::new(1e6, -1e6, 1e6), -Vector3::z(), 24.15, 300.0);
        let fit = fit_cylinder(&points, None, -Vector3::z(), &Options::default()).unwrap();
        assert!((fit.radius - 24.15).abs() < 1e-8);
        assert!(fit.axis.z < -0.999_999);
    }

    #[test]
    fn points_that_settle_nothing() {
        let flat: Vec<_> = (0..20)
            .map(|k| Point3::new((k % 5) as f64, (k / 5) as f64, 0.0))
            .collect();
        let found = fit_cylinder(&flat, None, Vector3::x(), &Options::default());
        assert!(found.is_none(), "{found:?}");
        assert!(fit_cylinder(&flat[..4], None, Vector3::z(), &Options::default()).is_none());
        assert!(fit_cylinder(&flat, None, Vector3::zeros(), &Options::default()).is_none());
    }
}
