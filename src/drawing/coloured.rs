//! A surface coloured by a number, in bands that also read in grey.
//!
//! The picture is a grid of small cells, each showing what lies foremost there; cells of one band in a
//! row become one stroke, so the file holds as much as is seen, however fine the surface.

use std::fmt::Write;

use super::font::{CAPITAL, Face};
use super::scene::{Anchor, Place, Text};
use super::svg::escape;
use super::view::{self, Look};
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};

/// A surface and a number on each of its facets.
#[derive(Clone, Debug)]
pub struct Surface<'a> {
    /// Corners of the facets, mm.
    pub facets: &'a [[Pt3; 3]],
    /// Their numbers; `None` is drawn plain.
    pub values: &'a [Option<f64>],
    /// The model whose edges are drawn over it.
    pub model: &'a Body,
}

/// Words and numbers of the sheet.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// First line, large.
    pub title: String,
    /// Lines below it.
    pub lines: Vec<String>,
    /// Largest number of the scale, in the unit of the surface.
    pub limit: f64,
    /// Writes a number of the scale.
    pub unit: String,
    /// Factor from mm to that unit.
    pub factor: f64,
    /// Marks on the surface: place, words.
    pub marks: Vec<(Pt3, String)>,
    /// Lines at the foot.
    pub foot: Vec<String>,
}

/// Bands to either side of the middle one.
const SIDE: i32 = 5;
/// Size of a cell, mm on paper.
const CELL: f64 = 0.35;
/// Paper, mm: A4 lying.
const PAPER: [f64; 2] = [297.0, 210.0];
const MARGIN: f64 = 10.0;

/// Colour of a band, −5 to 5: from dark blue over grey to light yellow, each lighter than the one
/// before, so that a grey print still tells too much from too little.
fn colour(band: i32) -> String {
    const RAMP: [[f64; 3]; 3] = [
        [16.0, 30.0, 96.0],
        [138.0, 138.0, 138.0],
        [255.0, 236.0, 92.0],
    ];
    let t = f64::from(band + SIDE) / f64::from(2 * SIDE) * 2.0;
    let k = (t.floor() as usize).min(1);
    let u = t - k as f64;
    let part: Vec<String> = (0..3)
        .map(|c| {
            let v = RAMP[k][c] * (1.0 - u) + RAMP[k + 1][c] * u;
            format!("{:02x}", v.round() as u8)
        })
        .collect();
    format!("#{}", part.concat())
}

/// Band of a value.
fn band(value: f64, limit: f64) -> i32 {
    let width = 2.0 * limit / f64::from(2 * SIDE + 1);
    ((value / width).round() as i32).clamp(-SIDE, SIDE)
}

/// What stands in a cell: nothing, a plain surface, a band.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Seen {
    Nothing,
    Plain,
    Band(i32),
}

/// The sheet as SVG: two views from opposite corners, the scale, and the words.
pub fn svg(surface: &Surface, sheet: &Sheet) -> String {
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n<title>{t}</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>\n",
        w = PAPER[0],
        h = PAPER[1],
        t = escape(&sheet.title)
    );
    let mut y = MARGIN + 5.0;
    words(
        &mut out,
        MARGIN,
        y,
        4.0,
        Face::Bold,
        Anchor::Start,
        &sheet.title,
    );
    for line in &sheet.lines {
        y += 5.5;
        words(&mut out, MARGIN, y, 2.5, Face::Plain, Anchor::Start, line);
    }
    let top = y + 9.0;
    let foot = PAPER[1] - MARGIN - 5.0 * sheet.foot.len() as f64;
    let wide = PAPER[0] - 2.0 * MARGIN - 34.0;
    let (x, z) = (Vec3::x(), Vec3::z());
    let y_axis = Vec3::y();
    let looks = [
        ("from the front", Look::isometric(&x, &y_axis, &z)),
        ("from behind and below", Look::isometric(&-x, &y_axis, &-z)),
    ];
    let size: Vec<[f64; 2]> = looks.iter().map(|(_, l)| size(surface, l)).collect();
    // Beside one another or above one another, whichever shows them larger.
    let room = [wide, foot - top - 12.0];
    let beside = fit(&size, [room[0] / 2.0 - 3.0, room[1]]);
    let above = fit(&size, [room[0], room[1] / 2.0 - 4.0]);
    for (k, (name, look)) in looks.iter().enumerate() {
        let (at, room) = if beside >= above {
            (
                [MARGIN + k as f64 * (room[0] / 2.0 + 3.0), top],
                [room[0] / 2.0 - 3.0, room[1]],
            )
        } else {
            (
                [MARGIN, top + k as f64 * (room[1] / 2.0 + 6.0)],
                [room[0], room[1] / 2.0 - 4.0],
            )
        };
        view(
            &mut out,
            surface,
            sheet,
            look,
            at,
            room,
            beside.max(above),
            name,
        );
    }
    scale(
        &mut out,
        sheet,
        PAPER[0] - MARGIN - 28.0,
        top,
        foot - top - 8.0,
    );
    for (k, line) in sheet.foot.iter().enumerate() {
        words(
            &mut out,
            MARGIN,
            foot + 5.0 * (k as f64 + 0.6),
            2.2,
            Face::Plain,
            Anchor::Start,
            line,
        );
    }
    out.push_str("</svg>\n");
    out
}

