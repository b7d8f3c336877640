//! Patches of drawn models.

mod plate_files;

use std::path::Path;

use soapstone::surface::{Surface, segment};

/// Prints what a file is made of; `SURFACE_FILE=... MM=1 cargo test --test plate_surface -- --ignored --nocapture`.
#[test]
#[ignore = "for looking at one file"]
fn show() {
    let Ok(file) = std::env::var("SURFACE_FILE") else {
        return;
    };
    let scale = std::env::var("MM")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(1.0);
    for body in plate_files::bodies(Path::new(&file), scale) {
        let t = std::time::Instant::now();
        let patches = segment(&body);
        println!(
            "body {}: {} facets, closed {}, quantum {:.2e}, tolerance {:.2e}, noise {:?}, {:?}",
            body.index,
            body.facets.len(),
            body.closed,
            body.quantum,
            patches.tolerance,
            patches.noise,
            t.elapsed()
        );
        for (i, p) in patches.list.iter().enumerate().take(60) {
            let what = match p.surface {
                Surface::Plane { normal, .. } => {
                    format!("plane {:.4} {:.4} {:.4}", normal.x, normal.y, normal.z)
                }
                Surface::Cylinder { radius, convex, .. } => format!(
                    "cylinder r {radius:.5} ± {:.5} {}",
                    p.plus_minus,
                    if convex { "convex" } else { "concave" }
                ),
                Surface::Cone {
                    half_angle, convex, ..
                } => format!(
                    "cone {:.4}° {}",
                    half_angle.to_degrees(),
                    if convex { "convex" } else { "concave" }
                ),
                Surface::Unknown => "unknown".to_string(),
            };
            let borders: Vec<String> = p
                .borders
                .iter()
                .take(8)
                .map(|b| format!("{}{:?}", b.patch, b.kind).chars().take(6).collect())
                .collect();
            println!(
                "  {i:3} {what:50} facets {:5} area {:10.2} rms {:.1e} max {:.1e} loops {:?} borders {}",
                p.facets.len(),
                p.area,
                p.rms,
                p.largest,
                p.loops.iter().map(Vec::len).collect::<Vec<_>>(),
                borders.join(" ")
            );
        }
    }
}
