//! Equal points become one vertex.

use super::NONE;

/// Makes points with equal coordinates (−0 counts as 0) one vertex, in place.
///
/// Vertices keep the order in which they first occur; `facets` are renumbered. Open addressing
/// over one table of 32-bit slots; nothing is allocated per point.
pub fn join_equal(points: &mut Vec<[f64; 3]>, facets: &mut [[u32; 3]]) {
    let loose = points.len() == 3 * facets.len()
        && facets
            .iter()
            .zip(0u32..)
            .all(|(f, i)| *f == [3 * i, 3 * i + 1, 3 * i + 2]);
    let mut new_number = Vec::new();
    if !loose {
        new_number.reserve_exact(points.len());
    }
    let mut table = Table::with_room_for(points.len() / 6);
    let mut count = 0usize;
    // A triangle mostly shares corners with the one before it, which are still at hand.
    let mut recent = [([f64::NAN; 3], NONE); 6];
    for i in 0..points.len() {
        let p = points[i].map(|x| x + 0.0);
        let known = if loose {
            recent.iter().find(|r| r.0 == p)
        } else {
            None
        };
        let id = known.map_or_else(|| table.find_or_insert(p, &points[..count]), |r| r.1);
        if id as usize == count {
            points[count] = p;
            count += 1;
        }
        if loose {
            facets[i / 3][i % 3] = id;
            recent[i % 6] = (p, id);
        } else {
            new_number.push(id);
        }
    }
    if !loose {
        for corner in facets.iter_mut().flatten() {
            *corner = new_number[*corner as usize];
        }
    }
    points.truncate(count);
    points.shrink_to_fit();
}

/// Slots hold vertex numbers, [`NONE`] where empty; the size is a power of two, at most 3/4 full.
struct Table {
    slots: Vec<u32>,
    used: usize,
}

impl Table {
    fn with_room_for(n: usize) -> Self {
        Table {
            slots: vec![NONE; (n * 4 / 3 + 16).next_power_of_two()],
            used: 0,
        }
    }

    /// Number of the vertex at `p`; `known.len()` when it is new.
    fn find_or_insert(&mut self, p: [f64; 3], known: &[[f64; 3]]) -> u32 {
        if self.used * 4 >= self.slots.len() * 3 {
            self.grow(known);
        }
        let mask = self.slots.len() - 1;
        let mut slot = hash(p) & mask;
        loop {
            let id = self.slots[slot];
            if id == NONE {
                self.slots[slot] = known.len() as u32;
                self.used += 1;
                return known.len() as u32;
            }
            if known[id as usize] == p {
                return id;
            }
            slot = (slot + 1) & mask;
        }
    }

    fn grow(&mut self, known: &[[f64; 3]]) {
        let mask = self.slots.len() * 2 - 1;
        self.slots.clear();
        self.slots.resize(mask + 1, NONE);
        for (id, p) in known.iter().enumerate() {
            let mut slot = hash(*p) & mask;
            while self.slots[slot] != NONE {
                slot = (slot + 1) & mask;
            }
            self.slots[slot] = id as u32;
        }
    }
}

/// Mixes the bits of three coordinates (odd multipliers, high bits folded down).
fn hash(p: [f64; 3]) -> usize {
    let [x, y, z] = p.map(f64::to_bits);
    let h = x
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .rotate_left(26)
        .wrapping_add(y)
        .wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
        .rotate_left(29)
        .wrapping_add(z)
        .wrapping_mul(0x1656_67B1_9E37_79F9);
    (h ^ (h >> 32)) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minus_zero_is_zero_and_order_is_kept() {
        let mut points = vec![
            [0.0, 1.0, 2.0],
            [5.0, 0.0, 0.0],
            [-0.0, 1.0, 2.0],
            [5.0, -0.0, 0.0],
        ];
        let mut facets = vec![[0, 1, 2], [2, 3, 0]];
        join_equal(&mut points, &mut facets);
        assert_eq!(points, vec![[0.0, 1.0, 2.0], [5.0, 0.0, 0.0]]);
        assert_eq!(facets, vec![[0, 1, 0], [0, 1, 0]]);
    }

    #[test]
    fn a_loose_soup_of_a_grid() {
        let n = 50;
        let mut points = Vec::new();
        for i in 0..n {
            for j in 0..n {
                for (a, b) in [(0, 0), (1, 0), (0, 1)] {
                    points.push([f64::from(i + a), f64::from(j + b), 0.0]);
                }
            }
        }
        let mut facets: Vec<_> = (0..(n * n) as u32)
            .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
            .collect();
        join_equal(&mut points, &mut facets);
        assert_eq!(points.len(), ((n + 1) * (n + 1) - 1) as usize);
    }
}
