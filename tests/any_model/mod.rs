//! A model of any content, from its bytes to everything that is written about it; and ways to change a
//! model. Shared by the tests and the fuzz targets.

use std::path::PathBuf;

use nalgebra::{Point3, Rotation3, Vector3};
use soapstone::analysis::{Asked, Examined, examine};
use soapstone::drawing::dxf::{self, Edition, Form};
use soapstone::drawing::jig::{self, jig};
use soapstone::drawing::lay::lay;
use soapstone::drawing::leaf::{Document, Leaf, pages};
use soapstone::drawing::markout::{layout::layout, leaf::section, wrap::wraps};
use soapstone::drawing::outline::{self, cap::Fit, cap_plans, flat::Hand, plan};
use soapstone::drawing::paper::Paper;
use soapstone::drawing::projection::Projection;
use soapstone::drawing::{self, flow, html, pdf, scene::Scene, sheet, svg};
use soapstone::measure::{STEEL_DENSITY, Show, Unit};
use soapstone::report::table::{Look, table};
use soapstone::report::{self, Report, ReportedPart, csv, json};
use soapstone::shop::cutlist::{self, Settings, StockLength, cutlist};
use soapstone::shop::roll::{self, Waste, roll};
use soapstone::{shop, surface};

/// More facets than this take too long to try many of.
pub const MOST_FACETS: usize = 2_500;

/// Reads a model, and where it is one, writes everything there is to write about it. True when it was
/// one.
///
/// # Panics
/// Where something that must hold of every model doesn't.
pub fn whole(bytes: &[u8], name: &str, mm_per_unit: Option<f64>) -> bool {
    let asked = Asked {
        mm_per_unit,
        density: STEEL_DENSITY,
    };
    let Ok((soup, _)) = soapstone::read::read(bytes, name) else {
        return false;
    };
    assert_eq!(soapstone::read::fault(&soup), None);
    if soup.facets.len() > MOST_FACETS {
        return false;
    }
    let found = examine(bytes, name, &asked).expect("a model that was read");
    for body in &found.bodies {
        assert_eq!(body.check(), Ok(()));
        assert_eq!(surface::fault(body, &surface::segment(body)), None);
    }
    assert_eq!(report::fault(&found.report), None);
    forms(&found.report);
    for part in &found.report.parts {
        to_cut(&found.report, part);
        by_hand(&found.report, part);
        lay(part, &found.bodies[part.body as usize]);
    }
    on_paper(&found);
    true
}

/// No number that is none may be read anywhere.
fn words(text: &str) {
    // The one place where the word is meant: a finding about the file.
    let mut words = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .peekable();
    while let Some(word) = words.next() {
        let meant = word == "NaN" && words.peek() == Some(&"or");
        assert!(meant || !matches!(word, "NaN" | "inf" | "nan"), "{text}");
    }
}

fn forms(report: &Report) {
    let text = json::json(report).expect("JSON");
    serde_json::from_str::<serde_json::Value>(&text).expect("JSON that can be read");
    for (show, width) in [(Show::Millimetre, 72), (Show::InchFraction(16), 120)] {
        let colour = false;
        words(&table(
            report,
            &Look {
                show,
                width,
                colour,
            },
        ));
        words(&csv::csv(report, show).expect("CSV"));
    }
}

fn scene(scene: &Scene) {
    assert_eq!(drawing::fault(scene), None);
    for (edition, unit) in [
        (Edition::R12, Unit::Millimetre),
        (Edition::Y2000, Unit::Inch),
    ] {
        assert_eq!(dxf::fault(&dxf::dxf(scene, Form { edition, unit })), None);
    }
}

