//! Pictures of bodies: their real edges and outlines, without what is hidden.

mod chain;
mod creases;
mod hidden;
mod outlines;

use nalgebra::Vector2;

use super::bulge::around;
use super::scene::{Corner, Extent, Pen, Place, Purpose, Scene, Shape};
use crate::body::Body;
use crate::geometry::bvh::TriangleTree;
use crate::geometry::{Pt3, Vec3};
use creases::Solid;
use hidden::Behind;

/// From where a picture is taken: unit directions to the right and up on it, right-angled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// To the right on the picture.
    pub right: Vec3,
    /// Up on the picture.
    pub up: Vec3,
}

/// A line of a picture, in the size of the model, mm.
pub type Stroke = Vec<Place>;

/// A picture in the size of the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Lines that are seen.
    pub seen: Vec<Stroke>,
    /// Box around all bodies, seen or not.
    pub extent: Extent,
}

/// An edge in space.
type Edge = [Pt3; 2];

impl Look {
    /// Unit direction from the model to the eye.
    pub fn towards_eye(&self) -> Vec3 {
        self.right.cross(&self.up)
    }

    /// Where a point of the model falls on the picture.
    pub fn place(&self, p: &Pt3) -> Place {
        Place::new(self.right.dot(&p.coords), self.up.dot(&p.coords))
    }

    /// The same from above a corner: x runs to the lower right, y to the upper right, z up
    /// (isometric, ISO 5456-3, from memory).
    pub fn isometric(x: &Vec3, y: &Vec3, z: &Vec3) -> Look {
        let eye = (x - y + z).normalize();
        let up = (z - eye * eye.dot(z)).normalize();
        Look {
            right: up.cross(&eye),
            up,
        }
    }
}

/// What is seen of `bodies`; lines shorter than `finest` (mm of the model) are not told apart.
pub fn picture(bodies: &[&Body], look: Look, finest: f64) -> Picture {
    let solid = Solid::of(bodies);
    let eye = look.towards_eye();
    let tree = TriangleTree::new(&solid.vertices, &solid.facets);
    let size = solid.size();
    let fine = (finest, size);
    let mut seen = hidden::seen(&solid.creases(), &tree, &eye, fine, Behind::Anything);
    let outlines = outlines::outlines(&solid, &eye);
    seen.extend(hidden::seen(&outlines, &tree, &eye, fine, Behind::Fronts));
    let lines: Vec<[Place; 2]> = seen
        .iter()
        .map(|e| [look.place(&e[0]), look.place(&e[1])])
        .collect();
    Picture {
        seen: chain::chains(&lines, finest / 4.0),
        extent: around(solid.vertices.iter().map(|v| look.place(v))),
    }
}

/// Draws a picture at `scale` with the lower left corner of its box at `at`.
pub fn draw(scene: &mut Scene, picture: &Picture, pen: Pen, scale: f64, at: Place) {
    let place = |p: &Place| at + (p - picture.extent.0) * scale;
    for stroke in &picture.seen {
        let corners: Vec<Corner> = stroke
            .iter()
            .map(|p| Corner {
                at: place(p),
                bulge: 0.0,
            })
            .collect();
        scene.stroke(
            Purpose::Sheet,
            pen,
            Shape::Path {
                corners,
                closed: false,
            },
        );
    }
}

/// Size of a picture, mm of the model.
pub fn size(picture: &Picture) -> Vector2<f64> {
    picture.extent.1 - picture.extent.0
}
