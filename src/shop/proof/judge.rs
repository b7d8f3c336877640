//! What is wrong with a piece, and the one answer for the whole program.

use super::compare::{Cut, Ready};
use super::contours::{Contour, Contours};
use super::piece::{Place, extent};
use super::program::{Language, Program, Saying, Side};
use super::recognise::{Candidate, Hand, Known, Reading, recognise};
use super::words::{self, counted, some};
use super::{Answer, Asked, KerfSide, Piece, Seen, Spot, sheet, together};
use crate::measure::{Unit, quantity};
use crate::report::Report;
use crate::shop::Origin;
use crate::shop::check::Verdict;
use crate::shop::check::decision::verdict;
use crate::shop::text::with_unit;

/// A piece with its answer and what a picture shows of it.
pub struct Judged {
    /// The answer.
    pub piece: Piece,
    /// Rings of the plate in the program's coordinates.
    pub plate: Vec<Vec<Place>>,
    /// What is wrong, where.
    pub spots: Vec<Spot>,
}

/// What has been found of a piece so far.
struct Case<'a> {
    report: &'a Report,
    candidates: &'a [Candidate],
    found: &'a Contours,
    ready: &'a Ready,
    program: &'a Program,
    asked: &'a Asked,
    piece: Piece,
    verdicts: Vec<Verdict>,
    spots: Vec<Spot>,
}

/// Judges one piece.
pub fn judge(
    report: &Report,
    candidates: &[Candidate],
    found: &Contours,
    ready: &Ready,
    program: &Program,
    asked: &Asked,
) -> Judged {
    let outer = found.list.get(ready.outer.contour);
    let mut case = Case {
        report,
        candidates,
        found,
        ready,
        program,
        asked,
        piece: Piece {
            verdict: Verdict::Unclear,
            line: outer.map_or(0, |c| c.line),
            part: None,
            hand: None,
            scale: None,
            kerf: None,
            kerf_side: KerfSide::None,
            largest_departure: None,
            departure_plus_minus: None,
            departure_at: None,
            missing_holes: 0,
            extra_holes: 0,
            wrong_size_holes: 0,
            open_contours: 0,
            contours: 1 + ready.holes.len(),
            reasons: Vec::new(),
        },
        verdicts: Vec::new(),
        spots: Vec::new(),
    };
    case.closed();
    case.order();
    let compensated = outer.is_some_and(|c| c.compensated.is_some());
    let known = Known {
        // A control that is told to allow the kerf follows the edge itself.
        offset: asked.kerf.filter(|_| !compensated).map(|kerf| kerf / 2.0),
        tolerance: asked.tolerance,
    };
    let readings = recognise(ready, candidates, known);
    let plate = match case.chosen(&readings) {
        Some(reading) => {
            case.recognised(reading, &readings);
            case.plate_in_program(reading)
        }
        None => {
            case.nothing_fits();
            Vec::new()
        }
    };
    case.piece.verdict = match case.verdicts.is_empty() {
        true => Verdict::Yes,
        false => together(case.verdicts),
    };
    Judged {
        piece: case.piece,
        plate,
        spots: case.spots,
    }
}

impl<'a> Case<'a> {
    fn no(&mut self, reason: String) {
        self.verdicts.push(Verdict::No);
        self.piece.reasons.push(reason);
    }

    fn unclear(&mut self, reason: String) {
        self.verdicts.push(Verdict::Unclear);
        self.piece.reasons.push(reason);
    }

    fn say(&mut self, reason: String) {
        self.piece.reasons.push(reason);
    }

    fn mm(&self, mm: f64) -> String {
        with_unit(mm, self.asked.show)
    }

    /// `line 12` or `entity 3`.
    fn line(&self, contour: &Contour) -> String {
        match self.program.language {
            Language::Ngc => format!("line {}", contour.line),
            Language::Dxf => format!("entity {}", contour.line),
        }
    }

    fn cuts(&self) -> impl Iterator<Item = &'a Cut> + use<'a> {
        std::iter::once(&self.ready.outer).chain(&self.ready.holes)
    }

