//! Least-squares cylinder and cone through vertices.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

/// A cylinder or cone: at distance z along the axis from `point` the radius is
/// `radius + z·tan(slope)`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Revolved {
    /// Point of the axis beside the middle of the points.
    pub point: Point3<f64>,
    /// Unit axis.
    pub axis: Vector3<f64>,
    /// Radius at `point`.
    pub radius: f64,
    /// Angle between surface and axis, radians; 0 for a cylinder.
    pub slope: f64,
    /// Largest and root mean square distance of the points.
    pub largest: f64,
    pub rms: f64,
    /// Standard uncertainty of the radius for points of unit standard deviation.
    pub radius_factor: f64,
}

impl Revolved {
    /// Distance of `p` from the surface, positive outside.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.point;
        let z = d.dot(&self.axis);
        let rho = (d - self.axis * z).norm();
        (rho - self.radius) * self.slope.cos() - z * self.slope.sin()
    }

    /// Unit normal away from the axis at the place beside `p`.
    pub fn normal(&self, p: &Point3<f64>) -> Vector3<f64> {
        let d = p - self.point;
        let outward = (d - self.axis * d.dot(&self.axis))
            .try_normalize(0.0)
            .unwrap_or_else(Vector3::zeros);
        outward * self.slope.cos() - self.axis * self.slope.sin()
    }
}

/// Gauss–Newton from a guess of the axis (good to some 10°) and, for a cone, of the slope.
///
/// `None` when the points don't settle it. Parameters: two shifts and two tilts of the axis, the
/// radius at the middle, and the slope for a cone. At most `rounds` steps: few to try a seed, some
/// 30 to be sure of the last digit.
pub(super) fn fit(
    points: &[Point3<f64>],
    axis: &Vector3<f64>,
    slope: Option<f64>,
    rounds: usize,
) -> Option<Revolved> {
    let count = if slope.is_some() { 6 } else { 5 };
    if points.len() < count {
        return None;
    }
    let first = points[0];
    let middle =
        first + points.iter().map(|p| p - first).sum::<Vector3<f64>>() / points.len() as f64;
    let size = points
        .iter()
        .map(|p| (p - middle).norm())
        .fold(0.0, f64::max);
    if size <= 0.0 {
        return None;
    }
    let local: Vec<Vector3<f64>> = points.iter().map(|p| (p - middle) / size).collect();
    let mut axis = axis.try_normalize(0.0)?;
    let mut slope_now = slope.unwrap_or(0.0);
    let (mut centre, mut radius) = start(&local, &axis, slope_now)?;
    let mut normal = Matrix6::zeros();
    for round in 0..rounds {
        let (u, v) = square_to(&axis);
        normal = Matrix6::zeros();
        let mut right = Vector6::zeros();
        let (sin, cos) = slope_now.sin_cos();
        for p in &local {
            let d = p - centre;
            let z = d.dot(&axis);
            let across = d - axis * z;
            let rho = across.norm();
            if rho <= 1e-12 {
                // On the axis (a cone's tip): only along-axis shifts matter, taken up by radius.
                let residual = -radius * cos - z * sin;
                let row = Vector6::new(0.0, 0.0, 0.0, 0.0, -cos, radius * sin - z * cos);
                normal += row * row.transpose();
                right -= row * residual;
                continue;
            }
            let w = across / rho;
            let residual = (rho - radius) * cos - z * sin;
            // Tilting the axis by a towards u moves the axis at z by a·z·u, and z itself by −a·(across·u).
            let tilt = |e: &Vector3<f64>| -w.dot(e) * z * cos - across.dot(e) * sin;
            let row = Vector6::new(
                -w.dot(&u) * cos,
                -w.dot(&v) * cos,
                tilt(&u),
                tilt(&v),
                -cos,
                -(rho - radius) * sin - z * cos,
            );
            normal += row * row.transpose();
            right -= row * residual;
        }
        if slope.is_none() {
            for k in 0..6 {
                normal[(5, k)] = 0.0;
                normal[(k, 5)] = 0.0;
            }
            normal[(5, 5)] = 1.0;
            right[5] = 0.0;
        }
        // A whisker of damping steadies the first steps from a poor guess.
        let damped = normal + Matrix6::identity() * if round < 3 { 1e-6 } else { 0.0 };
        let step = damped.cholesky()?.solve(&right);
        centre += u * step[0] + v * step[1];
        axis = (axis + u * step[2] + v * step[3]).try_normalize(0.0)?;
        radius += step[4];
        slope_now += step[5];
        if !(radius.is_finite() && radius > 0.0 && radius < 1e5 && slope_now.abs() < 1.5) {
            return None;
        }
        if round >= 3 && step.norm() <= 1e-13 * (1.0 + radius) {
            break;
        }
    }
    // The axis point beside the middle of the points; radius belongs to that place.
    let along = -centre.dot(&axis);
    centre += axis * along;
    radius += along * slope_now.tan();
    if radius <= 0.0 {
        return None;
    }
    let mut out = Revolved {
        point: middle + centre * size,
        axis,
        radius: radius * size,
        slope: slope_now,
        largest: 0.0,
        rms: 0.0,
        radius_factor: normal
            .try_inverse()
            .map_or(f64::INFINITY, |c| c[(4, 4)].max(0.0).sqrt()),
    };
    let squares: f64 = points
        .iter()
        .map(|p| {
            let e = out.distance(p);
            out.largest = out.largest.max(e.abs());
            e * e
        })
        .sum();
    out.rms = (squares / points.len() as f64).sqrt();
    out.largest.is_finite().then_some(out)
}

/// Centre beside the middle and radius, by a linear circle fit of the points brought to that place.
fn start(local: &[Vector3<f64>], axis: &Vector3<f64>, slope: f64) -> Option<(Vector3<f64>, f64)> {
    let (u, v) = square_to(axis);
    let mut normal = nalgebra::Matrix4::zeros();
    let mut right = nalgebra::Vector4::zeros();
    let tan = slope.tan();
    for p in local {
        // ρ = r + z·tan: (x² + y² − z²tan²) + bx + cy + d − 2r·z·tan = 0, the last term linear too.
        let (x, y, z) = (p.dot(&u), p.dot(&v), p.dot(axis) * tan);
        let row = nalgebra::Vector4::new(x, y, 1.0, z);
        normal += row * row.transpose();
        right -= row * (x * x + y * y - z * z);
    }
    if tan.abs() < 1e-9 {
        normal[(3, 3)] = 1.0;
    } else {
        normal[(3, 3)] += 1e-12;
    }
    let s = normal.cholesky()?.solve(&right);
    let centre = -(u * s[0] + v * s[1]) / 2.0;
    let squared = centre.norm_squared() - s[2];
    (squared > 0.0 && squared.is_finite()).then(|| (centre, squared.sqrt()))
}

/// Two unit directions square to `axis` and to each other.
pub(super) fn square_to(axis: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let least = axis.iamin();
    let mut e = Vector3::zeros();
    e[least] = 1.0;
    let u = axis.cross(&e).normalize();
    (u, axis.cross(&u))
}
