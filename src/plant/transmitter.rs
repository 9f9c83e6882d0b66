//! A transmitter: what it senses becomes a damped, noisy number in registers, or what a fault makes of it.

use super::STEP;
use super::columns::Columns;
use super::fault::{Fault, Side};
use super::line::Line;
use super::link::LinkFault;
use super::model::{Ranging, Senses, TransmitterModel};
use super::noise::Noise;
use super::pipe::Pipe;
use super::tank::{Air, Tank};
use super::words::Words;

/// Everything that can be sensed at one moment; the columns of each tank are worked out once for all of them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing<'a> {
    pub tanks: &'a [Tank],
    pub columns: &'a [Columns],
    pub pipes: &'a [Pipe],
    pub air: &'a Air,
}

/// How a transmitter says that it has failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Failed {
    High,
    Low,
}

#[derive(Clone, Debug)]
pub(super) struct Transmitter {
    pub model: TransmitterModel,
    lines: [Option<Line>; 2],
    /// By which share the high and low side are joined.
    equaliser: f64,
    /// The outside air as a shut tube has it, Pa.
    reference_pa: Option<f64>,
    frozen: bool,
    failed: Option<Failed>,
    drift_per_s: f64,
    scaled: f64,
    drifted: f64,
    damped: f64,
    /// 1 − e^(−Δt/τ): by how much of what is missing the damped value follows in a step.
    share: f64,
    /// What the noise adds at this step.
    swayed: f64,
    value: f64,
    /// The first word of its number as a gateway that tears it has it.
    held: u16,
    /// Whether anything that it tells hangs on what was: its damping, or what goes on in its lines.
    remembers: bool,
    /// The last look altered nothing: another one at the same would not either.
    rests: bool,
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
            equaliser: 0.0,
            reference_pa: None,
            frozen: false,
            failed: None,
            drift_per_s: 0.0,
            scaled: 1.0,
            drifted: 0.0,
            damped: 0.0,
            swayed: 0.0,
            value: 0.0,
            held: 0,
            remembers: true,
            rests: false,
            noise,
        }
    }

    /// Take the present state at once, as at power-up.
    pub fn settle(&mut self, now: &Standing<'_>) {
        if let Some(tank) = self.tank() {
            let lines = self.lines.iter_mut().flatten();
            lines.for_each(|line| line.settle(&now.columns[tank], now.air));
        }
        self.damped = self.sensed(now);
        self.draw();
        self.tell();
        self.take_stock();
    }

    /// Whether it has to look at each step.
    pub fn remembers(&self) -> bool {
        self.remembers
    }

    /// Whether anything goes on in it while time goes by.
    pub fn is_busy(&self) -> bool {
        self.remembers || self.model.noise != 0.0 || self.drift_per_s != 0.0
    }

    /// Let time go by, where it is busy. `stands_still`: what presses on it is what it was.
    pub fn step(&mut self, seconds: f64, now: &Standing<'_>, stands_still: bool) {
        self.drifted += self.drift_per_s * seconds;
        self.draw();
        if self.remembers && !(stands_still && self.rests) {
            self.look(seconds, now);
            self.take_stock();
        }
    }

    /// What it tells at this moment. One that remembers nothing looks now, which is as good as at each step.
    /// `stands_still`: what presses on it is what it was when it was last asked.
    pub fn sense(&mut self, seconds: f64, now: &Standing<'_>, stands_still: bool) {
        let is_same = stands_still && self.rests;
        if !(self.remembers || is_same) {
            self.look(seconds, now);
        }
        self.tell();
    }

    fn look(&mut self, seconds: f64, now: &Standing<'_>) {
        let before = self.state();
        if let Some(tank) = self.tank() {
            let lines = self.lines.iter_mut().flatten();
            lines.for_each(|line| line.step(seconds, &now.columns[tank], now.air));
        }
        let sensed = self.sensed(now);
        match self.share < 1.0 {
            // First order: y ← y + (x − y)·(1 − e^(−Δt/τ)), exact while x stands still.
            true => self.damped += (sensed - self.damped) * self.share,
            false => self.damped = sensed,
        }
        self.rests = before == self.state() && self.drift_per_s == 0.0;
    }

    /// What it goes on from, to the bit.
    fn state(&self) -> [u64; 3] {
        let pressure = |side: Side| {
            let line = self.lines[side as usize].as_ref();
            line.map_or(0, |line| line.pressure_pa().to_bits())
        };
        [
            pressure(Side::High),
            pressure(Side::Low),
            self.damped.to_bits(),
        ]
    }

    /// Something was done to it, or went on in it.
    fn take_stock(&mut self) {
        self.remembers = self.share < 1.0 || self.lines.iter().flatten().any(Line::remembers);
    }

    /// What its registers hold.
    pub fn words(&self) -> Words {
        let output = &self.model.output;
        Words::of(self.raw(), output.number, output.order)
    }

    /// What of them comes through a link.
    pub fn words_through(&self, fault: Option<LinkFault>) -> Words {
        let mut told = self.words();
        let words = told.all_mut();
        match fault {
            Some(LinkFault::Swapped) => words.reverse(),
            // Of a number of one word nothing can be torn off.
            Some(LinkFault::Torn(_)) if words.len() > 1 => words[0] = self.held,
            _ => {}
        }
        told
    }

    /// What a gateway shows of it until the next time.
    pub fn hold_first_word(&mut self) {
        self.held = self.words().all()[0];
    }

    /// The value that it tells, in SI units.
    pub fn value(&self) -> f64 {
        self.value
    }

    pub fn inflict(&mut self, fault: Fault, now: &Standing<'_>) {
        let columns = self.tank().map(|tank| &now.columns[tank]);
        let mut at = |side: Side, act: &dyn Fn(&mut Line, &Columns)| {
            if let (Some(columns), Some(line)) = (columns, self.lines[side as usize].as_mut()) {
                act(line, columns);
            }
        };
        match fault {
            Fault::Plugged(side) => at(side, &|line, columns| line.plug(0.0, columns)),
            Fault::PluggedStiff(side, stiffness_pa) => {
                at(side, &|line, columns| line.plug(stiffness_pa, columns));
            }
            Fault::Lag(side, time_s) => at(side, &|line, _| line.lag(time_s)),
            Fault::Freezes(side, below_k) => at(side, &|line, _| line.freeze_below(Some(below_k))),
            Fault::LegLost(side, height_m) => at(side, &|line, _| line.lose(height_m)),
            Fault::Overfilled(side, height_m) => at(side, &|line, _| line.overfill(height_m)),
            Fault::Condensate(side, height_m) => at(side, &|line, _| line.condense(height_m)),
            Fault::Gas(side, height_m) => at(side, &|line, _| line.gas(height_m)),
            Fault::PurgeLost(time_s) => at(Side::High, &|line, _| line.lose_purge(Some(time_s))),
            Fault::TubePlugged(creep_pa_s) => at(Side::High, &|line, columns| {
                line.plug_under_purge(creep_pa_s, columns);
            }),
            Fault::Equaliser(passing) => self.equaliser = passing,
            Fault::ReferenceBlocked => {
                self.reference_pa = self.diaphragm_m().map(|at_m| now.air.pressure_pa(at_m));
            }
            Fault::Frozen => self.frozen = true,
            Fault::Failed => self.failed = Some(Failed::High),
            Fault::FailedLow => self.failed = Some(Failed::Low),
            Fault::Drift(per_s) => self.drift_per_s = per_s,
            Fault::Scaled(times) => self.scaled = times,
        }
        self.rests = false;
        self.take_stock();
    }

    /// Mend it; a height, time or rate in the fault means nothing here.
    pub fn mend(&mut self, fault: Fault) {
        let mut at = |side: Side, act: &dyn Fn(&mut Line)| {
            self.lines[side as usize].iter_mut().for_each(act);
        };
        match fault {
            Fault::Plugged(side) | Fault::PluggedStiff(side, _) => at(side, &Line::unplug),
            Fault::TubePlugged(_) => at(Side::High, &Line::unplug),
            Fault::Lag(side, _) => at(side, &|line| line.lag(0.0)),
            Fault::Freezes(side, _) => at(side, &|line| line.freeze_below(None)),
            Fault::LegLost(side, _) => at(side, &|line| line.lose(0.0)),
            Fault::Overfilled(side, _) => at(side, &|line| line.overfill(0.0)),
            Fault::Condensate(side, _) => at(side, &|line| line.condense(0.0)),
            Fault::Gas(side, _) => at(side, &|line| line.gas(0.0)),
            Fault::PurgeLost(_) => at(Side::High, &|line| line.lose_purge(None)),
            Fault::Equaliser(_) => self.equaliser = 0.0,
            Fault::ReferenceBlocked => self.reference_pa = None,
            Fault::Frozen => self.frozen = false,
            Fault::Failed | Fault::FailedLow => self.failed = None,
            Fault::Drift(_) => (self.drift_per_s, self.drifted) = (0.0, 0.0),
            Fault::Scaled(_) => self.scaled = 1.0,
        }
        self.rests = false;
        self.take_stock();
    }

    /// The noise is drawn at each step: a fault does not shift what follows it.
    fn draw(&mut self) {
        if self.model.noise != 0.0 {
            self.swayed = self.noise.next() * self.model.noise;
        }
    }

    fn tell(&mut self) {
        if !self.frozen {
            let value = (self.damped + self.swayed) * self.scaled;
            let step = self.model.resolution;
            self.value = match step > 0.0 {
                true => (value / step).round() * step,
                false => value,
            };
        }
    }

    fn raw(&self) -> f64 {
        let output = &self.model.output;
        match (self.failed, &self.model.senses) {
            (Some(Failed::Low), _) => return output.failure_low.unwrap_or(output.failure),
            (Some(Failed::High), _) | (_, Senses::Nothing) => return output.failure,
            (None, _) => {}
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

    fn sensed(&self, now: &Standing<'_>) -> f64 {
        let Standing { tanks, air, .. } = now;
        let port_pa = |side: Side| {
            let line = self.lines[side as usize]
                .as_ref()
                .expect("a pressure transmitter has the lines that it senses by");
            line.pressure_pa()
        };
        let outside_pa = || {
            let here = |at_m| air.pressure_pa(at_m);
            self.reference_pa
                .or_else(|| self.diaphragm_m().map(here))
                .expect("a gauge transmitter has a diaphragm")
        };
        let truth = match self.model.senses {
            Senses::Gauge { .. } => port_pa(Side::High) - outside_pa(),
            Senses::Absolute { .. } => port_pa(Side::High),
            Senses::SealedGauge { sealed_at, .. } => port_pa(Side::High) - sealed_at.0.value,
            // What passes from the one side to the other takes its share of the difference.
            Senses::Differential { .. } => {
                (port_pa(Side::High) - port_pa(Side::Low)) * (1.0 - self.equaliser)
            }
            Senses::LiquidTemperature { tank } => tanks[tank].model.liquid_temperature.value,
            Senses::LiquidDensity { tank } => now.columns[tank].liquid_kg_m3,
            Senses::Level { tank, ranging } => {
                ranged(ranging, tanks[tank].level().value, &now.columns[tank])
            }
            Senses::Inflow { tank } => tanks[tank].inflow_m3_s(),
            Senses::Outflow { tank } => tanks[tank].outflow_m3_s(),
            Senses::PipeFlow { pipe } => now.pipes[pipe].flow_m3_s,
            Senses::AirTemperature => air.model.temperature.value,
            Senses::AirPressure => air.model.pressure.0.value,
            Senses::Nothing => return 0.0,
        };
        truth * (1.0 + self.model.span_error) + self.model.zero_offset + self.drifted
    }

    /// The tank whose columns it looks at.
    pub fn tank(&self) -> Option<usize> {
        match self.model.senses {
            Senses::Gauge { tank, .. }
            | Senses::Absolute { tank, .. }
            | Senses::SealedGauge { tank, .. }
            | Senses::Differential { tank, .. }
            | Senses::LiquidDensity { tank }
            | Senses::Level { tank, .. } => Some(tank),
            _ => None,
        }
    }

    fn diaphragm_m(&self) -> Option<f64> {
        self.lines[Side::High as usize]
            .as_ref()
            .map(Line::diaphragm_m)
    }
}

/// What a level transmitter makes of the liquid, in metres or as a share of its range.
fn ranged(ranging: Ranging, level_m: f64, columns: &Columns) -> f64 {
    let zero_m = ranging.zero.value;
    let shown_m = match ranging.ranged_for {
        None => level_m,
        // h = z₀ + (p(z₀) − p_gas(z₀))/(ρ_ranged·g)
        Some(density) => {
            let felt_pa = columns.pressure_pa(zero_m) - columns.gas_pressure_pa(zero_m);
            zero_m + felt_pa / (density.value * columns.gravity_m_s2)
        }
    };
    match ranging.full {
        Some(full) => (shown_m - zero_m) / (full.value - zero_m),
        None => shown_m,
    }
}
