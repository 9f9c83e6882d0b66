//! A transmitter: what it senses becomes a damped, noisy number in registers, or what a fault makes of it.

use super::STEP;
use super::line::Line;
use super::model::{Senses, TransmitterModel};
use super::noise::Noise;
use super::tank::{Air, Columns, Tank};
use super::words;

/// Which of a transmitter's lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The line of the high port, or the only one.
    High,
    Low,
}

/// What can be wrong with a transmitter and its lines. Numbers are in SI units of what it reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// The pressure of the moment is trapped.
    Plugged(Side),
    /// A height of the fill is gone from the top of the line, m.
    LegLost(Side, f64),
    /// A height of the tank's liquid stands in a dry line, m.
    Condensate(Side, f64),
    /// High and low side are joined.
    EqualiserOpen,
    /// The number stays.
    Frozen,
    /// The register says failure.
    Failed,
    /// The value runs away by so much a second.
    Drift(f64),
}

/// Everything that can be sensed at one moment; the columns of each tank are worked out once for all of them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing<'a> {
    pub tanks: &'a [Tank],
    pub columns: &'a [Columns],
    pub air: &'a Air,
}

#[derive(Clone, Debug)]
pub(super) struct Transmitter {
    pub model: TransmitterModel,
    lines: [Option<Line>; 2],
    equaliser_open: bool,
    frozen: bool,
    failed: bool,
    drift_per_s: f64,
    drifted: f64,
    damped: f64,
    /// 1 − e^(−Δt/τ): by how much of what is missing the damped value follows in a step.
    share: f64,
    value: f64,
    noise: Noise,
}

impl Transmitter {
    pub fn new(model: TransmitterModel, noise: Noise) -> Self {
        let lines = match &model.senses {
            Senses::Gauge { line, .. }
            | Senses::Absolute { line, .. }
            | Senses::SealedGauge { line, .. } => [Some(Line::new(*line)), None],
            Senses::Differential { high, low, .. } => {
                [Some(Line::new(*high)), Some(Line::new(*low))]
            }
            _ => [None, None],
        };
        let constant_s = model.damping.as_secs_f64();
        Self {
            share: match constant_s > 0.0 {
                true => -(-STEP.as_secs_f64() / constant_s).exp_m1(),
                false => 1.0,
            },
            model,
            lines,
            equaliser_open: false,
            frozen: false,
            failed: false,
            drift_per_s: 0.0,
            drifted: 0.0,
            damped: 0.0,
            value: 0.0,
            noise,
        }
    }

    /// Take the present state at once, as at power-up.
    pub fn settle(&mut self, now: &Standing<'_>) {
        self.flood(now);
        self.damped = self.sensed(now);
        self.update();
    }

    /// Let time go by.
    pub fn step(&mut self, seconds: f64, now: &Standing<'_>) {
        self.flood(now);
        self.drifted += self.drift_per_s * seconds;
        let sensed = self.sensed(now);
        // First order: y ← y + (x − y)·(1 − e^(−Δt/τ)), exact while x stands still.
        self.damped += (sensed - self.damped) * self.share;
        self.update();
    }

    /// What its registers hold.
    pub fn words(&self) -> Vec<u16> {
        let output = &self.model.output;
        words::encode(self.raw(), output.number, output.order)
    }

    /// The value that it tells, in SI units.
    pub fn value(&self) -> f64 {
        self.value
    }

    pub fn inflict(&mut self, fault: Fault, tanks: &[Tank], air: &Air) {
        match fault {
            Fault::Plugged(side) => {
                if let (Some(tank), Some(line)) = (self.tank(), self.line(side)) {
                    line.plug(&tanks[tank].columns(air), air);
                }
            }
            Fault::LegLost(side, height_m) => self
                .line(side)
                .into_iter()
                .for_each(|line| line.lose(height_m)),
            Fault::Condensate(side, height_m) => {
                self.line(side)
                    .into_iter()
                    .for_each(|line| line.condense(height_m));
            }
            Fault::EqualiserOpen => self.equaliser_open = true,
            Fault::Frozen => self.frozen = true,
            Fault::Failed => self.failed = true,
            Fault::Drift(per_s) => self.drift_per_s = per_s,
        }
    }

