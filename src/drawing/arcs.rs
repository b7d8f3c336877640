//! A curve as few arcs as keep it within a tolerance.

use super::scene::{Corner, Place};

/// Corners along a curve from parameter `from` to `to`, its end left out, no point of the curve
/// farther than `tolerance` from them; and the largest distance found, at checked points.
///
/// `None` where the curve is not defined.
pub fn along(
    curve: &dyn Fn(f64) -> Option<Place>,
    from: f64,
    to: f64,
    tolerance: f64,
) -> Option<(Vec<Corner>, f64)> {
    let mut corners = Vec::new();
    let mut departure = 0.0;
    fit(
        curve,
        (from, to),
        tolerance,
        0,
        &mut corners,
        &mut departure,
    )?;
    Some((corners, departure))
}

/// Halvings after which an arc is taken as it is.
const DEEPEST: u32 = 12;

fn fit(
    curve: &dyn Fn(f64) -> Option<Place>,
    (from, to): (f64, f64),
    tolerance: f64,
    depth: u32,
    corners: &mut Vec<Corner>,
    departure: &mut f64,
) -> Option<()> {
    let middle = (from + to) / 2.0;
    let (a, b, m) = (curve(from)?, curve(to)?, curve(middle)?);
    let chord = b - a;
    let length = chord.norm();
    // The curve's middle need not stand over the chord's: the circle through all three is taken.
    let bulge = through(a, m, b);
    let off = (1..8)
        .map(|k| {
            let p = curve(from + (to - from) * f64::from(k) / 8.0)?;
            Some(distance(a, b, bulge, p))
        })
        .collect::<Option<Vec<f64>>>()?
        .into_iter()
        .fold(0.0, f64::max);
    let too_far = off > tolerance || bulge.abs() > 0.5 || length == 0.0;
    if too_far && depth < DEEPEST {
        fit(
            curve,
            (from, middle),
            tolerance,
            depth + 1,
            corners,
            departure,
        )?;
        return fit(
            curve,
            (middle, to),
            tolerance,
            depth + 1,
            corners,
            departure,
        );
    }
    *departure = departure.max(off);
    corners.push(Corner { at: a, bulge });
    Some(())
}

/// Bulge of the arc from `a` through `m` to `b`; 0 where they lie on a line within rounding.
fn through(a: Place, m: Place, b: Place) -> f64 {
    let (u, v) = (m - a, b - m);
    // The angle turned at m is half the angle of the arc.
    let turned = u.perp(&v).atan2(u.dot(&v));
    let bulge = (turned / 2.0).tan();
    let rise = bulge.abs() * (b - a).norm() / 2.0;
    if rise < 1e-7 { 0.0 } else { bulge }
}

fn distance(a: Place, b: Place, bulge: f64, p: Place) -> f64 {
    match super::bulge::arc(a, b, bulge) {
        Some(arc) => ((p - arc.centre).norm() - arc.radius).abs(),
        None => match (b - a).try_normalize(0.0) {
            Some(u) => u.perp(&(p - a)).abs(),
            None => (p - a).norm(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ellipse_within_a_hundredth() {
        let curve = |t: f64| Some(Place::new(70.0 * t.cos(), 50.0 * t.sin()));
        let turn = std::f64::consts::TAU;
        let (corners, departure) = along(&curve, 0.0, turn, 0.01).expect("a curve");
        assert!(departure <= 0.01 && corners.len() < 60, "{}", corners.len());
        let area = super::super::bulge::area(&corners);
        let want = std::f64::consts::PI * 70.0 * 50.0;
        assert!((area - want).abs() < 0.01 * 400.0, "{area}, not {want}");
    }

    #[test]
    fn a_circle_is_told_exactly() {
        let curve = |t: f64| Some(Place::new(9.0 * t.cos(), 9.0 * t.sin()));
        let (corners, departure) =
            along(&curve, 0.0, std::f64::consts::TAU, 0.01).expect("a curve");
        assert!(departure < 1e-9 && corners.len() == 4);
    }
}
