//! Counts and names as messages print them.

/// A whole number in groups of three: 9 410.
pub(super) fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}

/// "1 facet", "2 facets": the count and the noun it goes with.
pub(super) fn count(n: usize, noun: &str) -> String {
    let number = grouped(n as u64);
    match noun {
        _ if n == 1 => format!("{number} {noun}"),
        "vertex" => format!("{number} vertices"),
        _ => format!("{number} {noun}s"),
    }
}

/// Text from a file as a name: blanks trimmed, control characters left out, at most 60 characters,
/// bytes that are no UTF-8 read as Latin-1. `None` when nothing is left.
pub(super) fn name(bytes: &[u8]) -> Option<String> {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    };
    let kept: String = text
        .trim()
        .chars()
        .filter(|c| !c.is_control())
        .take(60)
        .collect();
    let kept = kept.trim();
    (!kept.is_empty()).then(|| kept.to_owned())
}

/// A piece of the file quoted in a message: at most 24 characters.
pub(super) fn quoted(bytes: &[u8]) -> String {
    let text = name(&bytes[..bytes.len().min(96)]).unwrap_or_default();
    match text.char_indices().nth(24) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_grouped_by_threes() {
        for (n, text) in [
            (0, "0"),
            (999, "999"),
            (1203, "1 203"),
            (4294967295, "4 294 967 295"),
        ] {
            assert_eq!(grouped(n), text);
        }
    }

    #[test]
    fn names_are_trimmed_and_bounded() {
        assert_eq!(name(b"  rail \r"), Some("rail".into()));
        assert_eq!(name(b" \x00 "), None);
        assert_eq!(name(b"Gel\xe4nder"), Some("Gel\u{e4}nder".into()));
        assert_eq!(name(&[b'x'; 500]).map(|n| n.len()), Some(60));
    }
}
