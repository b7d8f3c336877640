//! From the fitted model to the numbers a shop reads.

use super::caps::{Sorted, sort};
use super::ends::{Closing, closings, extent, face_tolerance};
use super::legs::{self, Corners};
use super::model::Model;
use super::numbers::{Numbers, Setting, centred_path, cut_point, numbers, trimmed};
use super::orient::{reversed, turned};
use super::profile::{Contour, Profile};
use super::skin::{Inside, inside, take_back};
use super::trace::Traced;
use super::track::Facets;
use super::{Centreline, Cut, End, EndShape, Hand, Member, Saddle, Section, Shape, Span};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::{Pt3, Vec3};
use crate::measure::Quantity;

/// A member and what goes with it.
#[derive(Clone)]
pub struct Described {
    /// The member.
    pub member: Member,
    /// Volume of the design solid, mm³.
    pub volume: Option<Quantity>,
    /// Area of all its faces, mm².
    pub surface_area: Option<Quantity>,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Share of the body's facet area the member explains as swept surface and plain ends.
    pub explained: f64,
    /// True when the section has a hollow.
    pub hollow: bool,
    /// How the corners of an angle or channel were made.
    pub corners: Corners,
    /// True when the path bends and all its vertices stand where the model puts them, to the file's
    /// resolution: nothing but a bent bar does that.
    pub exact_bends: bool,
    /// True when the vertices scatter by far more than the file's resolution.
    pub noisy: bool,
}

/// Scatter of the vertices, in units of the file's resolution, from which on it is noise.
const NOISY: f64 = 30.0;

/// Smallest half-width ever printed: a thousandth of a millimetre or of a degree.
const FLOOR: f64 = 1e-3;

/// Numbers with their half-widths.
struct Measured {
    numbers: Numbers,
    uncertainty: Vec<f64>,
    floor: f64,
}

impl Measured {
    fn with(&self, key: &str, extra: f64) -> Option<Quantity> {
        let &i = self.numbers.index.get(key)?;
        let value = *self.numbers.values.get(i)?;
        let u = *self.uncertainty.get(i)?;
        (value.is_finite() && u.is_finite()).then(|| {
            Quantity::new(
                value,
                (4.0 * u * u + extra * extra).sqrt() + self.floor.max(4e-9 * value.abs()),
            )
        })
    }

    fn get(&self, key: &str) -> Option<Quantity> {
        self.with(key, 0.0)
    }
}

fn array(v: &Vec3) -> [f64; 3] {
    [v.x, v.y, v.z]
}

fn place(p: &Pt3) -> [f64; 3] {
    [p.x, p.y, p.z]
}

/// How far, in radians about the travel, to turn the section's axes to the convention: height radial
/// in the first arc; on a straight piece width ≥ height (angle: width along the longer leg; channel:
/// height over the flanges). Where the section leaves the turn free (round, square), the height axis
/// takes the side on which the first oblique cut leans.
fn turn_to_convention(model: &Model, pieces: &[usize], ends: &[Closing]) -> f64 {
    use std::f64::consts::FRAC_PI_2;
    let to_quarter = |angle: f64| (angle / FRAC_PI_2).round() * FRAC_PI_2;
    let first_arc = pieces
        .iter()
        .map(|&i| model.path.pieces[i])
        .find(|p| p.curvature != 0.0);
    let round = matches!(model.profile.contours[0], Contour::Circle { .. });
    if let Some(arc) = first_arc {
        // centre direction along +h is bend 0
        return if round {
            arc.bend
        } else {
            to_quarter(arc.bend)
        };
    }
    let lean = lean_of_first_cut(model, ends).map(|angle| angle - FRAC_PI_2);
    let Contour::Sides(sides) = &model.profile.contours[0] else {
        return lean.unwrap_or(0.0);
    };
    let size = |d: nalgebra::Vector2<f64>| {
        let c = &model.profile.contours[0];
        super::numbers::support(c, &d) + super::numbers::support(c, &-d)
    };
    let (w, h) = (size(nalgebra::Vector2::x()), size(nalgebra::Vector2::y()));
    match shape_of(&model.profile, 0.0) {
        // the web is the long outer side opposite the open one: flanges run square to it
        Shape::Channel if channel_web_is_vertical(sides) => 0.0,
        Shape::Channel => FRAC_PI_2,
        _ if sides.len() == 4 && (h - w).abs() < 5e-4 * w => to_quarter(lean.unwrap_or(0.0)),
        _ if h > w * (1.0 + 1e-9) => FRAC_PI_2,
        _ => 0.0,
    }
}

/// Direction of the first oblique cut's normal in the section, radians from the width axis.
fn lean_of_first_cut(model: &Model, ends: &[Closing]) -> Option<f64> {
    let at = [0.0, model.path.length()];
    ends.iter().zip(at).find_map(|(closing, s)| {
        let Closing::Planes(planes) = closing else {
            return None;
        };
        let f = model.path.at(s);
        let n = planes.first()?.normal;
        let (x, y) = (n.dot(&f.w), n.dot(&f.h));
        (x.hypot(y) > 1e-3).then(|| y.atan2(x))
    })
}

