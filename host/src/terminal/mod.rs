//! What the program shares with the terminal: messages and exits, questions, settings, files it writes.

pub mod app;
pub mod asking;
pub mod console;
pub mod doubts;
#[cfg(test)]
pub(crate) mod drawn;
pub mod error;
pub mod exit;
pub mod interrupt;
pub mod keys;
pub mod lease;
pub mod live_screen;
pub mod name;
pub mod numbers;
pub mod one_key;
pub mod one_press;
pub mod output_file;
pub mod parse;
pub mod prompt;
pub mod scene_words;
pub mod settings;
pub mod settings_arguments;
pub mod settings_command;
pub mod times;
pub mod toml_file;
pub mod verdict_words;
pub mod vocabulary;
pub mod whole_file;
pub mod working;
pub mod written_day;
