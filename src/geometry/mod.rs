//! Mathematics without domain words.

pub mod bvh;
pub mod near_pairs;
pub mod union_find;
