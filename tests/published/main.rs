//! Checks against numbers from outside: each row of `data/` carries its source and its tolerance.

mod densities;
mod gravity;
mod pressure_units;
mod registers;
mod rows;
mod units;
mod vessels;
mod vessels_inches;
mod vessels_lying;
mod vessels_written;