/// The open side of a channel has two concave corners next to each other; the web faces the other way.
fn channel_web_is_vertical(sides: &[super::profile::Side]) -> bool {
    let n = sides.len();
    let concave = |j: usize| (sides[(j + 1) % n].normal - sides[j].normal).sin() < 0.0;
    (0..n)
        .find(|&j| concave(j) && concave((j + 1) % n))
        .map(|j| sides[(j + 1) % n].normal.cos().abs() > 0.5)
        .unwrap_or(true)
}

/// Shape of a profile. `slack` is how unequal the sides of a square may be, mm.
fn shape_of(profile: &Profile, slack: f64) -> Shape {
    let hollow = profile.contours.len() > 1;
    match &profile.contours[0] {
        Contour::Circle { .. } => match profile.contours.get(1) {
            None => Shape::RoundBar,
            Some(Contour::Circle { .. }) if profile.contours.len() == 2 => Shape::Round,
            _ => Shape::Other,
        },
        Contour::Sides(sides) => {
            let n = sides.len();
            let right = |j: usize| {
                ((sides[(j + 1) % n].normal - sides[j].normal).sin().abs() - 1.0).abs() < 1e-6
            };
            if !(0..n).all(right) {
                return Shape::Other;
            }
            let concave = (0..n)
                .filter(|&j| (sides[(j + 1) % n].normal - sides[j].normal).sin() < 0.0)
                .count();
            if n == 4 {
                if hollow
                    && !matches!(profile.contours.get(1), Some(Contour::Sides(s)) if s.len() == 4)
                    || profile.contours.len() > 2
                {
                    return Shape::Other;
                }
                let w = sides[0].offset + sides[2].offset;
                let h = sides[1].offset + sides[3].offset;
                let square = (w - h).abs() <= slack;
                return match (hollow, square) {
                    (true, true) => Shape::Square,
                    (true, false) => Shape::Rect,
                    (false, true) => Shape::SquareBar,
                    (false, false) => Shape::FlatBar,
                };
            }
            if hollow {
                return Shape::Other;
            }
            let shape = match (n, concave) {
                (6, 1) => Shape::Angle,
                (8, 2) => Shape::Channel,
                _ => return Shape::Other,
            };
            if shape == Shape::Channel {
                // a Z has two concave corners too, but not next to each other over its open side
                let c = |j: usize| (sides[(j + 1) % n].normal - sides[j % n].normal).sin() < 0.0;
                if !(0..n).any(|j| c(j) && c((j + 1) % n)) {
                    return Shape::Other;
                }
            }
            shape
        }
    }
}

/// The least distance between two contours of a profile, or a tenth of its size when it has one, mm.
fn thinnest(profile: &Profile) -> f64 {
    let outer = &profile.contours[0];
    let x = nalgebra::Vector2::x();
    let size = super::numbers::support(outer, &x) + super::numbers::support(outer, &-x);
    let outline = super::residual::Outline::new(&Profile {
        contours: vec![outer.clone()],
    });
    profile.contours[1..]
        .iter()
        .flat_map(|c| c.points(0.01 * size))
        .map(|p| outline.signed(0, &p).abs())
        .fold(0.1 * size, f64::min)
}

