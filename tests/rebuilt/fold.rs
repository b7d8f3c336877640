//! A flat folded along its bend lines.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point2, Point3, Unit, UnitQuaternion, Vector2, Vector3};
use serde_json::Value;

use super::contour::Region;
use super::json::{self, Frame};

/// A part of the flat that stays flat, or the strip that is bent.
#[derive(Clone, Debug)]
pub struct Leaf {
    ring: Vec<Point2<f64>>,
    /// Which sides of the ring are bend tangents: side i runs from corner i to the next.
    tangent: Vec<bool>,
    frame: Frame,
    bend: Option<Bend>,
}

/// A bend in the frame of the leaf before it.
#[derive(Clone, Copy, Debug)]
struct Bend {
    /// A point of the tangent where it starts, and the way across it on the flat.
    start: Point2<f64>,
    across: Vector2<f64>,
    width: f64,
    angle: f64,
    inside: f64,
    thickness: f64,
    up: bool,
    line: [Point2<f64>; 2],
}

impl Bend {
    /// Height of its axis over the front face.
    fn axis_height(&self) -> f64 {
        if self.up {
            self.inside
        } else {
            -self.inside - self.thickness
        }
    }

    fn axis(&self, frame: &Frame) -> (Point3<f64>, Vector3<f64>) {
        let at = frame.out(&Point3::new(self.start.x, self.start.y, self.axis_height()));
        let across = frame.x * self.across.x + frame.y * self.across.y;
        let about = across.cross(&frame.z);
        (at, if self.up { about } else { -about })
    }

    /// The frame of the leaf behind it.
    fn after(&self, frame: &Frame) -> Frame {
        let (at, about) = self.axis(frame);
        let turn = UnitQuaternion::from_axis_angle(&Unit::new_normalize(about), self.angle);
        let back = -self.across * self.width;
        let origin = frame.out(&Point3::new(back.x, back.y, 0.0));
        Frame {
            origin: at + turn * (origin - at),
            x: turn * frame.x,
            y: turn * frame.y,
            z: turn * frame.z,
        }
    }
}

impl Leaf {
    /// Whether a place on the flat belongs to this leaf, or lies off the outline nearest to it.
    pub fn holds(&self, q: &Point2<f64>) -> bool {
        let n = self.ring.len();
        let mut inside = false;
        let (mut closed, mut open) = (f64::INFINITY, f64::INFINITY);
        for i in 0..n {
            let (a, b) = (self.ring[i], self.ring[(i + 1) % n]);
            if (a.y > q.y) != (b.y > q.y) && q.x < a.x + (b.x - a.x) * (q.y - a.y) / (b.y - a.y) {
                inside = !inside;
            }
            let d = b - a;
            let share = ((q - a).dot(&d) / d.norm_squared().max(1e-300)).clamp(0.0, 1.0);
            let off = (q - a - d * share).norm();
            let least = if self.tangent[i] {
                &mut closed
            } else {
                &mut open
            };
            *least = least.min(off);
        }
        // Both are equally near beyond the corner where a tangent begins: that belongs to the neighbour.
        inside || closed.min(open) < 1e-4 || open + 1e-9 < closed
    }

    pub fn seen(&self, p: &Point3<f64>) -> Option<(Point2<f64>, f64)> {
        let at = self.frame.within(p);
        let flat = Point2::new(at.x, at.y);
        let (q, height) = match &self.bend {
            None => (flat, at.z),
            Some(b) => {
                let aside = (flat - b.start).dot(&b.across);
                let over = at.z - b.axis_height();
                let radius = aside.hypot(over);
                let angle = if b.up {
                    aside.atan2(-over)
                } else {
                    aside.atan2(over)
                };
                let angle = b.angle / 2.0 - PI + (angle - b.angle / 2.0 + PI).rem_euclid(TAU);
                let height = if b.up {
                    b.inside - radius
                } else {
                    radius - b.inside - b.thickness
                };
                (
                    flat + b.across * (b.width * angle / b.angle - aside),
                    height,
                )
            }
        };
        self.holds(&q).then_some((q, height))
    }