    fn contour(&self, cut: &Cut) -> Option<&'a Contour> {
        self.found.list.get(cut.contour)
    }

    fn closed(&mut self) {
        let open: Vec<(&Contour, f64)> = self
            .cuts()
            .filter_map(|cut| self.contour(cut))
            .filter_map(|c| Some((c, c.gap?)))
            .collect();
        self.piece.open_contours = open.len();
        for (contour, gap) in open {
            let reason = format!(
                "The contour that starts in {} does not close: its end lies {} from its start.",
                self.line(contour),
                self.mm(gap)
            );
            self.no(reason);
            if let Some(&at) = contour.ring.last() {
                self.spots.push(Spot {
                    at,
                    words: format!("open by {}", self.mm(gap)),
                });
            }
        }
    }

    /// Holes are cut while the sheet still holds the piece. A DXF has no order.
    fn order(&mut self) {
        if self.program.language == Language::Dxf {
            return;
        }
        let Some(outer) = self.contour(&self.ready.outer) else {
            return;
        };
        let late: Vec<&Contour> = self
            .ready
            .holes
            .iter()
            .filter_map(|cut| self.contour(cut))
            .filter(|hole| hole.order > outer.order)
            .collect();
        if let Some(first) = late.first() {
            let reason = format!(
                "{} cut after the outside ({} after {}): by then the piece lies loose.",
                counted(late.len(), "hole is", "holes are"),
                self.line(first),
                self.line(outer)
            );
            self.no(reason);
        }
    }

    /// The reading for the plate that was asked for where it is as good as the best, else the best.
    fn chosen<'r>(&self, readings: &'r [Reading]) -> Option<&'r Reading> {
        let best = readings.first()?;
        let asked = self.asked.part.as_deref().and_then(|mark| {
            let alike = readings.iter().take_while(|r| r.as_good_as(best));
            alike.clone().find(|r| self.mark(r) == mark)
        });
        asked.or(Some(best))
    }

    fn mark(&self, reading: &Reading) -> &'a str {
        self.candidates
            .get(reading.candidate)
            .and_then(|c| self.report.parts.get(c.part))
            .map_or("", |part| &part.mark)
    }

    fn nothing_fits(&mut self) {
        let (low, high) =
            extent(&self.ready.outer.path).unwrap_or((Place::origin(), Place::origin()));
        let size = high - low;
        let show = self.asked.show;
        let plates: Vec<String> = self
            .candidates
            .iter()
            .filter_map(|c| {
                let part = self.report.parts.get(c.part)?;
                let flat = &part.plate.as_ref()?.flat;
                Some(format!(
                    "{} {} by {}",
                    part.mark,
                    show.plain_length(flat.length?.value),
                    with_unit(flat.width?.value, show)
                ))
            })
            .collect();
        let reason = format!(
            "What the program cuts is no plate of this model, in no position and neither hand. It measures {} in x and {} in y; the plates are {}.",
            self.mm(size.x),
            self.mm(size.y),
            some(&plates)
        );
        self.no(reason);
    }

    fn recognised(&mut self, reading: &Reading, readings: &[Reading]) {
        let Some(candidate) = self.candidates.get(reading.candidate) else {
            return;
        };
        let mark = self.mark(reading).to_owned();
        self.piece.part = Some(mark.clone());
        self.piece.hand = Some(reading.hand);
        self.piece.scale = Some(reading.scale);
        if let Some(wanted) = self.asked.part.clone().filter(|wanted| *wanted != mark) {
            self.no(format!("The program cuts {mark}, not {wanted}."));
        }
        let mut twins: Vec<String> = readings
            .iter()
            .filter(|r| r.as_good_as(reading) && self.mark(r) != mark)
            .map(|r| self.mark(r).to_owned())
            .collect();
        // both hands of one plate may fit
        twins.sort();
        twins.dedup();
        if !twins.is_empty() && self.asked.part.is_none() {
            self.say(format!(
                "{} has the same outline as {mark}: see that the thickness is right.",
                some(&twins)
            ));
        }
        self.scale(&mark, reading.scale);
        self.hand(&mark, candidate, reading);
        self.kerf(candidate, reading);
        self.holes(&mark, candidate, reading);
        self.departure(&mark, candidate, reading);
        self.leads(candidate, reading);
    }

    fn scale(&mut self, mark: &str, scale: f64) {
        if scale == 1.0 {
            return;
        }
        let mut reason = format!("The program cuts {mark} {}", words::scale(scale));
        match words::slip(scale) {
            Some(why) => reason.push_str(&format!(": {why}.")),
            None => reason.push_str(": it was scaled on the way."),
        }
        self.no(reason);
    }

    fn hand(&mut self, mark: &str, candidate: &Candidate, reading: &Reading) {
        if reading.hand == Hand::Same {
            return;
        }
        let wanted = self
            .report
            .parts
            .get(candidate.part)
            .map_or(0, |part| part.opposite_hand);
        match (candidate.same.handed, wanted) {
            (false, _) => self.say(format!(
                "The program cuts {mark} as seen from its back. Turned over it is the same plate; if one face has to stay up (a finish, a mark, the better edge), mirror the program."
            )),
            (true, 0) => self.no(format!(
                "The program cuts {mark} mirrored: the wrong hand. It is bent, rolled or sunk from one side afterwards, and would come out as the opposite hand."
            )),
            (true, n) => self.say(format!(
                "The program cuts the opposite hand of {mark}, of which the model has {n}."
            )),
        }
    }

    /// Measures the kerf and says on which side the tool runs.
    fn kerf(&mut self, candidate: &Candidate, reading: &Reading) {
        let Some(outer) = self.contour(&self.ready.outer) else {
            return;
        };
        let (scale, off) = (reading.scale, reading.comparison.stands_off);
        let doubt = candidate.same.outer.doubt;
        let none = off.abs() <= 0.015_f64.max(doubt);
        let waste = |contour: &Contour, hole: bool| match (contour.area > 0.0) != hole {
            true => Side::Right,
            false => Side::Left,
        };
        let side = waste(outer, false);
        let holes = self.ready.holes.iter().filter_map(|cut| self.contour(cut));
        let wrong: Vec<String> = std::iter::once((outer, false))
            .chain(holes.map(|hole| (hole, true)))
            .filter(|(c, hole)| c.compensated.is_some_and(|told| told != waste(c, *hole)))
            .map(|(c, _)| self.line(c))
            .collect();
        if !wrong.is_empty() {
            self.no(format!(
                "The control is told to move the tool to the side of the piece (G41 is left, G42 right) on the contour that starts in {}: it would cut into the plate.",
                some(&wrong)
            ));
        }
        if let Some(told) = outer.compensated {
            self.compensated(told, none, off * scale);
            return;
        }
        let kerf = quantity(
            2.0 * off.abs() * scale,
            2.0 * (doubt + reading.comparison.misfit) * scale,
        );
        self.piece.kerf = Some(match none {
            true => quantity(0.0, kerf.plus_minus),
            false => kerf,
        });
        if none {
            self.say("The tool runs on the edge itself: unless the control allows for the kerf, the piece comes out half a kerf smaller all round, and its holes larger.".into());
            self.told_kerf(0.0);
            return;
        }
        self.piece.kerf_side = match (side, off > 0.0) {
            (Side::Left, true) | (Side::Right, false) => KerfSide::Left,
            _ => KerfSide::Right,
        };
        if off < 0.0 && -off > self.asked.tolerance {
            let reason = format!(
                "The tool runs {} inside the edge: the piece comes out too small. If that is the kerf, it lies on the wrong side.",
                self.mm(-off * scale)
            );
            self.no(reason);
            return;
        }
        self.told_kerf(2.0 * off * scale);
        let other = self
            .ready
            .holes
            .iter()
            .filter_map(|cut| self.contour(cut))
            .filter(|hole| waste(hole, true) != side)
            .count();
        if other > 0 && self.program.language == Language::Ngc {
            let name = |side: Side| if side == Side::Left { "left" } else { "right" };
            self.say(format!(
                "The tool runs to the {} of the edge on the outside, and on the other side of it on {}.",
                name(side),
                counted(other, "hole", "holes")
            ));
        }
        if reading.ambiguous && self.asked.kerf.is_none() {
            let (low, high) =
                extent(&candidate.same.outer.points).unwrap_or((Place::origin(), Place::origin()));
            let larger = 1.0 + 2.0 * off / (high - low).min().max(1e-9);
            self.unclear(format!(
                "This outline can't tell a kerf of {} from a plate cut {:.1} % too large without kerf. Give your kerf with --kerf.",
                with_unit(2.0 * off, self.asked.show),
                100.0 * (larger - 1.0)
            ));
        }
    }

    fn compensated(&mut self, told: Side, none: bool, off: f64) {
        self.piece.kerf_side = match told {
            Side::Left => KerfSide::Left,
            Side::Right => KerfSide::Right,
        };
        if none {
            self.say("The program follows the edge and tells the control to allow for the kerf (G41 or G42): how wide it is stands in the control.".into());
        } else {
            let by = self.mm(off.abs());
            self.unclear(format!(
                "The path already stands {by} off the edge, and the control is told to move the tool as well (G41 or G42): see that the kerf is not allowed for twice."
            ));
        }
    }

    /// Compares the kerf of the program with the one the fabricator says.
    fn told_kerf(&mut self, allowed: f64) {
        let Some(kerf) = self.asked.kerf else { return };
        if (allowed - kerf).abs() > 2.0 * self.asked.tolerance {
            let (allowed, kerf) = (self.mm(allowed), self.mm(kerf));
            self.no(format!(
                "The program allows a kerf of {allowed}, yours is {kerf}."
            ));
        }
    }

    fn holes(&mut self, mark: &str, candidate: &Candidate, reading: &Reading) {
        let show = self.asked.show;
        let comparison = &reading.comparison;
        let design = &candidate.same;
        let missing: Vec<String> = comparison
            .missing
            .iter()
            .filter_map(|hole| design.holes.get(*hole))
            .map(|ring| words::hole(ring, show))
            .collect();
        self.piece.missing_holes = missing.len();
        if !missing.is_empty() {
            self.no(format!(
                "{} of {mark} not cut: {}.",
                counted(missing.len(), "hole", "holes"),
                some(&missing)
            ));
        }
        let extra: Vec<(String, Place)> = comparison
            .extra
            .iter()
            .filter_map(|cut| self.ready.holes.get(*cut))
            .filter_map(|cut| {
                let at = cut.centre;
                let line = self.line(self.contour(cut)?);
                let blind = self.sunk(candidate, reading, at);
                Some((format!("{} ({line}){blind}", words::place(at, show)), at))
            })
            .collect();
        self.piece.extra_holes = extra.len();
        if !extra.is_empty() {
            let list: Vec<String> = extra.iter().map(|e| e.0.clone()).collect();
            self.no(format!(
                "{} that {mark} has not: {}.",
                counted(extra.len(), "hole is cut", "holes are cut"),
                some(&list)
            ));
        }
        self.spots.extend(extra.into_iter().map(|(_, at)| Spot {
            at,
            words: "not on the plate".into(),
        }));
        let pose = reading.comparison.fit.pose;
        let laid = self.laid(candidate, reading.hand);
        for hole in &comparison.missing {
            if let Some(ring) = laid.and_then(|design| design.holes.get(*hole)) {
                self.spots.push(Spot {
                    at: pose.to_program(ring.centre),
                    words: "not cut".into(),
                });
            }
        }
        let mut sizes = Vec::new();
        let mut astray = Vec::new();
        for found in &comparison.matches {
            let (Some(ring), Some(cut)) = (
                design.holes.get(found.hole),
                self.ready.holes.get(found.cut),
            ) else {
                continue;
            };
            let limit = self.asked.tolerance.max(ring.doubt);
            if found.small.abs() > limit {
                let comes = match ring.diameter {
                    Some(d) => format!("⌀{}", show.plain_length((d - 2.0 * found.small).max(0.0))),
                    None => format!(
                        "{} too {} all round",
                        self.mm(found.small.abs()),
                        if found.small > 0.0 { "small" } else { "large" }
                    ),
                };
                sizes.push(format!("{} comes out {comes}", words::hole(ring, show)));
                self.spots.push(Spot {
                    at: cut.centre,
                    words: format!("comes out {comes}"),
                });
            }
            if found.astray > limit {
                astray.push(format!(
                    "{} by {}",
                    words::hole(ring, show),
                    self.mm(found.astray)
                ));
            }
        }
        self.piece.wrong_size_holes = sizes.len();
        if !sizes.is_empty() {
            self.no(format!(
                "{} the wrong size: {}.",
                counted(sizes.len(), "hole has", "holes have"),
                some(&sizes)
            ));
        }
        if !astray.is_empty() {
            self.no(format!(
                "{} off its place: {}.",
                counted(astray.len(), "hole stands", "holes stand"),
                some(&astray)
            ));
        }
    }

    /// The design in the hand that was found.
    fn laid(&self, candidate: &'a Candidate, hand: Hand) -> Option<&'a super::design::Design> {
        match hand {
            Hand::Same => Some(&candidate.same),
            Hand::Opposite => candidate.opposite.as_ref(),
        }
    }

    fn sunk(&self, candidate: &Candidate, reading: &Reading, at: Place) -> &'static str {
        let design = match reading.hand {
            Hand::Same => Some(&candidate.same),
            Hand::Opposite => candidate.opposite.as_ref(),
        };
        let on_plate = reading.comparison.fit.pose.to_plate(at);
        let near = |p: &Place| (p - on_plate).norm() < 1.0;
        match design.is_some_and(|d| d.blind.iter().any(near)) {
            true => ", where the plate has a hole that does not go through",
            false => "",
        }
    }

    fn departure(&mut self, mark: &str, candidate: &Candidate, reading: &Reading) {
        let Some(worst) = reading.worst else { return };
        let show = self.asked.show;
        let off = worst.departure.abs();
        self.piece.largest_departure = Some(off);
        self.piece.departure_plus_minus = Some(worst.doubt);
        self.piece.departure_at = Some([worst.at.x, worst.at.y]);
        let found = verdict(quantity(off, worst.doubt), self.asked.tolerance);
        let which = match worst.hole.and_then(|h| candidate.same.holes.get(h)) {
            Some(ring) => format!("the hole {}", words::hole(ring, show)),
            None => "the outside".to_owned(),
        };
        let way = if worst.departure > 0.0 {
            "cuts into the plate"
        } else {
            "leaves metal standing"
        };
        let at = words::place(worst.at, show);
        match found {
            Verdict::Yes => {}
            Verdict::No => {
                let reason = format!(
                    "The cut departs from {mark} by {} at most: it {way} at {at}, on {which}. {} is taken as good.",
                    self.mm(off),
                    self.mm(self.asked.tolerance)
                );
                self.no(reason);
                self.spots.push(Spot {
                    at: worst.at,
                    words: format!("off by {}", self.mm(off)),
                });
            }
            Verdict::Unclear => {
                let reason = format!(
                    "The cut departs from {mark} by {} on {which}, and the model tells the edge there only to ±{}: with {} as good that can't be told. Give a wider --tol or a finer model.",
                    self.mm(off),
                    self.mm(worst.doubt),
                    self.mm(self.asked.tolerance)
                );
                self.unclear(reason);
            }
        }
    }

    /// Leads that run into the piece.
    fn leads(&mut self, candidate: &'a Candidate, reading: &Reading) {
        let Some(design) = self.laid(candidate, reading.hand) else {
            return;
        };
        let fit = reading.comparison.fit;
        let holes = reading
            .comparison
            .matches
            .iter()
            .filter_map(|m| Some((self.ready.holes.get(m.cut)?, design.holes.get(m.hole)?)));
        let mut wrong = Vec::new();
        for (cut, ring) in std::iter::once((&self.ready.outer, &design.outer)).chain(holes) {
            let Some(contour) = self.contour(cut) else {
                continue;
            };
            let deepest = contour
                .leads
                .iter()
                .flat_map(|lead| sampled(lead))
                .map(|p| {
                    (
                        fit.offset.max(0.0) - ring.stand(fit.pose.to_plate(p)).off,
                        p,
                    )
                })
                .max_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((depth, at)) = deepest
                && depth > self.asked.tolerance + ring.doubt
            {
                wrong.push((self.line(contour), depth * reading.scale, at));
            }
        }
        for (line, depth, at) in wrong {
            let reason = format!(
                "The lead of the contour that starts in {line} runs {} into the piece.",
                self.mm(depth)
            );
            self.no(reason);
            self.spots.push(Spot {
                at,
                words: "lead in the piece".into(),
            });
        }
    }

    /// Rings of the plate where the program would have them, at the plate's true size.
    fn plate_in_program(&self, reading: &Reading) -> Vec<Vec<Place>> {
        let Some(design) = self
            .candidates
            .get(reading.candidate)
            .and_then(|c| self.laid(c, reading.hand))
        else {
            return Vec::new();
        };
        let pose = match reading.scale == 1.0 {
            true => reading.comparison.fit.pose,
            false => reading
                .comparison
                .fit
                .pose
                .scaled_to(1.0, self.ready.outer.centre),
        };
        std::iter::once(&design.outer)
            .chain(&design.holes)
            .map(|ring| ring.points.iter().map(|p| pose.to_program(*p)).collect())
            .collect()
    }
}

