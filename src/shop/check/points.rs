//! Points measured along the bend.

use nalgebra::{Point2, Vector2};
use schemars::JsonSchema;
use serde::Serialize;

use super::interval::{K95, half_width};
use super::reading::reasons;
use super::{Answer, Evidence, Tolerance, Verdict, to_centreline, tolerance_of_rise, verdict};
use crate::geometry::Pt3;
use crate::geometry::circle_fit::{CircleFit, fit_circle_with};
use crate::geometry::least_squares::{self, Options};
use crate::geometry::plane_fit::fit_plane;
use crate::geometry::statistics::{SIGMA_PER_MAD, median, student_95};
use crate::measure::{Quantity, Show, Unit, quantity};
use crate::report::{Report, ReportedPart};
use crate::shop::arc::{rise, rise_of};
use crate::shop::columns::Columns;
use crate::shop::curved::{Curve, Side};
use crate::shop::text::{fine, with_unit};
use crate::shop::{Origin, Refused};

/// Points in the order of the file, mm, with their lines in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// Places; z is 0 where the file has two columns.
    pub places: Vec<Pt3>,
    /// Line of each in the file.
    pub lines: Vec<u64>,
    /// True when the file has a third column.
    pub spatial: bool,
}

/// What the fabricator says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Face the points were taken on.
    pub on: Side,
    /// 95 % half-width of one point across the curve, mm; told from the scatter where nothing is said.
    pub error: Option<f64>,
    /// How far off is still good.
    pub tolerance: Tolerance,
    /// Unit of the sentences.
    pub show: Show,
}

/// What the points say. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PointFit {
    /// Points read.
    pub count: usize,
    /// Face they were taken on.
    pub on: Side,
    /// Radius of that face as made.
    pub face_radius: Option<Quantity>,
    /// Straight distance they span.
    pub chord: f64,
    /// Rise as made over that chord.
    pub rise: Quantity,
    /// Rise asked for at that chord.
    pub asked: Quantity,
    /// Root mean square distance from their own circle.
    pub scatter: f64,
    /// Largest distance from their own circle, positive outside.
    pub uneven: f64,
    /// Line of the file where that is.
    pub uneven_line: u64,
    /// Largest distance from the arc asked for, laid on the points as well as it goes; positive outside.
    pub off_asked: f64,
    /// Line of the file where that is.
    pub off_asked_line: u64,
    /// Largest distance from one plane; null where the points have two coordinates.
    pub out_of_plane: Option<f64>,
    /// Points so far off all others that they were left out of the circle.
    pub left_out: usize,
}

/// Most points that are fitted.
const MOST: usize = 1_000_000;

/// Points out of a CSV with columns x, y and perhaps z, or of two or three columns without heads.
pub fn read_points(text: &[u8], bare: Unit) -> Result<Points, Refused> {
    let file = Columns::read(text, &["x", "y", "z"])?;
    let (x, y, z) = (file.need("x")?, file.need("y")?, file.find(&["z"]));
    // Heads given to a file without any may be one more than it has columns.
    let z = z.filter(|z| file.rows.iter().any(|row| !row.text(*z).is_empty()));
    if file.rows.len() > MOST {
        return Err(Refused::new(
            format!("The file has {} points.", file.rows.len()),
            format!("Give at most {MOST}; a cloud of points belongs in --scan, as a mesh."),
        ));
    }
    let mut points = Points {
        places: Vec::with_capacity(file.rows.len()),
        lines: Vec::with_capacity(file.rows.len()),
        spatial: z.is_some(),
    };
    for row in &file.rows {
        let height = z.map_or(Ok(0.0), |z| row.length(z, bare))?;
        points
            .places
            .push(Pt3::new(row.length(x, bare)?, row.length(y, bare)?, height));
        points.lines.push(row.line);
    }
    Ok(points)
}

