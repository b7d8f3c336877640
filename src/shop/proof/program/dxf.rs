//! The lines of a DXF that are cut.

use std::collections::{BTreeMap, BTreeSet};

use super::arc::anticlockwise;
use super::pairs::{Object, number, objects};
use super::{FARTHEST, Language, MOST_PIECES, Program, Saying, Stroke};
use crate::measure::Unit;
use crate::shop::Refused;
use crate::shop::proof::piece::{Piece, Place, bulged, circle};

/// Layers of the drawings written here that nothing cuts.
const NOT_CUT: [&str; 4] = ["MARK", "BEND-UP", "BEND-DOWN", "WORDS"];

/// Entities that say something and cut nothing.
const WORDS: [&str; 10] = [
    "TEXT",
    "MTEXT",
    "POINT",
    "DIMENSION",
    "ATTDEF",
    "ATTRIB",
    "LEADER",
    "HATCH",
    "VIEWPORT",
    "SEQEND",
];

/// Reads the entities that are cut, each a stroke, in the order of the file.
pub fn read(text: &str, saying: &Saying) -> Result<Program, Refused> {
    let objects = objects(text)?;
    let unit = unit(&objects);
    let mm = unit
        .or(saying.unit)
        .unwrap_or(Unit::Millimetre)
        .millimetres();
    let hidden = hidden_layers(&objects);
    let mut program = Program {
        language: Language::Dxf,
        strokes: Vec::new(),
        rapids: Vec::new(),
        unit,
        notes: Vec::new(),
        doubts: Vec::new(),
    };
    let mut left_out: BTreeMap<String, usize> = BTreeMap::new();
    let mut unread: BTreeMap<String, usize> = BTreeMap::new();
    let mut pieces = 0;
    let entities: Vec<&Object> = objects.iter().filter(|o| o.section == "ENTITIES").collect();
    let mut k = 0;
    while let Some(entity) = entities.get(k) {
        let number = k + 1;
        k += 1;
        let vertices: Vec<&Object> = match entity.kind {
            "POLYLINE" => entities
                .iter()
                .skip(k)
                .take_while(|o| o.kind == "VERTEX")
                .copied()
                .collect(),
            _ => Vec::new(),
        };
        k += vertices.len();
        if matches!(entity.kind, "SECTION" | "ENDSEC") || WORDS.contains(&entity.kind) {
            continue;
        }
        let layer = entity.text(8).unwrap_or("0");
        if !is_cut(layer, entity, &hidden, saying) {
            *left_out.entry(printable(layer)).or_default() += 1;
            continue;
        }
        let Some(found) = path(entity, &vertices, number)? else {
            let kind = printable(entity.kind);
            *unread.entry(kind).or_default() += 1;
            continue;
        };
        pieces += found.len();
        if pieces > MOST_PIECES {
            return Err(Refused::new(
                format!("The DXF has more than the {MOST_PIECES} lines and arcs that are read."),
                "Give the drawing of one plate.",
            ));
        }
        let scaled: Vec<Piece> = found.into_iter().map(|piece| times(piece, mm)).collect();
        let near = |p: Place| p.coords.amax() <= FARTHEST;
        if !scaled
            .iter()
            .all(|piece| near(piece.from()) && near(piece.to()))
        {
            return Err(entity_wrong(
                number,
                entity.kind,
                "lies more than 100 m off",
            ));
        }
        if scaled.iter().any(|piece| piece.length() > 0.0) {
            program.strokes.push(Stroke {
                pieces: scaled,
                line: number,
                compensated: None,
            });
        }
    }
    for (kind, count) in unread {
        program.doubts.push(format!(
            "{count} of the kind {kind} can't be followed; only lines, arcs, circles and polylines can. Break them up into those."
        ));
    }
    for (layer, count) in left_out {
        program.notes.push(format!(
            "{count} on the layer {layer} taken as not cut. --layer names the layers that are."
        ));
    }
    Ok(program)
}

fn is_cut(layer: &str, entity: &Object, hidden: &BTreeSet<&str>, saying: &Saying) -> bool {
    let named = |list: &[String]| list.iter().any(|name| name.eq_ignore_ascii_case(layer));
    if entity.bits(60) == 1 || entity.bits(67) == 1 {
        return false;
    }
    match saying.layers.is_empty() {
        false => named(&saying.layers),
        true => {
            let marks = NOT_CUT.iter().any(|name| name.eq_ignore_ascii_case(layer));
            !marks && !hidden.contains(layer)
        }
    }
}

/// $INSUNITS; the numbers are those of the DXF reference.
fn unit(objects: &[Object]) -> Option<Unit> {
    let header = objects.iter().find(|o| o.kind == "$INSUNITS")?;
    match header.bits(70) {
        1 => Some(Unit::Inch),
        2 => Some(Unit::Foot),
        4 => Some(Unit::Millimetre),
        5 => Some(Unit::Centimetre),
        6 => Some(Unit::Metre),
        _ => None,
    }
}

