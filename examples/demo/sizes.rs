//! The sizes that a seed changes. Seed 0 is the bay and the bridge as drawn.

/// Numbers that follow each other as if by chance (Steele, Lea, Flood, "Fast splittable pseudorandom
/// number generators", 2014: the mixing of SplitMix64).
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// `drawn` for seed 0, else a multiple of `step` between `low` and `high`.
    fn size(&mut self, seed: u64, drawn: f64, [low, high]: [f64; 2], step: f64) -> f64 {
        let steps = ((high - low) / step) as u64 + 1;
        let chosen = low + step * (self.next() % steps) as f64;
        if seed == 0 { drawn } else { chosen }
    }
}

/// Bay of the bicycle shelter, mm.
pub struct Bay {
    /// Middle to middle of the ribs.
    pub width: f64,
    /// Length of a post.
    pub post: f64,
    /// Centreline radius of a rib.
    pub radius: f64,
    /// Straight of a rib before and after its arc.
    pub straight: [f64; 2],
}

impl Bay {
    pub fn of(seed: u64) -> Bay {
        let mut chance = Chance::new(seed);
        let mut size = |drawn, range, step| chance.size(seed, drawn, range, step);
        Bay {
            width: size(2400.0, [1800.0, 2700.0], 50.0),
            post: size(2000.0, [1800.0, 2300.0], 10.0),
            radius: size(1500.0, [1300.0, 1800.0], 20.0),
            straight: [
                size(250.0, [200.0, 400.0], 10.0),
                size(600.0, [400.0, 700.0], 10.0),
            ],
        }
    }
}

/// Footbridge, mm.
pub struct Bridge {
    /// Length of a stringer.
    pub length: f64,
    /// Between the webs of the stringers.
    pub width: f64,
    /// Middle of the handrail over the plates its posts stand on.
    pub rail: f64,
}

impl Bridge {
    pub fn of(seed: u64) -> Bridge {
        let mut chance = Chance::new(seed ^ 0xB1D6E);
        let mut size = |drawn, range, step| chance.size(seed, drawn, range, step);
        Bridge {
            length: size(5000.0, [4400.0, 6000.0], 100.0),
            width: size(1200.0, [1000.0, 1500.0], 20.0),
            rail: size(1000.0, [950.0, 1150.0], 10.0),
        }
    }
}
