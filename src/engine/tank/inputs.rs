//! What one level is worked out from: the balance, the difference, and the column that measures a density.
//!
//! Moving one of these and working the level out again is how the uncertainty budget finds each
//! sensitivity, so it holds everything that enters the level, and nothing twice.

use crate::physics::balance::Balance;
use crate::physics::column::Column;
use crate::quantity::{DifferentialPressure, Length};

#[derive(Clone, Copy, Debug)]
pub struct Inputs {
    pub balance: Balance,
    pub difference: DifferentialPressure,
    /// The density is measured by this column; its lower leg is the balance's high one.
    pub column: Option<Column>,
}

impl Inputs {
    /// The balance with the density that was measured, where it was.
    pub fn balance(&self) -> Balance {
        let mut balance = self.balance;
        if let Some(column) = self.column {
            let lower = balance.high;
            balance.liquid = Column { lower, ..column }.density(balance.gravity);
        }
        balance
    }

    pub fn level(&self) -> Length {
        self.balance().solve(self.difference)
    }
}
