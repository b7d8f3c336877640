//! The section of a member from its sizes; its printed corners only say how it lies.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{Point2, Vector2};
use serde_json::Value;

use super::contour::{Edge, Region, circle, polygon};
use super::json;

/// The section in its own axes and what had to be read off its printed corners, or why it can't be drawn.
pub fn section(value: &Value) -> Result<(Region, Option<String>), String> {
    drawn(value).map(|region| (region, None)).or_else(|why| {
        let rings: Vec<Vec<Edge>> = corners(value).iter().map(|c| polygon(c)).collect();
        if rings.is_empty() {
            return Err(why);
        }
        let named = value["shape"] != "other";
        Ok((Region::new(&rings), named.then_some(why)))
    })
}

/// From its sizes alone.
fn drawn(value: &Value) -> Result<Region, String> {
    let size = |name: &str| json::number(&value[name]);
    let need = |name: &str| size(name).ok_or(format!("section has no {name}"));
    let shape = value["shape"].as_str().unwrap_or("");
    let mut contours = match shape {
        "round" | "round_bar" => vec![circle(Point2::origin(), need("diameter")? / 2.0)],
        "square" | "rect" | "square_bar" | "flat_bar" => vec![rounded(
            need("width")?,
            need("height")?,
            size("corner_radius").unwrap_or(0.0),
        )],
        "angle" => {
            let (w, h, t) = (need("width")?, need("height")?, need("wall")?);
            let r = size("inner_corner_radius").unwrap_or(0.0);
            let heel = size("corner_radius").unwrap_or(0.0);
            return placed(vec![angle(w, h, t, r, heel)], value);
        }
        "channel" => {
            let (w, h, t) = (need("width")?, need("height")?, need("wall")?);
            let r = size("inner_corner_radius").unwrap_or(0.0);
            return placed(vec![channel(w, h, t, r)], value);
        }
        _ => return Err("section has neither sizes nor an outline".into()),
    };
    if let Some(wall) = size("wall") {
        match shape {
            "round" => contours.push(circle(Point2::origin(), need("diameter")? / 2.0 - wall)),
            "square" | "rect" => contours.push(rounded(
                need("width")? - 2.0 * wall,
                need("height")? - 2.0 * wall,
                size("inner_corner_radius").unwrap_or(0.0),
            )),
            _ => {}
        }
    }
    Ok(Region::new(&contours))
}

fn corners(value: &Value) -> Vec<Vec<Point2<f64>>> {
    (json::list(&value["contours"]).iter())
        .map(|c| json::list(c).iter().filter_map(json::flat).collect())
        .collect()
}

/// A rectangle about the origin with round corners.
fn rounded(w: f64, h: f64, r: f64) -> Vec<Edge> {
    let (a, b) = (w / 2.0 - r, h / 2.0 - r);
    let mut out = Vec::new();
    for (k, (x, y)) in [(a, -b), (a, b), (-a, b), (-a, -b)].into_iter().enumerate() {
        let from = (k as f64 - 1.0) * FRAC_PI_2;
        let (centre, before) = (Point2::new(x, y), Vector2::new(from.cos(), from.sin()));
        let after = Vector2::new(-before.y, before.x);
        if r > 0.0 {
            out.push(Edge::Arc(centre, r, from, FRAC_PI_2));
        }
        let side = if k % 2 == 0 { 2.0 * b } else { 2.0 * a };
        let start = centre + after * r;
        out.push(Edge::Line(start, start - before * side));
    }
    out
}

/// An inner corner: an arc that runs clockwise about `centre`.
fn root(out: &mut Vec<Edge>, centre: Point2<f64>, r: f64, from: f64) {
    if r > 0.0 {
        out.push(Edge::Arc(centre, r, from, -FRAC_PI_2));
    }
}

/// Legs along +x and +y, heel at the origin, round by `heel`.
fn angle(w: f64, h: f64, t: f64, r: f64, heel: f64) -> Vec<Edge> {
    let p = Point2::new;
    let mut out = polygon(&[p(heel, 0.0), p(w, 0.0), p(w, t), p(t + r, t)]);
    out.pop();
    root(&mut out, p(t + r, t + r), r, -FRAC_PI_2);
    let rest = polygon(&[p(t, t + r), p(t, h), p(0.0, h), p(0.0, heel)]);
    out.extend(&rest[..3]);
    if heel > 0.0 {
        out.push(Edge::Arc(p(heel, heel), heel, 2.0 * FRAC_PI_2, FRAC_PI_2));
    }
    out
}

/// Web along +y at the origin, flanges along +x.
fn channel(w: f64, h: f64, t: f64, r: f64) -> Vec<Edge> {
    let p = Point2::new;
    let mut out = polygon(&[p(0.0, 0.0), p(w, 0.0), p(w, t), p(t + r, t)]);
    out.pop();
    root(&mut out, p(t + r, t + r), r, -FRAC_PI_2);
    out.push(Edge::Line(p(t, t + r), p(t, h - t - r)));
    root(&mut out, p(t + r, h - t - r), r, 2.0 * FRAC_PI_2);
    let rest = polygon(&[
        p(t + r, h - t),
        p(w, h - t),
        p(w, h),
        p(0.0, h),
        p(0.0, 0.0),
    ]);
    out.extend(&rest[..4]);
    out
}

/// Moves the centroid to the origin and turns the legs the way the printed corners lie.
fn placed(contour: Vec<Vec<Edge>>, value: &Value) -> Result<Region, String> {
    let centre = Region::new(&contour).centroid();
    let shown: Vec<Point2<f64>> = corners(value).concat();
    let best = [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)]
        .into_iter()
        .map(|(sx, sy)| {
            let flip = |p: Point2<f64>| Point2::new(sx * (p.x - centre.x), sy * (p.y - centre.y));
            let turned: Vec<Edge> = (contour[0].iter())
                .map(|e| match *e {
                    Edge::Line(a, b) => Edge::Line(flip(a), flip(b)),
                    Edge::Arc(c, r, from, turn) => {
                        let d = Vector2::new(sx * from.cos(), sy * from.sin());
                        Edge::Arc(flip(c), r, d.y.atan2(d.x), sx * sy * turn)
                    }
                })
                .collect();
            let region = Region::new(&[turned]);
            let off = shown
                .iter()
                .fold(0.0f64, |d, p| d.max(region.signed(p).abs()));
            (off, region)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0));
    best.map(|(_, region)| region)
        .ok_or_else(|| "no section".into())
}
