//! G-code followed word by word: where the tool goes, and when it cuts.
//!
//! Meaning of the words: NISTIR 6556 (Kramer, Proctor, Messina, 2000), from memory; the order in which the
//! words of a line take effect is its table 8. G90.1 and G91.1 are not in the report.

use nalgebra::Vector2;

use super::arc::{Centre, arc};
use super::modes::{self, Group, Meaning};
use super::strokes::{Move, strokes};
use super::words::{Block, Word, block, wrong};
use super::{FARTHEST, Language, MOST_PIECES, Program, Saying, Side};
use crate::measure::Unit;
use crate::shop::Refused;
use crate::shop::proof::piece::{Piece, Place};

/// How the tool moves to a new place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Motion {
    Rapid,
    Straight,
    Arc { clockwise: bool },
}

/// What the control remembers from line to line.
struct Control<'a> {
    saying: &'a Saying,
    at: Place,
    /// Axes whose place only the control knows.
    lost: [bool; 2],
    z: f64,
    unit: Option<Unit>,
    motion: Option<Motion>,
    absolute: bool,
    absolute_centres: bool,
    flat: bool,
    compensated: Option<Side>,
    /// What G92 adds to a place of the program.
    offset: Vector2<f64>,
    kept_offset: Vector2<f64>,
    frame: Option<u32>,
    on: bool,
    /// Counts the times the tool was switched or lifted.
    run: usize,
    moves: Vec<Move>,
    notes: Vec<String>,
    doubts: Vec<String>,
}

/// Follows a program to its end.
pub fn read(text: &str, saying: &Saying) -> Result<Program, Refused> {
    let mut control = Control {
        saying,
        at: Place::origin(),
        lost: [false; 2],
        z: 0.0,
        unit: None,
        motion: None,
        absolute: true,
        absolute_centres: false,
        flat: true,
        compensated: None,
        offset: Vector2::zeros(),
        kept_offset: Vector2::zeros(),
        frame: None,
        on: false,
        run: 0,
        moves: Vec::new(),
        notes: Vec::new(),
        doubts: Vec::new(),
    };
    let mut ended = false;
    let mut percent = 0;
    for (number, line) in (1..).zip(lines(text)) {
        // A pair of lines of percent signs may stand around a program; nothing after the second counts.
        if line.trim() == "%" {
            percent += 1;
            ended = percent == 2;
        } else {
            ended = control.line(&block(line, number)?, number)?;
        }
        if ended {
            break;
        }
    }
    if !ended {
        control.notes.push(
            "The program has no end (M2 or M30): on a control it may run on or stop with an alarm."
                .into(),
        );
    }
    Ok(control.program())
}

/// Lines that end in LF, CR LF or CR.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.split('\n').flat_map(|line| {
        let line = line.strip_suffix('\r').unwrap_or(line);
        line.split('\r')
    })
}

