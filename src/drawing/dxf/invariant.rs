//! What every DXF file written here keeps to.

/// The first rule that `text` breaks, or `None` when it is sound.
///
/// ASCII; pairs of a group code and a value of the kind that goes with the code; sections that are
/// opened and closed in turn; entities in their section only, each vertex of a polyline between its
/// head and its end; and the mark of the end.
///
/// Kinds of value by group code: Autodesk, DXF reference, "Group code value types".
pub fn fault(text: &str) -> Option<String> {
    if !text.is_ascii() || !text.ends_with('\n') {
        return Some("it is not ASCII, or its last line has no end".into());
    }
    let lines: Vec<&str> = text.lines().collect();
    if !lines.len().is_multiple_of(2) {
        return Some("the last group code has no value".into());
    }
    let mut section: Option<&str> = None;
    let mut polyline = false;
    let mut last = "";
    for (number, pair) in (1..).step_by(2).zip(lines.chunks_exact(2)) {
        let (code, value) = (pair[0].trim(), pair[1]);
        let wrong = |what: &str| Some(format!("line {number}: {code} {value}: {what}"));
        let Ok(code) = code.parse::<u16>() else {
            return wrong("no group code");
        };
        let sound = match code {
            10..=59 | 140..=147 | 210..=239 => {
                value.trim().parse::<f64>().is_ok_and(f64::is_finite)
            }
            60..=79 | 170..=179 | 270..=289 | 370..=379 => value.trim().parse::<i16>().is_ok(),
            90..=99 => value.trim().parse::<i32>().is_ok(),
            5 | 105 | 320..=369 => u64::from_str_radix(value, 16).is_ok(),
            0..=9 | 100 | 102 | 300..=309 | 390..=399 | 999 => {
                !value.chars().any(|c| c.is_ascii_control())
            }
            _ => return wrong("an unknown group code"),
        };
        if !sound {
            return wrong("the value is of another kind");
        }
        match (code, value, section) {
            (999, ..) => {}
            (0, "SECTION", None) => section = Some(""),
            (0, "ENDSEC", Some(_)) if !polyline => section = None,
            (0, "EOF", None) => {}
            (2, name, Some("")) if last == "SECTION" => section = Some(name),
            (0, "POLYLINE", Some("ENTITIES")) if !polyline => polyline = true,
            (0, "VERTEX", Some("ENTITIES")) if polyline => {}
            (0, "SEQEND", Some("ENTITIES")) if polyline => polyline = false,
            (0, "LINE" | "ARC" | "CIRCLE" | "TEXT" | "LWPOLYLINE", Some("ENTITIES"))
                if !polyline => {}
            (0, _, Some("TABLES" | "BLOCKS" | "OBJECTS" | "CLASSES")) => {}
            (0, ..) | (_, _, None) => return wrong("out of place"),
            _ => {}
        }
        last = value;
    }
    (last != "EOF" || section.is_some()).then(|| "the end is missing".to_owned())
}
