//! What every word of a program is: followed, without effect on the path, or unknown.

/// What a G or M word asks for, as far as the path goes. Numbers in tenths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Followed; the number is its modal group, of which a line may hold one.
    Followed(Group),
    /// Known, and of no matter for the path: feed, coolant, tool change, dwell.
    Harmless,
    /// Known, and not followed: the path can't be told for certain.
    NotFollowed,
    /// Unknown.
    Unknown,
}

/// Modal groups, of which a line may hold one word (NISTIR 6556, table 4, from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Group {
    Motion,
    Plane,
    Distance,
    Centres,
    Units,
    Radius,
    Frame,
    Other,
    Machine,
    Stop,
}

/// Meaning of a G word.
pub fn g(tenths: u32) -> Meaning {
    use Meaning::{Followed, Harmless, NotFollowed, Unknown};
    match tenths {
        0 | 10 | 20 | 30 | 800 => Followed(Group::Motion),
        170 | 180 | 190 => Followed(Group::Plane),
        200 | 210 => Followed(Group::Units),
        900 | 910 => Followed(Group::Distance),
        901 | 911 => Followed(Group::Centres),
        400 | 410 | 420 => Followed(Group::Radius),
        540 | 550 | 560 | 570 | 580 | 590 | 591 | 592 | 593 => Followed(Group::Frame),
        280 | 300 | 920 | 921 | 922 | 923 => Followed(Group::Other),
        530 => Followed(Group::Machine),
        40 | 430 | 490 | 610 | 611 | 640 | 930 | 940 | 980 | 990 => Harmless,
        100 | 382 | 810 | 820 | 830 | 840 | 850 | 860 | 870 | 880 | 890 => NotFollowed,
        _ => Unknown,
    }
}

/// Meaning of an M word that switches no tool.
pub fn m(tenths: u32) -> Meaning {
    match tenths {
        20 | 300 => Meaning::Followed(Group::Stop),
        0 | 10 | 600 | 60 | 70 | 80 | 90 | 480 | 490 => Meaning::Harmless,
        _ => Meaning::Unknown,
    }
}

/// `G90.1` from its tenths.
pub fn name(letter: char, tenths: u32) -> String {
    match tenths % 10 {
        0 => format!("{letter}{}", tenths / 10),
        tenth => format!("{letter}{}.{tenth}", tenths / 10),
    }
}
