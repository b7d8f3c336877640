//! Members nested into bars, stock by stock.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::lines::{Line, Mitre};
use super::nest::{Bar, EndCut, Piece, Plan, Rack, Tenths, first_fit_decreasing, nest};
use super::{Settings, StockLength};
use crate::finding::{Code, Finding, Severity};
use crate::measure::{Quantity, Show};
use crate::shop::text::roughly;

/// A piece in a bar.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PieceInBar {
    /// Piece mark.
    pub mark: String,
    /// Length of its blank, mm.
    pub length: f64,
    /// Where its box begins, from the end of the bar, mm; boxes of mitred neighbours overlap.
    pub at: f64,
    /// True when its end 1 comes first.
    pub turned: bool,
    /// True when one cut parts it from the piece before.
    pub shared_cut: bool,
    /// Angle off square of the end that comes first and of the other, degrees.
    pub off_square: [f64; 2],
    /// How far the short side stays behind the long one at these ends, mm of bar; 0 where that is not
    /// known.
    pub lean: [f64; 2],
    /// True when both ends have their long point on the same side.
    pub same_side: bool,
}

/// A bar.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BarLine {
    /// Stock.
    pub stock: String,
    /// Whole length, mm.
    pub length: f64,
    /// Pieces in the order they lie in.
    pub pieces: Vec<PieceInBar>,
    /// What is not in a piece: chips, trims and what is left over, mm of bar.
    pub waste: f64,
    /// What is left in one piece behind the last cut, mm.
    pub offcut: f64,
}

/// What to buy of one stock.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StockLine {
    /// Stock.
    pub stock: String,
    /// Standard the size is listed in, or null.
    pub standard: Option<String>,
    /// Pieces to cut.
    pub pieces: u32,
    /// Length of all blanks, mm.
    pub blanks: Quantity,
    /// Bars by length: length in mm and how many.
    pub bars: Vec<(f64, u32)>,
    /// Length of all bars, mm.
    pub length: f64,
    /// Bars no plan can do without.
    pub least_bars: u32,
    /// Length of bar no plan can do without, mm.
    pub least_length: f64,
    /// True when it is proven that no plan buys less.
    pub proven: bool,
    /// Bars by first fit decreasing, one length of bar, for comparison; null with several lengths.
    pub first_fit_decreasing: Option<u32>,
    /// Share of the bars' length that is not in a piece, percent.
    pub waste_percent: f64,
    /// Pieces no bar there is has room for: marks, each as often as there are pieces.
    pub without_bar: Vec<String>,
}

/// All bars, and what to buy.
#[derive(Clone, Debug, Default)]
pub struct Planned {
    /// Bars.
    pub bars: Vec<BarLine>,
    /// By stock.
    pub buy: Vec<StockLine>,
}

/// Most pieces of one stock that are nested; more would not be one shop's job.
const MOST: usize = 5000;

fn tenths(mm: f64) -> Tenths {
    (mm * 10.0).round().max(0.0) as Tenths
}

fn mm(tenths: Tenths) -> f64 {
    tenths as f64 / 10.0
}

/// Nests the lines.
pub fn plan(lines: &[Line], settings: &Settings, findings: &mut Vec<Finding>) -> Planned {
    let mut by_stock: BTreeMap<&str, Vec<&Line>> = BTreeMap::new();
    for line in lines.iter().filter(|line| line.member.length.is_some()) {
        by_stock.entry(&line.member.stock).or_default().push(line);
    }
    let mut out = Planned::default();
    for (stock, lines) in by_stock {
        one_stock(stock, &lines, settings, findings, &mut out);
    }
    out
}

/// Lengths for a stock: its own where it has some, else those for all.
fn lengths_for<'a>(stock: &str, settings: &'a Settings) -> Vec<&'a StockLength> {
    let plain = |text: &str| {
        let text = text.to_lowercase().replace(['×', '*'], "x");
        text.chars()
            .filter(|c| !c.is_whitespace())
            .collect::<String>()
    };
    let own: Vec<&StockLength> = settings
        .stock
        .iter()
        .filter(|l| {
            l.size
                .as_ref()
                .is_some_and(|size| plain(stock).ends_with(&plain(size)))
        })
        .collect();
    match own.is_empty() {
        false => own,
        true => settings.stock.iter().filter(|l| l.size.is_none()).collect(),
    }
}

