//! Cutting programs made from the flat of a plate, right or with one thing wrong.
#![allow(dead_code)]

use std::fmt::Write;
use std::fs;
use std::path::Path;

use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};
use soapstone::analysis::{Asked, analyse};
use soapstone::measure::STEEL_DENSITY;
use soapstone::plate::{HoleKind, Plate, PlateHole, Segment};
use soapstone::report::Report;

/// A closed contour: corners with the bulge of the way to the next.
pub type Ring = Vec<[f64; 3]>;

/// Side of the edge the tool runs on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Side {
    Left,
    Right,
}

/// How a program is written, and what is wrong with it.
#[derive(Clone, Debug)]
pub struct Make {
    pub kerf: f64,
    pub side: Side,
    /// Length of leads, mm; none where 0.
    pub lead: f64,
    /// Arcs by radius.
    pub by_radius: bool,
    /// Centres counted from the zero of the program.
    pub absolute_centres: bool,
    pub inch: bool,
    pub incremental: bool,
    pub mirror: bool,
    pub scale: f64,
    pub turn: f64,
    pub shift: [f64; 2],
    /// Leave this hole out.
    pub skip: Option<usize>,
    /// Make this hole smaller all round, mm.
    pub shrink: Option<(usize, f64)>,
    /// One hole more, at the middle of the plate's first hole plus this.
    pub extra: Option<[f64; 3]>,
    pub outside_first: bool,
    /// Leave out the last of the outside, mm.
    pub open: f64,
    /// Command the control to allow for the kerf.
    pub compensate: Option<Side>,
}

impl Default for Make {
    fn default() -> Make {
        Make {
            kerf: 0.0,
            side: Side::Left,
            lead: 0.0,
            by_radius: false,
            absolute_centres: false,
            inch: false,
            incremental: false,
            mirror: false,
            scale: 1.0,
            turn: 0.0,
            shift: [0.0, 0.0],
            skip: None,
            shrink: None,
            extra: None,
            outside_first: false,
            open: 0.0,
            compensate: None,
        }
    }
}

/// The report of a model.
pub fn report(path: &Path, mm_per_unit: f64) -> Report {
    let bytes = fs::read(path).expect("the model");
    let asked = Asked {
        mm_per_unit: Some(mm_per_unit),
        density: STEEL_DENSITY,
    };
    analyse(&bytes, &path.to_string_lossy(), &asked).expect("a model")
}

/// Outside and holes of a plate, anticlockwise; blind holes are not cut.
pub fn rings(plate: &Plate) -> (Ring, Vec<Ring>) {
    let holes = plate
        .holes
        .iter()
        .filter(|h| h.kind != HoleKind::Blind)
        .map(hole)
        .collect();
    (ring(&plate.outline), holes)
}

fn hole(hole: &PlateHole) -> Ring {
    if !hole.outline.is_empty() {
        return ring(&hole.outline);
    }
    let [x, y, d] = [hole.x, hole.y, hole.diameter].map(|q| q.expect("a place").value);
    circle(x, y, d)
}

pub fn circle(x: f64, y: f64, diameter: f64) -> Ring {
    let r = diameter / 2.0;
    vec![[x + r, y, 1.0], [x - r, y, 1.0]]
}

fn ring(outline: &[Segment]) -> Ring {
    let mut corners: Ring = Vec::new();
    for segment in outline {
        match segment {
            Segment::Line { start, .. } => corners.push([start[0], start[1], 0.0]),
            Segment::Arc {
                start,
                centre,
                angle,
                ..
            } => {
                // In parts of a third of a turn at most: the library takes no arc over half a turn.
                let parts = (angle.value.abs() / 120.0).ceil().max(1.0);
                let step = angle.value.to_radians() / parts;
                let (dx, dy) = (start[0] - centre[0], start[1] - centre[1]);
                for k in 0..parts as usize {
                    let (sin, cos) = (step * k as f64).sin_cos();
                    let x = centre[0] + dx * cos - dy * sin;
                    let y = centre[1] + dx * sin + dy * cos;
                    corners.push([x, y, (step / 4.0).tan()]);
                }
            }
        }
    }
    if area(&corners) < 0.0 {
        return reversed(&corners);
    }
    corners
}

pub fn area(ring: &Ring) -> f64 {
    polyline(ring).area()
}

pub fn length(ring: &Ring) -> f64 {
    polyline(ring).path_length()
}