fn to_cut(report: &Report, part: &ReportedPart) {
    let asked = outline::Asked {
        show: Show::Millimetre,
        pilot: None,
    };
    for hand in [Hand::AsModelled, Hand::Opposite] {
        if let Some(plate) = &part.plate
            && let Ok(plan) = plan(part, plate, hand, &asked, &report.findings)
        {
            assert!(plan.cut_length.is_finite() && plan.area.is_finite());
            scene(&plan.scene);
            words(&svg::svg(&plan.scene, plan.window, "any"));
        }
    }
    if let Some(member) = &part.member {
        for fit in [Fit::Outside(0.0), Fit::Inside(0.5)] {
            let (caps, _) = cap_plans(part, member, fit, Show::Millimetre);
            caps.iter().for_each(|cap| scene(&cap.plan.scene));
        }
    }
    for sheet in [None, Some((600.0, 300.0))] {
        let asked = jig::Asked {
            clearance: 0.5,
            width: 50.0,
            beyond: 10.0,
            joints: vec![100.0],
            sheet,
            show: Show::Millimetre,
        };
        if let Ok(jig) = jig(part, &asked) {
            jig.sheets.iter().for_each(|sheet| scene(&sheet.scene));
        }
    }
}

fn by_hand(report: &Report, part: &ReportedPart) {
    let asked = roll::Asked {
        gauges: Vec::new(),
        show: Show::Millimetre,
        tolerance: Some(1.0),
        piece_tolerance: None,
        reading: 0.1,
        waste: Waste::Each(100.0),
        template_side: shop::curved::Side::Outside,
        template_chord: None,
        pitch: None,
        arc: None,
    };
    if let Ok(sheet) = roll(report, part, &asked) {
        let look = Look {
            show: Show::Millimetre,
            width: 80,
            colour: false,
        };
        words(&roll::table::table(report, &sheet, &look));
        words(&roll::csv::csv(&sheet, Show::Millimetre).expect("CSV"));
    }
}

fn on_paper(found: &Examined) {
    let document = Document {
        paper: Paper::A4,
        job: None,
        date: None,
        file: "any".into(),
        unit: "Lengths in mm.".into(),
        projection: Some(Projection::Third),
    };
    let show = Show::Millimetre;
    let asked = sheet::Asked {
        show,
        projection: Projection::Third,
        width: flow::width(&document),
    };
    let sections = sheet::sections(&found.report, &found.bodies, true, &asked);
    words(&html::html(&sections, &document, "any"));
    let mut leaves: Vec<Leaf> = sections
        .into_iter()
        .flat_map(|section| flow::leaves(section, &document))
        .collect();
    for part in &found.report.parts {
        if let Some(member) = &part.member
            && let Ok(layout) = layout(member)
        {
            let lines = section(part, member, &layout, flow::width(&document), show);
            leaves.extend(flow::leaves(lines, &document));
            leaves.extend(wraps(&part.mark, member, &layout, &document, show, 0.1));
        }
    }
    let pages = pages(leaves, &document);
    // What is larger than a village is drawn, but its numbers may not fit on paper.
    let far = |x: &f64| x.abs() > 1e6;
    let vast = found
        .bodies
        .iter()
        .flat_map(|b| &b.vertices)
        .flat_map(|p| p.iter())
        .any(far);
    for page in &pages {
        let fault = if vast {
            drawing::fault(&page.scene)
        } else {
            drawing::page_fault(page)
        };
        assert_eq!(fault, None);
        words(&svg::svg_page(page, "any"));
    }
    assert!(pdf::pdf(&pages, "any").starts_with(b"%PDF"));
    to_buy(found);
}

fn to_buy(found: &Examined) {
    let settings = Settings {
        stock: vec![StockLength {
            length: 6000.0,
            count: None,
            size: None,
        }],
        kerf: 3.0,
        trim: 5.0,
        share_mitres: true,
        waste: Waste::Each(100.0),
        sheet: [3000.0, 1500.0],
        max_length: Some(5000.0),
        reach: 3.0,
        prefer: Vec::new(),
        show: Show::Millimetre,
        planned: Vec::new(),
    };
    let model = cutlist::Model {
        report: &found.report,
        bodies: &found.bodies,
        pieces: &found.pieces,
        quantity: 2,
    };
    if let Ok(list) = cutlist(&[model], &settings) {
        let look = Look {
            show: Show::Millimetre,
            width: 80,
            colour: false,
        };
        words(&cutlist::table::table(&list, &look, true));
        words(&cutlist::csv::csv(&list, Show::Millimetre).expect("CSV"));
    }
}

/// Choices read off bytes; when they are used up, every choice is the first.
pub struct Dice<'a>(pub &'a [u8]);

