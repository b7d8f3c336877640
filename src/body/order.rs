//! The order of bodies, the same for every way a file may list its facets.

use super::Body;

/// Volumes nearer than this share count as equal: far above the rounding of sums and of posed
/// copies, far below what tells two parts apart.
const SAME_VOLUME: f64 = 1e-4;

/// Sorts bodies by volume, largest first, equal ones by centroid (x, then y, then z), and
/// numbers them.
pub fn number(bodies: &mut [Body]) {
    let volume = |b: &Body| b.volume.abs();
    bodies.sort_by(|a, b| {
        volume(b)
            .total_cmp(&volume(a))
            .then(b.area.total_cmp(&a.area))
    });
    let mut rest = &mut bodies[..];
    while let Some(first) = rest.first() {
        let least = volume(first) * (1.0 - SAME_VOLUME);
        let n = rest.iter().take_while(|b| volume(b) >= least).count();
        let (alike, others) = rest.split_at_mut(n);
        by_place(alike, 0);
        rest = others;
    }
    for (b, i) in bodies.iter_mut().zip(0..) {
        b.index = i;
    }
}

/// Sorts by the given coordinate of the centroid; those that stand level within a few quanta
/// by the next.
fn by_place(bodies: &mut [Body], axis: usize) {
    bodies.sort_by(|a, b| a.centroid[axis].total_cmp(&b.centroid[axis]));
    if axis == 2 {
        return;
    }
    let mut rest = bodies;
    while !rest.is_empty() {
        let level = 1 + rest
            .windows(2)
            .take_while(|w| w[1].centroid[axis] - w[0].centroid[axis] <= 4.0 * w[0].quantum)
            .count();
        let (same, others) = rest.split_at_mut(level);
        by_place(same, axis + 1);
        rest = others;
    }
}
