//! What the scan says, in the shop's words.

use super::{ENOUGH, Kind, ScanFit, Size, Spot, untold};
use crate::measure::{Quantity, Show, quantity};
use crate::shop::check::{Answer, Verdict};
use crate::shop::text::{fine, spoken, with_unit};

/// Why the answer is what it is, and how to go on.
pub(super) fn reasons(answer: &Answer, fit: &ScanFit, tolerance: f64, show: Show) -> Vec<String> {
    let show = fine(show);
    let mut list = vec![headline(answer, fit, tolerance, show)];
    if fit.opposite_hand {
        list.insert(
            0,
            "The scan fits the mirror image of the part: this piece is of the opposite hand."
                .into(),
        );
    }
    list.extend(
        fit.sizes
            .iter()
            .filter_map(|s| sentence(s, fit, tolerance, show)),
    );
    let unseen: Vec<&str> = untold(fit).iter().map(|s| s.what.as_str()).collect();
    if !unseen.is_empty() {
        list.push(format!(
            "The scan doesn't show enough to tell: {}.",
            unseen.join("; ")
        ));
    }
    let shown = (100.0 * fit.coverage).round();
    if fit.coverage < ENOUGH {
        list.push(format!(
            "The scan shows {shown} % of the outside, too little to answer yes: scan the rest."
        ));
    } else if fit.coverage < 0.97 {
        list.push(match fit.full {
            true => format!(
                "The scan shows {shown} % of the outside; with --full, what it doesn't show counts as missing metal."
            ),
            false => format!("The answer speaks of the {shown} % of the outside that the scan shows."),
        });
    }
    if fit.elsewhere > 0.002 {
        list.push(format!(
            "{:.1} % of the scan lies nowhere near the part and was left out: if it isn't a clamp, the table or another piece, look at it.",
            (100.0 * fit.elsewhere).max(0.1)
        ));
    }
    list
}

fn place(spot: &Spot, show: Show) -> String {
    match spot.station {
        Some(s) => format!("{}, {} from end 0", spot.face, with_unit(s.max(0.0), show)),
        None => spot.face.clone(),
    }
}

fn headline(answer: &Answer, fit: &ScanFit, tolerance: f64, show: Show) -> String {
    let spots = [&fit.most_out, &fit.most_in];
    let Some(worst) = spots
        .into_iter()
        .flatten()
        .max_by(|a, b| a.off.value.abs().total_cmp(&b.off.value.abs()))
    else {
        return "The scan shows no distance from the part.".into();
    };
    let size = spoken(quantity(worst.off.value.abs(), worst.off.plus_minus), show);
    let what = if worst.off.value > 0.0 {
        "metal stands out"
    } else {
        "metal is missing or lies too far in"
    };
    let at = place(worst, show);
    let limit = with_unit(tolerance, show);
    match answer.verdict {
        Verdict::Yes => format!(
            "Laid on the part as well as it goes, the piece is off by at most {size} ({at}); the tolerance is {limit}."
        ),
        Verdict::No => format!(
            "Laid on the part as well as it goes, {what} by up to {size} ({at}); the tolerance is {limit}."
        ),
        Verdict::Unclear => format!(
            "Your scan can't tell: laid on the part as well as it goes, {what} by up to {size} ({at}); the tolerance is {limit}."
        ),
    }
}

