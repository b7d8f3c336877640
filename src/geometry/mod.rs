//! Mathematics without domain words.

pub mod bvh;
pub mod circle_fit;
pub mod cylinder_fit;
pub mod ears;
pub mod face;
pub mod hull;
pub mod least_squares;
pub mod line_fit;
pub mod min_rectangle;
pub mod near_pairs;
pub mod outline;
pub mod plane_fit;
pub mod polygon;
pub mod principal_axes;
pub mod runs;
pub mod side_by_side;
pub mod slice;
pub mod statistics;
pub mod strips;
pub mod union_find;

/// A direction or difference in space.
pub type Vec3 = nalgebra::Vector3<f64>;
/// A place in space, mm.
pub type Pt3 = nalgebra::Point3<f64>;

/// Two unit vectors that make a right-handed frame (a, b, `t`) with the unit vector `t`.
pub fn perpendicular_pair(t: &Vec3) -> (Vec3, Vec3) {
    let pick = if t.x.abs() <= t.y.abs() && t.x.abs() <= t.z.abs() {
        Vec3::x()
    } else if t.y.abs() <= t.z.abs() {
        Vec3::y()
    } else {
        Vec3::z()
    };
    let b = t.cross(&pick).normalize();
    let a = b.cross(t);
    (a, b)
}
mod circle_algebraic;
mod damped_step;
