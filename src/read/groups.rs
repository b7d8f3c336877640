//! Runs of facets that belong together.

use super::Group;

/// Drops runs without facets, gives facets before the first run one without a name, and drops a lone
/// run without a name: it says nothing.
pub(super) fn tidy(groups: &mut Vec<Group>, facets: u32) {
    // A run is empty when the next one begins where it does.
    let mut ends = groups
        .iter()
        .skip(1)
        .map(|g| g.first_facet)
        .collect::<Vec<_>>()
        .into_iter();
    groups.retain(|g| g.first_facet < ends.next().unwrap_or(facets));
    if groups.first().is_some_and(|g| g.first_facet > 0) {
        groups.insert(
            0,
            Group {
                name: None,
                first_facet: 0,
            },
        );
    }
    if let [only] = groups.as_slice()
        && only.name.is_none()
    {
        groups.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tidied(runs: &[(&str, u32)], facets: u32) -> Vec<(Option<String>, u32)> {
        let group = |(name, first_facet): &(&str, u32)| Group {
            name: (!name.is_empty()).then(|| (*name).to_owned()),
            first_facet: *first_facet,
        };
        let mut groups: Vec<Group> = runs.iter().map(group).collect();
        tidy(&mut groups, facets);
        groups
            .into_iter()
            .map(|g| (g.name, g.first_facet))
            .collect()
    }

    #[test]
    fn empty_runs_go_and_gaps_are_filled() {
        let name = |n: &str| Some(n.to_owned());
        assert_eq!(
            tidied(&[("a", 0), ("b", 0), ("c", 2), ("d", 5)], 5),
            [(name("b"), 0), (name("c"), 2)]
        );
        assert_eq!(tidied(&[("a", 3)], 5), [(None, 0), (name("a"), 3)]);
        assert_eq!(tidied(&[("", 0)], 5), []);
        assert_eq!(tidied(&[("", 0), ("", 2)], 5), [(None, 0), (None, 2)]);
    }
}
