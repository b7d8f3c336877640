//! What tells at a glance that two bodies are no copies, and the order they are looked up in.

use super::moments::principal;
use crate::body::Body;

/// Areas of copies differ by no more than this share of the first: what coarse facets cut off.
const AREA_SHARE: f64 = 0.02;
/// Spreads of copies differ by no more than this share of the largest, along any axis.
const SPREAD_SHARE: f64 = 0.02;

/// How large a body is, in the ways that don't hang on how it lies.
#[derive(Clone, Copy)]
pub struct Size {
    area: f64,
    /// Root mean square distances of the surface from its centre along its own axes, ascending, mm.
    spread: [f64; 3],
    closed: bool,
}

impl Size {
    /// O(facets).
    pub fn of(body: &Body) -> Size {
        Size {
            area: body.area,
            spread: principal(body).spread.map(f64::sqrt),
            closed: body.closed,
        }
    }

    /// False when the other is too different for a copy of this, sag allowed for.
    pub fn near(&self, other: &Size) -> bool {
        let (a, b) = (self.spread, other.spread);
        (self.area - other.area).abs() <= AREA_SHARE * self.area
            && self.closed == other.closed
            && (0..3).all(|i| (a[i] - b[i]).abs() <= SPREAD_SHARE * a[2])
    }

    /// Sizes that are near stand in the same steps or in neighbouring ones.
    pub fn step(&self) -> [i64; 2] {
        // The logarithm of nothing is the least number there is; a step may be taken down from it.
        let step = |size: f64, share: f64| {
            ((size.ln() / -(1.0 - share).ln()).floor() as i64).clamp(i64::MIN + 1, i64::MAX - 1)
        };
        let [x, y, z] = self.spread;
        // The three together differ by √3 of what one may.
        [
            step(self.area, AREA_SHARE),
            step(x.hypot(y).hypot(z), 1.74 * SPREAD_SHARE),
        ]
    }
}
