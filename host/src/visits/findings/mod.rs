//! What was seen at the machine: findings, their photos, what mending comes to; what a condition round looks at.

pub mod condition_list;
pub mod estimate;
pub mod finding_command;
pub mod jotting;
pub(crate) mod open;
pub mod photo_files;
pub mod photos;
