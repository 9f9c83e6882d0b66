//! Physical quantities: their types, and the one way between text and quantity.
//!
//! Signatures between rooms carry [`uom`] types; gauge, absolute and differential pressure are types of
//! their own ([`pressure`]). Inside one function plain `f64` in SI units is fine: every type here has
//! its value in the coherent SI unit (Pa, m, kg/m³, K, m³, s) in the field `value`.
//! Text is read and printed by the one unit table ([`unit`], [`text`]), never by `uom`.

pub mod pressure;
pub mod si;
pub mod text;
pub mod unit;

pub use jiff::Timestamp;
pub use pressure::{AbsolutePressure, DifferentialPressure, GaugePressure};
pub use si::*;
pub use text::{QuantityError, Reference, Written, lasting, parse, parse_unit, print, span};
pub use unit::{Dimension, Unit, find, units};
