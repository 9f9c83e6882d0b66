//! The gas above a liquid, closed in: an ideal gas that the liquid squeezes, with what lets gas in and out.
//!
//! p·V = n·R·T, where V is what the liquid leaves of the vessel and p the pressure at its top; the gas's own weight
//! within the headspace is not in the law. The temperature is the gas's own, so it goes isothermally.

use super::model::GasModel;
use crate::quantity::AbsolutePressure;

/// Volume m³ and temperature K of the gas.
pub(super) type GasState = (f64, f64);

/// Less room than this is none, m³: a liquid that fills its vessel meets a pressure that stays finite.
const LEAST_M3: f64 = 1e-3;

#[derive(Clone, Debug)]
pub(super) struct Headspace {
    model: GasModel,
    /// n·R, Pa·m³/K.
    amount: f64,
    pub vent_blocked: bool,
    pub blanket_lost: bool,
    pub leaks_in_s: Option<f64>,
}

impl GasModel {
    /// Neither fed nor vented.
    pub fn shut(pressure: AbsolutePressure) -> Self {
        Self {
            pressure,
            blanket: None,
            vent: None,
            leak: None,
        }
    }
}

impl Headspace {
    pub fn new(model: GasModel, pressure_pa: f64, state: GasState) -> Self {
        let mut headspace = Self {
            model,
            amount: 0.0,
            vent_blocked: false,
            blanket_lost: false,
            leaks_in_s: model.leak.map(|time| time.as_secs_f64()),
        };
        headspace.fill(pressure_pa, state);
        headspace
    }

    pub fn pressure_pa(&self, (volume_m3, temperature_k): GasState) -> f64 {
        self.amount * temperature_k / volume_m3.max(LEAST_M3)
    }

    /// So much gas that its pressure is this.
    pub fn fill(&mut self, pressure_pa: f64, (volume_m3, temperature_k): GasState) {
        self.amount = pressure_pa * volume_m3.max(LEAST_M3) / temperature_k;
    }

    pub fn stop_leak(&mut self) {
        self.leaks_in_s = self.model.leak.map(|time| time.as_secs_f64());
    }

    pub fn step(&mut self, seconds: f64, state: GasState, air_pa: f64) {
        let volume_m3 = state.0.max(LEAST_M3);
        let mut pressure_pa = self.pressure_pa(state);
        // A flow Q of gas at the headspace's pressure moves it by at most p·Q·Δt/V; no further than to its setting.
        if let Some((set, flow)) = self.model.blanket.filter(|_| !self.blanket_lost) {
            let most_pa = pressure_pa * flow.value * seconds / volume_m3;
            pressure_pa += (set.0.value - pressure_pa).clamp(0.0, most_pa);
        }
        if let Some((set, flow)) = self.model.vent.filter(|_| !self.vent_blocked) {
            let most_pa = pressure_pa * flow.value * seconds / volume_m3;
            pressure_pa -= (pressure_pa - set.0.value).clamp(0.0, most_pa);
        }
        if let Some(time_s) = self.leaks_in_s {
            // p ← p_air + (p − p_air)·e^(−Δt/τ)
            pressure_pa = air_pa + (pressure_pa - air_pa) * (-seconds / time_s).exp();
        }
        self.fill(pressure_pa, state);
    }
}