/// Compares points along one arc with the arc asked for.
pub fn check(
    report: &Report,
    part: &ReportedPart,
    curve: &Curve,
    points: &Points,
    asked: &Asked,
) -> Result<Answer, Refused> {
    if points.places.len() < 3 {
        return Err(Refused::new(
            format!("{} points make no circle.", points.places.len()),
            "Measure at least five, spread along the arc.",
        ));
    }
    let (flat, out_of_plane) = laid_flat(points)?;
    let sigma_given = asked.error.map(|error| error / K95);
    let (fit, wild) = fitted(&flat, sigma_given).ok_or_else(|| {
        Refused::new(
            "The points lie on a straight line: no radius can be told from them.",
            "Check that they were taken along the bend.",
        )
    })?;
    let doubt = Doubt::of(&fit, flat.len() - wild, sigma_given)?;
    let (chord, _) = spanned(&fit, &flat, curve.radius(asked.on).value);
    let face = curve.radius(asked.on);
    let wanted = rise_of(face, chord).ok_or_else(|| {
        Refused::new(
            format!(
                "The points span {}, more than a radius of {} has room for.",
                with_unit(chord, asked.show),
                with_unit(face.value, asked.show)
            ),
            "Check the unit of the points (--points-unit), --on and --arc.",
        )
    })?;
    let made = made_rise(&fit, chord, doubt.half_width_of_curvature(&fit));
    let deviation = quantity(
        made.value - wanted.value,
        made.plus_minus.hypot(wanted.plus_minus),
    );
    let (tolerance, source) = tolerance_of_rise(asked.tolerance, chord, asked.show)?;
    let mut answer = Answer::blank(
        part,
        Evidence::Points,
        Origin::of(report, &[&part.mark]),
        asked.show,
    );
    answer.verdict = verdict(deviation, tolerance);
    answer.deviation = Some(deviation);
    answer.tolerance = Some(tolerance);
    answer.radius_asked = Some(curve.centreline);
    let face_radius = radius_as_made(&fit, &doubt);
    let depth = curve.centreline.plus_minus.max(face.plus_minus);
    answer.radius = face_radius.map(|r| {
        quantity(
            to_centreline(curve, asked.on, r.value),
            r.plus_minus.hypot(depth),
        )
    });
    let (low, high) = doubt.interval(&fit);
    answer.radius_interval =
        Some([Some(low), high].map(|r| r.map(|r| to_centreline(curve, asked.on, r))));
    let (uneven, uneven_at) = farthest(flat.iter().map(|p| fit.distance(p)));
    let (off_asked, off_at) = farthest(on_asked(&fit, &flat, face.value).into_iter());
    let line = |at: usize| points.lines.get(at).copied().unwrap_or(0);
    answer.points = Some(PointFit {
        count: flat.len(),
        on: asked.on,
        face_radius,
        chord,
        rise: made,
        asked: wanted,
        scatter: fit.rms,
        uneven,
        uneven_line: line(uneven_at),
        off_asked,
        off_asked_line: line(off_at),
        out_of_plane,
        left_out: wild,
    });
    answer.reasons = reasons(&answer, deviation, tolerance, asked.show);
    further_reasons(&mut answer, &doubt, asked);
    answer.reasons.extend(source);
    Ok(answer)
}

/// Circle through the points, and how many were left out as wild.
///
/// A point is wild when it lies so far off the circle most points agree on that honest scatter never
/// puts it there: five standard deviations, more where they are judged from few points. Anything milder
/// would cut the tails of honest scatter and make ± too narrow.
fn fitted(points: &[Point2<f64>], sigma: Option<f64>) -> Option<(CircleFit, usize)> {
    let options = |robust| Options {
        robust,
        floor: sigma.unwrap_or(0.0),
        ..Options::default()
    };
    let plain = || fit_circle_with(points, None, &options(false)).map(|fit| (fit, 0));
    let freedom = points.len().saturating_sub(3);
    if freedom < 3 {
        return plain();
    }
    let Some(robust) = fit_circle_with(points, None, &options(true)) else {
        return plain();
    };
    let off: Vec<f64> = points.iter().map(|p| robust.distance(p).abs()).collect();
    let scale = SIGMA_PER_MAD * median(&off)?.max(sigma.unwrap_or(0.0) / SIGMA_PER_MAD);
    let limit = 5.0 * scale * (student_95(freedom) / K95).powi(2);
    let kept: Vec<Point2<f64>> = points
        .iter()
        .zip(&off)
        .filter(|(_, off)| **off <= limit)
        .map(|(p, _)| *p)
        .collect();
    let wild = points.len() - kept.len();
    // Where a third is wild there is no saying which third.
    if wild == 0 || 3 * wild > points.len() {
        return plain();
    }
    fit_circle_with(&kept, None, &options(false)).map(|fit| (fit, wild))
}

