//! Bends a made piece back into the shape that was asked for, by numbers that say how it was made.

use nalgebra::Rotation3;

use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::member::path::{Frame as At, Path, Piece};
use crate::member::{Hand, Member, Span};
use crate::plate::{self, Plate};
use crate::report::ReportedPart;

/// One way in which a piece may differ from what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Curvature of an arc or a helix, 1/mm.
    Curvature(usize),
    /// Angle turned by an arc, radians.
    Angle(usize),
    /// Length of a straight between bends, mm.
    Length(usize),
    /// Plane of a bend against the one before, radians.
    Plane(usize),
    /// How far an arc climbs out of its plane, 1/mm of torsion.
    Climb(usize),
    /// Bow of a straight piece towards its width and height, 1/mm.
    BowWidth,
    /// The same towards its height.
    BowHeight,
    /// Turn of the section between the ends, radians.
    Twist,
    /// Stretch of a flat plate along its length and width, mm.
    StretchX,
    /// The same along its width.
    StretchY,
    /// Bow of a flat plate along its length, 1/mm.
    CupX,
    /// The same along its width.
    CupY,
    /// Twist of a flat plate, 1/mm.
    Warp,
    /// Radius of a cone square to its face at its wide edge, mm.
    Wide,
    /// The same at its narrow edge.
    Narrow,
}

/// A part as the motion it was made by.
#[derive(Clone, Debug)]
pub(super) enum Shape {
    /// A section or a strip along a path.
    Sweep(Path),
    /// A flat plate: frame with its origin in the middle, and half its size.
    Flat(plate::Frame, [f64; 2]),
    /// A cone: apex, axis into the cone, half angle, slant distances of its edges from the apex.
    Cone(Pt3, Vec3, f64, [f64; 2]),
    /// Anything else, which is only moved.
    Rigid,
}

/// The motion a part is described by.
pub(super) fn shape(part: &ReportedPart, body: &Body) -> Shape {
    match (&part.member, &part.plate) {
        (Some(member), _) => sweep(part, member).map_or(Shape::Rigid, Shape::Sweep),
        (None, Some(plate)) => of_plate(plate, body).unwrap_or(Shape::Rigid),
        (None, None) => Shape::Rigid,
    }
}

fn sweep(part: &ReportedPart, member: &Member) -> Option<Path> {
    let frame = part.frame?;
    let mut here = At {
        point: frame.origin.into(),
        w: frame.x.into(),
        h: frame.y.into(),
        t: frame.z.into(),
    };
    let start = here;
    let mut pieces = Vec::new();
    for span in &member.spans {
        let piece = match span {
            Span::Straight { length } => Piece::straight(length.value),
            Span::Arc {
                length,
                radius,
                centre,
                ..
            } => {
                let towards = Pt3::from(*centre) - here.point;
                Piece {
                    curvature: 1.0 / (*radius)?.value,
                    bend: (-towards.dot(&here.w)).atan2(towards.dot(&here.h)),
                    ..Piece::straight(length.value)
                }
            }
            Span::Helix {
                length,
                radius,
                pitch,
                hand,
                centre,
                axis,
                ..
            } => {
                let axis = Vec3::from(*axis);
                let to = Pt3::from(*centre) - here.point;
                let towards = to - axis * axis.dot(&to);
                let rise = pitch.value / std::f64::consts::TAU;
                let square = radius.value.powi(2) + rise * rise;
                Piece {
                    curvature: radius.value / square,
                    bend: (-towards.dot(&here.w)).atan2(towards.dot(&here.h)),
                    torsion: rise / square * if *hand == Hand::Left { -1.0 } else { 1.0 },
                    length: length.value,
                }
            }
            Span::Free { .. } => return None,
        };
        here = crate::member::path::carry(&here, &piece, piece.length);
        pieces.push(piece);
    }
    (!pieces.is_empty()).then(|| Path::new(start, pieces))
}

