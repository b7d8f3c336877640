//! Any bytes under any name.
#![no_main]

use libfuzzer_sys::fuzz_target;
use soapstone::read::{fault, read};

fuzz_target!(|bytes: &[u8]| {
    for name in ["a.stl", "a.obj", "a.ply", "a.3mf", ""] {
        if let Ok((soup, _)) = read(bytes, name) {
            assert_eq!(fault(&soup), None);
        }
    }
});
