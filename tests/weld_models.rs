//! Welding and taking apart whole models.

use std::path::Path;

use soapstone::body::{Body, separate};
use soapstone::finding::Finding;
use soapstone::instance::{Counted, count};
use soapstone::part::{Class, Part};
use soapstone::weld::weld;

fn bodies(path: &Path, unit: f64) -> (Vec<Body>, Vec<Finding>, f64) {
    let bytes = std::fs::read(path).unwrap();
    let (soup, mut findings) = soapstone::read::read(&bytes, &path.to_string_lossy()).unwrap();
    let names: Vec<_> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, more) = weld(soup, unit);
    findings.extend(more);
    mesh.check().unwrap();
    let quantum = mesh.quantum;
    let (bodies, more) = separate(mesh, &names);
    findings.extend(more);
    for b in &bodies {
        b.check().unwrap();
    }
    (bodies, findings, quantum)
}

/// Parts of which nothing was measured, so that only the bodies themselves are compared.
fn copies(bodies: &[Body]) -> Vec<Counted> {
    let parts = bodies
        .iter()
        .map(|b| Part {
            body: b.index,
            name: b.name.clone(),
            class: Class::Other,
            volume: None,
            surface_area: None,
            member: None,
            plate: None,
            findings: vec![],
            unresolved: None,
        })
        .collect();
    count(parts, bodies).0
}

#[test]
fn dump() {
    let dir = std::env::var("DUMP").unwrap_or_default();
    for p in dir.split(',').filter(|d| !d.is_empty()) {
        let t = std::time::Instant::now();
        let (b, f, q) = bodies(Path::new(p), 1.0);
        println!("{} bodies {} closed {} q {:.3e} {:?}", p.rsplit('/').next().unwrap(), b.len(), b.iter().filter(|b| b.closed).count(), q, t.elapsed());
        for b in b.iter().take(12) {
            println!("   {} f {} v {} vol {:.6e} area {:.6e} at {:.4?} {:?}", b.index, b.facets.len(), b.vertices.len(), b.volume, b.area, b.centroid.coords.as_slice(), b.name);
        }
        for f in f {
            println!("   {:?} {:?} {}", f.code, f.severity, f.message);
        }
        if b.len() > 1 {
            let t = std::time::Instant::now();
            for c in copies(&b) {
                println!("   {} body {} x{} opposite {} {:?}", c.mark, c.part.body, c.quantity, c.opposite_hand, c.bodies);
            }
            println!("   {:?}", t.elapsed());
        }
    }
}
