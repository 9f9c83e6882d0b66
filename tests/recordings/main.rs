//! Recordings through the program: real ones against results that others worked out, and made-up ones for what
//! is refused and how much memory it takes.
//!
//! The real ones lie outside the project; `STANDPIPE_RECORDINGS` names their folder. Each folder's
//! `expected.json` holds the reference results of an independent computation with Tanaka's density of
//! water and g = 9.80665 m/s². Without the variable these checks are skipped, and say so.

mod barometers;
mod files;
mod folder;
mod memory;
mod physics;
mod pilot;
mod run;
mod slugs;
mod waters;
