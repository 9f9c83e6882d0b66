//! Rounds: what people see at the sight glass or by tape, against the reading of that moment.
//!
//! What always holds: an entry is journalled and remembered in one step; it changes no reading (a correction is
//! applied by a person, in the site file); what is charted can be worked out anew from what is remembered.

pub mod chart;
pub mod drift;
mod enter;
mod entry;
pub mod held;
mod judge;
mod suggest;
mod watch;

pub use drift::{Charted, Side};
pub(super) use enter::comparable;
pub use entry::{EntryRefusal, Looked, NewEntry, SeenAt, Surface};
pub use suggest::Suggestion;

use super::checks::finding::{Ability, Finding};
use super::memory::{ComparedMemory, DriftMemory, EntryMemory, RoundsMemory};
use super::plan::{Correction, TankPlan};
use super::tank::Working;
use crate::engine::checks::cusum;
use crate::quantity::{Timestamp, metres};
use drift::Residual;
use held::HeldReadings;
use std::sync::Arc;
use std::time::Duration;

/// The newest entries are remembered one by one: three weeks of rounds every eight hours.
pub const REMEMBERED: usize = 64;
/// How far apart rounds are taken to be where neither the site file nor entries say it.
const DAILY_S: f64 = 86_400.0;

/// The rounds of one tank.
#[derive(Clone, Debug)]
pub struct Rounds {
    memory: RoundsMemory,
    pub held: HeldReadings,
    /// The chart as far as the newest entry.
    drift: DriftMemory,
    view: Arc<RoundsView>,
}

/// What outlets and people may see of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoundsView {
    /// How often an entry is due, and when the next one is.
    pub every: Option<Duration>,
    pub due: Option<Timestamp>,
    pub overdue: bool,
    /// The newest entries, in the order of their times.
    pub rows: Vec<RowView>,
    /// Of the present series, since the reading was last made incomparable with what it was.
    pub chart: ChartView,
    /// One a hookup; none of fewer than three entries.
    pub suggestions: Vec<Suggestion>,
}

/// One entry with what the chart makes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct RowView {
    pub entry: EntryMemory,
    /// The reading of that moment with the correction of today, and what it was above the entry.
    pub reading_m: Option<f64>,
    pub residual_m: Option<f64>,
    pub charted: Option<Charted>,
}

/// How the chart stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ChartView {
    /// Compared entries in it.
    pub entries: u32,
    /// How far apart they are taken to be, s.
    pub every_s: f64,
    pub decision_interval: f64,
    /// So many entries of a healthy tank give one false signal on average: of the CUSUM, of the EWMA.
    pub run_length: f64,
    pub ewma_run_length: f64,
    /// What is normal: residual = zero + gain·head.
    pub zero_m: f64,
    pub gain: f64,
    pub signal: Option<Side>,
}

impl Rounds {
    pub fn new(tank: &TankPlan, now: Timestamp) -> Self {
        Self::of(
            tank,
            RoundsMemory {
                since: now,
                entries: Vec::new(),
                before: DriftMemory::default(),
                anew: None,
                overdue_told: false,
            },
        )
    }

    fn of(tank: &TankPlan, memory: RoundsMemory) -> Self {
        let (view, drift) = worked_out(tank, &memory);
        Self {
            memory,
            held: HeldReadings::default(),
            drift,
            view: Arc::new(view),
        }
    }

    pub fn view(&self) -> &Arc<RoundsView> {
        &self.view
    }

    pub fn finding(&self, tank: &TankPlan, workings: &[Working]) -> Option<Finding> {
        judge::finding(&self.view, &self.drift, tank, workings)
    }

    pub fn ability(&self) -> Ability {
        judge::ability(&self.view)
    }

    /// Adds an entry at its place in time; the oldest ones go into the chart that is remembered as a whole.
    fn add(&mut self, tank: &TankPlan, mut entry: EntryMemory) {
        let entries = &mut self.memory.entries;
        let place = entries.partition_point(|earlier| earlier.time <= entry.time);
        if self.memory.anew.is_some_and(|anew| anew <= entry.time) {
            entry.begins = true;
            self.memory.anew = None;
        }
        entries.insert(place, entry);
        let h = decision_interval(tank, &self.memory);
        while self.memory.entries.len() > REMEMBERED {
            let oldest = self.memory.entries.remove(0);
            row(tank, oldest, &mut self.memory.before, h);
        }
        self.memory.overdue_told = false;
        self.work_out(tank);
    }

