//! A tank's reading: what `convert --json` answers, plus its time and number.

use super::quality::{self, QualityForm};
use super::{known, time};
use crate::engine::Reading;
use crate::engine::forecast::Forecast;
use crate::engine::snapshot::{Budget, CorrectionView, TankView};
use crate::quantity::ZERO_CELSIUS_K;
use schemars::JsonSchema;
use serde::Serialize;

/// Coverage factor of every uncertainty that goes out (k = 2, JCGM 100:2008, 6.2).
const COVERAGE: u32 = 2;

/// One reading of a tank. Levels count from the site's zero; what is not known is null.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "reading")]
pub struct ReadingForm {
    pub tank: String,
    /// Counts the tank's readings since the start of the program.
    pub number: u64,
    #[schemars(extend("format" = "date-time"))]
    pub time: String,
    pub quality: QualityForm,
    /// OPC UA status code of the worst reason.
    pub quality_code: &'static str,
    #[schemars(schema_with = "quality::reasons_schema")]
    pub reasons: Vec<&'static str>,
    /// What is in the tank, where the site file leaves a choice.
    pub product: Option<String>,
    /// Whether a correction by hand is in the level, who found it, and the last day that it is good for.
    pub corrected: bool,
    pub corrected_by: Option<String>,
    #[schemars(extend("format" = "date"))]
    pub corrected_until: Option<String>,
    pub level_m: Option<f64>,
    /// One-sided knowledge where the level itself is not known.
    pub level_at_least_m: Option<f64>,
    pub level_at_most_m: Option<f64>,
    /// Boundary of two liquids, where it is measured beside the level.
    pub interface_m: Option<f64>,
    /// Share of the working volume; may leave 0 to 100.
    pub fill_percent: Option<f64>,
    pub volume_m3: Option<f64>,
    /// At the liquid's base temperature, where its kind has one.
    pub standard_volume_m3: Option<f64>,
    pub usable_m3: Option<f64>,
    pub ullage_m3: Option<f64>,
    pub mass_kg: Option<f64>,
    pub density_kg_m3: Option<f64>,
    pub temperature_degc: Option<f64>,
    /// Of the level; rising is positive.
    pub rate_m_s: Option<f64>,
    /// Standard error of the rate.
    pub rate_standard_error_m_s: Option<f64>,
    /// What the rate means in volume; filling is positive.
    pub net_flow_m3_s: Option<f64>,
    /// When the next limit in the direction of travel is reached; null where that means nothing.
    pub next_limit: Option<NextLimitForm>,
    /// Until the overflow mark, or the vessel's top; null while the level does not clearly rise.
    pub time_to_overflow_s: Option<f64>,
    /// High minus low, port to port.
    pub differential_pressure_pa: Option<f64>,
    pub uncertainty: UncertaintyForm,
    /// The columns of the pressure balance; they add up to the differential pressure.
    pub terms_pa: Option<TermsForm>,
}

/// Expanded uncertainty and where it comes from.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "uncertainty")]
pub struct UncertaintyForm {
    /// Coverage factor k.
    pub coverage: u32,
    pub level_m: Option<f64>,
    pub volume_m3: Option<f64>,
    pub mass_kg: Option<f64>,
    /// Largest part first; the whole is the root of the sum of squares.
    pub budget: Vec<BudgetLine>,
}

/// One input's part of the uncertainty of level, volume and mass.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "budget_line")]
pub struct BudgetLine {
    pub input: &'static str,
    pub level_m: Option<f64>,
    pub volume_m3: Option<f64>,
    pub mass_kg: Option<f64>,
}

#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "terms")]
pub struct TermsForm {
    #[serde(rename = "liquid column")]
    pub liquid_column: Option<f64>,
    #[serde(rename = "gas column")]
    pub gas_column: Option<f64>,
    #[serde(rename = "high leg")]
    pub high_leg: Option<f64>,
    #[serde(rename = "low leg")]
    pub low_leg: Option<f64>,
}

/// A limit ahead, if what flows now goes on flowing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NextLimitForm {
    pub level_m: Option<f64>,
    pub rises: bool,
    pub after_s: Option<f64>,
    pub at_least_s: Option<f64>,
    /// Null where it may not be reached at all.
    pub at_most_s: Option<f64>,
}

