//! The sheet laid flat: where each point of a piece goes.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point2, Point3, Vector2, Vector3};

/// Where points of one piece go on the flat, seen with the front face up. Points off the front
/// face go where the point beside them on it goes.
#[derive(Clone, Copy, Debug)]
pub(super) enum Map {
    /// A flat piece: `a` and `b` are the directions of the flat's x and y in the file.
    Flat {
        origin: Point3<f64>,
        a: Vector3<f64>,
        b: Vector3<f64>,
        base: Point2<f64>,
    },
    /// A rolled piece.
    Roll(Roll),
    /// A conical piece.
    Fan(Fan),
}

/// A conical piece: on the flat a fan about its tip.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fan {
    /// Tip of the mid-surface.
    pub apex: Point3<f64>,
    /// Unit axis from the tip into the cone.
    pub axis: Vector3<f64>,
    /// Unit directions from the axis at angle 0 and at a quarter turn.
    pub start: Vector3<f64>,
    pub quarter: Vector3<f64>,
    /// Angle between axis and surface, radians.
    pub half_angle: f64,
    /// Angle amid the piece, as for [`Roll`].
    pub middle: f64,
}

impl Fan {
    /// Angle of a point about the axis, radians.
    pub fn angle(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.apex;
        near(d.dot(&self.quarter).atan2(d.dot(&self.start)), self.middle)
    }

    /// Distance of a point from the tip along the surface beside it, mm.
    pub fn slant(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.apex;
        let z = d.dot(&self.axis);
        (d - self.axis * z).norm() * self.half_angle.sin() + z * self.half_angle.cos()
    }

    /// Unit direction along the surface from the tip, and away from the axis square to it.
    pub fn directions(&self, angle: f64) -> (Vector3<f64>, Vector3<f64>) {
        let out = self.start * angle.cos() + self.quarter * angle.sin();
        let (sin, cos) = self.half_angle.sin_cos();
        (out * sin + self.axis * cos, out * cos - self.axis * sin)
    }
}

/// `angle` moved by whole turns to within half a turn of `middle`.
fn near(angle: f64, middle: f64) -> f64 {
    angle + ((middle - angle + PI) / TAU).floor() * TAU
}

/// A rolled piece: angle about the axis times the neutral radius one way, along the axis the other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Roll {
    /// A point of the axis.
    pub point: Point3<f64>,
    /// Unit axis.
    pub axis: Vector3<f64>,
    /// Unit direction from the axis at angle 0.
    pub start: Vector3<f64>,
    /// Unit direction from the axis at a quarter turn.
    pub quarter: Vector3<f64>,
    /// Radius of the surface that keeps its length, mm.
    pub neutral: f64,
    /// Angle amid the piece: points are placed within half a turn of it, radians.
    pub middle: f64,
    /// Direction of growing angle on the flat.
    pub u: Vector2<f64>,
    /// Direction of the axis on the flat.
    pub v: Vector2<f64>,
    /// Where `point`'s foot at angle 0 goes.
    pub base: Point2<f64>,
}

impl Roll {
    /// Angle of a point about the axis, radians.
    pub fn angle(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.point;
        near(d.dot(&self.quarter).atan2(d.dot(&self.start)), self.middle)
    }

    /// Distance of a point along the axis.
    pub fn along(&self, p: &Point3<f64>) -> f64 {
        (p - self.point).dot(&self.axis)
    }

    /// Unit direction from the axis at an angle.
    pub fn outward(&self, angle: f64) -> Vector3<f64> {
        self.start * angle.cos() + self.quarter * angle.sin()
    }
}

impl Map {
    /// Place of a point on the flat.
    pub fn flat(&self, p: &Point3<f64>) -> Point2<f64> {
        match self {
            Map::Flat { origin, a, b, base } => {
                base + Vector2::new((p - origin).dot(a), (p - origin).dot(b))
            }
            Map::Roll(r) => r.base + r.u * (r.angle(p) * r.neutral) + r.v * r.along(p),
            Map::Fan(f) => {
                let turned = f.angle(p) * f.half_angle.sin();
                Point2::new(turned.cos(), turned.sin()) * f.slant(p)
            }
        }
    }
}