/// The same as a page for a browser.
pub fn html(surface: &Surface, sheet: &Sheet) -> String {
    let svg = svg(surface, sheet);
    let body = svg
        .split_once("?>\n")
        .map_or(svg.as_str(), |(_, rest)| rest);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{}</title>\n<style>body{{margin:0}} svg{{width:100%;height:auto;max-width:297mm;display:block;margin:auto}} @page{{size:A4 landscape;margin:0}}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        escape(&sheet.title)
    )
}

/// Size of a view, mm of the model.
fn size(surface: &Surface, look: &Look) -> [f64; 2] {
    let (low, high) = extent(surface, look);
    [high.x - low.x, high.y - low.y]
}

fn extent(surface: &Surface, look: &Look) -> (Place, Place) {
    let model = surface.model.vertices.iter().map(|p| look.place(p));
    let shown = surface
        .facets
        .iter()
        .zip(surface.values)
        .filter(|(_, v)| v.is_some())
        .flat_map(|(f, _)| f.iter().map(|p| look.place(p)));
    model.chain(shown).fold(
        (
            Place::new(f64::INFINITY, f64::INFINITY),
            Place::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
        ),
        |(low, high), p| (low.inf(&p), high.sup(&p)),
    )
}

/// Scale at which all views fit.
fn fit(sizes: &[[f64; 2]], room: [f64; 2]) -> f64 {
    sizes
        .iter()
        .map(|s| (room[0] / s[0].max(1e-6)).min(room[1] / s[1].max(1e-6)))
        .fold(f64::INFINITY, f64::min)
}

#[allow(clippy::too_many_arguments)]
fn view(
    out: &mut String,
    surface: &Surface,
    sheet: &Sheet,
    look: &Look,
    at: [f64; 2],
    room: [f64; 2],
    scale: f64,
    name: &str,
) {
    let (low, high) = extent(surface, look);
    let size = (high - low) * scale;
    let origin = [
        at[0] + (room[0] - size.x) / 2.0,
        at[1] + (room[1] + size.y) / 2.0,
    ];
    let place = |p: &Pt3| {
        let q = (look.place(p) - low) * scale;
        [origin[0] + q.x, origin[1] - q.y]
    };
    cells(out, surface, sheet, look, (low, high), scale, origin);
    let edges = view::picture(&[surface.model], *look, 0.3 / scale);
    let mut d = String::new();
    for stroke in &edges.seen {
        for (k, p) in stroke.iter().enumerate() {
            let q = (p - low) * scale;
            let _ = write!(
                d,
                "{}{:.2} {:.2}",
                if k == 0 { "M" } else { "L" },
                origin[0] + q.x,
                origin[1] - q.y
            );
        }
    }
    let _ = writeln!(
        out,
        "<path d=\"{d}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.18\" stroke-linejoin=\"round\"/>"
    );
    let eye = look.towards_eye();
    let depth = |p: &Pt3| p.coords.dot(&eye);
    let middle = surface
        .model
        .vertices
        .iter()
        .map(depth)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
    for (p, words_there) in &sheet.marks {
        // On the view that looks at its side.
        if depth(p) < (middle.0 + middle.1) / 2.0 {
            continue;
        }
        let [x, y] = place(p);
        // Words stay clear of the lines above.
        let rise = if y - 9.0 < at[1] { -6.0 } else { 5.0 };
        let right = x < at[0] + room[0] / 2.0;
        let (dx, anchor) = if right {
            (7.0, Anchor::Start)
        } else {
            (-7.0, Anchor::End)
        };
        let _ = writeln!(
            out,
            "<path d=\"M{x:.2} {y:.2}L{:.2} {:.2}\" stroke=\"#000\" stroke-width=\"0.3\"/><circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"0.9\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.3\"/>",
            x + 0.85 * dx,
            y - rise
        );
        words(out, x + dx, y - rise, 2.5, Face::Bold, anchor, words_there);
    }
    words(
        out,
        at[0] + room[0] / 2.0,
        at[1] + room[1] + 4.0,
        2.2,
        Face::Plain,
        Anchor::Middle,
        name,
    );
}