fn polyline(ring: &Ring) -> Polyline<f64> {
    let mut line = Polyline::new_closed();
    for [x, y, bulge] in ring {
        line.add(*x, *y, *bulge);
    }
    line
}

/// The ring `by` mm inside (outside where negative); itself where nothing is left.
pub fn inset(ring: &Ring, by: f64) -> Ring {
    if by == 0.0 {
        return ring.clone();
    }
    let found = polyline(ring).parallel_offset(by);
    let largest = found
        .iter()
        .max_by(|a, b| a.path_length().total_cmp(&b.path_length()));
    largest.map_or_else(
        || ring.clone(),
        |line| line.iter_vertexes().map(|v| [v.x, v.y, v.bulge]).collect(),
    )
}

/// The ring run the other way.
pub fn reversed(ring: &Ring) -> Ring {
    let n = ring.len();
    (0..n)
        .map(|k| {
            let [x, y, _] = ring[n - 1 - k];
            [x, y, -ring[(2 * n - 2 - k) % n][2]]
        })
        .collect()
}

/// G-code that cuts a plate.
pub fn program(plate: &Plate, make: &Make) -> String {
    let (outer, holes) = rings(plate);
    let mut cuts: Vec<(Ring, bool)> = Vec::new();
    for (k, hole) in holes.iter().enumerate() {
        if make.skip == Some(k) {
            continue;
        }
        let less = make
            .shrink
            .filter(|(n, _)| *n == k)
            .map_or(0.0, |(_, by)| by);
        cuts.push((inset(hole, make.kerf / 2.0 + less), true));
    }
    if let Some([x, y, d]) = make.extra {
        cuts.push((circle(x, y, d - make.kerf), true));
    }
    let outside = (inset(&outer, -make.kerf / 2.0), false);
    match make.outside_first {
        true => cuts.insert(0, outside),
        false => cuts.push(outside),
    }
    let mut out = Writer::new(make);
    for (ring, hole) in cuts {
        let laid = placed(&ring, make);
        // Seen along a ring run anticlockwise the waste is on the right of an outside, left in a hole.
        let turned = (make.side == Side::Left) != hole;
        let run = match (area(&laid) < 0.0) != turned {
            true => reversed(&laid),
            false => laid,
        };
        out.contour(&run, hole);
    }
    out.end()
}

/// Mirrored, turned, scaled and shifted.
fn placed(ring: &Ring, make: &Make) -> Ring {
    let (sin, cos) = make.turn.to_radians().sin_cos();
    ring.iter()
        .map(|[x, y, bulge]| {
            let (x, bulge) = if make.mirror {
                (-x, -bulge)
            } else {
                (*x, *bulge)
            };
            let (x, y) = (x * make.scale, y * make.scale);
            [
                x * cos - y * sin + make.shift[0],
                x * sin + y * cos + make.shift[1],
                bulge,
            ]
        })
        .collect()
}

struct Writer<'m> {
    make: &'m Make,
    text: String,
    at: [f64; 2],
}

