//! One bay of a bicycle shelter: x along the row of bays, y over the bicycles, z up from the paving.

use serde_json::{Value, json};

use super::plate::{plate, rectangle};
use super::section::{P2, angle, round, strip, tube};
use super::sizes::Bay;
use super::solid::{P3, Solid, V3};
use super::sweep::{Drilled, Frame, Path, sweep};

/// Bodies, and the truth about them.
pub struct Model {
    pub solids: Vec<Solid>,
    pub truth: Value,
}

fn frame(at: [f64; 3], width: V3, height: V3) -> Frame {
    Frame {
        at: P3::from(at),
        width,
        height,
        along: width.cross(&height),
    }
}

const RIB_ANGLE: f64 = 70.0;
/// Half the height of a rib.
const RIB_HALF: f64 = 40.0;
/// The first purlin hangs behind this place of the arc's chords; one more every 25°.
const PURLINS: [f64; 3] = [12.5, 37.5, 62.5];
/// Screws of the roof.
const SCREWS: [f64; 4] = [2.5, 22.5, 47.5, 67.5];

pub fn canopy(seed: u64) -> Model {
    let bay = Bay::of(seed);
    let (x, y, z) = (V3::x(), V3::y(), V3::z());
    let mut solids = Vec::new();
    let base_holes = [
        (-60.0, -95.0, 18.0),
        (60.0, -95.0, 18.0),
        (60.0, 95.0, 18.0),
        (-60.0, 95.0, 18.0),
    ];
    let head_holes = [
        (-50.0, -50.0, 14.0),
        (50.0, -50.0, 14.0),
        (50.0, 50.0, 14.0),
        (-50.0, 50.0, 14.0),
    ];
    let post = tube(80.0, 80.0, 4.0, [8.0, 4.0], &[]);
    let post_foot = 17.0;
    let post_head = post_foot + bay.post;
    let rib_foot = post_head + 20.0;
    for (side, at) in [("left", 0.0), ("right", bay.width)] {
        let level = |h: f64| frame([at, 0.0, h], x, y);
        let name = |what: &str| format!("{what} {side}");
        solids.push(plate(
            &name("shim"),
            &rectangle(160.0, 240.0),
            &base_holes,
            5.0,
            &level(0.0),
            &[],
        ));
        // On the left, post and base plate are one solid, as if welded in the drawing.
        let joined = side == "left";
        let foot: &[Vec<P2>] = if joined { &post.contours } else { &[] };
        let mut base = plate(
            &name("base plate"),
            &rectangle(160.0, 240.0),
            &base_holes,
            12.0,
            &level(5.0),
            foot,
        );
        let line = Path::straight(level(post_foot), bay.post);
        let upright = sweep(
            &name("post"),
            &post,
            &line,
            [&|_| 0.0, &|_| bay.post],
            &[],
            [!joined, true],
        );
        match joined {
            true => {
                base.triangles.extend(upright.triangles);
                base.name = "post and base plate left".to_owned();
                solids.push(base);
            }
            false => solids.extend([base, upright]),
        }
        for (way, label) in [(1.0, "front"), (-1.0, "back")] {
            let outline = [
                (0.0, 0.0),
                (60.0, 0.0),
                (60.0, 20.0),
                (20.0, 120.0),
                (0.0, 120.0),
            ];
            let outline = outline.map(|(a, b)| P2::new(a, b));
            let stand = Frame {
                at: P3::new(at - 4.0, 40.0 * way, post_foot),
                width: y * way,
                height: z,
                along: x,
            };
            solids.push(plate(
                &name(&format!("gusset {label}")),
                &outline,
                &[],
                8.0,
                &stand,
                &[],
            ));
        }
        for (h, what) in [(post_head, "head plate"), (post_head + 10.0, "rib foot")] {
            solids.push(plate(
                &name(what),
                &rectangle(140.0, 140.0),
                &head_holes,
                10.0,
                &level(h),
                &[],
            ));
        }
        solids.extend(rib_and_cleats(&bay, rib_foot, at, side == "left"));
    }
    let rail = round(42.4, 3.0);
    let rail_length = bay.width - 80.0;
    let line = Path::straight(frame([40.0, 0.0, 700.0], y, z), rail_length);
    solids.push(sweep(
        "leaning rail",
        &rail,
        &line,
        [&|_| 0.0, &|_| rail_length],
        &[],
        [true; 2],
    ));

    let purlin = tube(50.0, 50.0, 3.0, [6.0, 3.0], &[]);
    let purlin_length = bay.width - 40.0;
    for (k, chord) in PURLINS.into_iter().enumerate() {
        let f = hung(&bay, rib_foot, chord);
        // top of the purlin 1 mm under the roof
        let at = P3::new(20.0, f.at.y, f.at.z) - f.height * (RIB_HALF - 1.0 - 25.0);
        let start = Frame {
            at,
            width: f.along,
            height: -f.height,
            along: x,
        };
        let line = Path::straight(start, purlin_length);
        let holes = [40.0, purlin_length - 40.0].map(|station| Drilled {
            wall: 2,
            station,
            across: 0.0,
            diameter: 9.0,
        });
        solids.push(sweep(
            &format!("purlin {}", k + 1),
            &purlin,
            &line,
            [&|_| 0.0, &|_| purlin_length],
            &holes,
            [true; 2],
        ));
    }

    let roof_radius = bay.radius + RIB_HALF + 1.5;
    let roof_path = Path {
        start: Frame {
            at: P3::new(bay.width / 2.0, -RIB_HALF - 1.5, rib_foot + bay.straight[0]),
            width: x,
            height: y,
            along: z,
        },
        before: 0.0,
        radius: roof_radius,
        angle: RIB_ANGLE,
        after: 0.0,
    };
    let roof_width = bay.width + 200.0;
    let screws: Vec<Drilled> = SCREWS
        .iter()
        .flat_map(|&a| [-0.5, 0.5].map(|side| (a, side * bay.width)))
        .map(|(a, across)| Drilled {
            wall: 0,
            station: roof_path.station(a),
            across,
            diameter: 7.0,
        })
        .collect();
    let roof_end = roof_path.length();
    solids.push(sweep(
        "roof",
        &strip(roof_width, 3.0),
        &roof_path,
        [&|_| 0.0, &|_| roof_end],
        &screws,
        [true; 2],
    ));
    Model {
        solids,
        truth: truth(seed, &bay),
    }
}

