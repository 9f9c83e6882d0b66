//! The `standpipe` program: arguments, run, exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    standpipe::cli::run()
}
