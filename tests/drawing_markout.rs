//! Mark-outs against published curves, and by making the piece from its numbers alone.

use std::f64::consts::PI;
use std::fs;
use std::path::Path;

use nalgebra::{Point3, Rotation3, Unit, Vector3};
use soapstone::analysis::{Asked, Examined, examine};
use soapstone::body::Body;
use soapstone::drawing::markout::layout::{Layout, layout};
use soapstone::drawing::markout::saw::{Setting, setting};
use soapstone::drawing::markout::strip::strip;
use soapstone::drawing::walk::{Which, walk};
use soapstone::measure::{STEEL_DENSITY, quantity};
use soapstone::member::{Centreline, Cut, End, EndShape, Member, Saddle, Section, Shape, Span};

fn fixture(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/drawing")
        .join(name)
}

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let mut reader = csv::Reader::from_path(fixture(name)).expect("the fixture");
    reader.records().map(|r| r.expect("a row")).collect()
}

fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].parse().expect("a number")
}

/// A straight round tube along z whose end 1 lies at the origin.
fn tube(diameter: f64, length: f64, end: End) -> Member {
    let q = |v: f64| Some(quantity(v, 0.0));
    let square = End {
        shape: EndShape::Plane,
        point: [0.0, 0.0, -length],
        tangent: [0.0, 0.0, -1.0],
        width_axis: [1.0, 0.0, 0.0],
        height_axis: [0.0, 1.0, 0.0],
        cuts: vec![cut([0.0, 0.0, -1.0], [0.0, 0.0, -length])],
        saddle: None,
        ordinates: Vec::new(),
    };
    Member {
        section: Section {
            shape: Shape::Round,
            diameter: q(diameter),
            width: None,
            height: None,
            wall: q(3.0),
            web_thickness: None,
            flange_thickness: None,
            corner_radius: None,
            inner_corner_radius: None,
            area: None,
            stock: None,
            contours: vec![],
        },
        centreline: Centreline {
            length: q(length),
            chord: q(length),
            rise: None,
            closed: false,
        },
        spans: vec![Span::Straight {
            length: quantity(length, 0.0),
        }],
        ends: vec![square, end],
        longest_edge: None,
        shortest_edge: None,
        twist: None,
        holes: vec![],
    }
}

fn cut(normal: [f64; 3], point: [f64; 3]) -> Cut {
    let n = Vector3::from(normal).normalize();
    let zero = quantity(0.0, 0.0);
    Cut {
        off_square: quantity(n.z.abs().min(1.0).acos().to_degrees(), 0.0),
        tilt_width: zero,
        tilt_height: zero,
        normal: n.into(),
        point,
    }
}

fn end(shape: EndShape, cuts: Vec<Cut>, saddle: Option<Saddle>) -> End {
    End {
        shape,
        point: [0.0; 3],
        tangent: [0.0, 0.0, 1.0],
        width_axis: [1.0, 0.0, 0.0],
        height_axis: [0.0, 1.0, 0.0],
        cuts,
        saddle,
        ordinates: Vec::new(),
    }
}

/// y = r tan a (1 − cos θ), `mitre_pipe_ordinates.csv`.
#[test]
fn a_mitred_pipe_unrolls_as_pattern_drafting_has_it() {
    let rows = rows("mitre_pipe_ordinates.csv");
    assert!(rows.len() > 30);
    for row in rows {
        let (od, angle) = (number(&row, 0), number(&row, 1).to_radians());
        let turned = end(
            EndShape::Plane,
            vec![cut([-angle.tan(), 0.0, 1.0], [0.0; 3])],
            None,
        );
        let member = tube(od, 500.0, turned);
        let walk = walk(&member).expect("a way");
        let strip = strip(
            &member.section,
            &walk,
            Which::Last,
            &member.ends[1],
            0.0,
            20.0,
        )
        .expect("a strip");
        assert!((strip.around - PI * od).abs() < 1e-6);
        // The table starts at the short point, the strip at the long one.
        let theta = number(&row, 3) + 180.0;
        let at = strip.cut[((theta.rem_euclid(360.0)) * 2.0).round() as usize];
        let want = number(&row, 5);
        assert!(
            (at.up - strip.low - want).abs() < 2e-6,
            "{row:?}: {}",
            at.up
        );
    }
}