    pub fn place(&self, q: &Point2<f64>, height: f64) -> Point3<f64> {
        let Some(b) = &self.bend else {
            return self.frame.out(&Point3::new(q.x, q.y, height));
        };
        let aside = (q - b.start).dot(&b.across);
        let angle = aside / b.width * b.angle;
        let (radius, up) = if b.up {
            (b.inside - height, -1.0)
        } else {
            (b.inside + b.thickness + height, 1.0)
        };
        let at = q + b.across * (radius * angle.sin() - aside);
        let over = b.axis_height() + up * radius * angle.cos();
        self.frame.out(&Point3::new(at.x, at.y, over))
    }
}

/// A part of the flat while it is being divided.
#[derive(Clone, Debug)]
struct Piece {
    ring: Vec<Point2<f64>>,
    /// The bend each side is a tangent of, and which of its two.
    side: Vec<Option<(usize, usize)>>,
}

/// Divides a piece along the line through `at`, on the stretch that holds the middle of the bend.
fn divide(
    piece: &Piece,
    at: Point2<f64>,
    along: Vector2<f64>,
    tag: (usize, usize),
) -> Option<[Piece; 2]> {
    let n = piece.ring.len();
    let off = |p: &Point2<f64>| along.perp(&(p - at));
    let mut cuts: Vec<(f64, usize, Point2<f64>)> = Vec::new();
    for i in 0..n {
        let (a, b) = (piece.ring[i], piece.ring[(i + 1) % n]);
        if (off(&a) > 0.0) != (off(&b) > 0.0) {
            let p = a + (b - a) * (off(&a) / (off(&a) - off(&b)));
            cuts.push(((p - at).dot(&along), i, p));
        }
    }
    cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let k = cuts
        .windows(2)
        .position(|w| w[0].0 <= 0.0 && w[1].0 >= 0.0)?;
    let mut halves = Vec::new();
    for (from, to) in [(&cuts[k], &cuts[k + 1]), (&cuts[k + 1], &cuts[k])] {
        let mut half = Piece {
            ring: vec![from.2],
            side: vec![piece.side[from.1]],
        };
        let mut i = from.1;
        while i != to.1 {
            i = (i + 1) % n;
            half.ring.push(piece.ring[i]);
            half.side.push(piece.side[i]);
        }
        half.ring.push(to.2);
        half.side.push(Some(tag));
        halves.push(half);
    }
    halves.try_into().ok()
}

fn holds(piece: &Piece, q: &Point2<f64>) -> bool {
    let n = piece.ring.len();
    (0..n)
        .filter(|&i| {
            let (a, b) = (piece.ring[i], piece.ring[(i + 1) % n]);
            (a.y > q.y) != (b.y > q.y) && q.x < a.x + (b.x - a.x) * (q.y - a.y) / (b.y - a.y)
        })
        .count()
        % 2
        == 1
}

