//! Wavefront OBJ: vertices, and faces of any number of corners.
//!
//! Read by own code: the crate at hand refuses a file for a continued line or a name that is no UTF-8,
//! gives no line number with an error, and copies shared vertices once for every group.

use crate::finding::{Code, Severity};

use super::decimal::{self, Unusable};
use super::error::ReadError;
use super::faces::{Faces, Trouble};
use super::precision::Tally;
use super::remarks::Remarks;
use super::text::{Text, bad_number};
use super::wording::{count, name, quoted};
use super::{Format, TriangleSoup};

/// Characters of one line from which it is worth saying.
const LONG_LINE: usize = 1024;

/// Statements that carry no shape of their own.
const NO_SHAPE: [&str; 14] = [
    "vt", "vn", "vp", "s", "usemtl", "mtllib", "usemap", "maplib", "mg", "lod", "bevel",
    "c_interp", "d_interp", "vw",
];
/// Statements of free-form curves and surfaces, which are not meshes.
const FREE_FORM: [&str; 13] = [
    "cstype", "deg", "bmat", "step", "curv", "curv2", "surf", "parm", "trim", "hole", "scrv",
    "con", "end",
];

#[derive(Default)]
struct Seen {
    lines_and_points: usize,
    free_form: usize,
    unknown: usize,
    first_unknown: Option<(usize, String)>,
    weighted: usize,
    negative: bool,
    leading_dot: bool,
    commas: bool,
    joined: bool,
    capitals: bool,
    bad_colours: bool,
    long_line: Option<(usize, usize)>,
    not_finite: usize,
}

/// Reads an OBJ.
///
/// # Errors
/// [`ReadError::DecimalComma`], [`ReadError::Malformed`] with the line of a vertex that cannot be read,
/// [`ReadError::Empty`] when no face is left.
pub(super) fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<TriangleSoup, ReadError> {
    let mut text = Text::new(bytes);
    let (mut points, mut tally, mut seen) = (Vec::new(), Tally::default(), Seen::default());
    let mut faces = Faces::default();
    let mut names = Names::default();
    while !text.rest().is_empty() {
        let start = text.offset();
        let mut comment = false;
        if let Some(word) = text.word_on_line(Some(&mut seen.joined)) {
            comment = word.starts_with(b"#");
            match word {
                _ if comment => {}
                b"v" | b"V" => points.push(vertex(bytes, &mut text, &mut tally, &mut seen)?),
                b"f" | b"F" | b"fo" => face(&mut text, start, points.len(), &mut faces, &mut seen),
                b"o" | b"O" => names.object(name(text.line_tail()), faces.len()),
                b"g" | b"G" => names.group(name(text.line_tail()), faces.len()),
                _ => other(word, &text, start, &mut seen),
            }
            seen.capitals |= word.first().is_some_and(u8::is_ascii_uppercase) && word.len() < 3;
        }
        if comment {
            text.rest_of_line();
        } else {
            text.skip_logical_line(&mut seen.joined);
        }
        super::taken(points.len(), faces.len())?;
        let length = text.offset() - start;
        if length > LONG_LINE && seen.long_line.is_none() {
            seen.long_line = Some((text.line_at(start), length));
        }
    }
    say(&seen, remarks);
    let runs = names.into_runs();
    let vertices = points.len();
    let (facets, groups) = faces.triangles(
        &points,
        runs,
        1,
        |at| format!("line {}", text.line_at(at)),
        remarks,
    )?;
    if facets.is_empty() {
        return Err(ReadError::Empty {
            holds: nothing(vertices, &seen, remarks),
        });
    }
    Ok(TriangleSoup {
        distinct: false,
        points,
        facets,
        groups,
        precision: tally.precision(),
        declared_mm_per_unit: None,
        format: Format::Obj,
    })
}

fn vertex(
    bytes: &[u8],
    text: &mut Text,
    tally: &mut Tally,
    seen: &mut Seen,
) -> Result<[f64; 3], ReadError> {
    let mut point = [0.0; 3];
    let mut finite = true;
    let start = text.offset();
    for slot in &mut point {
        let Some(word) = text.word_on_line(Some(&mut seen.joined)) else {
            let problem = format!(
                "Line {}: a vertex with fewer than three coordinates.",
                text.line_at(start)
            );
            return Err(ReadError::Malformed { problem });
        };
        let bare = match word.strip_suffix(b",") {
            Some(bare) => {
                seen.commas = true;
                bare
            }
            None => word,
        };
        match decimal::word(bare) {
            Ok(number) => {
                let first = bare.iter().find(|b| !matches!(b, b'-' | b'+'));
                seen.leading_dot |= first == Some(&b'.');
                tally.add(&number);
                *slot = number.value;
            }
            Err(Unusable::NotFinite) => {
                finite = false;
                *slot = f64::NAN;
            }
            Err(why) => return Err(bad_number(bytes, text.offset() - word.len(), word, why)),
        }
    }
    seen.not_finite += usize::from(!finite);
    // A fourth number alone is the weight of a free-form curve; more are colours.
    let Some(fourth) = text.word_on_line(Some(&mut seen.joined)) else {
        return Ok(point);
    };
    let mut colours = 0;
    let mut unusable = decimal::word(fourth).is_err();
    while let Some(word) = text.word_on_line(Some(&mut seen.joined)) {
        if word.starts_with(b"#") {
            break;
        }
        colours += 1;
        unusable |= decimal::word(word).is_err();
    }
    if fourth.starts_with(b"#") {
    } else if colours > 0 {
        seen.bad_colours |= unusable;
    } else {
        seen.weighted += usize::from(decimal::word(fourth).is_ok_and(|w| w.value != 1.0));
    }
    Ok(point)
}

