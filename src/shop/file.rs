//! The shop file: what a shop has and how it cuts, once for all jobs.
//!
//! TOML; every key may be left out. A key nobody knows is an error, for a misspelt kerf would silently
//! be another one.

use serde::Deserialize;

use super::Refused;
use super::nearest::nearest;
use crate::measure::{Show, Unit, parse_length};
use crate::plate::ShopRow;

/// Name it is looked for by.
pub const NAME: &str = "soapstone.toml";

/// A length as typed: a number of millimetres, or text with a unit.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Typed {
    /// Whole millimetres.
    Whole(i64),
    /// Millimetres.
    Number(f64),
    /// Text such as "20 ft" or "1/8 in".
    Text(String),
}

/// A shop file as written.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct ShopFile {
    /// Unit to show lengths in.
    pub show: Option<String>,
    /// Metal.
    pub material: Material,
    /// Saw.
    pub saw: Saw,
    /// Bars.
    pub bars: Bars,
    /// Sheets of plate.
    pub sheets: Sheets,
    /// Rolls.
    pub rolls: Rolls,
    /// What can be moved.
    pub transport: Transport,
    /// Standards to name first.
    pub standards: Standards,
    /// How folds are laid flat.
    pub folds: Folds,
    /// What is printed.
    pub print: Print,
}

/// Metal.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Material {
    /// Name in the table of densities.
    pub name: Option<String>,
    /// Density, kg/m³, in place of the table's.
    pub density: Option<f64>,
}

/// Saw.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Saw {
    /// Width of a cut.
    pub kerf: Option<Typed>,
    /// Cut off at each end of a bar.
    pub trim: Option<Typed>,
    /// Whether one cut may serve two neighbours.
    pub share_mitres: Option<bool>,
}

/// Bars.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Bars {
    /// Lengths for every size without its own.
    pub lengths: Vec<Typed>,
    /// Lengths for one size.
    pub of: Vec<BarsOf>,
}

/// Lengths for one size.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct BarsOf {
    /// Size as listed: "80 x 80 x 4".
    pub size: String,
    /// Lengths.
    pub lengths: Vec<Typed>,
}

/// Sheets of plate.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Sheets {
    /// Length.
    pub length: Option<Typed>,
    /// Width.
    pub width: Option<Typed>,
}

/// Rolls.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Rolls {
    /// Straight waste at each end.
    pub waste: Option<Typed>,
    /// Centre distance of the outer rolls, from which the waste is reckoned.
    pub spacing: Option<Typed>,
    /// Length gripped beyond them.
    pub grip: Option<Typed>,
    /// Distances of the feet of the chord gauges at hand.
    pub gauges: Vec<Typed>,
}

/// How folds are laid flat: one factor, a table here, or a table in a file of its own.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Folds {
    /// K-factor of every fold.
    pub k_factor: Option<f64>,
    /// CSV of K-factors, from the folder of the shop file.
    pub k_table: Option<String>,
    /// K-factors by thickness and inside radius.
    pub k: Vec<FoldsK>,
}

/// K-factor for one thickness and inside radius.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct FoldsK {
    /// Thickness.
    pub thickness: Typed,
    /// Inside radius.
    pub inside_radius: Typed,
    /// K-factor.
    pub k: f64,
}

/// What is printed.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Print {
    /// Paper.
    pub paper: Option<String>,
    /// "third" or "first": where a view from above is placed.
    pub projection: Option<String>,
}

/// What can be moved.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Transport {
    /// Longest piece.
    pub max_length: Option<Typed>,
}

/// Standards to name first.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Standards {
    /// Beginnings of their names.
    pub prefer: Vec<String>,
}

/// Keys by the table they stand in; tables are keys of the file itself.
const KEYS: &[(&str, &[&str])] = &[
    (
        "",
        &[
            "show",
            "material",
            "saw",
            "bars",
            "sheets",
            "rolls",
            "transport",
            "standards",
            "folds",
            "print",
        ],
    ),
    ("material", &["name", "density"]),
    ("saw", &["kerf", "trim", "share-mitres"]),
    ("bars", &["lengths", "of"]),
    ("bars.of", &["size", "lengths"]),
    ("sheets", &["length", "width"]),
    ("rolls", &["waste", "spacing", "grip", "gauges"]),
    ("transport", &["max-length"]),
    ("standards", &["prefer"]),
    ("folds", &["k-factor", "k-table", "k"]),
    ("folds.k", &["thickness", "inside-radius", "k"]),
    ("print", &["paper", "projection"]),
];

