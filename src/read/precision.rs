//! How finely a text writes its coordinates.

use super::Precision;
use super::decimal::{Decimal, power_of_ten};

/// Decades from 1e−40 to 1e39 are told apart; beyond, they fall in the outermost.
const DECADES: usize = 80;
const LOWEST: i32 = -40;
/// What writers that drop trailing zeros keep at least: the default of C's `%g` and of C++ streams.
const LEAST_DIGITS: i32 = 6;
/// Coordinates of a decade before its digits count as evidence.
const ENOUGH: u32 = 8;

/// What has been seen of the digits of all coordinates so far.
#[derive(Clone, Debug)]
pub(super) struct Tally {
    largest: f64,
    /// Coarsest and finest last written place.
    last: (i32, i32),
    /// Fewest and most written significant digits.
    digits: (i32, i32),
    /// A fraction of two or more digits ended in 0: this writer keeps trailing zeros.
    padded: bool,
    /// Count and finest non-zero place by decade of the first digit.
    decades: [(u32, i32); DECADES],
    finest: i32,
    /// Which of the digits 1..=9 ended a number in the finest place.
    endings: u16,
    /// Numbers of eight digits or more, zeros at the end not counted, that are a rounded binary32; and
    /// numbers that are none.
    single: (u32, u32),
    /// Chance that numbers that are no binary32 would look so by accident.
    accident: f64,
}

impl Default for Tally {
    fn default() -> Self {
        Tally {
            largest: 0.0,
            last: (i32::MIN, i32::MAX),
            digits: (i32::MAX, i32::MIN),
            padded: false,
            decades: [(0, i32::MAX); DECADES],
            finest: i32::MAX,
            endings: 0,
            single: (0, 0),
            accident: 1.0,
        }
    }
}

/// Distance of binary32 numbers at the size of `x` ("IEEE Standard for Floating-Point Arithmetic",
/// IEEE 754: 24 bits of significand).
fn single_spacing(x: f64) -> f64 {
    let bits = (x.abs() as f32).to_bits() & 0x7f80_0000;
    f64::from(f32::from_bits(bits)) / f64::from(1 << 23)
}

impl Tally {
    /// Takes one coordinate into account.
    #[inline]
    pub fn add(&mut self, number: &Decimal) {
        let (first, last) = (i32::from(number.first), i32::from(number.last));
        let last_nonzero = i32::from(number.last_nonzero);
        self.last = (self.last.0.max(last), self.last.1.min(last));
        if number.last_digit == 0 {
            self.padded |= last <= -2;
            return;
        }
        self.padded |= last <= -2 && last_nonzero > last;
        self.largest = self.largest.max(number.value.abs());
        let digits = first - last + 1;
        self.digits = (self.digits.0.min(digits), self.digits.1.max(digits));
        let decade = (first - LOWEST).clamp(0, DECADES as i32 - 1) as usize;
        let (count, finest) = &mut self.decades[decade];
        *count += 1;
        *finest = last_nonzero.min(*finest);
        if last_nonzero <= self.finest {
            if last_nonzero < self.finest {
                (self.finest, self.endings) = (last_nonzero, 0);
            }
            self.endings |= 1 << number.last_digit;
        }
        if digits >= 8 {
            let long = first - last_nonzero >= 7;
            self.compare_with_single(number.value, power_of_ten(last), long);
        }
    }

    fn compare_with_single(&mut self, value: f64, step: f64, long: bool) {
        let spacing = single_spacing(value);
        if step >= spacing {
            return;
        }
        let off = (value - f64::from(value as f32)).abs();
        if off > 0.5001 * step {
            self.single.1 += 1;
            return;
        }
        self.single.0 += u32::from(long);
        if self.accident > 1e-12 {
            self.accident *= step / spacing;
        }
    }

    /// Most numbers were binary32 before they were written; a few may have been worked out since, which
    /// makes the others no finer.
    fn printed_single(&self) -> bool {
        self.single.0 >= self.single.1 && self.accident < 1e-9
    }

    /// Every digit but one or two ends some number in the finest place: the values were rounded there,
    /// not chosen by a designer.
    fn rounded(&self) -> bool {
        self.endings.count_ones() >= 7
    }

    /// Largest coordinate by magnitude, file units.
    pub fn largest(&self) -> f64 {
        self.largest
    }

    /// The precision that bounds the rounding of the largest coordinate.
    pub fn precision(&self) -> Precision {
        let text = self.text_precision();
        if self.printed_single() && single_spacing(self.largest) >= step_at(text, self.largest) {
            return Precision::Binary32;
        }
        match text {
            Precision::SignificantDigits(16..) => Precision::Binary64,
            Precision::Step(step) if step < self.largest * f64::EPSILON => Precision::Binary64,
            other => other,
        }
    }

    fn text_precision(&self) -> Precision {
        let kept = self.padded || self.rounded();
        if kept && self.last.0 == self.last.1 && self.last.0 < 0 {
            return Precision::Step(power_of_ten(self.last.0));
        }
        if kept && self.digits.0 == self.digits.1 && self.digits.0 > 1 {
            return Precision::SignificantDigits(self.digits.0 as u32);
        }
        self.by_decade()
    }

