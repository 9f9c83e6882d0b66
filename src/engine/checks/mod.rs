//! Checks of readings, and what they find. Each is pure, of fixed memory, with its evidence.

pub mod aged;
pub mod bootstrap;
pub mod cusum;
pub mod diagnosis;
pub mod ewma;
pub mod finding;
pub mod fit;
pub mod flat;
pub mod follows;
pub mod frozen;
pub mod idle;
pub mod jump;
pub mod leg;
pub mod lines;
pub mod monitor;
pub mod noise;
pub mod normal;
pub mod period;
pub mod quiet;
pub mod recurrence;
pub mod redundant;
pub mod seen;
pub mod signal;
pub mod tank;
pub mod terms;
pub mod verdict;
