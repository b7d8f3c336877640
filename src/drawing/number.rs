//! Numbers as a drawing file wants them: plain decimals, no needless zeros.

/// `value` with at most `places` decimals, zeros at the end and a negative zero taken off.
pub fn number(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    match text {
        "-0" | "" => "0".to_owned(),
        text => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn short_and_plain() {
        assert_eq!(number(100.0, 5), "100");
        assert_eq!(number(-0.000_000_1, 5), "0");
        assert_eq!(number(12.345_678, 4), "12.3457");
        assert_eq!(number(-0.5, 4), "-0.5");
        assert_eq!(number(100.0, 0), "100");
    }
}
