//! One arc in place of a path of several pieces.

use super::path::{Frame, Path, Piece};

/// The arc through start, middle and end of a path, where the path keeps within `off` mm of it.
///
/// Few rings let several pieces through the vertices that one arc explains as well; taking them out
/// one by one leads there only over paths that explain them worse.
pub fn one_arc(path: &Path, off: f64) -> Option<Path> {
    let length = path.length();
    if path.pieces.len() < 2 || path.pieces.iter().any(|p| p.torsion != 0.0) {
        return None;
    }
    let [first, middle, last] = [0.0, 0.5, 1.0].map(|u| path.at(u * length).point);
    let chord = last - first;
    let rise = middle - (first + 0.5 * chord);
    let along = chord.try_normalize(0.0)?;
    let rise = rise - along * along.dot(&rise);
    let up = rise.try_normalize(1e-9 * length)?;
    // half the angle turned: tan(angle / 4) is twice the rise over the chord
    let half = 2.0 * (2.0 * rise.norm()).atan2(chord.norm());
    let radius = 0.5 * chord.norm() / half.sin();
    let t = along * half.cos() + up * half.sin();
    let centre = along * half.sin() - up * half.cos();
    let w = path.start.w;
    let w = (w - t * t.dot(&w)).try_normalize(1e-3)?;
    let h = t.cross(&w);
    let arc = Path::new(
        Frame {
            point: first,
            w,
            h,
            t,
        },
        vec![Piece {
            length: 2.0 * half * radius,
            curvature: 1.0 / radius,
            bend: (-centre.dot(&w)).atan2(centre.dot(&h)),
            torsion: 0.0,
        }],
    );
    let stretch = arc.length() / length;
    let near = (0..=16).all(|k| {
        let s = length * f64::from(k) / 16.0;
        (path.at(s).point - arc.at(stretch * s).point).norm() < off
    });
    (radius.is_finite() && near).then_some(arc)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Pt3, Vec3};

    fn path(pieces: Vec<Piece>) -> Path {
        let start = Frame {
            point: Pt3::new(3.0, -2.0, 7.0),
            w: Vec3::x(),
            h: Vec3::y(),
            t: Vec3::z(),
        };
        Path::new(start, pieces)
    }

    fn arc(length: f64, radius: f64) -> Piece {
        Piece {
            length,
            curvature: 1.0 / radius,
            bend: 0.7,
            torsion: 0.0,
        }
    }

    #[test]
    fn an_arc_in_pieces_becomes_one() {
        for length in [60.0, 300.0, 500.0] {
            let cut = path(vec![arc(0.3 * length, 120.0), arc(0.7 * length, 120.0)]);
            let one = one_arc(&cut, 1e-6).expect("one arc");
            let p = one.pieces[0];
            assert!((p.length - length).abs() < 1e-9 * length, "{p:?}");
            assert!((p.curvature * 120.0 - 1.0).abs() < 1e-9, "{p:?}");
            assert!((p.bend - 0.7).abs() < 1e-9, "{p:?}");
        }
    }

    #[test]
    fn two_bends_stay_two() {
        let bent = path(vec![
            arc(100.0, 60.0),
            Piece::straight(80.0),
            arc(50.0, 90.0),
        ]);
        assert!(one_arc(&bent, 1.0).is_none());
    }
}
