//! How far facets cut inside the surface they stand for.

use crate::body::Body;
use crate::weld::NONE;

/// How far each facet may lie inside the smooth surface its corners stand on, mm.
///
/// Two facets of height w that meet at a small angle δ stand on an arc whose rise over the
/// facet is w·δ/8; sharper edges are edges.
pub fn sag(body: &Body) -> Vec<f32> {
    const SMOOTH_DEGREES: f64 = 50.0;
    let normal = |f: usize| {
        let [a, b, c] = body.facets[f].map(|v| body.vertices[v as usize]);
        (b - a).cross(&(c - a)).try_normalize(0.0)
    };
    let height = |f: usize, k: usize| {
        let p = body.facets[f].map(|v| body.vertices[v as usize]);
        let edge = p[(k + 1) % 3] - p[k];
        (p[(k + 2) % 3] - p[k]).cross(&edge).norm() / edge.norm().max(f64::MIN_POSITIVE)
    };
    let mut sag = vec![0.0f32; body.facets.len()];
    for f in 0..body.facets.len() {
        for k in 0..3 {
            let g = body.neighbours[f][k];
            if g == NONE || (g as usize) < f {
                continue;
            }
            let g = g as usize;
            let (Some(n), Some(m)) = (normal(f), normal(g)) else {
                continue;
            };
            let bend = n.cross(&m).norm().atan2(n.dot(&m));
            if bend > SMOOTH_DEGREES.to_radians() {
                continue;
            }
            let back = (0..3)
                .find(|&j| body.neighbours[g][j] == f as u32)
                .unwrap_or(0);
            let rise = (height(f, k).min(height(g, back)) * bend / 8.0) as f32;
            sag[f] = sag[f].max(rise);
            sag[g] = sag[g].max(rise);
        }
    }
    // A flat end of a round bar is cut short where the side is: pass it on across vertices.
    let mut at_vertex = vec![0.0f32; body.vertices.len()];
    for (f, s) in body.facets.iter().zip(&sag) {
        for &v in f {
            at_vertex[v as usize] = at_vertex[v as usize].max(*s);
        }
    }
    body.facets
        .iter()
        .map(|f| f.iter().map(|&v| at_vertex[v as usize]).fold(0.0, f32::max))
        .collect()
}
