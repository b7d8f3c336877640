//! ± of a radius known through something that is read: a rise, a curvature.

/// Standard deviations in the half-width of a 95 % interval of a normal distribution.
pub const K95: f64 = 1.959_963_984_540_054;

/// Half-width of the interval around `of(read)` that holds the true value 95 times in 100, when the
/// reading is off by a normal error of 95 % half-width `doubt`. `inverse` leads back from the value to
/// the reading and must fall. `None` where no such interval is finite: the reading may as well be nought.
///
/// The interval is symmetric though the doubt is not: c²/8h runs away as h goes to 0.
pub fn half_width(
    value: f64,
    read: f64,
    doubt: f64,
    inverse: impl Fn(f64) -> Option<f64>,
) -> Option<f64> {
    if doubt <= 0.0 {
        return Some(0.0);
    }
    let sigma = doubt / K95;
    // Share of the errors for which the interval value ± w holds the true value.
    let held = |w: f64| {
        let low = inverse(value + w).map_or(0.0, |x| normal((read - x) / sigma));
        let high = inverse(value - w)
            .filter(|_| value > w)
            .map_or(1.0, |x| normal((x - read) / sigma));
        low + high - 1.0
    };
    let (mut near, mut far) = (0.0, value);
    while held(far) < 0.95 {
        far *= 2.0;
        if far > 1e6 * value || !far.is_finite() {
            return None;
        }
    }
    for _ in 0..60 {
        let middle = (near + far) / 2.0;
        if held(middle) < 0.95 {
            near = middle;
        } else {
            far = middle;
        }
    }
    Some(far)
}

/// Share of a normal distribution below `x`. Abramowitz & Stegun, Handbook of Mathematical Functions,
/// 7.1.26 (from memory), within 1.5e-7.
fn normal(x: f64) -> f64 {
    let z = x.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * z);
    let series = t
        * (0.254_829_592
            + t * (-0.284_496_736
                + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let tail = 0.5 * series * (-z * z).exp();
    if x < 0.0 { tail } else { 1.0 - tail }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::arc::{radius, rise};

    #[test]
    fn printed_points_of_the_normal_distribution() {
        for (x, share) in [
            (0.0, 0.5),
            (1.0, 0.841_345),
            (1.96, 0.975_002),
            (-2.0, 0.022_750),
        ] {
            assert!((normal(x) - share).abs() < 1e-6, "{x}");
        }
    }

    #[test]
    fn a_small_doubt_is_the_slope_times_it() {
        let r = radius(1000.0, 50.0).expect("a radius");
        let w = half_width(r, 50.0, 0.5, |r| rise(r, 1000.0)).expect("a width");
        assert!((w - 49.5 * 0.5).abs() < 0.02 * w, "{w}");
    }

    #[test]
    fn no_width_where_it_may_be_straight() {
        let r = radius(1000.0, 1.0).expect("a radius");
        assert!(half_width(r, 1.0, 2.0, |r| rise(r, 1000.0)).is_none());
        assert_eq!(half_width(r, 1.0, 0.0, |r| rise(r, 1000.0)), Some(0.0));
    }
}