fn rib_path(bay: &Bay, foot: f64, at: f64) -> Path {
    Path {
        start: Frame {
            at: P3::new(at, 0.0, foot),
            width: V3::x(),
            height: V3::y(),
            along: V3::z(),
        },
        before: bay.straight[0],
        radius: bay.radius,
        angle: RIB_ANGLE,
        after: bay.straight[1],
    }
}

/// Hole of a cleat in the rib: along the tangent behind the purlin's middle, and over the centreline.
const CLEAT_HOLE: [f64; 2] = [-60.0, 8.0];

/// The rib's frame where a purlin hangs: so far along that the cleat's hole, which lies behind it,
/// falls into the middle of a chord.
fn hung(bay: &Bay, foot: f64, chord: f64) -> Frame {
    let path = rib_path(bay, foot, 0.0);
    let behind = (-CLEAT_HOLE[0])
        .atan2(bay.radius + CLEAT_HOLE[1])
        .to_degrees();
    path.frame(path.station(chord + behind))
}

fn rib_and_cleats(bay: &Bay, foot: f64, at: f64, left: bool) -> Vec<Solid> {
    let side = if left { "left" } else { "right" };
    let path = rib_path(bay, foot, at);
    // the second cut takes the lower 30 mm of the nose
    let section = tube(40.0, 80.0, 3.0, [6.0, 3.0], &[10.0]);
    let length = path.length();
    let (plumb, nose) = (20f64.to_radians().tan(), 50f64.to_radians().tan());
    let far = |p: P2| length - (p.y * plumb).max(p.y * nose - 10.0 * (nose - plumb));
    let mut holes: Vec<Drilled> = PURLINS
        .iter()
        .map(|&chord| Drilled {
            wall: if left { 0 } else { 2 },
            station: path.station(chord),
            across: bay.radius - CLEAT_HOLE[0].hypot(bay.radius + CLEAT_HOLE[1]),
            diameter: 14.0,
        })
        .collect();
    holes.extend(SCREWS.iter().map(|&a| Drilled {
        wall: 3,
        station: path.station(a),
        across: 0.0,
        diameter: 7.0,
    }));
    let mut out = vec![sweep(
        &format!("rib {side}"),
        &section,
        &path,
        [&|_| 0.0, &far],
        &holes,
        [true; 2],
    )];
    let cleat = angle(60.0, 6.0, 8.0);
    for (k, chord) in PURLINS.into_iter().enumerate() {
        let f = hung(bay, foot, chord);
        let inward = if left { 1.0 } else { -1.0 };
        let heel = P3::new(at + 20.0 * inward, f.at.y, f.at.z) - f.along * 25.0;
        // read from 30 mm over the rib's middle down to 30 mm under it
        let start = Frame {
            at: heel - f.height * 30.0,
            width: V3::x() * inward,
            height: -f.along,
            along: f.height,
        };
        let line = Path::straight(start, 60.0);
        let bolts = [
            (0, 16.0, 40.0, 9.0),
            (1, 30.0 - CLEAT_HOLE[1], -CLEAT_HOLE[0] - 25.0, 14.0),
        ];
        let bolts = bolts.map(|(wall, station, across, diameter)| Drilled {
            wall,
            station,
            across,
            diameter,
        });
        out.push(sweep(
            &format!("cleat {side} {}", k + 1),
            &cleat,
            &line,
            [&|_| 0.0, &|_| 60.0],
            &bolts,
            [true; 2],
        ));
    }
    out
}

