//! Regions of the plane bounded by lines and arcs, and the exact distance from them.

use std::f64::consts::TAU;

use nalgebra::{Point2, Vector2};
use serde_json::Value;

use super::json;

/// A piece of a contour.
#[derive(Clone, Copy, Debug)]
pub enum Edge {
    Line(Point2<f64>, Point2<f64>),
    /// Centre, radius, first direction and turn in radians (anticlockwise positive).
    Arc(Point2<f64>, f64, f64, f64),
}

impl Edge {
    fn length(&self) -> f64 {
        match self {
            Edge::Line(a, b) => (b - a).norm(),
            Edge::Arc(_, radius, _, turn) => radius * turn.abs(),
        }
    }

    fn at(&self, share: f64) -> Point2<f64> {
        match *self {
            Edge::Line(a, b) => a + (b - a) * share,
            Edge::Arc(centre, radius, from, turn) => {
                let a = from + share * turn;
                centre + radius * Vector2::new(a.cos(), a.sin())
            }
        }
    }

    fn distance(&self, p: &Point2<f64>) -> f64 {
        match *self {
            Edge::Line(a, b) => {
                let (d, v) = (b - a, p - a);
                let share = (v.dot(&d) / d.norm_squared().max(1e-300)).clamp(0.0, 1.0);
                (v - d * share).norm()
            }
            Edge::Arc(centre, radius, from, turn) => {
                let v = p - centre;
                let along = ((v.y.atan2(v.x) - from) * turn.signum()).rem_euclid(TAU);
                if along <= turn.abs() {
                    (v.norm() - radius).abs()
                } else {
                    (p - self.at(0.0)).norm().min((p - self.at(1.0)).norm())
                }
            }
        }
    }

    /// Points along it at most `step` apart, the last left out.
    fn points(&self, step: f64) -> impl Iterator<Item = Point2<f64>> + '_ {
        let by_turn = match self {
            Edge::Line(..) => 1.0,
            Edge::Arc(_, _, _, turn) => (turn.abs() / 0.2).ceil(),
        };
        let n = (self.length() / step).ceil().max(by_turn).max(1.0) as usize;
        (0..n).map(move |i| self.at(i as f64 / n as f64))
    }
}

/// The inside of contours; what an even number of them surrounds is outside.
#[derive(Clone, Debug)]
pub struct Region {
    edges: Vec<Edge>,
    corners: Vec<(Point2<f64>, Point2<f64>)>,
    pub low: Point2<f64>,
    pub high: Point2<f64>,
}

impl Region {
    pub fn new(contours: &[Vec<Edge>]) -> Region {
        let mut corners = Vec::new();
        let (mut low, mut high) = (Point2::from([f64::MAX; 2]), Point2::from([f64::MIN; 2]));
        for contour in contours {
            let ring: Vec<Point2<f64>> = contour
                .iter()
                .flat_map(|e| match e {
                    Edge::Line(..) => e.points(f64::INFINITY).collect::<Vec<_>>(),
                    Edge::Arc(_, radius, _, turn) => {
                        // Only the side of an edge is read off these; they lie within 0.005 mm of the arc.
                        let n = (turn.abs() / (0.04 / radius).sqrt()).ceil().max(8.0);
                        e.points(radius * turn.abs() / n).collect()
                    }
                })
                .collect();
            for (i, p) in ring.iter().enumerate() {
                corners.push((*p, ring[(i + 1) % ring.len()]));
                low = low.inf(p);
                high = high.sup(p);
            }
        }
        let edges = contours.iter().flatten().copied().collect();
        Region {
            edges,
            corners,
            low,
            high,
        }
    }

    /// The corners of the first contours, arcs in small steps.
    pub fn ring(&self) -> Vec<Point2<f64>> {
        self.corners.iter().map(|c| c.0).collect()
    }

    /// Distance from the edge, negative inside.
    pub fn signed(&self, p: &Point2<f64>) -> f64 {
        let d = (self.edges.iter()).fold(f64::INFINITY, |d, e| d.min(e.distance(p)));
        let crossed = (self.corners.iter())
            .filter(|(a, b)| {
                (a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y)
            })
            .count();
        if crossed % 2 == 1 { -d } else { d }
    }

    /// Centre of its area.
    pub fn centroid(&self) -> Point2<f64> {
        let (mut area, mut moment) = (0.0, Vector2::zeros());
        for (a, b) in &self.corners {
            let cross = a.coords.perp(&b.coords);
            area += cross;
            moment += (a.coords + b.coords) * cross / 3.0;
        }
        Point2::from(moment / area)
    }

    /// Points along all contours, at most `step` apart.
    pub fn rim(&self, step: f64) -> Vec<Point2<f64>> {
        self.edges.iter().flat_map(|e| e.points(step)).collect()
    }

    /// Points of a grid that lie inside.
    pub fn grid(&self, step: f64) -> Vec<Point2<f64>> {
        let size = self.high - self.low;
        let (nx, ny) = (
            (size.x / step).ceil() as usize,
            (size.y / step).ceil() as usize,
        );
        let mut out = Vec::new();
        for i in 0..nx.max(3) {
            for k in 0..ny.max(3) {
                let share = |n: usize, of: usize| (n as f64 + 0.5) / of.max(3) as f64;
                let p = self.low + Vector2::new(size.x * share(i, nx), size.y * share(k, ny));
                if self.signed(&p) < 0.0 {
                    out.push(p);
                }
            }
        }
        out
    }
}

/// A circle as a contour.
pub fn circle(centre: Point2<f64>, radius: f64) -> Vec<Edge> {
    vec![Edge::Arc(centre, radius, 0.0, TAU)]
}

/// A closed polygon as a contour.
pub fn polygon(corners: &[Point2<f64>]) -> Vec<Edge> {
    (0..corners.len())
        .map(|i| Edge::Line(corners[i], corners[(i + 1) % corners.len()]))
        .collect()
}

/// A contour as the report writes it.
pub fn segments(value: &Value) -> Option<Vec<Edge>> {
    json::list(value)
        .iter()
        .map(|s| {
            let (start, end) = (json::flat(&s["start"])?, json::flat(&s["end"])?);
            if s["kind"] == "line" {
                return Some(Edge::Line(start, end));
            }
            let centre = json::flat(&s["centre"])?;
            let v = start - centre;
            Some(Edge::Arc(
                centre,
                json::number(&s["radius"])?,
                v.y.atan2(v.x),
                json::number(&s["angle"])?.to_radians(),
            ))
        })
        .collect()
}
