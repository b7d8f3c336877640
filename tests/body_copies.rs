//! Copies and opposite hands, judged by the bodies alone.

mod weld_shapes;

use std::path::Path;

use proptest::prelude::*;
use soapstone::body::Body;
use soapstone::instance::{Counted, count};
use soapstone::part::{Class, Part};
use weld_shapes::*;

/// Parts of which nothing was measured.
fn unmeasured(bodies: &[Body]) -> Vec<Part> {
    let part = |b: &Body| Part {
        body: b.index,
        name: b.name.clone(),
        class: Class::Other,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: vec![],
        unresolved: None,
    };
    bodies.iter().map(part).collect()
}

/// (quantity, opposite hand) of each different part, in the order of marks.
fn tally(list: &[Triangle]) -> Vec<(u32, u32)> {
    counted(list)
        .iter()
        .map(|c| (c.quantity, c.opposite_hand))
        .collect()
}

fn counted(list: &[Triangle]) -> Vec<Counted> {
    let (b, _) = bodies(soup(&rounded(list)));
    count(unmeasured(&b), &b).0
}

/// Copies side by side, each turned its own way; mirrored where the flag says so.
fn spread(shape: &[Triangle], hands: &[bool], seed: u64) -> Vec<Triangle> {
    let mut random = Random(seed);
    hands
        .iter()
        .enumerate()
        .flat_map(|(i, &other)| {
            let own = if other {
                mirrored(shape)
            } else {
                shape.to_vec()
            };
            let angles = [0; 3].map(|_| 3.0 * random.signed());
            posed(
                &own,
                angles,
                [400.0 * i as f64, 0.0, 100.0 * random.signed()],
            )
        })
        .collect()
}

/// Three arms of different length along three axes: handed, with no symmetry at all.
fn tripod() -> Vec<Triangle> {
    let mut list = prism(
        &[
            [0., 0.],
            [60., 0.],
            [60., 10.],
            [10., 10.],
            [10., 90.],
            [0., 90.],
        ],
        10.0,
    );
    // Raise one corner so that the third arm does not need a union.
    for p in list
        .iter_mut()
        .flatten()
        .filter(|p| **p == [60.0, 0.0, 10.0])
    {
        p[2] = 45.0;
    }
    list
}

/// A plate with a square window off its middle; the window is cut out of the outline by a seam.
fn plate_with_window(x: f64) -> Vec<Triangle> {
    let outer = [[0., 0.], [100., 0.], [100., 60.], [0., 60.]];
    let inner = [[x, 15.], [x + 12.0, 15.], [x + 12.0, 27.], [x, 27.]];
    let mut list = Vec::new();
    for i in 0..4 {
        let j = (i + 1) % 4;
        let (a, b, c, d) = (outer[i], outer[j], inner[j], inner[i]);
        let at = |p: [f64; 2], z: f64| [p[0], p[1], z];
        for t in [[a, b, c], [a, c, d]] {
            list.push(t.map(|p| at(p, 6.0)));
            list.push([at(t[0], 0.0), at(t[2], 0.0), at(t[1], 0.0)]);
        }
        list.extend([
            [at(a, 0.), at(b, 0.), at(b, 6.)],
            [at(a, 0.), at(b, 6.), at(a, 6.)],
        ]);
        list.extend([
            [at(c, 0.), at(d, 0.), at(d, 6.)],
            [at(c, 0.), at(d, 6.), at(c, 6.)],
        ]);
    }
    list
}

/// A tripod-like handed bracket: window off the middle and one edge raised.
fn handed_plate() -> Vec<Triangle> {
    let mut list = plate_with_window(20.0);
    for p in list
        .iter_mut()
        .flatten()
        .filter(|p| p[0] == 100.0 && p[2] == 6.0)
    {
        p[2] = 30.0;
    }
    list
}

/// A regular prism lying along z.
fn bar(sides: usize, radius: f64, length: f64, phase: f64) -> Vec<Triangle> {
    let outline: Vec<[f64; 2]> = (0..sides)
        .map(|i| {
            let u = phase + i as f64 / sides as f64 * std::f64::consts::TAU;
            [radius * u.cos(), radius * u.sin()]
        })
        .collect();
    prism(&outline, length)
}

