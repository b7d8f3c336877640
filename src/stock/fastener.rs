//! What a hole takes: the fasteners it clears, the thread whose tap drill it equals, the head that
//! sits in its countersink.

use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::row::rows;
use crate::measure::Quantity;

const ISO: &str = include_str!("../../shared/sizes/fasteners_iso.csv");
const UN: &str = include_str!("../../shared/sizes/fasteners_un.csv");
const HEADS: &str = include_str!("../../shared/sizes/countersunk_heads.csv");

const CLEARANCE_ISO: &str = "ISO 273";
const CLEARANCE_INCH: &str = "inch drill charts";
const THREAD_ISO: &str = "ISO 261";
const THREAD_INCH: &str = "ASME B1.1";
const INCH: f64 = 25.4;

/// A hole "is" a table's size when it differs by no more than its own ± and this, mm: what the tables
/// themselves are rounded by.
const ROUNDING: f64 = 0.01;
/// With a wider ± than this, mm, several sizes of the tables fit and none is named as the one meant.
const TOO_VAGUE: f64 = 0.1;
/// A countersink is of a standard's angle when it differs by no more than this, degrees.
const ANGLE_SLACK: f64 = 1.0;

/// How freely a fastener goes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Fit {
    /// ISO 273, in the order of the standard's series.
    Fine,
    Medium,
    Coarse,
    /// Inch drill charts.
    Close,
    Free,
}

/// A fastener that goes through a hole.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Clears {
    /// Nominal size, `M12` or `1/2`.
    pub fastener: String,
    /// Where the clearance hole is published.
    pub standard: String,
    /// Series of that clearance hole.
    pub fit: Fit,
    /// Its published diameter, mm.
    pub size: f64,
    /// How much larger the hole is, mm; 0 when it is that size within its ±.
    pub over: f64,
}

/// Which of a thread's diameters a hole has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TapSize {
    /// Nominal diameter less the pitch.
    DiameterLessPitch,
    /// The drill of the charts.
    ChartDrill,
    /// The thread's basic minor diameter: how a threaded hole is often modelled.
    MinorDiameter,
}

/// A thread whose tap drill a hole equals. A mesh can't tell whether it is to be tapped.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TapDrill {
    /// Thread, `M8` (coarse pitch) or `1/4-20`.
    pub thread: String,
    /// Where the thread is published.
    pub standard: String,
    /// Which of its diameters.
    pub is: TapSize,
    /// That diameter, mm.
    pub size: f64,
}

/// A countersunk screw that fits a countersink.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Head {
    /// Nominal size of the screw.
    pub fastener: String,
    /// Its standard.
    pub standard: String,
    /// Largest theoretical diameter of its head, mm.
    pub size: f64,
    /// How far a head of that size would stand out of the countersink, mm; 0 when it is flush or
    /// below.
    pub proud: f64,
}

#[derive(Debug, Deserialize)]
struct IsoRow {
    thread: String,
    d_minus_p_mm: f64,
    usual_drill_mm: f64,
    minor_mm: f64,
    fine_mm: f64,
    medium_mm: f64,
    coarse_mm: f64,
}

#[derive(Debug, Deserialize)]
struct UnRow {
    thread: String,
    tap_drill_in: f64,
    minor_in: f64,
    close_in: Option<f64>,
    free_in: Option<f64>,
}

#[derive(Debug, Deserialize)]
struct HeadRow {
    standard: String,
    thread: String,
    unit: String,
    angle_deg: f64,
    head: f64,
}

/// A clearance hole: name of the fastener, fit, diameter in mm.
type Hole = (String, Fit, f64);

/// Clearance holes of one system, by size of fastener.
type Series = Vec<Hole>;

static ISO_ROWS: LazyLock<Vec<IsoRow>> = LazyLock::new(|| rows(ISO));
static UN_ROWS: LazyLock<Vec<UnRow>> = LazyLock::new(|| rows(UN));
static HEAD_ROWS: LazyLock<Vec<HeadRow>> = LazyLock::new(|| rows(HEADS));

static ISO_HOLES: LazyLock<Series> = LazyLock::new(|| {
    let three = |r: &IsoRow| {
        [
            (r.thread.clone(), Fit::Fine, r.fine_mm),
            (r.thread.clone(), Fit::Medium, r.medium_mm),
            (r.thread.clone(), Fit::Coarse, r.coarse_mm),
        ]
    };
    ISO_ROWS.iter().flat_map(three).collect()
});

static INCH_HOLES: LazyLock<Series> = LazyLock::new(|| {
    let mut series = Series::new();
    for row in UN_ROWS.iter() {
        // Coarse and fine threads of one size go through the same hole.
        let size = row.thread.rsplit_once('-').map_or("", |(size, _)| size);
        for (fit, hole) in [(Fit::Close, row.close_in), (Fit::Free, row.free_in)] {
            if let Some(hole) = hole
                && !series.iter().any(|s| s.0 == size && s.1 == fit)
            {
                series.push((size.to_owned(), fit, hole * INCH));
            }
        }
    }
    series
});

/// The fasteners a hole of this diameter clears: every published clearance hole it is, largest
/// fastener first; where it is none, in either system the largest fastener whose clearance hole is
/// smaller, with its loosest fit. Nothing beyond the end of a table.
pub fn clears(diameter: Quantity) -> Vec<Clears> {
    let mut found = in_series(diameter, &ISO_HOLES, CLEARANCE_ISO);
    found.extend(in_series(diameter, &INCH_HOLES, CLEARANCE_INCH));
    found
}

