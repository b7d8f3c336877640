//! Equal points become one while loose triangles are read.

/// No vertex in a slot.
const EMPTY: u32 = u32::MAX;

/// Different points of a file, in the order in which they first occur.
///
/// Binary32 numbers are compared by their bits, half as many as what is computed with: open
/// addressing over one table of 32-bit slots, at most 3/4 full.
pub(super) struct Joined {
    points: Vec<Bits>,
    slots: Vec<u32>,
    /// A triangle mostly shares corners with the one before it.
    recent: [(Bits, u32); 6],
    next: usize,
}

/// Bits of three coordinates.
type Bits = [u32; 3];

impl Joined {
    /// With room for the points of so many facets; there are half as many in a closed surface.
    pub fn for_facets(facets: usize) -> Joined {
        Joined {
            points: Vec::with_capacity(facets / 2 + 2),
            slots: vec![EMPTY; (facets / 2 * 4 / 3 + 16).next_power_of_two()],
            recent: [([f32::NAN.to_bits(); 3], EMPTY); 6],
            next: 0,
        }
    }

    /// Number of the point with these coordinates, finite ones; −0 counts as 0.
    #[inline]
    pub fn number(&mut self, p: [f32; 3]) -> u32 {
        let p = p.map(|x| (x + 0.0).to_bits());
        let known = self.recent.iter().find(|r| r.0 == p).map(|r| r.1);
        let id = known.unwrap_or_else(|| self.look_up(p));
        self.recent[self.next] = (p, id);
        self.next = (self.next + 1) % self.recent.len();
        id
    }

    /// Adds the points of facets that follow in the file; their numbers here, by their numbers there.
    pub fn append(&mut self, later: Joined) -> Vec<u32> {
        later.points.into_iter().map(|p| self.look_up(p)).collect()
    }

    /// The points.
    pub fn points(self) -> Vec<[f64; 3]> {
        let number = |bits| f64::from(f32::from_bits(bits));
        self.points.iter().map(|p| p.map(number)).collect()
    }

    fn look_up(&mut self, p: Bits) -> u32 {
        if self.points.len() * 4 >= self.slots.len() * 3 {
            self.grow();
        }
        let mask = self.slots.len() - 1;
        let mut slot = hash(p) & mask;
        loop {
            let id = self.slots[slot];
            if id == EMPTY {
                let id = self.points.len() as u32;
                self.slots[slot] = id;
                self.points.push(p);
                return id;
            }
            if self.points[id as usize] == p {
                return id;
            }
            slot = (slot + 1) & mask;
        }
    }

    fn grow(&mut self) {
        let mask = self.slots.len() * 2 - 1;
        self.slots.clear();
        self.slots.resize(mask + 1, EMPTY);
        for (p, id) in self.points.iter().zip(0..) {
            let mut slot = hash(*p) & mask;
            while self.slots[slot] != EMPTY {
                slot = (slot + 1) & mask;
            }
            self.slots[slot] = id;
        }
    }
}

/// Mixes the bits of three coordinates (odd multipliers, high bits folded down).
fn hash(p: Bits) -> usize {
    let [x, y, z] = p.map(u64::from);
    let h = (x | y << 32)
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .rotate_left(29)
        .wrapping_add(z)
        .wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
    (h ^ (h >> 32)) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minus_zero_is_zero_and_order_is_kept() {
        let mut joined = Joined::for_facets(1);
        let given = [[0.0, 1.0, 2.0], [5.0, -0.0, 0.0], [-0.0, 1.0, 2.0]];
        assert_eq!(given.map(|p| joined.number(p)), [0, 1, 0]);
        assert_eq!(joined.points(), [[0.0, 1.0, 2.0], [5.0, 0.0, 0.0]]);
    }

    #[test]
    fn halves_joined_are_the_whole() {
        let point = |k: u16| [f32::from(k * 37 % 101), f32::from(k % 7), 1.0];
        let mut whole = Joined::for_facets(300);
        let numbers: Vec<u32> = (0..900).map(|k| whole.number(point(k))).collect();
        let mut first = Joined::for_facets(300);
        let mut later = Joined::for_facets(100);
        let mut joined: Vec<u32> = (0..450).map(|k| first.number(point(k))).collect();
        let rest: Vec<u32> = (450..900).map(|k| later.number(point(k))).collect();
        let renumbered = first.append(later);
        joined.extend(rest.iter().map(|&n| renumbered[n as usize]));
        assert_eq!(joined, numbers);
        assert_eq!(first.points(), whole.points());
    }

    #[test]
    fn more_points_than_were_expected() {
        let mut joined = Joined::for_facets(0);
        for round in 0..2 {
            for k in 0..1000u16 {
                let p = [f32::from(k % 10), f32::from(k / 10), f32::from(k)];
                assert_eq!(joined.number(p), u32::from(k), "round {round}");
            }
        }
    }
}
