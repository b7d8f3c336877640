//! Fits between neighbours: what each cut end lands on, and where parts stand apart or run into each
//! other. Nobody can test-fit a drawing, so how much and where is said.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::Settings;
use super::stand::{Stand, Standing};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::bvh::TriangleTree;
use crate::geometry::{Pt3, Vec3};
use crate::measure::Show;
use crate::member::{End, EndShape, Member};
use crate::shop::allowance::{cut_reach, saddle_reach};
use crate::shop::text::{self, distance};

/// A cut end and what it lands on.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Landing {
    /// Piece mark.
    pub mark: String,
    /// End of the member, 0 or 1.
    pub end: u32,
    /// Mark of the part it lands on; null where nothing is near.
    pub on: Option<String>,
    /// Ends alike, in all models.
    pub count: u32,
    /// Least and greatest distance of the end's face from that part, square to the cut, mm; less than
    /// nothing where it runs in. Null where nothing is near.
    pub off: Option<[f64; 2]>,
    /// What the facets of the other part leave in doubt, mm.
    pub plus_minus: f64,
    /// Share of the face that has the other part before it.
    pub covered: f64,
    /// Middle of one of the ends, file frame, mm.
    pub at: [f64; 3],
}

/// Two parts that stand apart a little, or run into each other.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Near {
    /// Marks.
    pub marks: [String; 2],
    /// Places alike, in all models.
    pub count: u32,
    /// Distance, mm; less than nothing is the depth one stands in the other, at least.
    pub distance: f64,
    /// What the facets leave in doubt, mm.
    pub plus_minus: f64,
    /// One of the places, file frame, mm.
    pub at: [f64; 3],
}

/// Neighbours of a model.
#[derive(Clone, Debug, Default)]
pub struct Neighbours {
    /// Those that don't touch flush.
    pub lines: Vec<Near>,
    /// Bodies that touch or run into each other.
    pub touching: Vec<(usize, usize)>,
}

/// How far before an end another part is looked for, in multiples of the reach.
const LOOK: f64 = 4.0;

/// What the cut ends of a model land on.
#[derive(Clone, Debug, Default)]
pub struct Landings {
    /// Alike ones in one line.
    pub lines: Vec<Landing>,
    /// Bodies of which the one ends on the other.
    pub pairs: Vec<(usize, usize)>,
}

/// What every cut end lands on.
pub fn landings(stand: &Stand, settings: &Settings, findings: &mut Vec<Finding>) -> Landings {
    let mut alike: BTreeMap<String, usize> = BTreeMap::new();
    let mut out: Vec<Landing> = Vec::new();
    let mut pairs = Vec::new();
    for piece in &stand.pieces {
        let Some(member) = &piece.part.member else {
            continue;
        };
        for (number, end) in member.ends.iter().enumerate() {
            let look = settings.reach * LOOK;
            let Some((found, body)) = landing(stand, piece, member, end, look) else {
                continue;
            };
            pairs.extend(body.map(|body| (piece.body, body)));
            let found = Landing {
                end: number as u32,
                ..found
            };
            // + 0.0 takes the sign from a zero
            let off = found.off.map(|o| o.map(|d| (d * 10.0).round() + 0.0));
            let key = format!("{} {number} {:?} {off:?}", found.mark, found.on);
            match alike.get(&key) {
                Some(&k) => out[k].count += stand.quantity,
                None => {
                    alike.insert(key, out.len());
                    out.push(found);
                }
            }
        }
    }
    out.sort_by(|a, b| (&a.mark, a.end, &a.on).cmp(&(&b.mark, b.end, &b.on)));
    findings.extend(findings_of(&out, settings.reach, settings.show));
    Landings { lines: out, pairs }
}

/// One finding for all ends of a part that stand alike.
fn findings_of(landings: &[Landing], reach: f64, show: Show) -> Vec<Finding> {
    let mut alike: Vec<Landing> = Vec::new();
    for landing in landings {
        let same = |l: &&mut Landing| {
            let near = |k: usize| match (l.off, landing.off) {
                (Some(a), Some(b)) => (a[k] - b[k]).abs() < 0.1,
                _ => false,
            };
            l.mark == landing.mark && l.on == landing.on && near(0) && near(1)
        };
        match alike.iter_mut().find(same) {
            Some(known) => known.count += landing.count,
            None => alike.push(landing.clone()),
        }
    }
    alike.iter().filter_map(|l| told(l, reach, show)).collect()
}

