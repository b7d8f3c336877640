//! Bends and flanges of a folded plate, in order.

use nalgebra::{Point2, Vector2, Vector3};

use super::bend::Bend;
use super::finish::Finished;
use super::hole;
use super::order::compare;
use super::sheet::Sheet;
use super::unfold::Map;
use super::walk::Layout;
use super::{Bend as BendOut, Sense};
use crate::body::Body;
use crate::measure::Quantity;
use crate::surface::Patches;

/// Bends and flanges in order across the plate.
pub(super) fn bends_in_order(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    layout: &Layout,
    finished: &(Finished, Vec<hole::Hole>),
) -> (Vec<BendOut>, Vec<Quantity>) {
    let bends = &layout.bends;
    if bends.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let parallel = bends.iter().all(|b| {
        line_on_flat(layout, b)
            .perp(&line_on_flat(layout, &bends[0]))
            .abs()
            < 2e-3
    });
    let t = sheet.thickness;
    match chain(layout) {
        Some(path) if parallel => {
            let give = |path: &[usize]| -> (Vec<usize>, Vec<Quantity>) {
                let order: Vec<usize> = path
                    .windows(2)
                    .filter_map(|w| {
                        bends.iter().position(|b| {
                            [b.before, b.after] == [w[0], w[1]]
                                || [b.after, b.before] == [w[0], w[1]]
                        })
                    })
                    .collect();
                let flanges = path
                    .iter()
                    .map(|&flat| flange(body, patches, sheet, &ends_at(bends, flat), flat, t))
                    .collect();
                (order, flanges)
            };
            let (one, other) = (
                give(&path),
                give(&path.iter().rev().copied().collect::<Vec<_>>()),
            );
            let key = |r: &(Vec<usize>, Vec<Quantity>)| -> Vec<f64> {
                r.1.iter()
                    .map(|q| q.value)
                    .chain(r.0.iter().map(|&b| bends[b].angle))
                    .collect()
            };
            let same = 8.0 * body.quantum + 1e-6;
            let (order, flanges) = if compare(&key(&other), &key(&one), same).is_lt() {
                other
            } else {
                one
            };
            (
                order
                    .into_iter()
                    .map(|b| give_bend(body, patches, sheet, layout, &bends[b], &finished.0))
                    .collect(),
                flanges,
            )
        }
        _ => {
            // Flanges round a base (the flat with most bends): each bend with the flange it turns up,
            // from left to right.
            let away = away_from_base(patches, sheet, bends);
            let mut list: Vec<(BendOut, Quantity)> = bends
                .iter()
                .zip(away)
                .map(|(b, flat)| {
                    let mut ends = ends_at(bends, flat);
                    ends.sort_by_key(|e| e.0.piece != b.piece);
                    let length = flange(body, patches, sheet, &ends, flat, t);
                    (
                        give_bend(body, patches, sheet, layout, b, &finished.0),
                        length,
                    )
                })
                .collect();
            let amid = |b: &BendOut| {
                [
                    (b.line[0][0] + b.line[1][0]) / 2.0,
                    (b.line[0][1] + b.line[1][1]) / 2.0,
                ]
            };
            list.sort_by(|a, b| {
                amid(&a.0)[0]
                    .total_cmp(&amid(&b.0)[0])
                    .then(amid(&a.0)[1].total_cmp(&amid(&b.0)[1]))
            });
            list.into_iter().unzip()
        }
    }
}

/// Flats in order when they form a chain.
fn chain(layout: &Layout) -> Option<Vec<usize>> {
    let bends = &layout.bends;
    let degree = |flat: usize| {
        bends
            .iter()
            .filter(|b| b.before == flat || b.after == flat)
            .count()
    };
    let mut ends: Vec<usize> = bends
        .iter()
        .flat_map(|b| [b.before, b.after])
        .filter(|&f| degree(f) == 1)
        .collect();
    ends.sort_unstable();
    let mut path = vec![*ends.first()?];
    while path.len() <= bends.len() {
        let here = path[path.len() - 1];
        let next = bends.iter().find_map(|b| {
            let other = if b.before == here {
                b.after
            } else if b.after == here {
                b.before
            } else {
                return None;
            };
            (!path.contains(&other)).then_some(other)
        })?;
        path.push(next);
    }
    path.iter().all(|&f| degree(f) <= 2).then_some(path)
}