fn truth(seed: u64, bay: &Bay) -> Value {
    let arc = bay.radius * RIB_ANGLE.to_radians();
    let roof_mid = bay.radius + RIB_HALF + 1.5;
    json!({
        "seed": seed,
        "source": "Drawn for this project by examples/demo; every number is a size of the drawing or follows from them.",
        "parts": [
            {"name": "rib", "class": "rolled_member", "quantity": 1, "opposite_hand": 1, "stock": "80 x 40 x 3",
             "length": bay.straight[0] + arc + bay.straight[1], "radius": bay.radius, "angle": RIB_ANGLE,
             "straights": bay.straight, "end_cuts": [[0.0], [20.0, 50.0]],
             "holes": [{"diameter": 14.0, "count": 3}, {"diameter": 7.0, "count": 4}]},
            {"name": "post", "class": "straight_member", "quantity": 2, "opposite_hand": 0, "stock": "80 x 80 x 4",
             "length": bay.post, "end_cuts": [[0.0], [0.0]], "holes": []},
            {"name": "purlin", "class": "straight_member", "quantity": 3, "opposite_hand": 0, "stock": "50 x 50 x 3",
             "length": bay.width - 40.0, "end_cuts": [[0.0], [0.0]], "holes": [{"diameter": 9.0, "count": 2}]},
            {"name": "leaning rail", "class": "straight_member", "quantity": 1, "opposite_hand": 0, "stock": "42.4 x 3",
             "length": bay.width - 80.0, "end_cuts": [[0.0], [0.0]], "holes": []},
            {"name": "cleat", "class": "straight_member", "quantity": 3, "opposite_hand": 3, "stock": "60 x 60 x 6",
             "length": 60.0, "end_cuts": [[0.0], [0.0]],
             "holes": [{"diameter": 9.0, "count": 1}, {"diameter": 14.0, "count": 1}]},
            {"name": "roof", "class": "rolled_plate", "quantity": 1, "opposite_hand": 0, "thickness": 3.0,
             "inside_radius": bay.radius + RIB_HALF, "angle": RIB_ANGLE,
             "flat": [(roof_mid * RIB_ANGLE.to_radians()).max(bay.width + 200.0), (roof_mid * RIB_ANGLE.to_radians()).min(bay.width + 200.0)],
             "holes": [{"diameter": 7.0, "count": 8}]},
            {"name": "base plate", "class": "flat_plate", "quantity": 2, "opposite_hand": 0, "thickness": 12.0,
             "flat": [240.0, 160.0], "holes": [{"diameter": 18.0, "count": 4}]},
            {"name": "shim", "class": "flat_plate", "quantity": 2, "opposite_hand": 0, "thickness": 5.0,
             "flat": [240.0, 160.0], "holes": [{"diameter": 18.0, "count": 4}]},
            {"name": "head plate", "class": "flat_plate", "quantity": 4, "opposite_hand": 0, "thickness": 10.0,
             "flat": [140.0, 140.0], "holes": [{"diameter": 14.0, "count": 4}]},
            {"name": "gusset", "class": "flat_plate", "quantity": 4, "opposite_hand": 0, "thickness": 8.0,
             "flat": [120.0, 60.0], "holes": []}
        ],
        "joints": [
            {"parts": ["shim", "base plate"], "diameter": 18.0, "grip": 17.0, "count": 8},
            {"parts": ["head plate", "rib foot"], "diameter": 14.0, "grip": 20.0, "count": 8},
            {"parts": ["rib", "cleat"], "diameter": 14.0, "grip": 9.0, "count": 6},
            {"parts": ["purlin", "cleat"], "diameter": 9.0, "grip": 9.0, "count": 6},
            {"parts": ["rib", "roof"], "diameter": 7.0, "grip": 6.0, "count": 8}
        ],
        "notes": "The left post and its base plate are one solid. The roof lies on the ribs; the purlins' tops stay 1 mm under it in the middle."
    })
}
