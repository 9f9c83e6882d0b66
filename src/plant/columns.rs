//! What stands in a tank and in its lines at one moment, and the pressure that it makes at an elevation.

use super::tank::Cause;

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Columns {
    /// What they were made of.
    pub cause: Cause,
    pub volume_m3: f64,
    pub gravity_m_s2: f64,
    /// Of the clear liquid.
    pub surface_m: f64,
    /// Where the pressure of the gas is known, and what it is there.
    pub opening_m: f64,
    pub opening_pa: f64,
    pub liquid_kg_m3: f64,
    pub gas_kg_m3: f64,
    pub liquid_in_lines_kg_m3: f64,
    pub gas_in_lines_kg_m3: f64,
    /// Temperature of the lines, and by how much it has risen since the start.
    pub lines_k: f64,
    pub lines_warmed_k: f64,
    /// Thickness of what stands on the surface.
    pub foam_m: f64,
    pub foam_kg_m3: f64,
    /// Up to where a heavier liquid stands below; minus infinity for none.
    pub lower_m: f64,
    pub lower_kg_m3: f64,
    /// Up to where mud lies; minus infinity for none.
    pub sediment_m: f64,
    pub sediment_kg_m3: f64,
    /// How much the surface stands higher by its sway.
    pub swell_m: f64,
    /// What the flow past a tap under the surface takes from its pressure.
    pub suction_pa: f64,
}

impl Columns {
    /// The pressure in the vessel at an elevation: from the opening through the gas down to the foam, the surface,
    /// the sediment, as far as they stand above it.
    pub fn pressure_pa(&self, elevation_m: f64) -> f64 {
        let end_of_gas_m = elevation_m.max(self.surface_m + self.foam_m);
        let end_of_foam_m = elevation_m.max(self.surface_m);
        // Going down by Δz through a column of density ρ adds ρ·g·Δz.
        let mut pressure_pa = self.opening_pa;
        pressure_pa += self.gas_kg_m3 * self.gravity_m_s2 * (self.opening_m - end_of_gas_m);
        pressure_pa += self.foam_kg_m3 * self.gravity_m_s2 * (end_of_gas_m - end_of_foam_m);
        pressure_pa += self.liquid_kg_m3 * self.gravity_m_s2 * (end_of_foam_m - elevation_m);
        if self.covers(elevation_m) {
            // A heavier liquid stands between the upper one and the sediment.
            let heavier_kg_m3 = self.lower_kg_m3 - self.liquid_kg_m3;
            let in_lower_m = (self.lower_m - elevation_m.max(self.sediment_m)).max(0.0);
            pressure_pa += heavier_kg_m3 * self.gravity_m_s2 * in_lower_m;
            let heavier_kg_m3 = self.sediment_kg_m3 - self.liquid_kg_m3;
            let in_sediment_m = (self.sediment_m - elevation_m).max(0.0);
            pressure_pa += heavier_kg_m3 * self.gravity_m_s2 * in_sediment_m;
            pressure_pa += self.liquid_kg_m3 * self.gravity_m_s2 * self.swell_m;
            pressure_pa -= self.suction_pa;
        }
        pressure_pa
    }

    /// The pressure of the gas at an elevation, as if no liquid stood there.
    pub fn gas_pressure_pa(&self, elevation_m: f64) -> f64 {
        self.opening_pa + self.gas_kg_m3 * self.gravity_m_s2 * (self.opening_m - elevation_m)
    }

    pub fn covers(&self, elevation_m: f64) -> bool {
        self.surface_m > elevation_m
    }
}