/// A shop file read and checked.
pub fn read(text: &str) -> Result<ShopFile, Refused> {
    let unreadable = |why: toml::de::Error| {
        let line = why.span().map(|span| {
            1 + text
                .get(..span.start)
                .map_or(0, |t| t.matches('\n').count())
        });
        let place = line.map_or_else(String::new, |line| format!("Line {line}: "));
        Refused::new(
            format!("{place}{}.", why.message().trim_end_matches('.')),
            "Write one key and its value on a line, as in kerf = \"3 mm\"; `soapstone shop-file` writes an example.",
        )
    };
    let table: toml::Table = toml::from_str(text).map_err(unreadable)?;
    known("", &table)?;
    let file: ShopFile = toml::from_str(text).map_err(unreadable)?;
    check(&file)?;
    Ok(file)
}

/// Refuses a key nobody knows, with the nearest that is known.
fn known(place: &str, table: &toml::Table) -> Result<(), Refused> {
    let keys = KEYS
        .iter()
        .find(|(name, _)| *name == place)
        .map_or(&[][..], |k| k.1);
    for (key, value) in table {
        if !keys.contains(&key.as_str()) {
            let written = if place.is_empty() {
                key.clone()
            } else {
                format!("[{place}] {key}")
            };
            let remedy = nearest(key, keys.iter().copied()).map_or_else(
                || format!("Known there: {}.", keys.join(", ")),
                |near| format!("Did you mean {near}? Known there: {}.", keys.join(", ")),
            );
            return Err(Refused::new(
                format!("Nobody knows the key {written}."),
                remedy,
            ));
        }
        let below = if place.is_empty() {
            key.clone()
        } else {
            format!("{place}.{key}")
        };
        match value {
            toml::Value::Table(inner) => known(&below, inner)?,
            toml::Value::Array(list) => {
                for inner in list.iter().filter_map(|v| v.as_table()) {
                    known(&below, inner)?;
                }
            }
            _ => {}
        }
    }
    Ok(())
}

fn check(file: &ShopFile) -> Result<(), Refused> {
    if let Some(show) = &file.show {
        show.parse::<Show>()
            .map_err(|why| Refused::new(format!("show: {why}."), "Correct it in the shop file."))?;
    }
    if let Some(density) = file.material.density
        && !(density > 0.0 && density < 30_000.0)
    {
        return Err(Refused::new(
            format!("density: {density} kg/m³ is that of no metal."),
            "Give kilograms in a cubic metre; steel has 7850.",
        ));
    }
    if file
        .bars
        .of
        .iter()
        .any(|of| of.size.trim().is_empty() || of.lengths.is_empty())
    {
        return Err(Refused::new(
            "A [[bars.of]] names no size or no length.",
            "Give it both, as in size = \"80 x 80 x 4\" and lengths = [\"12 m\"].",
        ));
    }
    let folds = &file.folds;
    let ways = [
        folds.k_factor.is_some(),
        folds.k_table.is_some(),
        !folds.k.is_empty(),
    ];
    if ways.iter().filter(|w| **w).count() > 1 {
        return Err(Refused::new(
            "[folds] says in more than one way how folds are laid flat.",
            "Keep one of k-factor, k-table and [[folds.k]].",
        ));
    }
    if let Some(k) = folds.k_factor {
        factor("k-factor", k)?;
    }
    k_rows(file)?;
    if let Some(text) = &file.print.projection
        && !matches!(text.as_str(), "first" | "third")
    {
        return Err(Refused::new(
            format!("projection: \"{text}\" is no way to place views."),
            "Write \"third\" or \"first\".",
        ));
    }
    Ok(())
}

