//! Which shells make a body: cavities, bodies inside out, bodies that touch or stand in others.

mod weld_shapes;

use proptest::prelude::*;
use soapstone::finding::Code;
use weld_shapes::*;

fn hollow(low: f64, high: f64, wall: f64) -> Vec<Triangle> {
    let mut list = cuboid([low; 3], [high; 3]);
    list.extend(reversed(cuboid([low + wall; 3], [high - wall; 3])));
    list
}

#[test]
fn a_cavity_belongs_to_the_shell_around_it() {
    let (b, f) = bodies(soup(&hollow(0.0, 10.0, 1.0)));
    assert_eq!(b.len(), 1);
    assert_near(b[0].volume, 1000.0 - 512.0, 1e-9);
    assert_near(b[0].area, 600.0 + 384.0, 1e-9);
    assert!(f.is_empty(), "{f:?}");
}

#[test]
fn a_body_inside_out_is_turned_with_its_cavity() {
    let (b, f) = bodies(soup(&reversed(hollow(0.0, 10.0, 1.0))));
    assert_eq!(b.len(), 1);
    assert_near(b[0].volume, 488.0, 1e-9);
    assert_eq!(codes(&f), vec![Code::FlippedFacets]);
}

#[test]
fn a_solid_in_a_hollow_stays_a_body_of_its_own() {
    let mut list = hollow(0.0, 10.0, 1.0);
    list.extend(cuboid([4.0; 3], [6.0; 3]));
    let (b, _) = bodies(soup(&list));
    assert_eq!(b.len(), 2);
    assert_near(b[0].volume, 488.0, 1e-9);
    assert_near(b[1].volume, 8.0, 1e-9);
}

#[test]
fn a_solid_sunk_in_a_solid_stays_separate() {
    let mut list = cuboid([0.0; 3], [10.0; 3]);
    list.extend(cuboid([4.0; 3], [6.0; 3]));
    list.extend(cuboid([-2.0, 1.0, 1.0], [2.0, 2.0, 2.0]));
    let (b, f) = bodies(soup(&list));
    assert_eq!(
        b.iter().map(|b| b.volume.round()).collect::<Vec<_>>(),
        vec![1000.0, 8.0, 4.0]
    );
    assert!(f.is_empty(), "{f:?}");
}

#[test]
fn a_body_inside_out_in_a_cavity() {
    let mut list = hollow(0.0, 10.0, 1.0);
    list.extend(reversed(cuboid([4.0; 3], [6.0; 3])));
    let (b, f) = bodies(soup(&list));
    assert_eq!(b.len(), 2);
    assert_near(b[1].volume, 8.0, 1e-9);
    assert_eq!(codes(&f), vec![Code::FlippedFacets]);
}

/// Two boxes whose common face is cut into the same triangles.
fn touching() -> Vec<Triangle> {
    let mut list = cuboid([0.0, 0.0, 0.0], [2.0, 3.0, 4.0]);
    // Mirrored in x, so that the shared face at x = 0 has the same diagonal.
    list.extend(mirrored(&cuboid([0.0, 0.0, 0.0], [5.0, 3.0, 4.0])));
    list
}

#[test]
fn boxes_with_a_common_face_stay_two() {
    let (b, f) = bodies(soup(&touching()));
    assert_eq!(
        b.iter().map(|b| b.volume.round()).collect::<Vec<_>>(),
        vec![60.0, 24.0]
    );
    assert!(b.iter().all(|b| b.closed && b.facets.len() == 12));
    assert_eq!(codes(&f), vec![Code::NonManifoldEdges]);
}

#[test]
fn boxes_with_a_common_edge_stay_two() {
    let mut list = cuboid([0.0; 3], [1.0; 3]);
    list.extend(cuboid([1.0, 1.0, 0.0], [2.0, 2.0, 1.0]));
    let (b, f) = bodies(soup(&list));
    assert_eq!(b.len(), 2);
    assert!(b.iter().all(|b| b.closed));
    assert_near(b[0].volume, 1.0, 1e-12);
    assert_eq!(codes(&f), vec![Code::NonManifoldEdges]);
}