fn one_stock(
    stock: &str,
    lines: &[&Line],
    settings: &Settings,
    findings: &mut Vec<Finding>,
    out: &mut Planned,
) {
    let rack = Rack {
        bars: lengths_for(stock, settings)
            .iter()
            .map(|l| Bar {
                length: tenths(l.length),
                count: l.count,
            })
            .collect(),
        trim: tenths(settings.trim),
        kerf: tenths(settings.kerf),
        share: settings.share_mitres,
    };
    let mut kinds = Kinds::default();
    let (mut pieces, mut of): (Vec<Piece>, Vec<&Line>) = (Vec::new(), Vec::new());
    for (number, line) in lines.iter().enumerate() {
        for n in 0..line.member.count {
            if pieces.len() == MOST {
                findings.push(many(stock));
                break;
            }
            let opposite = n >= line.member.count - line.member.opposite_hand;
            let ends = kinds.ends(line, (number, opposite), settings.kerf);
            let length = line.member.length.map_or(0.0, |q| q.value);
            pieces.push(Piece {
                length: tenths(length),
                ends,
            });
            of.push(line);
        }
    }
    let plan = nest(&pieces, &rack);
    let without: Vec<String> = plan
        .unplaced
        .iter()
        .map(|&i| of[i].member.mark.clone())
        .collect();
    findings.extend(no_bar(
        stock,
        &without,
        &pieces,
        &plan,
        &rack,
        settings.show,
    ));
    let bars: Vec<BarLine> = plan
        .bars
        .iter()
        .map(|bar| {
            let metal: f64 = bar.places.iter().map(|p| metal(&pieces[p.piece])).sum();
            BarLine {
                stock: stock.to_owned(),
                length: mm(bar.length),
                waste: mm(bar.length) - metal,
                offcut: mm(bar.left),
                pieces: bar.places.iter().map(|p| placed(p, of[p.piece])).collect(),
            }
        })
        .collect();
    out.buy
        .push(bought(stock, lines, &pieces, &plan, &rack, without, &bars));
    out.bars.extend(bars);
}

/// Length of bar that becomes metal of the piece: halfway between its long and its short points.
fn metal(piece: &Piece) -> f64 {
    let saved: Tenths = piece.ends.iter().map(|end| end.saving).sum();
    mm(piece.length) - mm(saved) / 2.0
}

fn placed(place: &super::nest::Place, line: &Line) -> PieceInBar {
    let angles = line.mitres.map(|m| m.map_or(0.0, |m| m.angle));
    let leans = line.mitres.map(|m| m.map_or(0.0, |m| m.range));
    let turned = |pair: [f64; 2]| {
        if place.turned {
            [pair[1], pair[0]]
        } else {
            pair
        }
    };
    let signs = line.mitres.map(|m| m.map_or(1.0, |m| m.sign));
    PieceInBar {
        mark: line.member.mark.clone(),
        length: line.member.length.map_or(0.0, |q| q.value),
        at: mm(place.at),
        turned: place.turned,
        shared_cut: place.shared,
        off_square: turned(angles),
        lean: turned(leans),
        same_side: signs[0] == signs[1],
    }
}

fn bought(
    stock: &str,
    lines: &[&Line],
    pieces: &[Piece],
    plan: &Plan,
    rack: &Rack,
    without_bar: Vec<String>,
    bars: &[BarLine],
) -> StockLine {
    let mut by_length: BTreeMap<Tenths, u32> = BTreeMap::new();
    for bar in &plan.bars {
        *by_length.entry(bar.length).or_default() += 1;
    }
    let blanks = lines.iter().fold(Quantity::new(0.0, 0.0), |sum, line| {
        let (n, q) = (f64::from(line.member.count), line.member.length);
        q.map_or(sum, |q| {
            Quantity::new(sum.value + n * q.value, sum.plus_minus + n * q.plus_minus)
        })
    });
    let plain = pieces.iter().all(|p| p.ends.iter().all(|e| e.kind == 0));
    let quick = match rack.bars.as_slice() {
        [only] if only.count.is_none() && plan.unplaced.is_empty() && plain => {
            let sizes: Vec<Tenths> = pieces.iter().map(|p| p.length + rack.kerf).collect();
            Some(first_fit_decreasing(&sizes, rack.usable(only) + rack.kerf) as u32)
        }
        _ => None,
    };
    let length = mm(plan.length());
    let waste: f64 = bars.iter().map(|bar| bar.waste).sum();
    StockLine {
        stock: stock.to_owned(),
        standard: lines.first().and_then(|line| line.member.standard.clone()),
        pieces: pieces.len() as u32,
        blanks,
        bars: by_length.iter().rev().map(|(&l, &n)| (mm(l), n)).collect(),
        length,
        least_bars: plan.least_bars,
        least_length: mm(plan.least_length),
        proven: plan.is_best(),
        first_fit_decreasing: quick,
        waste_percent: if length > 0.0 {
            100.0 * waste / length
        } else {
            0.0
        },
        without_bar,
    }
}

