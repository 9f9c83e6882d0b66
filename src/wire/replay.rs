//! What a replay came to.

use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The summary of a recording that went through the engine.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct ReplayForm {
    pub rows: u64,
    /// Rows outside of the time that was asked for.
    pub rows_left_out: u64,
    /// Rows so long after the one before that a value went stale in between.
    pub rows_after_a_gap: u64,
    /// Of the first and the last row; null without rows.
    pub from: Option<String>,
    pub to: Option<String>,
    pub span_s: f64,
    /// The recording's last line had no end, so that a number in it may be cut.
    pub last_line_cut: bool,
    /// Columns that stand for no tag of the site, and tags that no column stands for.
    pub columns_ignored: Vec<String>,
    pub tags_missing: Vec<String>,
    pub tanks: Vec<ReplayedTank>,
    /// Those that were annunciated.
    pub alarms: Vec<ReplayedAlarm>,
    /// How many of each kind.
    pub events: BTreeMap<&'static str, u64>,
    pub manual: Vec<ManualForm>,
    /// How long it took, and how many rows that is a second.
    pub took_s: f64,
    pub rows_per_s: f64,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct ReplayedTank {
    pub tank: String,
    /// How many readings were of each quality.
    pub good: u64,
    pub uncertain: u64,
    pub bad: u64,
    pub level_min_m: Option<f64>,
    pub level_min_time: Option<String>,
    pub level_max_m: Option<f64>,
    pub level_max_time: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ReplayedAlarm {
    pub tank: String,
    pub code: String,
    pub annunciated: u64,
    pub first: String,
}

/// Manual readings of one tank against its levels.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ManualForm {
    pub tank: String,
    /// Level less manual reading; null where nothing could be compared.
    pub mean_difference_m: Option<f64>,
    /// level_true = gain · level + offset, by least squares; null below three different levels.
    pub correction: Option<CorrectionForm>,
    pub readings: Vec<ManualReadingForm>,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CorrectionForm {
    pub gain: f64,
    pub gain_standard_error: f64,
    pub offset_m: f64,
    pub offset_standard_error_m: f64,
    /// Standard deviation of what would be left.
    pub residual_m: f64,
    /// The same on top of the site file's own correction, as `correction` takes it; null with several hookups.
    pub site_file_gain: Option<f64>,
    pub site_file_offset_m: Option<f64>,
}

/// One manual reading; what it was compared with is null where no level was known then.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ManualReadingForm {
    pub time: String,
    pub manual_m: f64,
    pub by: Option<String>,
    pub level_m: Option<f64>,
    pub difference_m: Option<f64>,
}
