//! STL: as text, as facets behind a sound header, and as it comes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use soapstone::read::{fault, read};

fuzz_target!(|bytes: &[u8]| {
    let text = [b"solid\nfacet ".as_slice(), bytes].concat();
    let count = (bytes.len() / 50) as u32;
    let binary = [&[0; 80], count.to_le_bytes().as_slice(), bytes].concat();
    for bytes in [bytes, &text, &binary] {
        if let Ok((soup, _)) = read(bytes, "a.stl") {
            assert_eq!(fault(&soup), None);
        }
    }
});