/// Places on the face of an end, and the way out of the metal there.
fn face(member: &Member, end: &End) -> Option<Vec<(Pt3, Vec3)>> {
    let contour = member.section.contours.first()?;
    let inset = match member.section.wall {
        Some(wall) => wall.value / 2.0,
        None => {
            let sizes = [
                member.section.width,
                member.section.height,
                member.section.diameter,
            ];
            0.1 * sizes
                .into_iter()
                .flatten()
                .map(|q| q.value)
                .fold(f64::INFINITY, f64::min)
        }
    };
    if !inset.is_finite() {
        return None;
    }
    let mut out = Vec::new();
    for (k, a) in contour.iter().enumerate() {
        let b = contour[(k + 1) % contour.len()];
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let long = dx.hypot(dy);
        // corners of a round part of the contour stand close: every place counts by its length
        let places = (long / (8.0 * inset)).clamp(1.0, 6.0) as usize;
        if long < 1e-6 {
            continue;
        }
        for n in 0..places {
            let share = (n as f64 + 0.5) / places as f64;
            let x = a[0] + share * dx - inset * dy / long;
            let y = a[1] + share * dy + inset * dx / long;
            out.extend(place(end, x, y));
        }
    }
    (!out.is_empty()).then_some(out)
}

fn place(end: &End, x: f64, y: f64) -> Option<(Pt3, Vec3)> {
    let tangent = Vec3::from(end.tangent);
    let fibre =
        Pt3::from(end.point) + Vec3::from(end.width_axis) * x + Vec3::from(end.height_axis) * y;
    match end.shape {
        EndShape::Plane | EndShape::Double => {
            let at = fibre + tangent * cut_reach(end, x, y)?;
            let plane = |cut: &&crate::member::Cut| {
                (at - Pt3::from(cut.point))
                    .dot(&Vec3::from(cut.normal))
                    .abs()
            };
            let cut = end
                .cuts
                .iter()
                .min_by(|a, b| plane(a).total_cmp(&plane(b)))?;
            Some((at, Vec3::from(cut.normal)))
        }
        EndShape::Saddle => {
            let saddle = end.saddle.as_ref()?;
            let at = fibre + tangent * saddle_reach(end, saddle, x, y)?;
            let axis = Vec3::from(saddle.axis);
            let off = Pt3::from(saddle.point) - at;
            Some((at, (off - axis * off.dot(&axis)).try_normalize(1e-9)?))
        }
        EndShape::Other => None,
    }
}

/// What an end lands on, and the body of it; `None` where the face of the end can't be told.
fn landing(
    stand: &Stand,
    piece: &Standing,
    member: &Member,
    end: &End,
    look: f64,
) -> Option<(Landing, Option<usize>)> {
    let places = face(member, end)?;
    let far = f64::INFINITY;
    let low = places
        .iter()
        .fold(Pt3::new(far, far, far), |l, (p, _)| l.inf(p));
    let high = places
        .iter()
        .fold(Pt3::new(-far, -far, -far), |h, (p, _)| h.sup(p));
    let mut best: Option<(Landing, usize)> = None;
    for body in stand.near(piece.body, (low, high), look) {
        let met: Vec<(f64, f64)> = places
            .iter()
            .filter_map(|(at, out)| {
                let crossings = stand.crossings(body, at, out, look);
                let first = crossings
                    .iter()
                    .filter(|c| c.inward)
                    .min_by(|a, b| a.way.abs().total_cmp(&b.way.abs()))?;
                Some((first.way, f64::from(stand.sag[body][first.facet])))
            })
            .collect();
        let covered = met.len() as f64 / places.len() as f64;
        // an edge that happens to pass is no landing
        if covered < 0.2 {
            continue;
        }
        let least = met.iter().map(|m| m.0).fold(f64::INFINITY, f64::min);
        let most = met.iter().map(|m| m.0).fold(f64::NEG_INFINITY, f64::max);
        let doubt = met
            .iter()
            .map(|m| m.1)
            .fold(stand.bodies[body].quantum, f64::max);
        let found = Landing {
            mark: piece.mark.clone(),
            end: 0,
            on: Some(stand.name(body)),
            count: stand.quantity,
            off: Some([least, most]),
            plus_minus: doubt,
            covered,
            at: end.point,
        };
        let rank = |l: &Landing| {
            let off = l.off.map_or(f64::INFINITY, |o| o[0].abs().max(o[1].abs()));
            off - 2.0 * l.covered
        };
        if best.as_ref().is_none_or(|(b, _)| rank(&found) < rank(b)) {
            best = Some((found, body));
        }
    }
    // pieces drawn as one solid have no face between them
    let joined = stand.piece_of.get(piece.body).is_some_and(Option::is_none);
    if joined
        && best.as_ref().is_none_or(|(b, _)| !flush(b))
        && runs_on(stand, piece.body, &places, look)
    {
        let own = Landing {
            mark: piece.mark.clone(),
            end: 0,
            on: Some(stand.others(piece.body, &piece.mark)),
            count: stand.quantity,
            off: Some([0.0; 2]),
            plus_minus: stand.bodies[piece.body].quantum,
            covered: 1.0,
            at: end.point,
        };
        return Some((own, None));
    }
    if let Some((found, body)) = best {
        return Some((found, Some(body)));
    }
    let none = Landing {
        mark: piece.mark.clone(),
        end: 0,
        on: None,
        count: stand.quantity,
        off: None,
        plus_minus: 0.0,
        covered: 0.0,
        at: end.point,
    };
    Some((none, None))
}

