//! One linear least-squares step from a Jacobian, by QR and singular values.

use nalgebra::{DMatrix, DVector};

/// The problem made linear at one point, in columns of unit length.
pub(super) struct Linear {
    norms: Vec<f64>,
    singular: DVector<f64>,
    v: DMatrix<f64>,
    projected: DVector<f64>,
}

impl Linear {
    /// Factors a Jacobian and the residuals that go with it; `None` when an entry is not finite.
    pub(super) fn factor(mut j: DMatrix<f64>, mut right: DVector<f64>) -> Option<Self> {
        let n = j.ncols();
        let norms: Vec<f64> = (0..n).map(|k| j.column(k).norm()).collect();
        if norms.iter().any(|v| !v.is_finite()) {
            return None;
        }
        for (k, norm) in norms.iter().enumerate() {
            if *norm > 0.0 {
                j.column_mut(k).unscale_mut(*norm);
            }
        }
        let qr = j.qr();
        qr.q_tr_mul(&mut right);
        let svd = qr.unpack_r().svd(true, true);
        let (u, v_t) = (svd.u?, svd.v_t?);
        let projected = u.tr_mul(&right.rows(0, n));
        Some(Linear {
            norms,
            singular: svd.singular_values,
            v: v_t.transpose(),
            projected,
        })
    }

    /// Step that lessens the residuals, damped on the singular values (0 = Gauss–Newton).
    pub(super) fn step(&self, damping: f64) -> DVector<f64> {
        let mut scaled = self.projected.clone();
        for (k, s) in self.singular.iter().enumerate() {
            let divisor = s * s + damping;
            scaled[k] *= if divisor > 0.0 { -s / divisor } else { 0.0 };
        }
        let mut step = &self.v * scaled;
        for (k, norm) in self.norms.iter().enumerate() {
            step[k] = if *norm > 0.0 { step[k] / norm } else { 0.0 };
        }
        step
    }

    /// (JᵀJ)⁻¹, or `None` when the columns are not independent.
    pub(super) fn cofactor(&self) -> Option<DMatrix<f64>> {
        let n = self.norms.len();
        let largest = self.singular.max();
        // Numerical rank: singular values below rounding of the largest carry no information.
        let least = largest * n as f64 * 1e-13;
        if largest <= 0.0 || self.norms.contains(&0.0) || self.singular.iter().any(|s| *s <= least)
        {
            return None;
        }
        let mut half = self.v.clone();
        for k in 0..n {
            half.column_mut(k).unscale_mut(self.singular[k]);
        }
        for k in 0..n {
            half.row_mut(k).unscale_mut(self.norms[k]);
        }
        Some(&half * half.transpose())
    }
}
