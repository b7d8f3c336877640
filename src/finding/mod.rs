//! What the program noticed about a file or a part, with a remedy in the fabricator's words.

use schemars::JsonSchema;
use serde::Serialize;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// A number may be missing or wider than usual.
    Warning,
    /// Something could not be read or measured.
    Error,
}

/// The published list of finding codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Code {
    Truncated,
    CountMismatch,
    HeaderShifted,
    Empty,
    NotFinite,
    OpenEdges,
    NonManifoldEdges,
    FlippedFacets,
    DuplicateFacets,
    DegenerateFacets,
    SeveralSolids,
    DecimalComma,
    UnitInferred,
    UnitUnclear,
    ClassUnclear,
    ArcUnclear,
    WallNotVisible,
    EndAssumed,
    FarFromOrigin,
    Noisy,
    JoinedParts,
    NotDevelopable,
    /// Text in a character set other than UTF-8, converted while reading.
    TextEncoding,
    /// Words or lines of the file that were not understood and left out.
    IgnoredContent,
    /// A face names a vertex that does not exist.
    BadIndex,
    /// Stored facet normals disagree with the winding.
    NormalsDisagree,
    /// Two roads to one number disagree by more than their ±.
    RoadsDisagree,
    /// A hole or opening whose shape is not a circle, slot or straight-sided cut-out.
    HoleUnclear,
    /// A hole that does not keep its shape when the plate is rolled or folded.
    HoleDistorts,
    /// A fold whose K-factor is not what the caller's table or choice would be expected to give.
    KUnclear,
    /// Nothing a shop makes from stock was recognised.
    NotRecognised,
    /// Harmless oddities of the file, read without loss.
    UnusualForm,
    /// A 3MF package whose parts or build list are missing or contradict each other.
    PackageDamaged,
    /// The file breaks the rules of its format where no sense can be made of it.
    Unreadable,
    /// Flats along a bar or tube that is round otherwise.
    SectionFlats,
    /// Metal of a body that the description of its part leaves out.
    LeftOut,
    /// A piece that no bar or sheet has room for.
    NoStock,
    /// Holes of neighbouring parts that face each other but do not line up.
    HolesOff,
    /// Neighbouring parts that stand a little apart.
    PartsApart,
    /// Neighbouring parts that run into each other.
    PartsOverlap,
    /// A piece longer than can be moved.
    OverLength,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Finding {
    /// What kind of finding.
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    /// Piece mark it belongs to, or null for the whole file.
    pub part: Option<String>,
    /// What was seen, one or two plain sentences.
    pub message: String,
    /// What to do about it.
    pub remedy: String,
}

impl Finding {
    /// A finding about the whole file (or about the part it is later filed under).
    pub fn new(
        code: Code,
        severity: Severity,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Finding {
            code,
            severity,
            part: None,
            message: message.into(),
            remedy: remedy.into(),
        }
    }
}