fn flush(landing: &Landing) -> bool {
    let doubt = landing.plus_minus + FLUSH;
    landing
        .off
        .is_some_and(|off| off.iter().all(|d| d.abs() <= doubt))
}

/// Whether the metal of the body goes on beyond most of these places.
fn runs_on(stand: &Stand, body: usize, places: &[(Pt3, Vec3)], look: f64) -> bool {
    let beyond = places.iter().filter(|(at, out)| {
        let crossings = stand.crossings(body, at, out, look);
        crossings
            .iter()
            .find(|c| c.way > FLUSH)
            .is_some_and(|c| !c.inward)
    });
    2 * beyond.count() > places.len()
}

/// Distances a weld or a file closes without a thought, mm.
const FLUSH: f64 = 0.1;

/// What is farther off than the reach is no neighbour: that end is free.
fn told(landing: &Landing, reach: f64, show: Show) -> Option<Finding> {
    let ([least, most], on) = (landing.off?, landing.on.as_ref()?);
    let doubt = landing.plus_minus + FLUSH;
    let place = format!("at {}", text::place(landing.at, show));
    let (head, s) = match landing.count {
        1 => (format!("An end of {}", landing.mark), "s"),
        n => (format!("{n} ends of {}", landing.mark), ""),
    };
    let place = if landing.count > 1 {
        format!("one {place}")
    } else {
        place
    };
    let (code, severity, message, remedy) = match () {
        () if least < -doubt => (
            Code::PartsOverlap,
            Severity::Warning,
            format!(
                "{head} run{s} up to {} into {on} ({place}).",
                distance(-least, show)
            ),
            "Shorten it, or cut the other part out for it.",
        ),
        () if most > doubt && least <= reach => {
            let range = match most - least > FLUSH {
                true => format!(
                    "{} to {}",
                    distance(least.max(0.0), show),
                    distance(most, show)
                ),
                false => distance(most, show),
            };
            (
                Code::PartsApart,
                Severity::Note,
                format!("{head} stand{s} {range} off {on} ({place})."),
                "Leave it where the gap is meant for the weld; else lengthen the piece or correct the angle.",
            )
        }
        () => return None,
    };
    let mut finding = Finding::new(code, severity, message, remedy);
    finding.part = Some(landing.mark.clone());
    Some(finding)
}

/// More pairs than these are counted, not named: nobody reads them.
const MOST_NAMED: usize = 300;

/// Bodies that touch, stand apart by no more than the reach, or run into each other.
///
/// What `landings` say already is listed, but no finding of its own.
pub fn neighbours(
    stand: &Stand,
    settings: &Settings,
    landings: &[Landing],
    findings: &mut Vec<Finding>,
) -> Neighbours {
    let reach = settings.reach;
    let trees: Vec<TriangleTree> = stand
        .bodies
        .iter()
        .map(|b| TriangleTree::new(&b.vertices, &b.facets))
        .collect();
    let mut out = Neighbours::default();
    let mut alike: BTreeMap<String, usize> = BTreeMap::new();
    for a in 0..stand.bodies.len() {
        for b in stand
            .near(a, stand.boxes[a], reach)
            .into_iter()
            .filter(|&b| b > a)
        {
            let Some((distance, doubt, at)) = apart(stand, &trees, a, b, reach) else {
                continue;
            };
            if distance <= doubt {
                out.touching.push((a, b));
            }
            if distance.abs() <= doubt + 0.01 {
                continue;
            }
            let mut marks = [stand.name(a), stand.name(b)];
            marks.sort();
            let key = format!("{marks:?} {:.1}", distance);
            match alike.get(&key) {
                Some(&k) => out.lines[k].count += stand.quantity,
                None => {
                    alike.insert(key, out.lines.len());
                    out.lines.push(Near {
                        marks,
                        count: stand.quantity,
                        distance,
                        plus_minus: doubt,
                        at: at.into(),
                    });
                }
            }
        }
    }
    out.lines.sort_by(|a, b| {
        a.marks
            .cmp(&b.marks)
            .then(a.distance.total_cmp(&b.distance))
    });
    let said = |near: &Near| {
        let pair = |l: &&Landing| {
            let [a, b] = &near.marks;
            let on = l.on.as_ref();
            (l.mark == *a && on == Some(b)) || (l.mark == *b && on == Some(a))
        };
        landings
            .iter()
            .filter(pair)
            .any(|l| told(l, reach, settings.show).is_some())
    };
    let mut named: Vec<&Near> = out.lines.iter().filter(|near| !said(near)).collect();
    let more = named.len().saturating_sub(MOST_NAMED);
    if more > 0 {
        // the deepest and the nearest are named
        named.sort_by(|a, b| a.distance.total_cmp(&b.distance));
        named.truncate(MOST_NAMED);
        findings.push(Finding::new(
            Code::PartsApart,
            Severity::Note,
            format!("{more} more pairs of pieces that stand near each other are not named."),
            "Read a smaller reach, or look at the places in the JSON.",
        ));
    }
    findings.extend(named.iter().map(|near| noted(near, settings.show)));
    out
}

