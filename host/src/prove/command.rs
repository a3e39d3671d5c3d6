//! `prove`: the built-in reference checks, computed on this machine. In: nothing. Out: expected beside computed.

use crate::prove::proof;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use holdtrue_metrology::prove::Check;
use serde::Serialize;

#[derive(Serialize)]
struct Document {
    check: &'static str,
    schema: u32,
    checks: Vec<Check>,
    out: usize,
}

pub(crate) fn run() -> Result<Finished, Error> {
    let checks = proof::checks();
    let out = checks.iter().filter(|check| !check.ok).count();
    let exit = if out > 0 { Exit::Rejected } else { Exit::Done };
    let text = words(&checks, out);
    let document = Document {
        check: "prove",
        schema: 1,
        checks,
        out,
    };
    Finished::new(exit, &document, text)
}

fn words(checks: &[Check], out: usize) -> String {
    let mut lines = vec![format!(
        "      {:44} {:>22} {:>22} {:>6}",
        "", "expected", "computed", "digits"
    )];
    for sheet in checks.chunk_by(|a, b| a.name == b.name && a.source == b.source) {
        let first = &sheet[0];
        let from = first.provenance.words();
        lines.push(format!("{}: {} ({from})", first.name, first.source));
        lines.extend(sheet.iter().map(line));
    }
    lines.push(match out {
        0 => format!("{} figures computed: all agree.", checks.len()),
        out => format!(
            "{out} of {} figures are OUT: do not rely on this copy of the program. \
             Install it anew; if that does not help, report the lines marked OUT.",
            checks.len()
        ),
    });
    lines.join("\n")
}

fn line(check: &Check) -> String {
    let mark = if check.ok { "good" } else { "OUT " };
    let computed = check.computed.map_or_else(|| "nothing".to_owned(), number);
    format!(
        "{mark}  {:44} {:>22} {computed:>22} {:>6.1}",
        check.quantity,
        number(check.expected),
        check.digits
    )
}

/// All digits, with an exponent where there would be rows of zeros.
fn number(value: f64) -> String {
    let size = value.abs();
    if size > 0.0 && !(1e-4..1e12).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_that_is_out_is_marked_and_counted() {
        let mut checks = proof::checks();
        let sound = words(&checks, 0);
        assert!(!sound.contains("OUT"), "{sound}");
        checks[3].ok = false;
        checks[3].computed = None;
        let text = words(&checks, 1);
        assert!(text.contains("OUT ") && text.contains("nothing"), "{text}");
        assert!(text.contains(&format!("1 of {} figures are OUT", checks.len())));
    }
}