fn of_plate(plate: &Plate, body: &Body) -> Option<Shape> {
    if plate.form == plate::Form::Bent {
        return super::fold::path(plate, body).map(Shape::Sweep);
    }
    let frame = plate.frame?;
    let (length, width) = (plate.flat.length?.value, plate.flat.width?.value);
    let thickness = plate.thickness?.value;
    let [x, y, z] = [frame.x, frame.y, frame.z].map(Vec3::from);
    match plate.form {
        plate::Form::Flat => {
            let middle = Pt3::from(frame.origin) + (x * length + y * width - z * thickness) / 2.0;
            let frame = plate::Frame {
                origin: middle.into(),
                ..frame
            };
            Some(Shape::Flat(frame, [length / 2.0, width / 2.0]))
        }
        plate::Form::Cylinder => {
            let [point, axis] = plate.roll_axis?;
            let (point, axis) = (Pt3::from(point), Vec3::from(axis).try_normalize(1e-9)?);
            let radius = (plate.inside_radius?.value + plate.outside_radius?.value) / 2.0;
            let angle = plate.arc_angle?.value.to_radians();
            let around = if x.dot(&axis).abs() < 0.5 { x } else { y };
            let corner = Pt3::from(frame.origin) - point;
            let out = (corner - axis * axis.dot(&corner)).try_normalize(1e-9)?;
            let t =
                (around - out * out.dot(&around) - axis * axis.dot(&around)).try_normalize(1e-9)?;
            let level = axis.dot(&corner);
            let start = At {
                point: point + axis * level + out * radius,
                w: out.cross(&t),
                h: -out,
                t,
            };
            let piece = Piece {
                curvature: 1.0 / radius,
                ..Piece::straight(radius * angle)
            };
            Some(Shape::Sweep(Path::new(start, vec![piece])))
        }
        plate::Form::Cone => {
            let [point, axis] = plate.roll_axis?;
            let axis = Vec3::from(axis).try_normalize(1e-9)?;
            let (inner, outer) = (
                plate.sector_inner_radius?.value,
                plate.sector_outer_radius?.value,
            );
            let half = plate.half_angle?.value.to_radians();
            // The apex stands on the axis where the middle of the wall, produced, meets it.
            let corner = Pt3::from(frame.origin) - Pt3::from(point);
            let level = axis.dot(&corner);
            let out = (corner - axis * level).norm();
            // The axis may run either way: the wall widens away from the apex.
            let normal = Vec3::from(frame.z);
            let way = if (normal.dot(&axis)) * normal.dot(&(corner - axis * level)) < 0.0 {
                1.0
            } else {
                -1.0
            };
            let apex = Pt3::from(point) + axis * (level - way * out / half.tan());
            Some(Shape::Cone(apex, axis * way, half, [inner, outer]))
        }
        plate::Form::Bent => None,
    }
}

/// The ways a part may differ; `round` sections show no twist.
pub(super) fn ways(shape: &Shape, plate: bool, round: bool, closed: bool) -> Vec<Way> {
    match shape {
        Shape::Rigid => Vec::new(),
        Shape::Flat(..) => vec![
            Way::StretchX,
            Way::StretchY,
            Way::CupX,
            Way::CupY,
            Way::Warp,
        ],
        Shape::Cone(..) => vec![Way::Wide, Way::Narrow],
        // A folded plate: the radius of a bend is the press's, its angle and what lies between are made.
        Shape::Sweep(path) if plate && path.pieces.len() > 1 => (1..path.pieces.len() - 1)
            .map(|k| match path.pieces[k].curvature == 0.0 {
                true => Way::Length(k),
                false => Way::Angle(k),
            })
            .collect(),
        Shape::Sweep(path) => {
            let mut ways = Vec::new();
            let last = path.pieces.len() - 1;
            for (k, piece) in path.pieces.iter().enumerate() {
                let inner = k > 0 && k < last;
                if piece.curvature == 0.0 {
                    if inner {
                        ways.push(Way::Length(k));
                    }
                    continue;
                }
                ways.push(Way::Curvature(k));
                // The length of an arc at an end is told by its cut.
                if inner {
                    ways.push(Way::Angle(k));
                }
                let bends = path.pieces[..k].iter().any(|p| p.curvature != 0.0);
                if bends {
                    ways.push(Way::Plane(k));
                }
                if piece.torsion != 0.0 || (last == 0 && !closed) {
                    ways.push(Way::Climb(k));
                }
            }
            if last == 0 && path.pieces[0].curvature == 0.0 {
                ways.extend([Way::BowWidth, Way::BowHeight]);
            }
            let round_straight = round && last == 0 && path.pieces[0].curvature == 0.0;
            if !(closed || plate || round_straight) {
                ways.push(Way::Twist);
            }
            ways
        }
    }
}