fn in_series(hole: Quantity, series: &[Hole], standard: &str) -> Vec<Clears> {
    if !(hole.value > 0.0 && hole.value.is_finite() && hole.plus_minus.is_finite()) {
        return Vec::new();
    }
    let give = |s: &Hole, over: f64| Clears {
        fastener: s.0.clone(),
        standard: standard.to_owned(),
        fit: s.1,
        size: s.2,
        over,
    };
    let exact: Vec<Clears> = series
        .iter()
        .rev()
        .filter(|s| is_size(hole, s.2))
        .map(|s| give(s, 0.0))
        .collect();
    if !exact.is_empty() {
        return exact;
    }
    // The table ends with its largest fastener; what goes through larger holes it doesn't say.
    let certain = hole.value - hole.plus_minus;
    match series.iter().rposition(|s| s.2 <= certain) {
        Some(last) if last + 1 < series.len() => {
            vec![give(&series[last], hole.value - series[last].2)]
        }
        _ => Vec::new(),
    }
}

/// The threads whose tap drill (ISO 261 coarse pitch; ASME B1.1) a hole of this diameter equals.
pub fn tap_drills(diameter: Quantity) -> Vec<TapDrill> {
    let nearest = |thread: &str, standard: &str, sizes: &[(TapSize, f64)]| {
        let off = |size: f64| (diameter.value - size).abs();
        let best = sizes
            .iter()
            .filter(|s| is_size(diameter, s.1))
            .min_by(|a, b| off(a.1).total_cmp(&off(b.1)))?;
        Some(TapDrill {
            thread: thread.to_owned(),
            standard: standard.to_owned(),
            is: best.0,
            size: best.1,
        })
    };
    let iso = ISO_ROWS.iter().filter_map(|r| {
        let sizes = [
            (TapSize::DiameterLessPitch, r.d_minus_p_mm),
            (TapSize::ChartDrill, r.usual_drill_mm),
            (TapSize::MinorDiameter, r.minor_mm),
        ];
        nearest(&r.thread, THREAD_ISO, &sizes)
    });
    let inch = UN_ROWS.iter().filter_map(|r| {
        let sizes = [
            (TapSize::ChartDrill, r.tap_drill_in * INCH),
            (TapSize::MinorDiameter, r.minor_in * INCH),
        ];
        nearest(&r.thread, THREAD_INCH, &sizes)
    });
    iso.chain(inch).collect()
}

/// The largest countersunk screw of the countersink's angle that goes through the hole; `None` for an
/// angle no table has.
pub fn head(diameter: Quantity, countersink: Quantity, angle: Quantity) -> Option<Head> {
    let goes_through = clears(diameter);
    let of_angle = |row: &&HeadRow| (row.angle_deg - angle.value).abs() <= ANGLE_SLACK;
    let through = |row: &&HeadRow| goes_through.iter().any(|c| c.fastener == row.thread);
    let row = HEAD_ROWS.iter().rev().filter(of_angle).find(through)?;
    let size = row.head * if row.unit == "in" { INCH } else { 1.0 };
    let half = (row.angle_deg / 2.0).to_radians();
    let short = size - countersink.value;
    Some(Head {
        fastener: row.thread.clone(),
        standard: row.standard.clone(),
        size,
        proud: if short > countersink.plus_minus + ROUNDING {
            short / 2.0 / half.tan()
        } else {
            0.0
        },
    })
}

fn is_size(hole: Quantity, size: f64) -> bool {
    hole.plus_minus <= TOO_VAGUE && (hole.value - size).abs() <= hole.plus_minus + ROUNDING
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;
    use crate::stock::row::unreadable;

    #[test]
    fn the_tables_read_and_run_upwards() {
        assert_eq!(unreadable::<IsoRow>(ISO), 0);
        assert_eq!(unreadable::<UnRow>(UN), 0);
        assert_eq!(unreadable::<HeadRow>(HEADS), 0);
        assert_eq!(
            (ISO_ROWS.len(), UN_ROWS.len(), HEAD_ROWS.len()),
            (16, 17, 20)
        );
        for series in [&*ISO_HOLES, &*INCH_HOLES] {
            let order = |fit: Fit| {
                let own: Vec<f64> = series.iter().filter(|s| s.1 == fit).map(|s| s.2).collect();
                own.is_sorted()
            };
            assert!([Fit::Fine, Fit::Medium, Fit::Coarse].into_iter().all(order));
            assert!([Fit::Close, Fit::Free].into_iter().all(order));
        }
    }

    #[test]
    fn what_is_not_known_is_not_named() {
        let names = |d: f64, u: f64| -> Vec<String> {
            let list = clears(quantity(d, u));
            list.iter().map(|c| c.fastener.clone()).collect()
        };
        assert!(names(80.0, 0.01).is_empty(), "beyond the tables");
        assert!(names(1.0, 0.01).is_empty(), "below the tables");
        assert!(names(f64::NAN, 0.01).is_empty());
        assert!(tap_drills(quantity(6.8, 0.3)).is_empty(), "too vague");
        // Too vague to say 13.5, but an M10 goes through for certain.
        assert!(clears(quantity(13.4, 0.3)).iter().all(|c| c.over > 0.0));
        assert_eq!(names(13.4, 0.3), ["M12", "1/2"]);
    }
}
