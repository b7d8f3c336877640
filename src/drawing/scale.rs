//! Scales of drawings (ISO 5455, from memory: 1, 2, 5 and their tens).

/// The largest usual scale at which `size` fits into `room` (both mm), and its name; in between the
/// steps of the standard none is taken.
pub fn scale(size: nalgebra::Vector2<f64>, room: nalgebra::Vector2<f64>) -> (f64, String) {
    let most = (room.x / size.x.max(1e-9)).min(room.y / size.y.max(1e-9));
    let steps = [
        (20.0, "20:1"),
        (10.0, "10:1"),
        (5.0, "5:1"),
        (2.0, "2:1"),
        (1.0, "1:1"),
    ];
    if let Some((scale, name)) = steps.into_iter().find(|(scale, _)| *scale <= most) {
        return (scale, name.to_owned());
    }
    let mut ten = 1.0;
    loop {
        for step in [2.0, 5.0, 10.0] {
            let n = step * ten;
            if 1.0 / n <= most || n > 1e6 {
                return (1.0 / n, format!("1:{n}"));
            }
        }
        ten *= 10.0;
    }
}

#[cfg(test)]
mod tests {
    use super::scale;
    use nalgebra::Vector2;

    #[test]
    fn steps_of_the_standard() {
        let room = Vector2::new(150.0, 80.0);
        for (size, name) in [
            ((2121.0, 440.0), "1:20"),
            ((150.0, 80.0), "1:1"),
            ((151.0, 20.0), "1:2"),
            ((30.0, 10.0), "5:1"),
            ((6000.0, 60.0), "1:50"),
        ] {
            assert_eq!(scale(Vector2::new(size.0, size.1), room).1, name);
        }
    }
}
