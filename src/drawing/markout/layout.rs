//! Running dimensions along every line of a member, from one end of its blank.

use super::lines::{Line, lines, way_round};
use crate::drawing::walk::{self, Spot, Walk, Which};
use crate::member::{End, EndShape, Member, MemberHole};

/// One cut of one end: how far it stands from the datum along each line.
#[derive(Clone, Debug, PartialEq)]
pub struct CutMarks {
    /// Which end, 0 or 1.
    pub end: usize,
    /// Which cut of that end, from 1; a cope counts as one.
    pub cut: usize,
    /// True for a cope.
    pub cope: bool,
    /// Distance from the datum along each line, mm; `None` where the line never meets the cut.
    pub at: Vec<Option<f64>>,
}

/// A hole set out from the datum.
#[derive(Clone, Debug, PartialEq)]
pub struct HoleMarks {
    /// Place in the report's list.
    pub index: usize,
    /// Distance from the datum along the surface line through the hole, mm.
    pub at: f64,
    /// Where the hole enters the section.
    pub spot: Spot,
}

/// A place on the centreline where a straight meets an arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tangent {
    /// Distance from the datum along the centreline, mm.
    pub centreline: f64,
    /// True where the arc begins.
    pub begins: bool,
}

/// Where everything on a member is marked. The datum is a line square round the blank's own end, at
/// the longest point of end 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The lines, in order round the section.
    pub lines: Vec<Line>,
    /// The cuts, end 0 first.
    pub cuts: Vec<CutMarks>,
    /// Length of the blank along each line, from the datum to the square line at the longest point
    /// of end 1, mm.
    pub blank: Vec<f64>,
    /// The same on the centreline, mm.
    pub blank_centreline: f64,
    /// From the datum to the square section at the point where the centreline begins, along the
    /// centreline, mm.
    pub before: f64,
    /// Holes, in order from end 0.
    pub holes: Vec<HoleMarks>,
    /// Tangent points; none on a straight member.
    pub tangents: Vec<Tangent>,
    /// The way along the member.
    pub walk: Walk,
}

/// Why a member can't be set out, one sentence.
pub type WhyNot = &'static str;

/// Sets out a member.
pub fn layout(member: &Member) -> Result<Layout, WhyNot> {
    let [first, last] = member.ends.as_slice() else {
        return Err("it is closed and has no ends");
    };
    let walk =
        walk::walk(member).ok_or("its path is no chain of straights and arcs of known radius")?;
    let lines = lines(&member.section).ok_or("the sizes of its section are not known")?;
    if [first, last].iter().any(|e| e.shape == EndShape::Other) {
        return Err("an end has a shape that is neither cuts nor a cope");
    }
    let length = walk::length(&walk);
    // How far the blank goes beyond the square sections at both ends, along the centreline: the
    // farthest point of the metal, on whichever line it lies.
    let beyond_first = farthest(&walk, Which::First, first, member, &lines)?;
    let beyond_last = farthest(&walk, Which::Last, last, member, &lines)?;
    let ends = [(first, Which::First), (last, Which::Last)];
    let datum = |spot: Spot| {
        let ratio = walk
            .stretches
            .first()
            .map_or(1.0, |s| walk::stretch_ratio(s, spot));
        beyond_first * ratio
    };
    let mut cuts = Vec::new();
    for (index, (end, which)) in ends.into_iter().enumerate() {
        let place = |spot: Spot, reach: Option<f64>| {
            Some(match which {
                Which::First => datum(spot) - reach?,
                Which::Last => datum(spot) + walk::line_length(&walk, spot, length) + reach?,
            })
        };
        for (k, cut) in end.cuts.iter().enumerate() {
            let reach = |spot| walk::reach_plane(&walk, which, spot, cut);
            cuts.push(CutMarks {
                end: index,
                cut: k + 1,
                cope: false,
                at: lines.iter().map(|l| place(l.spot, reach(l.spot))).collect(),
            });
        }
        if let Some(saddle) = &end.saddle {
            let reach = |spot| walk::reach_saddle(&walk, which, spot, saddle);
            cuts.push(CutMarks {
                end: index,
                cut: end.cuts.len() + 1,
                cope: true,
                at: lines.iter().map(|l| place(l.spot, reach(l.spot))).collect(),
            });
        }
    }
    let blank = lines
        .iter()
        .map(|l| {
            let ratio = walk
                .stretches
                .last()
                .map_or(1.0, |s| walk::stretch_ratio(s, l.spot));
            datum(l.spot) + walk::line_length(&walk, l.spot, length) + beyond_last * ratio
        })
        .collect();
    let holes = member
        .holes
        .iter()
        .enumerate()
        .filter_map(|(index, hole)| hole_marks(&walk, index, hole, datum))
        .collect();
    Ok(Layout {
        blank,
        blank_centreline: beyond_first + length + beyond_last,
        before: beyond_first,
        holes,
        tangents: tangents(&walk, beyond_first),
        lines,
        cuts,
        walk,
    })
}

/// How far the metal reaches beyond the square section of an end, as a length of the centreline.
fn farthest(
    walk: &Walk,
    which: Which,
    end: &End,
    member: &Member,
    lines: &[Line],
) -> Result<f64, WhyNot> {
    let stretch = match which {
        Which::First => walk.stretches.first(),
        Which::Last => walk.stretches.last(),
    };
    let spots: Vec<Spot> = match way_round(&member.section, 0.0) {
        Some(way) => way.iter().map(|r| r.spot).collect(),
        None => lines.iter().map(|l| l.spot).collect(),
    };
    spots
        .into_iter()
        .filter_map(|spot| {
            let ratio = stretch.map_or(1.0, |s| walk::stretch_ratio(s, spot));
            Some(walk::reach(walk, which, spot, end)? / ratio)
        })
        .max_by(f64::total_cmp)
        .ok_or("a cut at one of its ends was not understood")
}

fn hole_marks(
    walk: &Walk,
    index: usize,
    hole: &MemberHole,
    datum: impl Fn(Spot) -> f64,
) -> Option<HoleMarks> {
    let s = hole.station?.value;
    let here = walk::station(walk, s);
    let out = crate::geometry::Pt3::from(hole.point) - here.at;
    let spot = [out.dot(&here.width), out.dot(&here.height)];
    Some(HoleMarks {
        index,
        at: datum(spot) + walk::line_length(walk, spot, s),
        spot,
    })
}

fn tangents(walk: &Walk, before: f64) -> Vec<Tangent> {
    let mut s = before;
    let mut list = Vec::new();
    for stretch in &walk.stretches {
        if stretch.arc.is_some() {
            list.push(Tangent {
                centreline: s,
                begins: true,
            });
            list.push(Tangent {
                centreline: s + stretch.length,
                begins: false,
            });
        }
        s += stretch.length;
    }
    list
}