/// Pipe on pipe, `saddle_ordinates.csv`: header along x, the branch from (cos B, 0, sin B).
#[test]
fn a_coped_pipe_unrolls_as_the_two_cylinders_meet() {
    let rows = rows("saddle_ordinates.csv");
    assert!(rows.len() > 200);
    for row in rows {
        let (header, branch) = (number(&row, 1), number(&row, 2));
        let (b, offset) = (number(&row, 3).to_radians(), number(&row, 4));
        // In the branch's frame: travel towards the header, width along (−sin B, 0, cos B).
        let axis = Vector3::new(-b.sin(), 0.0, -b.cos());
        let saddle = Saddle {
            diameter: quantity(2.0 * header, 0.0),
            angle: quantity(number(&row, 3), 0.0),
            offset: quantity(offset, 0.0),
            point: [0.0, -offset, 0.0],
            axis: axis.into(),
        };
        let mut member = tube(
            2.0 * branch,
            600.0,
            end(EndShape::Saddle, vec![], Some(saddle)),
        );
        // The centreline ends anywhere: here 200 mm before the header's plane.
        member.ends[1].point = [0.0, 0.0, -200.0];
        member.spans = vec![Span::Straight {
            length: quantity(400.0, 0.0),
        }];
        let walk = walk(&member).expect("a way");
        let strip = strip(
            &member.section,
            &walk,
            Which::Last,
            &member.ends[1],
            0.0,
            20.0,
        )
        .expect("a strip");
        let theta = number(&row, 6);
        let at = strip.cut[(theta * 2.0).round() as usize];
        let from_plane = 200.0 - (at.up - strip.to_end);
        let want = number(&row, 8);
        let touching = (offset.abs() + branch - header).abs() < 1e-6 && theta % 90.0 == 0.0;
        let within = if touching { 2e-3 } else { 1e-5 };
        assert!(
            (from_plane - want).abs() < within,
            "{row:?}: {from_plane}, not {want}"
        );
        assert!((at.around - number(&row, 7)).abs() < 1e-5);
    }
}

/// Swing and tilt of a framed corner, "compound mitre" charts of saw manuals: for sides leaning 10°
/// from upright in a frame of four, mitre 44.56 and bevel 7.05.
#[test]
fn saw_settings_agree_with_a_printed_chart() {
    let (mitre, bevel) = (44.561_451_f64.to_radians(), 7.053_022_f64.to_radians());
    let normal = [
        mitre.sin() * bevel.cos(),
        bevel.sin(),
        mitre.cos() * bevel.cos(),
    ];
    let mut member = tube(
        50.0,
        100.0,
        end(EndShape::Plane, vec![cut(normal, [0.0; 3])], None),
    );
    member.section.shape = Shape::Square;
    let end = &member.ends[1];
    let Setting::Compound { swing, tilt } = setting(&member.section, end, &end.cuts[0]) else {
        panic!("no compound setting");
    };
    assert!((swing - 44.561_451).abs() < 1e-6 && (tilt - 7.053_022).abs() < 1e-6);
}

fn model(name: &str) -> Examined {
    let bytes = fs::read(fixture(name)).expect("the fixture");
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    examine(&bytes, name, &asked).expect("a model")
}

