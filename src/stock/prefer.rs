//! Standards a shop goes by, named first.

use crate::member::Stock;

/// Names first, of the standards the size stands in, the one that begins with the first of `prefer`
/// that any of them begins with. Where none does, but another published size that fits as well stands
/// in one, that size takes its place. No measured number is touched.
pub fn prefer(stock: &mut Stock, prefer: &[String]) {
    for wanted in prefer {
        let own: Vec<&str> = stock.standard.split(", ").collect();
        if let Some(k) = own.iter().position(|s| s.starts_with(wanted.as_str())) {
            let mut own = own;
            let first = own.remove(k);
            own.insert(0, first);
            stock.standard = own.join(", ");
            return;
        }
        if !stock.exact {
            continue;
        }
        let other = stock.also.iter().position(|text| {
            parted(text).is_some_and(|(_, standard)| standard.starts_with(wanted.as_str()))
        });
        if let Some(k) = other {
            let taken = stock.also.remove(k);
            if let Some((name, standard)) = parted(&taken) {
                let was = std::mem::replace(&mut stock.designation, name.to_owned());
                let in_what = std::mem::replace(&mut stock.standard, standard.to_owned());
                stock.also.insert(0, format!("{was} ({in_what})"));
            }
            return;
        }
    }
}

/// `HSS 2 x 2 x 1/8 (ASTM A500)` in its two halves.
fn parted(text: &str) -> Option<(&str, &str)> {
    text.strip_suffix(')')?.rsplit_once(" (")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stock(standard: &str, also: &[&str]) -> Stock {
        Stock {
            designation: "60.3 x 3.9".into(),
            standard: standard.into(),
            exact: true,
            off_by: 0.0,
            also: also.iter().map(|&a| a.to_owned()).collect(),
        }
    }

    #[test]
    fn the_standard_asked_for_comes_first() {
        let mut own = stock("EN 10219-2:2006, EN 10210-2:2006", &[]);
        prefer(&mut own, &["EN 10210".into()]);
        assert_eq!(own.standard, "EN 10210-2:2006, EN 10219-2:2006");
        prefer(&mut own, &["ISO".into()]);
        assert_eq!(own.standard, "EN 10210-2:2006, EN 10219-2:2006");
    }

    #[test]
    fn a_size_that_fits_as_well_takes_the_place() {
        let mut own = stock("EN 10219-2:2006", &["NPS 2 Sch 40 (ASME B36.10M)"]);
        prefer(&mut own, &["ASME".into()]);
        assert_eq!(own.designation, "NPS 2 Sch 40");
        assert_eq!(own.standard, "ASME B36.10M");
        assert_eq!(own.also, ["60.3 x 3.9 (EN 10219-2:2006)"]);
    }
}
