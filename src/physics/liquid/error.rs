//! What can be wrong with what a site states about a liquid.

/// Rows count from 1, as a person counts them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LiquidError {
    #[error("a density table needs at least two rows")]
    TooFewRows,
    #[error("row {row}: the temperature must be above absolute zero")]
    Temperature { row: usize },
    #[error("row {row}: temperatures must rise from row to row")]
    NotRising { row: usize },
    #[error("row {row}: the density must be greater than zero")]
    Density { row: usize },
    #[error("row {row}: the vapour must be lighter than the liquid")]
    VapourTooDense { row: usize },
    #[error("the uncertainty must be zero or greater")]
    Uncertainty,
    #[error("the share of glycol must lie between 0 % and 60 % by mass")]
    Share,
    #[error("the absolute salinity must lie between 0 g/kg and 42.2 g/kg")]
    Salinity,
    #[error(
        "no petroleum of this group has such a density: at 60 degF crude and refined oils lie between 610.6 kg/m3 and 1163.5 kg/m3, lubricating oils above 800.9 kg/m3"
    )]
    PetroleumDensity,
}
