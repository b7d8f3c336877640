use super::*;
use crate::measure::quantity;

fn section(shape: Shape) -> Section {
    Section {
        shape,
        diameter: None,
        width: None,
        height: None,
        wall: None,
        web_thickness: None,
        flange_thickness: None,
        corner_radius: None,
        inner_corner_radius: None,
        area: None,
        stock: None,
        contours: Vec::new(),
    }
}

fn round(diameter: f64, wall: f64, plus_minus: f64) -> Section {
    Section {
        diameter: Some(quantity(diameter, plus_minus)),
        wall: Some(quantity(wall, plus_minus)),
        ..section(Shape::Round)
    }
}

fn rect(shape: Shape, width: f64, height: f64, wall: Option<f64>, corner: Option<f64>) -> Section {
    Section {
        width: Some(quantity(width, 1e-4)),
        height: Some(quantity(height, 1e-4)),
        wall: wall.map(|w| quantity(w, 1e-4)),
        corner_radius: corner.map(|r| quantity(r, 0.05)),
        ..section(shape)
    }
}

#[test]
fn listed_sizes_are_found_exactly() {
    use Shape::{Angle, FlatBar, Rect, Square, SquareBar};
    let hot_and_plain = "EN 10210-2:2006, EN 10220:2002";
    let bars = "bar sizes usually kept";
    let cases = [
        (
            round(48.3, 3.2, 1e-4),
            "round tube 48.3 x 3.2",
            hot_and_plain,
        ),
        (
            rect(Square, 40.0, 40.0, Some(2.5), None),
            "square tube 40 x 40 x 2.5",
            "EN 10219-2:2006",
        ),
        (
            rect(Rect, 40.0, 80.0, Some(3.0), Some(6.0)),
            "rectangular tube 80 x 40 x 3",
            "EN 10219-2:2006",
        ),
        (
            rect(FlatBar, 60.0, 10.0, None, None),
            "flat bar 60 x 10",
            bars,
        ),
        (
            rect(SquareBar, 25.0, 25.0, None, None),
            "square bar 25",
            bars,
        ),
        (
            rect(Angle, 40.0, 60.0, Some(5.0), None),
            "angle 60 x 40 x 5",
            "EN 10056-1",
        ),
        (
            rect(Rect, 101.6, 50.8, Some(4.7625), None),
            "HSS 4 x 2 x 3/16",
            "ASTM A500",
        ),
        (
            rect(Square, 25.4, 25.4, Some(1.651), None),
            "tube 1 x 1 in x 16 ga (0.065 in)",
            "US mechanical tube by gauge",
        ),
        (
            round(60.325, 3.91, 1e-3),
            "pipe 2 in schedule 40",
            "ASME B36.10M-2018",
        ),
    ];
    for (section, designation, standard) in cases {
        let stock = nearest(&section).expect(designation);
        assert_eq!(
            (
                stock.designation.as_str(),
                stock.standard.as_str(),
                stock.exact
            ),
            (designation, standard, true)
        );
        assert!(stock.off_by < 0.05);
    }
}

#[test]
fn the_design_wall_is_named_as_such() {
    let drawn = rect(Shape::Rect, 101.6, 50.8, Some(0.174 * 25.4), None);
    let stock = nearest(&drawn).unwrap();
    assert_eq!(
        stock.designation,
        "HSS 4 x 2 x 3/16 (drawn with the design wall)"
    );
    assert!(stock.exact);
}

#[test]
fn corners_tell_hot_from_cold() {
    let square = |corner| rect(Shape::Square, 100.0, 100.0, Some(5.0), corner);
    let hot = nearest(&square(Some(7.5))).unwrap();
    let cold = nearest(&square(Some(10.0))).unwrap();
    let unseen = nearest(&square(None)).unwrap();
    assert_eq!(hot.standard, "EN 10210-2:2006");
    assert_eq!(hot.also, ["square tube 100 x 100 x 5 (EN 10219-2:2006)"]);
    assert_eq!(cold.standard, "EN 10219-2:2006");
    assert_eq!(unseen.standard, "EN 10219-2:2006, EN 10210-2:2006");
}

#[test]
fn what_is_not_listed_is_nearest_and_off() {
    let stock = nearest(&round(47.0, 3.0, 0.01)).unwrap();
    assert!(!stock.exact);
    assert!(stock.off_by > 1.0 && stock.off_by < 2.1, "{stock:?}");
    assert!(nearest(&round(1700.0, 12.0, 0.01)).is_none());
    assert!(nearest(&section(Shape::Other)).is_none());
    assert!(nearest(&section(Shape::Round)).is_none());
    assert!(nearest(&round(f64::NAN, 3.0, 0.01)).is_none());
}

#[test]
fn a_wide_uncertainty_admits_more_sizes() {
    let narrow = nearest(&round(48.3, 3.2, 0.001)).unwrap();
    let wide = nearest(&round(48.3, 3.2, 0.3)).unwrap();
    assert_eq!(narrow.designation, wide.designation);
    assert!(wide.also.len() > narrow.also.len());
}

#[test]
fn an_unseen_wall_is_not_guessed() {
    let seen = round(48.3, 0.0, 1e-4);
    let stock = nearest(&Section { wall: None, ..seen }).unwrap();
    assert_eq!(stock.designation, "round tube 48.3, wall not visible");
    assert!(stock.exact);
}

#[test]
fn a_channel_of_one_thickness_is_near_a_rolled_one_but_not_it() {
    let stock = nearest(&rect(Shape::Channel, 50.0, 100.0, Some(6.0), None)).unwrap();
    assert!(!stock.exact, "web and flange of a rolled channel differ");
    assert!(stock.off_by >= 1.0);
}

#[test]
fn published_round_or_not() {
    let exact = |d, t| is_published_round(quantity(d, 0.01), quantity(t, 0.01));
    assert!(exact(114.3, 4.0));
    assert!(!exact(246.0, 3.0));
}
