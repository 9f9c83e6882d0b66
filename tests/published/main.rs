//! Checks against numbers from outside: each row of `data/` carries its source and its tolerance.

mod balance;
mod densities;
mod examples;
mod gravity;
mod pressure_units;
mod registers;
mod rows;
mod units;
mod vessels;
