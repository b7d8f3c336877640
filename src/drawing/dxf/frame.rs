//! What stands around the entities: unit, layers, and in DXF 2000 the tables and blocks without
//! which its readers refuse a file.

use super::{Edition, Pairs};
use crate::drawing::bulge;
use crate::drawing::scene::{Place, Purpose, Scene};
use crate::measure::Unit;

/// Everything before the first entity.
pub fn before(out: &mut Pairs, scene: &Scene) {
    header(out, scene);
    if out.new_edition() {
        section(out, "CLASSES");
        out.word(0, "ENDSEC");
    }
    section(out, "TABLES");
    let used: Vec<&str> = Purpose::ALL
        .into_iter()
        .filter(|p| scene.items.iter().any(|item| item.purpose == *p))
        .map(Purpose::name)
        .collect();
    match out.form.edition {
        Edition::R12 => {
            line_types(out);
            layers(out, &used);
            styles(out);
        }
        Edition::Y2000 => {
            table(out, "VPORT", "8", 0);
            end_table(out);
            line_types(out);
            layers(out, &used);
            styles(out);
            for (name, handle) in [("VIEW", "6"), ("UCS", "7")] {
                table(out, name, handle, 0);
                end_table(out);
            }
            applications(out);
            table(out, "DIMSTYLE", "A", 0);
            out.marker("AcDbDimStyleTable");
            end_table(out);
            block_records(out);
        }
    }
    out.word(0, "ENDSEC");
    section(out, "BLOCKS");
    if out.new_edition() {
        block(out, "*Model_Space", "1F");
        block(out, "*Paper_Space", "1B");
    }
    out.word(0, "ENDSEC");
    section(out, "ENTITIES");
}

/// Everything after the last entity.
pub fn after(out: &mut Pairs) {
    out.word(0, "ENDSEC");
    if out.new_edition() {
        section(out, "OBJECTS");
        dictionary(out, "C", "0", &[("ACAD_GROUP", "D")]);
        dictionary(out, "D", "C", &[]);
        out.word(0, "ENDSEC");
    }
    out.word(0, "EOF");
}

fn header(out: &mut Pairs, scene: &Scene) {
    let boxes = scene.items.iter().map(|item| bulge::extent(&item.shape));
    let (low, high) = bulge::around(boxes.flat_map(|(low, high)| [low, high]));
    let (low, high) = match low.x <= high.x {
        true => (low, high),
        false => (Place::origin(), Place::origin()),
    };
    let (code, metric) = match out.form.unit {
        Unit::Inch => (1, 0),
        Unit::Foot => (2, 0),
        Unit::Millimetre => (4, 1),
        Unit::Centimetre => (5, 1),
        Unit::Metre => (6, 1),
    };
    let unit = out.form.unit.symbol();
    out.word(999, &format!("All coordinates are in {unit}."));
    section(out, "HEADER");
    out.word(9, "$ACADVER");
    out.word(
        1,
        match out.form.edition {
            Edition::R12 => "AC1009",
            Edition::Y2000 => "AC1015",
        },
    );
    if out.new_edition() {
        out.word(9, "$HANDSEED");
        out.word(5, "FFFFF");
    }
    // R12 has no agreed unit; readers that look for one look here all the same.
    out.word(9, "$INSUNITS");
    out.whole(70, code);
    out.word(9, "$MEASUREMENT");
    out.whole(70, metric);
    for (name, corner) in [("$EXTMIN", low), ("$EXTMAX", high)] {
        out.word(9, name);
        out.place(10, corner);
    }
    out.word(0, "ENDSEC");
}

fn section(out: &mut Pairs, name: &str) {
    out.word(0, "SECTION");
    out.word(2, name);
}

fn table(out: &mut Pairs, name: &str, handle: &str, entries: usize) {
    out.word(0, "TABLE");
    out.word(2, name);
    if out.new_edition() {
        out.word(5, handle);
        out.word(330, "0");
    }
    out.marker("AcDbSymbolTable");
    out.whole(70, entries as i64);
}

fn end_table(out: &mut Pairs) {
    out.word(0, "ENDTAB");
}

/// Start of one entry of a table.
fn entry(out: &mut Pairs, kind: &str, marker: &str, owner: &str, name: &str) {
    out.word(0, kind);
    out.own(owner);
    out.marker("AcDbSymbolTableRecord");
    out.marker(marker);
    out.word(2, name);
}

fn line_types(out: &mut Pairs) {
    let names: &[&str] = match out.form.edition {
        Edition::R12 => &["CONTINUOUS"],
        Edition::Y2000 => &["ByBlock", "ByLayer", "Continuous"],
    };
    table(out, "LTYPE", "5", names.len());
    for name in names {
        entry(out, "LTYPE", "AcDbLinetypeTableRecord", "5", name);
        out.whole(70, 0);
        out.word(3, "");
        out.whole(72, 65);
        out.whole(73, 0);
        out.real(40, 0.0);
    }
    end_table(out);
}

/// One layer for each purpose, all in the reader's own foreground (colour 7).
fn layers(out: &mut Pairs, used: &[&str]) {
    table(out, "LAYER", "2", used.len() + 1);
    let names = std::iter::once("0").chain(used.iter().copied());
    for name in names {
        entry(out, "LAYER", "AcDbLayerTableRecord", "2", name);
        out.whole(70, 0);
        out.whole(62, 7);
        let line = match out.form.edition {
            Edition::R12 => "CONTINUOUS",
            Edition::Y2000 => "Continuous",
        };
        out.word(6, line);
    }
    end_table(out);
}

fn styles(out: &mut Pairs) {
    table(out, "STYLE", "3", 1);
    entry(out, "STYLE", "AcDbTextStyleTableRecord", "3", "STANDARD");
    out.whole(70, 0);
    out.real(40, 0.0);
    out.real(41, 1.0);
    out.real(50, 0.0);
    out.whole(71, 0);
    out.real(42, 2.5);
    out.word(3, "txt");
    out.word(4, "");
    end_table(out);
}

fn applications(out: &mut Pairs) {
    table(out, "APPID", "9", 1);
    entry(out, "APPID", "AcDbRegAppTableRecord", "9", "ACAD");
    out.whole(70, 0);
    end_table(out);
}

fn block_records(out: &mut Pairs) {
    table(out, "BLOCK_RECORD", "1", 2);
    for (name, handle) in [("*Model_Space", "1F"), ("*Paper_Space", "1B")] {
        out.word(0, "BLOCK_RECORD");
        out.word(5, handle);
        out.word(330, "1");
        out.marker("AcDbSymbolTableRecord");
        out.marker("AcDbBlockTableRecord");
        out.word(2, name);
    }
    end_table(out);
}

fn block(out: &mut Pairs, name: &str, owner: &str) {
    out.word(0, "BLOCK");
    out.own(owner);
    out.marker("AcDbEntity");
    out.word(8, "0");
    out.marker("AcDbBlockBegin");
    out.word(2, name);
    out.whole(70, 0);
    out.place(10, Place::origin());
    out.word(3, name);
    out.word(1, "");
    out.word(0, "ENDBLK");
    out.own(owner);
    out.marker("AcDbEntity");
    out.word(8, "0");
    out.marker("AcDbBlockEnd");
}

fn dictionary(out: &mut Pairs, handle: &str, owner: &str, entries: &[(&str, &str)]) {
    out.word(0, "DICTIONARY");
    out.word(5, handle);
    out.word(330, owner);
    out.marker("AcDbDictionary");
    out.whole(281, 1);
    for (name, target) in entries {
        out.word(3, name);
        out.word(350, target);
    }
}
