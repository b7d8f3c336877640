//! Bolts: the holes they go through, the holes they are tapped into, and nuts that couple them.

use std::sync::LazyLock;

use serde::Deserialize;

use super::row::rows;

const METRIC: &str = include_str!("../../shared/sizes/fasteners_iso.csv");
const INCH: &str = include_str!("../../shared/sizes/fasteners_un.csv");
const METRIC_NUTS: &str = include_str!("../../shared/sizes/coupling_nuts_din6334.csv");
const INCH_NUTS: &str = include_str!("../../shared/sizes/coupling_nuts_inch.csv");

const MM_PER_INCH: f64 = 25.4;

/// A thread with its holes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Thread {
    /// Name as bought.
    pub name: String,
    /// Clearance holes with their names, smallest first: ISO 273 fine, medium and coarse, or close and
    /// free.
    pub clearance: Vec<(&'static str, f64)>,
    /// Usual drill before tapping.
    pub tap_drill: f64,
    /// Coupling nut: across the flats and length, where one is listed.
    pub coupling_nut: Option<[f64; 2]>,
    /// True for ISO metric threads.
    pub metric: bool,
}

#[derive(Deserialize)]
struct MetricRow {
    thread: String,
    usual_drill_mm: f64,
    fine_mm: f64,
    medium_mm: f64,
    coarse_mm: f64,
}

#[derive(Deserialize)]
struct InchRow {
    thread: String,
    tap_drill_in: f64,
    close_in: Option<f64>,
    free_in: Option<f64>,
}

#[derive(Deserialize)]
struct MetricNut {
    thread: String,
    flats_mm: f64,
    length_mm: f64,
}

#[derive(Deserialize)]
struct InchNut {
    size: String,
    flats_max_in: f64,
    length_basic_in: f64,
}

static THREADS: LazyLock<Vec<Thread>> = LazyLock::new(|| {
    let metric_nuts: Vec<MetricNut> = rows(METRIC_NUTS);
    let inch_nuts: Vec<InchNut> = rows(INCH_NUTS);
    let metric = rows::<MetricRow>(METRIC).into_iter().map(|row| Thread {
        clearance: vec![
            ("fine", row.fine_mm),
            ("medium", row.medium_mm),
            ("coarse", row.coarse_mm),
        ],
        tap_drill: row.usual_drill_mm,
        coupling_nut: metric_nuts
            .iter()
            .find(|nut| nut.thread == row.thread)
            .map(|nut| [nut.flats_mm, nut.length_mm]),
        name: row.thread,
        metric: true,
    });
    let inch = rows::<InchRow>(INCH).into_iter().map(|row| Thread {
        clearance: [("close", row.close_in), ("free", row.free_in)]
            .into_iter()
            .filter_map(|(name, inches)| Some((name, inches? * MM_PER_INCH)))
            .collect(),
        tap_drill: row.tap_drill_in * MM_PER_INCH,
        coupling_nut: inch_nuts
            .iter()
            .find(|nut| row.thread.rsplit_once('-').map(|t| t.0) == Some(nut.size.as_str()))
            .map(|nut| {
                [
                    nut.flats_max_in * MM_PER_INCH,
                    nut.length_basic_in * MM_PER_INCH,
                ]
            }),
        name: row.thread,
        metric: false,
    });
    metric.chain(inch).collect()
});

/// All threads, metric first, each by size.
pub fn threads() -> &'static [Thread] {
    &THREADS
}

/// What a drilled hole may be smaller than its size and still let the bolt through on paper, mm.
const SLACK: f64 = 0.05;

/// The largest bolt that goes through a clear hole of this diameter in mm, with the widest series of
/// clearance holes it has room for. `metric` chooses the system.
pub fn largest_through(clear: f64, metric: bool) -> Option<(&'static Thread, &'static str)> {
    threads()
        .iter()
        .filter(|thread| thread.metric == metric)
        .filter_map(|thread| {
            let fits = thread
                .clearance
                .iter()
                .rev()
                .find(|(_, d)| *d <= clear + SLACK)?;
            Some((thread, fits.0))
        })
        // the first of several pitches of one size
        .fold(None, |best: Option<(&Thread, &str)>, next| match best {
            Some(best) if best.0.clearance[0].1 >= next.0.clearance[0].1 => Some(best),
            _ => Some(next),
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::row::unreadable;

    #[test]
    fn the_tables_read() {
        assert_eq!(unreadable::<MetricRow>(METRIC), 0);
        assert_eq!(unreadable::<InchRow>(INCH), 0);
        assert_eq!(unreadable::<MetricNut>(METRIC_NUTS), 0);
        assert_eq!(unreadable::<InchNut>(INCH_NUTS), 0);
    }

    #[test]
    fn holes_and_the_bolts_that_go_through() {
        // ISO 273: M12 13, 13.5, 14.5; M14 15
        let (bolt, series) = largest_through(14.0, true).unwrap();
        assert_eq!((bolt.name.as_str(), series), ("M12", "medium"));
        assert_eq!(bolt.coupling_nut, Some([19.0, 36.0]));
        let (bolt, _) = largest_through(0.2810 * 25.4, false).unwrap();
        assert!(bolt.name.starts_with("1/4-"));
        assert!(largest_through(1.0, true).is_none());
    }
}
