//! STL and OBJ. Coordinates are rounded to 0.0001 mm, so that faces which share a corner write it alike.

use std::fmt::Write;

use super::solid::{P3, Solid};

fn rounded(p: P3) -> [f64; 3] {
    // + 0.0 takes the sign from a zero
    [p.x, p.y, p.z].map(|c| (c * 1e4).round() / 1e4 + 0.0)
}

fn corners(solid: &Solid) -> impl Iterator<Item = [[f64; 3]; 3]> {
    let all = solid.triangles.iter().map(|t| t.map(rounded));
    all.filter(|[a, b, c]| a != b && b != c && c != a)
}

pub fn stl(solids: &[Solid]) -> Vec<u8> {
    let facets: Vec<[[f64; 3]; 3]> = solids.iter().flat_map(corners).collect();
    let mut out = vec![b' '; 80];
    out[..16].copy_from_slice(b"soapstone demo  ");
    out.extend((facets.len() as u32).to_le_bytes());
    for [a, b, c] in facets {
        let [p, q, r] = [a, b, c].map(P3::from);
        let normal = (q - p)
            .cross(&(r - p))
            .try_normalize(0.0)
            .unwrap_or_default();
        for corner in [[normal.x, normal.y, normal.z], a, b, c] {
            out.extend(corner.iter().flat_map(|x| (*x as f32).to_le_bytes()));
        }
        out.extend([0, 0]);
    }
    out
}

pub fn obj(solids: &[Solid]) -> String {
    let mut out = String::from("# millimetres\n");
    let mut written = 0;
    for solid in solids {
        let mut known = std::collections::BTreeMap::new();
        let mut faces = String::new();
        let _ = writeln!(out, "o {}", solid.name.replace(' ', "_"));
        for facet in corners(solid) {
            let numbers = facet.map(|p| {
                *known
                    .entry(p.map(|c| (c * 1e4).round() as i64))
                    .or_insert_with(|| {
                        let _ = writeln!(out, "v {} {} {}", p[0], p[1], p[2]);
                        written += 1;
                        written
                    })
            });
            let _ = writeln!(faces, "f {} {} {}", numbers[0], numbers[1], numbers[2]);
        }
        out.push_str(&faces);
    }
    out
}