/// Describes a traced body; `None` too where less than the share `least` of its facet area is swept
/// surface and plain ends.
pub fn describe(body: &Body, facets: &Facets, traced: &Traced, least: f64) -> Option<Described> {
    let mut findings = Vec::new();
    let tolerance = face_tolerance(body, traced);
    let sag = super::stretch::sag(&traced.fitted.model, &traced.lateral.observations);
    let thin = thinnest(&traced.fitted.model.profile);
    let slack = tolerance.max((1.1 * sag).min(0.9 * thin));
    let sorted = sort(
        body,
        facets,
        &traced.track,
        &traced.lateral.contour,
        &traced.fitted.model,
        slack,
        slack.max(0.5 * thin),
    );
    let explained_area: f64 = (0..body.facets.len())
        .filter(|&f| sorted.contour[f] != crate::weld::NONE)
        .map(|f| facets.area[f])
        .sum::<f64>()
        + sorted
            .caps
            .iter()
            .filter(|c| c.facing.abs() > 0.25)
            .flat_map(|c| &c.facets)
            .map(|&f| facets.area[f as usize])
            .sum::<f64>();
    let total: f64 = facets.area.iter().sum();
    let explained = if total > 0.0 {
        explained_area / total
    } else {
        0.0
    };
    if explained < least {
        return None;
    }
    let mut ends: Vec<Closing> = if traced.track.closed {
        Vec::new()
    } else {
        closings(body, facets, traced, &sorted).to_vec()
    };
    let (first, last) = extent(&sorted);
    let kept = kept_pieces(&traced.fitted.model, &ends, [first, last]);
    let angle = turn_to_convention(&traced.fitted.model, &kept, &ends);
    let forward = |m: &Model| turned(m, angle);
    let described = measure(
        body,
        facets,
        traced,
        &sorted,
        &ends,
        &forward,
        [first, last],
        &kept,
    )?;
    let mut member = described.0;
    let mut numbers = described.1;
    if !ends.is_empty() {
        // the other reading: ends swapped, path reversed, axes to the convention again
        let total = traced.fitted.model.path.length();
        let back_ends: Vec<Closing> = ends.iter().rev().map(|c| flip_closing(c, total)).collect();
        let kept_back = kept_pieces(
            &reversed(&traced.fitted.model),
            &back_ends,
            [total - last, total - first],
        );
        let angle_back =
            turn_to_convention(&reversed(&traced.fitted.model), &kept_back, &back_ends);
        let backward = |m: &Model| turned(&reversed(m), angle_back);
        let other = measure(
            body,
            facets,
            traced,
            &sorted,
            &back_ends,
            &backward,
            [total - last, total - first],
            &kept_back,
        )?;
        if comes_first(&other.0, &member) {
            member = other.0;
            numbers = other.1;
            ends = back_ends;
        }
    }
    for (e, closing) in ends.iter().enumerate() {
        match closing {
            Closing::Other { .. } => findings.push(Finding::new(
                Code::EndAssumed,
                Severity::Warning,
                format!("End {e} is cut by neither one plane, two planes nor another tube; its length is taken to where the first metal is missing."),
                "Mark this end from the model or ask for a drawing of it.",
            )),
            Closing::Open { .. } => findings.push(Finding::new(
                Code::EndAssumed,
                Severity::Warning,
                format!("End {e} has no face in the model; it is taken to be where the surface stops."),
                "Export the model again as closed solids.",
            )),
            _ => {}
        }
    }
    super::ordinates::fill(&mut member, body, traced, &sorted);
    let corners = match member.section.shape {
        Shape::Angle | Shape::Channel => legs::judge(&member.section),
        _ => Corners::Rolled,
    };
    let cut_faces: f64 = sorted
        .caps
        .iter()
        .filter(|c| c.facing.abs() > 0.25)
        .flat_map(|c| &c.facets)
        .map(|&f| facets.area[f as usize])
        .sum();
    let (mut volume, mut surface_area) = volume_and_area(&numbers, &ends, &member, cut_faces);
    if let Inside::Unseen { rim } = inside(body, traced, &sorted, 0.5 * (first + last))
        && take_back(&mut member, &mut volume, &ends, rim, &mut findings)
    {
        surface_area = None;
    }
    if traced.narrower > 0.0 {
        widen(&mut member, traced.narrower);
        for q in [&mut volume, &mut surface_area].into_iter().flatten() {
            q.plus_minus += traced.narrower * q.value;
        }
    }
    let floor = super::trace::rounding(body) / 3f64.sqrt();
    let free = super::free::is_free(&traced.fitted, floor);
    if free {
        super::free::make_free(&mut member, traced);
    }
    arc_findings(&member, &mut findings);
    let bends = traced
        .fitted
        .model
        .path
        .pieces
        .iter()
        .any(|p| p.curvature != 0.0);
    let exact = traced.fitted.scale < 3.0 * floor && traced.explained > 0.95;
    findings.extend(super::flats::finding(traced, facets));
    Some(Described {
        volume,
        surface_area,
        findings,
        explained,
        hollow: traced.fitted.model.profile.contours.len() > 1,
        corners,
        exact_bends: bends && exact && !free,
        noisy: traced.fitted.scale > NOISY * floor,
        member,
    })
}

/// ± of a section that may be narrower towards the centre of its bends by the share `narrower`.
fn widen(member: &mut Member, narrower: f64) {
    let s = &mut member.section;
    let sizes = [&mut s.diameter, &mut s.height, &mut s.area];
    for q in sizes.into_iter().flatten() {
        q.plus_minus += narrower * q.value;
    }
    let across = s.height.or(s.diameter).map_or(0.0, |q| q.value);
    for span in &mut member.spans {
        if let Span::Arc {
            inside_radius,
            outside_radius,
            ..
        } = span
        {
            for q in [inside_radius, outside_radius].into_iter().flatten() {
                q.plus_minus += 0.5 * narrower * across;
            }
        }
    }
}

/// A closing read from the far end of a path `total` mm long. Faces stand in the file's frame.
fn flip_closing(c: &Closing, total: f64) -> Closing {
    match c {
        Closing::Other { from, to } => Closing::Other {
            from: total - from,
            to: total - to,
        },
        Closing::Open { at } => Closing::Open { at: total - at },
        Closing::Planes(_) | Closing::Saddle(_) => c.clone(),
    }
}

