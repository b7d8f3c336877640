//! Design values against the report.

use std::collections::BTreeMap;

use serde_json::Value;

use super::Case;

/// What became of one kind of number.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub given: usize,
    pub inside: usize,
    pub missing: usize,
    /// Values that are off by more than a shop's tolerance and that ± doesn't admit.
    pub wrong: usize,
    /// The middle of |off| / ± over all is the (len/2)th when sorted.
    pub shares: Vec<f64>,
    /// Largest |off| / ± with the seed.
    pub worst: (f64, u64),
}

#[derive(Default)]
pub struct Tallies(pub BTreeMap<&'static str, Tally>);

impl Tallies {
    fn add(&mut self, kind: &'static str, seed: u64, design: f64, reported: &Value) {
        let tally = self.0.entry(kind).or_default();
        let (Some(value), Some(pm)) = (reported["value"].as_f64(), reported["plus_minus"].as_f64())
        else {
            tally.missing += 1;
            return;
        };
        let off = (value - design).abs();
        // Design values are exact to the last digits of a double only.
        let share = (off - 1e-12 * design.abs()).max(0.0) / pm.max(1e-12);
        tally.given += 1;
        tally.inside += usize::from(share <= 1.0);
        tally.wrong += usize::from(share > 1.0 && off > 0.05 + 1e-4 * design.abs());
        tally.shares.push(share);
        if share > tally.worst.0 {
            tally.worst = (share, seed);
        }
        if share > 1.0 && std::env::var_os("SOAPSTONE_CALIBRATE_SHOW").is_some() {
            println!("seed {seed}: {kind} drawn {design}, reported {value} ± {pm}");
        }
    }

    pub fn merge(&mut self, other: Tallies) {
        for (kind, t) in other.0 {
            let own = self.0.entry(kind).or_default();
            own.given += t.given;
            own.inside += t.inside;
            own.missing += t.missing;
            own.wrong += t.wrong;
            own.shares.extend(t.shares);
            if t.worst.0 > own.worst.0 {
                own.worst = t.worst;
            }
        }
    }

    /// Enters every number of a case; an unrecognised one counts as missing altogether.
    pub fn enter(&mut self, case: &Case, seed: u64, report: &Value) {
        let part = &report["parts"][0];
        match case {
            Case::Member { .. } => self.member(case, seed, &part["member"]),
            Case::Plate {
                numbers,
                holes,
                size,
                ..
            } => {
                let plate = &part["plate"];
                for (kind, place, design) in numbers {
                    self.add(
                        kind,
                        seed,
                        *design,
                        plate.pointer(place).unwrap_or(&Value::Null),
                    );
                }
                self.holes(seed, holes, size, &plate["holes"]);
            }
        }
    }

    fn holes(&mut self, seed: u64, holes: &[[f64; 3]], size: &[f64; 2], reported: &Value) {
        let listed: Vec<&Value> = reported.as_array().into_iter().flatten().collect();
        let value = |q: &Value| q["value"].as_f64().unwrap_or(f64::NAN);
        // Any corner may be the origin: take the one that brings the holes nearest.
        let turned = |corner: usize, h: &[f64; 3]| {
            let x = if corner & 1 == 0 {
                h[1]
            } else {
                size[0] - h[1]
            };
            let y = if corner & 2 == 0 {
                h[2]
            } else {
                size[1] - h[2]
            };
            [x, y]
        };
        let nearest = |corner: usize, h: &[f64; 3]| {
            let [x, y] = turned(corner, h);
            let off = |q: &&&Value| (value(&q["x"]) - x).hypot(value(&q["y"]) - y);
            (listed.iter())
                .min_by(|a, b| off(a).total_cmp(&off(b)))
                .map(|q| (off(&q), *q))
        };
        let total = |corner: usize| -> f64 {
            holes
                .iter()
                .map(|h| nearest(corner, h).map_or(1e9, |n| n.0))
                .sum()
        };
        let corner = (0..4)
            .min_by(|a, b| total(*a).total_cmp(&total(*b)))
            .unwrap_or(0);
        for h in holes {
            let found = nearest(corner, h).map_or(&Value::Null, |n| n.1);
            let [x, y] = turned(corner, h);
            self.add("hole diameter", seed, h[0], &found["diameter"]);
            self.add("hole place", seed, x, &found["x"]);
            self.add("hole place", seed, y, &found["y"]);
        }
    }

    fn member(&mut self, case: &Case, seed: u64, member: &Value) {
        let Case::Member {
            sizes,
            area,
            length,
            chord,
            spans,
            off,
            bent,
            ..
        } = case
        else {
            return;
        };
        let section = &member["section"];
        let design = |name: &str| sizes.iter().find(|s| s.0 == name).map(|s| s.1);
        // A straight piece is wider than high; an angle's width is its longer leg.
        let listed = section["shape"].as_str().unwrap_or("");
        let turned = !bent && !matches!(listed, "channel") && design("width") < design("height");
        for (name, size) in sizes {
            let kind = match *name {
                "corner_radius" | "inner_corner_radius" => "corner radius",
                "wall" => "wall",
                _ => "outside size",
            };
            let name = match *name {
                "width" if turned => "height",
                "height" if turned => "width",
                name => name,
            };
            self.add(kind, seed, *size, &section[name]);
        }
        self.add("section area", seed, *area, &section["area"]);
        self.add("length", seed, *length, &member["centreline"]["length"]);
        self.add("chord", seed, *chord, &member["centreline"]["chord"]);
        let listed: Vec<&Value> = member["spans"].as_array().into_iter().flatten().collect();
        let value = |q: &Value| q["value"].as_f64().unwrap_or(f64::NAN);
        let ends: Vec<&Value> = member["ends"].as_array().into_iter().flatten().collect();
        let cut = |end: usize| {
            ends.get(end)
                .map_or(&Value::Null, |e| &e["cuts"][0]["off_square"])
        };
        let apart = |back: bool| {
            let n = listed.len();
            let along = spans.iter().enumerate().map(|(i, s)| {
                let k = if back { n.wrapping_sub(1 + i) } else { i };
                listed
                    .get(k)
                    .map_or(1e9, |q| (value(&q["length"]) - s.0).abs())
            });
            let across = (0..2).map(|e| (value(cut(if back { 1 - e } else { e })) - off[e]).abs());
            // What is missing speaks for neither way.
            along.chain(across).filter(|d| d.is_finite()).sum::<f64>()
        };
        let back = apart(true) < apart(false);
        let same = listed.len() == spans.len();
        for (i, (length, arc)) in spans.iter().enumerate() {
            let k = if back {
                listed.len().wrapping_sub(1 + i)
            } else {
                i
            };
            let span = listed
                .get(k)
                .filter(|_| same)
                .copied()
                .unwrap_or(&Value::Null);
            self.add("span length", seed, *length, &span["length"]);
            if let Some((radius, angle)) = arc {
                self.add("arc radius", seed, *radius, &span["radius"]);
                self.add("arc angle", seed, *angle, &span["angle"]);
            }
        }
        for end in 0..2 {
            self.add(
                "cut off square",
                seed,
                off[end],
                cut(if back { 1 - end } else { end }),
            );
        }
    }

    pub fn table(&self) -> String {
        let mut out = String::from(
            "| number | given | inside ± % | missing | wrong | middle of off/± | worst off/± |\n|---|---|---|---|---|---|---|\n",
        );
        for (kind, t) in &self.0 {
            let mut shares = t.shares.clone();
            shares.sort_by(f64::total_cmp);
            let middle = shares.get(shares.len() / 2).copied().unwrap_or(f64::NAN);
            out += &format!(
                "| {kind} | {} | {:.1} | {} | {} | {middle:.2} | {:.1} (seed {}) |\n",
                t.given,
                100.0 * t.inside as f64 / (t.given.max(1)) as f64,
                t.missing,
                t.wrong,
                t.worst.0,
                t.worst.1
            );
        }
        out
    }
}
