//! The options about buying and cutting, and what a shop file says in their place.

use clap::Args;

use super::shop_file::InForce;
use super::{Failure, workpiece};
use crate::measure::Show;
use crate::shop::Refused;
use crate::shop::cutlist::{Settings, StockLength};
use crate::shop::file::{self, ShopFile, Typed};
use crate::shop::roll::Waste;

/// How the shop buys and cuts.
#[derive(Debug, Args)]
pub struct Planning {
    /// Length of bars, as 6000, 20ft, or 2500x3 for three of them at hand; may be given more than once
    #[arg(long, value_name = "LENGTH")]
    stock: Vec<String>,

    /// Width of a saw cut
    #[arg(long, value_name = "LENGTH")]
    kerf: Option<String>,

    /// Cut off at each end of a bar before anything else
    #[arg(long, value_name = "LENGTH")]
    trim: Option<String>,

    /// Cut every mitre by itself, even where one cut would serve two neighbours
    #[arg(long)]
    no_shared_mitres: bool,

    /// Straight waste at each end of what is rolled
    #[arg(long, value_name = "LENGTH")]
    waste: Option<String>,

    /// Size of a sheet of plate, as 3000x1500
    #[arg(long, value_name = "LENGTHxWIDTH")]
    sheet: Option<String>,

    /// Longest piece that can be moved
    #[arg(long, value_name = "LENGTH")]
    max_length: Option<String>,

    /// Parts nearer than this are looked at as neighbours
    #[arg(long, value_name = "LENGTH")]
    reach: Option<String>,
}

/// What is said on the command line, else in the shop file, else what is usual (no source), which the
/// answer says.
pub fn settings(options: &Planning, shop: &InForce, show: Show) -> Result<Settings, Failure> {
    let file = &shop.file;
    let metric = show == Show::Millimetre;
    let length = |option, text: &Option<String>, key: &str, typed: Option<&Typed>| {
        match workpiece::maybe_length(option, text.as_ref(), show)? {
            Some(mm) => Ok(Some(mm)),
            None => shop.length(key, typed),
        }
    };
    let mut planned: Vec<String> = shop
        .path
        .iter()
        .map(|path| format!("Planned with the shop file {}.", path.display()))
        .collect();
    let mut plan = |what: &str, usual: [&str; 2], option: &str| {
        planned.push(format!(
            "{what} {} planned with: say yours with --{option}, or once for all in a shop file (`soapstone shop-file`).",
            usual[usize::from(!metric)]
        ));
    };
    let stock = stock_lengths(options, file, show)?;
    let stock = match stock.iter().any(|s| s.size.is_none()) {
        true => stock,
        false => {
            plan("Bars of", ["6000 mm are", "20 ft are"], "stock");
            let usual = StockLength {
                length: if metric { 6000.0 } else { 6096.0 },
                count: None,
                size: None,
            };
            stock.into_iter().chain([usual]).collect()
        }
    };
    let kerf = match length("kerf", &options.kerf, "kerf", file.saw.kerf.as_ref())? {
        Some(kerf) => kerf,
        None => {
            plan("A saw cut of", ["3 mm is", "1/8 in is"], "kerf");
            if metric { 3.0 } else { 3.175 }
        }
    };
    let of_file = |key: &str, typed: &Option<Typed>| shop.length(key, typed.as_ref());
    let in_file = (
        of_file("length", &file.sheets.length)?,
        of_file("width", &file.sheets.width)?,
    );
    let sheet = match (&options.sheet, in_file) {
        (Some(text), _) => sheet(text, show)?,
        (None, (Some(length), Some(width))) => [length, width],
        (None, _) => {
            plan(
                "Sheets of",
                ["3000 x 1500 mm are", "10 x 5 ft are"],
                "sheet",
            );
            if metric {
                [3000.0, 1500.0]
            } else {
                [3048.0, 1524.0]
            }
        }
    };
    let waste = match workpiece::maybe_length("waste", options.waste.as_ref(), show)? {
        Some(each) => Waste::Each(each),
        None => shop.waste()?,
    };
    let longest = file.transport.max_length.as_ref();
    Ok(Settings {
        stock,
        kerf,
        trim: length("trim", &options.trim, "trim", file.saw.trim.as_ref())?.unwrap_or(0.0),
        share_mitres: !options.no_shared_mitres && file.saw.share_mitres.unwrap_or(true),
        waste,
        sheet,
        max_length: length("max-length", &options.max_length, "max-length", longest)?,
        reach: length("reach", &options.reach, "reach", None)?.unwrap_or(REACH),
        prefer: file.standards.prefer.clone(),
        show,
        planned,
    })
}

/// Parts nearer than this are neighbours where nobody says, mm.
const REACH: f64 = 3.0;

/// Lengths of the command line, which stand for every size; else those of the shop file.
fn stock_lengths(
    options: &Planning,
    file: &ShopFile,
    show: Show,
) -> Result<Vec<StockLength>, Failure> {
    if !options.stock.is_empty() {
        let given = options.stock.iter();
        return given
            .map(|text| stock_length("stock", text, None, show))
            .collect();
    }
    let mut out = Vec::new();
    let every = file.bars.lengths.iter().map(|typed| (typed, None));
    let own = file
        .bars
        .of
        .iter()
        .flat_map(|of| of.lengths.iter().map(move |l| (l, Some(&of.size))));
    for (typed, size) in every.chain(own) {
        let size = size.cloned();
        out.push(match typed {
            // lengths in the file are millimetres, whatever answers are shown in
            Typed::Text(text) => stock_length("lengths", text, size, Show::Millimetre)?,
            number => StockLength {
                length: file::length("lengths", number)?,
                count: None,
                size,
            },
        });
    }
    Ok(out)
}

/// `6000`, `20ft`, or `2500x3`: a length, and how many of it there are.
fn stock_length(
    option: &'static str,
    text: &str,
    size: Option<String>,
    show: Show,
) -> Result<StockLength, Failure> {
    let (text, count) = match text.rsplit_once(['x', '×', '*']) {
        Some((length, count)) => match count.trim().parse::<u32>() {
            Ok(count) => (length, Some(count)),
            Err(_) => {
                return Err(Refused::new(
                    format!("\"{text}\" is no length of bar with a count."),
                    "Write it as 6000, 20ft or, for three bars at hand, 2500x3.",
                )
                .into());
            }
        },
        None => (text, None),
    };
    Ok(StockLength {
        length: workpiece::length(option, text.trim(), show)?,
        count,
        size,
    })
}

fn sheet(text: &str, show: Show) -> Result<[f64; 2], Failure> {
    let Some((a, b)) = text.split_once(['x', '×', '*']) else {
        return Err(Refused::new(
            format!("\"{text}\" is no size of a sheet."),
            "Write length and width, as in --sheet 3000x1500 or --sheet 10ftx5ft.",
        )
        .into());
    };
    Ok([
        workpiece::length("sheet", a, show)?,
        workpiece::length("sheet", b, show)?,
    ])
}
