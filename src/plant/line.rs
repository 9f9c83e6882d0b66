//! An impulse line: what stands in it, what is wrong with it, and the pressure at its diaphragm.
//!
//! The pressure is added up from the tap down, section by section. A line that hangs from a tap in the gas
//! stays full of its fill. A dry line whose tap the liquid reaches fills with liquid and stays full until
//! it is drained.

use super::model::{Fill, LineModel};
use super::tank::{Air, Columns};

#[derive(Clone, Debug)]
pub(super) struct Line {
    model: LineModel,
    /// Pressure that a plug holds at the diaphragm.
    trapped_pa: Option<f64>,
    /// Height that is missing at the top of a seal liquid's column; the gas stands there.
    lost_m: f64,
    /// Height of the tank's liquid above the diaphragm of a dry line, or on top of a seal liquid.
    liquid_m: f64,
}

impl Line {
    pub fn new(model: LineModel) -> Self {
        Self {
            model,
            trapped_pa: None,
            lost_m: 0.0,
            liquid_m: 0.0,
        }
    }

    /// Liquid runs in through a covered tap, wherever gas stands in the line.
    pub fn flood(&mut self, columns: &Columns) {
        let LineModel::Tapped { tap, fill, .. } = self.model else {
            return;
        };
        if !columns.covers(tap.value) || self.trapped_pa.is_some() {
            return;
        }
        match fill {
            Fill::Gas => self.liquid_m = self.rise_m(),
            Fill::Seal(_) | Fill::Liquid => self.liquid_m += std::mem::take(&mut self.lost_m),
        }
    }

    /// The pressure at the diaphragm.
    pub fn pressure_pa(&self, columns: &Columns, air: &Air) -> f64 {
        self.trapped_pa
            .unwrap_or_else(|| self.open_pressure_pa(columns, air))
    }

    /// Close the line: the pressure of this moment stays.
    pub fn plug(&mut self, columns: &Columns, air: &Air) {
        self.trapped_pa = Some(self.pressure_pa(columns, air));
    }

    pub fn unplug(&mut self) {
        self.trapped_pa = None;
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

    pub fn diaphragm_m(&self) -> f64 {
        match self.model {
            LineModel::Tapped { diaphragm, .. } | LineModel::OpenToAir { diaphragm } => {
                diaphragm.value
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

    fn open_pressure_pa(&self, columns: &Columns, air: &Air) -> f64 {
        let (tap_m, diaphragm_m, fill) = match self.model {
            LineModel::OpenToAir { diaphragm } => return air.pressure_pa(diaphragm.value),
            LineModel::Tapped {
                tap,
                diaphragm,
                fill,
            } => (tap.value, diaphragm.value, fill),
        };
        let fill_kg_m3 = match fill {
            Fill::Liquid => columns.liquid_in_lines_kg_m3,
            Fill::Gas => columns.gas_in_lines_kg_m3,
            Fill::Seal(density) => density.value,
        };
        let fill_m = (tap_m - diaphragm_m) - self.lost_m - self.liquid_m;
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
        pressure_pa
    }
}
