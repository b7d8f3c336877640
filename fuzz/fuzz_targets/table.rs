//! Files filled in by hand: K-factors, points, readings, a rolling log, the shop file.
#![no_main]

#[path = "../../tests/any_side/mod.rs"]
mod any_side;

use std::sync::OnceLock;

use any_side::Beside;
use libfuzzer_sys::fuzz_target;

static BESIDE: OnceLock<Beside> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    BESIDE.get_or_init(Beside::new).table(bytes);
});
