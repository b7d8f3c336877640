//! Time and memory of welding and taking apart at full size; run with `--release --ignored`.

use soapstone::body::separate;
use soapstone::read::{Format, Precision, TriangleSoup};
use soapstone::weld::weld;

/// Tori of n × m quadrilaterals each, as a binary STL gives them: three points of its own per facet.
fn loose_tori(count: usize, n: usize, m: usize) -> TriangleSoup {
    let mut points = Vec::with_capacity(count * n * m * 6);
    for c in 0..count {
        // Side by side, level by level: coordinates stay small enough for binary32.
        let offset = [c % 22, c / 22 % 22, c / 484].map(|k| 500.0 * k as f64);
        let at = |i: usize, j: usize| {
            let (u, v) = (i % n, j % m);
            let (u, v) = (
                u as f64 / n as f64 * std::f64::consts::TAU,
                v as f64 / m as f64 * std::f64::consts::TAU,
            );
            let r = 200.0 + 25.0 * v.cos();
            let p = [
                r * u.cos() + offset[0],
                r * u.sin() + offset[1],
                25.0 * v.sin() + offset[2],
            ];
            p.map(|x| f64::from(x as f32))
        };
        for i in 0..n {
            for j in 0..m {
                let q = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                points.extend([q[0], q[1], q[2], q[0], q[2], q[3]]);
            }
        }
    }
    TriangleSoup {
        distinct: false,
        facets: (0..points.len() as u32 / 3)
            .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
            .collect(),
        points,
        groups: vec![],
        precision: Precision::Binary32,
        declared_mm_per_unit: None,
        format: Format::StlBinary,
    }
}

/// Peak memory of this process so far, MiB.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM"));
    line.and_then(|l| l.split_whitespace().nth(1))
        .and_then(|n| n.parse::<u64>().ok())
        .map_or(0, |k| k / 1024)
}

/// Time this thread spent on a processor, ms.
fn worked() -> u64 {
    let stat = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    stat.split_whitespace()
        .next()
        .and_then(|n| n.parse::<u64>().ok())
        .map_or(0, |n| n / 1_000_000)
}

fn run(soup: TriangleSoup, bodies_expected: usize) {
    let facets = soup.facets.len();
    let before = peak();
    let start = worked();
    let (mesh, findings) = weld(soup, 1.0);
    let welded = worked() - start;
    let (bodies, more) = separate(mesh, &[]);
    println!(
        "{facets} facets: weld {welded} ms, all {} ms, peak {before} -> {} MiB",
        worked() - start,
        peak()
    );
    assert_eq!(bodies.len(), bodies_expected);
    assert!(findings.is_empty() && more.is_empty(), "{findings:?}");
}

#[test]
#[ignore = "takes gigabytes"]
fn one_body_of_ten_million() {
    run(loose_tori(1, 5000, 1000), 1);
}

#[test]
#[ignore = "takes gigabytes"]
fn one_body_of_one_million() {
    run(loose_tori(1, 1000, 500), 1);
}

#[test]
#[ignore = "takes gigabytes"]
fn ten_thousand_bodies() {
    run(loose_tori(10_000, 25, 20), 10_000);
}

#[test]
#[ignore = "slow without --release"]
fn a_hundred_thousand_loose_facets() {
    let mut soup = loose_tori(1, 500, 100);
    for (i, p) in soup.points.iter_mut().enumerate() {
        p[2] += 100.0 * (i / 3) as f64;
    }
    let t = std::time::Instant::now();
    let (mesh, _) = weld(soup, 1.0);
    let welded = t.elapsed();
    assert_eq!(separate(mesh, &[]).0.len(), 100_000);
    println!(
        "100000 bodies of one facet: weld {welded:?}, all {:?}",
        t.elapsed()
    );
}

#[test]
#[ignore = "slow without --release"]
fn a_million_facets_not_one_joined() {
    let mut soup = loose_tori(1, 1000, 500);
    let mut state = 1u64;
    for x in soup.points.iter_mut().flatten() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        *x = f64::from((*x + 0.002 * ((state >> 33) as f64 / (1u64 << 31) as f64 - 0.5)) as f32);
    }
    let start = worked();
    let (mesh, _) = weld(soup, 1.0);
    println!(
        "loose: {} ms, {} vertices, quantum {}",
        worked() - start,
        mesh.vertices.len(),
        mesh.quantum
    );
    assert_eq!(mesh.vertices.len(), 500_000);
    assert_eq!(separate(mesh, &[]).0.len(), 1);
}

#[test]
#[ignore = "slow without --release"]
fn large_copies() {
    let (mesh, _) = weld(loose_tori(3, 1000, 200), 1.0);
    let (bodies, _) = separate(mesh, &[]);
    let part = |b: &soapstone::body::Body| soapstone::part::Part {
        body: b.index,
        name: None,
        class: soapstone::part::Class::Other,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: vec![],
        unresolved: None,
    };
    let start = worked();
    let counted = soapstone::instance::count(bodies.iter().map(part).collect(), &bodies).0;
    println!(
        "three copies of {} facets: {} ms",
        bodies[0].facets.len(),
        worked() - start
    );
    assert_eq!((counted.len(), counted[0].quantity), (1, 3));
}