impl NextLimitForm {
    fn new(forecast: &Forecast) -> Self {
        Self {
            level_m: known(forecast.limit.value),
            rises: forecast.rises,
            after_s: known(forecast.after.value),
            at_least_s: known(forecast.at_least.value),
            at_most_s: forecast.at_most.and_then(|time| known(time.value)),
        }
    }
}

impl ReadingForm {
    pub fn of(tank: &TankView) -> Self {
        let product = tank.product.as_deref();
        Self::new(
            &tank.name,
            product,
            tank.corrected.as_ref(),
            (&tank.reading, &tank.budget),
        )
    }

    pub fn new(
        tank: &str,
        product: Option<&str>,
        corrected: Option<&CorrectionView>,
        (reading, budget): (&Reading, &Budget),
    ) -> Self {
        // Without a pressure there is no reading: a density by itself would look like one.
        let measured = reading.differential_pressure.is_some();
        Self {
            tank: tank.to_owned(),
            number: reading.number,
            time: time(reading.time),
            quality: reading.quality.into(),
            quality_code: quality::code(reading.quality, reading.reasons),
            reasons: quality::texts(reading.reasons),
            product: product.map(str::to_owned),
            corrected: corrected.is_some(),
            corrected_by: corrected
                .and_then(|corrected| corrected.by.as_deref())
                .map(str::to_owned),
            corrected_until: corrected
                .and_then(|corrected| corrected.until)
                .map(|until| until.to_string()),
            level_m: reading.level.and_then(|level| known(level.value)),
            level_at_least_m: reading.level_at_least.and_then(|level| known(level.value)),
            level_at_most_m: reading.level_at_most.and_then(|level| known(level.value)),
            interface_m: reading.interface.and_then(|level| known(level.value)),
            fill_percent: reading.fill.and_then(|share| known(100.0 * share)),
            volume_m3: reading.volume.and_then(|volume| known(volume.value)),
            standard_volume_m3: reading
                .standard_volume
                .and_then(|volume| known(volume.value)),
            usable_m3: reading.usable.and_then(|volume| known(volume.value)),
            ullage_m3: reading.ullage.and_then(|volume| known(volume.value)),
            mass_kg: reading.mass.and_then(|mass| known(mass.value)),
            density_kg_m3: reading
                .density
                .filter(|_| measured)
                .and_then(|density| known(density.value)),
            temperature_degc: reading
                .temperature
                .filter(|_| measured)
                .and_then(|temperature| known(temperature.value - ZERO_CELSIUS_K)),
            rate_m_s: reading.rate.and_then(|rate| known(rate.value)),
            rate_standard_error_m_s: reading
                .rate_standard_error
                .and_then(|rate| known(rate.value)),
            time_to_overflow_s: reading.time_to_overflow.and_then(|time| known(time.value)),
            next_limit: reading.next_limit.as_ref().map(NextLimitForm::new),
            net_flow_m3_s: reading.net_flow.and_then(|flow| known(flow.value)),
            differential_pressure_pa: reading
                .differential_pressure
                .and_then(|difference| known(difference.0.value)),
            uncertainty: UncertaintyForm::new(reading, budget),
            terms_pa: reading.terms.map(|terms| TermsForm {
                liquid_column: known(terms.liquid_column.0.value),
                gas_column: known(terms.gas_column.0.value),
                high_leg: known(terms.high_leg.0.value),
                low_leg: known(terms.low_leg.0.value),
            }),
        }
    }
}

impl UncertaintyForm {
    fn new(reading: &Reading, budget: &Budget) -> Self {
        Self {
            coverage: COVERAGE,
            level_m: reading
                .level_uncertainty
                .and_then(|level| known(level.value)),
            volume_m3: reading
                .volume_uncertainty
                .and_then(|volume| known(volume.value)),
            mass_kg: reading.mass_uncertainty.and_then(|mass| known(mass.value)),
            budget: budget
                .lines()
                .iter()
                .map(|line| BudgetLine {
                    input: line.input,
                    level_m: known(line.level.value),
                    volume_m3: known(line.volume.value),
                    mass_kg: known(line.mass.value),
                })
                .collect(),
        }
    }
}
