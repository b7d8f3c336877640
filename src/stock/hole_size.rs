//! Usual hole diameters.

use std::sync::LazyLock;

use serde::Deserialize;

use super::row::rows;

const TABLE: &str = include_str!("../../shared/sizes/hole_diameters.csv");

#[derive(Debug, Deserialize)]
struct Row {
    unit: String,
    diameter: f64,
}

static HOLES: LazyLock<Vec<f64>> = LazyLock::new(|| {
    rows::<Row>(TABLE)
        .iter()
        .map(|row| row.diameter * if row.unit == "in" { 25.4 } else { 1.0 })
        .collect()
});

/// Diameters, mm.
pub(super) fn hole_diameters() -> &'static [f64] {
    &HOLES
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::row::unreadable;

    #[test]
    fn the_table_reads() {
        assert_eq!(unreadable::<Row>(TABLE), 0);
        assert!(hole_diameters().iter().all(|d| *d > 1.0 && *d <= 210.0));
        assert!(
            hole_diameters().iter().any(|d| (d - 13.5).abs() < 1e-9),
            "clearance for M12"
        );
    }
}
