//! Members with straights and an arc, ends cut by planes, as facets with their design values.

use nalgebra::{Point3, Vector3};

use super::random::Random;
use super::shape::{P2, Section, section};
use super::{Case, Facets, P3};

/// Straight, arc in the plane of height, straight.
struct Path {
    before: f64,
    radius: f64,
    angle: f64,
    after: f64,
    /// The section is true across each flat, so rings on the arc are stretched by this factor.
    stretch: f64,
}

impl Path {
    fn arc(&self) -> f64 {
        self.radius * self.angle
    }

    fn length(&self) -> f64 {
        self.before + self.arc() + self.after
    }

    /// Travels along z, bends towards y.
    fn place(&self, p: P2, s: f64) -> P3 {
        let a = if self.angle > 0.0 {
            let beyond = if self.after > 0.0 {
                self.angle
            } else {
                f64::INFINITY
            };
            let low = if self.before > 0.0 {
                0.0
            } else {
                f64::NEG_INFINITY
            };
            ((s - self.before) / self.radius).clamp(low, beyond)
        } else {
            0.0
        };
        let (sin, cos) = a.sin_cos();
        let left = s
            - self.before
            - if self.angle > 0.0 {
                a * self.radius
            } else {
                0.0
            };
        let y = p.y * self.stretch;
        let bend = if self.angle > 0.0 { self.radius } else { 0.0 };
        Point3::new(
            p.x,
            bend * (1.0 - cos) + y * cos + left * sin,
            self.before + bend * sin - y * sin + left * cos,
        )
    }

    fn travel(&self, s: f64) -> (Vector3<f64>, Vector3<f64>) {
        let a = if self.angle > 0.0 {
            ((s - self.before) / self.radius).clamp(0.0, self.angle)
        } else {
            0.0
        };
        let (sin, cos) = a.sin_cos();
        (Vector3::new(0.0, sin, cos), Vector3::new(0.0, cos, -sin))
    }
}

pub fn member(random: &mut Random) -> Case {
    let section: Section = section(random);
    let half = section.half;
    let bent = random.chance(0.65);
    let tangents = random.chance(0.4);
    let chordal = bent && !tangents && random.chance(0.3);
    let radius = random.drawn(half * 8.0, half * 60.0, 5.0);
    let angle = random.drawn(20.0, 170.0, 5.0).to_radians();
    let straight = |random: &mut Random| random.drawn(half * 5.0, half * 40.0, 1.0);
    let step = random.pick(&[1.5f64, 3.0, 5.0, 7.5]).to_radians();
    let n = (angle / step).ceil().max(4.0);
    let path = Path {
        before: if !bent || tangents {
            straight(random)
        } else {
            0.0
        },
        radius,
        angle: if bent { angle } else { 0.0 },
        after: if bent && tangents {
            straight(random)
        } else {
            0.0
        },
        stretch: if chordal {
            1.0 / (angle / n / 2.0).cos()
        } else {
            1.0
        },
    };
    // Cuts lean only where a straight leaves room, else they are square.
    let leans = [0, 1].map(|end| {
        let room = !bent
            || if end == 0 {
                path.before > 4.0 * half
            } else {
                path.after > 4.0 * half
            };
        let lean = |random: &mut Random| {
            random
                .pick(&[0.0f64, 0.0, 10.0, 22.5, 30.0, 45.0])
                .to_radians()
        };
        if room {
            [lean(random), lean(random)]
        } else {
            [0.0; 2]
        }
    });
    let planes = [0, 1].map(|end| {
        let s = if end == 0 { 0.0 } else { path.length() };
        let (travel, height) = path.travel(s);
        let outward = if end == 0 { -travel } else { travel };
        let normal = outward + Vector3::x() * leans[end][0].tan() + height * leans[end][1].tan();
        (path.place(P2::origin(), s), normal.normalize())
    });
    let ends = |p: P2| {
        [0, 1].map(|end| {
            let (at, normal) = planes[end];
            let base = if end == 0 { 0.0 } else { path.length() };
            let (mut low, mut high) = (base - 4.0 * half, base + 4.0 * half);
            if leans[end] == [0.0; 2] {
                return base;
            }
            for _ in 0..60 {
                let s = 0.5 * (low + high);
                let out = (path.place(p, s) - at).dot(&normal) > 0.0;
                if out == (end == 0) { low = s } else { high = s }
            }
            0.5 * (low + high)
        })
    };
    let mut rings: Vec<f64> = if bent {
        (0..=n as usize)
            .map(|k| path.before + path.arc() * k as f64 / n)
            .collect()
    } else {
        Vec::new()
    };
    rings.retain(|s| *s > 4.0 * half * f64::from(u8::from(path.before > 0.0)) + 1e-6);
    rings.retain(|s| *s < path.length() - 1e-6);
    let mut facets = Facets::default();
    let stations: Vec<Vec<Vec<f64>>> = (section.contours.iter())
        .map(|contour| {
            (contour.iter())
                .map(|p| {
                    let [from, to] = ends(*p);
                    let mut all = vec![from];
                    all.extend(
                        rings
                            .iter()
                            .filter(|s| **s > from + 1e-6 && **s < to - 1e-6),
                    );
                    all.push(to);
                    all
                })
                .collect()
        })
        .collect();
    for (k, contour) in section.contours.iter().enumerate() {
        for i in 0..contour.len() {
            let j = (i + 1) % contour.len();
            for m in 0..stations[k][i].len() - 1 {
                let at = |i: usize, m: usize| path.place(contour[i], stations[k][i][m]);
                let quad = [at(i, m), at(j, m), at(j, m + 1), at(i, m + 1)];
                facets.quad(quad, k == 0);
            }
        }
    }
    for end in 0..2 {
        let rim: Vec<Vec<P3>> = (section.contours.iter().zip(&stations))
            .map(|(contour, stations)| {
                (contour.iter().zip(stations))
                    .map(|(p, s)| path.place(*p, s[if end == 0 { 0 } else { s.len() - 1 }]))
                    .collect()
            })
            .collect();
        facets.cap(&rim, planes[end].1);
    }
    let mut spans = Vec::new();
    if path.before > 0.0 {
        spans.push((path.before, None));
    }
    if bent {
        spans.push((path.arc(), Some((radius, angle.to_degrees()))));
    }
    if path.after > 0.0 {
        spans.push((path.after, None));
    }
    let off = leans.map(|[w, h]| w.tan().hypot(h.tan()).atan().to_degrees());
    let chord = (planes[1].0 - planes[0].0).norm();
    Case::Member {
        facets,
        sizes: section.sizes,
        area: section.area,
        length: path.length(),
        chord,
        spans,
        off,
        bent,
    }
}
