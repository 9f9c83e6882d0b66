//! Pipes between tanks, or between a tank and outside, with what drives or throttles the flow in them.
//!
//! Flows follow from the pressures at the two ends as the last step left them. A pipe draws nothing from an end
//! that the liquid does not cover.

use super::columns::Columns;
use super::model::{Drive, End, PipeModel};
use super::tank::Air;

#[derive(Clone, Debug)]
pub(super) struct Pipe {
    pub model: PipeModel,
    /// A pump's speed or a valve's opening, 0 to 1.
    pub share: f64,
    /// Of a pump that a level switches.
    is_on: bool,
    /// In the last step, from its `from` to its `to`, m³/s.
    pub flow_m3_s: f64,
}

/// What is at one end: total pressure head counts from the tank's zero.
struct AtEnd {
    pressure_pa: f64,
    elevation_m: f64,
    liquid_kg_m3: f64,
    has_liquid: bool,
}

impl Pipe {
    pub fn new(model: PipeModel) -> Self {
        Self {
            share: model.share,
            is_on: model.switch.is_none(),
            flow_m3_s: 0.0,
            model,
        }
    }

    pub fn runs(&self) -> bool {
        self.is_on && self.share > 0.0
    }

    /// What flows in this step.
    pub fn step(&mut self, columns: &[Columns], levels: impl Fn(usize) -> f64, air: &Air) -> f64 {
        self.flow_m3_s = self.flow(columns, levels, air);
        self.flow_m3_s
    }

    fn flow(&mut self, columns: &[Columns], levels: impl Fn(usize) -> f64, air: &Air) -> f64 {
        if let Some(switch) = self.model.switch {
            let level_m = levels(switch.tank);
            let (starts, stops) = (switch.starts.value, switch.stops.value);
            let drains = starts > stops;
            match drains {
                true if level_m >= starts => self.is_on = true,
                true if level_m <= stops => self.is_on = false,
                false if level_m <= starts => self.is_on = true,
                false if level_m >= stops => self.is_on = false,
                _ => {}
            }
        }
        if !self.runs() {
            return 0.0;
        }
        let inside = |end: Option<End>| end.map(|end| at_end(end, columns));
        let (from, to) = (inside(self.model.from), inside(self.model.to));
        match self.model.drive {
            Drive::Pump { rate, shut_off } => {
                if from.as_ref().is_some_and(|from| !from.has_liquid) {
                    return 0.0;
                }
                let lift_m = shut_off.map(|_| lift_m(from.as_ref(), to.as_ref(), air));
                match shut_off.zip(lift_m) {
                    // H(Q) = H0·(n² − (Q/Q0)²) meets the lift, n the share of its full speed.
                    Some((head, lift_m)) => {
                        let left = self.share * self.share - lift_m / head.value;
                        rate.value * left.max(0.0).sqrt()
                    }
                    None => rate.value * self.share,
                }
            }
            Drive::Valve { kv, outside } => {
                let air_at = |end: Option<&AtEnd>| {
                    outside.map_or_else(
                        || air.pressure_pa(end.map_or(0.0, |end| end.elevation_m)),
                        |pressure| pressure.0.value,
                    )
                };
                let before_pa = from
                    .as_ref()
                    .map_or_else(|| air_at(to.as_ref()), |end| end.pressure_pa);
                let after_pa = to
                    .as_ref()
                    .map_or_else(|| air_at(from.as_ref()), |end| end.pressure_pa);
                // The weight of what stands in the pipe between its ends.
                let drop_m = match (&from, &to) {
                    (Some(from), Some(to)) => from.elevation_m - to.elevation_m,
                    _ => 0.0,
                };
                let Some(known) = from.as_ref().or(to.as_ref()) else {
                    return 0.0;
                };
                let weight_pa_m = known.liquid_kg_m3 * air.gravity.value;
                let driving_pa = before_pa - after_pa + weight_pa_m * drop_m;
                let source = if driving_pa >= 0.0 { &from } else { &to };
                let source_kg_m3 = source.as_ref().unwrap_or(known).liquid_kg_m3;
                if source.as_ref().is_some_and(|source| !source.has_liquid) {
                    return 0.0;
                }
                // Q = Kv·x·√(Δp/1 bar · 1000/ρ) (IEC 60534-1), x the opening of a linear valve.
                let ratio = driving_pa.abs() / 1e5 * 1000.0 / source_kg_m3;
                (kv.value * self.share * ratio.sqrt()).copysign(driving_pa)
            }
        }
    }
}

fn at_end(end: End, columns: &[Columns]) -> AtEnd {
    let (columns, elevation_m) = (&columns[end.tank], end.at.value);
    AtEnd {
        pressure_pa: columns.pressure_pa(elevation_m),
        elevation_m,
        liquid_kg_m3: columns.liquid_kg_m3,
        has_liquid: columns.covers(elevation_m),
    }
}

/// By how much the head behind a pump is above the one before it; outside the air stands at the other end's height.
fn lift_m(from: Option<&AtEnd>, to: Option<&AtEnd>, air: &Air) -> f64 {
    let Some(known) = from.or(to) else { return 0.0 };
    let weight_pa_m = known.liquid_kg_m3 * air.gravity.value;
    let head_m = |end: Option<&AtEnd>| {
        end.map_or_else(
            || air.pressure_pa(known.elevation_m) / weight_pa_m + known.elevation_m,
            |end| end.pressure_pa / weight_pa_m + end.elevation_m,
        )
    };
    head_m(to) - head_m(from)
}
