//! An impulse line: what stands in it, what is wrong with it, and the pressure at its diaphragm.
//!
//! The pressure is added up from the tap down, section by section. A line that hangs from a tap in the gas
//! stays full of its fill. A dry line whose tap the liquid reaches fills with liquid and stays full until
//! it is drained.

use super::columns::Columns;
use super::model::{Fill, LineModel};
use super::tank::Air;

#[derive(Clone, Debug)]
pub(super) struct Line {
    model: LineModel,
    /// What is shut in behind a plug.
    trapped: Option<Trapped>,
    /// Time constant of what is nearly plugged, s.
    lag_s: f64,
    /// The fill freezes below this, K.
    freezes_k: Option<f64>,
    /// The purge of a dip tube is lost: time constant in which its pressure falls to that of the gas, s.
    purge_lost_s: Option<f64>,
    /// Height that is missing at the top of a seal liquid's column; the gas stands there.
    lost_m: f64,
    /// Height of the tank's liquid above the diaphragm of a dry line, or on top of a seal liquid.
    liquid_m: f64,
    /// Height of gas that came out of the liquid in the line, and stays.
    bubble_m: f64,
    /// Height that the fill stands above the tap.
    over_m: f64,
    /// At the diaphragm.
    pressure_pa: f64,
}

/// A shut volume: its pressure, density and temperature when it was shut.
#[derive(Clone, Copy, Debug)]
struct Trapped {
    pressure_pa: f64,
    fill_kg_m3: f64,
    temperature_k: f64,
    stiffness_pa: f64,
    creep_pa_s: f64,
    by_frost: bool,
}

impl Line {
    pub fn new(model: LineModel) -> Self {
        Self {
            model,
            trapped: None,
            lag_s: 0.0,
            freezes_k: None,
            purge_lost_s: None,
            lost_m: 0.0,
            liquid_m: 0.0,
            bubble_m: 0.0,
            over_m: 0.0,
            pressure_pa: 0.0,
        }
    }

    /// Take the present state at once.
    pub fn settle(&mut self, columns: &Columns, air: &Air) {
        self.flood(columns);
        self.pressure_pa = self.open_pressure_pa(columns, air);
    }

    pub fn step(&mut self, seconds: f64, columns: &Columns, air: &Air) {
        self.flood(columns);
        if let Some(freezes_k) = self.freezes_k {
            match self.trapped {
                None if columns.lines_k < freezes_k => self.shut(0.0, columns, true),
                Some(trapped) if trapped.by_frost && columns.lines_k >= freezes_k => self.unplug(),
                _ => {}
            }
        }
        if let Some(trapped) = &mut self.trapped {
            trapped.pressure_pa += trapped.creep_pa_s * seconds;
            let trapped = *trapped;
            self.pressure_pa = self.trapped_pressure_pa(trapped, columns);
            return;
        }
        let open_pa = self.open_pressure_pa(columns, air);
        let (towards_pa, lag_s) = match self.purge_lost_s {
            Some(time_s) => (columns.gas_pressure_pa(self.diaphragm_m()), time_s),
            None => (open_pa, self.lag_s),
        };
        match lag_s > 0.0 {
            // A narrow place and what gives way behind it are of first order: y ← y + (x − y)·(1 − e^(−Δt/τ)).
            true => {
                self.pressure_pa += (towards_pa - self.pressure_pa) * -(-seconds / lag_s).exp_m1()
            }
            false => self.pressure_pa = towards_pa,
        }
    }

    /// Whether its pressure, or what stands in it, hangs on what was: something shuts or throttles it, or it waits
    /// to be flooded.
    pub fn remembers(&self) -> bool {
        let can_flood = match self.model {
            LineModel::OpenToAir { .. } => false,
            LineModel::Tapped { fill, .. } => {
                self.lost_m > 0.0 || (fill == Fill::Gas && self.liquid_m < self.rise_m())
            }
        };
        let is_throttled = self.lag_s > 0.0 || self.purge_lost_s.is_some();
        can_flood || is_throttled || self.trapped.is_some() || self.freezes_k.is_some()
    }

    /// At the diaphragm, as of the last step.
    pub fn pressure_pa(&self) -> f64 {
        self.pressure_pa
    }

    /// Close the line: the pressure of this moment stays, but for what the shut fill does as it warms. A stiffness
    /// of 0: the diaphragm gives way to a liquid without resistance.
    pub fn plug(&mut self, stiffness_pa: f64, columns: &Columns) {
        self.shut(stiffness_pa, columns, false);
    }

    /// Close the line, and let its pressure rise by so much a second: a purge that finds no way out.
    pub fn plug_under_purge(&mut self, creep_pa_s: f64, columns: &Columns) {
        self.shut(0.0, columns, false);
        self.trapped
            .iter_mut()
            .for_each(|trapped| trapped.creep_pa_s = creep_pa_s);
    }

    fn shut(&mut self, stiffness_pa: f64, columns: &Columns, by_frost: bool) {
        self.trapped = Some(Trapped {
            pressure_pa: self.pressure_pa,
            fill_kg_m3: self.fill_kg_m3(columns),
            temperature_k: columns.lines_k,
            stiffness_pa,
            creep_pa_s: 0.0,
            by_frost,
        });
    }

    pub fn unplug(&mut self) {
        self.trapped = None;
    }

    pub fn lag(&mut self, time_s: f64) {
        self.lag_s = time_s;
    }

