//! What the patches of every body keep to.

use super::{Patches, Surface};
use crate::body::Body;

/// The first rule that `patches` break, or `None` when they are sound.
///
/// Every facet stands in one patch, the one named for it; surfaces, areas, misfits and ± are finite and
/// not negative; directions have length 1; a patch borders on others, which border on it.
pub fn fault(body: &Body, patches: &Patches) -> Option<String> {
    let mut seen = vec![false; body.facets.len()];
    if patches.of_facet.len() != seen.len() {
        return Some(format!(
            "{} of {} facets",
            patches.of_facet.len(),
            seen.len()
        ));
    }
    for (number, patch) in patches.list.iter().enumerate() {
        for &f in &patch.facets {
            let named = patches.of_facet.get(f as usize) == Some(&(number as u32));
            if !named || std::mem::replace(&mut seen[f as usize], true) {
                return Some(format!("facet {f} is not in patch {number} alone"));
            }
        }
        let finite = |x: &[f64]| x.iter().all(|x| x.is_finite());
        let unit = |x: &nalgebra::Vector3<f64>| (x.norm() - 1.0).abs() < 1e-9;
        let sound = match &patch.surface {
            Surface::Plane { point, normal } => finite(point.coords.as_slice()) && unit(normal),
            Surface::Cylinder {
                point,
                axis,
                radius,
                ..
            } => {
                finite(point.coords.as_slice()) && unit(axis) && *radius > 0.0 && radius.is_finite()
            }
            Surface::Cone {
                apex,
                axis,
                half_angle,
                ..
            } => {
                let open = 0.0..std::f64::consts::FRAC_PI_2;
                finite(apex.coords.as_slice()) && unit(axis) && open.contains(half_angle)
            }
            Surface::Unknown => true,
        };
        let numbers = [patch.area, patch.rms, patch.largest, patch.plus_minus];
        if !sound || numbers.iter().any(|n| !(*n >= 0.0 && n.is_finite())) {
            return Some(format!("patch {number}: {:?} {numbers:?}", patch.surface));
        }
        let mutual = |other: u32| {
            let back = |p: &super::Patch| p.borders.iter().any(|b| b.patch as usize == number);
            patches.list.get(other as usize).is_some_and(back)
        };
        if let Some(border) = patch.borders.iter().find(|b| !mutual(b.patch)) {
            return Some(format!(
                "patch {number} borders on {} but not the other way",
                border.patch
            ));
        }
    }
    let lost = seen.iter().position(|seen| !seen);
    lost.map(|facet| format!("facet {facet} is in no patch"))
}