/// Puts a point that was set out on a piece of its own (datum square at z = 0, arcs turning about an
/// axis square to z) into the model, by the frame of end 0 alone.
fn set_out(layout: &Layout, member: &Member, spot: [f64; 2], at: f64) -> Point3<f64> {
    let end = &member.ends[0];
    let base = Point3::from(end.point)
        + Vector3::from(end.width_axis) * spot[0]
        + Vector3::from(end.height_axis) * spot[1];
    let travel = -Vector3::from(end.tangent);
    match &member.spans[..] {
        [Span::Straight { .. }] => base + travel * (at - layout.before),
        [
            Span::Arc {
                radius: Some(radius),
                centre,
                axis,
                ..
            },
        ] => {
            // Along its own arc: the angle is the length over the line's own radius.
            let (centre, axis) = (Point3::from(*centre), Vector3::from(*axis));
            let out = base - centre;
            let own = (out - axis * axis.dot(&out)).norm();
            let turn = at / own - layout.before / radius.value;
            centre + Rotation3::from_axis_angle(&Unit::new_normalize(axis), turn) * out
        }
        _ => panic!("a path this test does not make"),
    }
}

/// Distance from a point to the nearest facet edge or corner where two faces meet sharply.
fn to_sharp_edge(body: &Body, p: &Point3<f64>) -> f64 {
    let normal = |f: u32| {
        let [a, b, c] = body.facets[f as usize].map(|v| body.vertices[v as usize]);
        (b - a).cross(&(c - a)).normalize()
    };
    let mut best = f64::INFINITY;
    for (f, facet) in body.facets.iter().enumerate() {
        for k in 0..3 {
            let other = body.neighbours[f][k];
            if other == u32::MAX || normal(f as u32).dot(&normal(other)) > 0.95 {
                continue;
            }
            let (a, b) = (
                body.vertices[facet[k] as usize],
                body.vertices[facet[(k + 1) % 3] as usize],
            );
            let along = (b - a).dot(&(p - a)) / (b - a).norm_squared();
            best = best.min((p - (a + (b - a) * along.clamp(0.0, 1.0))).norm());
        }
    }
    best
}

/// The cut marks, set out from the numbers alone, lie on the edges of the model's ends within what
/// its facets cut off.
#[test]
fn the_piece_made_from_the_numbers_is_the_model() {
    for (name, facets_off) in [
        ("strut_01_t10.stl", 1.0),
        ("beam_01_t02.stl", 0.2),
        ("coped_strut_01_t01.stl", 0.1),
        ("eaves_rib_01_t02.stl", 0.2),
    ] {
        let examined = model(name);
        let part = &examined.report.parts[0];
        let member = part.member.as_ref().expect("a member");
        let layout = layout(member).expect("a layout");
        let body = &examined.bodies[part.body as usize];
        let mut checked = 0;
        for (k, line) in layout.lines.iter().enumerate() {
            for e in [0, 1] {
                let own = layout.cuts.iter().filter(|c| c.end == e);
                let ats = own.filter_map(|c| c.at[k]);
                // What is left of the metal: the first cut met from inside.
                let at = match e {
                    0 => ats.fold(f64::NEG_INFINITY, f64::max),
                    _ => ats.fold(f64::INFINITY, f64::min),
                };
                let p = set_out(&layout, member, line.spot, at);
                let off = to_sharp_edge(body, &p);
                assert!(
                    off < facets_off + 0.1,
                    "{name}, line {}: {off} mm off",
                    line.name
                );
                checked += 1;
            }
        }
        assert!(checked >= 8);
        assert!(
            layout
                .cuts
                .iter()
                .flat_map(|c| &c.at)
                .flatten()
                .all(|at| *at > -0.01)
        );
    }
}

