//! What was asked: the part's own surfaces, each with a name, and where a point stands against them.
//!
//! The facets of a model cut the corner, so they only tell which surface is meant; distances are
//! taken from the described section along its path, from cuts and holes, and from fitted patches.

use nalgebra::{Point2, Vector2};

use super::section::{Contour, beside, contours};
use super::undo::{Shape, shape, station};
use crate::body::Body;
use crate::geometry::bvh::TriangleTree;
use crate::geometry::{Pt3, Vec3};
use crate::member::{HoleKind, Member};
use crate::plate::{self, Plate};
use crate::report::ReportedPart;
use crate::surface::{Surface, segment};
use crate::weld::NONE;

/// The surface under a face.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Under {
    /// A contour of the section along the path.
    Side(usize),
    /// A surface of its own.
    Is(Surface),
    /// The facets as they are.
    Facets,
}

/// What a face is to the shop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A side of a member; the number tells which way it looks.
    Side(usize),
    /// The inside of a tube.
    Bore,
    /// End 0 or 1.
    End(usize),
    /// Wall of a hole, by its number from 0.
    Hole(usize),
    /// Front or back of a plate.
    Front,
    /// The other broad face.
    Back,
    /// Edge of a plate, by its number from 0.
    Edge(usize),
    /// Anything else.
    Other,
}

/// One face of the part.
#[derive(Clone, Debug)]
pub(super) struct Face {
    /// Its name in the shop's words.
    pub name: String,
    /// What it is.
    pub role: Role,
    /// What lies under it.
    pub under: Under,
    /// Area of its facets, mm².
    pub area: f64,
}

/// Where a point stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Probe {
    /// Number of the face.
    pub face: usize,
    /// Facet of the model that is nearest.
    pub facet: u32,
    /// Unit normal out of the metal.
    pub normal: Vec3,
    /// Distance out of the metal, mm.
    pub distance: f64,
    /// How far the point lies beyond the rim of that face, mm.
    pub overhang: f64,
    /// Its normal along the width and the height of a member's section.
    pub across: [f64; 2],
}

/// The part asked for.
pub(super) struct Target<'a> {
    /// The part.
    pub part: &'a ReportedPart,
    /// Its body.
    pub body: &'a Body,
    /// Its faces.
    pub faces: Vec<Face>,
    /// Its motion.
    pub shape: Shape,
    /// Largest extent, mm.
    pub size: f64,
    tree: TriangleTree<'a>,
    face_of: Vec<u32>,
    normal_of: Vec<Vec3>,
    station_of: Vec<f64>,
    contours: Vec<Contour>,
    sides: [usize; 4],
}

/// Cosine of the widest angle between a scanned surface and the face it is held against.
const FACING: f64 = 0.6;