#[test]
fn handed_pieces_are_told_apart() {
    for shape in [tripod(), handed_plate()] {
        let list = spread(&shape, &[false, true, false, false, true], 11);
        assert_eq!(tally(&list), vec![(3, 2)]);
    }
}

#[test]
fn the_commoner_hand_is_the_part() {
    let list = spread(&tripod(), &[true, false, false], 2);
    let c = counted(&list);
    assert_eq!((c.len(), c[0].quantity, c[0].opposite_hand), (1, 2, 1));
    assert_eq!(c[0].bodies.len(), 3);
    let c = counted(&spread(&tripod(), &[true, false], 2));
    assert_eq!(
        (c[0].part.body, c[0].quantity, c[0].opposite_hand),
        (0, 1, 1)
    );
}

#[test]
fn a_flat_plate_turned_over_has_no_opposite_hand() {
    let list = spread(&plate_with_window(20.0), &[false, true, true, false], 5);
    assert_eq!(tally(&list), vec![(4, 0)]);
}

#[test]
fn a_window_elsewhere_is_another_part() {
    // Same volume, same area, same outline.
    let mut list = spread(&plate_with_window(20.0), &[false, true], 5);
    list.extend(posed(
        &plate_with_window(20.5),
        [0.4, 1.0, 0.2],
        [0.0, 900.0, 0.0],
    ));
    assert_eq!(tally(&list).iter().map(|t| t.0).sum::<u32>(), 3);
    assert_eq!(tally(&list).len(), 2);
}

#[test]
fn bodies_whose_axes_mean_nothing() {
    let cube = cuboid([0.0; 3], [40.0; 3]);
    let shapes = [
        cube,
        bar(4, 20.0, 300.0, 0.3),
        bar(6, 20.0, 300.0, 0.0),
        bar(5, 30.0, 10.0, 0.0),
        bar(24, 20.0, 500.0, 0.0),
    ];
    for shape in shapes {
        let list = spread(&shape, &[false, false, true, false], 8);
        assert_eq!(tally(&list), vec![(4, 0)], "{} facets", shape.len());
    }
}

#[test]
fn a_square_bar_with_a_slanted_cut_on_one_end() {
    let mut shape = bar(4, 20.0, 300.0, 0.0);
    // z grows with x and, less, with y: no plane of symmetry is left.
    for p in shape.iter_mut().flatten().filter(|p| p[2] == 300.0) {
        p[2] += 0.4 * p[0] + 0.15 * p[1];
    }
    assert_eq!(
        tally(&spread(&shape, &[false, true, false], 4)),
        vec![(2, 1)]
    );
    // With the slope along x alone the piece is its own mirror image.
    let mut shape = bar(4, 20.0, 300.0, 0.0);
    for p in shape.iter_mut().flatten().filter(|p| p[2] == 300.0) {
        p[2] += 0.4 * p[0];
    }
    assert_eq!(
        tally(&spread(&shape, &[false, true, false], 4)),
        vec![(3, 0)]
    );
}

#[test]
fn round_bars_cut_into_facets_in_different_ways() {
    let mut list = bar(48, 20.0, 400.0, 0.0);
    list.extend(posed(
        &bar(64, 20.0, 400.0, 0.4),
        [0.3, 0.2, 0.1],
        [200.0, 0.0, 0.0],
    ));
    list.extend(posed(
        &bar(72, 20.0, 403.0, 0.1),
        [0.1, -0.7, 0.1],
        [400.0, 0.0, 0.0],
    ));
    assert_eq!(tally(&list), vec![(1, 0), (2, 0)]);
}

#[test]
fn quadrilaterals_cut_the_other_way() {
    let mut list = cuboid([0.0; 3], [80.0, 50.0, 30.0]);
    let other = mirrored(&cuboid([0.0; 3], [80.0, 50.0, 30.0]));
    list.extend(posed(&other, [1.0, 0.5, 0.2], [300.0, 0.0, 0.0]));
    assert_eq!(tally(&list), vec![(2, 0)]);
}

#[test]
fn a_left_and_a_right_rail() {
    let bytes =
        std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/weld/rail_pair_01.stl"))
            .unwrap();
    let (s, _) = soapstone::read::read(&bytes, "rail_pair_01.stl").unwrap();
    let (b, _) = bodies(s);
    let c = count(unmeasured(&b), &b).0;
    assert_eq!((c.len(), c[0].quantity, c[0].opposite_hand), (1, 1, 1));
}

