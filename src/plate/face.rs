//! One sheet laid flat, with what its parts ask about it.

use nalgebra::{Point2, Point3, Vector3};

use super::sheet::Sheet;
use super::skin::{Skin, Wall};
use super::unfold::Map;
use crate::body::Body;
use crate::geometry::outline::{OutlineSegment, lines_and_arcs, straight_lines};
use crate::geometry::polygon;
use crate::surface::{Patches, Surface};

/// Exporters cut a circle into at least this many chords, but for the coarsest (common practice, no
/// source).
const FEW_CHORDS: usize = 12;

/// A regular polygon that may stand for a circle.
pub(super) struct FewChords {
    /// Its sides.
    pub straight: Vec<OutlineSegment>,
    /// Radius of the circle through its corners, mm.
    pub radius: f64,
}

/// A sheet, its faces and its map to the flat.
pub(super) struct Face<'a> {
    pub body: &'a Body,
    pub patches: &'a Patches,
    pub sheet: &'a Sheet,
    pub skin: &'a Skin,
    pub maps: &'a [Map],
    pub thickness: f64,
    /// How far a vertex may lie from its place on the flat, mm.
    pub tolerance: f64,
    /// 95 % half-width of a place on the flat, mm.
    pub place_plus_minus: f64,
    /// Diagonal of the flat or so, mm.
    pub size: f64,
}

