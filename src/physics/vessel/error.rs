//! What is wrong with a vessel's sizes, and the one check that every size goes through.

use crate::quantity::Length;
use std::fmt;

/// The least and largest inside size of a vessel (common practice, no source): a size beyond them is a
/// slip of the unit. Within them no formula of a shape can overflow or lose its digits.
const SIZE_RANGE_M: std::ops::RangeInclusive<f64> = 1e-4..=1e4;

/// A size that no vessel has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VesselError {
    /// The end at fault ("bottom", "top", "left", "right"), where it is a head.
    pub part: Option<&'static str>,
    /// The list and the entry at fault ("sections", "deadwood"), where it is one; entries count from 1.
    pub entry: Option<(&'static str, usize)>,
    /// The dimension at fault, as the site file calls it: "diameter", "depth", "knuckle_radius", "rows", …
    pub key: &'static str,
    /// What is wrong, without the key.
    pub message: String,
}

impl VesselError {
    pub(super) fn new(key: &'static str, message: impl Into<String>) -> Self {
        Self {
            part: None,
            entry: None,
            key,
            message: message.into(),
        }
    }

    pub(super) fn of(self, part: &'static str) -> Self {
        Self {
            part: Some(part),
            ..self
        }
    }

    /// The same, in an entry of a list, by its index.
    pub(super) fn in_entry(self, list: &'static str, index: usize) -> Self {
        Self {
            entry: Some((list, index + 1)),
            ..self
        }
    }
}

impl fmt::Display for VesselError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(part) = self.part {
            write!(f, "{part} ")?;
        }
        if let Some((list, number)) = self.entry {
            write!(f, "{list} entry {number}: ")?;
        }
        write!(f, "{} {}", self.key, self.message)
    }
}

impl std::error::Error for VesselError {}

/// A size in metres, if a vessel can have it.
pub(super) fn size_m(key: &'static str, size: Length) -> Result<f64, VesselError> {
    let size_m = size.value;
    if !size_m.is_finite() {
        return Err(VesselError::new(key, "must be a finite length"));
    }
    if size_m <= 0.0 {
        let message = format!("must be more than 0, not {size_m} m");
        return Err(VesselError::new(key, message));
    }
    if !SIZE_RANGE_M.contains(&size_m) {
        let (least, most) = (SIZE_RANGE_M.start() * 1e3, SIZE_RANGE_M.end() / 1e3);
        let message = format!("must lie between {least} mm and {most} km, not {size_m} m");
        return Err(VesselError::new(key, message));
    }
    Ok(size_m)
}

#[cfg(test)]
mod tests {
    use super::super::{Head, Shape, Vessel};
    use crate::quantity::metres;

    fn refusal(diameter_m: f64, depth_m: f64) -> String {
        let shape = Shape::UprightCylinder {
            diameter: metres(diameter_m),
            height: metres(6.0),
            bottom: Head::Cone {
                depth: metres(depth_m),
            },
            top: Head::Flat,
        };
        Vessel::new(shape)
            .expect_err("the size is wrong")
            .to_string()
    }

    #[test]
    fn a_refusal_names_the_dimension() {
        assert_eq!(refusal(-1.0, 1.0), "diameter must be more than 0, not -1 m");
        assert_eq!(refusal(f64::NAN, 1.0), "diameter must be a finite length");
        assert_eq!(
            refusal(2.0, 0.0),
            "bottom depth must be more than 0, not 0 m"
        );
        assert_eq!(
            refusal(4200.0, 50_000.0),
            "bottom depth must lie between 0.1 mm and 10 km, not 50000 m"
        );
    }
}