impl Control<'_> {
    /// Carries a line out; true at the end of the program.
    fn line(&mut self, block: &Block, number: usize) -> Result<bool, Refused> {
        if block.deletable && !block.words.is_empty() {
            self.doubts.push(format!(
                "Line {number} starts with a slash: whether it runs hangs on a switch of the control. It was followed."
            ));
        }
        if let Some(beyond) = &block.beyond {
            self.doubts.push(format!(
                "Line {number}, \"{beyond}\", is not followed: parameters, sums, loops and subprograms are beyond what is read here."
            ));
            return Ok(false);
        }
        let line = Line::sort(block, number, self.saying)?;
        self.doubts.extend(line.unknown.iter().cloned());
        if let Some(on) = line.tool {
            self.run += 1;
            self.on = on;
        }
        self.modes(&line)?;
        self.go(&line)?;
        Ok(line.ends)
    }

    /// Planes, units, compensation, frames and distances, before anything moves.
    fn modes(&mut self, line: &Line) -> Result<(), Refused> {
        if let Some(plane) = line.mode(Group::Plane) {
            self.flat = plane == 170;
        }
        if let Some(unit) = line.mode(Group::Units) {
            let unit = if unit == 200 {
                Unit::Inch
            } else {
                Unit::Millimetre
            };
            if self.unit.is_some_and(|before| before != unit) {
                self.notes
                    .push(format!("Line {} changes the unit on the way.", line.number));
            }
            self.unit = Some(unit);
        }
        if let Some(radius) = line.mode(Group::Radius) {
            self.compensated = match radius {
                410 => Some(Side::Left),
                420 => Some(Side::Right),
                _ => None,
            };
        }
        if let Some(frame) = line.mode(Group::Frame) {
            let before = self.frame.replace(frame);
            if before.is_some_and(|before| before != frame) && !self.moves.is_empty() {
                self.doubts.push(format!(
                    "Line {} changes to {}: how its zero stands to the one before is in the control, not in the program. The same zero was taken.",
                    line.number,
                    modes::name('G', frame)
                ));
            }
        }
        if let Some(distance) = line.mode(Group::Distance) {
            self.absolute = distance == 900;
        }
        if let Some(centres) = line.mode(Group::Centres) {
            self.absolute_centres = centres == 901;
        }
        Ok(())
    }

    /// Moves, offsets and homing.
    fn go(&mut self, line: &Line) -> Result<(), Refused> {
        let scale = self.scale();
        let axes = [line.axis('X'), line.axis('Y')].map(|v| v.map(|v| v * scale));
        let z = line.axis('Z').map(|v| v * scale);
        match line.mode(Group::Motion) {
            Some(0) => self.motion = Some(Motion::Rapid),
            Some(10) => self.motion = Some(Motion::Straight),
            Some(20) => self.motion = Some(Motion::Arc { clockwise: true }),
            Some(30) => self.motion = Some(Motion::Arc { clockwise: false }),
            Some(_) => self.motion = None,
            None => {}
        }
        match line.mode(Group::Other) {
            Some(280 | 300) => return self.home(line, axes, z),
            Some(920) => {
                self.set_place(axes);
                return Ok(());
            }
            Some(923) => {
                self.offset = self.kept_offset;
                return Ok(());
            }
            Some(_) => {
                self.offset = Vector2::zeros();
                return Ok(());
            }
            None => {}
        }
        let has_axes = axes.iter().any(Option::is_some) || z.is_some();
        let has_centre = ['I', 'J'].iter().any(|c| line.axis(*c).is_some());
        if !(has_axes || has_centre && matches!(self.motion, Some(Motion::Arc { .. }))) {
            return Ok(());
        }
        if line.mode(Group::Machine).is_some() {
            return self.by_machine(line, axes, z);
        }
        let Some(motion) = self.motion else {
            return Err(wrong(
                line.number,
                "has a place to go to, but no word says how (G0, G1, G2 or G3)",
                "Write the G word.",
            ));
        };
        let to = self.target(axes);
        let z_before = self.z;
        if let Some(z) = z {
            self.z = if self.absolute { z } else { self.z + z };
            near_enough(self.z, line.number)?;
        }
        near_enough(to.x, line.number)?;
        near_enough(to.y, line.number)?;
        let piece = match motion {
            Motion::Rapid | Motion::Straight => Piece::Line { from: self.at, to },
            Motion::Arc { clockwise } => self.round(line, to, clockwise, scale)?,
        };
        let found = [0, 1].map(|k| axes[k].is_some() && self.absolute);
        let unknown = [0, 1].map(|k| self.lost[k] && !found[k]);
        let feeds = motion != Motion::Rapid;
        if self.on && feeds && (self.lost[0] || self.lost[1]) && piece.length() > 0.0 {
            return Err(wrong(
                line.number,
                "cuts from a place that only the control knows, after G28, G30 or G53",
                "Give both X and Y of a rapid move, in G90, before the cut.",
            ));
        }
        let jump = self.lost != [false; 2];
        self.lost = unknown;
        self.at = to;
        if !jump {
            self.record(piece, line.number, feeds, z_before.min(self.z))?;
        } else {
            self.run += 1;
        }
        Ok(())
    }

    fn record(&mut self, piece: Piece, line: usize, feeds: bool, z: f64) -> Result<(), Refused> {
        if self.moves.len() >= MOST_PIECES {
            return Err(wrong(
                line,
                &format!("is past the {MOST_PIECES} moves that are followed"),
                "Give the program of one plate.",
            ));
        }
        self.moves.push(Move {
            piece,
            line,
            feeds,
            on: self.on,
            z,
            run: self.run,
            compensated: self.compensated,
        });
        Ok(())
    }

    /// Millimetres in a unit of the program.
    fn scale(&self) -> f64 {
        self.unit
            .or(self.saying.unit)
            .unwrap_or(Unit::Millimetre)
            .millimetres()
    }

    /// Place the axis words ask for.
    fn target(&self, axes: [Option<f64>; 2]) -> Place {
        let mut to = self.at;
        for k in 0..2 {
            to[k] = match (axes[k], self.absolute) {
                (None, _) => to[k],
                (Some(v), true) => v + self.offset[k],
                (Some(v), false) => to[k] + v,
            };
        }
        to
    }

    fn round(&self, line: &Line, to: Place, clockwise: bool, scale: f64) -> Result<Piece, Refused> {
        if !self.flat {
            return Err(wrong(
                line.number,
                "has an arc that stands upright (G18 or G19)",
                "A plate is cut in the flat: G17.",
            ));
        }
        let (i, j) = (line.axis('I'), line.axis('J'));
        let centre = match (line.axis('R'), i.is_some() || j.is_some()) {
            (Some(_), true) => {
                return Err(wrong(
                    line.number,
                    "has an arc with both R and I or J",
                    "Write one of the two.",
                ));
            }
            (Some(radius), false) => Centre::Radius(radius * scale),
            (None, true) => {
                let mut centre = self.at;
                for (k, value) in [i, j].into_iter().enumerate() {
                    match (value, self.absolute_centres) {
                        (Some(v), true) => centre[k] = v * scale + self.offset[k],
                        (Some(v), false) => centre[k] += v * scale,
                        (None, _) => {}
                    }
                }
                Centre::At(centre)
            }
            (None, false) => {
                return Err(wrong(
                    line.number,
                    "has an arc with neither R nor I or J",
                    "Write its centre or its radius.",
                ));
            }
        };
        let told = arc(self.at, to, clockwise, centre)
            .map_err(|why| wrong(line.number, &why, "Correct the line."))?;
        if let Piece::Arc { centre, .. } = told.piece
            && !(centre.coords.amax() <= 1e4 * FARTHEST)
        {
            return Err(far(line.number));
        }
        Ok(told.piece)
    }

    /// G28 and G30: to a place only the control knows, by way of the words.
    fn home(&mut self, line: &Line, axes: [Option<f64>; 2], z: Option<f64>) -> Result<(), Refused> {
        if self.on {
            self.doubts.push(format!(
                "Line {} sends the tool home while it is on.",
                line.number
            ));
        }
        let to = self.target(axes);
        near_enough(to.x, line.number)?;
        near_enough(to.y, line.number)?;
        // Z alone lifts the tool and leaves X and Y where they are.
        if z.is_none() || axes.iter().any(Option::is_some) {
            self.lost = [true; 2];
            self.at = to;
        }
        self.z = 0.0;
        self.run += 1;
        Ok(())
    }

    /// G53: places counted from the machine's own zero.
    fn by_machine(
        &mut self,
        line: &Line,
        axes: [Option<f64>; 2],
        z: Option<f64>,
    ) -> Result<(), Refused> {
        if self.on && self.motion != Some(Motion::Rapid) {
            return Err(wrong(
                line.number,
                "cuts at places counted from the machine's own zero (G53)",
                "Give the program in the coordinates of the work.",
            ));
        }
        for k in 0..2 {
            self.lost[k] |= axes[k].is_some();
        }
        if z.is_some() {
            self.z = 0.0;
        }
        self.run += 1;
        Ok(())
    }

    /// G92: the place the tool stands at gets a new name.
    fn set_place(&mut self, axes: [Option<f64>; 2]) {
        for k in 0..2 {
            if let Some(value) = axes[k] {
                self.offset[k] = self.at[k] - value;
            }
        }
        self.kept_offset = self.offset;
    }

    fn program(mut self) -> Program {
        self.uneven_arcs();
        let found = strokes(&self.moves);
        self.notes.extend(found.notes);
        Program {
            language: Language::Ngc,
            strokes: found.strokes,
            rapids: found.rapids,
            unit: self.unit,
            notes: self.notes,
            doubts: self.doubts,
        }
    }

    fn uneven_arcs(&mut self) {
        let limit = match self.unit {
            Some(Unit::Inch) => 0.0002 * Unit::Inch.millimetres(),
            _ => 0.002,
        };
        for found in &self.moves {
            let Piece::Arc {
                from, to, centre, ..
            } = found.piece
            else {
                continue;
            };
            let unequal = ((from - centre).norm() - (to - centre).norm()).abs();
            if unequal > limit {
                self.notes.push(format!(
                    "Line {}: the ends of the arc lie {unequal:.4} mm differently far from its centre; a control by NISTIR 6556 stops at more than {limit:.4} mm. Write more decimals.",
                    found.line
                ));
            }
        }
    }
}