/// The points in their own plane, and how far they leave it.
fn laid_flat(points: &Points) -> Result<(Vec<Point2<f64>>, Option<f64>), Refused> {
    if !points.spatial {
        let flat = points
            .places
            .iter()
            .map(|p| Point2::new(p.x, p.y))
            .collect();
        return Ok((flat, None));
    }
    let plane = fit_plane(&points.places, None).ok_or_else(|| {
        Refused::new(
            "The points lie on a straight line: no radius can be told from them.",
            "Check that they were taken along the bend.",
        )
    })?;
    let flat = points
        .places
        .iter()
        .map(|p| {
            let d = p - plane.point;
            Point2::new(d.dot(&plane.axes[0]), d.dot(&plane.axes[1]))
        })
        .collect();
    Ok((flat, Some(plane.largest)))
}

/// Doubt of one point: standard deviation, and the factor of a 95 % interval.
struct Doubt {
    sigma: f64,
    factor: f64,
    by_scatter: bool,
}

impl Doubt {
    /// The stated error, unless the scatter is larger beyond chance; the scatter where none is stated.
    fn of(fit: &CircleFit, count: usize, given: Option<f64>) -> Result<Doubt, Refused> {
        let freedom = count.saturating_sub(3);
        match (given, fit.sigma) {
            (Some(given), Some(seen)) if seen > given * scatter_limit(freedom) => {
                Ok(Doubt::scatter(seen, freedom))
            }
            (Some(given), _) => Ok(Doubt {
                sigma: given,
                factor: K95,
                by_scatter: false,
            }),
            (None, Some(seen)) => Ok(Doubt::scatter(seen, freedom)),
            (None, None) => Err(Refused::new(
                "Three points always lie on a circle, so their error can't be told from them.",
                "Say how well one point is read with --reading, or measure more.",
            )),
        }
    }

    fn scatter(sigma: f64, freedom: usize) -> Doubt {
        Doubt {
            sigma,
            factor: student_95(freedom),
            by_scatter: true,
        }
    }

    /// 95 % half-width of the curvature 1/R.
    fn half_width_of_curvature(&self, fit: &CircleFit) -> f64 {
        self.factor * self.sigma * fit.cofactor[(2, 2)].max(0.0).sqrt() / fit.radius.powi(2)
    }

    /// 95 % interval of the radius.
    fn interval(&self, fit: &CircleFit) -> (f64, Option<f64>) {
        let curvature = 1.0 / fit.radius;
        let u = self.half_width_of_curvature(fit);
        (
            1.0 / (curvature + u),
            (curvature > u).then(|| 1.0 / (curvature - u)),
        )
    }
}

/// Ratio of seen to stated standard deviation that chance exceeds 5 times in 100: root of the χ²
/// point over its freedom (Wilson and Hilferty's cube, 1931, from memory).
fn scatter_limit(freedom: usize) -> f64 {
    let part = 2.0 / (9.0 * freedom.max(1) as f64);
    (1.0 - part + 1.645 * part.sqrt()).powi(3).sqrt()
}

fn radius_as_made(fit: &CircleFit, doubt: &Doubt) -> Option<Quantity> {
    let u = doubt.half_width_of_curvature(fit);
    let curvature = 1.0 / fit.radius;
    if u >= curvature {
        return None;
    }
    let width = half_width(fit.radius, curvature, u, |r| (r > 0.0).then(|| 1.0 / r))?;
    Some(quantity(fit.radius, width))
}

