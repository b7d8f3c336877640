//! How a flat becomes a plate in space: in place, rolled about an axis, or folded.

use std::f64::consts::TAU;

use nalgebra::{Point2, Point3, Vector2, Vector3};
use serde_json::Value;

use super::contour::Region;
use super::fold::Leaf;
use super::json::{self, Frame};

/// A place on the flat and the height over the front face, from −thickness to 0 in the metal.
pub type Seen = (Point2<f64>, f64);

#[derive(Clone, Debug)]
pub enum Sheet {
    Flat(Frame),
    Rolled(Roll),
    Cone(Cone),
    Folded(Vec<Leaf>),
}

/// Rolled to a cylinder: the surface amid the thickness keeps its length.
#[derive(Clone, Debug)]
pub struct Roll {
    at: Point3<f64>,
    axis: Vector3<f64>,
    /// From the axis to the origin of the flat, and the way round, unit.
    out: Vector3<f64>,
    around: Vector3<f64>,
    /// The same way, and the axis, on the flat.
    along_flat: Vector2<f64>,
    axis_flat: Vector2<f64>,
    front: f64,
    neutral: f64,
    /// +1 where the front face is the outer one.
    sense: f64,
}

/// Rolled to a cone.
#[derive(Clone, Debug)]
pub struct Cone {
    apex: Point3<f64>,
    axis: Vector3<f64>,
    out: Vector3<f64>,
    around: Vector3<f64>,
    half: f64,
    apex_flat: Point2<f64>,
    /// Direction on the flat from the apex towards the origin, and the way round (±1).
    from: Vector2<f64>,
    turn: f64,
    sense: f64,
    thickness: f64,
}

impl Sheet {
    pub fn read(part: &Value, outline: &Region) -> Result<Sheet, String> {
        let plate = &part["plate"];
        let frame = Frame::read(&part["frame"]).ok_or("no frame")?;
        let thickness = json::number(&plate["thickness"]).ok_or("no thickness")?;
        let axis = || {
            let line = json::list(&plate["roll_axis"]);
            let (at, axis) = (
                line.first().and_then(json::point),
                line.get(1).and_then(json::direction),
            );
            at.zip(axis).ok_or("no roll axis".to_owned())
        };
        match plate["form"].as_str() {
            Some("flat") => Ok(Sheet::Flat(frame)),
            Some("cylinder") => {
                let (at, axis) = axis()?;
                let k = plate["flat"]["k_factor"].as_f64().unwrap_or(0.5);
                let radius = |name: &str| json::number(&plate[name]).ok_or(format!("no {name}"));
                let (inside, outside) = (radius("inside_radius")?, radius("outside_radius")?);
                let v = frame.origin - at;
                let out = (v - axis * v.dot(&axis)).normalize();
                let around = axis.cross(&out);
                let sense = frame.z.dot(&out).signum();
                let on_flat = |d: &Vector3<f64>| Vector2::new(d.dot(&frame.x), d.dot(&frame.y));
                Ok(Sheet::Rolled(Roll {
                    at: at + axis * v.dot(&axis),
                    axis,
                    out,
                    around,
                    along_flat: on_flat(&around).normalize(),
                    axis_flat: on_flat(&axis).normalize(),
                    front: if sense > 0.0 { outside } else { inside },
                    neutral: inside + k * (outside - inside),
                    sense,
                }))
            }
            Some("cone") => {
                let (apex, axis) = axis()?;
                let v = frame.origin - apex;
                let axis = axis * v.dot(&axis).signum();
                let out = (v - axis * v.dot(&axis)).normalize();
                let half = json::number(&plate["half_angle"])
                    .ok_or("no half angle")?
                    .to_radians();
                let outward = out * half.cos() - axis * half.sin();
                let around = axis.cross(&out);
                let seen = frame.within(&apex);
                let apex_flat = Point2::new(seen.x, seen.y);
                let from = -apex_flat.coords.normalize();
                let way = Vector2::new(around.dot(&frame.x), around.dot(&frame.y));
                Ok(Sheet::Cone(Cone {
                    apex,
                    axis,
                    out,
                    around,
                    half,
                    apex_flat,
                    from,
                    turn: from.perp(&way).signum(),
                    sense: frame.z.dot(&outward).signum(),
                    thickness,
                }))
            }
            Some("bent") => {
                super::fold::leaves(plate, frame, thickness, outline).map(Sheet::Folded)
            }
            form => Err(format!("form {form:?}")),
        }
    }

    /// Where a point lies on the flat; several answers where the plate passes by more than once.
    pub fn seen(&self, p: &Point3<f64>) -> Vec<Seen> {
        match self {
            Sheet::Flat(frame) => {
                let q = frame.within(p);
                vec![(Point2::new(q.x, q.y), q.z)]
            }
            Sheet::Rolled(r) => {
                let v = p - r.at;
                let angle = v.dot(&r.around).atan2(v.dot(&r.out));
                let height = v.dot(&r.axis);
                let radius = (v - r.axis * height).norm();
                [-TAU, 0.0, TAU]
                    .map(|round| {
                        let q = r.along_flat * ((angle + round) * r.neutral) + r.axis_flat * height;
                        (Point2::from(q), r.sense * (radius - r.front))
                    })
                    .to_vec()
            }
            Sheet::Cone(c) => {
                let v = p - c.apex;
                let height = v.dot(&c.axis);
                let angle = v.dot(&c.around).atan2(v.dot(&c.out));
                let radius = (v - c.axis * height).norm();
                let slant = height * c.half.cos() + radius * c.half.sin();
                let off = radius * c.half.cos() - height * c.half.sin();
                [-TAU, 0.0, TAU]
                    .map(|round| {
                        let a = c.turn * (angle + round) * c.half.sin();
                        let d = nalgebra::Rotation2::new(a) * c.from;
                        (c.apex_flat + d * slant, c.sense * off - c.thickness / 2.0)
                    })
                    .to_vec()
            }
            Sheet::Folded(leaves) => leaves.iter().filter_map(|l| l.seen(p)).collect(),
        }
    }

    /// Where a place on the flat goes.
    pub fn place(&self, at: &Point2<f64>, height: f64) -> Option<Point3<f64>> {
        match self {
            Sheet::Flat(frame) => Some(frame.out(&Point3::new(at.x, at.y, height))),
            Sheet::Rolled(r) => {
                let angle = at.coords.dot(&r.along_flat) / r.neutral;
                let out = r.out * angle.cos() + r.around * angle.sin();
                let radius = r.front + r.sense * height;
                Some(r.at + r.axis * at.coords.dot(&r.axis_flat) + out * radius)
            }
            Sheet::Cone(c) => {
                let v = at - c.apex_flat;
                let angle = c.turn * c.from.perp(&v).atan2(c.from.dot(&v)) / c.half.sin();
                let out = c.out * angle.cos() + c.around * angle.sin();
                let (along, up) = (
                    c.axis * c.half.cos() + out * c.half.sin(),
                    out * c.half.cos() - c.axis * c.half.sin(),
                );
                let off = c.sense * (height + c.thickness / 2.0);
                Some(c.apex + along * v.norm() + up * off)
            }
            Sheet::Folded(leaves) => {
                (leaves.iter()).find_map(|l| l.holds(at).then(|| l.place(at, height)))
            }
        }
    }
}
