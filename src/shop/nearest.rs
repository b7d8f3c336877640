//! What somebody may have meant.

/// The name most like `text`; `None` when none is like it.
pub(super) fn nearest<'a>(text: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let text = text.trim().to_lowercase();
    // Less alike than this is a guess.
    const ALIKE: f64 = 0.6;
    names
        .map(|name| {
            (
                strsim::normalized_damerau_levenshtein(&text, &name.to_lowercase()),
                name,
            )
        })
        .filter(|(alike, _)| *alike >= ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}
