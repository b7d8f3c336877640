//! Sections with their design sizes.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Point2, Vector2};

use super::random::Random;

pub type P2 = Point2<f64>;

/// Contours (arcs as chords with their corners on the arc) and sizes by the names of the report.
pub struct Section {
    pub contours: Vec<Vec<P2>>,
    pub sizes: Vec<(&'static str, f64)>,
    pub area: f64,
    /// Half of the largest size.
    pub half: f64,
}

fn arc(out: &mut Vec<P2>, centre: P2, radius: f64, from: f64, by: f64, n: usize) {
    if radius <= 0.0 {
        out.push(centre);
        return;
    }
    for k in 0..=n {
        let a = from + by * k as f64 / n as f64;
        out.push(centre + radius * Vector2::new(a.cos(), a.sin()));
    }
}

fn rounded(w: f64, h: f64, r: f64, n: usize) -> Vec<P2> {
    let (x, y) = (w / 2.0 - r, h / 2.0 - r);
    let mut out = Vec::new();
    for (k, (cx, cy)) in [(x, -y), (x, y), (-x, y), (-x, -y)].into_iter().enumerate() {
        arc(
            &mut out,
            P2::new(cx, cy),
            r,
            FRAC_PI_2 * (k as f64 - 1.0),
            FRAC_PI_2,
            n,
        );
    }
    out
}

fn ring(radius: f64, n: usize) -> Vec<P2> {
    (0..n)
        .map(|k| TAU * k as f64 / n as f64)
        .map(|a| P2::new(radius * a.cos(), radius * a.sin()))
        .collect()
}

fn rounded_area(w: f64, h: f64, r: f64) -> f64 {
    w * h - (4.0 - PI) * r * r
}

/// Moves an outline without arcs in doubt to its centroid, given as design values.
fn about(contour: Vec<P2>, centre: P2) -> Vec<P2> {
    contour.into_iter().map(|p| p - centre.coords).collect()
}

pub fn section(random: &mut Random) -> Section {
    let quarter = random.pick(&[2usize, 3, 4, 6, 8]);
    match random.pick(&[
        "round",
        "round",
        "square",
        "rect",
        "bar",
        "square_bar",
        "flat",
        "angle",
        "channel",
    ]) {
        "round" => {
            let d = random.pick(&[21.3, 26.9, 33.7, 42.4, 48.3, 60.3, 88.9, 114.3]);
            let t = random.pick(&[2.0, 2.6, 3.2, 4.0]);
            let n = 4 * quarter.max(3);
            Section {
                contours: vec![ring(d / 2.0, n), ring(d / 2.0 - t, n)],
                sizes: vec![("diameter", d), ("wall", t)],
                area: PI * t * (d - t),
                half: d / 2.0,
            }
        }
        kind @ ("square" | "rect") => {
            let w = random.pick(&[25.0, 30.0, 40.0, 50.0, 60.0, 80.0]);
            let h = if kind == "square" {
                w
            } else {
                random.pick(&[20.0, 35.0, 45.0, 70.0, 100.0])
            };
            let t = random.pick(&[2.0, 2.5, 3.0, 4.0]);
            let (r, i) = if random.chance(0.3) {
                (0.0, 0.0)
            } else {
                (2.0 * t, t)
            };
            Section {
                contours: vec![
                    rounded(w, h, r, quarter),
                    rounded(w - 2.0 * t, h - 2.0 * t, i, quarter),
                ],
                sizes: vec![
                    ("width", w),
                    ("height", h),
                    ("wall", t),
                    ("corner_radius", r),
                    ("inner_corner_radius", i),
                ],
                area: rounded_area(w, h, r) - rounded_area(w - 2.0 * t, h - 2.0 * t, i),
                half: w.max(h) / 2.0,
            }
        }
        "bar" => {
            let d = random.pick(&[10.0, 12.0, 16.0, 20.0, 25.0, 30.0]);
            Section {
                contours: vec![ring(d / 2.0, 4 * quarter.max(3))],
                sizes: vec![("diameter", d)],
                area: PI * d * d / 4.0,
                half: d / 2.0,
            }
        }
        kind @ ("square_bar" | "flat") => {
            let w = random.pick(&[12.0, 16.0, 20.0, 25.0]);
            let h = if kind == "flat" {
                random.pick(&[4.0, 6.0, 8.0])
            } else {
                w
            };
            let w = if kind == "flat" { 2.0 * w } else { w };
            Section {
                contours: vec![rounded(w, h, 0.0, 1)],
                sizes: vec![("width", w), ("height", h)],
                area: w * h,
                half: w.max(h) / 2.0,
            }
        }
        kind => {
            let t = random.pick(&[4.0, 5.0, 6.0, 8.0]);
            let r = random.pick(&[0.0, 5.0, 7.0]);
            let w = random.pick(&[50.0, 60.0, 75.0]);
            let h = if kind == "angle" {
                w - 15.0
            } else {
                random.pick(&[80.0, 100.0, 120.0])
            };
            let p = P2::new;
            let mut c = vec![p(0.0, 0.0), p(w, 0.0), p(w, t)];
            arc(&mut c, p(t + r, t + r), r, -FRAC_PI_2, -FRAC_PI_2, quarter);
            // A root is a square less a quarter circle in its corner.
            let (root, off) = (
                (1.0 - PI / 4.0) * r * r,
                (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI) * r,
            );
            let mut pieces = vec![(w * t, w / 2.0, t / 2.0), (root, t + off, t + off)];
            if kind == "angle" {
                c.extend([p(t, h), p(0.0, h)]);
                pieces.push((t * (h - t), t / 2.0, (h + t) / 2.0));
            } else {
                arc(
                    &mut c,
                    p(t + r, h - t - r),
                    r,
                    2.0 * FRAC_PI_2,
                    -FRAC_PI_2,
                    quarter,
                );
                c.extend([p(w, h - t), p(w, h), p(0.0, h)]);
                pieces.push((t * (h - 2.0 * t), t / 2.0, h / 2.0));
                pieces.push((w * t, w / 2.0, h - t / 2.0));
                pieces.push((root, t + off, h - t - off));
            }
            let area: f64 = pieces.iter().map(|q| q.0).sum();
            let mean = |f: &dyn Fn(&(f64, f64, f64)) -> f64| {
                pieces.iter().map(|q| q.0 * f(q)).sum::<f64>() / area
            };
            let centre = p(mean(&|q| q.1), mean(&|q| q.2));
            Section {
                contours: vec![about(c, centre)],
                sizes: vec![
                    ("width", w),
                    ("height", h),
                    ("wall", t),
                    ("inner_corner_radius", r),
                ],
                area,
                half: w.max(h),
            }
        }
    }
}
