//! A line or circle fitted to the points one piece stands for.

use nalgebra::{Matrix2, Point2, Vector2};

use super::arcs::{run, turning};
use super::circle::{self, Circle, Touch};
use super::{Piece, beside, corner_arcs};

/// What a piece was fitted to.
pub(super) enum Fitted {
    Line {
        point: Point2<f64>,
        direction: Vector2<f64>,
        plus_minus: f64,
    },
    Circle {
        circle: Circle,
        left: bool,
        tangent: [bool; 2],
    },
}

/// Fits piece `k`; an arc touches the lines it is tangent to.
pub(super) fn fit_piece(
    points: &[Point2<f64>],
    kept: &[usize],
    corners: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    pieces: &[Piece],
    k: usize,
) -> Fitted {
    let piece = &pieces[k];
    let stands_for = given(points, kept, piece);
    let line = || fit_line(&stands_for, tolerance);
    if !piece.arc {
        return line();
    }
    let own = run(corners, piece.first, piece.last - piece.first);
    let Some(first) = circle::fit(&own, &[]) else {
        return line();
    };
    let left = turning(&(own[1] - own[0]), &(own[2] - own[1])) > 0.0;
    let mut tangent = [false; 2];
    let mut touch: Vec<Touch> = Vec::new();
    for (side, is_tangent) in [-1, 1].into_iter().zip(&mut tangent) {
        let Some(other) = beside(pieces, k, side, closed) else {
            continue;
        };
        if !corner_arcs::touches(corners, &first, piece, other, side, tolerance) {
            continue;
        }
        *is_tangent = true;
        if !other.arc
            && let (Fitted::Line { point, .. }, Some(t)) = (
                fit_line(&given(points, kept, other), tolerance),
                corner_arcs::touch(corners, other, &first),
            )
        {
            touch.push(Touch { point, ..t });
        }
    }
    // Points left out as lying on a chord belong to the arc only where they could be on it.
    let observed: Vec<Point2<f64>> = stands_for
        .into_iter()
        .filter(|p| ((p - first.centre).norm() - first.radius).abs() <= tolerance)
        .collect();
    let circle = circle::fit(
        if observed.len() > own.len() {
            &observed
        } else {
            &own
        },
        &touch,
    )
    .unwrap_or(first);
    Fitted::Circle {
        circle,
        left,
        tangent,
    }
}

/// All given points from the first to the last corner of a piece.
fn given(points: &[Point2<f64>], kept: &[usize], piece: &Piece) -> Vec<Point2<f64>> {
    let (n, m) = (points.len(), kept.len());
    let (first, last) = (kept[piece.first % m], kept[piece.last % m]);
    let count = if last > first || piece.last == piece.first {
        last - first
    } else {
        last + n - first
    };
    (0..=count).map(|i| points[(first + i) % n]).collect()
}

fn fit_line(points: &[Point2<f64>], tolerance: f64) -> Fitted {
    let (a, b) = (points[0], points[points.len() - 1]);
    let chord = b - a;
    let mut point = a;
    let mut direction = chord.try_normalize(0.0).unwrap_or(Vector2::x());
    let mut scatter = tolerance / 4.0;
    if points.len() > 4 {
        let mean = Point2::from(
            points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / points.len() as f64,
        );
        let spread: Matrix2<f64> = points
            .iter()
            .map(|p| (p - mean) * (p - mean).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let long = if eigen.eigenvalues[0] > eigen.eigenvalues[1] {
            0
        } else {
            1
        };
        let d: Vector2<f64> = eigen.eigenvectors.column(long).into_owned();
        direction = if d.dot(&chord) < 0.0 { -d } else { d };
        point = mean;
        scatter =
            scatter.max((eigen.eigenvalues[1 - long].max(0.0) / (points.len() - 2) as f64).sqrt());
    }
    Fitted::Line {
        point,
        direction,
        plus_minus: 2.0 * std::f64::consts::SQRT_2 * scatter,
    }
}
