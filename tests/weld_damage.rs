//! Damage that is repaired, damage that is only told, and soups without any sense.

mod weld_shapes;

use proptest::prelude::*;
use soapstone::finding::{Code, Severity};
use weld_shapes::*;

/// A ring of square section: `n` flats, some way from the origin.
fn ring(n: usize) -> Vec<Triangle> {
    let at = |i: usize, j: usize| {
        let u = (i % n) as f64 / n as f64 * std::f64::consts::TAU;
        let (r, z) = [(90.0, -5.0), (110.0, -5.0), (110.0, 5.0), (90.0, 5.0)][j % 4];
        [300.0 + r * u.cos(), r * u.sin() - 200.0, z]
    };
    let mut list = Vec::new();
    for i in 0..n {
        for j in 0..4 {
            let q = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            list.extend([[q[0], q[1], q[2]], [q[0], q[2], q[3]]]);
        }
    }
    list
}

/// Area of a regular polygon on the two circles, times the height.
fn ring_volume(n: usize) -> f64 {
    let n = n as f64;
    10.0 * n / 2.0 * (std::f64::consts::TAU / n).sin() * (110.0 * 110.0 - 90.0 * 90.0)
}

#[test]
fn sound_ring_says_nothing() {
    let (b, f) = bodies(soup(&rounded(&ring(48))));
    assert!(f.is_empty(), "{f:?}");
    assert_eq!((b.len(), b[0].closed), (1, true));
    assert_near(b[0].volume, ring_volume(48), 1e-6);
}

#[test]
fn loose_corners_are_joined_and_told() {
    let mut random = Random(7);
    let jitter = 2e-3;
    let list: Vec<_> = ring(48)
        .iter()
        .map(|t| t.map(|p| p.map(|x| x + jitter * random.signed())))
        .collect();
    let s = soup(&rounded(&shuffled(list, 3)));
    let (mesh, f) = soapstone::weld::weld(s, 1.0);
    mesh.check().unwrap();
    assert_eq!(mesh.vertices.len(), 4 * 48);
    assert_eq!(f.len(), 1, "{f:?}");
    assert_eq!(
        (f[0].code, f[0].severity),
        (Code::OpenEdges, Severity::Warning)
    );
    // A uniform ±j has a standard deviation of j/√3; the mean of six members, 1/√6 of that.
    assert_near(mesh.quantum, 1.96 * jitter / 3f64.sqrt() / 6f64.sqrt(), 0.1);
}

#[test]
fn repeated_and_turned_facets() {
    let mut list = ring(48);
    let mut random = Random(5);
    for _ in 0..20 {
        let t = list[random.below(list.len())];
        list.push(t);
    }
    for t in &mut list {
        if random.below(100) < 15 {
            t.swap(0, 1);
        }
    }
    let (b, f) = bodies(soup(&rounded(&shuffled(list, 9))));
    assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, true, 8 * 48));
    assert_near(b[0].volume, ring_volume(48), 1e-6);
    assert_eq!(codes(&f), vec![Code::DuplicateFacets, Code::FlippedFacets]);
}

#[test]
fn missing_facets_stay_missing() {
    let mut list = ring(48);
    for i in [300, 200, 101, 100, 7] {
        list.remove(i);
    }
    let (b, f) = bodies(soup(&rounded(&list)));
    assert_eq!(
        (b.len(), b[0].closed, b[0].facets.len()),
        (1, false, 8 * 48 - 5)
    );
    assert_eq!(b[0].vertices.len(), 4 * 48);
    assert_eq!(codes(&f), vec![Code::OpenEdges]);
}

/// Splits the edge (0, 1) of chosen triangles and bridges the gap with a facet without area.
fn with_slivers(mut list: Vec<Triangle>, which: &[usize]) -> Vec<Triangle> {
    for &i in which {
        let [a, b, c] = list[i];
        let n = [0, 1, 2].map(|k| f64::from((0.5 * (a[k] + b[k])) as f32));
        list[i] = [a, n, c];
        list.extend([[n, b, c], [a, b, n]]);
    }
    list
}

#[test]
fn slivers_are_taken_out_with_the_vertex_they_brought() {
    let list = with_slivers(rounded(&ring(48)), &[0, 1, 5, 9, 64, 65, 130, 333]);
    let (b, f) = bodies(soup(&shuffled(list, 1)));
    assert_eq!((b.len(), b[0].closed), (1, true));
    assert_eq!((b[0].facets.len(), b[0].vertices.len()), (8 * 48, 4 * 48));
    assert_eq!(codes(&f), vec![Code::DegenerateFacets]);
}

