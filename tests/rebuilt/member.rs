//! A member: a section swept along its path, ends cut, holes drilled.

use nalgebra::{Point2, Point3, Vector3};
use serde_json::Value;

use super::contour::Region;
use super::drill::Drill;
use super::json::{self, Frame};
use super::path::Path;
use super::section::section;

/// A cylinder taken away, with all that lies behind its axis: point, direction, radius, outward.
type Cope = (Point3<f64>, Vector3<f64>, f64, Vector3<f64>);

/// What ends a member on one side.
#[derive(Clone, Debug)]
struct Tool {
    /// Points and outward normals.
    planes: Vec<(Point3<f64>, Vector3<f64>)>,
    cope: Option<Cope>,
    /// How far the path goes on past the end, mm.
    beyond: f64,
}

#[derive(Clone, Debug)]
pub struct Member {
    section: Region,
    path: Path,
    tools: Vec<Tool>,
    drills: Vec<Drill>,
    /// What the report left out.
    pub missing: Vec<String>,
}

impl Member {
    pub fn read(part: &Value) -> Result<Member, String> {
        let value = &part["member"];
        let frame = Frame::read(&part["frame"]).ok_or("no frame")?;
        let (section, lacks) = section(&value["section"])?;
        let path = Path::read(value, frame)?;
        let mut missing: Vec<String> = lacks.into_iter().collect();
        let half = section.low.coords.norm().max(section.high.coords.norm());
        let mut tools = Vec::new();
        for (i, end) in json::list(&value["ends"]).iter().enumerate() {
            tools.push(tool(end, half).unwrap_or_else(|why| {
                missing.push(format!("end {i}: {why}"));
                let outward = json::direction(&end["tangent"]).unwrap_or_else(Vector3::z);
                let at = json::point(&end["point"]).unwrap_or_else(Point3::origin);
                Tool {
                    planes: vec![(at, outward)],
                    cope: None,
                    beyond: half,
                }
            }));
            let laid = path.frame(if i == 0 { 0.0 } else { path.length }).origin;
            if let Some(told) = json::point(&end["point"])
                && (laid - told).norm() > 0.05
            {
                missing.push(format!(
                    "end {i}: the spans lead to a place {:.3} mm from its point",
                    (laid - told).norm()
                ));
            }
        }
        if tools.len() != if path.closed { 0 } else { 2 } {
            return Err(format!("{} ends", tools.len()));
        }
        let mut member = Member {
            section,
            path,
            tools,
            drills: Vec::new(),
            missing,
        };
        for (i, hole) in json::list(&value["holes"]).iter().enumerate() {
            if hole["kind"] != "round" {
                let kind = hole["kind"].as_str().unwrap_or("");
                let lacks = if kind == "slot" {
                    "direction"
                } else {
                    "outline"
                };
                member
                    .missing
                    .push(format!("hole {i}: a {kind} has no {lacks}"));
                continue;
            }
            match Drill::read(hole) {
                Ok(mut drill) => {
                    let walls = hole["walls"].as_u64().unwrap_or(1);
                    drill.reach = member.reach(&drill, walls, half);
                    member.drills.push(drill);
                }
                Err(why) => member.missing.push(format!("hole {i}: {why}")),
            }
        }
        Ok(member)
    }

    fn beyond(&self) -> [f64; 2] {
        match self.tools.as_slice() {
            [a, b] => [a.beyond, b.beyond],
            _ => [0.0; 2],
        }
    }

    /// Distance from the swept section, ends and holes left aside.
    fn swept(&self, p: &Point3<f64>) -> f64 {
        (self.path.feet(p, self.beyond()).iter()).fold(f64::INFINITY, |d, foot| {
            d.min(self.section.signed(&foot.at))
        })
    }

    /// A hole ends amid the open space behind the last wall it is drilled through.
    fn reach(&self, drill: &Drill, walls: u64, half: f64) -> [f64; 2] {
        let step = 0.05;
        let inside = |depth: f64| self.swept(&(drill.point + drill.axis * depth)) < 0.0;
        let (mut passed, mut was) = (0, false);
        let mut left_at = None;
        for i in 0..(4.0 * half / step) as usize {
            let depth = i as f64 * step;
            let now = inside(depth);
            if was && !now {
                passed += 1;
                left_at = (passed == walls).then_some(depth).or(left_at);
            }
            if let (true, false, Some(from)) = (now, was, left_at) {
                return [half, 0.5 * (from + depth)];
            }
            was = now;
        }
        [half, 4.0 * half]
    }

    fn applies(&self, end: usize, station: f64) -> bool {
        let reach =
            2.0 * self.tools[end].beyond + 4.0 * (self.section.high - self.section.low).norm();
        let inward = if end == 0 {
            station
        } else {
            self.path.length - station
        };
        self.path.straight || inward < reach
    }