fn kept_pieces(model: &Model, ends: &[Closing], near: [f64; 2]) -> Vec<usize> {
    let (path, _) = centred_path(model);
    if ends.len() < 2 {
        return (0..path.pieces.len()).collect();
    }
    let from = super::numbers::centreline_end(&path, &ends[0], -1.0, near[0]);
    let to = super::numbers::centreline_end(&path, &ends[1], 1.0, near[1]);
    trimmed(&path, from, to)
        .into_iter()
        .map(|(i, ..)| i)
        .collect()
}

/// True when reading `a` comes before reading `b`: span kinds and lengths, end cuts, hole stations;
/// differences inside ± do not count.
fn comes_first(a: &Member, b: &Member) -> bool {
    let list = |m: &Member| -> Vec<Quantity> {
        let mut out = Vec::new();
        for s in &m.spans {
            let (kind, length) = match s {
                Span::Straight { length } => (0.0, *length),
                Span::Arc { length, .. } => (1.0, *length),
                Span::Helix { length, .. } => (2.0, *length),
                Span::Free { length, .. } => (3.0, *length),
            };
            out.push(Quantity::new(kind, 0.0));
            out.push(length);
        }
        for e in &m.ends {
            out.push(Quantity::new(e.cuts.len() as f64, 0.0));
            for c in &e.cuts {
                out.extend([c.off_square, c.tilt_width, c.tilt_height]);
            }
        }
        out.extend(m.holes.iter().filter_map(|h| h.station));
        out
    };
    for (x, y) in list(a).iter().zip(list(b)) {
        if (x.value - y.value).abs() > x.plus_minus + y.plus_minus + 1e-9 {
            return x.value < y.value;
        }
    }
    false
}

/// Standard uncertainties of the integrals that were too costly to differentiate, from those of the
/// section's area and outline and of the length.
fn spread_to_integrals(named: &Numbers, uncertainty: &mut Vec<f64>) {
    let u = |key: &str, uncertainty: &[f64]| -> f64 {
        named
            .index
            .get(key)
            .and_then(|&i| uncertainty.get(i))
            .copied()
            .unwrap_or(0.0)
    };
    let value = |key: &str| named.get(key).unwrap_or(0.0);
    let relative = |key: &str, unc: &[f64]| u(key, unc) / value(key).abs().max(1e-12);
    let known = uncertainty.clone();
    uncertainty.resize(named.values.len(), f64::NAN);
    for (key, base) in [
        ("volume", "area"),
        ("lateral", "outline"),
        ("longest", "length"),
        ("shortest", "length"),
    ] {
        if let Some(&i) = named.index.get(key)
            && uncertainty[i].is_nan()
        {
            uncertainty[i] =
                value(key).abs() * (relative(base, &known) + relative("length", &known));
        }
    }
}

#[allow(clippy::too_many_arguments)]
fn measure(
    body: &Body,
    facets: &Facets,
    traced: &Traced,
    sorted: &Sorted,
    ends: &[Closing],
    view: &dyn Fn(&Model) -> Model,
    near: [f64; 2],
    kept: &[usize],
) -> Option<(Member, Measured)> {
    let setting = Setting {
        closings: ends,
        near,
    };
    let nominal = view(&traced.fitted.model);
    let named = numbers(&nominal, &setting, kept, true);
    let straight = nominal.path.pieces.iter().all(|p| p.curvature == 0.0);
    let plain = ends
        .iter()
        .all(|e| matches!(e, Closing::Planes(p) if p.len() == 1));
    // directions jump by a turn at ±180 degrees; their differences must not
    let directions: Vec<usize> = named
        .index
        .iter()
        .filter(|(name, _)| name.ends_with(".rotation") || name.ends_with(".lean"))
        .map(|(_, &i)| i)
        .collect();
    let (_, mut uncertainty) = traced.fitted.propagate(&|m| {
        let mut values = super::numbers::values(&view(m), &setting, kept, straight && plain);
        for &i in &directions {
            if let (Some(v), Some(at)) = (values.get_mut(i), named.values.get(i)) {
                *v -= 360.0 * ((*v - at) / 360.0).round();
            }
        }
        values
    });
    spread_to_integrals(&named, &mut uncertainty);
    let measured = Measured {
        numbers: named,
        uncertainty,
        floor: FLOOR.max(super::trace::rounding(body)),
    };
    let (path, g) = centred_path(&nominal);
    let section = section(&nominal, &measured, &g)?;
    let face_u = |c: &Closing| match c {
        Closing::Planes(p) => p.first().map_or(0.0, |p| {
            2.0 * p.rms.max(traced.sigma) / (p.count as f64).sqrt()
        }),
        Closing::Saddle(c) => c.plus_minus,
        Closing::Other { from, to } => (to - from).abs(),
        Closing::Open { .. } => 10.0 * traced.sigma + 0.5,
    };
    let ends_u: Vec<f64> = ends.iter().map(face_u).collect();
    let both = ends_u.iter().map(|u| u * u).sum::<f64>().sqrt();
    // ends that pass each other leave nothing between them
    let spans = spans(&nominal, &path, kept, &measured, &ends_u).filter(|s| !s.is_empty())?;
    let closed = ends.is_empty();
    let rise = rise(&spans, &path, &measured, both);
    let centreline = Centreline {
        length: measured.with("length", both),
        chord: if closed {
            None
        } else {
            measured.with("chord", both)
        },
        rise,
        closed,
    };
    let described_ends = if closed {
        Vec::new()
    } else {
        end_list(&path, &measured, ends, traced)
    };
    let straight = spans.iter().all(|s| matches!(s, Span::Straight { .. }));
    let twist = twist(&measured, &described_ends);
    let holes = super::holes::holes(
        body,
        facets,
        traced,
        sorted,
        &path,
        &measured_extent(&measured),
    );
    let member = Member {
        section,
        centreline,
        spans,
        longest_edge: if straight {
            measured.with("longest", both)
        } else {
            None
        },
        shortest_edge: if straight {
            measured.with("shortest", both)
        } else {
            None
        },
        twist,
        ends: described_ends,
        holes,
    };
    Some((member, measured))
}

