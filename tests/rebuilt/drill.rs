//! Holes as they stand in space: what the tool takes away.

use nalgebra::{Point3, Vector3};
use serde_json::Value;

use super::json;

#[derive(Clone, Copy, Debug)]
enum Head {
    None,
    /// Diameter at the face, half of the full angle (rad).
    Cone(f64, f64),
    /// Diameter and depth.
    Bore(f64, f64),
}

/// A round hole along an axis.
#[derive(Clone, Copy, Debug)]
pub struct Drill {
    pub point: Point3<f64>,
    pub axis: Vector3<f64>,
    pub radius: f64,
    head: Head,
    blind: Option<f64>,
    /// How far it reaches behind and before `point`, mm.
    pub reach: [f64; 2],
}

impl Drill {
    pub fn read(hole: &Value) -> Result<Drill, String> {
        let need = |name: &str| json::number(&hole[name]).ok_or(format!("hole has no {name}"));
        let kind = hole["kind"].as_str().unwrap_or("");
        let head = match kind {
            "countersunk" => Head::Cone(
                need("countersink_diameter")?,
                need("countersink_angle")?.to_radians() / 2.0,
            ),
            "counterbored" => Head::Bore(need("countersink_diameter")?, need("depth")?),
            _ => Head::None,
        };
        Ok(Drill {
            point: json::point(&hole["point"]).ok_or("hole has no point")?,
            axis: json::direction(&hole["axis"])
                .ok_or("hole has no axis")?
                .normalize(),
            radius: need("diameter")? / 2.0,
            head,
            blind: (kind == "blind").then(|| need("depth")).transpose()?,
            reach: [f64::INFINITY; 2],
        })
    }

    /// Distance from the wall of the hole, negative in the hole.
    pub fn signed(&self, p: &Point3<f64>) -> f64 {
        let v = p - self.point;
        let depth = v.dot(&self.axis);
        let out = (v - self.axis * depth).norm();
        let mut d = out - self.radius;
        if let Some(blind) = self.blind {
            d = d.max(depth - blind);
        }
        match self.head {
            Head::None => {}
            Head::Cone(diameter, half) => {
                d = d.min((out - diameter / 2.0 + depth * half.tan()) * half.cos());
            }
            Head::Bore(diameter, deep) => d = d.min((out - diameter / 2.0).max(depth - deep)),
        }
        d.max(-self.reach[0] - depth).max(depth - self.reach[1])
    }

    /// Points of its wall, from `low` to `high` along the axis.
    pub fn wall(&self, low: f64, high: f64) -> Vec<Point3<f64>> {
        let aside = if self.axis.x.abs() < 0.7 {
            Vector3::x()
        } else {
            Vector3::y()
        };
        let u = self.axis.cross(&aside).normalize();
        let v = self.axis.cross(&u);
        let n = ((high - low) / 0.7).ceil().clamp(4.0, 400.0) as usize;
        let mut out = Vec::new();
        for i in 0..=n {
            let depth = low + (high - low) * i as f64 / n as f64;
            let mut radii = vec![self.radius];
            match self.head {
                Head::Cone(diameter, half) => radii.push(diameter / 2.0 - depth * half.tan()),
                Head::Bore(diameter, _) => radii.push(diameter / 2.0),
                Head::None => {}
            }
            for r in radii.into_iter().filter(|r| *r > 0.0) {
                for k in 0..24 {
                    let a = k as f64 * std::f64::consts::TAU / 24.0;
                    out.push(self.point + self.axis * depth + (u * a.cos() + v * a.sin()) * r);
                }
            }
        }
        out
    }
}
