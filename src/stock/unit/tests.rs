use super::*;

const MM: f64 = 1.0;
const INCH: f64 = 25.4;

/// The same evidence in another unit of `k` mm.
fn in_unit(e: &Evidence, k: f64) -> Evidence {
    let one = |list: &[f64]| list.iter().map(|v| v / k).collect();
    let two = |list: &[(f64, f64)]| list.iter().map(|v| (v.0 / k, v.1 / k)).collect();
    let three = |list: &[(f64, f64, f64)]| {
        list.iter()
            .map(|v| (v.0 / k, v.1 / k, v.2 / k))
            .collect::<Vec<_>>()
    };
    Evidence {
        round: two(&e.round),
        rect: three(&e.rect),
        round_bar: one(&e.round_bar),
        flat_bar: two(&e.flat_bar),
        angle: three(&e.angle),
        channel: three(&e.channel),
        thickness: one(&e.thickness),
        holes: one(&e.holes),
        lengths: one(&e.lengths),
        extent: e.extent / k,
    }
}

fn tube() -> Evidence {
    Evidence {
        rect: vec![(60.0, 60.0, 3.0)],
        extent: 1200.0,
        ..Evidence::default()
    }
}

#[test]
fn one_listed_tube_settles_every_unit() {
    for unit in Unit::ALL {
        let k = unit.millimetres();
        let guess = infer_unit(&in_unit(&tube(), k));
        assert_eq!(guess.mm_per_unit, k, "{guess:?}");
        assert!(guess.certain, "{guess:?}");
        assert!(guess.runner_up.is_some_and(|r| r != k));
    }
}

#[test]
fn an_inch_tube_is_told_from_a_metric_one() {
    let tube = Evidence {
        rect: vec![(4.0, 2.0, 0.188)],
        extent: 36.0,
        ..Evidence::default()
    };
    let guess = infer_unit(&tube);
    assert_eq!(
        (guess.mm_per_unit, guess.certain),
        (INCH, true),
        "{guess:?}"
    );
    assert!(
        guess
            .reason
            .starts_with("In inches 1 of 1 section is a listed size")
    );
}

#[test]
fn nothing_to_go_on_is_millimetres_and_said() {
    for extent in [0.0, 3.0, 500.0, f64::NAN] {
        let guess = infer_unit(&Evidence {
            extent,
            ..Evidence::default()
        });
        assert_eq!((guess.mm_per_unit, guess.certain), (MM, false));
        assert!(guess.reason.starts_with("The sizes hardly tell the unit."));
    }
}

#[test]
fn a_bare_block_is_not_called_certain() {
    // 1 thick and 30 long: a shim in millimetres, a plate in centimetres or inches.
    let block = Evidence {
        thickness: vec![1.0],
        lengths: vec![30.0, 20.0],
        extent: 36.0,
        ..Evidence::default()
    };
    assert!(!infer_unit(&block).certain);
}

#[test]
fn odd_numbers_do_not_break_it() {
    let odd = Evidence {
        round: vec![(0.0, -1.0), (f64::NAN, 3.0), (f64::INFINITY, 1.0)],
        holes: vec![-5.0, 1e300],
        lengths: vec![1e-300],
        extent: f64::INFINITY,
        ..Evidence::default()
    };
    let guess = infer_unit(&odd);
    assert!(guess.mm_per_unit > 0.0 && !guess.certain);
}

#[test]
fn many_copies_of_one_size_are_one_piece_of_evidence() {
    let many = Evidence {
        thickness: vec![1.0; 500],
        lengths: vec![30.0; 500],
        extent: 36.0,
        ..Evidence::default()
    };
    assert!(!infer_unit(&many).certain);
}