impl<'m> Writer<'m> {
    fn new(make: &'m Make) -> Writer<'m> {
        let mut text = String::from("(made by a test)\n");
        let unit = if make.inch { "G20" } else { "G21" };
        let distance = if make.incremental { "G91" } else { "G90" };
        let centres = if make.absolute_centres { " G90.1" } else { "" };
        let _ = writeln!(text, "N10 {unit} {distance} G17 G40{centres}");
        Writer {
            make,
            text,
            at: [0.0, 0.0],
        }
    }

    /// A number of the program, rounded as it is written.
    fn rounded(&self, mm: f64) -> f64 {
        let unit = if self.make.inch { 25.4 } else { 1.0 };
        let places = if self.make.inch { 1e5 } else { 1e4 };
        (mm / unit * places).round() / places
    }

    fn axes(&mut self, to: [f64; 2]) -> String {
        let to = to.map(|v| self.rounded(v));
        let told = match self.make.incremental {
            true => [to[0] - self.at[0], to[1] - self.at[1]],
            false => to,
        };
        self.at = to;
        format!("X{:.5} Y{:.5}", told[0], told[1])
    }

    fn rapid(&mut self, to: [f64; 2]) {
        let axes = self.axes(to);
        let _ = writeln!(self.text, "G0 {axes}");
    }

    fn line(&mut self, to: [f64; 2]) {
        let axes = self.axes(to);
        let _ = writeln!(self.text, "G1 {axes}");
    }

    fn arc(&mut self, from: [f64; 2], to: [f64; 2], bulge: f64) {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        if dx.hypot(dy) < 1e-3 {
            // Written with its ends alike, an arc is a full circle.
            return self.line(to);
        }
        let h = (1.0 - bulge * bulge) / (4.0 * bulge);
        let centre = [from[0] + dx / 2.0 - dy * h, from[1] + dy / 2.0 + dx * h];
        let radius = dx.hypot(dy) * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
        let word = if bulge > 0.0 { "G3" } else { "G2" };
        let start = self.at;
        let unit = if self.make.inch { 25.4 } else { 1.0 };
        let axes = self.axes(to);
        // A half circle by its radius would be a guess of its centre.
        let how = match self.make.by_radius && bulge.abs() < 0.9 {
            true => format!("R{:.5}", radius / unit),
            false if self.make.absolute_centres => {
                format!("I{:.5} J{:.5}", centre[0] / unit, centre[1] / unit)
            }
            false => format!(
                "I{:.5} J{:.5}",
                centre[0] / unit - start[0],
                centre[1] / unit - start[1]
            ),
        };
        let _ = writeln!(self.text, "{word} {axes} {how}");
    }

    fn contour(&mut self, run: &Ring, hole: bool) {
        let n = run.len();
        // Start at the corner farthest out: from there away from the middle is waste.
        let middle = [0, 1].map(|k| run.iter().map(|c| c[k]).sum::<f64>() / n as f64);
        let far = |c: &[f64; 3]| (c[0] - middle[0]).hypot(c[1] - middle[1]);
        let first = (0..n)
            .max_by(|a, b| far(&run[*a]).total_cmp(&far(&run[*b])))
            .expect("corners");
        let start = [run[first][0], run[first][1]];
        let reach = far(&run[first]);
        let length = if hole {
            -self.make.lead.min(0.6 * reach)
        } else {
            self.make.lead
        } * self.make.scale;
        let lead = |k: usize| start[k] + (start[k] - middle[k]) / reach * length;
        let pierce = if length == 0.0 {
            start
        } else {
            [lead(0), lead(1)]
        };
        self.rapid(pierce);
        match self.make.compensate {
            Some(Side::Left) => self.text.push_str("G41 D1\n"),
            Some(Side::Right) => self.text.push_str("G42 D1\n"),
            None => {}
        }
        self.text.push_str("M3\n");
        if length != 0.0 {
            self.line(start);
        }
        for k in 0..n {
            let mut from = run[(first + k) % n];
            let mut to = run[(first + k + 1) % n];
            if k == n - 1 && self.make.open > 0.0 && !hole {
                // Along the last way, but short of the start.
                let turn = 4.0 * from[2].atan();
                let chord = (to[0] - from[0]).hypot(to[1] - from[1]);
                let way = if turn == 0.0 {
                    chord
                } else {
                    chord * turn.abs() / (2.0 * (turn / 2.0).sin().abs())
                };
                let share = 1.0 - (self.make.open / way).min(0.9);
                let bulge = (turn * share / 4.0).tan();
                // A part of an arc has a part of its chord, turned back by half of what is left.
                let reach = if turn == 0.0 {
                    share
                } else {
                    (turn * share / 2.0).sin() / (turn / 2.0).sin()
                };
                let (sin, cos) = (-turn * (1.0 - share) / 2.0).sin_cos();
                let (dx, dy) = ((to[0] - from[0]) * reach, (to[1] - from[1]) * reach);
                to = [
                    from[0] + dx * cos - dy * sin,
                    from[1] + dx * sin + dy * cos,
                    0.0,
                ];
                from[2] = bulge;
            }
            let (a, b) = ([from[0], from[1]], [to[0], to[1]]);
            match from[2] == 0.0 {
                true => self.line(b),
                false => self.arc(a, b, from[2]),
            }
        }
        if length != 0.0 && self.make.open == 0.0 {
            // Out again, a little to the side.
            let to = [lead(0) + 0.3, lead(1) + 0.2];
            self.line(to);
        }
        self.text.push_str("M5\n");
        if self.make.compensate.is_some() {
            self.text.push_str("G40\n");
        }
    }

    fn end(mut self) -> String {
        self.text.push_str("M2\n");
        self.text
    }
}
