//! No table, log or shop file of any content panics or gives a number that is none.
//!
//! `SOAPSTONE_SIDE_SECONDS=3600 cargo test --release --test side_files_any -- --nocapture` goes on for so
//! long and says how many it tried.

mod any_side;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use any_side::Beside;

/// Files that are changed at random, one of every kind.
const SEEDS: [&str; 7] = [
    "thickness,inside radius,K\n1,1,0.33\n2,2,0.4\n3 mm,1/8 in,0.42\n",
    "x,y,z\n0,0,0\n100,12.5,0.1\n200,17,0\n300 mm,12,0\n400,0.2,0\n",
    "setting,reading\n0,1.2\n1,2.4\n2.5,4.1\n4,6\n",
    "reading\n1\n2.1\n2.9\n4\n5 1/16 in\n",
    "# Part M1.\nwhat,asked,unit,measured,reading,tol\nwidth,40.0,mm,40.1,0.1,0.5\nwall,2.5,mm,2.4,,\narc 1 radius,1000,mm,39 3/8 in,1,5\n",
    "x;y\r\n0,5;1\r\n10,25;2,5\r\n20;1,5\r\n",
    soapstone::shop::file::EXAMPLE,
];

const SCRAPS: [&str; 40] = [
    "1e308",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "-0",
    "99999999999999999999",
    "0.0000001",
    "1/0",
    "0/0",
    "-1/8",
    "12 3/4 in",
    "1'2\"",
    "mm",
    "in",
    "\"",
    "\"\"",
    "'",
    "#",
    "\n",
    "\r\n",
    ",",
    ";",
    "\t",
    "=",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "true",
    "kerf",
    "lengths",
    "\u{feff}",
    "\u{0}",
    "\u{fffd}",
    "µ",
    " ",
    "x",
    "reading",
];

fn changed(number: u64) -> Vec<u8> {
    let mut state = number.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut roll = |below: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 16) as usize % below.max(1)
    };
    let mut bytes = SEEDS[roll(SEEDS.len())].as_bytes().to_vec();
    for _ in 0..=roll(8) {
        let at = roll(bytes.len() + 1);
        let end = (at + roll(30)).min(bytes.len());
        match roll(6) {
            0 => drop(bytes.drain(at..end)),
            1 => drop(bytes.splice(at..at, SCRAPS[roll(SCRAPS.len())].bytes())),
            2 => drop(bytes.splice(at..end, SCRAPS[roll(SCRAPS.len())].bytes())),
            3 => {
                let copy = bytes[at..end].to_vec();
                bytes.splice(at..at, copy);
            }
            4 if at < bytes.len() => bytes[at] = roll(256) as u8,
            _ => {
                let digits: Vec<usize> = (0..bytes.len())
                    .filter(|i| bytes[*i].is_ascii_digit())
                    .collect();
                if let Some(i) = digits.get(roll(digits.len())) {
                    bytes[*i] = b'0' + roll(10) as u8;
                }
            }
        }
    }
    bytes
}

#[test]
fn changed_tables() {
    let given = |name: &str| std::env::var(name).ok()?.parse::<u64>().ok();
    let seconds = given("SOAPSTONE_SIDE_SECONDS");
    let first = given("SOAPSTONE_SIDE_FROM").unwrap_or(0);
    let beside = Beside::new();
    let begun = Instant::now();
    let (mut number, mut known, mut found) = (first, 0, Vec::new());
    while seconds.map_or(number < 600, |s| begun.elapsed() < Duration::from_secs(s)) {
        let bytes = changed(number);
        match catch_unwind(AssertUnwindSafe(|| beside.table(&bytes))) {
            Ok(was) => known += u64::from(was),
            Err(_) => {
                println!("file {number}:\n{}", String::from_utf8_lossy(&bytes));
                found.push(number);
            }
        }
        number += 1;
    }
    println!("{} files tried, {known} known", number - first);
    assert!(found.is_empty(), "files {found:?}");
    assert!(known > 0);
}

#[test]
fn bytes_of_any_kind() {
    let beside = Beside::new();
    for length in 0..300_u32 {
        let bytes: Vec<u8> = (0..length)
            .map(|k| (k * 7919 + length * 104_729) as u8)
            .collect();
        beside.table(&bytes);
        beside.program(&bytes);
    }
}
