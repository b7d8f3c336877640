//! The drawing of the demo models, shared with the example that writes them.
#![allow(dead_code)]

#[path = "../../examples/demo/bridge.rs"]
pub mod bridge;
#[path = "../../examples/demo/canopy.rs"]
pub mod canopy;
#[path = "../../examples/demo/plate.rs"]
pub mod plate;
#[path = "../../examples/demo/section.rs"]
pub mod section;
#[path = "../../examples/demo/sizes.rs"]
pub mod sizes;
#[path = "../../examples/demo/solid.rs"]
pub mod solid;
#[path = "../../examples/demo/sweep.rs"]
pub mod sweep;
#[path = "../../examples/demo/write.rs"]
pub mod write;