/// The leaves of a folded plate, each in its place.
pub fn leaves(
    plate: &Value,
    frame: Frame,
    thickness: f64,
    outline: &Region,
) -> Result<Vec<Leaf>, String> {
    let ring = outline.ring();
    let mut pieces = vec![Piece {
        side: vec![None; ring.len()],
        ring,
    }];
    let mut bends = Vec::new();
    let mut axes = Vec::new();
    for (i, bend) in json::list(&plate["bends"]).iter().enumerate() {
        let need = |name: &str| json::number(&bend[name]).ok_or(format!("bend {i} has no {name}"));
        let line: Vec<_> = json::list(&bend["line"])
            .iter()
            .filter_map(json::flat)
            .collect();
        let [a, b] = line[..] else {
            return Err(format!("bend {i} has no line"));
        };
        let (angle, inside) = (need("angle")?.to_radians(), need("inside_radius")?);
        let width = angle * (inside + need("k_factor")? * thickness);
        let along = (b - a).normalize();
        let across = Vector2::new(-along.y, along.x);
        let middle = a + (b - a) * 0.5;
        for (which, side) in [-0.5, 0.5].into_iter().enumerate() {
            let at = middle + across * (side * width);
            let k = (0..pieces.len())
                .find(|&k| holds(&pieces[k], &at))
                .ok_or(format!("bend {i} does not lie on the flat"))?;
            let halves = divide(&pieces[k], at, along, (i, which))
                .ok_or(format!("bend {i} does not cross the flat"))?;
            pieces.splice(k..=k, halves);
        }
        bends.push(Bend {
            start: middle,
            across,
            width,
            angle,
            inside,
            thickness,
            up: bend["sense"] == "up",
            line: [a, b],
        });
        axes.push(json::point(&bend["point"]).zip(json::direction(&bend["axis"])));
    }
    // The frame belongs to the flat part that brings the bends nearest to where they are said to be.
    let mut best: Option<(f64, Vec<Leaf>)> = None;
    for base in 0..pieces.len() {
        let Some((laid, placed)) = lay(&pieces, &bends, base, frame) else {
            continue;
        };
        let off = (axes.iter().zip(&placed))
            .filter_map(|(told, (at, about))| {
                let (point, _) = (*told)?;
                let v = point - at;
                Some((v - about * v.dot(about)).norm())
            })
            .fold(0.0, f64::max);
        if best.as_ref().is_none_or(|b| off < b.0) {
            best = Some((off, laid));
        }
    }
    best.map(|b| b.1)
        .ok_or_else(|| "the bends do not hang together".into())
}

type Axes = Vec<(Point3<f64>, Vector3<f64>)>;

/// Puts every piece in its place, beginning with a flat one in the given frame.
fn lay(pieces: &[Piece], bends: &[Bend], base: usize, frame: Frame) -> Option<(Vec<Leaf>, Axes)> {
    let strip = |piece: &Piece| -> Option<usize> {
        (0..bends.len()).find(|&b| {
            let [p, q] = bends[b].line;
            holds(piece, &(p + (q - p) * 0.5))
        })
    };
    if strip(&pieces[base]).is_some() {
        return None;
    }
    let mut leaves: Vec<Option<Leaf>> = vec![None; pieces.len()];
    let mut axes = vec![(Point3::origin(), Vector3::z()); bends.len()];
    let leaf = |piece: &Piece, frame: Frame, bend: Option<Bend>| Leaf {
        ring: piece.ring.clone(),
        tangent: piece.side.iter().map(Option::is_some).collect(),
        frame,
        bend,
    };
    leaves[base] = Some(leaf(&pieces[base], frame, None));
    let mut next = vec![base];
    while let Some(k) = next.pop() {
        let here = leaves[k].as_ref()?.frame;
        for tag in pieces[k].side.iter().flatten() {
            let middle = (0..pieces.len()).find(|&m| strip(&pieces[m]) == Some(tag.0))?;
            if leaves[middle].is_some() {
                continue;
            }
            let mut bend = bends[tag.0];
            let way = if tag.1 == 0 { 1.0 } else { -1.0 };
            bend.across *= way;
            bend.start -= bend.across * (0.5 * bend.width);
            axes[tag.0] = bend.axis(&here);
            leaves[middle] = Some(leaf(&pieces[middle], here, Some(bend)));
            let other = (tag.0, 1 - tag.1);
            let far = (0..pieces.len())
                .find(|&m| m != middle && pieces[m].side.contains(&Some(other)))?;
            leaves[far] = Some(leaf(&pieces[far], bend.after(&here), None));
            next.push(far);
        }
    }
    Some((leaves.into_iter().collect::<Option<Vec<_>>>()?, axes))
}
