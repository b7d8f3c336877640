//! PLY: data behind a sound header in each encoding, a header after the first word, and as it comes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use soapstone::read::{fault, read};

fuzz_target!(|bytes: &[u8]| {
    let mut inputs = vec![bytes.to_vec(), [b"ply\n".as_slice(), bytes].concat()];
    for encoding in ["ascii", "binary_little_endian", "binary_big_endian"] {
        let header = format!(
            "ply\nformat {encoding} 1.0\nelement vertex 4\nproperty float x\nproperty double y\nproperty short z\n\
             property list char uchar w\nelement face 2\nproperty list uchar char vertex_index\nend_header\n"
        );
        inputs.push([header.as_bytes(), bytes].concat());
    }
    for bytes in inputs {
        if let Ok((soup, _)) = read(&bytes, "a.ply") {
            assert_eq!(fault(&soup), None);
        }
    }
});