/// Strokes of cells, band by band.
fn cells(
    out: &mut String,
    surface: &Surface,
    sheet: &Sheet,
    look: &Look,
    (low, high): (Place, Place),
    scale: f64,
    origin: [f64; 2],
) {
    let wide = (((high.x - low.x) * scale / CELL).ceil() as usize).clamp(1, 2000);
    let tall = (((high.y - low.y) * scale / CELL).ceil() as usize).clamp(1, 2000);
    let mut grid = vec![(f64::NEG_INFINITY, Seen::Nothing); wide * tall];
    let eye = look.towards_eye();
    for (corners, value) in surface.facets.iter().zip(surface.values) {
        let seen = value.map_or(Seen::Plain, |v| Seen::Band(band(v, sheet.limit)));
        let flat = corners.map(|p| {
            let q = (look.place(&p) - low) * scale / CELL;
            [q.x, q.y, p.coords.dot(&eye)]
        });
        paint(&mut grid, wide, tall, &flat, seen);
    }
    let mut bands: Vec<Seen> = vec![Seen::Plain];
    bands.extend((-SIDE..=SIDE).map(Seen::Band));
    for wanted in bands {
        let mut d = String::new();
        for row in 0..tall {
            let line = &grid[row * wide..(row + 1) * wide];
            let mut k = 0;
            while k < wide {
                if line[k].1 != wanted {
                    k += 1;
                    continue;
                }
                let from = k;
                while k < wide && line[k].1 == wanted {
                    k += 1;
                }
                let _ = write!(
                    d,
                    "M{:.2} {:.2}h{:.2}",
                    origin[0] + from as f64 * CELL,
                    origin[1] - (row as f64 + 0.5) * CELL,
                    (k - from) as f64 * CELL
                );
            }
        }
        if d.is_empty() {
            continue;
        }
        let (name, ink) = match wanted {
            Seen::Band(b) => (format!("band{b}"), colour(b)),
            _ => ("plain".to_owned(), "#ffffff".to_owned()),
        };
        // Strokes a hair wider than a cell leave no gaps between rows.
        let _ = writeln!(
            out,
            "<path class=\"{name}\" d=\"{d}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"{:.3}\"/>",
            CELL * 1.06
        );
    }
}

/// Writes a triangle into the grid where it lies before what is there.
fn paint(grid: &mut [(f64, Seen)], wide: usize, tall: usize, flat: &[[f64; 3]; 3], seen: Seen) {
    let [a, b, c] = flat;
    let area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]);
    if area.abs() < 1e-12 || !area.is_finite() {
        return;
    }
    let bound = |k: usize, most: usize| {
        let low = a[k].min(b[k]).min(c[k]).floor().max(0.0) as usize;
        let high = (a[k].max(b[k]).max(c[k]).ceil().max(0.0) as usize).min(most);
        low..high
    };
    for row in bound(1, tall) {
        for column in bound(0, wide) {
            let (x, y) = (column as f64 + 0.5, row as f64 + 0.5);
            let u = ((b[0] - x) * (c[1] - y) - (c[0] - x) * (b[1] - y)) / area;
            let v = ((c[0] - x) * (a[1] - y) - (a[0] - x) * (c[1] - y)) / area;
            let w = 1.0 - u - v;
            // A little over the edge, so that no cell between two facets stays empty.
            if u < -1e-6 || v < -1e-6 || w < -1e-6 {
                continue;
            }
            let depth = u * a[2] + v * b[2] + w * c[2];
            let cell = &mut grid[row * wide + column];
            if depth > cell.0 {
                *cell = (depth, seen);
            }
        }
    }
}