#[test]
fn four_boxes_around_one_edge() {
    let mut list = Vec::new();
    for (x, y) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)] {
        list.extend(posed(&cuboid([0.0; 3], [1.0; 3]), [0.0; 3], [x, y, 0.0]));
    }
    let (b, _) = bodies(soup(&list));
    assert_eq!(b.len(), 4);
    assert!(b.iter().all(|b| b.closed && (b.volume - 1.0).abs() < 1e-12));
}

#[test]
fn touching_boxes_given_inside_out() {
    let (b, _) = bodies(soup(&reversed(touching())));
    assert_eq!(
        b.iter().map(|b| b.volume.round()).collect::<Vec<_>>(),
        vec![60.0, 24.0]
    );
}

#[test]
fn names_go_with_the_bodies() {
    let mut list = cuboid([0.0; 3], [1.0; 3]);
    list.extend(cuboid([3.0; 3], [5.0; 3]));
    let mut s = soup(&list);
    let group = |name: &str, first_facet| soapstone::read::Group {
        name: Some(name.into()),
        first_facet,
    };
    s.groups = vec![group("small", 0), group("large", 12)];
    let (b, _) = bodies(s);
    assert_eq!(b[0].name.as_deref(), Some("large"));
    assert_eq!(b[1].name.as_deref(), Some("small"));
}

#[test]
fn many_cavities_in_one_block() {
    let mut list = cuboid([0.0; 3], [100.0; 3]);
    for i in 0..10 {
        for j in 0..10 {
            for k in 0..10 {
                let low = [i, j, k].map(|n| 10.0 * f64::from(n) + 2.0);
                list.extend(reversed(cuboid(low, low.map(|x| x + 3.0))));
            }
        }
    }
    let (b, _) = bodies(soup(&list));
    assert_eq!(b.len(), 1);
    assert_near(b[0].volume, 1e6 - 27e3, 1e-9);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn same_bodies_however_the_file_lists_and_poses_them(
        seed in any::<u64>(),
        angles in [-3.0..3.0f64, -3.0..3.0f64, -3.0..3.0f64],
        shift in [-500.0..500.0f64, -500.0..500.0f64, -500.0..500.0f64],
    ) {
        let mut list = hollow(0.0, 10.0, 1.0);
        list.extend(cuboid([4.0; 3], [6.0; 3]));
        list.extend(posed(&touching(), [0.0; 3], [20.0, 0.0, 0.0]));
        let list = rounded(&posed(&shuffled(list, seed), angles, shift));
        let (b, _) = bodies(soup(&list));
        prop_assert_eq!(b.len(), 4);
        for (b, want) in b.iter().zip([488.0, 60.0, 24.0, 8.0]) {
            prop_assert!(b.closed);
            prop_assert!((b.volume - want).abs() < 0.05, "{} {}", b.volume, want);
        }
    }

    /// Cubes on a grid, touching in corners, edges and faces, diagonals matching or not; some
    /// facets given twice; perhaps all inside out.
    #[test]
    fn touching_cubes_stay_as_many_as_they_are(
        cells in prop::collection::vec(any::<bool>(), 18),
        seed in any::<u64>(),
        repeats in 0..40usize,
        inside_out in any::<bool>(),
    ) {
        let mut random = Random(seed);
        let mut list = Vec::new();
        for (i, _) in cells.iter().enumerate().filter(|c| *c.1) {
            let cube = cuboid([0.0; 3], [1.0; 3]);
            let other = posed(&mirrored(&cube), [0.0; 3], [1.0, 0.0, 0.0]);
            let at = [i % 3, i / 3 % 3, i / 9].map(|k| k as f64);
            list.extend(posed(if random.below(2) == 0 { &cube } else { &other }, [0.0; 3], at));
        }
        if inside_out {
            list = reversed(list);
        }
        for _ in 0..repeats.min(list.len() / 5) {
            let t = list[random.below(list.len())];
            list.push(t);
        }
        let angles = [0; 3].map(|_| random.signed());
        let list = rounded(&posed(&shuffled(list, seed), angles, [3.0, 40.0, 7.0]));
        let (b, _) = bodies(soup(&list));
        prop_assert_eq!(b.len(), cells.iter().filter(|c| **c).count());
        prop_assert!(b.iter().all(|b| b.closed && (b.volume - 1.0).abs() < 1e-4));
    }
}