    /// Mend it; a height or rate in the fault means nothing here.
    pub fn mend(&mut self, fault: Fault) {
        match fault {
            Fault::Plugged(side) => self.line(side).into_iter().for_each(Line::unplug),
            Fault::LegLost(side, _) => self.line(side).into_iter().for_each(|line| line.lose(0.0)),
            Fault::Condensate(side, _) => self
                .line(side)
                .into_iter()
                .for_each(|line| line.condense(0.0)),
            Fault::EqualiserOpen => self.equaliser_open = false,
            Fault::Frozen => self.frozen = false,
            Fault::Failed => self.failed = false,
            Fault::Drift(_) => (self.drift_per_s, self.drifted) = (0.0, 0.0),
        }
    }

    fn update(&mut self) {
        // The noise is drawn in any case: a fault does not shift what follows it.
        let noise = self.noise.next() * self.model.noise;
        if !self.frozen {
            self.value = self.damped + noise;
        }
    }

    fn raw(&self) -> f64 {
        let output = &self.model.output;
        if self.failed || self.model.senses == Senses::Nothing {
            return output.failure;
        }
        let number = output.unit.from_si(self.value);
        // raw = raw0 + (value − value0)·(raw1 − raw0)/(value1 − value0)
        let raw = match output.scale {
            Some([(raw0, value0), (raw1, value1)]) => {
                raw0 + (number - value0) * (raw1 - raw0) / (value1 - value0)
            }
            None => number,
        };
        output
            .saturates
            .map_or(raw, |(low, high)| raw.clamp(low, high))
    }

    fn flood(&mut self, now: &Standing<'_>) {
        if let Some(tank) = self.tank() {
            let lines = self.lines.iter_mut().flatten();
            lines.for_each(|line| line.flood(&now.columns[tank]));
        }
    }

    fn sensed(&self, now: &Standing<'_>) -> f64 {
        let Standing {
            tanks,
            columns,
            air,
        } = now;
        let port_pa = |tank: usize, side: Side| {
            let line = self.lines[side as usize]
                .as_ref()
                .expect("a pressure transmitter has the lines that it senses by");
            (line.pressure_pa(&columns[tank], air), line.diaphragm_m())
        };
        let truth = match self.model.senses {
            Senses::Gauge { tank, .. } => {
                let (pressure_pa, diaphragm_m) = port_pa(tank, Side::High);
                pressure_pa - air.pressure_pa(diaphragm_m)
            }
            Senses::Absolute { tank, .. } => port_pa(tank, Side::High).0,
            Senses::SealedGauge {
                tank, sealed_at, ..
            } => port_pa(tank, Side::High).0 - sealed_at.0.value,
            Senses::Differential { .. } if self.equaliser_open => 0.0,
            Senses::Differential { tank, .. } => {
                port_pa(tank, Side::High).0 - port_pa(tank, Side::Low).0
            }
            Senses::LiquidTemperature { tank } => tanks[tank].model.liquid_temperature.value,
            Senses::Level { tank } => tanks[tank].level().value,
            Senses::AirTemperature => air.model.temperature.value,
            Senses::AirPressure => air.model.pressure.0.value,
            Senses::Nothing => return 0.0,
        };
        truth + self.model.zero_offset + self.drifted
    }

    fn tank(&self) -> Option<usize> {
        match self.model.senses {
            Senses::Gauge { tank, .. }
            | Senses::Absolute { tank, .. }
            | Senses::SealedGauge { tank, .. }
            | Senses::Differential { tank, .. } => Some(tank),
            _ => None,
        }
    }

    fn line(&mut self, side: Side) -> Option<&mut Line> {
        self.lines[side as usize].as_mut()
    }
}
