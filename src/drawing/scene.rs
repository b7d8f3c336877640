//! What is drawn, in millimetres: x to the right, y up. Everything on paper, on a screen or on a
//! cutting table is made of these few things; the back ends write them.

use nalgebra::{Point2, Rotation2, Vector2};

use super::font::{self, Face};

/// A place on the drawing, mm.
pub type Place = Point2<f64>;

/// What a line is for. On a cutting table this decides what the machine does with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Purpose {
    /// Inner contours: holes, slots, openings. Cut first, while the plate still holds the piece.
    CutInside,
    /// The outer contour.
    CutOutside,
    /// Scribed, punched or only looked at: centres, countersinks, full sizes of pilot holes.
    Mark,
    /// Line of a bend towards the front face.
    BendUp,
    /// Line of a bend away from the front face.
    BendDown,
    /// Words.
    Words,
    /// Lines of a sheet of paper, which no machine follows.
    Sheet,
}

impl Purpose {
    /// All of them, in the order a file lists them.
    pub const ALL: [Purpose; 7] = [
        Purpose::CutInside,
        Purpose::CutOutside,
        Purpose::Mark,
        Purpose::BendUp,
        Purpose::BendDown,
        Purpose::Words,
        Purpose::Sheet,
    ];

    /// Its name as a layer or a group.
    pub fn name(self) -> &'static str {
        match self {
            Purpose::CutInside => "CUT-INSIDE",
            Purpose::CutOutside => "CUT-OUTSIDE",
            Purpose::Mark => "MARK",
            Purpose::BendUp => "BEND-UP",
            Purpose::BendDown => "BEND-DOWN",
            Purpose::Words => "WORDS",
            Purpose::Sheet => "SHEET",
        }
    }
}

/// How a line is broken. Names and use after ISO 128-2 (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Hidden edges.
    Short,
    /// Centre lines.
    Chain,
}

impl Dash {
    /// Lengths of dashes and gaps in widths of the line; empty when unbroken.
    pub fn pattern(self) -> &'static [f64] {
        match self {
            Dash::Solid => &[],
            Dash::Short => &[10.0, 5.0],
            Dash::Chain => &[22.0, 5.0, 2.0, 5.0],
        }
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// Width of the line, mm.
    pub width: f64,
    /// How it is broken.
    pub dash: Dash,
}

/// Dimension lines, hatching, hidden edges.
pub const NARROW: Pen = Pen {
    width: 0.25,
    dash: Dash::Solid,
};
/// Edges that are seen.
pub const WIDE: Pen = Pen {
    width: 0.5,
    dash: Dash::Solid,
};
/// Edges of pictures.
pub const EDGE: Pen = Pen {
    width: 0.35,
    dash: Dash::Solid,
};
/// Edges that are not seen.
pub const HIDDEN: Pen = Pen {
    width: 0.25,
    dash: Dash::Short,
};
/// Axes and centre lines.
pub const CENTRE: Pen = Pen {
    width: 0.25,
    dash: Dash::Chain,
};

/// One corner of a path and the way to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Where.
    pub at: Place,
    /// Tangent of a quarter of the angle the way to the next corner turns, positive anticlockwise;
    /// 0 for a straight line.
    pub bulge: f64,
}

/// Which point of a line of text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// One line of text.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where its anchor stands, on the base line.
    pub at: Place,
    /// Height of a capital letter, mm.
    pub height: f64,
    /// Direction it runs in, degrees anticlockwise from x.
    pub turn: f64,
    /// Which point of it stands there.
    pub anchor: Anchor,
    /// Face.
    pub face: Face,
    /// The words.
    pub words: String,
}

/// Geometry of an item.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A straight line.
    Line {
        /// Start.
        from: Place,
        /// End.
        to: Place,
    },
    /// A full circle.
    Circle {
        /// Centre.
        centre: Place,
        /// Radius, mm.
        radius: f64,
    },
    /// Part of a circle.
    Arc {
        /// Centre.
        centre: Place,
        /// Radius, mm.
        radius: f64,
        /// Direction of its start from the centre, radians anticlockwise from x.
        start: f64,
        /// Angle it turns, radians, positive anticlockwise.
        sweep: f64,
    },
    /// Lines and arcs in a row.
    Path {
        /// Corners in order.
        corners: Vec<Corner>,
        /// True when the last corner leads back to the first.
        closed: bool,
    },
    /// A line of text.
    Text(Text),
}

/// What the inside of a closed shape is filled with: white hides what lies below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// No ink, and hides what is drawn before it.
    White,
    /// Full ink.
    Black,
    /// A tint: share of ink, 0 to 1.
    Tint(f64),
}

/// One thing on the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it is for.
    pub purpose: Purpose,
    /// Line, if it has one. Text has none.
    pub pen: Option<Pen>,
    /// Filling, if it has one.
    pub fill: Option<Fill>,
    /// Geometry.
    pub shape: Shape,
}

/// A round place on the drawing that leads elsewhere when it is clicked; no ink.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Its middle.
    pub at: Place,
    /// Its radius, mm.
    pub radius: f64,
    /// Mark of the part it leads to.
    pub to: String,
}