fn noted(near: &Near, show: Show) -> Finding {
    let place = format!(
        "{} times, one at {}",
        near.count,
        text::place(near.at, show)
    );
    let [a, b] = &near.marks;
    let (code, severity, message, remedy) = match near.distance < 0.0 {
        true => (
            Code::PartsOverlap,
            Severity::Warning,
            format!(
                "{a} and {b} run into each other by at least {} ({place}).",
                distance(-near.distance, show)
            ),
            "Cut one out for the other, or ask which one gives way.",
        ),
        false => (
            Code::PartsApart,
            Severity::Note,
            format!(
                "{a} and {b} stand {} apart at the nearest ({place}).",
                distance(near.distance, show)
            ),
            "Leave it where it is meant so; else pack it or correct the part.",
        ),
    };
    let mut finding = Finding::new(code, severity, message, remedy);
    finding.part = Some(a.clone());
    finding
}

/// Least distance of two bodies (less than nothing: depth), what is in doubt about it, and where.
/// `None` where they are farther apart than `reach`.
fn apart(
    stand: &Stand,
    trees: &[TriangleTree],
    a: usize,
    b: usize,
    reach: f64,
) -> Option<(f64, f64, Pt3)> {
    let mut best: Option<(f64, f64, Pt3)> = None;
    let mut deepest: Option<(f64, f64, Pt3)> = None;
    for (one, other) in [(a, b), (b, a)] {
        let (low, high) = stand.boxes[other];
        let by = Vec3::repeat(reach);
        for (p, own) in samples(&stand.bodies[one], &stand.sag[one], (low - by, high + by)) {
            let Some((_, facet, d)) = trees[other].closest(&p, (high - low).norm()) else {
                continue;
            };
            let doubt = 2.0 * (own + f64::from(stand.sag[other][facet as usize]))
                + 4.0 * (stand.bodies[one].quantum + stand.bodies[other].quantum);
            if d > doubt && stand.bodies[other].closed && trees[other].holds(&p) {
                if deepest.is_none_or(|(depth, ..)| -d < depth) {
                    deepest = Some((-d, doubt, p));
                }
            } else if d <= reach && best.is_none_or(|(least, ..)| d < least) {
                best = Some((d, doubt, p));
            }
        }
    }
    deepest.or(best)
}

/// Vertices in a box, and places on the edges that pass through it, each with how far its facet may lie
/// inside the true surface.
fn samples(body: &Body, sag: &[f32], (low, high): (Pt3, Pt3)) -> Vec<(Pt3, f64)> {
    let inside = |p: &Pt3| (0..3).all(|i| p[i] >= low[i] && p[i] <= high[i]);
    let mut out = Vec::new();
    let mut seen = vec![false; body.vertices.len()];
    for (facet, &sag) in body.facets.iter().zip(sag) {
        let sag = f64::from(sag);
        for k in 0..3 {
            let (i, j) = (facet[k], facet[(k + 1) % 3]);
            let (p, q) = (body.vertices[i as usize], body.vertices[j as usize]);
            if !std::mem::replace(&mut seen[i as usize], true) && inside(&p) {
                out.push((p, sag));
            }
            if i > j {
                continue;
            }
            let Some((from, to)) = clipped(&p, &q, &low, &high) else {
                continue;
            };
            for n in 1..6 {
                out.push((p + (q - p) * (from + (to - from) * f64::from(n) / 6.0), sag));
            }
        }
    }
    out
}

/// The shares of a line from `p` to `q` between which it lies in a box.
fn clipped(p: &Pt3, q: &Pt3, low: &Pt3, high: &Pt3) -> Option<(f64, f64)> {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for i in 0..3 {
        let d = q[i] - p[i];
        if d.abs() < 1e-12 {
            if p[i] < low[i] || p[i] > high[i] {
                return None;
            }
            continue;
        }
        let (a, b) = ((low[i] - p[i]) / d, (high[i] - p[i]) / d);
        from = from.max(a.min(b));
        to = to.min(a.max(b));
    }
    (from < to).then_some((from, to))
}
