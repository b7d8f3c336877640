//! Chord, rise and radius of a circular arc. Lengths in mm.

use crate::measure::{Quantity, quantity};

/// Rise of an arc of `radius` over `chord`, the lesser of the two arcs; `None` where the chord is
/// longer than the diameter or a size makes no sense.
///
/// h = R − √(R² − c²/4), in the form that loses no digits on a flat arc.
pub fn rise(radius: f64, chord: f64) -> Option<f64> {
    let half = chord / 2.0;
    let usable = radius > 0.0 && chord >= 0.0 && half <= radius && radius.is_finite();
    usable.then(|| half * half / (radius + ((radius - half) * (radius + half)).sqrt()))
}

/// The same for a radius with ±: the rise at either end of its interval.
pub fn rise_of(radius: Quantity, chord: f64) -> Option<Quantity> {
    let value = rise(radius.value, chord)?;
    // A tighter arc than the chord allows ends as a half circle.
    let tight = rise((radius.value - radius.plus_minus).max(chord / 2.0), chord)?;
    let wide = rise(radius.value + radius.plus_minus, chord)?;
    Some(quantity(value, (tight - value).max(value - wide)))
}

/// Radius of the arc with this chord and rise, c²/8h + h/2; `None` unless both are positive.
pub fn radius(chord: f64, rise: f64) -> Option<f64> {
    let found = chord * chord / (8.0 * rise) + rise / 2.0;
    (chord > 0.0 && rise > 0.0 && found.is_finite()).then_some(found)
}

/// How much the radius changes for a small change of the rise, ∂R/∂h = ½ − c²/8h².
pub fn radius_per_rise(chord: f64, rise: f64) -> f64 {
    0.5 - chord * chord / (8.0 * rise * rise)
}

/// How much the radius changes for a small change of the chord, ∂R/∂c = c/4h.
pub fn radius_per_chord(chord: f64, rise: f64) -> f64 {
    chord / (4.0 * rise)
}

/// Distance from the tangent at the crown to the arc, `x` to either side of the crown.
pub fn fall(radius: f64, x: f64) -> Option<f64> {
    rise(radius, 2.0 * x.abs())
}

/// Height of the arc above its chord, `x` to either side of the middle of the chord.
pub fn ordinate(radius: f64, chord: f64, x: f64) -> Option<f64> {
    Some(rise(radius, chord)? - fall(radius, x)?)
}

/// Chord under an arc of `angle` degrees, up to a full turn.
pub fn chord(radius: f64, angle: f64) -> f64 {
    2.0 * radius * (angle.to_radians() / 2.0).sin()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        for (r, c) in [(1500.0, 300.0), (1500.0, 3000.0), (281_252.0, 3000.0)] {
            let h = rise(r, c).expect("a rise");
            assert!((radius(c, h).expect("a radius") / r - 1.0).abs() < 1e-12);
            assert!(ordinate(r, c, c / 2.0).expect("an end").abs() < 1e-9);
        }
        assert_eq!(rise(100.0, 201.0), None);
        assert_eq!(rise(-5.0, 1.0), None);
        assert_eq!(radius(100.0, 0.0), None);
    }

    #[test]
    fn a_doubtful_radius_makes_a_doubtful_rise() {
        // dh/dR = 1 - R/sqrt(R² - c²/4) = -0.005076 at R 1500, c 300.
        let h = rise_of(quantity(1500.0, 10.0), 300.0).expect("a rise");
        assert!((h.plus_minus - 0.05076).abs() < 5e-4, "{}", h.plus_minus);
        assert!(rise_of(quantity(150.0, 10.0), 300.0).is_some());
    }
}
