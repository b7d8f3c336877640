//! A model, from its bytes to everything that is written about it: the bytes as they come under some
//! name, or a model of the fixtures changed as they say.
#![no_main]

#[path = "../../tests/any_model/mod.rs"]
mod any_model;

use std::path::Path;
use std::sync::OnceLock;

use any_model::{Dice, Mesh, changed, models, whole};
use libfuzzer_sys::fuzz_target;

static MODELS: OnceLock<Vec<Mesh>> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else {
        return;
    };
    let unit = [Some(1.0), None, Some(25.4)][usize::from(first >> 3) % 3];
    match first & 7 {
        name @ 0..=3 => {
            whole(
                rest,
                ["a.stl", "a.obj", "a.ply", "a.3mf"][usize::from(name)],
                unit,
            );
        }
        _ => {
            let models = MODELS.get_or_init(|| {
                let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures");
                models(&[fixtures], 60_000)
            });
            whole(&changed(&mut Dice(rest), models).stl(), "a.stl", unit);
        }
    }
});
