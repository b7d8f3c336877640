//! Holes through the walls of a member.

use super::MemberHole;
use super::caps::Sorted;
use super::path::Path;
use super::trace::Traced;
use super::track::Facets;
use crate::body::Body;

/// Holes of a traced member, in order along `path` between distances `extent`.
pub fn holes(
    _body: &Body,
    _facets: &Facets,
    _traced: &Traced,
    _sorted: &Sorted,
    _path: &Path,
    _extent: &[f64; 2],
) -> Vec<MemberHole> {
    Vec::new()
}