fn measured_extent(m: &Measured) -> [f64; 2] {
    [
        m.numbers.get("from").unwrap_or(0.0),
        m.numbers.get("to").unwrap_or(0.0),
    ]
}

fn section(model: &Model, m: &Measured, g: &super::profile::Pt2) -> Option<Section> {
    let hollow = model.profile.contours.len() > 1;
    let width = m.get("0.size0");
    let height = m.get("0.size1");
    let slack = match (width, height) {
        (Some(w), Some(h)) => 2.0 * (w.plus_minus + h.plus_minus) + 2e-4 * w.value,
        _ => 0.0,
    };
    let shape = shape_of(&model.profile, slack);
    let corner = |contour: usize, convex: bool| -> Option<Quantity> {
        let Contour::Sides(sides) = model.profile.contours.get(contour)? else {
            return None;
        };
        let n = sides.len();
        let found = (0..n).find(|&j| {
            ((sides[(j + 1) % n].normal - sides[j].normal).sin() > 0.0) == convex
                && sides[j].corner > 0.0
        });
        match found {
            Some(j) => m.get(&format!("{contour}.corner{j}")),
            None => Some(Quantity::new(0.0, m.floor)),
        }
    };
    let half_difference = |a: Option<Quantity>, b: Option<Quantity>| -> Option<Quantity> {
        let (a, b) = (a?, b?);
        Some(Quantity::new(
            0.5 * (a.value - b.value),
            0.5 * (a.plus_minus.hypot(b.plus_minus)) + 0.5 * m.floor,
        ))
    };
    let mut s = Section {
        shape,
        diameter: None,
        width: None,
        height: None,
        wall: None,
        web_thickness: None,
        flange_thickness: None,
        corner_radius: None,
        inner_corner_radius: None,
        area: m.get("area").map(|a| {
            Quantity::new(
                a.value,
                a.plus_minus + m.floor * m.numbers.get("outline").unwrap_or(0.0),
            )
        }),
        stock: None,
        contours: model
            .profile
            .contours
            .iter()
            .map(|c| {
                c.points(0.01)
                    .iter()
                    .map(|p| [p.x - g.x, p.y - g.y])
                    .collect()
            })
            .collect(),
    };
    match shape {
        Shape::Round | Shape::RoundBar => {
            s.diameter = m.get("0.diameter");
            if hollow {
                s.wall = half_difference(s.diameter, m.get("1.diameter"));
            }
        }
        Shape::Square | Shape::Rect | Shape::SquareBar | Shape::FlatBar => {
            s.width = width;
            s.height = height;
            s.corner_radius = corner(0, true);
            if hollow {
                let a = half_difference(width, m.get("1.size0"))?;
                let b = half_difference(height, m.get("1.size1"))?;
                s.wall = Some(Quantity::new(
                    0.5 * (a.value + b.value),
                    a.plus_minus
                        .max(b.plus_minus)
                        .max(0.5 * (a.value - b.value).abs()),
                ));
                s.inner_corner_radius = corner(1, true);
            }
        }
        Shape::Angle | Shape::Channel => {
            s.width = width;
            s.height = height;
            s.inner_corner_radius = corner(0, false);
            if let Contour::Sides(sides) = &model.profile.contours[0] {
                legs_of(&mut s, sides, m);
            }
        }
        Shape::Other => {
            s.width = width;
            s.height = height;
        }
    }
    Some(s)
}