/// Points along a lead, a millimetre apart at most, no more than a few hundred.
fn sampled(lead: &[Place]) -> Vec<Place> {
    let mut points = Vec::new();
    let stride = lead.len() / 200 + 1;
    for pair in lead.windows(2).step_by(stride) {
        let parts = (pair[1] - pair[0]).norm().ceil().clamp(1.0, 50.0) as usize;
        points
            .extend((0..=parts).map(|k| pair[0] + (pair[1] - pair[0]) * (k as f64 / parts as f64)));
    }
    points
}

/// One answer for the program.
pub fn gathered(
    report: &Report,
    program: &Program,
    saying: &Saying,
    found: &Contours,
    judged: Vec<Judged>,
    asked: &Asked,
) -> Answer {
    let several = judged.len() > 1;
    let mut reasons = Vec::new();
    let mut verdicts: Vec<Verdict> = judged.iter().map(|j| j.piece.verdict).collect();
    for (number, j) in (1..).zip(&judged) {
        let prefix = match several {
            true => format!("Piece {number}: "),
            false => String::new(),
        };
        reasons.extend(j.piece.reasons.iter().map(|r| format!("{prefix}{r}")));
    }
    for (points, line) in &found.loose {
        let length: f64 = points.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
        let from = match program.language {
            Language::Ngc => format!("Line {line} starts"),
            Language::Dxf => format!("Entity {line} starts"),
        };
        let remedy = match program.language {
            Language::Ngc => "",
            Language::Dxf => {
                " If it is a bend or a mark, name the layers that are cut with --layer."
            }
        };
        reasons.push(format!(
            "{from} a cut of {} that closes nothing.{remedy}",
            with_unit(length, asked.show)
        ));
        verdicts.push(Verdict::No);
    }
    if judged.is_empty() && found.loose.is_empty() {
        reasons.push("The program cuts no closed contour.".into());
        verdicts.push(Verdict::No);
    }
    if !program.doubts.is_empty() {
        reasons
            .push("Not all of the program could be followed, so the answer can't be yes:".into());
        reasons.extend(program.doubts.iter().cloned());
        verdicts.push(Verdict::Unclear);
    }
    let points = found
        .list
        .iter()
        .flat_map(|c| c.ring.iter().chain(c.leads.iter().flatten()))
        .chain(found.loose.iter().flat_map(|(points, _)| points));
    let extent = extent(points).unwrap_or((Place::origin(), Place::origin()));
    let pieces: Vec<&Piece> = judged.iter().map(|j| &j.piece).collect();
    let kerf = pieces.iter().filter_map(|p| p.kerf).map(|q| q.value);
    if let Some(size) = asked.sheet {
        let kerf = asked.kerf.unwrap_or(kerf.fold(0.0, f64::max));
        let (fits, sentence) = sheet::fits(extent, kerf, size, asked.show);
        verdicts.push(fits);
        reasons.push(sentence);
    }
    let of_all = |get: fn(&Piece) -> usize| pieces.iter().map(|p| get(p)).sum::<usize>();
    // What is said of the whole is said of its worst piece.
    let worst = pieces
        .iter()
        .max_by_key(|p| match p.verdict {
            Verdict::Yes => 0,
            Verdict::Unclear => 1,
            Verdict::No => 2,
        })
        .copied();
    let one_part = pieces.windows(2).all(|pair| pair[0].part == pair[1].part);
    let marks: Vec<&str> = pieces.iter().filter_map(|p| p.part.as_deref()).collect();
    let lead = |list: &[Place]| list.windows(2).map(|w| (w[1] - w[0]).norm()).sum::<f64>();
    let mut answer = Answer {
        verdict: together(verdicts),
        part: worst.and_then(|p| p.part.clone()).filter(|_| one_part),
        hand: worst.and_then(|p| p.hand),
        scale: worst.and_then(|p| p.scale),
        kerf: worst.and_then(|p| p.kerf),
        kerf_side: worst.map_or(KerfSide::None, |p| p.kerf_side),
        largest_departure: pieces
            .iter()
            .filter_map(|p| p.largest_departure)
            .reduce(f64::max),
        tolerance: asked.tolerance,
        missing_holes: of_all(|p| p.missing_holes),
        extra_holes: of_all(|p| p.extra_holes),
        wrong_size_holes: of_all(|p| p.wrong_size_holes),
        open_contours: of_all(|p| p.open_contours) + found.loose.len(),
        cut_length: program
            .strokes
            .iter()
            .flat_map(|s| &s.pieces)
            .map(super::piece::Piece::length)
            .sum(),
        // An empty sum of floats is −0.
        lead_length: 0.0
            + found
                .list
                .iter()
                .flat_map(|c| &c.leads)
                .map(|l| lead(l))
                .sum::<f64>(),
        pierces: match program.language {
            Language::Ngc => program.strokes.len(),
            Language::Dxf => found.list.len() + found.loose.len(),
        },
        extent: [[extent.0.x, extent.0.y], [extent.1.x, extent.1.y]],
        language: program.language,
        mm_per_program_unit: program
            .unit
            .or(saying.unit)
            .unwrap_or(Unit::Millimetre)
            .millimetres(),
        reasons,
        notes: Vec::new(),
        origin: Origin::of(report, &marks),
        pieces: Vec::new(),
        seen: seen(program, found, &judged),
    };
    answer.pieces = judged.into_iter().map(|j| j.piece).collect();
    answer
}

fn seen(program: &Program, found: &Contours, judged: &[Judged]) -> Seen {
    let (open, closed): (Vec<&Contour>, Vec<&Contour>) =
        found.list.iter().partition(|c| c.gap.is_some());
    let rings = |list: Vec<&Contour>| list.into_iter().map(|c| c.ring.clone()).collect::<Vec<_>>();
    let mut open = rings(open);
    open.extend(found.loose.iter().map(|(points, _)| points.clone()));
    Seen {
        plates: judged
            .iter()
            .map(|j| j.plate.clone())
            .filter(|p| !p.is_empty())
            .collect(),
        cuts: rings(closed),
        open,
        leads: found
            .list
            .iter()
            .flat_map(|c| c.leads.iter().cloned())
            .collect(),
        rapids: program.rapids.clone(),
        pierces: match program.language {
            Language::Ngc => program
                .strokes
                .iter()
                .filter_map(|s| s.pieces.first())
                .map(super::piece::Piece::from)
                .collect(),
            Language::Dxf => Vec::new(),
        },
        spots: judged
            .iter()
            .flat_map(|j| j.spots.iter().cloned())
            .collect(),
    }
}
