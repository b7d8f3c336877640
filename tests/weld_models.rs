//! Welding and taking apart whole models.

use std::path::{Path, PathBuf};

use soapstone::body::{Body, separate};
use soapstone::finding::Finding;
use soapstone::read::{Format, Precision, TriangleSoup};
use soapstone::weld::weld;

fn binary_stl(path: &Path) -> TriangleSoup {
    let bytes = std::fs::read(path).unwrap();
    let number = |at: usize| f64::from(f32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()));
    let n = (bytes.len() - 84) / 50;
    let mut points = Vec::new();
    for i in 0..n {
        for k in 0..3 {
            let at = 84 + 50 * i + 12 + 12 * k;
            points.push([number(at), number(at + 4), number(at + 8)]);
        }
    }
    TriangleSoup {
        points,
        facets: (0..n as u32)
            .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
            .collect(),
        groups: vec![],
        precision: Precision::Binary32,
        declared_mm_per_unit: None,
        format: Format::StlBinary,
    }
}

fn bodies(path: &Path, unit: f64) -> (Vec<Body>, Vec<Finding>, f64) {
    let (mesh, mut findings) = weld(binary_stl(path), unit);
    mesh.check().unwrap();
    let quantum = mesh.quantum;
    let (bodies, more) = separate(mesh, &[]);
    findings.extend(more);
    for b in &bodies {
        b.check().unwrap();
    }
    (bodies, findings, quantum)
}

#[test]
fn dump() {
    let dir = std::env::var("DUMP").unwrap_or_default();
    for p in dir.split(',').filter(|d| !d.is_empty()) {
        let t = std::time::Instant::now();
        let (b, f, q) = bodies(&PathBuf::from(p), 1.0);
        println!(
            "{} bodies {} closed {} q {:.3e} {:?}",
            p.rsplit('/').next().unwrap(),
            b.len(),
            b.iter().filter(|b| b.closed).count(),
            q,
            t.elapsed()
        );
        for b in b.iter().take(12) {
            println!(
                "   {} f {} v {} vol {:.6e} area {:.6e} at {:.4?}",
                b.index,
                b.facets.len(),
                b.vertices.len(),
                b.volume,
                b.area,
                b.centroid.coords.as_slice()
            );
        }
        for f in f {
            println!("   {:?} {:?} {}", f.code, f.severity, f.message);
        }
    }
}