/// A drawing: later items lie on top of earlier ones.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scene {
    /// The items.
    pub items: Vec<Item>,
    /// What leads elsewhere, for files that can be clicked.
    pub links: Vec<Link>,
}

/// Corners of an upright box, lower left and upper right, mm.
pub type Extent = (Place, Place);

impl Scene {
    /// Adds a line drawn with `pen`.
    pub fn stroke(&mut self, purpose: Purpose, pen: Pen, shape: Shape) {
        self.items.push(Item {
            purpose,
            pen: Some(pen),
            fill: None,
            shape,
        });
    }

    /// Adds a straight line of a sheet.
    pub fn line(&mut self, pen: Pen, from: Place, to: Place) {
        self.stroke(Purpose::Sheet, pen, Shape::Line { from, to });
    }

    /// Adds an upright box of a sheet.
    pub fn rectangle(&mut self, pen: Option<Pen>, fill: Option<Fill>, (low, high): Extent) {
        let corner = |x, y| Corner {
            at: Place::new(x, y),
            bulge: 0.0,
        };
        let corners = vec![
            corner(low.x, low.y),
            corner(high.x, low.y),
            corner(high.x, high.y),
            corner(low.x, high.y),
        ];
        self.items.push(Item {
            purpose: Purpose::Sheet,
            pen,
            fill,
            shape: Shape::Path {
                corners,
                closed: true,
            },
        });
    }

    /// Adds a line of text; an empty one is left out.
    pub fn text(&mut self, purpose: Purpose, text: Text) {
        if text.words.trim().is_empty() {
            return;
        }
        self.items.push(Item {
            purpose,
            pen: None,
            fill: None,
            shape: Shape::Text(text),
        });
    }

    /// Adds all of another drawing, moved by `by`.
    pub fn place(&mut self, other: Scene, by: Vector2<f64>) {
        self.items.extend(other.items.into_iter().map(|mut item| {
            shift(&mut item.shape, by);
            item
        }));
        self.links.extend(other.links.into_iter().map(|mut link| {
            link.at += by;
            link
        }));
    }

    /// Turns everything about the origin, radians anticlockwise.
    pub fn turn(&mut self, by: f64) {
        let turned = Rotation2::new(by);
        for item in &mut self.items {
            match &mut item.shape {
                Shape::Line { from, to } => {
                    *from = turned * *from;
                    *to = turned * *to;
                }
                Shape::Circle { centre, .. } => *centre = turned * *centre,
                Shape::Arc { centre, start, .. } => {
                    *centre = turned * *centre;
                    *start += by;
                }
                Shape::Path { corners, .. } => {
                    corners.iter_mut().for_each(|c| c.at = turned * c.at);
                }
                Shape::Text(text) => {
                    text.at = turned * text.at;
                    text.turn += by.to_degrees();
                }
            }
        }
        for link in &mut self.links {
            link.at = turned * link.at;
        }
    }

    /// The lines of text.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.items.iter().filter_map(|item| match &item.shape {
            Shape::Text(text) => Some(text),
            _ => None,
        })
    }
}

fn shift(shape: &mut Shape, by: Vector2<f64>) {
    match shape {
        Shape::Line { from, to } => {
            *from += by;
            *to += by;
        }
        Shape::Circle { centre, .. } | Shape::Arc { centre, .. } => *centre += by,
        Shape::Path { corners, .. } => corners.iter_mut().for_each(|c| c.at += by),
        Shape::Text(text) => text.at += by,
    }
}

impl Text {
    /// A line of text of the plain face that starts at `at` and runs to the right.
    pub fn plain(at: Place, height: f64, words: impl Into<String>) -> Text {
        Text {
            at,
            height,
            turn: 0.0,
            anchor: Anchor::Start,
            face: Face::Plain,
            words: words.into(),
        }
    }

    /// The same in the bold face.
    pub fn bold(self) -> Text {
        Text {
            face: Face::Bold,
            ..self
        }
    }

    /// The same with another anchor.
    pub fn anchored(self, anchor: Anchor) -> Text {
        Text { anchor, ..self }
    }

    /// The same turned, degrees anticlockwise.
    pub fn turned(self, turn: f64) -> Text {
        Text { turn, ..self }
    }

    /// Length of the line as printed, mm.
    pub fn width(&self) -> f64 {
        font::width(&self.words, self.face, self.height)
    }

    /// Where its base line begins.
    pub fn origin(&self) -> Place {
        let share = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5,
            Anchor::End => 1.0,
        };
        self.at - self.direction() * (share * self.width())
    }

    /// Unit vector it runs along.
    pub fn direction(&self) -> Vector2<f64> {
        let turn = self.turn.to_radians();
        Vector2::new(turn.cos(), turn.sin())
    }

    /// Corners of the box its ink stays inside, anticlockwise from the lower left as read.
    pub fn outline(&self) -> [Place; 4] {
        let (u, origin, width) = (self.direction(), self.origin(), self.width());
        let up = Vector2::new(-u.y, u.x);
        let below = up * (-font::DESCENT * self.height);
        let above = up * (font::ASCENT * self.height);
        [
            origin + below,
            origin + u * width + below,
            origin + u * width + above,
            origin + above,
        ]
    }
}