fn far(line: usize) -> Refused {
    wrong(
        line,
        "goes to a place more than 100 m off",
        "Correct the number, or the unit (G20 inches, G21 millimetres).",
    )
}

fn near_enough(value: f64, line: usize) -> Result<(), Refused> {
    match value.abs() <= FARTHEST {
        true => Ok(()),
        false => Err(far(line)),
    }
}

/// The words of a line by what they do.
struct Line<'b> {
    number: usize,
    words: &'b [Word],
    modes: Vec<(Group, u32)>,
    tool: Option<bool>,
    ends: bool,
    unknown: Vec<String>,
}

impl<'b> Line<'b> {
    fn sort(block: &'b Block, number: usize, saying: &Saying) -> Result<Line<'b>, Refused> {
        let mut line = Line {
            number,
            words: &block.words,
            modes: Vec::new(),
            tool: None,
            ends: false,
            unknown: Vec::new(),
        };
        for word in &block.words {
            match word.letter {
                'G' | 'M' => line.code(word, saying)?,
                'X' | 'Y' | 'Z' | 'I' | 'J' | 'R' => {
                    let again = block
                        .words
                        .iter()
                        .filter(|w| w.letter == word.letter)
                        .count();
                    if again > 1 {
                        return Err(wrong(
                            number,
                            &format!("has the word {} more than once", word.letter),
                            "Write one move on a line.",
                        ));
                    }
                }
                'F' | 'S' | 'T' | 'D' | 'H' | 'P' | 'K' | 'Q' => {}
                letter => line.name(&format!("{letter}{}", word.value), "an unknown word"),
            }
        }
        Ok(line)
    }

    fn code(&mut self, word: &Word, saying: &Saying) -> Result<(), Refused> {
        let Some(tenths) = word.tenths() else {
            self.name(&format!("{}{}", word.letter, word.value), "an unknown word");
            return Ok(());
        };
        let name = modes::name(word.letter, tenths);
        if word.letter == 'M'
            && let Some(on) = switches(tenths, saying)
        {
            self.tool = Some(on);
            return Ok(());
        }
        let meaning = match word.letter {
            'G' => modes::g(tenths),
            _ => modes::m(tenths),
        };
        match meaning {
            Meaning::Followed(Group::Stop) => self.ends = true,
            Meaning::Followed(group) => {
                if self.modes.iter().any(|(g, _)| *g == group) {
                    return Err(wrong(
                        self.number,
                        &format!("has two words of which only one can hold, {name} being one"),
                        "Write them on two lines.",
                    ));
                }
                self.modes.push((group, tenths));
            }
            Meaning::Harmless => {}
            Meaning::NotFollowed => self.name(&name, "a word that is not followed"),
            Meaning::Unknown => self.name(&name, "an unknown word"),
        }
        Ok(())
    }

    fn name(&mut self, word: &str, what: &str) {
        self.unknown
            .push(format!("Line {} has {what}, {word}.", self.number));
    }

    fn mode(&self, group: Group) -> Option<u32> {
        self.modes
            .iter()
            .find(|(found, _)| *found == group)
            .map(|(_, tenths)| *tenths)
    }

    fn axis(&self, letter: char) -> Option<f64> {
        self.words
            .iter()
            .find(|word| word.letter == letter)
            .map(|word| word.value)
    }
}

/// Whether an M word switches the tool on or off.
fn switches(tenths: u32, saying: &Saying) -> Option<bool> {
    let given = |list: &[u32], usual: &[u32]| {
        let list = if list.is_empty() { usual } else { list };
        list.iter().any(|m| m.saturating_mul(10) == tenths)
    };
    match (given(&saying.on, &[3, 4]), given(&saying.off, &[5])) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        _ => None,
    }
}