impl Dice<'_> {
    fn byte(&mut self) -> usize {
        let (first, rest) = self.0.split_first().unwrap_or((&0, &[]));
        self.0 = rest;
        usize::from(*first)
    }

    /// A number below `below`.
    pub fn roll(&mut self, below: usize) -> usize {
        (self.byte() | self.byte() << 8) % below.max(1)
    }

    /// A number from −1 to 1.
    fn share(&mut self) -> f64 {
        (self.byte() as f64 - 127.5) / 127.5
    }

    /// A length, mm: mostly small, sometimes large, sometimes one that fits nothing.
    fn length(&mut self) -> f64 {
        const SIZES: [f64; 8] = [1e-6, 1e-3, 0.02, 0.3, 3.0, 30.0, 1e4, 1e30];
        SIZES[self.roll(SIZES.len())] * self.share()
    }
}

/// Points and triangles, mm.
#[derive(Clone, Default)]
pub struct Mesh {
    /// The points.
    pub points: Vec<Point3<f64>>,
    /// The triangles.
    pub facets: Vec<[u32; 3]>,
}

impl Mesh {
    /// A model as the program welds it; `None` where it is none, or too large to try often.
    pub fn read(bytes: &[u8], name: &str) -> Option<Mesh> {
        let (soup, _) = soapstone::read::read(bytes, name).ok()?;
        let small = soup.facets.len() <= MOST_FACETS / 3;
        let mesh = small.then(|| soapstone::weld::weld(soup, 1.0).0)?;
        Some(Mesh {
            points: mesh.vertices,
            facets: mesh.facets,
        })
    }

    /// As binary STL.
    pub fn stl(&self) -> Vec<u8> {
        let mut bytes = vec![b' '; 80];
        bytes.extend((self.facets.len() as u32).to_le_bytes());
        for facet in &self.facets {
            bytes.extend([0; 12]);
            for corner in facet {
                let point = self.points[*corner as usize];
                bytes.extend(point.iter().flat_map(|x| (*x as f32).to_le_bytes()));
            }
            bytes.extend([0; 2]);
        }
        bytes
    }

    fn moved(&mut self, by: impl Fn(&Point3<f64>) -> Point3<f64>) {
        self.points.iter_mut().for_each(|point| *point = by(point));
    }

    fn joined(&mut self, other: &Mesh) {
        let first = self.points.len() as u32;
        self.points.extend(&other.points);
        self.facets
            .extend(other.facets.iter().map(|f| f.map(|i| i + first)));
    }

    /// Facets whose middle lies on one side of a plane through a facet's corner.
    fn beyond(&self, dice: &mut Dice) -> Vec<usize> {
        let Some(facet) = self.facets.get(dice.roll(self.facets.len())) else {
            return Vec::new();
        };
        let at = self.points[facet[0] as usize];
        let normal = Vector3::new(dice.share(), dice.share(), dice.share());
        let side = |f: &[u32; 3]| {
            let sum: Vector3<f64> = f.iter().map(|i| self.points[*i as usize] - at).sum();
            sum.dot(&normal) > 0.0
        };
        (0..self.facets.len())
            .filter(|i| side(&self.facets[*i]))
            .collect()
    }

