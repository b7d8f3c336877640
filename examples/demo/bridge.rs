//! A footbridge: x along it, y across, z up from the middle of the stringers.

use serde_json::{Value, json};

use super::canopy::Model;
use super::plate::{Hole, plate, rectangle};
use super::section::{P2, angle, channel, folded, round, tube};
use super::sizes::Bridge;
use super::solid::{P3, Solid, V3};
use super::sweep::{Drilled, Frame, Path, sweep};

fn frame(at: [f64; 3], width: V3, height: V3) -> Frame {
    Frame {
        at: P3::from(at),
        width,
        height,
        along: width.cross(&height),
    }
}

/// Between the two deck plates.
const DECK_GAP: f64 = 4.0;
/// A brace stops so far from the stringer at one end, for the weld.
const ROOT: f64 = 2.0;

pub fn bridge(seed: u64) -> Model {
    let b = Bridge::of(seed);
    let beams: Vec<f64> = (0..5)
        .map(|k| 200.0 + (b.length - 400.0) * f64::from(k) / 4.0)
        .collect();
    let posts: Vec<f64> = (0..4)
        .map(|k| 700.0 + (b.length - 1400.0) * f64::from(k) / 3.0)
        .collect();
    let mut solids = stringers(&b, &beams, &posts);
    solids.extend(cross_beams(&b, &beams));
    solids.extend(deck(&b, &beams));
    solids.extend(braces(&b, &beams));
    for side in [-1.0, 1.0] {
        solids.extend(railing(&b, &posts, side));
    }
    Model {
        solids,
        truth: truth(seed, &b, &beams),
    }
}

fn label(side: f64) -> &'static str {
    if side < 0.0 { "right" } else { "left" }
}

fn stringers(b: &Bridge, beams: &[f64], posts: &[f64]) -> Vec<Solid> {
    let section = channel(160.0, 70.0, 5.5, 9.5, 12.0);
    let make = |side: f64| {
        let from = if side > 0.0 { 0.0 } else { b.length };
        let start = frame([from, side * b.width / 2.0, 0.0], V3::y() * side, V3::z());
        let station = |x: f64| if side > 0.0 { x } else { b.length - x };
        let mut holes: Vec<Drilled> = beams
            .iter()
            .flat_map(|&x| [x - 48.0, x + 48.0])
            .map(|x| Drilled {
                wall: 0,
                station: station(x),
                across: 20.0,
                diameter: 18.0,
            })
            .collect();
        let feet = posts.iter().copied().chain([60.0, b.length - 60.0]);
        holes.extend(feet.flat_map(|x| [x - 35.0, x + 35.0]).map(|x| Drilled {
            wall: 1,
            station: station(x),
            across: 35.0,
            diameter: 14.0,
        }));
        let line = Path::straight(start, b.length);
        sweep(
            &format!("stringer {}", label(side)),
            &section,
            &line,
            [&|_| 0.0, &|_| b.length],
            &holes,
            [true; 2],
        )
    };
    vec![make(1.0), make(-1.0)]
}

/// Where the deck is screwed to beam `k`: middle of the hole from the beam's middle.
fn screws(k: usize) -> &'static [f64] {
    if k == 2 { &[-12.0, 12.0] } else { &[0.0] }
}

fn cross_beams(b: &Bridge, beams: &[f64]) -> Vec<Solid> {
    let section = tube(50.0, 100.0, 4.0, [8.0, 4.0], &[]);
    let length = b.width - 16.0;
    let mut out = Vec::new();
    for (k, &x) in beams.iter().enumerate() {
        let start = frame([x, length / 2.0, 30.0], V3::x(), V3::z());
        let holes: Vec<Drilled> = screws(k)
            .iter()
            .flat_map(|&across| [-1.0, 1.0].map(|side| (across, side)))
            .map(|(across, side)| Drilled {
                wall: 1,
                station: length / 2.0 - side * length / 4.0,
                across,
                diameter: 9.0,
            })
            .collect();
        let line = Path::straight(start, length);
        out.push(sweep(
            &format!("cross beam {}", k + 1),
            &section,
            &line,
            [&|_| 0.0, &|_| length],
            &holes,
            [true; 2],
        ));
        for side in [-1.0, 1.0] {
            let place = Frame {
                at: P3::new(x, side * (b.width / 2.0 - 8.0), 20.0),
                width: V3::x(),
                height: V3::z(),
                along: V3::y() * side,
            };
            let holes = [(-48.0, 0.0, 18.0), (48.0, 0.0, 18.0)];
            out.push(plate(
                &format!("end plate {} {}", k + 1, label(side)),
                &rectangle(130.0, 120.0),
                &holes,
                8.0,
                &place,
                &[],
            ));
        }
    }
    out
}

