//! What to buy and how to cut it: members nested into bars, plates by thickness, weights, joints,
//! fits, and the pieces as they ship.

pub mod area;
pub mod bars;
pub mod csv;
pub mod fits;
pub mod joints;
pub mod lines;
pub mod nest;
pub mod plates;
pub mod said;
pub mod shipping;
pub mod stand;
pub mod table;
pub mod weight;

use schemars::JsonSchema;
use serde::Serialize;

use crate::body::Body;
use crate::finding::Finding;
use crate::measure::{Quantity, Show};
use crate::part::Part;
use crate::report::{LengthUnit, Report, Source};
use crate::shop::Refused;
use crate::shop::roll::Waste;

pub use bars::{BarLine, StockLine};
pub use fits::{Landing, Near};
pub use joints::Joint;
pub use lines::MemberLine;
pub use plates::{PlateLine, ThicknessLine};
pub use shipping::{ShippedPiece, Unit};
pub use weight::Weight;

/// One length bars are bought or stand in the rack in.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StockLength {
    /// Length, mm.
    pub length: f64,
    /// How many there are; null where more can be bought.
    pub count: Option<u32>,
    /// Size it is for, as in "80 x 80 x 4"; null for all that have none of their own.
    pub size: Option<String>,
}

/// How the shop buys and cuts. Lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Lengths of bar.
    pub stock: Vec<StockLength>,
    /// Width of a saw cut.
    pub kerf: f64,
    /// Cut off at each end of a bar before anything else.
    pub trim: f64,
    /// Whether neighbours may share a mitre cut.
    pub share_mitres: bool,
    /// Straight waste at the ends of what is rolled.
    pub waste: Waste,
    /// Length and width of a sheet of plate.
    pub sheet: [f64; 2],
    /// Longest piece that can be moved.
    pub max_length: Option<f64>,
    /// Parts nearer than this are looked at as neighbours.
    pub reach: f64,
    /// Standards to name first, by how their names begin.
    pub prefer: Vec<String>,
    /// Unit of the sentences.
    pub show: Show,
    /// What of this was not said, each one sentence.
    pub planned: Vec<String>,
}

/// A model, as examined, and how many of it are made.
#[derive(Clone, Copy, Debug)]
pub struct Model<'a> {
    /// Its report.
    pub report: &'a Report,
    /// Its bodies.
    pub bodies: &'a [Body],
    /// The pieces of each part, each in its own place; true for the opposite hand.
    pub pieces: &'a [Vec<(Part, bool)>],
    /// How many are made.
    pub quantity: u32,
}

/// A model in the list.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Listed {
    /// What stands before its marks where several models are listed.
    pub letter: Option<String>,
    /// The file.
    pub source: Source,
    /// How file units became millimetres.
    pub length_unit: LengthUnit,
    /// How many are made.
    pub quantity: u32,
    /// Mass, centre of gravity and paint of one.
    pub weight: Weight,
}

/// The cut list. Lengths in mm, areas in mm², masses in kg.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CutList {
    /// Version of this layout.
    pub schema: u32,
    /// The models.
    pub models: Vec<Listed>,
    /// Density the masses are reckoned with, kg/m³.
    pub density: f64,
    /// Lengths of bar planned with.
    pub stock: Vec<StockLength>,
    /// Width of a saw cut.
    pub kerf: f64,
    /// Cut off at each end of a bar.
    pub trim: f64,
    /// Sheet of plate planned with: length and width.
    pub sheet: [f64; 2],
    /// Members to cut, by stock.
    pub members: Vec<MemberLine>,
    /// What to buy of each stock.
    pub buy: Vec<StockLine>,
    /// The bars, each with its pieces.
    pub bars: Vec<BarLine>,
    /// Bars no plan can do without, all stocks together.
    pub bars_lower_bound: u32,
    /// Plates to cut.
    pub plates: Vec<PlateLine>,
    /// The same by thickness.
    pub thicknesses: Vec<ThicknessLine>,
    /// Mass of everything, metal only; null where that of a piece is not known.
    pub mass: Option<Quantity>,
    /// Holes that line up through neighbouring parts.
    pub joints: Vec<Joint>,
    /// What each cut end lands on.
    pub landings: Vec<Landing>,
    /// Neighbours that stand apart or run into each other.
    pub neighbours: Vec<Near>,
    /// Pieces as they ship.
    pub pieces: Vec<ShippedPiece>,
    /// What is left in one when every bolted joint is undone.
    pub units: Vec<Unit>,
    /// What was noticed, worst first.
    pub findings: Vec<Finding>,
    /// What to mind, each one sentence or two.
    pub notes: Vec<String>,
}

/// Mark of a part in a list of several models.
pub(crate) fn mark_of(letter: Option<&str>, mark: &str) -> String {
    letter.map_or_else(|| mark.to_owned(), |letter| format!("{letter}-{mark}"))
}