    /// One change, of the kinds that exporters, scanners and careless modellers make.
    pub fn change(&mut self, dice: &mut Dice, others: &[Mesh]) {
        if self.facets.is_empty() || self.points.is_empty() {
            return;
        }
        let facet = dice.roll(self.facets.len());
        let point = dice.roll(self.points.len());
        match dice.roll(18) {
            0 => {
                let by = Vector3::new(dice.length(), dice.length(), dice.length());
                self.points[point] += by;
            }
            1 => drop(self.facets.swap_remove(facet)),
            2 => self.facets[facet].swap(1, 2),
            3 => self.facets.push(self.facets[facet]),
            4 => {
                let turned = self.facets[facet];
                self.facets.push([turned[0], turned[2], turned[1]]);
            }
            5 => {
                let by = Vector3::new(dice.share(), dice.share(), dice.share())
                    .map(|x| 10f64.powf(1.5 * x));
                self.moved(|p| Point3::from(p.coords.component_mul(&by)));
            }
            6 => {
                let by = 10f64.powi(dice.roll(13) as i32 - 6);
                self.moved(|p| p * by);
            }
            7 => {
                let turn =
                    Rotation3::new(Vector3::new(dice.share(), dice.share(), dice.share()) * 3.2);
                let by = Vector3::new(dice.length(), dice.length(), dice.length());
                self.moved(|p| turn * p + by);
            }
            8 | 9 if !others.is_empty() => {
                let mut other = others[dice.roll(others.len())].clone();
                let at = other.points.get(dice.roll(other.points.len())).copied();
                let by = self.points[point] - at.unwrap_or_default();
                let by = by + Vector3::new(dice.length(), dice.length(), dice.length());
                other.moved(|p| p + by);
                self.joined(&other);
            }
            10 => {
                // A copy beside it, or in it, perhaps turned inside out.
                let mut copy = self.clone();
                let scale = 1.0 + dice.share() * 0.5;
                let by = Vector3::new(dice.length(), dice.length(), dice.length());
                copy.moved(|p| p * scale + by);
                if dice.roll(2) == 0 {
                    copy.facets.iter_mut().for_each(|f| f.swap(1, 2));
                }
                self.joined(&copy);
            }
            11 => {
                for i in self.beyond(dice).into_iter().rev() {
                    self.facets.swap_remove(i);
                }
            }
            12 => {
                // Bent, stretched or cut short beyond a plane.
                let by = Vector3::new(dice.length(), dice.length(), dice.length());
                let mut done = vec![false; self.points.len()];
                for i in self.beyond(dice) {
                    for corner in self.facets[i] {
                        if !std::mem::replace(&mut done[corner as usize], true) {
                            self.points[corner as usize] += by;
                        }
                    }
                }
            }
            13 => {
                let size = dice.length().abs().min(1e3);
                let mut state = 0x9e37_79b9_7f4a_7c15_u64 ^ point as u64;
                self.moved(|p| *p);
                for x in self.points.iter_mut().flat_map(|p| p.iter_mut()) {
                    state ^= state << 13;
                    state ^= state >> 7;
                    state ^= state << 17;
                    *x += size * ((state >> 11) as f64 / (1u64 << 52) as f64 - 1.0);
                }
            }
            14 => {
                let step = [1e-3, 0.1, 1.0, 10.0][dice.roll(4)];
                self.moved(|p| p.map(|x| (x / step).round() * step));
            }
            15 => {
                let curve = dice.share() * 0.01;
                self.moved(|p| Point3::new(p.x, p.y, p.z + curve * p.x * p.x));
            }
            16 => {
                // Facets split where nothing bends.
                let [a, b, c] = self.facets[facet];
                let middle = nalgebra::center(&self.points[a as usize], &self.points[b as usize]);
                let m = self.points.len() as u32;
                self.points.push(middle);
                self.facets[facet] = [a, m, c];
                self.facets.push([m, b, c]);
            }
            _ => {
                let other = dice.roll(self.points.len());
                self.points[point] = self.points[other];
            }
        }
        self.facets.truncate(MOST_FACETS);
    }
}

/// A model of `models`, changed as the dice say.
pub fn changed(dice: &mut Dice, models: &[Mesh]) -> Mesh {
    let mut mesh = models
        .get(dice.roll(models.len()))
        .cloned()
        .unwrap_or_default();
    for _ in 0..=dice.roll(5) {
        mesh.change(dice, models);
    }
    mesh
}

/// The models in these folders and all under them whose files are smaller than `limit` bytes, in the
/// order of their names.
pub fn models(folders: &[PathBuf], limit: u64) -> Vec<Mesh> {
    let mut folders = folders.to_vec();
    let mut files = Vec::new();
    while let Some(folder) = folders.pop() {
        let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten();
        for entry in entries.map(|entry| entry.path()) {
            match entry.is_dir() {
                true => folders.push(entry),
                false => files.push(entry),
            }
        }
    }
    files.sort();
    let small = |file: &&PathBuf| file.metadata().is_ok_and(|m| m.len() < limit);
    files
        .iter()
        .filter(small)
        .filter_map(|file| Mesh::read(&std::fs::read(file).ok()?, &file.to_string_lossy()))
        .collect()
}
