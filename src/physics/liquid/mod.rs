//! Density of what is in tanks and legs, with its uncertainty and its range.
//!
//! What always holds: for any finite condition a density is a number, nothing panics or allocates, and a
//! temperature or pressure outside the range gives the value at the nearest valid one with
//! [`Density::in_range`] false, so that a reading can say so; never an extrapolated number without a flag.
//! An uncertainty is expanded (k = 2) and covers the density at the given conditions; what an uncertain
//! temperature adds is for the budget.
//!
//! **Where the uncertainty comes from.** The one stated with a liquid is taken as it is. Where none is
//! stated, a formula brings its own (each says which and why in its file), and a density that
//! somebody typed in (constant, expanding, tables) has zero. Zero then means that nothing is known,
//! not that the density is exact.
//!
//! **To add a liquid:** a file with `fn density(…, at: Conditions) -> Density`, its source, valid range as
//! a named constant and default uncertainty with the reason; a variant of [`Liquid`] holding what the site
//! file says about it (checked values only: a constructor that returns [`LiquidError`] where they can be
//! wrong); one arm in each method of [`Liquid`]; its published values under `tests/published`.
//! [`Conditions`] carries the pressure, so compressed and saturated liquids fit in the same way.

mod error;
mod expanding;
mod gas;
mod glycol;
mod if97;
mod petroleum;
mod saturated_table;
mod sea_water;
mod table;
#[cfg(test)]
mod tests;
mod water;

pub use error::LiquidError;
pub use gas::Gas;
pub use glycol::{Glycol, GlycolKind};
pub use petroleum::{Petroleum, PetroleumBase, PetroleumGroup, VolumeCorrection};
pub use saturated_table::{SaturatedRow, SaturatedTable};
pub use sea_water::SeaWater;
pub use table::DensityTable;

use crate::quantity::{
    AbsolutePressure, MassDensity, Temperature, TemperatureCoefficient, kilograms_per_cubic_metre,
};
use std::ops::RangeInclusive;

/// What the density of a fluid depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    pub temperature: Temperature,
    pub pressure: AbsolutePressure,
}

/// A density and how far to trust it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    pub value: MassDensity,
    /// Expanded, k = 2. Zero where a typed-in density came without one: then nothing is known.
    pub uncertainty: MassDensity,
    /// False: the value is that of the nearest valid temperature or pressure, of a gas at conditions where the
    /// ideal gas law no longer holds, or one that nobody measured.
    pub in_range: bool,
}

/// What a tank or a leg is filled with. An `uncertainty` is expanded (k = 2).
#[derive(Clone, Debug, PartialEq)]
pub enum Liquid {
    /// Water, 0 to 100 °C, at atmospheric pressure.
    Water {
        uncertainty: Option<MassDensity>,
    },
    /// One density at every temperature.
    Constant {
        density: MassDensity,
        uncertainty: Option<MassDensity>,
    },
    /// ρ = ρ0 / (1 + β (T − T0)): the coefficient is that of the volume, V = V0 (1 + β (T − T0)), as
    /// handbooks give it, referred to the volume at `at`.
    Expanding {
        density: MassDensity,
        at: Temperature,
        coefficient: TemperatureCoefficient,
        uncertainty: Option<MassDensity>,
    },
    /// Rows of temperature and density, linear between them.
    Table(DensityTable),
    /// Boiling water at its pressure, whatever the temperature says.
    SaturatedWater {
        uncertainty: Option<MassDensity>,
    },
    /// Water at a temperature and pressure, below its boiling point.
    CompressedWater {
        uncertainty: Option<MassDensity>,
    },
    Petroleum(Petroleum),
    Glycol(Glycol),
    SeaWater(SeaWater),
    /// Under its own vapour, by its temperature.
    SaturatedTable(SaturatedTable),
    /// Told by a register of its own; here only what stands in for it, or else a number out of range.
    Measured {
        otherwise: Option<Box<Liquid>>,
    },
}

/// Taken for a liquid of which nothing is known, always out of range, kg/m³.
const UNKNOWN_KG_M3: f64 = 1000.0;

impl Liquid {
    pub fn density(&self, at: Conditions) -> Density {
        match self {
            Liquid::Water { uncertainty } => water::density(at).stated(*uncertainty),
            Liquid::Constant {
                density,
                uncertainty,
            } => Density::typed_in(*density, true).stated(*uncertainty),
            Liquid::Expanding {
                density,
                at: reference,
                coefficient,
                uncertainty,
            } => expanding::density(*density, *reference, *coefficient, at).stated(*uncertainty),
            Liquid::Table(table) => table.density(at),
            Liquid::SaturatedWater { uncertainty } => {
                if97::saturated_water(at).stated(*uncertainty)
            }
            Liquid::CompressedWater { uncertainty } => {
                if97::compressed_water(at).stated(*uncertainty)
            }
            Liquid::Petroleum(petroleum) => petroleum.density(at),
            Liquid::Glycol(glycol) => glycol.density(at),
            Liquid::SeaWater(sea) => sea.density(at),
            Liquid::SaturatedTable(table) => table.liquid(at),
            Liquid::Measured { otherwise: None } => {
                Density::typed_in(kilograms_per_cubic_metre(UNKNOWN_KG_M3), false)
            }
            Liquid::Measured {
                otherwise: Some(liquid),
            } => liquid.density(at),
        }
    }