/// The scale, with the limits of its bands.
fn scale(out: &mut String, sheet: &Sheet, x: f64, top: f64, tall: f64) {
    let bands = 2 * SIDE + 1;
    let step = (tall.min(130.0) - 16.0) / f64::from(bands);
    let width = 2.0 * sheet.limit / f64::from(bands);
    words(
        out,
        x,
        top + 3.0,
        2.5,
        Face::Bold,
        Anchor::Start,
        &format!("off, {}", sheet.unit),
    );
    words(
        out,
        x,
        top + 7.0,
        2.2,
        Face::Plain,
        Anchor::Start,
        "+ stands out",
    );
    for k in 0..bands {
        let band = SIDE - k;
        let y = top + 10.0 + f64::from(k) * step;
        let _ = writeln!(
            out,
            "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"9\" height=\"{step:.3}\" fill=\"{}\" stroke=\"#000\" stroke-width=\"0.18\"/>",
            colour(band)
        );
        if k > 0 {
            let value = (f64::from(band) + 0.5) * width * sheet.factor;
            words(
                out,
                x + 10.5,
                y + 0.9,
                2.2,
                Face::Plain,
                Anchor::Start,
                &format!("{value:+.*}", decimals(width * sheet.factor)),
            );
        }
    }
    let end = top + 10.0 + f64::from(bands) * step;
    words(
        out,
        x,
        end + 4.0,
        2.2,
        Face::Plain,
        Anchor::Start,
        "− lies in",
    );
}

/// Decimals that tell two bands apart.
fn decimals(width: f64) -> usize {
    (1.0 - width.log10()).ceil().clamp(1.0, 4.0) as usize
}

fn words(out: &mut String, x: f64, y: f64, height: f64, face: Face, anchor: Anchor, words: &str) {
    let text = Text {
        at: Place::new(x, y),
        height,
        turn: 0.0,
        anchor,
        face,
        words: words.to_owned(),
    };
    let width = text.width();
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2.0,
        Anchor::End => x - width,
    };
    let weight = match face {
        Face::Plain => "",
        Face::Bold => " font-weight=\"bold\"",
    };
    // White behind the letters keeps them readable over the surface.
    let _ = writeln!(
        out,
        "<text x=\"{left:.2}\" y=\"{y:.2}\" font-family=\"DejaVu Sans, Verdana, sans-serif\" font-size=\"{:.3}\"{weight} textLength=\"{width:.3}\" lengthAdjust=\"spacingAndGlyphs\" stroke=\"#fff\" stroke-width=\"0.7\" paint-order=\"stroke\">{}</text>",
        height / CAPITAL,
        escape(words)
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_band_is_lighter_than_the_one_below() {
        let grey = |band: i32| {
            let text = colour(band);
            let part = |k: usize| f64::from(u8::from_str_radix(&text[k..k + 2], 16).expect("hex"));
            // Luma of ITU-R BT.601.
            0.299 * part(1) + 0.587 * part(3) + 0.114 * part(5)
        };
        for k in -SIDE..SIDE {
            assert!(
                grey(k + 1) > grey(k) + 8.0,
                "{k}: {} {}",
                grey(k),
                grey(k + 1)
            );
        }
    }

    #[test]
    fn bands_are_even_and_end_at_the_limit() {
        assert_eq!(band(0.0, 1.1), 0);
        assert_eq!(band(0.09, 1.1), 0);
        assert_eq!(band(0.11, 1.1), 1);
        assert_eq!(band(9.0, 1.1), 5);
        assert_eq!(band(-0.31, 1.1), -2);
    }

    #[test]
    fn the_foremost_is_seen() {
        let mut grid = vec![(f64::NEG_INFINITY, Seen::Nothing); 16];
        let flat = |z: f64| [[0.0, 0.0, z], [8.0, 0.0, z], [0.0, 8.0, z]];
        paint(&mut grid, 4, 4, &flat(1.0), Seen::Band(1));
        paint(&mut grid, 4, 4, &flat(0.0), Seen::Band(2));
        assert!(grid[0].1 == Seen::Band(1));
    }
}