impl<'a> Face<'a> {
    pub fn new(
        body: &'a Body,
        patches: &'a Patches,
        sheet: &'a Sheet,
        skin: &'a Skin,
        maps: &'a [Map],
    ) -> Face<'a> {
        let size = sheet
            .elements
            .iter()
            .map(|e| patches.list[e.front as usize].area)
            .sum::<f64>()
            .sqrt();
        // Along several pieces the errors of directions add up.
        let pieces = sheet.elements.len() as f64;
        Face {
            body,
            patches,
            sheet,
            skin,
            maps,
            thickness: sheet.thickness.value,
            tolerance: patches.tolerance * (1.0 + pieces.sqrt()) / 2.0,
            place_plus_minus: 1.5 * body.quantum * (1.0 + pieces.sqrt()) / 2.0,
            size,
        }
    }

    pub fn map(&self, piece: usize) -> &Map {
        &self.maps[piece]
    }

    /// Corners of a border ring on the flat.
    pub fn ring(&self, front: bool, ring: usize) -> Vec<Point2<f64>> {
        let rings = if front {
            &self.skin.front
        } else {
            &self.skin.back
        };
        rings[ring]
            .iter()
            .map(|s| self.maps[s.piece].flat(&self.body.vertices[s.vertex as usize]))
            .collect()
    }

    /// Lines and arcs of a border ring on the flat, in the ring's own sense. An outer edge that is a
    /// circle of few chords is given straight, a hole round.
    pub fn contour(&self, front: bool, ring: usize) -> Vec<OutlineSegment> {
        match self.few_chords(front, ring) {
            Some(few) if self.is_outer(front, ring) => few.straight,
            _ => self.curved(front, ring),
        }
    }

    fn curved(&self, front: bool, ring: usize) -> Vec<OutlineSegment> {
        lines_and_arcs(&self.ring(front, ring), true, self.tolerance)
    }

    /// The two readings of a ring that is a circle of so few chords that a regular polygon is as likely.
    pub fn few_chords(&self, front: bool, ring: usize) -> Option<FewChords> {
        let [one] = &self.curved(front, ring)[..] else {
            return None;
        };
        let radius = one.arc.filter(|_| one.is_circle())?.radius;
        let straight = straight_lines(&self.ring(front, ring), self.tolerance);
        (straight.len() < FEW_CHORDS).then_some(FewChords { straight, radius })
    }

    /// True for the ring with the most inside it.
    fn is_outer(&self, front: bool, ring: usize) -> bool {
        let rings = if front {
            self.skin.front.len()
        } else {
            self.skin.back.len()
        };
        let inside = |r: usize| polygon::signed_area(&self.ring(front, r)).abs();
        let own = inside(ring);
        (0..rings).all(|r| r == ring || inside(r) < own)
    }

    /// The piece of sheet a wall stands in, if it is one only.
    pub fn piece_of(&self, wall: &Wall) -> Option<usize> {
        let mut steps = wall
            .front
            .iter()
            .flat_map(|&r| &self.skin.front[r])
            .chain(wall.back.iter().flat_map(|&r| &self.skin.back[r]));
        let first = steps.next()?.piece;
        steps.all(|s| s.piece == first).then_some(first)
    }

    /// A vertex of a wall.
    pub fn any_point(&self, wall: &Wall) -> Point3<f64> {
        wall.facets.first().map_or(Point3::origin(), |&f| {
            self.body.vertices[self.body.facets[f as usize][0] as usize]
        })
    }

    fn surface(&self, piece: usize) -> Surface {
        self.patches.list[self.sheet.elements[piece].front as usize].surface
    }

    /// Unit normal of the front at a point.
    pub fn normal(&self, piece: usize, p: &Point3<f64>) -> Vector3<f64> {
        match (self.surface(piece), &self.maps[piece]) {
            (Surface::Plane { normal, .. }, _) => normal,
            (Surface::Cylinder { convex, .. }, Map::Roll(roll)) => {
                roll.outward(roll.angle(p)) * sign(convex)
            }
            (Surface::Cone { convex, .. }, Map::Fan(fan)) => {
                fan.directions(fan.angle(p)).1 * sign(convex)
            }
            _ => Vector3::zeros(),
        }
    }

    /// Height of a point above the front, mm.
    fn height(&self, piece: usize, p: &Point3<f64>) -> f64 {
        match (self.surface(piece), &self.maps[piece]) {
            (Surface::Plane { point, normal }, _) => (p - point).dot(&normal),
            (Surface::Cylinder { radius, convex, .. }, Map::Roll(roll)) => {
                ((p - roll.point).cross(&roll.axis).norm() - radius) * sign(convex)
            }
            (Surface::Cone { convex, .. }, Map::Fan(fan)) => {
                let from_middle = (p - fan.apex).dot(&fan.directions(fan.angle(p)).1);
                from_middle * sign(convex) - self.thickness / 2.0
            }
            _ => 0.0,
        }
    }

    /// Depth of a point below the front or the back, mm.
    pub fn depth(&self, piece: usize, p: &Point3<f64>, front: bool) -> f64 {
        let height = self.height(piece, p);
        if front {
            -height
        } else {
            self.thickness + height
        }
    }

    /// Point of the front or back that goes to a place on the flat.
    pub fn solid(&self, piece: usize, q: &Point2<f64>, front: bool) -> Point3<f64> {
        let height = if front { 0.0 } else { -self.thickness };
        match (self.surface(piece), &self.maps[piece]) {
            (Surface::Plane { point, normal }, Map::Flat { origin, a, b, base }) => {
                let p = origin + a * (q - base).x + b * (q - base).y;
                p + normal * ((point - p).dot(&normal) + height)
            }
            (Surface::Cylinder { radius, convex, .. }, Map::Roll(r)) => {
                let d = q - r.base;
                r.point
                    + r.outward(d.dot(&r.u) / r.neutral) * (radius + sign(convex) * height)
                    + r.axis * d.dot(&r.v)
            }
            (Surface::Cone { convex, .. }, Map::Fan(f)) => {
                let turned = q.y.atan2(q.x);
                let turned = if turned < -1e-9 {
                    turned + std::f64::consts::TAU
                } else {
                    turned
                };
                let (along, out) = f.directions(turned / f.half_angle.sin());
                f.apex
                    + along * q.coords.norm()
                    + out * (sign(convex) * (self.thickness / 2.0 + height))
            }
            _ => Point3::origin(),
        }
    }

    /// Where a line enters the front, the crossing nearest `point` (by Newton's steps from it).
    pub fn pierce(
        &self,
        piece: usize,
        point: &Point3<f64>,
        axis: &Vector3<f64>,
    ) -> Option<Point3<f64>> {
        let mut p = *point;
        for _ in 0..50 {
            let slope = axis.dot(&self.normal(piece, &p));
            let step = -self.height(piece, &p) / slope;
            if slope.abs() < 0.05 || !step.is_finite() {
                return None;
            }
            p += axis * step;
            if step.abs() <= 1e-12 * (1.0 + self.size) {
                break;
            }
        }
        Some(p)
    }
}

fn sign(convex: bool) -> f64 {
    if convex { 1.0 } else { -1.0 }
}
