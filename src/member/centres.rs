//! A path through section centres.

use nalgebra::{DMatrix, DVector};

use super::derivative::{Foot, of_path};
use super::freedom::{Free, free_numbers, moved, probe_step};
use super::lateral::Observation;
use super::model::Model;

/// The path of `model` moved so that it runs through points (section centres); its profile is left out.
pub fn fit_path(model: &Model, centres: &[Observation]) -> Option<Model> {
    let free: Vec<Free> = free_numbers(model)
        .into_iter()
        .filter(|f| !matches!(f, Free::Radius(_)))
        .collect();
    let m = free.len();
    let length = model.path.length();
    let offsets = |model: &Model| -> Vec<f64> {
        centres
            .iter()
            .flat_map(|o| {
                let (l, _) = model.path.local(&o.point, o.near);
                [l.x, l.y]
            })
            .collect()
    };
    let mut current = model.clone();
    let mut r = offsets(&current);
    let mut damping = 1e-3;
    for _ in 0..40 {
        let mut jacobian = DMatrix::zeros(r.len(), m);
        let feet: Vec<Foot> = centres
            .iter()
            .map(|o| Foot::new(&current.path, &o.point, o.near))
            .collect();
        for k in 0..m {
            let step = probe_step(free[k], 1.0, length);
            let Some(moves) = of_path(&current.path, free[k], step, &feet) else {
                continue;
            };
            for (i, d) in moves.iter().enumerate() {
                jacobian[(2 * i, k)] = d.x;
                jacobian[(2 * i + 1, k)] = d.y;
            }
        }
        let normal = jacobian.transpose() * &jacobian;
        let gradient = jacobian.transpose() * DVector::from_column_slice(&r);
        let before: f64 = r.iter().map(|x| x * x).sum();
        let mut gained = 0.0;
        for _ in 0..12 {
            let mut damped = normal.clone();
            for k in 0..m {
                damped[(k, k)] += damping * normal[(k, k)].max(1e-30);
            }
            let Some(cholesky) = damped.cholesky() else {
                damping = (damping * 10.0f64).max(1e-12);
                continue;
            };
            let by: Vec<f64> = (-cholesky.solve(&gradient)).iter().copied().collect();
            let candidate = moved(&current, &free, &by);
            let rr = offsets(&candidate);
            let after: f64 = rr.iter().map(|x| x * x).sum();
            if after.is_finite() && after <= before {
                gained = before - after;
                current = candidate;
                r = rr;
                damping = (damping * 0.1).max(1e-14);
                break;
            }
            damping *= 8.0;
        }
        if gained <= 1e-7 * before {
            break;
        }
    }
    Some(current)
}
