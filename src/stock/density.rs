//! Densities for masses.

use std::sync::LazyLock;

use serde::Deserialize;

use super::row::rows;

const TABLE: &str = include_str!("../../shared/densities.csv");

/// One material of the density table.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Density {
    /// Short name, as given on the command line.
    pub name: String,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Material in words.
    pub material: String,
    /// Where the value comes from.
    pub source: String,
}

static DENSITIES: LazyLock<Vec<Density>> = LazyLock::new(|| rows(TABLE));

/// Every material of the table, in its order.
pub fn densities() -> &'static [Density] {
    &DENSITIES
}

/// The material of that short name, letter case aside.
pub fn density(name: &str) -> Option<&'static Density> {
    densities()
        .iter()
        .find(|row| row.name.eq_ignore_ascii_case(name.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::row::unreadable;

    #[test]
    fn the_table_reads_and_names_are_unique() {
        assert_eq!(unreadable::<Density>(TABLE), 0);
        for (k, row) in densities().iter().enumerate() {
            assert!(row.density_kg_m3 > 1000.0 && row.density_kg_m3 < 20_000.0);
            assert!(!row.source.is_empty());
            assert!(
                densities()
                    .iter()
                    .skip(k + 1)
                    .all(|other| other.name != row.name)
            );
        }
    }

    #[test]
    fn found_by_name() {
        assert_eq!(density(" Steel ").map(|d| d.density_kg_m3), Some(7850.0));
        assert!(density("unobtainium").is_none());
    }

    #[test]
    fn steel_by_the_pound_is_steel_by_the_kilogram() {
        // 490 lb/ft³, with the pound and the foot exact.
        let us = density("steel-us").map_or(0.0, |d| d.density_kg_m3);
        assert!((us - 490.0 * 0.453_592_37 / 0.3048_f64.powi(3)).abs() < 0.01);
    }
}
