//! Turning a model about so that every reader names the same axes and the same first end.

use std::f64::consts::PI;

use super::model::{Model, rolled, tidy};
use super::path::{Frame, Path, Piece};
use super::profile::{Contour, Profile, Side};

/// The profile with every side turned by `angle` radians.
fn turned_profile(profile: &Profile, angle: f64) -> Profile {
    let contours = profile
        .contours
        .iter()
        .map(|c| match c {
            Contour::Circle { .. } => c.clone(),
            Contour::Sides(s) => Contour::Sides(
                s.iter()
                    .map(|s| Side {
                        normal: s.normal + angle,
                        ..*s
                    })
                    .collect(),
            ),
        })
        .collect();
    Profile { contours }
}

/// The model with its section axes turned by `angle` radians about the direction of travel.
pub fn turned(model: &Model, angle: f64) -> Model {
    let path = rolled(&model.path, angle);
    Model {
        path: Path::new(path.start, path.pieces.iter().map(tidy).collect()),
        profile: turned_profile(&model.profile, -angle),
        stretch: model.stretch.clone(),
        stretched_between: model.stretched_between,
    }
}

/// The model read from its other end; the height axis stays, the width axis changes sign.
pub fn reversed(model: &Model) -> Model {
    let end = model.path.at(model.path.length());
    let start = Frame {
        point: end.point,
        w: -end.w,
        h: end.h,
        t: -end.t,
    };
    let pieces: Vec<Piece> = model
        .path
        .pieces
        .iter()
        .rev()
        .map(|p| {
            tidy(&Piece {
                bend: -p.bend,
                ..*p
            })
        })
        .collect();
    let contours = model
        .profile
        .contours
        .iter()
        .map(|c| match c {
            Contour::Circle { .. } => c.clone(),
            Contour::Sides(s) => {
                // mirrored in x, so the order of sides turns round; each corner stays between the same two
                let n = s.len();
                Contour::Sides(
                    (0..n)
                        .map(|j| {
                            let side = s[n - 1 - j];
                            Side {
                                normal: PI - side.normal,
                                corner: s[(2 * n - 2 - j) % n].corner,
                                ..side
                            }
                        })
                        .collect(),
                )
            }
        })
        .collect();
    let total = model.path.length();
    Model {
        path: Path::new(start, pieces),
        profile: Profile { contours },
        stretch: model.stretch.iter().rev().copied().collect(),
        stretched_between: [
            total - model.stretched_between[1],
            total - model.stretched_between[0],
        ],
    }
}