#[test]
fn slivers_from_both_sides_of_one_edge() {
    // Triangles 0 and 3 of a cuboid side pair may share an edge; split all edges of a box.
    let list = with_slivers(
        cuboid([0.0; 3], [8.0, 4.0, 2.0]),
        &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    );
    let (b, _) = bodies(soup(&list));
    assert_eq!((b.len(), b[0].closed), (1, true));
    assert_near(b[0].volume, 64.0, 1e-9);
}

#[test]
fn a_corner_on_a_neighbours_edge_is_matched() {
    // One long side is given as ten pieces, the side next to it as one.
    let mut list = cuboid([0.0; 3], [10.0, 2.0, 1.0]);
    let gone: Vec<usize> = (0..12)
        .filter(|&i| list[i].iter().all(|p| p[2] == 1.0))
        .collect();
    for &i in gone.iter().rev() {
        list.remove(i);
    }
    for i in 0..10 {
        let (x, y) = (f64::from(i), f64::from(i + 1));
        list.push([[x, 0.0, 1.0], [y, 0.0, 1.0], [y, 2.0, 1.0]]);
        list.push([[x, 0.0, 1.0], [y, 2.0, 1.0], [x, 2.0, 1.0]]);
    }
    let (b, f) = bodies(soup(&list));
    assert_eq!((b.len(), b[0].closed), (1, true));
    assert_near(b[0].volume, 20.0, 1e-12);
    assert!(f.iter().all(|f| f.severity == Severity::Note), "{f:?}");
}

#[test]
fn a_solid_given_for_both_sides() {
    let mut list = ring(24);
    list.extend(reversed(ring(24)));
    let (b, f) = bodies(soup(&rounded(&list)));
    assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, true, 8 * 24));
    assert_near(b[0].volume, ring_volume(24), 1e-6);
    assert_eq!(codes(&f), vec![Code::DuplicateFacets]);
}

#[test]
fn far_from_the_origin_is_told() {
    let list = rounded(&posed(&ring(48), [0.0; 3], [1e6, -1e6, 5e5]));
    let (_, f) = bodies(soup(&list));
    assert_eq!(codes(&f), vec![Code::FarFromOrigin]);
}

#[test]
fn corners_that_are_no_numbers() {
    let mut list = ring(48);
    list[3][1][0] = f64::NAN;
    list[4][2][2] = f64::INFINITY;
    let mut s = soup(&list);
    s.facets[9][0] = 1_000_000;
    let (mesh, f) = soapstone::weld::weld(s, 1.0);
    mesh.check().unwrap();
    assert_eq!(mesh.facets.len(), 8 * 48 - 3);
    assert_eq!(f[0].code, Code::NotFinite);
}

#[test]
fn nothing_gives_nothing() {
    let (b, f) = bodies(soup(&[]));
    assert!(b.is_empty() && f.is_empty());
    let (b, _) = bodies(soup(&[[[1.0; 3]; 3]]));
    assert!(b.is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]
    /// Few points, many facets: every edge crowded, repeats, slivers, everything at once.
    #[test]
    fn senseless_soups_do_no_harm(
        raw in prop::collection::vec((0..4i8, 0..4i8, 0..3i8), 3..90),
        scale in prop::sample::select(vec![1.0, 1e-6, 1e6, 0.1]),
        jitter in prop::sample::select(vec![0.0, 1e-6, 1e-3]),
        seed in any::<u64>(),
    ) {
        let mut random = Random(seed);
        let points: Vec<[f64; 3]> = raw
            .iter()
            .map(|p| [p.0, p.1, p.2].map(|x| scale * (f64::from(x) + jitter * random.signed())))
            .collect();
        let list: Vec<Triangle> = points.chunks_exact(3).map(|t| [t[0], t[1], t[2]]).collect();
        bodies(soup(&rounded(&list)));
    }

    /// Any mixture of damage leaves the ring one body of its own volume.
    #[test]
    fn damage_of_all_kinds_at_once(seed in any::<u64>(), share in 0..30usize, repeats in 0..10usize) {
        let mut random = Random(seed);
        let mut list = with_slivers(rounded(&ring(32)), &[random.below(80), 80 + random.below(80), 160 + random.below(90)]);
        for _ in 0..repeats {
            let t = list[random.below(250)];
            list.push(t);
        }
        for t in &mut list {
            if random.below(100) < share {
                t.swap(0, 2);
            }
        }
        let (b, _) = bodies(soup(&shuffled(list, seed)));
        prop_assert_eq!(b.len(), 1);
        prop_assert!(b[0].closed);
        prop_assert!((b[0].volume / ring_volume(32) - 1.0).abs() < 1e-5, "{}", b[0].volume);
    }
}
