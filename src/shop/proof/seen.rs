//! What a picture of the proof shows, in the program's own coordinates, mm.

use super::piece::Place;

/// A place that is pointed at.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Where.
    pub at: Place,
    /// What is there, a few words.
    pub words: String,
}

/// Lines of the picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// Plates as designed: for each its rings, the outside first.
    pub plates: Vec<Vec<Vec<Place>>>,
    /// Contours as cut, closed.
    pub cuts: Vec<Vec<Place>>,
    /// Cuts that do not close.
    pub open: Vec<Vec<Place>>,
    /// Ways into and out of contours.
    pub leads: Vec<Vec<Place>>,
    /// Ways without cutting.
    pub rapids: Vec<[Place; 2]>,
    /// Where the tool starts to cut.
    pub pierces: Vec<Place>,
    /// What is wrong, where.
    pub spots: Vec<Spot>,
}