    pub fn freeze_below(&mut self, temperature_k: Option<f64>) {
        self.freezes_k = temperature_k;
        if temperature_k.is_none() && self.trapped.is_some_and(|trapped| trapped.by_frost) {
            self.unplug();
        }
    }

    pub fn lose_purge(&mut self, time_s: Option<f64>) {
        self.purge_lost_s = time_s;
    }

    /// So much of the fill is gone from the top; 0 refills the line.
    pub fn lose(&mut self, height_m: f64) {
        self.lost_m = height_m.clamp(0.0, self.rise_m());
        self.liquid_m = 0.0;
    }

    /// So much of the tank's liquid stands in a dry line; 0 drains it.
    pub fn condense(&mut self, height_m: f64) {
        self.liquid_m = height_m.clamp(0.0, self.rise_m());
    }

    /// So much of the line's height is gas, wherever in it; 0 vents it.
    pub fn gas(&mut self, height_m: f64) {
        self.bubble_m = height_m.max(0.0);
    }

    /// The fill stands so high above the tap, in its pot; 0 lets it off.
    pub fn overfill(&mut self, height_m: f64) {
        self.over_m = height_m.max(0.0);
    }

    pub fn diaphragm_m(&self) -> f64 {
        match self.model {
            LineModel::Tapped { diaphragm, .. } | LineModel::OpenToAir { diaphragm } => {
                diaphragm.value
            }
        }
    }

    /// Liquid runs in through a covered tap, wherever gas stands in the line.
    fn flood(&mut self, columns: &Columns) {
        let LineModel::Tapped { tap, fill, .. } = self.model else {
            return;
        };
        if !columns.covers(tap.value) || self.trapped.is_some() {
            return;
        }
        match fill {
            Fill::Gas => self.liquid_m = self.rise_m(),
            Fill::Seal(_) | Fill::Expanding(..) | Fill::Liquid => {
                self.liquid_m += std::mem::take(&mut self.lost_m);
            }
        }
    }

    /// How far the tap is above the diaphragm; nothing collects in a line that rises from its tap.
    fn rise_m(&self) -> f64 {
        match self.model {
            LineModel::Tapped { tap, diaphragm, .. } => (tap - diaphragm).value.max(0.0),
            LineModel::OpenToAir { .. } => 0.0,
        }
    }

    fn fill_kg_m3(&self, columns: &Columns) -> f64 {
        let LineModel::Tapped { fill, .. } = self.model else {
            return columns.gas_in_lines_kg_m3;
        };
        match fill {
            Fill::Liquid => columns.liquid_in_lines_kg_m3,
            Fill::Gas => columns.gas_in_lines_kg_m3,
            Fill::Seal(density) => density.value,
            // ρ = ρ0 / (1 + β·ΔT)
            Fill::Expanding(density, per_kelvin) => {
                density.value / (1.0 + per_kelvin * columns.lines_warmed_k)
            }
        }
    }

    fn open_pressure_pa(&self, columns: &Columns, air: &Air) -> f64 {
        let (tap_m, diaphragm_m) = match self.model {
            LineModel::OpenToAir { diaphragm } => return air.pressure_pa(diaphragm.value),
            LineModel::Tapped { tap, diaphragm, .. } => (tap.value, diaphragm.value),
        };
        let fill_m = (tap_m - diaphragm_m) - self.lost_m - self.liquid_m;
        let fill_kg_m3 = self.fill_kg_m3(columns);
        let sections = [
            (columns.gas_in_lines_kg_m3, self.lost_m),
            (columns.liquid_in_lines_kg_m3, self.liquid_m),
            (fill_kg_m3, fill_m),
        ];
        // Each section of height Δz and density ρ adds ρ·g·Δz; one that rises from the tap takes it away.
        let mut pressure_pa = columns.pressure_pa(tap_m);
        for (density_kg_m3, height_m) in sections {
            pressure_pa += density_kg_m3 * columns.gravity_m_s2 * height_m;
        }
        if self.bubble_m > 0.0 {
            // Gas stands in place of the fill, as high as the line at most; in a line that rises it lifts less off.
            let run_m = tap_m - diaphragm_m;
            let bubble_m = self.bubble_m.min(run_m.abs()).copysign(run_m);
            let lighter_kg_m3 = columns.gas_in_lines_kg_m3 - fill_kg_m3;
            pressure_pa += lighter_kg_m3 * columns.gravity_m_s2 * bubble_m;
        }
        if self.over_m > 0.0 {
            let heavier_kg_m3 = fill_kg_m3 - columns.gas_kg_m3;
            pressure_pa += heavier_kg_m3 * columns.gravity_m_s2 * self.over_m;
        }
        pressure_pa
    }

    /// A shut gas follows p/T; a shut liquid presses on what gives way, p = p0 + S·(ρ0/ρ − 1): its mass stays, and
    /// the stiffness S says by how much its room grows under pressure.
    fn trapped_pressure_pa(&self, trapped: Trapped, columns: &Columns) -> f64 {
        let is_gas = matches!(
            self.model,
            LineModel::Tapped {
                fill: Fill::Gas,
                ..
            } if self.liquid_m == 0.0
        );
        if is_gas {
            trapped.pressure_pa * columns.lines_k / trapped.temperature_k
        } else if trapped.stiffness_pa > 0.0 {
            let growth = trapped.fill_kg_m3 / self.fill_kg_m3(columns) - 1.0;
            trapped.pressure_pa + trapped.stiffness_pa * growth
        } else {
            trapped.pressure_pa
        }
    }
}