impl Shape {
    /// Change of a way that moves the surface by about 1 mm where it moves most.
    pub(super) fn unit(&self, way: Way, reach: f64) -> f64 {
        let length = match self {
            Shape::Sweep(path) => path.length().max(1.0),
            Shape::Flat(_, half) => 2.0 * half[0].max(1.0),
            Shape::Cone(..) | Shape::Rigid => 1.0,
        };
        match way {
            Way::Curvature(_) | Way::BowWidth | Way::BowHeight | Way::Climb(_) => {
                8.0 / (length * length)
            }
            Way::Angle(_) | Way::Plane(_) => 2.0 / length,
            Way::Twist => 2.0 / reach.max(1.0),
            Way::Length(_) | Way::StretchX | Way::StretchY | Way::Wide | Way::Narrow => 1.0,
            Way::CupX | Way::Warp => 8.0 / (length * length),
            Way::CupY => match self {
                Shape::Flat(_, half) => 2.0 / half[1].max(1.0).powi(2),
                _ => 8.0 / (length * length),
            },
        }
    }

    /// The piece made with `values` (one for each of `ways`, as differences from what was asked).
    pub(super) fn made(&self, ways: &[Way], values: &[f64]) -> Made<'_> {
        let path = match self {
            Shape::Sweep(path) => Some(bent(path, ways, values)),
            _ => None,
        };
        let value = |way: Way| {
            ways.iter()
                .position(|w| *w == way)
                .map_or(0.0, |k| values[k])
        };
        Made {
            shape: self,
            path,
            twist: value(Way::Twist),
            flat: [
                value(Way::StretchX),
                value(Way::StretchY),
                value(Way::CupX),
                value(Way::CupY),
                value(Way::Warp),
            ],
            cone: [value(Way::Narrow), value(Way::Wide)],
        }
    }
}

/// A piece as made.
pub(super) struct Made<'a> {
    shape: &'a Shape,
    /// Its path.
    pub path: Option<Path>,
    twist: f64,
    flat: [f64; 5],
    cone: [f64; 2],
}

fn bent(path: &Path, ways: &[Way], values: &[f64]) -> Path {
    let mut pieces = path.pieces.clone();
    let mut bow = [0.0; 2];
    for (way, value) in ways.iter().zip(values) {
        match *way {
            // The arc keeps its angle unless that is another way it may differ.
            Way::Curvature(k) => {
                let turned = pieces[k].curvature * pieces[k].length;
                pieces[k].curvature += value;
                let inner = k > 0 && k + 1 < pieces.len();
                if inner && pieces[k].curvature > 0.0 {
                    pieces[k].length = turned / pieces[k].curvature;
                }
            }
            Way::Angle(k) => pieces[k].length += value / pieces[k].curvature,
            Way::Length(k) => pieces[k].length += value,
            Way::Plane(k) => {
                for piece in &mut pieces[k..] {
                    piece.bend += value;
                }
            }
            Way::Climb(k) => pieces[k].torsion += value,
            Way::BowWidth => bow[0] = *value,
            Way::BowHeight => bow[1] = *value,
            _ => {}
        }
    }
    if bow != [0.0; 2] {
        pieces[0].curvature = bow[0].hypot(bow[1]);
        pieces[0].bend = (-bow[0]).atan2(bow[1]);
    }
    Path::new(path.start, pieces)
}