    fn work_out(&mut self, tank: &TankPlan) {
        let (view, drift) = worked_out(tank, &self.memory);
        (self.view, self.drift) = (Arc::new(view), drift);
    }
}

fn worked_out(tank: &TankPlan, memory: &RoundsMemory) -> (RoundsView, DriftMemory) {
    let mut drift = memory.before.clone();
    let every_s = interval_s(tank, memory);
    let h = chart::decision_interval(every_s);
    let entries = memory.entries.iter();
    let rows: Vec<RowView> = entries
        .map(|entry| row(tank, entry.clone(), &mut drift, h))
        .collect();
    if memory.anew.is_some() {
        drift = DriftMemory::default();
    }
    let chart = ChartView {
        entries: drift.entries,
        every_s,
        decision_interval: h,
        run_length: cusum::run_length_both(chart::K, h),
        ewma_run_length: chart::EWMA_RUN,
        zero_m: drift.zero_m,
        gain: drift.gain,
        signal: drift.side(),
    };
    let view = RoundsView {
        every: tank.rounds.every,
        due: watch::due(tank, memory),
        overdue: memory.overdue_told,
        suggestions: suggest::suggestions(tank, of_series(&rows, memory), &drift),
        rows,
        chart,
    };
    (view, drift)
}

/// The rows of the present series.
fn of_series<'a>(rows: &'a [RowView], memory: &RoundsMemory) -> &'a [RowView] {
    if memory.anew.is_some() {
        return &[];
    }
    let begins = rows.iter().rposition(|row| row.entry.begins);
    &rows[begins.unwrap_or(0)..]
}

/// Takes one entry into the chart.
fn row(tank: &TankPlan, entry: EntryMemory, drift: &mut DriftMemory, h: f64) -> RowView {
    if entry.begins {
        *drift = DriftMemory::default();
    }
    let reading_m = entry.reading.map(|reading| corrected_m(tank, &reading));
    let residual_m = reading_m.map(|reading_m| reading_m - entry.level_m);
    let charted = entry.reading.zip(residual_m).map(|(reading, residual_m)| {
        let residual = Residual {
            residual_m,
            head_m: reading.head_m,
            entry_sigma_m: entry.sigma_m,
            reading_sigma_m: reading.sigma_m,
            gain_sigma: reading.gain_sigma,
        };
        drift.take(&residual, h)
    });
    RowView {
        entry,
        reading_m,
        residual_m,
        charted,
    }
}

/// The correction that a reading has, where one hookup makes it.
fn correction(tank: &TankPlan) -> Option<&Correction> {
    match &tank.hookups[..] {
        [only] => Some(&only.correction),
        _ => None,
    }
}

/// What was read then, with the correction of today.
fn corrected_m(tank: &TankPlan, reading: &ComparedMemory) -> f64 {
    match correction(tank) {
        Some(correction) => correction.applied(metres(reading.uncorrected_m)).value,
        None => reading.level_m,
    }
}

/// How far apart the rounds are, s: as the site file says, else the median of the newest entries.
fn interval_s(tank: &TankPlan, memory: &RoundsMemory) -> f64 {
    if let Some(every) = tank.rounds.every {
        return every.as_secs_f64();
    }
    let newest = &memory.entries[memory.entries.len().saturating_sub(11)..];
    let mut gaps: Vec<f64> = newest
        .windows(2)
        .map(|pair| (pair[1].time.duration_since(pair[0].time)).as_secs_f64())
        .collect();
    if gaps.len() < 2 {
        return DAILY_S;
    }
    gaps.sort_by(f64::total_cmp);
    gaps[gaps.len() / 2].max(1.0)
}

fn decision_interval(tank: &TankPlan, memory: &RoundsMemory) -> f64 {
    chart::decision_interval(interval_s(tank, memory))
}