    /// The same liquid in a leg outside of the vessel: boiling water is cold there, at the vessel's pressure.
    pub fn density_in_leg(&self, at: Conditions) -> Density {
        match self {
            Liquid::SaturatedWater { uncertainty } => {
                if97::compressed_water(at).stated(*uncertainty)
            }
            _ => self.density(at),
        }
    }

    /// The kind, as the site file writes it.
    pub fn name(&self) -> &'static str {
        match self {
            Liquid::Water { .. } => "water",
            Liquid::Constant { .. } => "constant",
            Liquid::Expanding { .. } => "expanding",
            Liquid::Table(_) => "table",
            Liquid::SaturatedWater { .. } => "saturated-water",
            Liquid::CompressedWater { .. } => "compressed-water",
            Liquid::Petroleum(_) => "petroleum",
            Liquid::Glycol(glycol) => glycol.kind().name(),
            Liquid::SeaWater(_) => "sea-water",
            Liquid::SaturatedTable(_) => "saturated-table",
            Liquid::Measured { .. } => "measured",
        }
    }

    /// Where the density comes from, to show to people.
    pub fn source(&self) -> &'static str {
        match self {
            Liquid::Water { .. } => water::SOURCE,
            Liquid::Constant { .. } => "density as stated for the site",
            Liquid::Expanding { .. } => {
                "density and coefficient of expansion as stated for the site"
            }
            Liquid::Table(_) | Liquid::SaturatedTable(_) => {
                "table as stated for the site, linear between its rows"
            }
            Liquid::SaturatedWater { .. } => if97::SATURATED_SOURCE,
            Liquid::CompressedWater { .. } => if97::COMPRESSED_SOURCE,
            Liquid::Petroleum(_) => petroleum::SOURCE,
            Liquid::Glycol(_) => glycol::SOURCE,
            Liquid::SeaWater(_) => sea_water::SOURCE,
            Liquid::Measured { .. } => "measured",
        }
    }

    /// Whether its density follows the temperature that the site file gives it.
    pub fn needs_temperature(&self) -> bool {
        match self {
            Liquid::Constant { .. } | Liquid::SaturatedWater { .. } => false,
            Liquid::Measured { otherwise } => otherwise
                .as_ref()
                .is_some_and(|liquid| liquid.needs_temperature()),
            _ => true,
        }
    }

    /// Whether its density follows the pressure enough for the site file to give one.
    pub fn needs_pressure(&self) -> bool {
        match self {
            Liquid::SaturatedWater { .. } | Liquid::CompressedWater { .. } => true,
            Liquid::Measured { otherwise } => otherwise
                .as_ref()
                .is_some_and(|liquid| liquid.needs_pressure()),
            _ => false,
        }
    }

    /// False where nothing but a register tells its density.
    pub fn is_known(&self) -> bool {
        !matches!(self, Liquid::Measured { otherwise: None })
    }

    /// Whether it stands under its own vapour.
    pub fn is_saturated(&self) -> bool {
        matches!(
            self,
            Liquid::SaturatedWater { .. } | Liquid::SaturatedTable(_)
        )
    }

    /// The temperature that follows from the pressure: that of boiling water.
    pub fn boiling_point(&self, at: Conditions) -> Option<Temperature> {
        matches!(self, Liquid::SaturatedWater { .. }).then(|| if97::boiling_point(at))
    }

    /// What makes a standard volume of a volume; of petroleum only.
    pub fn volume_correction(&self, at: Conditions) -> Option<VolumeCorrection> {
        match self {
            Liquid::Petroleum(petroleum) => Some(petroleum.volume_correction(at)),
            Liquid::Measured {
                otherwise: Some(liquid),
            } => liquid.volume_correction(at),
            _ => None,
        }
    }
}

impl Density {
    /// A density that somebody typed in: of its uncertainty nothing is known, which is written as zero.
    fn typed_in(value: MassDensity, in_range: bool) -> Self {
        let uncertainty = kilograms_per_cubic_metre(0.0);
        Self {
            value,
            uncertainty,
            in_range,
        }
    }

    /// The same with the uncertainty stated for the site, where there is one.
    fn stated(self, uncertainty: Option<MassDensity>) -> Self {
        Self {
            uncertainty: uncertainty.unwrap_or(self.uncertainty),
            ..self
        }
    }
}

/// The value of `range` nearest to `value`, and whether `value` lies within. Never not-a-number while the
/// bounds are numbers: `f64::max` passes over one.
fn nearest(value: f64, range: &RangeInclusive<f64>) -> (f64, bool) {
    let near = value.max(*range.start()).min(*range.end());
    (near, range.contains(&value))
}
