//! Where the neutral surface lies in a bend.

/// How the neutral surface of bends is chosen.
#[derive(Clone, Debug, PartialEq, Default)]
pub enum Neutral {
    /// DIN 6935.
    #[default]
    Din6935,
    /// One factor for every bend.
    Factor(f64),
    /// A shop's own table of (inside radius ÷ thickness, K), ascending; straight lines between the
    /// entries, the nearest entry beyond them.
    Table(Vec<(f64, f64)>),
}

impl Neutral {
    /// K-factor: distance of the neutral surface from the inside ÷ thickness.
    pub fn k_factor(&self, inside_radius: f64, thickness: f64) -> f64 {
        let ratio = inside_radius / thickness;
        match self {
            Neutral::Din6935 => din_6935(ratio),
            Neutral::Factor(k) => *k,
            Neutral::Table(rows) => {
                let above = rows.partition_point(|row| row.0 < ratio);
                match (
                    above.checked_sub(1).and_then(|i| rows.get(i)),
                    rows.get(above),
                ) {
                    (Some(a), Some(b)) if b.0 > a.0 => {
                        a.1 + (b.1 - a.1) * (ratio - a.0) / (b.0 - a.0)
                    }
                    (Some(row), _) | (None, Some(row)) => row.1,
                    (None, None) => din_6935(ratio),
                }
            }
        }
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

    #[test]
    fn shop_table_is_interpolated() {
        let table = Neutral::Table(vec![(1.0, 0.33), (3.0, 0.43)]);
        assert!(
            (table.k_factor(6.0, 3.0) - 0.38).abs() < 1e-12,
            "half way between 1 and 3"
        );
        assert_eq!(table.k_factor(1.0, 3.0), 0.33, "below the first entry");
        assert_eq!(table.k_factor(30.0, 3.0), 0.43, "above the last entry");
    }
}
