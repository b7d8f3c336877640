//! The pose of a program on a plate, made exact: least squares of how far the path is from the edge.

use nalgebra::{Complex, SMatrix, SVector};

use super::design::Ring;
use super::piece::Place;
use super::pose::Pose;

/// Points of the program that belong to a ring of the plate.
pub struct Pair<'r> {
    /// Ring of the plate.
    pub ring: &'r Ring,
    /// Points of the program.
    pub points: Vec<Place>,
}

/// What is left free beside turn and shift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Free {
    /// The scale.
    pub scale: bool,
    /// How far the path stands off the edge; held where it is false.
    pub offset: bool,
}

/// A pose and how far the path stands off the edge into the waste, mm on the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The pose.
    pub pose: Pose,
    /// Half the kerf the path allows.
    pub offset: f64,
}

const ROUNDS: usize = 30;

/// Improves a fit. Points far from the rest count little (weight 1 / (1 + (r/c)²), c from the median), so a
/// wrong hole or a lead does not pull the plate away. Turns that nothing tells are left as they are.
pub fn refine(pairs: &[Pair], start: Fit, free: Free) -> Fit {
    let mut fit = start;
    for round in 0..ROUNDS {
        let Some(step) = step(pairs, &fit, free, round < 4) else {
            return fit;
        };
        fit.offset += step.3;
        let grown = Complex::from_polar((step.2).clamp(-0.2, 0.2).exp(), step.1.clamp(-0.3, 0.3));
        // Turn and scale act about the middle of the plate.
        let about = step.4;
        fit.pose.turn *= grown;
        fit.pose.shift = (fit.pose.shift - about) * grown + about + step.0;
        // A thousandth of what anybody can cut, at the ends of a metre.
        let small = step.0.norm() + step.3.abs() < 1e-6 && step.1.abs() + step.2.abs() < 1e-9;
        if small {
            break;
        }
    }
    fit
}

/// Shift, turn, growth, offset, and the place turn and growth are about.
type Step = (Complex<f64>, f64, f64, f64, Complex<f64>);

fn step(pairs: &[Pair], fit: &Fit, free: Free, early: bool) -> Option<Step> {
    let middle = pairs.first()?.ring.centre;
    let size = pairs.first()?.ring.size().max(1e-9);
    let mut rows: Vec<([f64; 5], f64)> = Vec::new();
    for pair in pairs {
        for p in &pair.points {
            let q = fit.pose.to_plate(*p);
            let stand = pair.ring.stand(q);
            let arm = (q - middle) / size;
            // Change of the distance with shift, turn, growth (both times the size) and offset.
            let row = [
                stand.out.x,
                stand.out.y,
                arm.perp(&stand.out),
                arm.dot(&stand.out),
                -1.0,
            ];
            rows.push((row, stand.off - fit.offset));
        }
    }
    let mut sizes: Vec<f64> = rows.iter().map(|(_, r)| r.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let median = sizes.get(sizes.len() / 2).copied()?;
    let reach = (2.0 * median).max(if early { 0.01 * size } else { 0.01 });
    let mut normal = SMatrix::<f64, 5, 5>::zeros();
    let mut right = SVector::<f64, 5>::zeros();
    for (row, r) in &rows {
        let weight = 1.0 / (1.0 + (r / reach).powi(2));
        let row = SVector::<f64, 5>::from(*row);
        normal += row * row.transpose() * weight;
        right -= row * (r * weight);
    }
    for (k, kept) in [(3, free.scale), (4, free.offset)] {
        if !kept {
            normal.row_mut(k).fill(0.0);
            normal.column_mut(k).fill(0.0);
            normal[(k, k)] = 1.0;
            right[k] = 0.0;
        }
    }
    // Directions that nothing tells stay where they are.
    let damping = 1e-9 * normal.trace().max(1e-12);
    for k in 0..5 {
        normal[(k, k)] += damping;
    }
    let x = normal.cholesky()?.solve(&right);
    x.iter().all(|v| v.is_finite()).then_some((
        Complex::new(x[0], x[1]),
        x[2] / size,
        x[3] / size,
        x[4],
        Complex::new(middle.x, middle.y),
    ))
}
