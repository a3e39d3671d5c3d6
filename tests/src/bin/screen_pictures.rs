//! In: a folder. Out: pictures of the live screen as SVG, taken off a terminal while the program measures on the simulated
//! gauge: those of the README.
//!
//! `cargo build --release -p holdtrue && cargo run --release -p holdtrue-tests --features studies --bin screen_pictures -- host/docs/pictures`

#[cfg(not(unix))]
fn main() {
    eprintln!("this system has no pseudo-terminals");
}

#[cfg(unix)]
fn main() {
    unix::main();
}

#[cfg(unix)]
mod unix {
    use holdtrue_tests::bench::{Bench, program_beside};
    use holdtrue_tests::port::Port;
    use holdtrue_tests::screen::Terminal;
    use std::fmt::Write;
    use std::path::Path;
    use std::thread;
    use std::time::Duration;
    use vt100::{Cell, Color, Screen};

    /// The ground fills while a clamp is held: half-way through the five seconds of one, at the pace below.
    const HALF_A_HOLD: Duration = Duration::from_millis(620);
    /// Size of a letter's cell, in pixels of the picture.
    const CELL: (f64, f64) = (8.0, 17.0);
    const COLUMNS: u16 = 80;
    const ROWS: u16 = 24;
    /// What a dark terminal has where the program sets no colour.
    const INK: &str = "#d8d8d8";
    const GROUND: &str = "#16181a";

    pub fn main() {
        let folder = std::env::args().nth(1).expect("a folder");
        let folder = Path::new(&folder);
        std::fs::create_dir_all(folder).expect("the folder");
        let program = program_beside();
        let bench = Bench::new(program.display().to_string().leak());
        let port = Port::offer(&bench, "--seed 1 --pace 4");
        let line = format!(
            "grip --gauge {} --yes --book yard.holdtrue --state as-found --nominal-n 10000 --limit-percent 70",
            port.path
        );
        let mut command = bench.on_screen(&line);
        command.env("COLORTERM", "truecolor");
        let mut terminal = Terminal::start(&mut command, COLUMNS, ROWS);
        terminal.until("(2 of 5 in)");
        terminal.until("Hold it.");
        thread::sleep(HALF_A_HOLD);
        keep(
            folder,
            "hold",
            "Live screen: hold the third clamp",
            &terminal,
        );
        terminal.until("Mean of 5 clamps");
        keep(folder, "verdict", "Live screen: the verdict", &terminal);
        // Answered as soon as it stands there, it would be taken for a press meant for the picture before.
        terminal.answers(b" ");
        terminal.end();
    }

    fn keep(folder: &Path, name: &str, title: &str, terminal: &Terminal) {
        let path = folder.join(format!("{name}.svg"));
        std::fs::write(&path, picture(title, &terminal.screen())).expect("the picture");
        println!("{}", path.display());
    }

    /// A screen as SVG: grounds and blocks as rectangles, letters as text, each at its place.
    fn picture(title: &str, screen: &Screen) -> String {
        let (rows, columns) = (screen.size().0.get(), screen.size().1.get());
        let (width, height) = (f64::from(columns) * CELL.0, f64::from(rows) * CELL.1);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\"><title>{title}</title><rect width=\"100%\" height=\"100%\" fill=\"{GROUND}\"/>\n\
             <g shape-rendering=\"crispEdges\">\n"
        );
        let mut letters = String::new();
        for row in 0..rows {
            for column in 0..columns {
                if let Some(cell) = screen.cell(row, column) {
                    draw(
                        cell,
                        (f64::from(column), f64::from(row)),
                        &mut svg,
                        &mut letters,
                    );
                }
            }
        }
        svg += "</g>\n<g font-family=\"ui-monospace, Consolas, 'DejaVu Sans Mono', monospace\" font-size=\"13\" xml:space=\"preserve\">\n";
        svg + &letters + "</g>\n</svg>\n"
    }

    fn draw(cell: &Cell, place: (f64, f64), blocks: &mut String, letters: &mut String) {
        let (mut ink, mut ground) = (colour(cell.fgcolor(), INK), colour(cell.bgcolor(), GROUND));
        if cell.inverse() {
            std::mem::swap(&mut ink, &mut ground);
        }
        let (x, y) = (place.0 * CELL.0, place.1 * CELL.1);
        let mut fill = |from: f64, to: f64, colour: &str| {
            let (top, high) = (y + from * CELL.1, (to - from) * CELL.1);
            let _ = writeln!(
                blocks,
                "<rect x=\"{x}\" y=\"{top}\" width=\"{}\" height=\"{high}\" fill=\"{colour}\"/>",
                CELL.0
            );
        };
        if ground != GROUND {
            fill(0.0, 1.0, &ground);
        }
        match cell.contents() {
            "" | " " => {}
            "█" => fill(0.0, 1.0, &ink),
            "▀" => fill(0.0, 0.5, &ink),
            "▄" => fill(0.5, 1.0, &ink),
            text => {
                let text = text.replace('&', "&amp;").replace('<', "&lt;");
                let weight = if cell.bold() {
                    " font-weight=\"bold\""
                } else {
                    ""
                };
                let base = y + 0.76 * CELL.1;
                let _ = writeln!(
                    letters,
                    "<text x=\"{x}\" y=\"{base:.1}\" fill=\"{ink}\"{weight}>{text}</text>"
                );
            }
        }
    }

    /// The colours of a terminal of 256, by the usual table.
    fn colour(colour: Color, usual: &str) -> String {
        const FIRST: [&str; 16] = [
            "#000000", "#cd0000", "#00cd00", "#cdcd00", "#3465a4", "#cd00cd", "#00cdcd", "#e5e5e5",
            "#7f7f7f", "#ff0000", "#00ff00", "#ffff00", "#5c5cff", "#ff00ff", "#00ffff", "#ffffff",
        ];
        match colour {
            Color::Default => usual.to_owned(),
            Color::Rgb(red, green, blue) => format!("#{red:02x}{green:02x}{blue:02x}"),
            Color::Idx(index @ 0..=15) => FIRST[usize::from(index)].to_owned(),
            Color::Idx(index @ 16..=231) => {
                let level = |step: u8| if step == 0 { 0 } else { 55 + 40 * step };
                let of = index - 16;
                let [red, green, blue] = [of / 36, of / 6 % 6, of % 6].map(level);
                format!("#{red:02x}{green:02x}{blue:02x}")
            }
            Color::Idx(index) => {
                let grey = 8 + 10 * (index - 232);
                format!("#{grey:02x}{grey:02x}{grey:02x}")
            }
        }
    }
}