/// Letter of a model in a list of several, counted from 0: A, B … Z, AA, AB …
pub fn letter(mut number: usize) -> String {
    let mut out = String::new();
    loop {
        out.insert(0, char::from(b'A' + (number % 26) as u8));
        match number / 26 {
            0 => return out,
            more => number = more - 1,
        }
    }
}

/// The cut list of these models.
pub fn cutlist(models: &[Model], settings: &Settings) -> Result<CutList, Refused> {
    check(settings)?;
    let letters: Vec<Option<String>> = (0..models.len())
        .map(|k| (models.len() > 1).then(|| letter(k)))
        .collect();
    let named = || models.iter().zip(letters.iter().map(Option::as_deref));
    let mut findings = Vec::new();
    for (model, letter) in named() {
        let own = model.report.findings.iter().cloned();
        findings.extend(own.map(|mut finding| {
            finding.part = finding.part.map(|mark| mark_of(letter, &mark));
            finding
        }));
    }
    let density = models
        .iter()
        .flat_map(|m| &m.report.parts)
        .map(|p| p.density)
        .next()
        .unwrap_or(crate::measure::STEEL_DENSITY);
    let mut notes = settings.planned.clone();
    let lines: Vec<lines::Line> = named()
        .flat_map(|(model, letter)| lines::of(model, letter, settings, &mut notes))
        .collect();
    let cut = bars::plan(&lines, settings, &mut findings);
    let plates: Vec<PlateLine> = named()
        .flat_map(|(model, letter)| plates::of(model, letter, settings, &mut notes))
        .collect();
    let thicknesses = plates::by_thickness(&plates, settings.sheet);
    plates::too_large(&plates, settings, &mut findings);
    let (mut joints, mut landings, mut neighbours) = (Vec::new(), Vec::new(), Vec::new());
    let (mut pieces, mut units) = (Vec::new(), Vec::new());
    for (model, letter) in named() {
        let stand = stand::Stand::of(model, letter);
        let own_joints = joints::find(&stand, settings, &mut findings);
        let own_landings = fits::landings(&stand, settings, &mut findings);
        let own_near = fits::neighbours(&stand, settings, &own_landings.lines, &mut findings);
        pieces.extend(shipping::pieces(&stand, settings, density, &mut findings));
        units.extend(shipping::units(
            &stand,
            &own_joints,
            &own_landings,
            &own_near,
            settings,
            density,
            &mut findings,
        ));
        joints.extend(own_joints.lines);
        landings.extend(own_landings.lines);
        neighbours.extend(own_near.lines);
    }
    let listed: Vec<Listed> = named()
        .map(|(model, letter)| Listed {
            letter: letter.map(str::to_owned),
            source: model.report.source.clone(),
            length_unit: model.report.length_unit.clone(),
            quantity: model.quantity,
            weight: weight::of(model),
        })
        .collect();
    let mass = listed
        .iter()
        .map(|l| Some(l.weight.mass?.scaled(f64::from(l.quantity))))
        .try_fold(Quantity::new(0.0, 0.0), |sum, kg| {
            let kg = kg?;
            Some(Quantity::new(
                sum.value + kg.value,
                sum.plus_minus + kg.plus_minus,
            ))
        });
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    notes.dedup();
    Ok(CutList {
        schema: 1,
        density,
        models: listed,
        stock: settings.stock.clone(),
        kerf: settings.kerf,
        trim: settings.trim,
        sheet: settings.sheet,
        members: lines.into_iter().map(|line| line.member).collect(),
        bars_lower_bound: cut.buy.iter().map(|stock| stock.least_bars).sum(),
        buy: cut.buy,
        bars: cut.bars,
        plates,
        thicknesses,
        mass,
        joints,
        landings,
        neighbours,
        pieces,
        units,
        findings,
        notes,
    })
}

/// Longest bar and most bars of one length that are taken for meant.
const LONGEST: f64 = 1e6;

fn check(settings: &Settings) -> Result<(), Refused> {
    let lengths = [settings.kerf, settings.trim, settings.reach];
    if !lengths
        .iter()
        .all(|l| l.is_finite() && (0.0..LONGEST).contains(l))
    {
        return Err(Refused::new(
            "The kerf, the end trim or the reach is less than nothing or far too long.",
            "Give each as a length, as in --kerf 2.5mm.",
        ));
    }
    let usable = |stock: &StockLength| stock.length - 2.0 * settings.trim;
    let sound = |stock: &StockLength| stock.length < LONGEST && usable(stock) > 0.0;
    match settings.stock.iter().find(|stock| !sound(stock)) {
        Some(bad) => Err(Refused::new(
            format!(
                "A bar of {} can't be used: nothing of it is left after the end trim, or it is far too long.",
                crate::shop::text::roughly(bad.length, settings.show)
            ),
            "Give the length of the bars, as in --stock 6000mm or --stock 20ft.",
        )),
        None if settings.stock.is_empty() => Err(Refused::new(
            "No length of bar is known.",
            "Give at least one, as in --stock 6000mm.",
        )),
        None => Ok(()),
    }
}
