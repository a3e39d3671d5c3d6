//! Turns what the reference tests noted into the table of host/docs/trust.md.
//!
//! ```sh
//! HOLDTRUE_DIGITS=$PWD/digits.tsv cargo test -p holdtrue-tests --test 'reference_*'
//! cargo run -p holdtrue-tests --features studies --bin digits digits.tsv
//! ```

use std::collections::BTreeMap;

fn main() {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("name the file that the reference tests wrote (HOLDTRUE_DIGITS)");
        std::process::exit(2);
    };
    match std::fs::read_to_string(&path) {
        Ok(text) => print!("{}", table(&text)),
        Err(error) => {
            eprintln!("{path}: {error}");
            std::process::exit(4);
        }
    }
}

/// One row a file of reference data, the worst of several notes on it.
fn table(notes: &str) -> String {
    let mut rows: BTreeMap<&str, (Vec<&str>, f64)> = BTreeMap::new();
    for line in notes.lines() {
        let cells: Vec<&str> = line.split('\t').collect();
        let [path, checks, source, provenance, digits] = cells[..] else {
            continue;
        };
        let provenance = if provenance == "memory" {
            "from-memory"
        } else {
            provenance
        };
        let digits: f64 = digits.parse().unwrap_or(f64::INFINITY);
        let row = rows
            .entry(path)
            .or_insert((vec![checks, source, provenance], digits));
        row.1 = row.1.min(digits);
    }
    let row = |(path, (cells, digits)): (&&str, &(Vec<&str>, f64))| {
        let digits = if digits.is_finite() {
            format!("{digits:.1}")
        } else {
            "as printed".to_owned()
        };
        format!(
            "| `{path}` | {} | {} | {} | {digits} |\n",
            cells[0], cells[1], cells[2]
        )
    };
    let head = "| file | quantity | source | provenance | worst correct digits |\n|---|---|---|---|---:|\n";
    head.to_owned() + &rows.iter().map(row).collect::<String>()
}

#[cfg(test)]
mod tests {
    use super::table;

    #[test]
    fn several_notes_on_one_file_make_one_row_with_the_worst() {
        let text = table(
            "a/b\tmean\tbook, page 1\tpublished\t12.5\na/b\tmean\tbook, page 1\tpublished\t9.25\n",
        );
        assert!(
            text.ends_with("| `a/b` | mean | book, page 1 | published | 9.2 |\n"),
            "{text}"
        );
        assert_eq!(text.lines().count(), 3);
    }
}