    /// For writers that drop trailing zeros: a fixed number of decimals makes every decade equally fine,
    /// a fixed number of digits makes each decade ten times coarser than the one below.
    fn by_decade(&self) -> Precision {
        let seen = || {
            self.decades
                .iter()
                .enumerate()
                .filter(|(_, (count, _))| *count > 0)
        };
        let place = |decade: usize| decade as i32 + LOWEST;
        let Some(most) = seen().map(|(d, (_, finest))| place(d) - finest + 1).max() else {
            return Precision::Binary64;
        };
        if most < LEAST_DIGITS && !self.rounded() {
            return Precision::SignificantDigits(LEAST_DIGITS as u32);
        }
        let evidence = || seen().filter(|(_, (count, _))| *count >= ENOUGH);
        let equally_fine = evidence()
            .filter(|(_, (_, finest))| *finest == self.finest)
            .count();
        let same_digits = evidence()
            .filter(|(d, (_, finest))| place(*d) - finest + 1 == most)
            .count();
        let step = Precision::Step(power_of_ten(self.finest));
        let digits = Precision::SignificantDigits(most.clamp(1, 17) as u32);
        match equally_fine.cmp(&same_digits) {
            std::cmp::Ordering::Greater => step,
            std::cmp::Ordering::Less => digits,
            // Nothing tells: the coarser of the two.
            std::cmp::Ordering::Equal
                if step_at(step, self.largest) > step_at(digits, self.largest) =>
            {
                step
            }
            std::cmp::Ordering::Equal => digits,
        }
    }
}

/// Step between neighbouring writable numbers at the size of `x`, in file units.
pub(super) fn step_at(precision: Precision, x: f64) -> f64 {
    match precision {
        Precision::Binary32 => single_spacing(x),
        Precision::Binary64 => x.abs() * f64::EPSILON,
        Precision::Step(step) => step,
        Precision::SignificantDigits(_) if x == 0.0 => 0.0,
        Precision::SignificantDigits(n) => {
            power_of_ten(x.abs().log10().floor() as i32 + 1 - n as i32)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::decimal::word;
    use super::*;

    /// A point put in the middle of an edge later doesn't make the others finer.
    #[test]
    fn a_few_later_numbers_leave_the_rest_single() {
        let seed = |k: u32| f64::from(((f64::from(k) * 0.618_034).fract() * 300.0) as f32);
        let single = (1..200).map(|k| format!("{:.9}", seed(k)));
        let later = (1..60).map(|k| format!("{:.9}", (seed(k) + seed(k + 1)) / 2.0));
        assert_eq!(tallied(single.chain(later)), Precision::Binary32);
    }

    fn tallied(words: impl IntoIterator<Item = String>) -> Precision {
        let mut tally = Tally::default();
        for text in words {
            tally.add(&word(text.as_bytes()).unwrap());
        }
        tally.precision()
    }

    /// Coordinates nobody chose, from 0.05 to 2 600.
    fn generic() -> impl Iterator<Item = f64> {
        (0..400).map(|i| {
            1300.0 * (0.37 * f64::from(i)).sin() * (0.011 * f64::from(i)).cos().powi(4)
                + 0.1234567891
        })
    }

    fn dropped_zeros(text: String) -> String {
        if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    }

    /// C's `%.{n}g` for the sizes in use here.
    fn digits(x: f64, n: i32) -> String {
        let decade = x.abs().log10().floor() as i32;
        dropped_zeros(format!("{x:.*}", (n - 1 - decade).max(0) as usize))
    }

    #[test]
    fn fixed_decimals_are_a_step() {
        assert_eq!(
            tallied(generic().map(|x| format!("{x:.6}"))),
            Precision::Step(1e-6)
        );
        assert_eq!(
            tallied(generic().map(|x| format!("{x:.3}"))),
            Precision::Step(1e-3)
        );
        assert_eq!(
            tallied(generic().map(|x| format!("{x:.1}"))),
            Precision::Step(0.1)
        );
    }

    #[test]
    fn fixed_decimals_without_trailing_zeros_are_a_step() {
        assert_eq!(
            tallied(generic().map(|x| dropped_zeros(format!("{x:.4}")))),
            Precision::Step(1e-4)
        );
        assert_eq!(
            tallied(generic().map(|x| format!("{x:.0}"))),
            Precision::Step(1.0)
        );
    }

    #[test]
    fn fixed_digits_are_digits() {
        assert_eq!(
            tallied(generic().map(|x| digits(x, 6))),
            Precision::SignificantDigits(6)
        );
        assert_eq!(
            tallied(generic().map(|x| digits(x, 9))),
            Precision::SignificantDigits(9)
        );
        assert_eq!(
            tallied(generic().map(|x| format!("{x:.6e}"))),
            Precision::SignificantDigits(7)
        );
    }

    #[test]
    fn printed_binary32_is_binary32() {
        let singles = || generic().map(|x| f64::from(x as f32));
        assert_eq!(
            tallied(singles().map(|x| digits(x, 9))),
            Precision::Binary32
        );
        assert_eq!(
            tallied(singles().map(|x| format!("{}", x as f32))),
            Precision::Binary32
        );
        assert_eq!(
            tallied(singles().map(|x| format!("{x}"))),
            Precision::Binary32
        );
        assert_eq!(
            tallied(singles().map(|x| format!("{x:.6}"))),
            Precision::Binary32
        );
        assert_eq!(
            tallied(singles().map(|x| format!("{x:.8e}"))),
            Precision::Binary32
        );
        // Six digits are coarser than binary32.
        assert_eq!(
            tallied(singles().map(|x| digits(x, 6))),
            Precision::SignificantDigits(6)
        );
    }

    #[test]
    fn shortest_binary64_is_binary64() {
        assert_eq!(
            tallied(generic().map(|x| format!("{x}"))),
            Precision::Binary64
        );
    }

    #[test]
    fn round_design_sizes_are_not_taken_for_coarse_rounding() {
        let box_corners = ["1", "1.5", "2", "-1", "-1.5", "-2"].map(String::from);
        assert_eq!(tallied(box_corners), Precision::SignificantDigits(6));
        let padded = ["0.500000", "120.000000", "80.000000"].map(String::from);
        assert_eq!(tallied(padded), Precision::Step(1e-6));
    }
}