/// Thicknesses and heel radius of an angle or channel.
fn legs_of(section: &mut Section, sides: &[super::profile::Side], m: &Measured) {
    let corners = legs::corners(sides);
    section.corner_radius = match corners.iter().find(|c| sides[c.heel].corner > 0.0) {
        Some(c) => m.get(&format!("0.corner{}", c.heel)),
        None => Some(Quantity::new(0.0, m.floor)),
    };
    let thickness = |(i, j): (usize, usize)| {
        let (a, b) = (
            m.get(&format!("0.offset{i}"))?,
            m.get(&format!("0.offset{j}"))?,
        );
        Some(Quantity::new(
            (a.value + b.value).abs(),
            a.plus_minus.hypot(b.plus_minus),
        ))
    };
    let legs: Option<Vec<Quantity>> = legs::legs(&corners).into_iter().map(thickness).collect();
    let legs = legs.unwrap_or_default();
    let same = |a: Quantity, b: Quantity| {
        (a.value - b.value).abs() < 2e-3 * a.value.max(b.value) + 4.0 * a.plus_minus
    };
    let mean = |a: Quantity, b: Quantity| {
        Quantity::new(
            0.5 * (a.value + b.value),
            a.plus_minus.max(b.plus_minus) + 0.5 * (a.value - b.value).abs(),
        )
    };
    match legs[..] {
        [a, b] if same(a, b) => section.wall = Some(if a.value < b.value { a } else { b }),
        [below, web, above] => {
            section.web_thickness = Some(web);
            section.flange_thickness = same(below, above).then(|| mean(below, above));
            if same(below, above) && same(below, web) && same(above, web) {
                section.wall = [below, web, above]
                    .into_iter()
                    .min_by(|a, b| a.value.total_cmp(&b.value));
            }
        }
        _ => {}
    }
}

fn spans(
    model: &Model,
    path: &super::path::Path,
    kept: &[usize],
    m: &Measured,
    ends_u: &[f64],
) -> Option<Vec<Span>> {
    let _ = model;
    let mut out = Vec::new();
    for (k, &i) in kept.iter().enumerate() {
        let mut extra = 0.0f64;
        if k == 0 {
            extra = extra.hypot(ends_u.first().copied().unwrap_or(0.0));
        }
        if k + 1 == kept.len() {
            extra = extra.hypot(ends_u.get(1).copied().unwrap_or(0.0));
        }
        let key = |name: &str| format!("span{k}.{name}");
        let length = m.with(&key("length"), extra)?;
        let piece = super::model::tidy(&path.pieces[i]);
        let f = path.frame_of(i);
        let c = f.h * piece.bend.cos() - f.w * piece.bend.sin();
        if piece.curvature == 0.0 {
            out.push(Span::Straight { length });
        } else if piece.torsion != 0.0 {
            let omega = f.t.cross(&c) * piece.curvature + f.t * piece.torsion;
            let total = omega.norm_squared();
            out.push(Span::Helix {
                length,
                radius: m.get(&key("helix_radius"))?,
                pitch: m.get(&key("pitch"))?,
                turns: m.with(&key("turns"), extra * total.sqrt() / std::f64::consts::TAU)?,
                hand: if piece.torsion > 0.0 {
                    Hand::Right
                } else {
                    Hand::Left
                },
                centre: place(&(f.point + c * (piece.curvature / total))),
                axis: array(&omega.normalize()),
            });
        } else {
            let curvature = m.get(&key("curvature"))?;
            let curvature = Quantity::new(
                curvature.value,
                // the floor of a millimetre number means nothing here: a micrometre of rise over the arc
                (curvature.plus_minus - m.floor).max(0.0)
                    + 8.0 * m.floor / length.value.powi(2).max(1e-9),
            );
            let angle = m.with(&key("angle"), (extra * curvature.value).to_degrees())?;
            let spread = curvature.plus_minus / curvature.value;
            let sure = spread < 0.5;
            let radius_pm =
                |r: f64| 1.0 / curvature.value * spread / (1.0 - spread) + 0.0 * r + m.floor;
            let radius = sure.then(|| Quantity::new(1.0 / curvature.value, radius_pm(1.0)));
            let shifted = |name: &str| {
                let q = m.get(&key(name))?;
                sure.then(|| Quantity::new(q.value, q.plus_minus.max(radius_pm(1.0))))
            };
            out.push(Span::Arc {
                length,
                radius,
                angle,
                inside_radius: shifted("inside"),
                outside_radius: shifted("outside"),
                rotation: m.get(&key("rotation")),
                curvature,
                rise: m.get(&key("rise"))?,
                centre: place(&(f.point + c / piece.curvature)),
                axis: array(&f.t.cross(&c)),
            });
        }
    }
    Some(out)
}

/// Greatest distance of a planar centreline from its chord, mm.
fn rise(spans: &[Span], path: &super::path::Path, m: &Measured, extra: f64) -> Option<Quantity> {
    if let [Span::Arc { rise, .. }] = spans {
        return Some(Quantity::new(
            rise.value,
            rise.plus_minus.hypot(0.5 * extra),
        ));
    }
    let planar = spans.iter().all(|s| match s {
        Span::Straight { .. } => true,
        Span::Arc {
            rotation: Some(r), ..
        } => r.value.abs() < 0.2 || (r.value.abs() - 180.0).abs() < 0.2,
        Span::Arc { .. } => true,
        _ => false,
    });
    let bent = spans.iter().any(|s| matches!(s, Span::Arc { .. }));
    if !planar || !bent {
        return None;
    }
    let [from, to] = measured_extent(m);
    let (a, b) = (path.at(from).point, path.at(to).point);
    let along = (b - a).try_normalize(1e-9)?;
    let height = (0..=2000)
        .map(|k| {
            let d = path.at(from + (to - from) * k as f64 / 2000.0).point - a;
            (d - along * d.dot(&along)).norm()
        })
        .fold(0.0, f64::max);
    let chord = m.with("chord", extra)?;
    Some(Quantity::new(height, chord.plus_minus + 1e-6 * height))
}

