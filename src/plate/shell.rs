//! Two cylinders about one axis, fitted together.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use super::sheet::Sheet;
use super::walk::any_square_to;
use crate::body::Body;
use crate::measure::Quantity;
use crate::surface::{Patches, Surface};

/// Inside and outside of a rolled plate about their common axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shell {
    pub point: Point3<f64>,
    pub axis: Vector3<f64>,
    pub inside: Quantity,
    pub outside: Quantity,
    pub thickness: Quantity,
}

/// Least-squares fit of two coaxial cylinders to the vertices of both faces of a sheet whose first
/// piece is rolled, the outside its front. One axis for both keeps the thickness sharp where a short
/// arc leaves the radii unsure.
pub(super) fn fit(body: &Body, patches: &Patches, sheet: &Sheet) -> Option<Shell> {
    let e = sheet.elements.first()?;
    let outer = &patches.list[e.front as usize];
    let inner = &patches.list[e.back as usize];
    let (
        Surface::Cylinder {
            point,
            axis,
            radius: r,
            ..
        },
        Surface::Cylinder { radius: s, .. },
    ) = (outer.surface, inner.surface)
    else {
        return None;
    };
    let points: Vec<(Point3<f64>, usize)> = [(outer, 4), (inner, 5)]
        .into_iter()
        .flat_map(|(patch, column)| {
            patch
                .vertices(body)
                .into_iter()
                .map(move |v| (body.vertices[v as usize], column))
        })
        .collect();
    let (mut point, mut axis, mut radii) = (point, axis, [r, s]);
    let mut cofactor = Matrix6::zeros();
    let mut squares = 0.0;
    for _ in 0..20 {
        let u = any_square_to(&axis);
        let v = axis.cross(&u);
        let mut normal = Matrix6::zeros();
        let mut right = Vector6::zeros();
        squares = 0.0;
        for (p, column) in &points {
            let d = p - point;
            // Tilts in radians times the radius, so that all unknowns are lengths.
            let z = d.dot(&axis) / r;
            let across = d - axis * d.dot(&axis);
            let rho = across.norm();
            let w = across / rho;
            let mut row = Vector6::new(
                -w.dot(&u),
                -w.dot(&v),
                -w.dot(&u) * z,
                -w.dot(&v) * z,
                0.0,
                0.0,
            );
            row[*column] = -1.0;
            let residual = rho - radii[column - 4];
            squares += residual * residual;
            normal += row * row.transpose();
            right -= row * residual;
        }
        let step = normal.cholesky()?.solve(&right);
        point += u * step[0] + v * step[1];
        axis = (axis + (u * step[2] + v * step[3]) / r).try_normalize(0.0)?;
        radii[0] += step[4];
        radii[1] += step[5];
        if !step.iter().all(|x| x.is_finite()) || radii[1] <= 0.0 {
            return None;
        }
        cofactor = normal.try_inverse()?;
        if step.norm() <= 1e-13 * r {
            break;
        }
    }
    let freedom = points.len().saturating_sub(6).max(1) as f64;
    let scatter = (squares / freedom).sqrt().max(body.quantum / 3f64.sqrt());
    let give = |value: f64, variance: f64| {
        Quantity::new(
            value,
            // Facets of a scan may lie inside the arc by as much as they scatter.
            2.0 * scatter * variance.max(0.0).sqrt()
                + body.quantum
                + 2.0 * patches.noise.unwrap_or(0.0),
        )
    };
    let (a, b, ab) = (cofactor[(4, 4)], cofactor[(5, 5)], cofactor[(4, 5)]);
    Some(Shell {
        point,
        axis,
        inside: give(radii[1], b),
        outside: give(radii[0], a),
        thickness: give(radii[0] - radii[1], a + b - 2.0 * ab),
    })
}
