//! The cut list as CSV: one row per thing to cut or buy, for a spreadsheet.

use ::csv::{Error, Writer};

use super::CutList;
use crate::measure::{Quantity, Show, decimals};

/// The list as CSV with a head line; lengths in mm or decimal inches, masses in kg or lb, as the heads
/// say. `kind` tells the rows apart: member, bar, piece, buy, plate, thickness, joint, total.
pub fn csv(list: &CutList, show: Show) -> Result<String, Error> {
    let (unit, mass) = (show.length_symbol(), show.mass_symbol());
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record([
        "kind".to_owned(),
        "mark".to_owned(),
        "stock".to_owned(),
        "count".to_owned(),
        format!("length_{unit}"),
        format!("length_plus_minus_{unit}"),
        format!("width_{unit}"),
        format!("thickness_{unit}"),
        format!("{mass}_each"),
        "bar".to_owned(),
        format!("at_{unit}"),
        format!("waste_{unit}"),
        "note".to_owned(),
    ])?;
    let scale = show.per_millimetre();
    let number = |mm: f64| format!("{:.3}", mm * scale);
    let value = |q: Option<Quantity>, factor: f64| {
        q.map_or_else(String::new, |q| {
            let places = decimals(q.plus_minus * factor / 10.0, 6);
            format!("{:.places$}", q.value * factor)
        })
    };
    let doubt = |q: Option<Quantity>| {
        q.map_or_else(String::new, |q| format!("{:.4}", q.plus_minus * scale))
    };
    let none = String::new;
    for line in &list.members {
        writer.write_record([
            "member".to_owned(),
            line.mark.clone(),
            line.stock.clone(),
            line.count.to_string(),
            value(line.length, scale),
            doubt(line.length),
            none(),
            none(),
            value(line.mass, show.per_kilogram()),
            none(),
            none(),
            number(line.waste),
            match line.opposite_hand {
                0 => none(),
                n => format!("{n} opposite hand"),
            },
        ])?;
    }
    for stock in &list.buy {
        for (length, count) in &stock.bars {
            writer.write_record([
                "buy".to_owned(),
                none(),
                stock.stock.clone(),
                count.to_string(),
                number(*length),
                none(),
                none(),
                none(),
                none(),
                none(),
                none(),
                none(),
                format!("at least {} bars whatever the plan", stock.least_bars),
            ])?;
        }
    }
    for (k, bar) in list.bars.iter().enumerate() {
        let row = |kind: &str, mark: &str, length: f64, at: String, waste: String| {
            [
                kind.to_owned(),
                mark.to_owned(),
                bar.stock.clone(),
                "1".to_owned(),
                number(length),
                none(),
                none(),
                none(),
                none(),
                (k + 1).to_string(),
                at,
                waste,
                none(),
            ]
        };
        writer.write_record(row("bar", "", bar.length, none(), number(bar.waste)))?;
        for piece in &bar.pieces {
            writer.write_record(row(
                "piece",
                &piece.mark,
                piece.length,
                number(piece.at),
                none(),
            ))?;
        }
    }
    for plate in &list.plates {
        writer.write_record([
            "plate".to_owned(),
            plate.mark.clone(),
            none(),
            plate.count.to_string(),
            value(plate.length, scale),
            doubt(plate.length),
            value(plate.width, scale),
            value(plate.thickness, scale),
            value(plate.mass, show.per_kilogram()),
            none(),
            none(),
            none(),
            format!("{} pierces", plate.pierces),
        ])?;
    }
    for joint in &list.joints {
        let marks: Vec<&str> = joint.holes.iter().map(|h| h.mark.as_str()).collect();
        let bolts: Vec<&str> = joint.bolts.iter().map(|b| b.thread.as_str()).collect();
        writer.write_record([
            "joint".to_owned(),
            marks.join(" + "),
            none(),
            joint.count.to_string(),
            value(Some(joint.grip), scale),
            doubt(Some(joint.grip)),
            number(joint.clear),
            none(),
            none(),
            none(),
            none(),
            none(),
            format!(
                "length is the grip, width the clear hole; largest bolts {}",
                bolts.join(", ")
            ),
        ])?;
    }
    writer.write_record([
        "total".to_owned(),
        none(),
        none(),
        "1".to_owned(),
        none(),
        none(),
        none(),
        none(),
        value(list.mass, show.per_kilogram()),
        none(),
        none(),
        none(),
        none(),
    ])?;
    let bytes = writer
        .into_inner()
        .map_err(|why| Error::from(why.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