#[test]
fn thousands_of_pieces() {
    let mut list = Vec::new();
    for i in 0..1500 {
        let shape = if i % 3 == 0 {
            plate_with_window(20.0)
        } else {
            tripod()
        };
        let shape = if i % 5 == 0 { mirrored(&shape) } else { shape };
        let at = [f64::from(i % 40) * 150.0, f64::from(i / 40) * 150.0, 0.0];
        list.extend(posed(&shape, [0.1 * f64::from(i), 0.3, 1.0], at));
    }
    let c = counted(&list);
    assert_eq!(c.len(), 2);
    let plates = c.iter().find(|c| c.opposite_hand == 0).unwrap();
    assert_eq!(plates.quantity, 500);
    let tripods = c.iter().find(|c| c.opposite_hand > 0).unwrap();
    assert_eq!((tripods.quantity, tripods.opposite_hand), (800, 200));
}

/// Every edge longer than `most` halved until none is; edges are judged alone, so that the
/// facets on both sides agree.
fn refined(mut list: Vec<Triangle>, most: f64) -> Vec<Triangle> {
    let long =
        |p: [f64; 3], q: [f64; 3]| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>() > most * most;
    let mid = |p: [f64; 3], q: [f64; 3]| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k]));
    loop {
        let before = list.len();
        list = list
            .into_iter()
            .flat_map(|mut t| {
                let cut = |t: &Triangle| [long(t[0], t[1]), long(t[1], t[2]), long(t[2], t[0])];
                // Turn it so that a lone cut edge is the first, a lone whole edge the last.
                while !matches!(
                    cut(&t),
                    [false, false, false]
                        | [true, false, false]
                        | [true, true, false]
                        | [true, true, true]
                ) {
                    t.rotate_left(1);
                }
                let [a, b, c] = t;
                let (d, e, f) = (mid(a, b), mid(b, c), mid(c, a));
                match cut(&t) {
                    [false, ..] => vec![t],
                    [_, false, _] => vec![[a, d, c], [d, b, c]],
                    [_, _, false] => vec![[a, d, e], [d, b, e], [a, e, c]],
                    _ => vec![[a, d, f], [d, b, e], [f, e, c], [d, e, f]],
                }
            })
            .collect();
        if list.len() == before {
            return list;
        }
    }
}

/// A bracket in a fine grid with noise on every vertex, as a scan gives it.
fn scanned(shape: &[Triangle], sigma: f64, seed: u64) -> Vec<Triangle> {
    let fine = refined(shape.to_vec(), 5.0);
    let moved = |p: [f64; 3]| {
        let mut random = Random(seed ^ p.iter().fold(0, |h, x| h * 31 + (x * 1e6) as i64 as u64));
        // The sum of six uniform numbers is near enough to a bell; its standard deviation is √2.
        p.map(|x| x + sigma / 2f64.sqrt() * (0..6).map(|_| random.signed()).sum::<f64>())
    };
    fine.iter().map(|t| t.map(moved)).collect()
}

#[test]
fn two_scans_of_one_piece() {
    let mut list = scanned(&tripod(), 0.04, 1);
    list.extend(posed(
        &scanned(&tripod(), 0.04, 2),
        [1.0, 0.3, 0.2],
        [300.0, 0.0, 0.0],
    ));
    list.extend(posed(
        &mirrored(&scanned(&tripod(), 0.04, 3)),
        [1.0, 0.3, 0.2],
        [600.0, 0.0, 0.0],
    ));
    assert_eq!(tally(&list), vec![(2, 1)]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn counts_do_not_depend_on_pose_or_order(seed in any::<u64>()) {
        let mut list = spread(&handed_plate(), &[false, true, false], seed);
        list.extend(posed(&spread(&plate_with_window(33.0), &[true, false], seed ^ 5), [0.0; 3], [0.0, 500.0, 0.0]));
        list.extend(posed(&spread(&bar(4, 20.0, 300.0, 0.0), &[true, false], seed ^ 9), [0.0; 3], [0.0, 1500.0, 0.0]));
        let mut got = tally(&shuffled(list, seed));
        got.sort_unstable();
        prop_assert_eq!(got, vec![(2, 0), (2, 0), (2, 1)]);
    }
}