    /// Distance from its surface, negative in the metal; exact inside, never too large outside.
    pub fn value(&self, p: &Point3<f64>) -> f64 {
        let mut best = f64::INFINITY;
        for foot in self.path.feet(p, self.beyond()) {
            let mut d = self.section.signed(&foot.at);
            for end in 0..self.tools.len() {
                if self.applies(end, foot.station) {
                    d = d.max(self.tools[end].value(p));
                }
            }
            best = best.min(d);
        }
        (self.drills.iter()).fold(best, |d, drill| d.max(-drill.signed(p)))
    }

    /// Points that lie on its surface, unless a cut or a hole took them.
    pub fn candidates(&self) -> Vec<Point3<f64>> {
        let size = self.section.high - self.section.low;
        let [before, after] = self.beyond();
        let rim = self.section.rim(0.25 * size.norm());
        let whole = self.path.length + before + after;
        let n = (whole / (0.3 * size.norm()).max(whole / 400.0)).ceil() as usize;
        let mut out = Vec::new();
        for i in 0..=n {
            let frame = self.path.frame(-before + whole * i as f64 / n as f64);
            out.extend(rim.iter().map(|q| frame.out(&Point3::new(q.x, q.y, 0.0))));
        }
        let mut within = self.section.rim(0.1 * size.norm());
        within.extend(self.section.grid(0.04 * size.norm()));
        for (end, tool) in self.tools.iter().enumerate() {
            for q in &within {
                out.extend(self.on_end(end, tool, q));
            }
        }
        for drill in &self.drills {
            out.extend(drill.wall(-drill.reach[0], drill.reach[1].min(4.0 * size.norm())));
        }
        out
    }

    /// Where a line of the sweep meets what ends the member.
    fn on_end(&self, end: usize, tool: &Tool, at: &Point2<f64>) -> Option<Point3<f64>> {
        let station = |s: f64| if end == 0 { -s } else { self.path.length + s };
        let place = |s: f64| self.path.place(station(s), at);
        let (mut out, mut into) = (tool.beyond, -tool.beyond.min(self.path.length));
        if tool.value(&place(out)) < 0.0 || tool.value(&place(into)) > 0.0 {
            return None;
        }
        for _ in 0..50 {
            let m = 0.5 * (out + into);
            if tool.value(&place(m)) > 0.0 {
                out = m
            } else {
                into = m
            }
        }
        Some(place(into))
    }
}

fn tool(end: &Value, half: f64) -> Result<Tool, String> {
    let mut planes = Vec::new();
    let mut beyond = half;
    for cut in json::list(&end["cuts"]) {
        let (point, normal) = (json::point(&cut["point"]), json::direction(&cut["normal"]));
        planes.push((
            point.ok_or("a cut has no point")?,
            normal.ok_or("a cut has no normal")?,
        ));
        let lean = json::number(&cut["off_square"]).unwrap_or(0.0).min(85.0);
        beyond += 1.1 * half * lean.to_radians().tan();
    }
    let saddle = &end["saddle"];
    let cope = if saddle.is_null() {
        None
    } else {
        let (point, axis) = (
            json::point(&saddle["point"]),
            json::direction(&saddle["axis"]),
        );
        let axis = axis.ok_or("a cope has no axis")?;
        let radius = json::number(&saddle["diameter"]).ok_or("a cope has no diameter")? / 2.0;
        let outward = json::direction(&end["tangent"]).ok_or("an end has no tangent")?;
        let angle = json::number(&saddle["angle"]).unwrap_or(90.0).to_radians();
        beyond += radius + 1.5 * half / angle.sin().abs().max(0.1);
        Some((
            point.ok_or("a cope has no point")?,
            axis,
            radius,
            (outward - axis * outward.dot(&axis)).normalize(),
        ))
    };
    if planes.is_empty() && cope.is_none() {
        let shape = end["shape"].as_str().unwrap_or("?");
        return Err(format!("its shape is \"{shape}\", without a cut"));
    }
    Ok(Tool {
        planes,
        cope,
        beyond,
    })
}

impl Tool {
    /// Distance from the end's surface, negative on the side that stays.
    fn value(&self, p: &Point3<f64>) -> f64 {
        let planes = self.planes.iter().map(|(at, n)| (p - at).dot(n));
        let mut d = planes.fold(f64::NEG_INFINITY, f64::max);
        if let Some((at, axis, radius, outward)) = &self.cope {
            let v = p - at;
            d = d
                .max(radius - (v - axis * v.dot(axis)).norm())
                .max(v.dot(outward));
        }
        d
    }
}
