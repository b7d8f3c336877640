//! A cutting program, G-code or DXF: as it comes, after a head that switches the tool on, and as the
//! entities of a sound DXF.
#![no_main]

#[path = "../../tests/any_side/mod.rs"]
mod any_side;

use std::sync::OnceLock;

use any_side::Beside;
use libfuzzer_sys::fuzz_target;

static BESIDE: OnceLock<Beside> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    let beside = BESIDE.get_or_init(Beside::new);
    beside.program(bytes);
    beside.program(&[b"G21 G90 M3 G0 X0 Y0\nF100\n".as_slice(), bytes].concat());
    let entities = [
        b"0\nSECTION\n2\nENTITIES\n".as_slice(),
        bytes,
        b"\n0\nENDSEC\n0\nEOF\n",
    ];
    beside.program(&entities.concat());
});
