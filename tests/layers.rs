//! The arrow of the data, kept by reading the source: no stage looks at a later one, and only the
//! command line touches files and the terminal.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// What a module may use. A row per module of the library, in the order of the data.
const MAY_USE: &[(&str, &[&str])] = &[
    ("geometry", &[]),
    ("measure", &[]),
    ("finding", &[]),
    ("read", &["geometry", "measure", "finding"]),
    ("weld", &["geometry", "measure", "finding", "read"]),
    ("body", &["geometry", "measure", "finding", "read", "weld"]),
    (
        "surface",
        &["geometry", "measure", "finding", "read", "weld", "body"],
    ),
    // Members and plates stand side by side; the sizes in the tables are sizes of members.
    (
        "member",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface",
        ],
    ),
    (
        "plate",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface",
        ],
    ),
    ("stock", &["geometry", "measure", "finding", "member"]),
    (
        "part",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface", "member",
            "plate",
        ],
    ),
    (
        "instance",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface", "member",
            "plate", "part",
        ],
    ),
    (
        "report",
        &[
            "measure", "finding", "stock", "read", "member", "plate", "part", "instance",
        ],
    ),
    (
        "analysis",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface", "member",
            "plate", "part", "instance", "report",
        ],
    ),
    (
        "drawing",
        &[
            "geometry", "measure", "finding", "stock", "weld", "body", "surface", "member",
            "plate", "part", "report",
        ],
    ),
    (
        "shop",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "surface", "member",
            "plate", "part", "instance", "report",
        ],
    ),
    (
        "command",
        &[
            "geometry", "measure", "finding", "stock", "read", "weld", "body", "plate", "report",
            "analysis", "drawing", "shop",
        ],
    ),
];

/// Ways to the outside that only `command` and `main` may take.
const OUTSIDE: &[&str] = &[
    "std::fs",
    "std::env",
    "std::net",
    "std::process",
    "println!",
    "print!(",
    "eprint",
    "dbg!",
    "stdout()",
    "stderr()",
    "stdin()",
    "File::",
];

#[test]
fn no_module_looks_ahead() {
    for (path, code) in sources() {
        let module = module_of(&path);
        let Some((_, may_use)) = MAY_USE.iter().find(|(name, _)| *name == module) else {
            continue;
        };
        for used in used_modules(&code) {
            assert!(
                used == module || may_use.contains(&used.as_str()),
                "{} belongs to `{module}` and may not use `{used}`",
                path.display()
            );
        }
    }
}

#[test]
fn every_module_has_its_place() {
    let map = fs::read_to_string(root().join("lib.rs")).expect("src/lib.rs is there");
    let named: BTreeSet<&str> = map
        .lines()
        .filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'))
        .collect();
    let placed: BTreeSet<&str> = MAY_USE.iter().map(|(name, _)| *name).collect();
    assert_eq!(named, placed);
}

#[test]
fn only_the_command_line_touches_the_outside() {
    for (path, code) in sources() {
        if matches!(module_of(&path).as_str(), "command" | "main.rs") {
            continue;
        }
        for way in OUTSIDE {
            assert!(!code.contains(way), "{} uses {way}", path.display());
        }
    }
}

#[test]
fn names_of_used_modules_are_found() {
    let code = "use crate::read::Format;\nuse crate::{weld, body::{Body, x}};\nfn f() { crate::part::g() }";
    let used: Vec<String> = used_modules(code).into_iter().collect();
    assert_eq!(used, ["body", "part", "read", "weld"]);
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

/// First folder (or file) below src.
fn module_of(path: &Path) -> String {
    let inside = path.strip_prefix(root()).expect("a path below src");
    let first = inside.components().next().expect("a file name");
    first.as_os_str().to_string_lossy().into_owned()
}

/// Every source file without comments and without what only tests compile.
fn sources() -> Vec<(PathBuf, String)> {
    let mut files = Vec::new();
    collect(&root(), &mut files);
    assert!(files.len() > 10, "the sources were not found");
    files
}

fn collect(folder: &Path, files: &mut Vec<(PathBuf, String)>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a readable folder")
        .map(|entry| entry.expect("a readable entry").path())
        .collect();
    entries.sort();
    let for_tests = entries
        .iter()
        .filter(|path| path.is_file() && path.extension().is_some_and(|e| e == "rs"))
        .fold(Vec::new(), |mut names, path| {
            names.extend(test_modules(
                &fs::read_to_string(path).expect("readable source"),
            ));
            names
        });
    for path in entries {
        let stem = path
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned());
        if stem.is_some_and(|stem| for_tests.contains(&stem)) {
            continue;
        }
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let text = fs::read_to_string(&path).expect("readable source");
            files.push((path, shipped(&text)));
        }
    }
}

/// Names in `#[cfg(test)] mod name;`.
fn test_modules(text: &str) -> Vec<String> {
    text.split("#[cfg(test)]")
        .skip(1)
        .filter_map(|after| {
            let line = after.trim_start().lines().next()?;
            Some(line.strip_prefix("mod ")?.strip_suffix(';')?.to_owned())
        })
        .collect()
}

/// The code without comments and without its inline test module, which stands last.
fn shipped(text: &str) -> String {
    let end = text.find("#[cfg(test)]\nmod tests {").unwrap_or(text.len());
    let code = text.get(..end).unwrap_or_default();
    let lines = code
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

/// Every `x` of `crate::x` and of `crate::{x, y::…}`.
fn used_modules(code: &str) -> BTreeSet<String> {
    let mut used = BTreeSet::new();
    for after in code.split("crate::").skip(1) {
        match after.strip_prefix('{') {
            None => used.extend(name(after)),
            Some(list) => {
                let mut depth = 0;
                let outer: String = list
                    .chars()
                    .take_while(|c| {
                        depth += i32::from(*c == '{') - i32::from(*c == '}');
                        depth >= 0
                    })
                    .collect();
                used.extend(
                    top_level(&outer)
                        .iter()
                        .filter_map(|item| name(item.trim())),
                );
            }
        }
    }
    used
}

fn name(text: &str) -> Option<String> {
    let name: String = text
        .chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect();
    (!name.is_empty()).then_some(name)
}

/// Splits at the commas that stand in no inner braces.
fn top_level(list: &str) -> Vec<String> {
    let mut items = vec![String::new()];
    let mut depth = 0;
    for c in list.chars() {
        depth += i32::from(c == '{') - i32::from(c == '}');
        match items.last_mut() {
            Some(item) if c != ',' || depth > 0 => item.push(c),
            _ => items.push(String::new()),
        }
    }
    items
}
