//! Rows of plain numbers, as loggers write them by the million: read by as many threads as there are cores.
//!
//! In: whole lines below a header, and which columns are wanted. Out: their numbers; nothing where any row is something else.
//! Such lines are read row by row, which says what is wrong with them, and where.

use crate::tables::number;
use crate::tables::text;
use holdtrue_metrology::side_by_side;

/// Fewer bytes are read before another thread has begun.
const LEAST_BYTES: usize = 256 << 10;

/// The columns that are wanted.
pub(crate) struct Wanted {
    /// What parts the cells.
    pub separator: u8,
    /// How many cells a row has.
    pub width: usize,
    /// Where each column stands, and the factor that brings its unit to the format's own.
    pub columns: Vec<(usize, f64)>,
}

/// Rows read.
pub(crate) struct Rows {
    /// How many; as many as the lines they stood on.
    pub count: usize,
    /// The numbers, column by column as wanted.
    pub numbers: Vec<Vec<f64>>,
    /// The decimal mark they are written with.
    pub mark: Option<char>,
}

/// Lines without quotes in parts of whole lines, each with its rows; a part whose rows are not plain has none.
pub(crate) fn read<'t>(text: &'t str, wanted: &Wanted) -> Vec<(&'t str, Option<Rows>)> {
    let threads = match text.len() < LEAST_BYTES {
        true => 1,
        false => side_by_side::cores(),
    };
    let parts = parts(text, threads);
    let rows = side_by_side::each(&parts, threads, |part| rows(part, wanted));
    parts.into_iter().zip(rows).collect()
}

fn parts(text: &str, count: usize) -> Vec<&str> {
    let mut parts = Vec::with_capacity(count);
    let mut rest = text;
    for left in (2..=count).rev() {
        let about = rest.len() / left;
        let line_end = rest.as_bytes()[about..]
            .iter()
            .position(|byte| *byte == b'\n');
        let Some(line_end) = line_end else { break };
        let (part, after) = rest.split_at(about + line_end + 1);
        parts.push(part);
        rest = after;
    }
    parts.push(rest);
    parts
}

/// One row a line, every wanted cell a number, one decimal mark.
fn rows(part: &str, wanted: &Wanted) -> Option<Rows> {
    let mut reader = text::reader(part, wanted.separator);
    let mut record = csv::ByteRecord::new();
    let mut rows = Rows {
        count: 0,
        numbers: vec![Vec::new(); wanted.columns.len()],
        mark: None,
    };
    while reader.read_byte_record(&mut record).ok()? {
        if record.len() != wanted.width {
            return None;
        }
        for ((place, factor), numbers) in wanted.columns.iter().zip(&mut rows.numbers) {
            let (number, mark) = number::plain(record[*place].trim_ascii())?;
            if mark.is_some() && rows.mark.is_some() && mark != rows.mark {
                return None;
            }
            rows.mark = rows.mark.or(mark);
            numbers.push(Some(number * factor).filter(|number| number.is_finite())?);
        }
        rows.count += 1;
    }
    let lines = text::breaks_in(part.as_bytes()) + u64::from(!part.ends_with('\n'));
    (rows.count as u64 == lines).then_some(rows)
}
