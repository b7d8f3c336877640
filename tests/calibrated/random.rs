//! Numbers that come out the same everywhere (SplitMix64: Steele, Lea and Flood, 2014; from memory).

pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Random {
        Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5bd1_e995)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Between 0 and 1.
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// A size a drawing would have: rounded to `step`.
    pub fn drawn(&mut self, low: f64, high: f64, step: f64) -> f64 {
        (self.between(low, high) / step).round() * step
    }

    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.share() * of.len() as f64) as usize % of.len()]
    }

    pub fn chance(&mut self, of: f64) -> bool {
        self.share() < of
    }

    /// Normal with standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let r = (-2.0 * self.share().max(1e-300).ln()).sqrt();
        r * (std::f64::consts::TAU * self.share()).cos()
    }
}
