//! OBJ: with some vertices for faces to name, and as it comes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use soapstone::read::{fault, read};

fuzz_target!(|bytes: &[u8]| {
    let head = "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nv 1 1 0\nv 1 0 0\nv 1 1 1\n";
    let text = [head.as_bytes(), bytes].concat();
    for bytes in [bytes, &text] {
        if let Ok((soup, _)) = read(bytes, "a.obj") {
            assert_eq!(fault(&soup), None);
        }
    }
});
