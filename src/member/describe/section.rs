//! The section, with ±.

use super::measured::Measured;
use super::shape::shape_of;
use crate::measure::Quantity;
use crate::member::model::Model;
use crate::member::profile::Contour;
use crate::member::{Section, Shape, legs};

pub(super) fn section(
    model: &Model,
    m: &Measured,
    g: &crate::member::profile::Pt2,
) -> Option<Section> {
    let hollow = model.profile.contours.len() > 1;
    let width = m.get("0.size0");
    let height = m.get("0.size1");
    let slack = match (width, height) {
        (Some(w), Some(h)) => 2.0 * (w.plus_minus + h.plus_minus) + 2e-4 * w.value,
        _ => 0.0,
    };
    let shape = shape_of(&model.profile, slack);
    let corner = |contour: usize, convex: bool| -> Option<Quantity> {
        let Contour::Sides(sides) = model.profile.contours.get(contour)? else {
            return None;
        };
        let n = sides.len();
        let found = (0..n).find(|&j| {
            ((sides[(j + 1) % n].normal - sides[j].normal).sin() > 0.0) == convex
                && sides[j].corner > 0.0
        });
        match found {
            Some(j) => m.get(&format!("{contour}.corner{j}")),
            None => Some(Quantity::new(0.0, m.floor)),
        }
    };
    let half_difference = |a: Option<Quantity>, b: Option<Quantity>| -> Option<Quantity> {
        let (a, b) = (a?, b?);
        Some(Quantity::new(
            0.5 * (a.value - b.value),
            0.5 * (a.plus_minus.hypot(b.plus_minus)) + 0.5 * m.floor,
        ))
    };
    let mut s = Section {
        shape,
        diameter: None,
        width: None,
        height: None,
        wall: None,
        web_thickness: None,
        flange_thickness: None,
        corner_radius: None,
        inner_corner_radius: None,
        area: m.get("area").map(|a| {
            Quantity::new(
                a.value,
                a.plus_minus + m.floor * m.numbers.get("outline").unwrap_or(0.0),
            )
        }),
        stock: None,
        contours: model
            .profile
            .contours
            .iter()
            .map(|c| {
                c.points(0.01)
                    .iter()
                    .map(|p| [p.x - g.x, p.y - g.y])
                    .collect()
            })
            .collect(),
    };
    match shape {
        Shape::Round | Shape::RoundBar => {
            s.diameter = m.get("0.diameter");
            if hollow {
                s.wall = half_difference(s.diameter, m.get("1.diameter"));
            }
        }
        Shape::Square | Shape::Rect | Shape::SquareBar | Shape::FlatBar => {
            s.width = width;
            s.height = height;
            s.corner_radius = corner(0, true);
            if hollow {
                let a = half_difference(width, m.get("1.size0"))?;
                let b = half_difference(height, m.get("1.size1"))?;
                s.wall = Some(Quantity::new(
                    0.5 * (a.value + b.value),
                    a.plus_minus
                        .max(b.plus_minus)
                        .max(0.5 * (a.value - b.value).abs()),
                ));
                s.inner_corner_radius = corner(1, true);
            }
        }
        Shape::Angle | Shape::Channel => {
            s.width = width;
            s.height = height;
            s.inner_corner_radius = corner(0, false);
            if let Contour::Sides(sides) = &model.profile.contours[0] {
                legs_of(&mut s, sides, m);
            }
        }
        Shape::Other => {
            s.width = width;
            s.height = height;
        }
    }
    Some(s)
}

/// Thicknesses and heel radius of an angle or channel.
pub(super) fn legs_of(section: &mut Section, sides: &[crate::member::profile::Side], m: &Measured) {
    let corners = legs::corners(sides);
    section.corner_radius = match corners.iter().find(|c| sides[c.heel].corner > 0.0) {
        Some(c) => m.get(&format!("0.corner{}", c.heel)),
        None => Some(Quantity::new(0.0, m.floor)),
    };
    let thickness = |(i, j): (usize, usize)| {
        let (a, b) = (
            m.get(&format!("0.offset{i}"))?,
            m.get(&format!("0.offset{j}"))?,
        );
        Some(Quantity::new(
            (a.value + b.value).abs(),
            a.plus_minus.hypot(b.plus_minus),
        ))
    };
    let legs: Option<Vec<Quantity>> = legs::legs(&corners).into_iter().map(thickness).collect();
    let legs = legs.unwrap_or_default();
    let same = |a: Quantity, b: Quantity| {
        (a.value - b.value).abs() < 2e-3 * a.value.max(b.value) + 4.0 * a.plus_minus
    };
    let mean = |a: Quantity, b: Quantity| {
        Quantity::new(
            0.5 * (a.value + b.value),
            a.plus_minus.max(b.plus_minus) + 0.5 * (a.value - b.value).abs(),
        )
    };
    match legs[..] {
        [a, b] if same(a, b) => section.wall = Some(if a.value < b.value { a } else { b }),
        [below, web, above] => {
            section.web_thickness = Some(web);
            section.flange_thickness = same(below, above).then(|| mean(below, above));
            if same(below, above) && same(below, web) && same(above, web) {
                section.wall = [below, web, above]
                    .into_iter()
                    .min_by(|a, b| a.value.total_cmp(&b.value));
            }
        }
        _ => {}
    }
}
