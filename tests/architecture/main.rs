//! The house's rules, held by reading every source file. Each rule is also shown a made-up breach,
//! so that it is known to be able to fail.

mod breaches;
mod rooms;
mod source;
mod tree;
