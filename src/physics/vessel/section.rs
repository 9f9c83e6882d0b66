//! Section of a lying cylinder: a circle, or an ellipse as a circle stretched across.

use super::error::{VesselError, size_m};
use crate::quantity::Length;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Half the height.
    pub radius_m: f64,
    /// Width per height. Everything across the vessel grows by it, and with that volume and surface: the
    /// correction for elliptical tanks of D. Jones, "Computing Fluid Tank Volumes".
    pub stretch: f64,
}

impl Section {
    pub fn circle(diameter: Length) -> Result<Self, VesselError> {
        Ok(Self {
            radius_m: 0.5 * size_m("diameter", diameter)?,
            stretch: 1.0,
        })
    }

    pub fn ellipse(width: Length, height: Length) -> Result<Self, VesselError> {
        let (width_m, height_m) = (size_m("width", width)?, size_m("height", height)?);
        Ok(Self {
            radius_m: 0.5 * height_m,
            stretch: width_m / height_m,
        })
    }
}