fn factor(key: &str, k: f64) -> Result<(), Refused> {
    // Also false for what is not a number.
    match (0.0..=1.0).contains(&k) {
        true => Ok(()),
        false => Err(Refused::new(
            format!("{key}: {k} is no K-factor: it lies between 0 and 1."),
            "Give the distance of the neutral line from the inside, divided by the thickness; DIN 6935's own k is twice that.",
        )),
    }
}

/// The K-factors of `[[folds.k]]`, ascending by thickness, then inside radius.
pub fn k_rows(file: &ShopFile) -> Result<Vec<ShopRow>, Refused> {
    let mut rows = Vec::new();
    for row in &file.folds.k {
        factor("[[folds.k]] k", row.k)?;
        let thickness = length("[[folds.k]] thickness", &row.thickness)?;
        if !(thickness > 0.0) {
            return Err(Refused::new(
                "A [[folds.k]] has a thickness of nothing.",
                "Give thickness, inside-radius and k.",
            ));
        }
        rows.push(ShopRow {
            thickness,
            inside_radius: length("[[folds.k]] inside-radius", &row.inside_radius)?,
            k_factor: row.k,
        });
    }
    rows.sort_by(|a, b| {
        (a.thickness.total_cmp(&b.thickness)).then(a.inside_radius.total_cmp(&b.inside_radius))
    });
    let mut neighbours = rows.iter().zip(rows.iter().skip(1));
    let twice = |(a, b): &(&ShopRow, &ShopRow)| {
        a.thickness == b.thickness && a.inside_radius == b.inside_radius
    };
    match neighbours.find(twice) {
        Some((a, _)) => Err(Refused::new(
            format!(
                "[[folds.k]] gives two K-factors for a thickness of {} mm and an inside radius of {} mm.",
                a.thickness, a.inside_radius
            ),
            "Keep the right one.",
        )),
        None => Ok(rows),
    }
}

/// A length of the file in mm; `key` is named where it can't be understood.
pub fn length(key: &str, typed: &Typed) -> Result<f64, Refused> {
    let mm = match typed {
        Typed::Whole(mm) => *mm as f64,
        Typed::Number(mm) => *mm,
        Typed::Text(text) => parse_length(text, Unit::Millimetre).map_err(|why| {
            Refused::new(format!("{key}: {why}."), "Correct it in the shop file.")
        })?,
    };
    match mm.is_finite() && mm >= 0.0 {
        true => Ok(mm),
        false => Err(Refused::new(
            format!("{key} is less than nothing."),
            "Correct it in the shop file.",
        )),
    }
}

/// A shop file to start from, every key explained.
pub const EXAMPLE: &str = r#"# What this shop has and how it cuts. Put this file beside the models, or in a folder above them;
# soapstone finds it there, or where --shop says. Options on the command line go before it.
#
# A bare number is millimetres; text may carry its unit: "20 ft", "1/8 in", "5' 3\"". Take the # off a
# line to use it.

# Unit of the answers: mm, in, or in/8, in/16, in/32, in/64 for fractions of an inch.
show = "mm"

[material]
name = "steel"          # from the table of densities: steel, stainless, aluminium, ...
# density = 7850        # kg/m³, in place of the table's

[saw]
kerf = "3 mm"           # what the blade turns to chips; measure a cut
trim = "0 mm"           # cut off at each end of a bar before anything else
share-mitres = true     # one cut for two mitred neighbours

[bars]
lengths = ["6000 mm"]   # what can be bought; "2450 mm x 3" means three of them at hand

# Lengths for one size, in place of the others. As many of these as you like.
# [[bars.of]]
# size = "80 x 80 x 4"
# lengths = ["12 m", "4100 mm x 1"]

[sheets]
length = "3000 mm"
width = "1500 mm"

[rolls]
# waste = "300 mm"      # straight waste at each end of what is rolled
# spacing = "500 mm"    # or: centre distance of the two outer rolls,
# grip = "30 mm"        # and the length gripped beyond them
# gauges = ["300 mm"]   # feet of your chord gauges; readings are worked out for each

