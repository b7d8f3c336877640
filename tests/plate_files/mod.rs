//! Plain files to bodies for the plate tests: vertices welded when equal, shells apart.
#![allow(dead_code)]

use std::collections::HashMap;
use std::path::Path;

use nalgebra::{Point3, Vector3};
use soapstone::body::Body;
use soapstone::weld::NONE;

/// Bodies of an STL (binary or ASCII) or OBJ file, largest first, coordinates times `mm_per_unit`.
pub fn bodies(path: &Path, mm_per_unit: f64) -> Vec<Body> {
    let bytes = std::fs::read(path).expect("the file is there");
    let obj = path.extension().is_some_and(|e| e == "obj");
    let (triangles, quantum) = if obj {
        obj_triangles(&String::from_utf8_lossy(&bytes))
    } else {
        stl_triangles(&bytes)
    };
    split(&triangles, mm_per_unit, quantum * mm_per_unit)
}

fn stl_triangles(bytes: &[u8]) -> (Vec<[[f64; 3]; 3]>, f64) {
    let mut out = Vec::new();
    let count = u32::from_le_bytes([bytes[80], bytes[81], bytes[82], bytes[83]]) as usize;
    if bytes.len() == 84 + 50 * count {
        let float = |at: usize| {
            f64::from(f32::from_le_bytes([
                bytes[at],
                bytes[at + 1],
                bytes[at + 2],
                bytes[at + 3],
            ]))
        };
        for f in 0..count {
            let at = 84 + 50 * f + 12;
            out.push([0, 1, 2].map(|k| [0, 1, 2].map(|x| float(at + 12 * k + 4 * x) + 0.0)));
        }
    } else {
        let numbers: Vec<[f64; 3]> = String::from_utf8_lossy(bytes)
            .lines()
            .filter_map(|l| {
                l.trim().strip_prefix("vertex").map(|r| {
                    r.split_whitespace()
                        .map(|w| w.parse().expect("a number"))
                        .collect::<Vec<f64>>()
                })
            })
            .map(|v| [v[0], v[1], v[2]])
            .collect();
        out.extend(numbers.chunks(3).map(|c| [c[0], c[1], c[2]]));
    }
    let largest = out
        .iter()
        .flatten()
        .flatten()
        .fold(0.0f64, |m, x| m.max(x.abs()));
    (
        out,
        (largest as f32).next_up() as f64 * f64::from(f32::EPSILON) / 2.0,
    )
}

fn obj_triangles(text: &str) -> (Vec<[[f64; 3]; 3]>, f64) {
    let (mut points, mut out): (Vec<[f64; 3]>, Vec<[[f64; 3]; 3]>) = (Vec::new(), Vec::new());
    let mut quantum = 0.0f64;
    for line in text.lines() {
        let mut words = line.split_whitespace();
        match words.next() {
            Some("v") => {
                let p: Vec<f64> = words
                    .map(|w| {
                        let digits = w
                            .trim_start_matches('-')
                            .split('.')
                            .nth(1)
                            .map_or(0, str::len) as i32;
                        if digits > 0 {
                            quantum = quantum.max(0.5 * 10f64.powi(-digits));
                        }
                        w.parse().expect("a number")
                    })
                    .collect();
                points.push([p[0], p[1], p[2]]);
            }
            Some("f") => {
                let face: Vec<[f64; 3]> = words
                    .map(|w| {
                        let i: i64 = w
                            .split('/')
                            .next()
                            .unwrap_or("0")
                            .parse()
                            .expect("an index");
                        points[if i < 0 {
                            points.len() as i64 + i
                        } else {
                            i - 1
                        } as usize]
                    })
                    .collect();
                clip_ears(&face, &mut out);
            }
            _ => {}
        }
    }
    let largest = points.iter().flatten().fold(0.0f64, |m, x| m.max(x.abs()));
    (out, quantum.min(largest * 1e-6).max(largest * 5e-10))
}

