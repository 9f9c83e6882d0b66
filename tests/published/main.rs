//! Checks against numbers from outside: each row of `data/` carries its source and its tolerance.

mod arrangements;
mod balance;
mod convert;
mod coverage;
mod current_loop;
mod densities;
mod examples;
mod fluids;
mod gravity;
mod hookups;
mod organic_liquids;
mod petroleum;
mod pressure_units;
mod program;
mod registers;
mod rows;
mod steam;
mod strap;
mod told_densities;
mod turned_over;
mod uncertainty;
mod units;
mod vessels;
mod vessels_inches;
mod vessels_lying;
mod vessels_written;