/// A made piece's point: `at` mm from the datum along the line at `spot`, the piece bent stretch by
/// stretch as the report has it, each line on its own arc.
fn made(layout: &Layout, member: &Member, spot: [f64; 2], at: f64) -> Point3<f64> {
    let end = &member.ends[0];
    let mut centre_of_section = Point3::from(end.point);
    let mut here = centre_of_section
        + Vector3::from(end.width_axis) * spot[0]
        + Vector3::from(end.height_axis) * spot[1];
    let mut travel = -Vector3::from(end.tangent);
    let own_over_centreline = |span: &Span, here: &Point3<f64>| match span {
        Span::Arc {
            radius: Some(radius),
            centre,
            axis,
            ..
        } => {
            let (out, axis) = (here - Point3::from(*centre), Vector3::from(*axis));
            (out - axis * axis.dot(&out)).norm() / radius.value
        }
        _ => 1.0,
    };
    let mut left = at - layout.before * own_over_centreline(&member.spans[0], &here);
    for (k, span) in member.spans.iter().enumerate() {
        let last = k + 1 == member.spans.len();
        let ratio = own_over_centreline(span, &here);
        match span {
            Span::Straight { length } => {
                let by = if last { left } else { left.min(length.value) };
                here += travel * by;
                centre_of_section += travel * by;
                left -= by;
            }
            Span::Arc {
                length,
                radius: Some(radius),
                centre,
                axis,
                ..
            } => {
                let whole = length.value * ratio;
                let by = if last { left } else { left.min(whole) };
                let axis = Unit::new_normalize(Vector3::from(*axis));
                let turn = Rotation3::from_axis_angle(&axis, by / ratio / radius.value);
                let about = Point3::from(*centre);
                here = about + turn * (here - about);
                centre_of_section = about + turn * (centre_of_section - about);
                travel = turn * travel;
                left -= by;
            }
            _ => panic!("a path this test does not make"),
        }
        if left <= 0.0 {
            break;
        }
    }
    here
}

/// A cut plane of the design: a point and a unit normal, mm in the file's frame.
type Plane = (Point3<f64>, Vector3<f64>);

/// Cut planes of both ends by the design (`fixtures/corpus/truth.json`), and where the centreline
/// ends.
fn designed(entry: &serde_json::Value) -> [(Point3<f64>, Vec<Plane>); 2] {
    let part = &entry["parts"][0];
    let unit = entry["mm_per_unit"].as_f64().expect("a unit");
    let n = |v: &serde_json::Value| v.as_f64().unwrap_or(0.0);
    let pose = &part["pose"];
    let to_file = |p: Vector3<f64>| {
        let row = |k: usize| {
            (0..3)
                .map(|j| n(&pose["rotation"][k][j]) * p[j])
                .sum::<f64>()
                + n(&pose["translation"][k])
        };
        Vector3::new(row(0), row(1), row(2)) * unit
    };
    let zero = to_file(Vector3::zeros());
    let (mut at, mut t, mut w, mut h) =
        (Vector3::zeros(), Vector3::z(), Vector3::x(), Vector3::y());
    let planes =
        |index: usize, at: Vector3<f64>, out: Vector3<f64>, w: Vector3<f64>, h: Vector3<f64>| {
            let list = part["ends"][index]["planes"].as_array().expect("planes");
            let one = |plane: &serde_json::Value| {
                let tilt = |key: &str| n(&plane[key]).to_radians().tan();
                let normal =
                    out + w * tilt("tilt_in_width_dir_deg") + h * tilt("tilt_in_height_dir_deg");
                let point = at + out * n(&plane["offset_along_tangent"]);
                (
                    Point3::from(to_file(point)),
                    (to_file(normal) - zero).normalize(),
                )
            };
            (Point3::from(to_file(at)), list.iter().map(one).collect())
        };
    let first = planes(0, at, -t, w, h);
    for span in part["spans"].as_array().expect("spans") {
        let length = n(&span["length"]);
        if span["type"] == "straight" {
            at += t * length;
            continue;
        }
        let d = n(&span["bend_direction_deg"]).to_radians();
        let inwards = h * d.cos() - w * d.sin();
        let radius = n(&span["centreline_radius"]);
        let turn = Rotation3::from_axis_angle(
            &Unit::new_normalize(t.cross(&inwards)),
            n(&span["angle_deg"]).to_radians(),
        );
        let centre = at + inwards * radius;
        at = centre + turn * (at - centre);
        (t, w, h) = (turn * t, turn * w, turn * h);
    }
    [first, planes(1, at, t, w, h)]
}

