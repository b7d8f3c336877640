//! Which unit the file is in: stated, declared, inferred or assumed, in this order.

use crate::finding::{Code, Finding, Severity};
use crate::measure::Unit;
use crate::report::{LengthUnit, UnitBasis};

/// A unit worked out from the sizes found.
#[derive(Clone, Debug, PartialEq)]
pub struct Inferred {
    /// Millimetres in one unit of the file.
    pub mm_per_unit: f64,
    /// What speaks for it, one sentence.
    pub reason: String,
}

/// The unit of a file, and a finding when the file itself doesn't settle it.
pub fn length_unit(
    stated: Option<f64>,
    declared: Option<f64>,
    infer: impl FnOnce() -> Option<Inferred>,
) -> (LengthUnit, Vec<Finding>) {
    let usable = |mm: f64| mm.is_finite() && mm > 0.0;
    match (
        stated.filter(|&mm| usable(mm)),
        declared.filter(|&mm| usable(mm)),
    ) {
        (Some(mm), Some(declared)) if !same(mm, declared) => (
            stated_unit(mm),
            vec![Finding::new(
                Code::UnitUnclear,
                Severity::Warning,
                format!(
                    "The file says it is in {}, not in {}.",
                    named(declared),
                    named(mm)
                ),
                "The unit given with --unit was used. Leave it out to use the file's own.",
            )],
        ),
        (Some(mm), _) => (stated_unit(mm), Vec::new()),
        (None, Some(mm)) => {
            let reason = format!("The file says it is in {}.", named(mm));
            (unit(mm, UnitBasis::Declared, reason), Vec::new())
        }
        (None, None) => match infer() {
            Some(inferred) => inferred_unit(inferred),
            None => assumed_unit(),
        },
    }
}

fn stated_unit(mm: f64) -> LengthUnit {
    unit(mm, UnitBasis::Stated, format!("--unit says {}.", named(mm)))
}

fn inferred_unit(inferred: Inferred) -> (LengthUnit, Vec<Finding>) {
    let finding = Finding::new(
        Code::UnitInferred,
        Severity::Note,
        format!(
            "The file names no unit; it was read in {}. {}",
            named(inferred.mm_per_unit),
            inferred.reason
        ),
        "Compare one known size with the job; if it is off, give the unit with --unit.",
    );
    (
        unit(inferred.mm_per_unit, UnitBasis::Inferred, inferred.reason),
        vec![finding],
    )
}

fn assumed_unit() -> (LengthUnit, Vec<Finding>) {
    let finding = Finding::new(
        Code::UnitUnclear,
        Severity::Warning,
        "The file names no unit and no size in it tells; millimetres were taken.",
        "Compare one known size with the job, or give the unit with --unit.",
    );
    let reason = "The file names no unit and no size in it tells.".to_owned();
    (unit(1.0, UnitBasis::Assumed, reason), vec![finding])
}

fn unit(mm_per_file_unit: f64, basis: UnitBasis, reason: String) -> LengthUnit {
    LengthUnit {
        mm_per_file_unit,
        basis,
        reason,
    }
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.max(b)
}

fn named(mm: f64) -> String {
    let plural = |unit| match unit {
        Unit::Millimetre => "millimetres",
        Unit::Centimetre => "centimetres",
        Unit::Metre => "metres",
        Unit::Inch => "inches",
        Unit::Foot => "feet",
    };
    match Unit::ALL
        .into_iter()
        .find(|unit| same(unit.millimetres(), mm))
    {
        Some(unit) => plural(unit).to_owned(),
        None => format!("units of {mm} mm"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches() -> Option<Inferred> {
        Some(Inferred {
            mm_per_unit: 25.4,
            reason: "In inches the tube is a listed size, 2 x 2 x 0.12.".into(),
        })
    }

    #[test]
    fn what_is_stated_goes_before_everything() {
        let (unit, findings) = length_unit(Some(25.4), Some(1.0), || None);
        assert_eq!(
            (unit.mm_per_file_unit, unit.basis),
            (25.4, UnitBasis::Stated)
        );
        assert_eq!(
            findings[0].message,
            "The file says it is in millimetres, not in inches."
        );
        assert!(length_unit(Some(25.4), Some(25.4), || None).1.is_empty());
    }

    #[test]
    fn then_what_the_file_declares_then_what_its_sizes_tell() {
        assert_eq!(
            length_unit(None, Some(10.0), inches).0.basis,
            UnitBasis::Declared
        );
        let (unit, findings) = length_unit(None, None, inches);
        assert_eq!(
            (unit.mm_per_file_unit, unit.basis),
            (25.4, UnitBasis::Inferred)
        );
        assert_eq!(findings[0].code, Code::UnitInferred);
    }

    #[test]
    fn at_last_millimetres_with_a_warning() {
        let (unit, findings) = length_unit(Some(f64::NAN), Some(0.0), || None);
        assert_eq!(
            (unit.mm_per_file_unit, unit.basis),
            (1.0, UnitBasis::Assumed)
        );
        assert_eq!(findings[0].code, Code::UnitUnclear);
    }
}
