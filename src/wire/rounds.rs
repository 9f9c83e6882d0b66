//! Sight-glass entries and dips: how they come in, and how rounds go out.

use super::time;
use crate::engine::Command;
use crate::engine::command::{Looked, NewEntry, SeenAt, Surface};
use crate::engine::snapshot::{Charted, EntryWay, RoundsView, RowView, Side, Suggestion, TankView};
use crate::quantity::{Timestamp, kilograms_per_cubic_metre, metres};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What the sight glass of a tank shows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SightForm {
    pub tank: String,
    /// By the glass's own scale.
    pub level_m: f64,
    #[serde(default)]
    pub blown_down: bool,
    /// When it was seen; now if null.
    #[serde(default)]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    pub at: Option<Timestamp>,
    /// k = 2.
    #[serde(default)]
    pub uncertainty_m: Option<f64>,
    /// Who saw it, where that is not who enters it.
    #[serde(default)]
    pub reader: Option<String>,
    #[serde(default)]
    pub by: String,
}

/// What a tape says: one of innage and ullage.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DipForm {
    pub tank: String,
    #[serde(default)]
    pub innage_m: Option<f64>,
    #[serde(default)]
    pub ullage_m: Option<f64>,
    #[serde(default)]
    pub water_cut_m: Option<f64>,
    #[serde(default)]
    pub density_kg_m3: Option<f64>,
    /// When it was seen; now if null.
    #[serde(default)]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    pub at: Option<Timestamp>,
    /// k = 2.
    #[serde(default)]
    pub uncertainty_m: Option<f64>,
    /// Who saw it, where that is not who enters it.
    #[serde(default)]
    pub reader: Option<String>,
    #[serde(default)]
    pub by: String,
}

impl SightForm {
    pub fn command(self) -> Command {
        Command::Enter {
            tank: self.tank,
            entry: NewEntry {
                looked: Looked::Sight {
                    level: metres(self.level_m),
                    blown_down: self.blown_down,
                },
                seen: seen(self.at),
                uncertainty: self.uncertainty_m.map(metres),
            },
            reader: named(self.reader),
            by: self.by.into(),
        }
    }
}

impl DipForm {
    pub fn command(self) -> Command {
        let surface = match (self.innage_m, self.ullage_m) {
            (None, Some(ullage)) => Surface::Ullage(metres(ullage)),
            // Both, or neither, are no measurement.
            (innage, _) => Surface::Innage(metres(innage.unwrap_or(f64::NAN))),
        };
        Command::Enter {
            tank: self.tank,
            entry: NewEntry {
                looked: Looked::Dip {
                    surface,
                    water_cut: self.water_cut_m.map(metres),
                    density: self.density_kg_m3.map(kilograms_per_cubic_metre),
                },
                seen: seen(self.at),
                uncertainty: self.uncertainty_m.map(metres),
            },
            reader: named(self.reader),
            by: self.by.into(),
        }
    }
}

/// An empty name is none.
fn named(reader: Option<String>) -> Option<Arc<str>> {
    let reader = reader.as_deref().map(str::trim)?;
    (!reader.is_empty()).then(|| reader.into())
}

fn seen(at: Option<Timestamp>) -> SeenAt {
    at.map_or(SeenAt::Now, SeenAt::At)
}

/// How the rounds of a tank stand.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "rounds")]
pub struct RoundsForm {
    /// How often an entry is due; null: whenever somebody sees fit.
    pub every_s: Option<f64>,
    #[schemars(extend("format" = "date-time"))]
    pub due: Option<String>,
    pub overdue: bool,
    /// The newest entry.
    pub last: Option<EntryForm>,
    pub chart: ChartForm,
    /// The correction that the entries suggest; null of fewer than three, and where the tank has several hookups. It is
    /// applied by a person, in the site file.
    pub suggestion: Option<SuggestionForm>,
    /// Of several hookups those of each.
    pub suggestions: Vec<SuggestionForm>,
}

/// The same with the newest entries one by one.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "entries")]
pub struct EntriesForm {
    pub tank: String,
    pub entries: Vec<EntryForm>,
    pub rounds: RoundsForm,
}

/// What somebody saw, against the reading of that moment.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "entry")]
pub struct EntryForm {
    #[schemars(extend("format" = "date-time"))]
    pub time: String,
    pub by: String,
    /// Who saw it, where that is not who entered it.
    pub reader: Option<String>,
    /// "sight" or "dip".
    pub way: &'static str,
    /// The tank's level by it, and its uncertainty (k = 2).
    pub level_m: f64,
    pub uncertainty_m: f64,
    pub blown_down: bool,
    pub water_cut_m: Option<f64>,
    pub density_kg_m3: Option<f64>,
    /// With the correction of today; null where no reading of that moment is known.
    pub reading_m: Option<f64>,
    pub reading_uncertainty_m: Option<f64>,
    /// Reading − entry.
    pub residual_m: Option<f64>,
    /// The reading is not comparable with that of the entries before.
    pub begins: bool,
    pub charted: Option<ChartedForm>,
}

