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
    #[error("the uncertainty must be zero or greater")]
    Uncertainty,
}