/// Numbers for cuts that can be shared.
#[derive(Default)]
struct Kinds {
    known: BTreeMap<(u8, i64, i64), u32>,
    /// Of pieces that can't be turned: by line, hand and end.
    fixed: BTreeMap<(usize, bool, usize), u32>,
    next: u32,
}

impl Kinds {
    /// The two ends of a piece of a line; `which` names line and hand.
    fn ends(&mut self, line: &Line, which: (usize, bool), kerf: f64) -> [EndCut; 2] {
        let mut ends = [0, 1].map(|k| match &line.mitres[k] {
            Some(mitre) => self.cut(mitre, (which.0, which.1, k), kerf),
            None => EndCut::default(),
        });
        if let [Some(a), Some(b)] = &line.mitres
            && (a.plane.is_none() || b.plane.is_none())
            && (a.way[0] - b.way[0]).abs().max((a.way[1] - b.way[1]).abs()) < PARALLEL
        {
            // parallel cuts: the end of one piece meets the beginning of the next
            (ends[0].mate, ends[1].mate) = (ends[1].kind, ends[0].kind);
        }
        ends
    }

    fn cut(&mut self, mitre: &Mitre, which: (usize, bool, usize), kerf: f64) -> EndCut {
        let angle = mitre.angle.to_radians();
        // a cut flatter than any saw makes is one of its own
        let along = (kerf / angle.cos().max(0.05) * 10.0).ceil() as Tenths;
        let key = |plane| {
            (
                plane,
                (mitre.angle * 10.0).round() as i64,
                tenths(mitre.range) as i64,
            )
        };
        let next = self.next + 1;
        let kind = *match mitre.plane {
            Some(plane) => self.known.entry(key(plane)).or_insert(next),
            None => self.fixed.entry(which).or_insert(next),
        };
        self.next = self.next.max(kind);
        EndCut {
            kind,
            mate: if mitre.plane.is_some() { kind } else { 0 },
            saving: (mitre.range * 10.0).floor().max(0.0) as Tenths,
            kerf: along,
        }
    }
}

/// Planes of cuts that differ by less are one setting of the saw, degrees.
const PARALLEL: f64 = 0.05;

fn many(stock: &str) -> Finding {
    Finding::new(
        Code::NoStock,
        Severity::Error,
        format!("There are more than {MOST} pieces of {stock}; the rest is in no bar."),
        "List fewer models at once.",
    )
}

fn no_bar(
    stock: &str,
    without: &[String],
    pieces: &[Piece],
    plan: &Plan,
    rack: &Rack,
    show: Show,
) -> Option<Finding> {
    let first = *plan.unplaced.first()?;
    let mut marks = without.to_vec();
    marks.dedup();
    let longest = rack
        .bars
        .iter()
        .map(|bar| rack.usable(bar))
        .max()
        .unwrap_or(0);
    let (cause, remedy) = match pieces[first].length > longest {
        true => (
            format!(
                "is longer than any bar: it needs {} and the longest bar gives {}",
                roughly(mm(pieces[first].length), show),
                roughly(mm(longest), show)
            ),
            "Order a longer bar (--stock), or join two pieces and have the joint's place approved.",
        ),
        false => (
            "finds no bar: those at hand are used up".to_owned(),
            "Give a length that can be bought, without a count, beside those at hand.",
        ),
    };
    Some(Finding::new(
        Code::NoStock,
        Severity::Warning,
        format!(
            "{} of {stock} {cause}. Pieces without a bar: {}.",
            marks[0],
            without.len()
        ),
        remedy,
    ))
}