impl<'a> Target<'a> {
    /// Takes a part and its body apart into named faces.
    pub(super) fn new(part: &'a ReportedPart, body: &'a Body) -> Target<'a> {
        let normal_of: Vec<Vec3> = body
            .facets
            .iter()
            .map(|f| {
                let [a, b, c] = f.map(|v| body.vertices[v as usize]);
                (b - a)
                    .cross(&(c - a))
                    .try_normalize(0.0)
                    .unwrap_or_else(Vec3::zeros)
            })
            .collect();
        let mut target = Target {
            part,
            body,
            faces: Vec::new(),
            shape: shape(part, body),
            size: extent(body.vertices.iter()),
            tree: TriangleTree::new(&body.vertices, &body.facets),
            face_of: vec![0; body.facets.len()],
            normal_of,
            station_of: Vec::new(),
            contours: Vec::new(),
            sides: [0; 4],
        };
        target.station_of = (0..body.facets.len() as u32)
            .map(|f| station(&target.shape, &target.middle(f)))
            .collect();
        match (&part.member, &part.plate) {
            (Some(member), _) if matches!(target.shape, Shape::Sweep(_)) => {
                target.member_faces(member);
            }
            (_, plate) => target.patch_faces(plate.as_ref()),
        }
        for f in 0..body.facets.len() {
            target.faces[target.face_of[f] as usize].area += target.area(f as u32);
        }
        target
    }

    /// Middle of a facet.
    pub(super) fn middle(&self, f: u32) -> Pt3 {
        let [a, b, c] = self.corners(f).map(|p| p.coords);
        Pt3::from((a + b + c) / 3.0)
    }

    /// Corners of a facet.
    pub(super) fn corners(&self, f: u32) -> [Pt3; 3] {
        self.body.facets[f as usize].map(|v| self.body.vertices[v as usize])
    }

    /// Area of a facet, mm².
    pub(super) fn area(&self, f: u32) -> f64 {
        let [a, b, c] = self.corners(f);
        0.5 * (b - a).cross(&(c - a)).norm()
    }

    /// Normal of a facet out of the metal.
    pub(super) fn facet_normal(&self, f: u32) -> Vec3 {
        self.normal_of[f as usize]
    }

    /// Distance along the path beside a facet, or beside the facet nearest to `p`.
    pub(super) fn station_near(&self, p: &Pt3, facet: Option<u32>) -> f64 {
        let facet = facet.or_else(|| self.tree.closest(p, f64::MAX).map(|(_, f, _)| f));
        facet.map_or(0.0, |f| self.station(f))
    }

    /// Largest size of a member's section, or a fifth of anything else, mm.
    pub(super) fn section_size(&self) -> f64 {
        let section = self.part.member.as_ref().map(|m| &m.section);
        section
            .and_then(|s| {
                [s.diameter, s.width, s.height]
                    .into_iter()
                    .flatten()
                    .map(|q| q.value)
                    .reduce(f64::max)
            })
            .unwrap_or(self.size / 5.0)
    }

    /// Distance along the path of the place beside a facet.
    pub(super) fn station(&self, f: u32) -> f64 {
        self.station_of[f as usize]
    }

    /// Face of a facet; sides of members are told apart only by [`Target::probe`].
    pub(super) fn face(&self, f: u32) -> usize {
        self.face_of[f as usize] as usize
    }

    /// Distance of a point from the facets that look along `n` (either way when `either`), mm.
    pub(super) fn near(&self, p: &Pt3, n: &Vec3, most: f64, either: bool) -> Option<f64> {
        self.facing(p, n, most, either).map(|(_, _, d)| d)
    }

    fn facing(&self, p: &Pt3, n: &Vec3, most: f64, either: bool) -> Option<(Pt3, u32, f64)> {
        self.tree.closest_of(p, most, |f| {
            let cos = self.normal_of[f as usize].dot(n);
            cos > FACING || (either && cos < -FACING)
        })
    }

    /// Where a point of a surface that looks along `n` stands, no farther than `most` from the facets.
    pub(super) fn probe(&self, p: &Pt3, n: &Vec3, most: f64) -> Option<Probe> {
        let (foot, facet, _) = self.facing(p, n, most, false)?;
        let mut face = self.face_of[facet as usize] as usize;
        let flat = self.normal_of[facet as usize];
        let mut across = [0.0; 2];
        let (distance, normal) = match &self.faces[face].under {
            Under::Facets => (flat.dot(&(p - foot)), flat),
            Under::Is(surface) => beside_surface(surface, p),
            Under::Side(contour) => {
                let (distance, normal, flat) = self.beside_section(*contour, p, n, facet)?;
                across = flat;
                if *contour == 0 {
                    face = self.sides[way(flat)];
                }
                (distance, normal)
            }
        };
        if !distance.is_finite() {
            return None;
        }
        let gap = p - foot;
        // Sideways of the face; facets of a bent face lean, which looks like a little of it.
        let aside = (gap - normal * normal.dot(&gap)).norm();
        let lean = (1.0 - normal.dot(&flat).clamp(-1.0, 1.0).powi(2))
            .max(0.0)
            .sqrt();
        let overhang = if self.at_rim(facet, &foot) {
            (aside - (lean + 0.05) * gap.norm().max(distance.abs())).max(0.0)
        } else {
            0.0
        };
        Some(Probe {
            face,
            facet,
            normal,
            distance,
            overhang,
            across,
        })
    }

    /// Where a point stands against whatever is nearest, whichever way it looks.
    pub(super) fn probe_any(&self, p: &Pt3, most: f64) -> Option<Probe> {
        let (_, facet, _) = self.tree.closest(p, most)?;
        self.probe(p, &self.normal_of[facet as usize], most)
    }

    /// True when a point of a facet lies on an edge where its face ends.
    fn at_rim(&self, facet: u32, foot: &Pt3) -> bool {
        let corners = self.corners(facet);
        let near = 1e-6 * self.size + 2.0 * self.body.quantum;
        (0..3).any(|k| {
            let g = self.body.neighbours[facet as usize][k];
            if g != NONE && self.face(g) == self.face(facet) {
                return false;
            }
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            let way = b - a;
            let along = way.dot(&(foot - a)) / way.norm_squared().max(1e-30);
            (foot - (a + way * along.clamp(0.0, 1.0))).norm() < near
        })
    }

    fn beside_section(
        &self,
        contour: usize,
        p: &Pt3,
        n: &Vec3,
        facet: u32,
    ) -> Option<(f64, Vec3, [f64; 2])> {
        let Shape::Sweep(path) = &self.shape else {
            return None;
        };
        let (l, _) = path.local(p, self.station_of[facet as usize]);
        let f = path.at(l.s);
        let towards = Vector2::new(n.dot(&f.w), n.dot(&f.h));
        // A bore looks inwards: its contour is met from the other side.
        let turn = if contour == 0 { 1.0 } else { -1.0 };
        let beside = beside(
            self.contours.get(contour)?,
            Point2::new(l.x, l.y),
            towards * turn,
        );
        let normal = (f.w * beside.normal.x + f.h * beside.normal.y) * turn;
        let flat = [beside.normal.x * turn, beside.normal.y * turn];
        Some((beside.distance * turn, normal, flat))
    }

    fn add(&mut self, name: impl Into<String>, role: Role, under: Under) -> usize {
        self.faces.push(Face {
            name: name.into(),
            role,
            under,
            area: 0.0,
        });
        self.faces.len() - 1
    }

    fn member_faces(&mut self, member: &Member) {
        self.contours = contours(&member.section);
        let towards = match &self.shape {
            Shape::Sweep(path) => path.pieces.iter().find(|p| p.curvature != 0.0),
            _ => None,
        };
        // Which of the four directions looks to the centre of the first bend.
        let inner = towards.map(|p| way([-p.bend.sin(), p.bend.cos()]));
        let names = ["width", "width", "height", "height"];
        for k in 0..4 {
            let sign = if k % 2 == 0 { "+" } else { "−" };
            let name = match inner {
                Some(i) if i == k => "inside of the bend".to_owned(),
                Some(i) if i == k ^ 1 => "outside of the bend".to_owned(),
                _ => format!("side, {sign}{}", names[k]),
            };
            self.sides[k] = self.add(name, Role::Side(k), Under::Side(0));
        }
        let bore = self.add("inside of the tube", Role::Bore, Under::Side(1));
        let mut ends = Vec::new();
        for (k, end) in member.ends.iter().enumerate() {
            for (j, cut) in end.cuts.iter().enumerate() {
                let name = if end.cuts.len() > 1 {
                    format!("end {k}, cut {}", j + 1)
                } else {
                    format!("end {k}")
                };
                let plane = Surface::Plane {
                    point: cut.point.into(),
                    normal: cut.normal.into(),
                };
                ends.push(self.add(name, Role::End(k), Under::Is(plane)));
            }
            if let Some(saddle) = &end.saddle {
                let round = Surface::Cylinder {
                    point: saddle.point.into(),
                    axis: saddle.axis.into(),
                    radius: saddle.diameter.value / 2.0,
                    convex: false,
                };
                ends.push(self.add(format!("cope at end {k}"), Role::End(k), Under::Is(round)));
            }
        }
        let mut holes = Vec::new();
        for (k, hole) in member.holes.iter().enumerate() {
            let round = hole.diameter.filter(|_| hole.kind == HoleKind::Round);
            let under = round.map_or(Under::Facets, |d| {
                Under::Is(Surface::Cylinder {
                    point: hole.point.into(),
                    axis: hole.axis.into(),
                    radius: d.value / 2.0,
                    convex: false,
                })
            });
            holes.push(self.add(format!("hole {}", k + 1), Role::Hole(k), under));
        }
        let other = self.add("other faces", Role::Other, Under::Facets);
        let thin = member
            .section
            .wall
            .or(member.section.width)
            .or(member.section.diameter)
            .map_or(1.0, |q| q.value);
        let near = (0.25 * thin).min(0.005 * self.size).max(0.02);
        for f in 0..self.body.facets.len() as u32 {
            let corners = self.corners(f);
            let n = self.normal_of[f as usize];
            let on = |face: usize| {
                let Under::Is(surface) = &self.faces[face].under else {
                    return false;
                };
                corners
                    .iter()
                    .all(|p| beside_surface(surface, p).0.abs() < near)
                    && beside_surface(surface, &self.middle(f)).1.dot(&n) > 0.8
            };
            let hole = holes.iter().copied().enumerate().find(|(k, face)| {
                on(*face) && {
                    let hole = &member.holes[*k];
                    n.dot(&Vec3::from(hole.axis)).abs() < 0.5
                }
            });
            let end = ends.iter().copied().find(|face| on(*face));
            let lateral = |contour: usize| self.lateral(contour, f, near).is_some();
            let found = hole
                .map(|(_, face)| face)
                .or(end)
                .or_else(|| lateral(0).then_some(self.sides[0]))
                .or_else(|| lateral(1).then_some(bore))
                .or_else(|| self.by_slot(member, &holes, &self.middle(f), &n))
                .unwrap_or(other);
            self.face_of[f as usize] = found as u32;
        }
        // Where a flat between two rings is cut off, its corners lie as far inside the arc as its
        // middle does: such facets are told by those that are whole.
        let sag = (0..self.body.facets.len() as u32)
            .filter_map(|f| {
                let contour = usize::from(self.face(f) == bore);
                let whole = self.face(f) == bore || self.face(f) == self.sides[0];
                whole.then(|| self.lateral(contour, f, near)).flatten()
            })
            .fold(0.0, f64::max);
        for f in 0..self.body.facets.len() as u32 {
            if self.face(f) != other {
                continue;
            }
            for (contour, face) in [(0, self.sides[0]), (1, bore)] {
                if self.lateral(contour, f, near + 1.2 * sag).is_some() {
                    self.face_of[f as usize] = face as u32;
                    break;
                }
            }
        }
    }

    /// How far the middle of a facet lies off a contour of the section, when its corners lie within
    /// `near` of it and it looks the same way, mm.
    fn lateral(&self, contour: usize, f: u32, near: f64) -> Option<f64> {
        let n = self.normal_of[f as usize];
        if contour >= self.contours.len() {
            return None;
        }
        let on = self.corners(f).iter().all(|p| {
            self.beside_section(contour, p, &n, f)
                .is_some_and(|(d, m, _)| m.dot(&n) > 0.8 && d.abs() < near)
        });
        let middle = self.beside_section(contour, &self.middle(f), &n, f);
        middle.filter(|_| on).map(|(d, _, _)| d.abs())
    }

    /// The slot or cut-out whose wall this is.
    fn by_slot(&self, member: &Member, holes: &[usize], p: &Pt3, n: &Vec3) -> Option<usize> {
        member.holes.iter().zip(holes).find_map(|(hole, face)| {
            let axis = Vec3::from(hole.axis);
            let d = p - Pt3::from(hole.point);
            let across = hole.width.map_or(0.0, |q| q.value);
            let reach = hole.length.or(hole.diameter)?.value.hypot(across) / 2.0;
            let out = (d - axis * axis.dot(&d)).norm();
            let wall = hole.kind != HoleKind::Round && n.dot(&axis).abs() < 0.5;
            (wall && out < 1.05 * reach).then_some(*face)
        })
    }

    /// Faces by fitted patches.
    fn patch_faces(&mut self, plate: Option<&Plate>) {
        let patches = segment(self.body);
        let mut edges = 0;
        let mut known: Vec<(Role, usize)> = Vec::new();
        for patch in &patches.list {
            let middle = patch
                .facets
                .iter()
                .max_by(|a, b| self.area(**a).total_cmp(&self.area(**b)))
                .copied()
                .unwrap_or(0);
            let (role, name) = plate.map_or((Role::Other, "face".to_owned()), |plate| {
                self.plate_role(plate, &patch.surface, &patch.facets, middle)
            });
            let under = match patch.surface {
                Surface::Unknown => Under::Facets,
                surface => Under::Is(surface),
            };
            let face = match role {
                Role::Edge(_) => {
                    edges += 1;
                    self.add(format!("edge {edges}{name}"), Role::Edge(edges - 1), under)
                }
                Role::Other => {
                    let number = self.faces.len() + 1;
                    self.add(format!("{name} {number}"), Role::Other, under)
                }
                Role::Front | Role::Back if plate.is_some_and(|p| p.form == plate::Form::Bent) => {
                    let number = self.faces.len() + 1;
                    self.add(format!("{name} {number}"), role, under)
                }
                // The two halves of a hole are one.
                role => match known.iter().find(|(r, f)| {
                    *r == role && matches!(role, Role::Hole(_)) && self.faces[*f].under == under
                }) {
                    Some((_, face)) => *face,
                    None => self.add(name, role, under),
                },
            };
            known.push((role, face));
            for f in &patch.facets {
                self.face_of[*f as usize] = face as u32;
            }
        }
        if self.faces.is_empty() {
            self.add("the whole surface", Role::Other, Under::Facets);
        }
    }

    fn plate_role(
        &self,
        plate: &Plate,
        surface: &Surface,
        facets: &[u32],
        middle: u32,
    ) -> (Role, String) {
        let at = self.middle(middle);
        let n = self.normal_of[middle as usize];
        let hole = plate.holes.iter().position(|hole| {
            let axis = Vec3::from(hole.axis);
            let across = [hole.countersink_diameter, hole.length, hole.diameter];
            let across = across.into_iter().flatten().map(|q| q.value);
            let corner = hole.width.map_or(0.0, |q| q.value);
            let reach = across.fold(0.0, f64::max).hypot(corner) / 2.0;
            let reach = if reach > 0.0 {
                reach
            } else {
                hole.outline.iter().fold(0.0, |most: f64, s| {
                    let (plate::Segment::Line { start, .. } | plate::Segment::Arc { start, .. }) =
                        s;
                    let (x, y) = hole
                        .x
                        .zip(hole.y)
                        .map_or((start[0], start[1]), |(x, y)| (x.value, y.value));
                    most.max((start[0] - x).hypot(start[1] - y))
                })
            };
            facets.iter().all(|f| {
                self.corners(*f).iter().all(|p| {
                    let d = p - Pt3::from(hole.point);
                    (d - axis * axis.dot(&d)).norm() <= 1.02 * reach + 0.05
                })
            })
        });
        if let Some(k) = hole {
            return (Role::Hole(k), format!("hole {}", k + 1));
        }
        let front = match (plate.form, plate.frame, surface) {
            (plate::Form::Flat, Some(frame), _) => {
                let cos = n.dot(&Vec3::from(frame.z));
                (cos.abs() > 0.9).then_some(cos > 0.0)
            }
            (
                plate::Form::Cylinder | plate::Form::Cone,
                _,
                Surface::Cylinder { convex, .. } | Surface::Cone { convex, .. },
            ) => Some(*convex),
            _ => None,
        };
        if let (plate::Form::Bent, Shape::Sweep(path)) = (plate.form, &self.shape) {
            let (l, _) = path.local(&at, self.station_of[middle as usize]);
            let cos = n.dot(&path.at(l.s).h);
            let kind = match surface {
                Surface::Cylinder { .. } => "bend",
                _ => "flat",
            };
            return match (cos.abs() > 0.9, cos > 0.0) {
                (true, true) => (Role::Front, kind.to_owned()),
                (true, false) => (Role::Back, kind.to_owned()),
                (false, _) => (Role::Edge(0), self.across(facets)),
            };
        }
        match (front, plate.form) {
            (Some(true), plate::Form::Flat) => (Role::Front, "front face".into()),
            (Some(false), plate::Form::Flat) => (Role::Back, "back face".into()),
            (Some(true), _) => (Role::Front, "outside face".into()),
            (Some(false), _) => (Role::Back, "inside face".into()),
            (None, plate::Form::Bent) => {
                let area: f64 = facets.iter().map(|f| self.area(*f)).sum();
                let broad = plate
                    .thickness
                    .is_some_and(|t| area > 12.0 * t.value * t.value);
                let kind = match surface {
                    Surface::Cylinder { .. } => "bend",
                    _ if broad => "flat",
                    _ => "edge",
                };
                (Role::Other, kind.to_owned())
            }
            (None, _) => (Role::Edge(0), self.across(facets)),
        }
    }

    /// Words for how large an edge is.
    fn across(&self, facets: &[u32]) -> String {
        let corners = facets.iter().flat_map(|f| self.body.facets[*f as usize]);
        let size = extent(corners.map(|v| &self.body.vertices[v as usize]));
        format!(", {size:.0} mm across")
    }
}