/// Stations of the kerb's bolts from its middle, in lengths of the kerb.
const KERB_BOLTS: [f64; 3] = [-0.4, 0.0, 0.4];

fn deck(b: &Bridge, beams: &[f64]) -> Vec<Solid> {
    let length = deck_length(b);
    let width = b.width - 10.0;
    let quarter = (b.width - 16.0) / 4.0;
    let kerb = folded(50.0, 100.0, 4.0, 4.0);
    let mut out = Vec::new();
    for (n, middle) in [5.0 + length / 2.0, b.length - 5.0 - length / 2.0]
        .into_iter()
        .enumerate()
    {
        let inside = |x: &f64| (x - middle).abs() < length / 2.0;
        let mut holes: Vec<Hole> = Vec::new();
        for (k, &beam) in beams.iter().enumerate() {
            for x in screws(k).iter().map(|s| beam + s).filter(inside) {
                holes.extend([-1.0, 1.0].map(|side| (x - middle, side * quarter, 9.0)));
            }
        }
        for at in KERB_BOLTS {
            holes.extend([-1.0, 1.0].map(|side| (at * length, side * (width / 2.0 - 30.0), 9.0)));
        }
        let level = frame([middle, 0.0, 80.0], V3::x(), V3::y());
        out.push(plate(
            &format!("deck {}", n + 1),
            &rectangle(length, width),
            &holes,
            5.0,
            &level,
            &[],
        ));
        for side in [-1.0, 1.0] {
            let from = middle + side * length / 2.0;
            let start = frame([from, side * width / 2.0, 85.0], V3::y() * -side, V3::z());
            let bolts = KERB_BOLTS.map(|at| Drilled {
                wall: 0,
                station: (at + 0.5) * length,
                across: 30.0,
                diameter: 9.0,
            });
            let line = Path::straight(start, length);
            out.push(sweep(
                &format!("kerb {} {}", n + 1, label(side)),
                &kerb,
                &line,
                [&|_| 0.0, &|_| length],
                &bolts,
                [true; 2],
            ));
        }
    }
    out
}

fn deck_length(b: &Bridge) -> f64 {
    (b.length - 10.0 - DECK_GAP) / 2.0
}

/// Run of a brace along the bridge, of the heel's line between the webs.
fn brace_run(beams: &[f64]) -> f64 {
    beams[1] - beams[0] - 300.0
}

fn braces(b: &Bridge, beams: &[f64]) -> Vec<Solid> {
    let section = angle(50.0, 5.0, 7.0);
    let mut out = Vec::new();
    for k in 0..4 {
        let hand = if k % 2 == 0 { 1.0 } else { -1.0 };
        let middle = (beams[k] + beams[k + 1]) / 2.0;
        let along = V3::new(brace_run(beams) * hand, b.width, 0.0).normalize();
        let start = Frame {
            at: P3::new(
                middle - hand * brace_run(beams) / 2.0,
                -b.width / 2.0,
                -25.0,
            ),
            width: V3::new(along.y, -along.x, 0.0) * hand,
            height: -V3::z(),
            along,
        };
        let line = Path::straight(start, 1.0);
        let cut = |y: f64| move |p: P2| (y - (start.at + start.width * p.x).y) / along.y;
        let (near, far) = (cut(-b.width / 2.0), cut(b.width / 2.0 - ROOT));
        out.push(sweep(
            &format!("brace {}", k + 1),
            &section,
            &line,
            [&near, &far],
            &[],
            [true; 2],
        ));
    }
    out
}

fn railing(b: &Bridge, posts: &[f64], side: f64) -> Vec<Solid> {
    let (rail, thin) = (round(48.3, 3.0), round(42.4, 3.0));
    let y = side * (b.width / 2.0 + 35.0);
    let foot = 88.0;
    let holes = [(-35.0, 0.0, 14.0), (35.0, 0.0, 14.0)];
    let mut out = Vec::new();
    let stand = |x: f64| frame([x, y, foot], V3::x(), V3::y());
    let shoe = |x: f64, name: String| {
        plate(
            &name,
            &rectangle(100.0, 70.0),
            &holes,
            8.0,
            &frame([x, y, 80.0], V3::x(), V3::y()),
            &[],
        )
    };
    for (k, &x) in posts.iter().enumerate() {
        out.push(shoe(x, format!("shoe {} {}", k + 1, label(side))));
        // coped to the handrail, which runs along x
        let saddle = |p: P2| b.rail - (24.15f64.powi(2) - p.y * p.y).sqrt();
        let line = Path::straight(stand(x), b.rail);
        out.push(sweep(
            &format!("post {} {}", k + 1, label(side)),
            &thin,
            &line,
            [&|_| 0.0, &saddle],
            &[],
            [true; 2],
        ));
    }
    for (end, x) in [(1.0, b.length - 60.0), (-1.0, 60.0)] {
        let name = if end > 0.0 { "far" } else { "near" };
        out.push(shoe(x, format!("shoe {name} {}", label(side))));
        let mitre = |p: P2| b.rail + end * p.x;
        let line = Path::straight(stand(x), b.rail);
        out.push(sweep(
            &format!("end post {name} {}", label(side)),
            &rail,
            &line,
            [&|_| 0.0, &mitre],
            &[],
            [true; 2],
        ));
    }
    let length = b.length - 120.0;
    let line = Path::straight(frame([60.0, y, foot + b.rail], V3::y(), V3::z()), length);
    out.push(sweep(
        &format!("handrail {}", label(side)),
        &rail,
        &line,
        [&|p| -p.y, &|p| length + p.y],
        &[],
        [true; 2],
    ));
    out
}

