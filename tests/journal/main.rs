//! The journal under the real program: killed at any moment, on a full disk, with a clock that is stepped,
//! and after a year. The broker is a real one; the device is a few registers served here.

#[path = "../peers/broker.rs"]
#[expect(dead_code, reason = "here it needs no password and no certificate")]
mod broker;
mod clock;
mod commands;
mod full_disk;
mod kills;
mod listener;
mod one_writer;
#[path = "../peers/program.rs"]
mod program;
mod registers;
mod works;
mod year;