impl Made<'_> {
    /// Where the metal at `p` would be, had the piece been made as asked; `near` is a distance along
    /// the path that tells turns of a coil apart.
    pub(super) fn undo(&self, p: &Pt3, near: f64) -> Pt3 {
        match (self.shape, &self.path) {
            (Shape::Sweep(asked), Some(made)) => self.along(asked, made, p, near),
            (Shape::Flat(frame, half), _) => self.flattened(frame, *half, p),
            (Shape::Cone(apex, axis, angle, ends), _) => {
                let from = p - apex;
                let level = axis.dot(&from);
                let Some(out) = (from - axis * level).try_normalize(1e-9) else {
                    return *p;
                };
                let (sin, cos) = angle.sin_cos();
                let slant = from.dot(&(axis * cos + out * sin));
                let share = (slant - ends[0]) / (ends[1] - ends[0]);
                let off = self.cone[0] * (1.0 - share) + self.cone[1] * share;
                p - (out * cos - axis * sin) * off
            }
            _ => *p,
        }
    }

    fn along(&self, asked: &Path, made: &Path, p: &Pt3, near: f64) -> Pt3 {
        let (mut l, piece) = made.local(p, near);
        let total = made.length();
        if self.twist != 0.0 {
            let (sin, cos) = (-self.twist * (l.s / total - 0.5)).sin_cos();
            (l.x, l.y) = (cos * l.x - sin * l.y, sin * l.x + cos * l.y);
        }
        let into = l.s - made.start_of(piece);
        let (long, short) = (made.pieces[piece].length, asked.pieces[piece].length);
        // Before the first and after the last joint, lengths are lengths.
        let into = match (piece, piece + 1 == made.pieces.len()) {
            (0, false) => into - long + short,
            (_, true) => into,
            _ => into * short / long.max(1e-9),
        };
        let at = asked.start_of(piece) + into;
        let f = crate::member::path::carry(asked.frame_of(piece), &asked.pieces[piece], into);
        debug_assert!(at.is_finite());
        f.point + f.w * l.x + f.h * l.y
    }

    fn flattened(&self, frame: &plate::Frame, half: [f64; 2], p: &Pt3) -> Pt3 {
        let [ex, ey, ez] = [frame.x, frame.y, frame.z].map(Vec3::from);
        let d = p - Pt3::from(frame.origin);
        let (x, y, z) = (d.dot(&ex), d.dot(&ey), d.dot(&ez));
        let [sx, sy, cup_x, cup_y, warp] = self.flat;
        let high = cup_x * x * x / 2.0 + cup_y * y * y / 2.0 + warp * x * y;
        // A fibre off the middle of a bowed plate moves along with the turn of its normal.
        let lean = [cup_x * x + warp * y, cup_y * y + warp * x];
        p - ex * (sx * x / (2.0 * half[0]) - z * lean[0])
            - ey * (sy * y / (2.0 * half[1]) - z * lean[1])
            - ez * high
    }
}

/// Distance along the path of the place beside `p`, any turn of a coil.
pub(super) fn station(shape: &Shape, p: &Pt3) -> f64 {
    let Shape::Sweep(path) = shape else {
        return 0.0;
    };
    let length = path.length();
    let turned: f64 = path
        .pieces
        .iter()
        .map(|p| p.length * p.curvature.hypot(p.torsion))
        .sum();
    let shortest = path.pieces.iter().map(|p| p.length);
    let shortest = shortest.fold(f64::INFINITY, f64::min).max(1e-3);
    let steps = (turned / 0.5)
        .ceil()
        .max(path.pieces.len() as f64 * 2.0)
        .max(2.0 * length / shortest)
        .min(400.0) as usize
        + 1;
    let near = |s: f64| {
        let f = path.at(s);
        (p - f.point).norm()
    };
    let best = (0..=steps)
        .map(|k| length * k as f64 / steps as f64)
        .min_by(|a, b| near(*a).total_cmp(&near(*b)))
        .unwrap_or(0.0);
    path.local(p, best).0.s
}

/// A small turn and shift about a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pose {
    /// Turn.
    pub turn: Rotation3<f64>,
    /// Shift, after the turn.
    pub shift: Vec3,
    /// True when the scan is mirrored (x to −x) first.
    pub mirrored: bool,
}

impl Pose {
    /// A place of the scan in the frame of the model.
    pub(super) fn place(&self, p: &Pt3) -> Pt3 {
        let x = if self.mirrored { -p.x } else { p.x };
        self.turn * Pt3::new(x, p.y, p.z) + self.shift
    }

    /// A direction of the scan in the frame of the model.
    pub(super) fn direction(&self, v: &Vec3) -> Vec3 {
        let x = if self.mirrored { -v.x } else { v.x };
        self.turn * Vec3::new(x, v.y, v.z)
    }

    /// Turned by the small rotation vector `turn` about `about` and then shifted.
    pub(super) fn moved(&self, about: &Pt3, turn: &Vec3, shift: &Vec3) -> Pose {
        let small = Rotation3::new(*turn);
        let mut whole = small * self.turn;
        whole.renormalize();
        Pose {
            turn: whole,
            shift: small * (self.shift - about.coords) + about.coords + shift,
            mirrored: self.mirrored,
        }
    }
}
