//! Checks against numbers from outside: each row of `data/` carries its source and its tolerance.

mod densities;
mod fluids;
mod gravity;
mod petroleum;
mod pressure_units;
mod registers;
mod rows;
mod steam;
mod units;
mod vessels;