fn clip_ears(face: &[[f64; 3]], out: &mut Vec<[[f64; 3]; 3]>) {
    let v = |p: &[f64; 3]| Vector3::from(*p);
    let normal: Vector3<f64> = (1..face.len() - 1)
        .map(|i| (v(&face[i]) - v(&face[0])).cross(&(v(&face[i + 1]) - v(&face[0]))))
        .sum();
    let mut left: Vec<[f64; 3]> = face.to_vec();
    while left.len() > 3 {
        let n = left.len();
        let ear = (0..n).find(|&i| {
            let (a, b, c) = (
                v(&left[(i + n - 1) % n]),
                v(&left[i]),
                v(&left[(i + 1) % n]),
            );
            let side = |p: &Vector3<f64>, q: &Vector3<f64>, x: &Vector3<f64>| {
                (q - p).cross(&(x - p)).dot(&normal)
            };
            side(&a, &b, &c) > 0.0
                && left.iter().all(|x| {
                    let x = v(x);
                    [a, b, c].contains(&x)
                        || !(side(&a, &b, &x) > 0.0
                            && side(&b, &c, &x) > 0.0
                            && side(&c, &a, &x) > 0.0)
                })
        });
        let i = ear.unwrap_or(0);
        out.push([left[(i + n - 1) % n], left[i], left[(i + 1) % n]]);
        left.remove(i);
    }
    out.push([left[0], left[1], left[2]]);
}

fn split(triangles: &[[[f64; 3]; 3]], scale: f64, quantum: f64) -> Vec<Body> {
    let mut index: HashMap<[u64; 3], u32> = HashMap::new();
    let mut points: Vec<Point3<f64>> = Vec::new();
    let mut facets: Vec<[u32; 3]> = Vec::new();
    for t in triangles {
        let f = t.map(|p| {
            *index
                .entry(p.map(|x| (x + 0.0).to_bits()))
                .or_insert_with(|| {
                    points.push(Point3::from(p.map(|x| x * scale)));
                    points.len() as u32 - 1
                })
        });
        if f[0] != f[1] && f[1] != f[2] && f[2] != f[0] {
            facets.push(f);
        }
    }
    let mut edges: HashMap<(u32, u32), (u32, usize)> = HashMap::new();
    for (i, f) in facets.iter().enumerate() {
        for k in 0..3 {
            edges.insert((f[k], f[(k + 1) % 3]), (i as u32, k));
        }
    }
    let neighbours: Vec<[u32; 3]> = facets
        .iter()
        .map(|f| [0, 1, 2].map(|k| edges.get(&(f[(k + 1) % 3], f[k])).map_or(NONE, |e| e.0)))
        .collect();
    let mut shell = vec![NONE; facets.len()];
    let mut out: Vec<Body> = Vec::new();
    for start in 0..facets.len() {
        if shell[start] != NONE {
            continue;
        }
        let id = out.len() as u32;
        shell[start] = id;
        let mut members = vec![start as u32];
        let mut next = 0;
        while next < members.len() {
            for g in neighbours[members[next] as usize] {
                if g != NONE && shell[g as usize] == NONE {
                    shell[g as usize] = id;
                    members.push(g);
                }
            }
            next += 1;
        }
        out.push(body(id, &points, &facets, &neighbours, &members, quantum));
    }
    out.sort_by(|a, b| b.volume.abs().total_cmp(&a.volume.abs()));
    for (i, b) in out.iter_mut().enumerate() {
        b.index = i as u32;
    }
    out
}

fn body(
    index: u32,
    points: &[Point3<f64>],
    facets: &[[u32; 3]],
    neighbours: &[[u32; 3]],
    members: &[u32],
    quantum: f64,
) -> Body {
    let mut of_vertex: HashMap<u32, u32> = HashMap::new();
    let mut vertices = Vec::new();
    let of_facet: HashMap<u32, u32> = members
        .iter()
        .enumerate()
        .map(|(i, &f)| (f, i as u32))
        .collect();
    let own: Vec<[u32; 3]> = members
        .iter()
        .map(|&f| {
            facets[f as usize].map(|v| {
                *of_vertex.entry(v).or_insert_with(|| {
                    vertices.push(points[v as usize]);
                    vertices.len() as u32 - 1
                })
            })
        })
        .collect();
    let beside: Vec<[u32; 3]> = members
        .iter()
        .map(|&f| neighbours[f as usize].map(|g| if g == NONE { NONE } else { of_facet[&g] }))
        .collect();
    let (mut volume, mut area, mut moment) = (0.0, 0.0, Vector3::zeros());
    for f in &own {
        let [a, b, c] = f.map(|v| vertices[v as usize].coords);
        let six = a.cross(&b).dot(&c);
        volume += six / 6.0;
        moment += (a + b + c) * six / 24.0;
        area += (b - a).cross(&(c - a)).norm() / 2.0;
    }
    let closed = beside.iter().flatten().all(|&g| g != NONE);
    Body {
        index,
        vertices,
        facets: own,
        neighbours: beside,
        quantum,
        name: None,
        volume,
        area,
        centroid: Point3::from(moment / volume),
        closed,
    }
}
