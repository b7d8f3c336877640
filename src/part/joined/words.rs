//! What is said about pieces that were taken apart.

use super::{Joint, Meeting};
use crate::finding::{Code, Finding, Severity};
use crate::geometry::Pt3;
use crate::member::{EndShape, Shape};
use crate::part::{Class, Part};

/// Files with every piece what it was joined to and what was assumed there.
pub fn note(parts: &mut [Part], joints: &[Joint]) {
    let names: Vec<String> = parts.iter().map(name).collect();
    let mut findings: Vec<Vec<Finding>> = vec![Vec::new(); parts.len()];
    for j in joints {
        if j.meeting == Meeting::Mitre {
            findings[j.ends].push(finding(
                Code::JoinedParts,
                format!(
                    "In the file this piece and the {} it meets in a mitre are one solid; they were cut apart on the plane through the inner corner.",
                    names[j.on]
                ),
                "Nothing to do if they are made as two pieces and joined in the shop.",
            ));
            if let Some((e, _)) = end_at(&parts[j.ends], &j.at) {
                findings[j.ends].push(finding(
                    Code::EndAssumed,
                    format!(
                        "End {e} is taken to be mitred; a joined model can't show whether one piece was drawn to run on past the other."
                    ),
                    "Cut it as the shop joins such corners.",
                ));
            }
            continue;
        }
        let where_ = match j.meeting {
            Meeting::Butt => "cut apart in the plane of its side",
            _ => "taken apart at their seam",
        };
        findings[j.ends].push(finding(
            Code::JoinedParts,
            format!(
                "In the file this piece and the {} it stands on are one solid; they were {where_}.",
                names[j.on]
            ),
            "Nothing to do if they are made as two pieces and joined in the shop.",
        ));
        let end = end_at(&parts[j.ends], &j.at).map_or("This piece".to_owned(), |(e, shape)| {
            let how = match shape {
                EndShape::Saddle => ", coped to fit,",
                _ => "",
            };
            format!("End {e}{how}")
        });
        findings[j.ends].push(finding(
            Code::EndAssumed,
            format!(
                "{end} is taken to stop at the surface of the {}; a joined model can't show whether it was drawn to run in.",
                names[j.on]
            ),
            "Add what runs in, if it does.",
        ));
        findings[j.on].push(finding(
            Code::JoinedParts,
            format!(
                "In the file a {} standing on this piece is one solid with it; this piece is taken to run on whole under it.",
                names[j.ends]
            ),
            "Cut the opening as well, if there is to be one.",
        ));
    }
    for (part, own) in parts.iter_mut().zip(findings) {
        for f in own {
            if !part.findings.contains(&f) {
                part.findings.push(f);
            }
        }
    }
}

/// A body with seams that could not be taken apart.
pub fn not_taken_apart(pieces: usize) -> Finding {
    Finding::new(
        Code::JoinedParts,
        Severity::Warning,
        format!(
            "This may be {pieces} pieces joined to one solid, but not every piece between the seams could be measured."
        ),
        "Export the pieces as separate solids.",
    )
}

/// Number and shape of the end nearest to a joint.
fn end_at(part: &Part, at: &Pt3) -> Option<(usize, EndShape)> {
    let member = part.member.as_ref()?;
    member
        .ends
        .iter()
        .enumerate()
        .min_by(|(_, a), (_, b)| {
            let far = |p: &[f64; 3]| (Pt3::from(*p) - at).norm();
            far(&a.point).total_cmp(&far(&b.point))
        })
        .map(|(e, end)| (e, end.shape))
}

/// A piece in a few words.
fn name(part: &Part) -> String {
    let size = |q: Option<crate::measure::Quantity>| {
        q.map_or("?".to_owned(), |q| {
            let text = format!("{:.1}", q.value);
            text.strip_suffix(".0").unwrap_or(&text).to_owned()
        })
    };
    if let Some(m) = &part.member {
        let s = &m.section;
        let by = |a, b| format!("{} x {}", size(a), size(b));
        return match s.shape {
            Shape::Round => format!("round tube {} mm", by(s.diameter, s.wall)),
            Shape::Square => format!("square tube {} mm", by(s.width, s.wall)),
            Shape::Rect => format!(
                "rectangular tube {} x {} mm",
                by(s.width, s.height),
                size(s.wall)
            ),
            Shape::RoundBar => format!("round bar {} mm", size(s.diameter)),
            Shape::SquareBar => format!("square bar {} mm", size(s.width)),
            Shape::FlatBar => format!("flat bar {} mm", by(s.width, s.height)),
            Shape::Angle => format!("angle {} x {} mm", by(s.width, s.height), size(s.wall)),
            Shape::Channel => format!(
                "channel {} x {} mm",
                by(s.height, s.width),
                size(s.wall.or(s.web_thickness))
            ),
            Shape::Other => "member".to_owned(),
        };
    }
    let thickness = part.plate.as_ref().and_then(|p| p.thickness);
    match part.class {
        Class::FlatPlate => format!("{} mm plate", size(thickness)),
        Class::RolledPlate => format!("{} mm rolled plate", size(thickness)),
        Class::BentPlate => format!("{} mm bent plate", size(thickness)),
        _ => "piece".to_owned(),
    }
}

fn finding(code: Code, message: String, remedy: &str) -> Finding {
    Finding::new(code, Severity::Note, message, remedy)
}

/// What is said about the end of a part that stands in another, on either.
pub fn overlap(part: &Part, end: usize, other: &Part, depth: f64) -> [Finding; 2] {
    let remedy = "Decide which piece is cut; both are given here as they were drawn.";
    [
        finding(
            Code::JoinedParts,
            format!(
                "End {end} stands {depth:.1} mm deep in the {}; the two solids overlap.",
                name(other)
            ),
            remedy,
        ),
        finding(
            Code::JoinedParts,
            format!(
                "A {} stands {depth:.1} mm deep in this piece; the two solids overlap.",
                name(part)
            ),
            remedy,
        ),
    ]
}
