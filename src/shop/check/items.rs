//! The sizes of a part that can be read by hand, each with a name.

use crate::measure::{Quantity, quantity};
use crate::member::{Member, Section, Span};
use crate::plate::Plate;
use crate::report::ReportedPart;

/// Length or angle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// mm.
    Length,
    /// Degrees.
    Angle,
}

/// One size.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Its name, the same in a template and in a filled-in file.
    pub what: String,
    /// What was asked for, mm or degrees.
    pub asked: Quantity,
    /// Length or angle.
    pub kind: Kind,
    /// Shorter leg of an angle, mm, by which standards choose its tolerance.
    pub leg: Option<f64>,
}

/// Every size of a part that a tape, a rule or a protractor can read.
pub fn items(part: &ReportedPart) -> Vec<Item> {
    let mut list = List::default();
    match (&part.member, &part.plate) {
        (Some(member), _) => of_member(member, &mut list),
        (None, Some(plate)) => of_plate(plate, &mut list),
        (None, None) => {}
    }
    list.0
}

#[derive(Default)]
struct List(Vec<Item>);

impl List {
    fn length(&mut self, what: impl Into<String>, asked: Option<Quantity>) {
        self.add(what.into(), asked, Kind::Length, None);
    }

    fn angle(&mut self, what: impl Into<String>, asked: Option<Quantity>, leg: Option<f64>) {
        self.add(what.into(), asked, Kind::Angle, leg);
    }

    fn add(&mut self, what: String, asked: Option<Quantity>, kind: Kind, leg: Option<f64>) {
        if let Some(asked) = asked {
            self.0.push(Item {
                what,
                asked,
                kind,
                leg,
            });
        }
    }
}

fn of_member(member: &Member, list: &mut List) {
    let section = &member.section;
    list.length("outside diameter", section.diameter);
    list.length("width", section.width);
    list.length("height", section.height);
    list.length("wall", section.wall);
    if section.wall.is_none() {
        list.length("web thickness", section.web_thickness);
        list.length("flange thickness", section.flange_thickness);
    }
    let straight = matches!(member.spans.as_slice(), [Span::Straight { .. }]);
    if straight {
        list.length("length on the centreline", member.centreline.length);
        list.length("length over the long points", member.longest_edge);
        list.length("length over the short points", member.shortest_edge);
    } else {
        list.length(
            "chord, end to end on the centreline",
            member.centreline.chord,
        );
        of_spans(member, list);
    }
    for (number, end) in member.ends.iter().enumerate() {
        for (k, cut) in end.cuts.iter().enumerate() {
            let cut_name = if end.cuts.len() > 1 {
                format!(", cut {}", k + 1)
            } else {
                String::new()
            };
            let name = format!("end {number}{cut_name}, angle off square");
            list.angle(name, Some(cut.off_square), deepest(section));
        }
    }
    for (number, hole) in member.holes.iter().enumerate() {
        let number = number + 1;
        list.length(format!("hole {number}, diameter"), hole.diameter);
        if hole.width.is_some() {
            list.length(format!("hole {number}, length"), hole.length);
            list.length(format!("hole {number}, width"), hole.width);
        }
        if straight {
            list.length(
                format!("hole {number}, from the nearest end"),
                hole.from_nearest_end,
            );
        }
    }
    for (number, pair) in member.holes.windows(2).enumerate() {
        if let ([a, b], true) = (pair, straight) {
            let apart = a
                .station
                .zip(b.station)
                .map(|(a, b)| quantity(b.value - a.value, a.plus_minus.max(b.plus_minus)));
            list.length(
                format!(
                    "hole {} to hole {}, along the piece",
                    number + 1,
                    number + 2
                ),
                apart.filter(|q| q.value > 0.5),
            );
        }
    }
}

fn of_spans(member: &Member, list: &mut List) {
    let (mut straights, mut arcs) = (0, 0);
    for span in &member.spans {
        match span {
            Span::Straight { length } => {
                straights += 1;
                list.length(
                    format!("straight {straights}, tangent to tangent"),
                    Some(*length),
                );
            }
            Span::Arc { angle, .. } => {
                arcs += 1;
                list.angle(format!("arc {arcs}, angle turned"), Some(*angle), None);
            }
            Span::Helix { .. } | Span::Free { .. } => {}
        }
    }
}

fn deepest(section: &Section) -> Option<f64> {
    [section.diameter, section.width, section.height]
        .into_iter()
        .flatten()
        .map(|q| q.value)
        .reduce(f64::max)
}

fn of_plate(plate: &Plate, list: &mut List) {
    list.length("thickness", plate.thickness);
    list.length("length of the flat", plate.flat.length);
    list.length("width of the flat", plate.flat.width);
    list.length("inside radius", plate.inside_radius);
    for (number, flange) in plate.flanges.iter().enumerate() {
        list.length(
            format!("flange {}, to the outside mould line", number + 1),
            Some(*flange),
        );
    }
    for (number, bend) in plate.bends.iter().enumerate() {
        let legs = plate.flanges.get(number..number + 2).unwrap_or_default();
        let leg = legs.iter().map(|q| q.value).reduce(f64::min);
        list.angle(
            format!("bend {}, angle turned", number + 1),
            Some(bend.angle),
            leg,
        );
    }
    for (number, hole) in plate.holes.iter().enumerate() {
        let number = number + 1;
        list.length(format!("hole {number}, diameter"), hole.diameter);
        if hole.width.is_some() {
            list.length(format!("hole {number}, length"), hole.length);
            list.length(format!("hole {number}, width"), hole.width);
        }
    }
    // From hole to hole, what a rule can be laid on; on the flat only.
    let places: Vec<_> = plate.holes.iter().map(|hole| hole.x.zip(hole.y)).collect();
    for (number, pair) in places.windows(2).enumerate() {
        if let [Some((ax, ay)), Some((bx, by))] = pair {
            let apart = (bx.value - ax.value).hypot(by.value - ay.value);
            let doubt = [ax, ay, bx, by]
                .map(|q| q.plus_minus)
                .into_iter()
                .fold(0.0, f64::max);
            list.length(
                format!("hole {} to hole {}, on the flat", number + 1, number + 2),
                Some(quantity(apart, 2.0 * doubt)),
            );
        }
    }
}