/// A sentence for a size that is surely off, and by something that matters.
fn sentence(size: &Size, fit: &ScanFit, tolerance: f64, show: Show) -> Option<String> {
    let off = size.off?;
    let made = size.made?;
    let least = match size.unit.as_str() {
        "deg" if size.kind == Kind::CutAngle => 0.1,
        "deg" => 0.03,
        _ => 0.1 * tolerance,
    };
    if off.value.abs() <= (1.5 * off.plus_minus).max(least)
        || matches!(size.kind, Kind::Rise | Kind::Chord)
    {
        return None;
    }
    let much = amount(off, &size.unit, show);
    let more = off.value > 0.0;
    let is = |made: Quantity| {
        if size.unit == "deg" {
            degrees(made)
        } else {
            spoken(made, show)
        }
    };
    let arc = size
        .what
        .rsplit_once(", ")
        .map_or(String::new(), |(_, arc)| match arc {
            arc if arc.starts_with("arc ") => format!(" of {arc}"),
            _ => String::new(),
        });
    let text = match size.kind {
        Kind::Radius => {
            let rise = fit
                .sizes
                .iter()
                .find(|s| s.kind == Kind::Rise && s.what.ends_with(arc.trim_start_matches(" of ")));
            let rise = rise.and_then(|r| r.off).map(|r| amount(r, "mm", show));
            let name = size.what.split(", arc").next().unwrap_or(&size.what);
            match (more, rise) {
                (true, Some(rise)) => format!(
                    "Under-rolled: the {name}{arc} is {}, {much} more than asked; {rise} more rise is wanted over the asked chord.",
                    is(made)
                ),
                (true, None) => format!(
                    "Under-rolled: the {name}{arc} is {}, {much} more than asked.",
                    is(made)
                ),
                (false, Some(rise)) => format!(
                    "Over-rolled: the {name}{arc} is {}, {much} less than asked; the rise over the asked chord is {rise} too much. It has to be opened: ask before trying.",
                    is(made)
                ),
                (false, None) => format!(
                    "Over-rolled: the {name}{arc} is {}, {much} less than asked. It has to be opened: ask before trying.",
                    is(made)
                ),
            }
        }
        Kind::AngleTurned if size.what.starts_with("bend ") => format!(
            "{}-bent: {} is {}, {much} {} than asked.",
            if more { "Over" } else { "Under" },
            size.what,
            is(made),
            if more { "more" } else { "less" }
        ),
        Kind::AngleTurned => format!(
            "Turns {much} {} than asked{arc}: {} in all.",
            if more { "more" } else { "less" },
            is(made)
        ),
        Kind::Length => format!(
            "Too {}: {} is {}, {much} {} than asked.",
            if more { "long" } else { "short" },
            size.what,
            is(made),
            if more { "more" } else { "less" }
        ),
        Kind::Twist => {
            let way = if more { "clockwise" } else { "anticlockwise" };
            match size.what.starts_with("twist") {
                true => format!("Twisted {much} from end 0 to end 1, {way} seen from end 0."),
                false => format!("The {} is off by {much}, {way} seen from end 0.", size.what),
            }
        }
        Kind::OutOfPlane => format!("Not in one plane: {}, {much}.", size.what),
        Kind::Bow => {
            let (along, side) = size
                .what
                .split_once(", hollow towards +")
                .unwrap_or((&size.what, ""));
            let sign = if more { "+" } else { "−" };
            match side {
                "" => format!("Not flat: {along} {much}."),
                side => format!("Bent: bowed {much} over the length, hollow towards {sign}{side}."),
            }
        }
        Kind::Section
        | Kind::Thickness
        | Kind::CutAngle
        | Kind::HolePlace
        | Kind::HoleSize
        | Kind::FaceOff
        | Kind::Lean
        | Kind::Chord
        | Kind::Rise => {
            let mut what = size.what.clone();
            if let Some(first) = what.get(..1) {
                what = first.to_uppercase() + what.get(1..).unwrap_or_default();
            }
            format!(
                "{what}: {}, {much} {} than asked.",
                is(made),
                if more { "more" } else { "less" }
            )
        }
    };
    Some(text)
}

fn amount(off: Quantity, unit: &str, show: Show) -> String {
    let size = quantity(off.value.abs(), off.plus_minus);
    match unit {
        "deg" => degrees(size),
        _ => spoken(size, show),
    }
}

fn degrees(q: Quantity) -> String {
    crate::measure::round(q, 2).map_or_else(
        || "not known".to_owned(),
        |w| format!("{} ±{}°", w.value, w.plus_minus),
    )
}
