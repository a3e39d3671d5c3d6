//! The program as a stranger meets it: words in, exit code and two outputs out.

mod after_the_end;
mod bad_tables;
mod book;
mod calibration;
mod clamps;
mod doubts;
mod drops;
mod golden_book;
mod grip_files;
mod hostile_tables;
mod limits;
mod options;
mod outputs;
mod page;
mod proof;
mod quantities;
mod rehearsal;
mod runout_files;
mod runout_untrue;
mod settings;
mod study;
mod visit_facts;
mod what_vanishes;
mod wording;
mod words;
mod written_over;
