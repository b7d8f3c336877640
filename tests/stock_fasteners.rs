//! What holes take, against values from outside the program; the source stands beside each.

use soapstone::measure::quantity;
use soapstone::stock::{Fit, TapSize, clears, head, tap_drills};

/// Fasteners of one system a hole of this diameter in mm is the clearance hole of.
fn exact(diameter: f64, metric: bool) -> Vec<(String, Fit)> {
    clears(quantity(diameter, 0.005))
        .into_iter()
        .filter(|c| c.over == 0.0 && c.fastener.starts_with('M') == metric)
        .map(|c| (c.fastener, c.fit))
        .collect()
}

/// ISO 273:1979, fine, medium and coarse: M5, M6, M8, M10, M12, M16 as quoted by a supplier's reference
/// page (read), M20, M24, M30, M36 as quoted on a draughtsman's page (read).
#[test]
fn iso_273_clearance_holes() {
    for (thread, fine, medium, coarse) in [
        ("M5", 5.3, 5.5, 5.8),
        ("M6", 6.4, 6.6, 7.0),
        ("M8", 8.4, 9.0, 10.0),
        ("M10", 10.5, 11.0, 12.0),
        ("M12", 13.0, 13.5, 14.5),
        ("M16", 17.0, 17.5, 18.5),
        ("M20", 21.0, 22.0, 24.0),
        ("M24", 25.0, 26.0, 28.0),
        ("M30", 31.0, 33.0, 35.0),
        ("M36", 37.0, 39.0, 42.0),
    ] {
        for (diameter, fit) in [
            (fine, Fit::Fine),
            (medium, Fit::Medium),
            (coarse, Fit::Coarse),
        ] {
            let found = exact(diameter, true);
            assert!(
                found.contains(&(thread.to_owned(), fit)),
                "{diameter}: {found:?}"
            );
        }
    }
    // 21 mm is fine for M20 and coarse for M18 (ISO 273); both are told, the larger first.
    let both = exact(21.0, true);
    assert_eq!(both[0], ("M20".to_owned(), Fit::Fine));
    assert!(both.contains(&("M18".to_owned(), Fit::Coarse)));
}

/// A hole between two sizes: the largest fastener that still goes through, and by how much it is
/// larger. 14 mm lies between medium (13.5) and coarse (14.5) for M12.
#[test]
fn between_two_sizes_the_smaller_clearance_counts() {
    let found = clears(quantity(14.0, 0.005));
    let metric = found.iter().find(|c| c.fastener.starts_with('M'));
    let metric = metric.expect("an M12");
    assert_eq!((metric.fastener.as_str(), metric.fit), ("M12", Fit::Medium));
    assert!((metric.over - 0.5).abs() < 1e-9);
    // 9/16 in = 14.2875 mm: 1/2 in goes through (free 17/32 in, drill charts).
    let inch = clears(quantity(14.2875, 0.005));
    assert!(
        inch.iter()
            .any(|c| c.fastener == "1/2" && c.fit == Fit::Free)
    );
}

/// Tapping drills for the coarse pitch: Mechanical Engineer's Data Handbook, p. 299 (read in a stored
/// page). Diameter less pitch is the rule; where the chart rounds (M8 6.75 to 6.8, M12 10.25 to 10.2)
/// both are that thread's.
#[test]
fn iso_261_tap_drills() {
    for (thread, drill) in [
        ("M3", 2.5),
        ("M4", 3.3),
        ("M5", 4.2),
        ("M6", 5.0),
        ("M8", 6.8),
        ("M10", 8.5),
        ("M12", 10.2),
        ("M16", 14.0),
        ("M20", 17.5),
        ("M24", 21.0),
        ("M30", 26.5),
        ("M36", 32.0),
    ] {
        let found = tap_drills(quantity(drill, 0.005));
        assert!(
            found.iter().any(|t| t.thread == thread),
            "{drill}: {found:?}"
        );
    }
    let rule = |d: f64| {
        tap_drills(quantity(d, 0.005))
            .into_iter()
            .find(|t| t.thread == "M8")
            .map(|t| t.is)
    };
    assert_eq!(rule(6.75), Some(TapSize::DiameterLessPitch));
    assert_eq!(rule(6.8), Some(TapSize::ChartDrill));
    // Minor diameter by the profile of ISO 68-1: D1 = d − 1.0825·P (textbook).
    assert_eq!(rule(8.0 - 1.0825 * 1.25), Some(TapSize::MinorDiameter));
}

/// Tap drills of ASME B1.1 threads and clearance drills as three drill charts have them (read): No. 7 =
/// 0.2010 in for 1/4-20, F = 0.257 in for 5/16-18, 5/16 in for 3/8-16, 27/64 in for 1/2-13; close and
/// free fit of 1/4 in: F 0.257 in and H 0.266 in. The thread height left is 65 to 80 % of
/// 1.299/threads per inch (Machinery's Handbook, memory).
#[test]
fn unified_tap_and_clearance_drills() {
    for (thread, major, per_inch, drill) in [
        ("1/4-20", 0.25, 20.0, 0.2010),
        ("5/16-18", 0.3125, 18.0, 0.257),
        ("3/8-16", 0.375, 16.0, 0.3125),
        ("1/2-13", 0.5, 13.0, 27.0 / 64.0),
        ("5/8-11", 0.625, 11.0, 17.0 / 32.0),
        ("3/4-10", 0.75, 10.0, 21.0 / 32.0),
    ] {
        let found = tap_drills(quantity(drill * 25.4, 0.005));
        assert!(
            found.iter().any(|t| t.thread == thread),
            "{thread}: {found:?}"
        );
        let height = (major - drill) * per_inch / 1.299;
        assert!((0.65..0.80).contains(&height), "{thread}: {height}");
    }
    assert!(exact(0.257 * 25.4, false).contains(&("1/4".to_owned(), Fit::Close)));
    assert!(exact(0.266 * 25.4, false).contains(&("1/4".to_owned(), Fit::Free)));
}

/// ISO 10642: the head of M6 is 13.44 mm at 90° to a sharp edge (two pages, read). In a countersink of
/// 13 it stands 0.22 proud, half the difference for a cone of 90°.
#[test]
fn countersunk_heads() {
    let q = |v: f64| quantity(v, 0.005);
    let m6 = head(q(6.6), q(13.0), q(90.0)).expect("a screw");
    assert_eq!(
        (m6.fastener.as_str(), m6.standard.as_str()),
        ("M6", "ISO 10642")
    );
    assert!((m6.proud - 0.22).abs() < 1e-9, "{m6:?}");
    let flush = head(q(6.6), q(13.5), q(90.0)).expect("a screw");
    assert_eq!(flush.proud, 0.0);
    let inch = head(q(6.76), q(12.88), q(82.0)).expect("a screw");
    assert_eq!(
        (inch.fastener.as_str(), inch.standard.as_str()),
        ("1/4", "ASME B18.3")
    );
    assert!(
        head(q(6.6), q(13.0), q(120.0)).is_none(),
        "no table has 120°"
    );
}
