//! What was ignored in a file.

use crate::digits::Units;
use crate::say::Say;
use crate::shown::{quoted, shown};
use holdtrue_metrology::file_note::FileNote;

impl Say for FileNote {
    fn say(&self, _units: &Units) -> String {
        let both =
            |column| format!("the file has angles and times: column \"{column}\" is ignored");
        match self {
            Self::ColumnNotKnown { file, column } => format!(
                "{}: column {} is not known here and is ignored",
                shown(file),
                quoted(column)
            ),
            Self::AnglesIgnored => both("angle_deg"),
            Self::TimesIgnored => both("time_s"),
            Self::MarkIgnored => {
                "readings at angles need no mark: column \"mark\" is ignored".to_owned()
            }
            Self::OptionIgnored { option, column } => {
                format!("{option} is ignored: the file has a column \"{column}\"")
            }
        }
    }
}
