//! Mass of metal from its volume.

use super::Quantity;

/// Structural steel, kg/m³: the basis of the masses in EN 10219-2 and EN 10210-2.
pub const STEEL_DENSITY: f64 = 7850.0;

/// Mass in kg of `volume` mm³ of a metal of `density` kg/m³. The density counts as exact.
pub fn mass(volume: Quantity, density: f64) -> Quantity {
    volume.scaled(density * 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;

    #[test]
    fn a_metre_of_square_bar() {
        // 25 x 25 x 1000 mm = 625 000 mm³ by 7850 kg/m³.
        let m = mass(quantity(625_000.0, 400.0), STEEL_DENSITY);
        assert!((m.value - 4.90625).abs() < 1e-12 && (m.plus_minus - 0.00314).abs() < 1e-12);
    }
}
