//! Values out of the JSON report.

use nalgebra::{Point2, Point3, Vector3};
use serde_json::Value;

/// The items of a list; none for null.
pub fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// The value of a quantity, or a plain number.
pub fn number(value: &Value) -> Option<f64> {
    value["value"].as_f64().or_else(|| value.as_f64())
}

/// A list of coordinates.
fn coordinates<const N: usize>(value: &Value) -> Option<[f64; N]> {
    let of: Vec<f64> = list(value).iter().filter_map(Value::as_f64).collect();
    of.try_into().ok()
}

/// A place in the file's frame, mm.
pub fn point(value: &Value) -> Option<Point3<f64>> {
    coordinates(value).map(Point3::from)
}

/// A direction in the file's frame.
pub fn direction(value: &Value) -> Option<Vector3<f64>> {
    coordinates(value).map(Vector3::from)
}

/// A place on the flat or in a section, mm.
pub fn flat(value: &Value) -> Option<Point2<f64>> {
    coordinates(value).map(Point2::from)
}

/// A frame: origin and three directions. The hand is kept, so a mirrored copy has a left-handed one.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    pub origin: Point3<f64>,
    pub x: Vector3<f64>,
    pub y: Vector3<f64>,
    pub z: Vector3<f64>,
}

impl Frame {
    pub fn read(value: &Value) -> Option<Frame> {
        Some(Frame {
            origin: point(&value["origin"])?,
            x: direction(&value["x"])?,
            y: direction(&value["y"])?,
            z: direction(&value["z"])?,
        })
    }

    /// From coordinates in the frame to the file.
    pub fn out(&self, at: &Point3<f64>) -> Point3<f64> {
        self.origin + self.x * at.x + self.y * at.y + self.z * at.z
    }

    /// From the file to coordinates in the frame.
    pub fn within(&self, at: &Point3<f64>) -> Point3<f64> {
        let v = at - self.origin;
        Point3::new(v.dot(&self.x), v.dot(&self.y), v.dot(&self.z))
    }
}