/// For each bend the flat on its side away from the base: the flat with most bends, the largest of
/// several.
fn away_from_base(patches: &Patches, sheet: &Sheet, bends: &[Bend]) -> Vec<usize> {
    let count = |flat: usize| {
        bends
            .iter()
            .filter(|b| b.before == flat || b.after == flat)
            .count()
    };
    let area = |flat: usize| patches.list[sheet.elements[flat].front as usize].area;
    let flats = bends.iter().flat_map(|b| [b.before, b.after]);
    let Some(base) = flats.max_by(|&a, &b| {
        count(a)
            .cmp(&count(b))
            .then(area(a).total_cmp(&area(b)))
            .then(b.cmp(&a))
    }) else {
        return Vec::new();
    };
    let mut reached = vec![base];
    let mut away = vec![base; bends.len()];
    let mut next = 0;
    while next < reached.len() {
        let here = reached[next];
        next += 1;
        for (k, b) in bends.iter().enumerate() {
            let other = if b.before == here {
                b.after
            } else if b.after == here {
                b.before
            } else {
                continue;
            };
            if !reached.contains(&other) {
                reached.push(other);
                away[k] = other;
            }
        }
    }
    away
}

/// Bends of a flat, each with the direction in the flat towards it.
fn ends_at(bends: &[Bend], flat: usize) -> Vec<(Bend, Vector3<f64>)> {
    bends
        .iter()
        .filter_map(|b| {
            if b.before == flat {
                Some((*b, b.into))
            } else if b.after == flat {
                Some((*b, -b.out_of))
            } else {
                None
            }
        })
        .collect()
}

/// Length of a flange to the outside mould lines: between two of them, or from one to the far edge.
fn flange(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    bends: &[(Bend, Vector3<f64>)],
    flat: usize,
    t: Quantity,
) -> Quantity {
    // A point of the flat's front from which the mould line is some way on. A sheet folded back on
    // itself has none; the outside of the bend is taken there.
    let mould = |b: &Bend| match b.corner {
        Some(corner) if b.front_outside => (corner, 0.0),
        Some(corner) => (corner, t.value * (b.angle / 2.0).tan()),
        None => (
            if b.before == flat { b.begins } else { b.ends },
            b.inside.value + t.value,
        ),
    };
    // The meeting of the outer faces moves along the flat as their places do, over sin(angle).
    let unsure = |b: &Bend| {
        1.5 * body.quantum * (1.0 + 1.0 / b.angle.sin().abs().max(0.05))
            + b.angle_plus_minus * b.inside.value
    };
    let Some((first, towards)) = bends.first() else {
        return Quantity::new(0.0, f64::INFINITY);
    };
    let opposite = bends.iter().skip(1).find(|(_, d)| d.dot(towards) < -0.999);
    if let Some((second, _)) = opposite {
        let ((p, on), (q, back)) = (mould(first), mould(second));
        return Quantity::new(
            (p - q).dot(towards) + on + back,
            unsure(first) + unsure(second),
        );
    }
    let (point, on) = mould(first);
    let far = patches.list[sheet.elements[flat].front as usize]
        .vertices(body)
        .into_iter()
        .map(|v| (point - body.vertices[v as usize]).dot(towards))
        .fold(0.0, f64::max);
    Quantity::new(far + on, unsure(first) + 1.5 * body.quantum)
}

fn line_on_flat(layout: &Layout, b: &Bend) -> Vector2<f64> {
    match layout.maps[b.piece] {
        Map::Roll(r) => r.v,
        _ => Vector2::zeros(),
    }
}

fn give_bend(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    layout: &Layout,
    b: &Bend,
    finished: &Finished,
) -> BendOut {
    let axes = &finished.axes;
    let line = match layout.maps[b.piece] {
        Map::Roll(r) => {
            let along = patches.list[sheet.elements[b.piece].front as usize]
                .vertices(body)
                .into_iter()
                .map(|v| r.along(&body.vertices[v as usize]));
            let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
                (l.min(x), h.max(x))
            });
            let amid: Point2<f64> = r.base + r.u * (r.neutral * b.angle / 2.0);
            [
                axes.place(&(amid + r.v * low)),
                axes.place(&(amid + r.v * high)),
            ]
        }
        _ => [[0.0; 2]; 2],
    };
    let line = if line[0][0] + line[0][1] <= line[1][0] + line[1][1] {
        line
    } else {
        [line[1], line[0]]
    };
    BendOut {
        angle: Quantity::new(b.angle.to_degrees(), b.angle_plus_minus.to_degrees()),
        inside_radius: b.inside,
        k_factor: b.k_factor,
        k_from: b.k_from,
        // The front as laid out may end face down.
        sense: if b.front_outside == axes.front {
            Sense::Down
        } else {
            Sense::Up
        },
        line,
        point: b.centre.into(),
        axis: b.axis.into(),
    }
}
