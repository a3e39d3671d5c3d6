//! The program as a stranger meets it: words in, exit code and two outputs out.

mod limits;
mod outputs;
mod settings;