/// Layers that are off (a negative colour) or frozen.
fn hidden_layers<'t>(objects: &[Object<'t>]) -> BTreeSet<&'t str> {
    objects
        .iter()
        .filter(|o| o.section == "TABLES" && o.kind == "LAYER")
        .filter(|o| o.bits(62) < 0 || o.bits(70) & 1 == 1)
        .filter_map(|o| o.text(2))
        .collect()
}

/// Pieces of an entity in units of the file; `None` for a kind that isn't followed.
fn path(
    entity: &Object,
    vertices: &[&Object],
    number: usize,
) -> Result<Option<Vec<Piece>>, Refused> {
    let wrong = |what: &str| entity_wrong(number, entity.kind, what);
    let get = |code| {
        entity
            .number(code)
            .ok_or_else(|| wrong(&format!("has no number in group {code}")))
    };
    let place = |x, y| Ok::<Place, Refused>(Place::new(get(x)?, get(y)?));
    let facing = entity.number(230).unwrap_or(1.0);
    let tilted = entity.number(210).unwrap_or(0.0).abs() > 1e-9
        || entity.number(220).unwrap_or(0.0).abs() > 1e-9;
    let found = match entity.kind {
        "LINE" => {
            return Ok(Some(vec![Piece::Line {
                from: place(10, 20)?,
                to: place(11, 21)?,
            }]));
        }
        _ if tilted => return Ok(None),
        "CIRCLE" => {
            let radius = get(40)?;
            positive(radius).ok_or_else(|| wrong("has no radius"))?;
            circle(place(10, 20)?, radius).to_vec()
        }
        "ARC" => {
            let (centre, radius) = (place(10, 20)?, get(40)?);
            positive(radius).ok_or_else(|| wrong("has no radius"))?;
            let (start, end) = (get(50)?, get(51)?);
            if !(start.abs() < 1e6 && end.abs() < 1e6) {
                return Err(wrong("has angles that are none"));
            }
            vec![round(centre, radius, start, anticlockwise(start, end))]
        }
        "LWPOLYLINE" => {
            let corners =
                light_corners(entity).ok_or_else(|| wrong("has a vertex that is none"))?;
            polyline(&corners, entity.bits(70) & 1 == 1)
        }
        // Meshes, and curves told by control points.
        "POLYLINE" if entity.bits(70) & (16 | 64) != 0 => return Ok(None),
        "POLYLINE" => {
            let corners: Option<Vec<(Place, f64)>> = vertices
                .iter()
                .filter(|v| v.bits(70) & 16 == 0)
                .map(|v| {
                    let bulge = v.number(42).unwrap_or(0.0);
                    Some((Place::new(v.number(10)?, v.number(20)?), bulge))
                })
                .collect();
            let corners = corners.ok_or_else(|| wrong("has a vertex that is none"))?;
            polyline(&corners, entity.bits(70) & 1 == 1)
        }
        _ => return Ok(None),
    };
    Ok(Some(match facing < 0.0 {
        // Drawn on the back of the plane: its x runs the other way.
        true => found.iter().map(Piece::mirrored).collect(),
        false => found,
    }))
}

fn light_corners(entity: &Object) -> Option<Vec<(Place, f64)>> {
    let mut corners: Vec<(Place, f64)> = Vec::new();
    for (code, value) in &entity.groups {
        match code {
            10 => corners.push((Place::new(number(value)?, 0.0), 0.0)),
            20 => corners.last_mut()?.0.y = number(value)?,
            42 => {
                if let Some(corner) = corners.last_mut() {
                    corner.1 = number(value)?;
                }
            }
            _ => {}
        }
    }
    Some(corners)
}

fn polyline(corners: &[(Place, f64)], closed: bool) -> Vec<Piece> {
    let next = corners
        .iter()
        .skip(1)
        .chain(corners.first().filter(|_| closed));
    corners
        .iter()
        .zip(next)
        .map(|((from, bulge), (to, _))| bulged(*from, *to, bulge.clamp(-1e6, 1e6)))
        .filter(|piece| piece.length() > 0.0)
        .collect()
}

fn round(centre: Place, radius: f64, start: f64, sweep: f64) -> Piece {
    let at = |turn: f64| centre + nalgebra::Vector2::new(turn.cos(), turn.sin()) * radius;
    let start = start.to_radians();
    Piece::Arc {
        from: at(start),
        to: at(start + sweep),
        centre,
        sweep,
    }
}

fn positive(value: f64) -> Option<f64> {
    (value > 0.0).then_some(value)
}

fn times(piece: Piece, by: f64) -> Piece {
    let scaled = |p: Place| p * by;
    match piece {
        Piece::Line { from, to } => Piece::Line {
            from: scaled(from),
            to: scaled(to),
        },
        Piece::Arc {
            from,
            to,
            centre,
            sweep,
        } => Piece::Arc {
            from: scaled(from),
            to: scaled(to),
            centre: scaled(centre),
            sweep,
        },
    }
}

fn entity_wrong(number: usize, kind: &str, what: &str) -> Refused {
    Refused::new(
        format!("Entity {number} of the DXF, {}, {what}.", printable(kind)),
        "Correct the drawing, and export it again.",
    )
}

/// A name from the file, short and on one line.
fn printable(name: &str) -> String {
    name.chars()
        .take(40)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