/// The marks of every cut, set out on the piece made from the numbers, lie on the cut planes of the
/// design within 0.1 mm: straight, rolled and bent pieces, both ends, first and second cuts.
#[test]
fn marks_lie_on_the_cuts_of_the_design() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/corpus");
    let text = fs::read_to_string(folder.join("truth.json")).expect("the truth");
    let truth: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let mut pieces = Vec::new();
    for (name, second_cuts) in [
        ("strut_01_t10.stl", 0),
        ("beam_01_t02.stl", 0),
        ("brace_01_p.obj", 0),
        ("post_01_t02.stl", 0),
        ("eaves_rib_01_t02.stl", 1),
        ("hoop_03_sharp_t002.stl", 0),
        ("hook_01_t02.stl", 0),
        ("s_curve_01_t02.stl", 0),
        ("handrail_01_p24.obj", 0),
    ] {
        let entry = truth["models"]
            .as_array()
            .and_then(|m| m.iter().find(|m| m["file"] == name));
        let entry = entry.expect("the model's truth");
        let asked = Asked {
            mm_per_unit: entry["mm_per_unit"].as_f64(),
            density: STEEL_DENSITY,
        };
        let bytes = fs::read(folder.join(name)).expect("the fixture");
        let examined = examine(&bytes, name, &asked).expect("a model");
        let member = examined.report.parts[0].member.as_ref().expect("a member");
        let layout = layout(member).unwrap_or_else(|why| panic!("{name}: {why}"));
        let design = designed(entry);
        let point = Point3::from(member.ends[0].point);
        let turned = (design[1].0 - point).norm() < (design[0].0 - point).norm();
        let mut seconds = 0;
        for marks in &layout.cuts {
            let (_, planes) = &design[if turned { 1 - marks.end } else { marks.end }];
            let off = |plane: &Plane| {
                layout
                    .lines
                    .iter()
                    .zip(&marks.at)
                    .filter_map(|(line, at)| {
                        let p = made(&layout, member, line.spot, (*at)?);
                        Some((p - plane.0).dot(&plane.1).abs())
                    })
                    .fold(0.0, f64::max)
            };
            let least = planes.iter().map(off).fold(f64::INFINITY, f64::min);
            assert!(
                least < 0.1,
                "{name}, end {}, cut {}: {least}",
                marks.end,
                marks.cut
            );
            assert!(marks.at.iter().flatten().count() >= 2, "{name}");
            seconds += usize::from(marks.cut > 1);
        }
        assert_eq!(seconds, second_cuts, "{name}");
        pieces.push(name);
    }
    assert_eq!(pieces.len(), 9);
}

/// A saw that is set as told cuts the model's own plane: the blade's normal built from the setting.
#[test]
fn saw_settings_give_the_cuts_back() {
    for name in ["strut_01_t10.stl", "beam_01_t02.stl"] {
        let examined = model(name);
        let member = examined.report.parts[0].member.as_ref().expect("a member");
        for end in &member.ends {
            let cut = &end.cuts[0];
            let (t, w, h) = (
                Vector3::from(end.tangent),
                Vector3::from(end.width_axis),
                Vector3::from(end.height_axis),
            );
            let normal = match setting(&member.section, end, cut) {
                Setting::Square => t,
                Setting::Compound { swing, tilt } => {
                    let (m, b) = (swing.to_radians(), tilt.to_radians());
                    t * (m.cos() * b.cos()) + w * (m.sin() * b.cos()) + h * b.sin()
                }
                Setting::Turned { swing, long_point } => {
                    let (m, a) = (swing.to_radians(), long_point.to_radians());
                    t * m.cos() - (w * a.cos() + h * a.sin()) * m.sin()
                }
            };
            let off = normal.cross(&Vector3::from(cut.normal)).norm();
            assert!(off < 1e-6, "{name}: {off}");
        }
    }
}
