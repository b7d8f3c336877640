//! Where a 3MF object stands: the affine map of a build item or component.

use super::decimal::{self, Unusable};

/// Row-vector convention of the 3MF Core Specification: p' = p · `linear` + `shift`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Placement {
    pub linear: [[f64; 3]; 3],
    pub shift: [f64; 3],
    /// Step of the rounded entries of `linear`; 0 where all are taken as exact.
    pub step: f64,
}

/// As it lies.
pub(super) const IDENTITY: Placement = Placement {
    linear: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    shift: [0.0; 3],
    step: 0.0,
};

/// Entries of so many digits or more have been rounded; shorter ones were typed (25.4, −1, 0.5).
const ROUNDED_DIGITS: i16 = 5;

impl Placement {
    /// Twelve numbers: the rows of the linear part, then the shift.
    ///
    /// # Errors
    /// Why a number is unusable; [`Unusable::NotANumber`] also for another count than twelve.
    pub fn parse(text: &str) -> Result<Placement, Unusable> {
        let mut entries = [0.0; 12];
        let mut step = 0.0f64;
        let mut words = text.split_ascii_whitespace();
        for (i, entry) in entries.iter_mut().enumerate() {
            let number = decimal::word(words.next().ok_or(Unusable::NotANumber)?.as_bytes())?;
            if i < 9 && number.last_digit > 0 && number.first - number.last >= ROUNDED_DIGITS - 1 {
                step = step.max(decimal::power_of_ten(number.last.into()));
            }
            *entry = number.value;
        }
        if words.next().is_some() {
            return Err(Unusable::NotANumber);
        }
        let row = |i: usize| [entries[i], entries[i + 1], entries[i + 2]];
        Ok(Placement {
            linear: [row(0), row(3), row(6)],
            shift: row(9),
            step,
        })
    }

    /// The place of a point; never −0.
    #[inline]
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        let m = &self.linear;
        let at = |j: usize| p[0] * m[0][j] + p[1] * m[1][j] + p[2] * m[2][j] + self.shift[j] + 0.0;
        [at(0), at(1), at(2)]
    }

    /// First `self`, then `outer`.
    pub fn then(&self, outer: &Placement) -> Placement {
        let turned = |row: [f64; 3]| {
            let m = &outer.linear;
            let at = |j: usize| row[0] * m[0][j] + row[1] * m[1][j] + row[2] * m[2][j];
            [at(0), at(1), at(2)]
        };
        Placement {
            linear: self.linear.map(turned),
            shift: outer.apply(self.shift),
            step: self.step * outer.largest_scale() + outer.step * self.largest_scale(),
        }
    }

    /// Volume factor; negative for a mirror.
    pub fn determinant(&self) -> f64 {
        let [a, b, c] = self.linear;
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    }

    /// Bound on how much a length can grow: square root of the row-sum norm of M·Mᵀ, exact for a turn
    /// with one scale.
    pub fn largest_scale(&self) -> f64 {
        let m = &self.linear;
        let product = |i: usize, j: usize| (0..3).map(|k| m[i][k] * m[j][k]).sum::<f64>().abs();
        let row = |i: usize| (0..3).map(|j| product(i, j)).sum::<f64>();
        row(0).max(row(1)).max(row(2)).sqrt()
    }

    /// True when every entry is finite and the map keeps a volume.
    pub fn usable(&self) -> bool {
        let entries = self.linear.as_flattened().iter().chain(&self.shift);
        entries.into_iter().all(|x| x.is_finite()) && self.determinant().abs() > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_then_shift() {
        let place = Placement::parse("0 1 0  -1 0 0  0 0 2  10 20 30").unwrap();
        assert_eq!(place.apply([1.0, 0.0, 0.0]), [10.0, 21.0, 30.0]);
        assert_eq!(place.apply([0.0, 0.0, 1.0]), [10.0, 20.0, 32.0]);
        assert_eq!((place.determinant(), place.largest_scale()), (2.0, 2.0));
    }

    #[test]
    fn inner_first_then_outer() {
        let inner = Placement::parse("2 0 0 0 2 0 0 0 2 1 0 0").unwrap();
        let outer = Placement::parse("-1 0 0 0 1 0 0 0 1 0 5 0").unwrap();
        let both = inner.then(&outer);
        assert_eq!(
            both.apply([1.0, 1.0, 1.0]),
            outer.apply(inner.apply([1.0, 1.0, 1.0]))
        );
        assert!(both.determinant() < 0.0);
    }

    #[test]
    fn twelve_numbers_or_nothing() {
        assert_eq!(
            Placement::parse("1 0 0 0 1 0 0 0 1 0 0"),
            Err(Unusable::NotANumber)
        );
        assert_eq!(
            Placement::parse("1 0 0 0 1 0 0 0 1 0 0 0 0"),
            Err(Unusable::NotANumber)
        );
        assert_eq!(
            Placement::parse("1,5 0 0 0 1 0 0 0 1 0 0 0"),
            Err(Unusable::Comma)
        );
        assert_eq!(
            Placement::parse("0.70711 0 0 0 1 0 0 0 1 0 0 0")
                .unwrap()
                .step,
            1e-5
        );
    }
}
