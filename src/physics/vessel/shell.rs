//! Thermal expansion of a vessel's shell from the temperature at which its sizes are known.
//!
//! The shell has the liquid's temperature, and every size grows by the same k = 1 + α (T − T₀). The volume
//! below a level is then that of the cold vessel below the level h/k, times k³: for an upright cylinder
//! V(h)·(1 + α ΔT)², the shell correction of tank calibration standards (API MPMS 12.1.1, from memory).

use super::Vessel;
use super::error::VesselError;
use crate::quantity::{Area, Length, Temperature, TemperatureCoefficient, Volume};

/// The most that a shell's material expands, 1/K (common practice, no source: polyethylene has 2e-4).
const LARGEST_PER_K: f64 = 1e-3;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shell {
    /// Of a length.
    pub expansion: TemperatureCoefficient,
    /// At which the vessel has the sizes that were given.
    pub reference: Temperature,
}

impl Shell {
    pub(super) fn check(&self) -> Result<(), VesselError> {
        let per_k = self.expansion.value;
        if !(0.0..=LARGEST_PER_K).contains(&per_k) {
            let message = format!("must lie between 0 /K and {LARGEST_PER_K} /K, not {per_k} /K");
            return Err(VesselError::new("expansion", message));
        }
        if !(self.reference.value.is_finite() && self.reference.value > 0.0) {
            return Err(VesselError::new("reference", "must be a temperature"));
        }
        Ok(())
    }

    /// k = 1 + α (T − T₀)
    pub(super) fn growth(&self, temperature: Temperature) -> f64 {
        1.0 + self.expansion.value * (temperature.value - self.reference.value)
    }
}

/// A vessel at a temperature of its shell: [`Vessel::at`].
#[derive(Clone, Copy, Debug)]
pub struct VesselAt<'v> {
    pub(super) vessel: &'v Vessel,
    pub(super) growth: f64,
}

impl VesselAt<'_> {
    pub fn capacity(&self) -> Volume {
        self.vessel.capacity() * self.growth.powi(3)
    }

    pub fn volume(&self, level: Length) -> Volume {
        self.vessel.volume(level / self.growth) * self.growth.powi(3)
    }

    pub fn area(&self, level: Length) -> Area {
        self.vessel.area(level / self.growth) * self.growth.powi(2)
    }

    pub fn height(&self, volume: Volume) -> Length {
        self.vessel.height(volume / self.growth.powi(3)) * self.growth
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Head, Shape};
    use super::*;
    use crate::quantity::{celsius, metres, per_kelvin_of};
    use approx::assert_relative_eq;

    fn tank(shell: Option<Shell>) -> Vessel {
        let tank = Vessel::new(Shape::UprightCylinder {
            diameter: metres(20.0),
            height: metres(12.0),
            bottom: Head::Flat,
            top: Head::Flat,
        });
        let tank = tank.expect("the sizes are right");
        match shell {
            Some(shell) => tank.with_shell(shell).expect("the shell is right"),
            None => tank,
        }
    }

    fn steel() -> Shell {
        Shell {
            expansion: per_kelvin_of(12e-6),
            reference: celsius(20.0),
        }
    }

    /// CTSh = 1 + 2 α ΔT + α² ΔT²: API MPMS 12.1.1, from memory.
    #[test]
    fn an_upright_cylinder_grows_by_its_section() {
        let tank = tank(Some(steel()));
        let (cold, warm) = (tank.at(Some(celsius(20.0))), tank.at(Some(celsius(70.0))));
        let level = metres(8.0);
        let correction = 1.0 + 2.0 * 12e-6 * 50.0 + (12e-6 * 50.0_f64).powi(2);
        assert_relative_eq!(
            warm.volume(level).value,
            cold.volume(level).value * correction,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            warm.area(level).value,
            cold.area(level).value * correction,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            warm.height(warm.volume(level)).value,
            8.0,
            max_relative = 1e-14
        );
        assert_eq!(tank.at(None).volume(level), tank.volume(level));
    }

    #[test]
    fn without_a_shell_the_temperature_changes_nothing() {
        let tank = tank(None);
        assert!(!tank.expands());
        assert_eq!(tank.at(Some(celsius(70.0))).capacity(), tank.capacity());
    }

    #[test]
    fn no_shell_expands_like_a_gas() {
        let shell = Shell {
            expansion: per_kelvin_of(12.0),
            ..steel()
        };
        assert_eq!(
            tank(None)
                .with_shell(shell)
                .expect_err("refused")
                .to_string(),
            "expansion must lie between 0 /K and 0.001 /K, not 12 /K"
        );
    }
}