fn end_list(path: &super::path::Path, m: &Measured, ends: &[Closing], traced: &Traced) -> Vec<End> {
    let at = measured_extent(m);
    let mut out = Vec::new();
    for (e, side) in [(0usize, -1.0), (1, 1.0)] {
        let f = path.at(at[e]);
        let t = f.t * side;
        let mut end = End {
            shape: EndShape::Other,
            point: place(&f.point),
            tangent: array(&t),
            width_axis: array(&f.w),
            height_axis: array(&f.h),
            cuts: Vec::new(),
            saddle: None,
            ordinates: Vec::new(),
        };
        match &ends[e] {
            Closing::Planes(planes) => {
                end.shape = if planes.len() == 1 {
                    EndShape::Plane
                } else {
                    EndShape::Double
                };
                for (j, p) in planes.iter().enumerate() {
                    let u = (2.0 * p.rms.max(traced.sigma)
                        / ((p.count as f64).sqrt() * p.spread.max(1e-6)))
                    .to_degrees();
                    let key = |name: &str| m.with(&format!("end{e}.cut{j}.{name}"), u);
                    if let (Some(off_square), Some(tilt_width), Some(tilt_height)) =
                        (key("off"), key("tilt_w"), key("tilt_h"))
                    {
                        end.cuts.push(Cut {
                            off_square,
                            tilt_width,
                            tilt_height,
                            normal: array(&p.normal),
                            point: place(&cut_point(&f.point, &t, &p.point, &p.normal)),
                        });
                    }
                }
                end.cuts
                    .sort_by(|a, b| a.off_square.value.total_cmp(&b.off_square.value));
            }
            Closing::Saddle(c) => {
                end.shape = EndShape::Saddle;
                if let (Some(angle), Some(offset)) = (
                    m.get(&format!("end{e}.angle")),
                    m.get(&format!("end{e}.offset")),
                ) {
                    let spread = (c.plus_minus / c.radius).to_degrees();
                    end.saddle = Some(Saddle {
                        diameter: Quantity::new(2.0 * c.radius, 2.0 * c.plus_minus + m.floor),
                        angle: Quantity::new(angle.value, angle.plus_minus + spread),
                        offset: Quantity::new(offset.value, offset.plus_minus + c.plus_minus),
                        point: place(&c.point),
                        axis: array(&c.axis),
                    });
                }
            }
            Closing::Other { .. } | Closing::Open { .. } => {}
        }
        out.push(end);
    }
    out
}

/// How far the far end's cut is turned against the first, degrees in (−180, 180].
fn twist(m: &Measured, ends: &[End]) -> Option<Quantity> {
    let [a, b] = ends else { return None };
    let lean = |e: &End, k: usize| -> Option<Quantity> {
        let [cut] = &e.cuts[..] else { return None };
        // a square cut leans nowhere
        if cut.off_square.value < 3.0 * cut.off_square.plus_minus + 0.02 {
            return None;
        }
        let q = m.get(&format!("end{k}.cut0.lean"))?;
        let spread = cut.off_square.plus_minus / cut.off_square.value.to_radians().sin();
        Some(Quantity::new(q.value, q.plus_minus + spread))
    };
    let (x, y) = (lean(a, 0)?, lean(b, 1)?);
    let turn = y.value - x.value;
    let turn = turn - 360.0 * ((turn - 1e-9) / 360.0).round();
    Some(Quantity::new(turn, x.plus_minus.hypot(y.plus_minus)))
}

fn arc_findings(member: &Member, findings: &mut Vec<Finding>) {
    for (k, s) in member.spans.iter().enumerate() {
        if let Span::Arc {
            radius: None,
            curvature,
            length,
            ..
        } = s
        {
            let least = 1.0 / (curvature.value + curvature.plus_minus);
            findings.push(Finding::new(
                Code::ArcUnclear,
                Severity::Warning,
                format!(
                    "Span {} bends so little over its {:.0} mm that straight cannot be ruled out: its radius is at least {:.0} mm.",
                    k + 1,
                    length.value,
                    least
                ),
                "Go by the rise, not by the radius, or ask for the radius.",
            ));
        }
    }
}