fn truth(seed: u64, b: &Bridge, beams: &[f64]) -> Value {
    let skew = (brace_run(beams) / b.width).atan();
    let beam_length = b.width - 16.0;
    json!({
        "seed": seed,
        "source": "Drawn for this project by examples/demo; every number is a size of the drawing or follows from them.",
        "parts": [
            {"name": "stringer", "class": "straight_member", "quantity": 2, "opposite_hand": 0, "stock": "UPE 160",
             "length": b.length, "end_cuts": [[0.0], [0.0]],
             "holes": [{"diameter": 18.0, "count": 10}, {"diameter": 14.0, "count": 12}]},
            {"name": "cross beam 1", "class": "straight_member", "quantity": 4, "opposite_hand": 0, "stock": "100 x 50 x 4",
             "length": beam_length, "end_cuts": [[0.0], [0.0]], "holes": [{"diameter": 9.0, "count": 2}]},
            {"name": "cross beam 3", "class": "straight_member", "quantity": 1, "opposite_hand": 0, "stock": "100 x 50 x 4",
             "length": beam_length, "end_cuts": [[0.0], [0.0]], "holes": [{"diameter": 9.0, "count": 4}]},
            {"name": "end plate", "class": "flat_plate", "quantity": 10, "opposite_hand": 0, "thickness": 8.0,
             "flat": [130.0, 120.0], "holes": [{"diameter": 18.0, "count": 2}]},
            {"name": "deck", "class": "flat_plate", "quantity": 2, "opposite_hand": 0, "thickness": 5.0,
             "flat": [deck_length(b), b.width - 10.0], "holes": [{"diameter": 9.0, "count": 12}]},
            {"name": "kerb", "class": "bent_plate", "quantity": 4, "opposite_hand": 0, "thickness": 4.0,
             "flanges": [50.0, 100.0], "inside_radius": 4.0, "length": deck_length(b),
             "holes": [{"diameter": 9.0, "count": 3}]},
            {"name": "brace", "class": "straight_member", "quantity": 2, "opposite_hand": 2, "stock": "50 x 50 x 5",
             "length": (b.width - ROOT) / skew.cos(), "end_cuts": [[skew.to_degrees()], [skew.to_degrees()]], "holes": []},
            {"name": "handrail", "class": "straight_member", "quantity": 2, "opposite_hand": 0, "stock": "48.3 x 3",
             "length": b.length - 120.0, "end_cuts": [[45.0], [45.0]], "holes": []},
            {"name": "end post", "class": "straight_member", "quantity": 4, "opposite_hand": 0, "stock": "48.3 x 3",
             "length": b.rail, "end_cuts": [[0.0], [45.0]], "holes": []},
            {"name": "post", "class": "straight_member", "quantity": 8, "opposite_hand": 0, "stock": "42.4 x 3",
             "length": b.rail - 24.15, "saddle": 48.3, "holes": []},
            {"name": "shoe", "class": "flat_plate", "quantity": 12, "opposite_hand": 0, "thickness": 8.0,
             "flat": [100.0, 70.0], "holes": [{"diameter": 14.0, "count": 2}]}
        ],
        "joints": [
            {"parts": ["stringer", "end plate"], "diameter": 18.0, "grip": 13.5, "count": 20},
            {"parts": ["stringer", "shoe"], "diameter": 14.0, "grip": 17.5, "count": 24},
            {"parts": ["deck", "cross beam"], "diameter": 9.0, "grip": 9.0, "count": 12},
            {"parts": ["deck", "kerb"], "diameter": 9.0, "grip": 9.0, "count": 12}
        ],
        "notes": "The deck plates are 4 mm apart over the middle beam. One end of each brace stops 2 mm from the stringer."
    })
}
