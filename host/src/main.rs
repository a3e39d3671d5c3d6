//! Entry point: arguments in, exit code out.

fn main() {}
