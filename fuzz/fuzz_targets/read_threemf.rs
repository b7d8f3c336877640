//! 3MF: the bytes as the model part of a sound package, as the content of its resources, and as it comes.
#![no_main]

use std::io::{Cursor, Write};

use libfuzzer_sys::fuzz_target;
use soapstone::read::{fault, read};

fn package(model: &[u8]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    let _ = zip.start_file("3D/3dmodel.model", stored);
    let _ = zip.write_all(model);
    zip.finish().map(Cursor::into_inner).unwrap_or_default()
}

fuzz_target!(|bytes: &[u8]| {
    let inside = [
        b"<model><resources>".as_slice(),
        bytes,
        b"</resources><build><item objectid=\"1\"/></build></model>",
    ]
    .concat();
    for bytes in [bytes.to_vec(), package(bytes), package(&inside)] {
        if let Ok((soup, _)) = read(&bytes, "a.3mf") {
            assert_eq!(fault(&soup), None);
        }
    }
});
