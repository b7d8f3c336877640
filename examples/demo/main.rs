//! Draws the demo models: a bay of a bicycle shelter and a footbridge, all parts in their places.
//!
//! `cargo run --example demo` writes `fixtures/demo`. `cargo run --example demo -- FOLDER SEED` writes
//! the same structures in other sizes; seed 0 is the drawn one.

mod bridge;
mod canopy;
mod plate;
mod section;
mod sizes;
mod solid;
mod sweep;
mod write;

use std::path::PathBuf;
use std::{env, fs};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut given = env::args().skip(1);
    let standard = || format!("{}/fixtures/demo", env!("CARGO_MANIFEST_DIR"));
    let folder = PathBuf::from(given.next().unwrap_or_else(standard));
    let seed: u64 = given.next().map_or(Ok(0), |text| text.parse())?;
    fs::create_dir_all(&folder)?;
    let (bay, bridge) = (canopy::canopy(seed), bridge::bridge(seed));
    fs::write(folder.join("canopy_bay.stl"), write::stl(&bay.solids))?;
    fs::write(folder.join("canopy_bay.obj"), write::obj(&bay.solids))?;
    fs::write(folder.join("footbridge.obj"), write::obj(&bridge.solids))?;
    for (name, truth) in [("canopy_bay", bay.truth), ("footbridge", bridge.truth)] {
        let text = serde_json::to_string_pretty(&truth)?;
        fs::write(folder.join(format!("{name}.json")), text + "\n")?;
    }
    Ok(())
}