/// Chord and angle (radians) of the arc the points span, the chord kept short of the diameter.
fn spanned(fit: &CircleFit, points: &[Point2<f64>], radius_asked: f64) -> (f64, f64) {
    let middle = points
        .iter()
        .fold(Vector2::zeros(), |sum, p| sum + (p - fit.centre));
    let toward = middle.y.atan2(middle.x);
    let turned = points.iter().map(|p| {
        let d = p - fit.centre;
        let mut angle = d.y.atan2(d.x) - toward;
        while angle > std::f64::consts::PI {
            angle -= std::f64::consts::TAU;
        }
        while angle < -std::f64::consts::PI {
            angle += std::f64::consts::TAU;
        }
        angle
    });
    let (low, high) = turned.fold((0.0_f64, 0.0_f64), |(l, h), a| (l.min(a), h.max(a)));
    let angle = high - low;
    let chord = 2.0 * fit.radius * (angle.min(std::f64::consts::PI) / 2.0).sin();
    // Close to the diameter the rise says nothing more, and may not exist on the other radius.
    let longest = 1.9 * fit.radius.min(radius_asked);
    let chord = if angle > 2.5 {
        chord.min(longest)
    } else {
        chord
    };
    (chord, angle)
}

/// Rise of the fitted circle over a chord, from the doubt of its curvature.
fn made_rise(fit: &CircleFit, chord: f64, curvature_doubt: f64) -> Quantity {
    let radius = fit.radius;
    let value = rise(radius, chord).unwrap_or(chord / 2.0);
    let under = ((radius - chord / 2.0) * (radius + chord / 2.0)).max(1e-12 * radius * radius);
    let slope = 1.0 - radius / under.sqrt();
    quantity(value, slope.abs() * radius * radius * curvature_doubt)
}

/// Distances from the circle with the radius asked for, its centre fitted to the points.
fn on_asked(fit: &CircleFit, points: &[Point2<f64>], radius: f64) -> Vec<f64> {
    let middle = points
        .iter()
        .fold(Vector2::zeros(), |sum, p| sum + (p - fit.centre))
        / points.len() as f64;
    let toward = middle.try_normalize(1e-9).unwrap_or(Vector2::x());
    let start = fit.centre + toward * (fit.radius - radius);
    let distance = |p: &Point2<f64>, c: &[f64]| (p - Point2::new(c[0], c[1])).norm() - radius;
    let solved = least_squares::fit(
        &[start.x, start.y],
        &[radius, radius],
        points.len(),
        None,
        &Options::default(),
        |c, out| {
            for (o, p) in out.iter_mut().zip(points) {
                *o = distance(p, c);
            }
        },
    );
    let centre = solved.map_or(vec![start.x, start.y], |fit| fit.parameters);
    points.iter().map(|p| distance(p, &centre)).collect()
}

/// The value farthest from 0 and its place.
fn farthest(values: impl Iterator<Item = f64>) -> (f64, usize) {
    values
        .enumerate()
        .fold((0.0, 0), |(most, at): (f64, usize), (k, v)| {
            if v.abs() > most.abs() {
                (v, k)
            } else {
                (most, at)
            }
        })
}

fn further_reasons(answer: &mut Answer, doubt: &Doubt, asked: &Asked) {
    let Some(found) = &answer.points else {
        return;
    };
    let show = fine(asked.show);
    let mut reasons = vec![format!(
        "Against the arc asked for, laid on the points as well as it goes, the point of line {} is {} {}.",
        found.off_asked_line,
        with_unit(found.off_asked.abs(), show),
        if found.off_asked > 0.0 {
            "outside"
        } else {
            "inside"
        },
    )];
    let limit = answer.tolerance.unwrap_or(0.0);
    if found.uneven.abs() > limit {
        reasons.push(format!(
            "The bend is uneven: the point of line {} is {} {} the circle through all points, more than the tolerance.",
            found.uneven_line,
            with_unit(found.uneven.abs(), show),
            if found.uneven > 0.0 { "outside" } else { "inside" },
        ));
        if answer.verdict == Verdict::Yes {
            answer.verdict = Verdict::Unclear;
        }
    }
    if let Some(off) = found.out_of_plane.filter(|off| *off > limit) {
        reasons.push(format!(
            "The points leave one plane by up to {}: the piece may be twisted.",
            with_unit(off, show)
        ));
    }
    if found.left_out > 0 {
        reasons.push(format!(
            "Left out of the circle because they lie far off all others: {} of the points. Look at them, and measure there again.",
            found.left_out
        ));
    }
    if asked.error.is_some() && doubt.by_scatter {
        reasons.push(
            "The points scatter more than the error given with --reading; ± was taken from the scatter."
                .to_owned(),
        );
    }
    answer.reasons.extend(reasons);
}