/// Which of the four directions of a section, +width, −width, +height, −height, is nearest.
fn way(flat: [f64; 2]) -> usize {
    match (flat[0].abs() > flat[1].abs(), flat[0] > 0.0, flat[1] > 0.0) {
        (true, true, _) => 0,
        (true, false, _) => 1,
        (false, _, true) => 2,
        (false, _, false) => 3,
    }
}

/// Diagonal of the box around points, mm.
pub(super) fn extent<'p>(points: impl Iterator<Item = &'p Pt3>) -> f64 {
    let (mut low, mut high) = (Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY));
    for p in points {
        low = low.inf(&p.coords);
        high = high.sup(&p.coords);
    }
    let size = (high - low).norm();
    if size.is_finite() { size } else { 0.0 }
}

/// Distance from a surface out of the metal, and the normal there.
pub(super) fn beside_surface(surface: &Surface, p: &Pt3) -> (f64, Vec3) {
    let sign = |convex: bool| if convex { 1.0 } else { -1.0 };
    match *surface {
        Surface::Plane { point, normal } => (normal.dot(&(p - point)), normal),
        Surface::Cylinder {
            point,
            axis,
            radius,
            convex,
        } => {
            let d = p - point;
            let out = d - axis * axis.dot(&d);
            let length = out.norm();
            (
                sign(convex) * (length - radius),
                out * (sign(convex) / length.max(1e-12)),
            )
        }
        Surface::Cone {
            apex,
            axis,
            half_angle,
            convex,
        } => {
            let d = p - apex;
            let level = axis.dot(&d);
            let across = d - axis * level;
            let out = across.norm();
            let (sin, cos) = half_angle.sin_cos();
            let normal = across * (cos / out.max(1e-12)) - axis * sin;
            (
                sign(convex) * (out * cos - level * sin),
                normal * sign(convex),
            )
        }
        Surface::Unknown => (f64::NAN, Vec3::zeros()),
    }
}