/// Volume and area of the design solid; `cut_faces` is the area of the facets of the end faces, mm².
fn volume_and_area(
    m: &Measured,
    ends: &[Closing],
    member: &Member,
    cut_faces: f64,
) -> (Option<Quantity>, Option<Quantity>) {
    let Some(section_area) = m.get("area") else {
        return (None, None);
    };
    let outline = m.numbers.get("outline").unwrap_or(0.0);
    let plain = ends
        .iter()
        .all(|e| matches!(e, Closing::Planes(_) | Closing::Saddle(_)));
    if !plain {
        return (None, None);
    }
    let single = member.ends.iter().all(|e| e.cuts.len() == 1);
    let faces = if single {
        member
            .ends
            .iter()
            .map(|e| section_area.value / e.cuts[0].off_square.value.to_radians().cos().max(0.05))
            .sum()
    } else {
        cut_faces
    };
    let (hole_volume, hole_area) = member
        .holes
        .iter()
        .map(|h| removed(h, member))
        .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
    let known = member.holes.iter().all(|h| {
        h.kind != super::HoleKind::Cutout
            || h.corner_radius.is_some()
                && (h.metal.is_some() || member.section.wall.is_some())
                && member.section.diameter.is_none()
    });
    if !known {
        return (None, None);
    }
    let length = m.numbers.get("length").unwrap_or(0.0);
    let volume = m.get("volume").map(|q| {
        let doubt = 0.02 * hole_volume
            + if single {
                0.0
            } else {
                0.02 * section_area.value
            };
        Quantity::new(
            q.value - hole_volume,
            q.plus_minus + m.floor * outline * length + doubt + 1e-5 * q.value,
        )
    });
    let surface = m.get("lateral").map(|q| {
        let doubt = 0.05 * hole_area.abs() + if single { 0.002 } else { 0.03 } * faces;
        Quantity::new(
            q.value + faces - hole_area,
            q.plus_minus + m.floor * length + doubt + 1e-5 * q.value,
        )
    });
    (volume, surface)
}

/// Metal volume a hole takes out (mm³) and by how much it makes the area of all faces less (mm²).
/// The wall is taken where the hole crosses it: flat, or round about the member's axis.
fn removed(h: &super::MemberHole, member: &Member) -> (f64, f64) {
    let n = h.walls as f64;
    let section = &member.section;
    let value = |q: Option<Quantity>| q.map(|q| q.value);
    let flat = |face: f64, rim: f64| -> Option<(f64, f64)> {
        // a bar has two faces however thick it is, every wall or leg has two
        let bar = matches!(section.shape, Shape::FlatBar | Shape::SquareBar);
        let faces = if bar { 2.0 } else { 2.0 * n };
        let metal = value(section.wall).map(|w| n * w).or(value(h.metal))?;
        Some((face * metal, faces * face - rim * metal))
    };
    let Some(d) = value(h.diameter) else {
        let sides = value(h.length).zip(value(h.width));
        return sides
            .zip(value(h.corner_radius))
            .and_then(|((l, w), r)| {
                let (face, rim) = super::window::rounded_rectangle(l, w, r);
                flat(face, rim)
            })
            .unwrap_or((0.0, 0.0));
    };
    let extra = h.length.map_or(0.0, |l| l.value - d);
    let face = std::f64::consts::FRAC_PI_4 * d * d + extra * d;
    let rim = std::f64::consts::PI * d + 2.0 * extra;
    if let Some(diameter) = section.diameter.map(|q| q.value) {
        // depth of metal along the axis at distance y from it: √(ro² − y²) − √(ri² − y²)
        let (ro, ri) = (
            0.5 * diameter,
            section.wall.map_or(0.0, |w| 0.5 * diameter - w.value),
        );
        let chord = |r: f64, y: f64| (r * r - y * y).max(0.0).sqrt();
        let steps = 400;
        let (mut volume, mut wall, mut outer, mut inner) = (0.0, 0.0, 0.0, 0.0);
        let r = 0.5 * d;
        for k in 0..steps {
            let angle = std::f64::consts::TAU * (k as f64 + 0.5) / steps as f64;
            let y = r * angle.sin();
            // dA = r² sin²(angle) d(angle) sweeps the disc in strips of equal y twice
            let strip = r * r * angle.cos() * angle.cos() * std::f64::consts::TAU / steps as f64;
            let depth = chord(ro, y) - chord(ri, y);
            volume += depth * strip;
            wall += depth * r * std::f64::consts::TAU / steps as f64;
            outer += strip * ro / chord(ro, y).max(1e-9);
            if ri > 0.0 {
                inner += strip * ri / chord(ri, y).max(1e-9);
            }
        }
        let slot = extra * d;
        let flat_wall = ro - ri;
        volume += slot * flat_wall;
        return (
            n * volume,
            n * (outer + inner + 2.0 * slot - wall - 2.0 * extra * flat_wall),
        );
    }
    match flat(face, rim) {
        Some(removed) => removed,
        None => {
            // right through a solid bar: its depth is the side it crosses
            let across = [section.width, section.height]
                .into_iter()
                .flatten()
                .map(|q| q.value)
                .fold(f64::INFINITY, f64::min);
            if across.is_finite() {
                (face * across, 2.0 * face - rim * across)
            } else {
                (0.0, 0.0)
            }
        }
    }
}
