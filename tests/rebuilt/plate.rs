//! A plate: its outline moved through the thickness, holes taken out, then rolled or folded.

use nalgebra::Point3;
use serde_json::Value;

use super::contour::{Region, circle, segments};
use super::drill::Drill;
use super::json;
use super::sheet::Sheet;

#[derive(Clone, Debug)]
pub struct Plate {
    sheet: Sheet,
    flat: Region,
    thickness: f64,
    drills: Vec<Drill>,
    /// What the report left out.
    pub missing: Vec<String>,
}

impl Plate {
    /// `after` drills round holes into the finished plate, else they are cut into the flat.
    pub fn read(part: &Value, after: bool) -> Result<Plate, String> {
        let value = &part["plate"];
        let outer =
            segments(&value["outline"]).ok_or("a segment of the outline lacks its place")?;
        if outer.is_empty() {
            return Err("no outline".into());
        }
        let thickness = json::number(&value["thickness"]).ok_or("no thickness")?;
        let sheet = Sheet::read(part, &Region::new(std::slice::from_ref(&outer)))?;
        let mut contours = vec![outer];
        let (mut drills, mut missing) = (Vec::new(), Vec::new());
        for (i, hole) in json::list(&value["holes"]).iter().enumerate() {
            let kind = hole["kind"].as_str().unwrap_or("");
            let contour = segments(&hole["outline"]).filter(|c| !c.is_empty());
            if let Some(contour) = contour {
                contours.push(contour);
            } else if kind == "slot" || kind == "cutout" {
                missing.push(format!("hole {i}: a {kind} without an outline"));
            } else if kind == "round" && !after {
                let (x, y) = (json::number(&hole["x"]), json::number(&hole["y"]));
                match (x, y, json::number(&hole["diameter"])) {
                    (Some(x), Some(y), Some(d)) => contours.push(circle([x, y].into(), d / 2.0)),
                    _ => missing.push(format!("hole {i}: no x, y or diameter")),
                }
            } else {
                match Drill::read(hole) {
                    Ok(mut drill) => {
                        let inside = json::number(&value["inside_radius"]);
                        let bow = inside.map_or(0.0, |r| drill.radius * drill.radius / r);
                        drill.reach = [0.5 * thickness + bow, 1.5 * thickness + bow];
                        drills.push(drill);
                    }
                    Err(why) => missing.push(format!("hole {i}: {why}")),
                }
            }
        }
        Ok(Plate {
            sheet,
            flat: Region::new(&contours),
            thickness,
            drills,
            missing,
        })
    }

    /// Distance from its surface, negative in the metal.
    pub fn value(&self, p: &Point3<f64>) -> f64 {
        let mut best = f64::INFINITY;
        for (q, height) in self.sheet.seen(p) {
            let through = height.max(-self.thickness - height);
            if through < best {
                best = best.min(through.max(self.flat.signed(&q)));
            }
        }
        (self.drills.iter()).fold(best, |d, drill| d.max(-drill.signed(p)))
    }

    /// Where two edges of the flat come together.
    fn seam(&self, p: &Point3<f64>) -> bool {
        let near = |(q, _): &(_, f64)| self.flat.signed(q) < 1e-3;
        matches!(self.sheet, Sheet::Rolled(_) | Sheet::Cone(_))
            && self.sheet.seen(p).iter().filter(|s| near(s)).count() > 1
    }

    /// Points that lie on its surface, unless a hole took them.
    pub fn candidates(&self) -> Vec<Point3<f64>> {
        let size = (self.flat.high - self.flat.low).norm();
        let rim = self.flat.rim(0.02 * size);
        let mut out = Vec::new();
        let mut put = |q, height: f64| out.extend(self.sheet.place(&q, height));
        for q in self
            .flat
            .grid(0.025 * size)
            .into_iter()
            .chain(rim.iter().copied())
        {
            put(q, 0.0);
            put(q, -self.thickness);
        }
        for q in rim {
            for height in [-0.3 * self.thickness, -0.7 * self.thickness] {
                // Where a closed ring is cut open to lie flat, the metal goes on.
                if self.sheet.place(&q, height).is_some_and(|p| !self.seam(&p)) {
                    put(q, height);
                }
            }
        }
        for drill in &self.drills {
            out.extend(drill.wall(-drill.reach[0], drill.reach[1]));
        }
        out
    }
}