/// What the chart makes of an entry.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "charted")]
pub struct ChartedForm {
    /// Standard deviation (k = 1) of what the earlier entries foretell and this one.
    pub sigma_m: f64,
    /// The residual freed of what it shares with earlier ones, in standard deviations.
    pub z: f64,
    pub cusum_high: f64,
    pub cusum_low: f64,
    pub ewma: f64,
    pub ewma_limit: f64,
    /// "high" or "low" while a signal stands.
    pub signal: Option<&'static str>,
}

/// How the chart stands.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "chart")]
pub struct ChartForm {
    pub entries: u32,
    /// How far apart they are taken to be.
    pub every_s: f64,
    pub decision_interval: f64,
    /// So many entries of a healthy tank give one false signal on average: by CUSUM, by EWMA.
    pub run_length: f64,
    pub ewma_run_length: f64,
    pub signal: Option<&'static str>,
}

/// A correction for the site file.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "suggestion")]
pub struct SuggestionForm {
    /// Which one it is for, where the tank has several.
    pub hookup: Option<String>,
    pub entries: usize,
    pub gain: f64,
    /// Null where the entries are too alike in level, and the gain is taken to be 1.
    pub gain_standard_error: Option<f64>,
    pub offset_m: f64,
    pub offset_standard_error_m: f64,
    /// Standard deviation of what is left.
    pub left_m: f64,
    /// Whether it is more than its own errors from what is in force.
    pub worth_it: bool,
    /// A key of the tank's hookup in the site file.
    pub text: String,
}

impl RoundsForm {
    pub fn new(rounds: &RoundsView) -> Self {
        let chart = &rounds.chart;
        let suggested = |of_several: bool| {
            let all = rounds.suggestions.iter();
            let them = all.filter(move |one| one.hookup.is_some() == of_several);
            them.map(SuggestionForm::new)
        };
        Self {
            every_s: rounds.every.map(|every| every.as_secs_f64()),
            due: rounds.due.map(time),
            overdue: rounds.overdue,
            last: rounds.rows.last().map(EntryForm::new),
            chart: ChartForm {
                entries: chart.entries,
                every_s: chart.every_s,
                decision_interval: chart.decision_interval,
                run_length: chart.run_length,
                ewma_run_length: chart.ewma_run_length,
                signal: chart.signal.map(side),
            },
            suggestion: suggested(false).next(),
            suggestions: suggested(true).collect(),
        }
    }
}

impl EntriesForm {
    pub fn new(tank: &TankView) -> Self {
        Self {
            tank: tank.name.to_string(),
            entries: tank.rounds.rows.iter().map(EntryForm::new).collect(),
            rounds: RoundsForm::new(&tank.rounds),
        }
    }
}

impl EntryForm {
    fn new(row: &RowView) -> Self {
        let entry = &row.entry;
        Self {
            time: time(entry.time),
            by: entry.by.to_string(),
            reader: entry.reader.as_deref().map(str::to_owned),
            way: match entry.way {
                EntryWay::Sight => "sight",
                EntryWay::Dip => "dip",
            },
            level_m: entry.level_m,
            uncertainty_m: 2.0 * entry.sigma_m,
            blown_down: entry.blown_down,
            water_cut_m: entry.water_cut_m,
            density_kg_m3: entry.density_kg_m3,
            reading_m: row.reading_m,
            reading_uncertainty_m: entry.reading.map(|reading| 2.0 * reading.sigma_m),
            residual_m: row.residual_m,
            begins: entry.begins,
            charted: row.charted.map(ChartedForm::new),
        }
    }
}

impl ChartedForm {
    fn new(charted: Charted) -> Self {
        Self {
            sigma_m: charted.sigma_m,
            z: charted.z,
            cusum_high: charted.high,
            cusum_low: charted.low,
            ewma: charted.ewma,
            ewma_limit: charted.ewma_limit,
            signal: charted.signal.map(side),
        }
    }
}

impl SuggestionForm {
    fn new(suggestion: &Suggestion) -> Self {
        Self {
            hookup: suggestion.hookup.as_ref().map(ToString::to_string),
            entries: suggestion.entries,
            gain: suggestion.gain,
            gain_standard_error: suggestion.gain_standard_error,
            offset_m: suggestion.offset_m,
            offset_standard_error_m: suggestion.offset_standard_error_m,
            left_m: suggestion.left_m,
            worth_it: suggestion.worth_it,
            text: suggestion.text.clone(),
        }
    }
}

fn side(side: Side) -> &'static str {
    match side {
        Side::High => "high",
        Side::Low => "low",
    }
}
