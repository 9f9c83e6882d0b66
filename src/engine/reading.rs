//! A reading: what is known of one tank at one moment, with quality and reasons.

use super::forecast::Forecast;
use super::quality::{Quality, Reasons};
use crate::physics::balance::Terms;
use crate::quantity::{
    DifferentialPressure, Length, Mass, MassDensity, Temperature, Time, Timestamp, Velocity,
    Volume, VolumeRate,
};

/// Levels count from the site's zero. What is not known is `None` with a reason; never a clamped number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Counts the tank's readings since the start.
    pub number: u64,
    pub time: Timestamp,
    pub quality: Quality,
    pub reasons: Reasons,
    pub level: Option<Length>,
    /// One-sided knowledge where the level itself is not known.
    pub level_at_least: Option<Length>,
    pub level_at_most: Option<Length>,
    /// The boundary of two liquids, where it is measured beside the level.
    pub interface: Option<Length>,
    /// Share of the working volume, 0 to 1; may leave it.
    pub fill: Option<f64>,
    pub volume: Option<Volume>,
    /// At the liquid's base temperature, where its kind has one.
    pub standard_volume: Option<Volume>,
    pub usable: Option<Volume>,
    pub ullage: Option<Volume>,
    pub mass: Option<Mass>,
    pub density: Option<MassDensity>,
    pub temperature: Option<Temperature>,
    /// Of the level, and what it means in volume.
    pub rate: Option<Velocity>,
    pub rate_standard_error: Option<Velocity>,
    pub net_flow: Option<VolumeRate>,
    /// When the next limit in the direction of travel is reached; none where that means nothing.
    pub next_limit: Option<Forecast>,
    /// Until the overflow mark, or the vessel's top; none while the level does not clearly rise.
    pub time_to_overflow: Option<Time>,
    /// Port to port, as the balance takes it: high minus low.
    pub differential_pressure: Option<DifferentialPressure>,
    /// k = 2.
    pub level_uncertainty: Option<Length>,
    pub volume_uncertainty: Option<Volume>,
    pub mass_uncertainty: Option<Mass>,
    pub terms: Option<Terms>,
}