# How folds are laid flat; DIN 6935 without any of this. One factor for all of them, or a table: the
# distance of the neutral line from the inside, divided by the thickness, as found on your own press.
[folds]
# k-factor = 0.42
# k-table = "k.csv"     # or: a CSV beside this file with thickness, inside radius, K in each line
# [[folds.k]]           # or: one of these for each thickness and inside radius
# thickness = "3 mm"
# inside-radius = "3 mm"
# k = 0.41

[transport]
# max-length = "12 m"   # longest piece that can be moved

[standards]
# prefer = ["EN 10219"] # named first where a size stands in several

[print]
paper = "A4"            # A4, A3, letter or tabloid
projection = "third"    # where a view from above is placed: third angle (above) or first (below)
"#;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_reads_and_says_what_it_seems_to() {
        let file = read(EXAMPLE).unwrap();
        assert_eq!(file.show.as_deref(), Some("mm"));
        assert_eq!(length("kerf", &file.saw.kerf.unwrap()), Ok(3.0));
        assert_eq!(file.bars.lengths, [Typed::Text("6000 mm".into())]);
        // every line that is commented out is sound, too; of the three ways to say K one is kept
        let bare = |line: &str| line.strip_prefix("# ").map(str::to_owned);
        let keyed = |line: &str| {
            line.starts_with("[[")
                || line
                    .split_once(" = ")
                    .is_some_and(|(k, _)| !k.contains(' '))
        };
        let all: String = EXAMPLE
            .lines()
            .filter(|line| !line.contains("k-factor =") && !line.contains("k-table ="))
            .map(|line| match bare(line) {
                Some(bare) if keyed(&bare) => format!("{bare}\n"),
                _ => format!("{line}\n"),
            })
            .collect();
        let file = read(&all).unwrap();
        assert_eq!(file.bars.of[0].size, "80 x 80 x 4");
        assert_eq!(file.standards.prefer, ["EN 10219"]);
        assert_eq!(k_rows(&file).unwrap()[0].k_factor, 0.41);
        assert_eq!(file.rolls.gauges.len(), 1);
        // every key there is stands in the example
        for (table, keys) in KEYS {
            for key in *keys {
                let below = format!("{table}.{key}");
                let is_table = KEYS.iter().any(|(name, _)| name == key || *name == below);
                let words = match (is_table, table.is_empty()) {
                    (true, true) => format!("[{key}]"),
                    (true, false) => format!("[[{below}]]"),
                    (false, _) => format!("{key} = "),
                };
                assert!(EXAMPLE.contains(&words), "{words}");
            }
        }
        assert_eq!(read("").unwrap(), ShopFile::default());
    }

    #[test]
    fn an_unknown_key_names_the_nearest() {
        let why = read("[saw]\nkerff = 3\n").unwrap_err();
        assert!(why.cause.contains("[saw] kerff"), "{why}");
        assert!(why.remedy.contains("Did you mean kerf?"), "{why}");
        let why = read("[[bars.of]]\nsise = \"x\"\n").unwrap_err();
        assert!(why.remedy.contains("size"), "{why}");
        assert!(read("[sawing]\n").unwrap_err().remedy.contains("saw"));
    }

    #[test]
    fn what_can_not_be_understood_says_where() {
        assert!(read("kerf 3\n").unwrap_err().cause.starts_with("Line 1"));
        assert!(read("show = \"furlong\"\n").is_err());
        assert!(read("[material]\ndensity = -1\n").is_err());
        assert!(read("[folds]\nk-factor = 1.2\n").is_err());
        assert!(read("[folds]\nk-factor = 0.4\nk-table = \"k.csv\"\n").is_err());
        assert!(read("[print]\nprojection = \"second\"\n").is_err());
        let row = "[[folds.k]]\nthickness = 3\ninside-radius = 3\nk = 0.4\n";
        assert!(read(row).is_ok());
        assert!(read(&row.repeat(2)).unwrap_err().cause.contains("two K"));
        assert!(read("[[folds.k]]\nthickness = 3\n").is_err());
        assert!(length("kerf", &Typed::Text("3 furlong".into())).is_err());
        assert!(length("kerf", &Typed::Number(-1.0)).is_err());
        assert_eq!(length("bar", &Typed::Text("20 ft".into())), Ok(6096.0));
    }
}
