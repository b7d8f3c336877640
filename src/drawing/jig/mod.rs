//! A flat check jig: a pocket the piece drops into, cut from plate, with the cuts of its ends marked.
//!
//! [`way`] lays the piece's path out flat, [`region`] cuts shapes apart, [`joint`] keys pieces of a
//! large jig together, [`marks`] says what is scribed and written on it, [`split`] finds the pieces.

mod joint;
mod marks;
mod region;
mod split;
pub mod way;

use super::bulge;
use super::offset::inset;
use super::scene::{Extent, NARROW, Purpose, Scene, Shape};
use crate::measure::{Quantity, Show};
use crate::report::ReportedPart;
use region::{Region, without};
use way::{Way, band, of_member, of_plate};

/// Why there is no jig, one sentence.
pub type WhyNot = &'static str;

/// What is asked of a jig; lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Air between the piece and the pocket, each side.
    pub clearance: f64,
    /// Width of the metal around the pocket.
    pub width: f64,
    /// How far the pocket goes on beyond the ends of the piece.
    pub beyond: f64,
    /// Stations of joints along the piece, from end 0 on the centreline.
    pub joints: Vec<f64>,
    /// Size of the sheet it is cut from; one piece without it.
    pub sheet: Option<(f64, f64)>,
    /// Unit of what is written on it.
    pub show: Show,
}

/// One piece of a jig, or the two rails between two joints, as it is cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The drawing.
    pub scene: Scene,
    /// Box around what is cut, mm.
    pub extent: Extent,
    /// Stations it reaches from and to on the centreline, mm.
    pub stations: (f64, f64),
}

/// A jig.
#[derive(Clone, Debug, PartialEq)]
pub struct Jig {
    /// What is cut, piece by piece from end 0.
    pub sheets: Vec<Sheet>,
    /// The path it checks.
    pub way: Way,
    /// Width of the pocket, mm.
    pub pocket: f64,
    /// Between the marks of the first cuts of both ends along the rising edge of the pocket, mm.
    pub between_cuts: Option<f64>,
    /// The pocket, on the drawing of the whole, anticlockwise.
    pub pocket_contour: Vec<super::scene::Corner>,
    /// Area of metal, mm².
    pub area: f64,
}

/// The jig of a part; why there is none otherwise.
pub fn jig(part: &ReportedPart, asked: &Asked) -> Result<Jig, WhyNot> {
    let way = match (&part.member, &part.plate) {
        (Some(member), _) => of_member(member)?,
        (None, Some(plate)) => of_plate(plate)?,
        (None, None) => return Err("its shape was not recognised"),
    };
    let length = way.length();
    let outside = |s: &f64| !(0.0..=length).contains(s);
    if asked.joints.iter().any(outside) {
        return Err("a joint lies off the piece");
    }
    let (before, after) = (way.beyond.0 + asked.beyond, way.beyond.1 + asked.beyond);
    let pocket = band(&way, asked.clearance, before, after)?;
    let outer = inset(&pocket, -asked.width)
        .ok_or("its ends come so close that the metal around the pocket would close on itself")?;
    let whole = without(&outer, &pocket);
    let [_] = whole.as_slice() else {
        return Err("the pocket could not be cut out of the metal around it");
    };
    let sections = split::split(&way, &outer, &pocket, (before, after), asked)?;
    let marks = marks::all(&way, &whole, asked);
    let sheets = sections
        .iter()
        .zip(1..)
        .map(|(section, n)| {
            let texts = marks::words(part, &way, section, &marks, (n, sections.len()), asked);
            sheet(section, &marks, texts)
        })
        .collect();
    Ok(Jig {
        sheets,
        pocket: way.sides.1 - way.sides.0 + 2.0 * asked.clearance,
        between_cuts: marks::between_cuts(&way, &whole),
        area: sections.iter().flat_map(|s| &s.regions).map(area).sum(),
        pocket_contour: pocket,
        way,
    })
}

fn area(region: &Region) -> f64 {
    let inner: f64 = region.inner.iter().map(|c| bulge::area(c).abs()).sum();
    bulge::area(&region.outer).abs() - inner
}

/// Marks, then words, then inner contours, then outer ones, turned to lie on the sheet.
fn sheet(section: &split::Section, marks: &[marks::Mark], texts: Vec<super::scene::Text>) -> Sheet {
    let mut scene = Scene::default();
    for region in &section.regions {
        for mark in marks {
            for (from, to) in marks::on(mark, region) {
                scene.stroke(Purpose::Mark, NARROW, Shape::Line { from, to });
            }
        }
    }
    for text in texts {
        scene.text(Purpose::Words, text);
    }
    let path = |corners: &[super::scene::Corner]| Shape::Path {
        corners: corners.to_vec(),
        closed: true,
    };
    for region in &section.regions {
        for contour in &region.inner {
            scene.stroke(Purpose::CutInside, NARROW, path(contour));
        }
    }
    for region in &section.regions {
        scene.stroke(Purpose::CutOutside, NARROW, path(&region.outer));
    }
    scene.turn(section.turn);
    let cut = scene
        .items
        .iter()
        .filter(|item| item.purpose == Purpose::CutOutside)
        .map(|item| bulge::extent(&item.shape));
    let (low, high) = bulge::around(cut.flat_map(|(low, high)| [low, high]));
    let by = -low.coords;
    let mut moved = Scene::default();
    moved.place(scene, by);
    Sheet {
        scene: moved,
        extent: (low + by, high + by),
        stations: section.stations,
    }
}

/// The ± of the rise of a jig against its clearance: true where the model holds the rise more
/// loosely than the pocket does.
pub fn looser_than_pocket(rise: Quantity, clearance: f64) -> bool {
    rise.plus_minus > clearance
}
