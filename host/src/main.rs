//! Entry point: arguments in, exit code out.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(holdtrue::run(std::env::args_os()).code())
}
