//! What every model that was read keeps to.

use super::{Precision, TriangleSoup};

/// The first rule that `soup` breaks, or `None` when it is sound.
///
/// There is at least one facet; corners name points that exist; coordinates are finite and never −0;
/// groups are in order, begin at facet 0 and hold facets; precision and unit are positive.
pub fn fault(soup: &TriangleSoup) -> Option<&'static str> {
    let points = soup.points.len();
    let negative_zero = |x: &f64| *x == 0.0 && x.is_sign_negative();
    let coordinates = || soup.points.as_flattened().iter();
    let positive = |x: f64| x > 0.0 && x.is_finite();
    let rules = [
        (!soup.facets.is_empty(), "there are no facets"),
        (
            soup.facets
                .as_flattened()
                .iter()
                .all(|i| (*i as usize) < points),
            "a corner names a point that does not exist",
        ),
        (
            coordinates().all(|x| x.is_finite()),
            "a coordinate is not finite",
        ),
        (
            !coordinates().any(negative_zero),
            "a coordinate is minus zero",
        ),
        (
            soup.groups.first().is_none_or(|g| g.first_facet == 0),
            "the first group does not begin at the first facet",
        ),
        (
            soup.groups
                .windows(2)
                .all(|g| g[0].first_facet < g[1].first_facet),
            "groups are out of order or empty",
        ),
        (
            soup.groups
                .last()
                .is_none_or(|g| (g.first_facet as usize) < soup.facets.len()),
            "the last group is empty",
        ),
        (
            match soup.precision {
                Precision::Step(step) => positive(step),
                Precision::SignificantDigits(digits) => (1..=17).contains(&digits),
                Precision::Binary32 | Precision::Binary64 => true,
            },
            "the precision is out of range",
        ),
        (
            soup.declared_mm_per_unit.is_none_or(positive),
            "the unit is not positive",
        ),
    ];
    rules
        .into_iter()
        .find(|(kept, _)| !kept)
        .map(|(_, rule)| rule)
}
