//! Documents: each is one value, and its forms as text, CSV and JSON.

pub mod alarms;
pub mod cautions;
