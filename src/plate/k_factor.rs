//! Where the neutral surface lies in a bend.

use schemars::JsonSchema;
use serde::Serialize;

/// Where a K-factor comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum KFrom {
    /// The formula of DIN 6935.
    #[serde(rename = "din_6935")]
    Din6935,
    /// The one factor the caller gave.
    Given,
    /// The shop's own table.
    ShopTable,
    /// Rolled plates and cones: laid flat on the surface amid the thickness.
    MidSurface,
}

impl KFrom {
    /// The same in words.
    pub fn words(self) -> &'static str {
        match self {
            KFrom::Din6935 => "DIN 6935",
            KFrom::Given => "as given",
            KFrom::ShopTable => "the shop's table",
            KFrom::MidSurface => "surface amid the thickness",
        }
    }
}

/// How the neutral surface of bends is chosen.
#[derive(Clone, Debug, PartialEq, Default)]
pub enum Neutral {
    /// DIN 6935.
    #[default]
    Din6935,
    /// One factor for every bend.
    Factor(f64),
    /// A shop's own table, ascending by thickness, then inside radius.
    Table(Vec<ShopRow>),
}

/// What a shop found for one thickness and inside radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShopRow {
    /// Thickness, mm.
    pub thickness: f64,
    /// Inside radius, mm.
    pub inside_radius: f64,
    /// K-factor.
    pub k_factor: f64,
}

/// A thickness or radius is that of a row when it differs by no more than this share: sheet of 16 gauge
/// (1.52 mm) is bent as sheet of 1.5 mm, sheet of 1.6 mm is not.
const SAME_SHARE: f64 = 0.02;

impl Neutral {
    /// K-factor (distance of the neutral surface from the inside ÷ thickness) and where it comes from.
    /// A bend the shop's table says nothing about (another thickness, or a radius outside of those
    /// listed for it) takes DIN 6935; between two listed radii the factor lies on a straight line.
    pub fn k_factor(&self, inside_radius: f64, thickness: f64) -> (f64, KFrom) {
        let by_formula = (din_6935(inside_radius / thickness), KFrom::Din6935);
        match self {
            Neutral::Din6935 => by_formula,
            Neutral::Factor(k) => (*k, KFrom::Given),
            Neutral::Table(rows) => from_table(rows, inside_radius, thickness)
                .map_or(by_formula, |k| (k, KFrom::ShopTable)),
        }
    }
}

fn from_table(rows: &[ShopRow], inside_radius: f64, thickness: f64) -> Option<f64> {
    let off = |row: &ShopRow| (row.thickness - thickness).abs();
    let nearest = rows.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    if off(nearest) > SAME_SHARE * thickness {
        return None;
    }
    let own: Vec<&ShopRow> = rows
        .iter()
        .filter(|row| row.thickness == nearest.thickness)
        .collect();
    let (first, last) = (own.first()?, own.last()?);
    let slack = SAME_SHARE * inside_radius.max(thickness);
    if inside_radius < first.inside_radius - slack || inside_radius > last.inside_radius + slack {
        return None;
    }
    let above = own.partition_point(|row| row.inside_radius < inside_radius);
    match (
        above.checked_sub(1).and_then(|i| own.get(i)),
        own.get(above),
    ) {
        (Some(a), Some(b)) => {
            let share = (inside_radius - a.inside_radius) / (b.inside_radius - a.inside_radius);
            Some(a.k_factor + (b.k_factor - a.k_factor) * share)
        }
        (Some(row), None) | (None, Some(row)) => Some(row.k_factor),
        (None, None) => None,
    }
}

/// K-factor by DIN 6935 for inside radius ÷ thickness `ratio`: half the standard's
/// k = 0.65 + 0.5·log₁₀(r/s), no more than 1 (the standard says 1 above r/s = 5, where the formula has
/// reached 0.9995). Formula from memory, checked against a page quoting where the standard's
/// allowance changes sign. Below r/s of about 0.05 the formula turns negative; 0 is used there.
pub fn din_6935(ratio: f64) -> f64 {
    (0.65 + 0.5 * ratio.max(1e-12).log10()).clamp(0.0, 1.0) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(thickness: f64, inside_radius: f64, k_factor: f64) -> ShopRow {
        ShopRow {
            thickness,
            inside_radius,
            k_factor,
        }
    }

    #[test]
    fn shop_table_is_interpolated_and_ends_where_it_ends() {
        let table = Neutral::Table(vec![
            row(2.0, 2.0, 0.30),
            row(3.0, 3.0, 0.33),
            row(3.0, 9.0, 0.43),
        ]);
        let (k, from) = table.k_factor(6.0, 3.0);
        assert!((k - 0.38).abs() < 1e-12, "half way between 3 and 9");
        assert_eq!(from, KFrom::ShopTable);
        assert_eq!(table.k_factor(3.0, 3.0), (0.33, KFrom::ShopTable));
        assert_eq!(table.k_factor(9.01, 3.01), (0.43, KFrom::ShopTable));
        let din = |r: f64, t: f64| (din_6935(r / t), KFrom::Din6935);
        assert_eq!(
            table.k_factor(30.0, 3.0),
            din(30.0, 3.0),
            "beyond the radii"
        );
        assert_eq!(table.k_factor(3.0, 4.0), din(3.0, 4.0), "no such thickness");
        assert_eq!(table.k_factor(3.0, 2.0), din(3.0, 2.0), "one radius only");
        assert_eq!(Neutral::Table(vec![]).k_factor(3.0, 2.0), din(3.0, 2.0));
    }
}