fn face(text: &mut Text, start: usize, vertices: usize, faces: &mut Faces, seen: &mut Seen) {
    let mut trouble = None;
    while let Some(word) = text.word_on_line(Some(&mut seen.joined)) {
        if word.starts_with(b"#") {
            break;
        }
        let bare = word.split(|b| *b == b'/').next().unwrap_or_default();
        let index = super::faces::integer(bare);
        match index {
            Some(0) => trouble = trouble.or(Some(Trouble::Zero)),
            Some(n) if n < 0 => {
                seen.negative = true;
                match u32::try_from(vertices as i64 + n) {
                    Ok(corner) => faces.corner(corner),
                    Err(_) => trouble = trouble.or(Some(Trouble::Before(n))),
                }
            }
            Some(n) => match u32::try_from(n - 1) {
                Ok(corner) => faces.corner(corner),
                Err(_) => trouble = trouble.or(Some(Trouble::Beyond(n))),
            },
            None => trouble = trouble.or_else(|| Some(Trouble::Word(quoted(word)))),
        }
    }
    faces.close(start, trouble);
}

fn other(word: &[u8], text: &Text, start: usize, seen: &mut Seen) {
    let is = |keyword: &&str| word.eq_ignore_ascii_case(keyword.as_bytes());
    if NO_SHAPE.iter().any(is) {
        return;
    }
    if ["l", "p"].iter().any(is) {
        seen.lines_and_points += 1;
    } else if FREE_FORM.iter().any(is) {
        seen.free_form += 1;
    } else {
        seen.unknown += 1;
        seen.first_unknown
            .get_or_insert_with(|| (text.line_at(start), quoted(word)));
    }
}

/// Which object and which group each face belongs to.
#[derive(Default)]
struct Names {
    object: Option<String>,
    group: Option<String>,
    /// First face, object, group.
    runs: Vec<(usize, Option<String>, Option<String>)>,
}

impl Names {
    fn object(&mut self, name: Option<String>, face: usize) {
        self.object = name;
        self.group = None;
        self.begin(face);
    }

    fn group(&mut self, name: Option<String>, face: usize) {
        self.group = name.filter(|n| n != "default" && n != "off");
        self.begin(face);
    }

    fn begin(&mut self, face: usize) {
        if self.runs.last().is_some_and(|(first, ..)| *first == face) {
            self.runs.pop();
        }
        self.runs
            .push((face, self.object.clone(), self.group.clone()));
    }

    /// Objects name the parts; where there is at most one object, its groups do.
    fn into_runs(self) -> Vec<(usize, Option<String>)> {
        let mut objects: Vec<&Option<String>> = self
            .runs
            .iter()
            .map(|(_, o, _)| o)
            .filter(|o| o.is_some())
            .collect();
        objects.dedup();
        let by_object = objects.len() > 1;
        let mut out: Vec<(usize, Option<String>)> = Vec::new();
        for (first, object, group) in self.runs {
            let name = if by_object {
                object.or(group)
            } else {
                group.or(object)
            };
            if out
                .last()
                .is_none_or(|(_, last)| *last != name || by_object)
            {
                out.push((first, name));
            }
        }
        out
    }
}

fn say(seen: &Seen, remarks: &mut Remarks) {
    super::say_not_finite(seen.not_finite, "vertex", remarks);
    let mut left_out = |n: usize, noun: &str, extra: &str, severity: Severity| {
        if n > 0 {
            let message = format!("{} left out{extra}.", count(n, noun));
            remarks.add(
                Code::IgnoredContent,
                severity,
                message,
                "Export a mesh if a part is missing.",
            );
        }
    };
    left_out(
        seen.lines_and_points,
        "line or point statement",
        "",
        Severity::Note,
    );
    left_out(
        seen.free_form,
        "statement",
        " that describe free-form curves or surfaces, not a mesh",
        Severity::Warning,
    );
    let unknown = seen.first_unknown.as_ref();
    let unknown = unknown.map_or(String::new(), |(line, word)| {
        format!(": not understood, the first on line {line}, \"{word}\"")
    });
    left_out(seen.unknown, "line", &unknown, Severity::Warning);
    left_out(
        seen.weighted,
        "vertex weight",
        " (a fourth number that is not 1)",
        Severity::Warning,
    );
    if seen.joined {
        remarks.odd("lines are continued with a backslash (line continuation)");
    }
    if let Some((line, length)) = seen.long_line {
        remarks.odd(format!(
            "line {line} is {} long, as line continuation makes it when the lines are joined",
            count(length, "character")
        ));
    }
    if seen.negative {
        remarks.odd("faces count vertices backwards (negative indices)");
    }
    if seen.leading_dot {
        remarks.odd("numbers have a leading decimal dot, without the zero");
    }
    if seen.commas {
        remarks.odd("commas stand between the coordinates");
    }
    if seen.bad_colours {
        remarks.odd("colours of vertices are no numbers (NaN or the like)");
    }
    if seen.capitals {
        remarks.odd("keywords are in capitals");
    }
}

fn nothing(vertices: usize, seen: &Seen, remarks: &Remarks) -> String {
    let holds = match (vertices, seen.lines_and_points) {
        (0, _) => "The OBJ holds no vertices and no faces".to_owned(),
        (n, 0) => format!(
            "The OBJ holds points only: {} and no usable face",
            count(n, "vertex")
        ),
        (n, lines) => format!(
            "The OBJ holds points and lines only: {} and {} and no usable face",
            count(n, "vertex"),
            count(lines, "line or point statement")
        ),
    };
    match remarks.worst() {
        Some(worst) => format!("{holds}. {worst}"),
        None => format!("{holds}."),
    }
}
