//! `holdtrue` alone: the day, led. In: keys. Out: commands, each carried out as if it had been typed.

use crate::command_line::{Cli, Command};
use crate::day::asked::{Keeping, Words};
use crate::day::paper;
use crate::day::runout;
use crate::day::standing::{OpenVisit, Part, Standing, gauges, items_of};
use crate::day::starting;
use crate::day::starting::{Chosen, Given};
use crate::terminal::app::App;
use crate::terminal::asking::{Answer, Asking, BACK, Question, SPACE, Text, Wanted};
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Keys;
use crate::terminal::times;
use crate::visits::arguments::{VisitCommand, VisitFacts};
use crate::visits::checks::state;
use crate::visits::findings::condition_list::left_words;
use holdtrue_book::CheckKind;
use holdtrue_screen::{Figure, Key};
use holdtrue_terms::vocabulary::State;
use std::cell::Cell;
use std::ffi::OsString;
use std::io;
use std::io::IsTerminal;
use std::time::{Duration, Instant};

/// Carries out a command.
pub type Carry = fn(Command, &mut App) -> Result<Finished, Error>;

/// How often it is looked whether a gauge was plugged in.
const PORTS_EVERY: Duration = Duration::from_secs(1);

/// Whether somebody sits before a terminal, who can be led.
pub fn is_possible(app: &App) -> bool {
    !app.led
        && !app.console.json()
        && !app.yes
        && Keys::of_terminal().is_somebody()
        && io::stdout().is_terminal()
}

/// Leads through the day until it is left.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn lead(app: &mut App, carry_out: Carry) -> Result<Finished, Error> {
    Day::of(app, carry_out)?.until_left()
}

/// The same, begun with a short visit of which nobody said which spindle it is: that and the rest is asked.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn lead_short(facts: VisitFacts, app: &mut App, carry_out: Carry) -> Result<Finished, Error> {
    let mut day = Day::of(app, carry_out)?;
    day.short = true;
    day.given = Some(facts);
    match day.new_visit()? {
        true => day.until_left(),
        false => day.ended(),
    }
}

/// Whether a visit could be begun: none is open at the machine.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn is_none_open(app: &App) -> Result<bool, Error> {
    Ok(Standing::now(app)?.open.is_none())
}

impl<'a> Day<'a> {
    fn of(app: &'a mut App, carry_out: Carry) -> Result<Self, Error> {
        let mut day = Self {
            app,
            carry_out,
            interrupt: Interrupt::on_ctrl_c()?,
            port: None,
            rehearsed: false,
            short: false,
            given: None,
        };
        day.app.led = true;
        day.name_technician()?;
        Ok(day)
    }
}

struct Day<'a> {
    app: &'a mut App,
    carry_out: Carry,
    interrupt: Interrupt,
    /// Where the gauge is, where it does not say so itself.
    port: Option<String>,
    /// A rehearsal was seen to its end.
    rehearsed: bool,
    /// The visit that is about to begin is a short one, by what was typed.
    short: bool,
    /// What was typed of it, besides what is asked.
    given: Option<VisitFacts>,
}

/// What a key stands for.
enum Act {
    New,
    Next,
    Grip,
    Runout,
    Round,
    Check,
    Paper,
    Finish,
    Overview,
    Rehearse,
    Look,
    Leave,
}

impl Day<'_> {
    fn until_left(mut self) -> Result<Finished, Error> {
        while self.once()? {}
        self.ended()
    }

    fn ended(&self) -> Result<Finished, Error> {
        if self.interrupt.is_set() {
            // A visit that began has forgotten what was asked of it.
            let asked = match Keeping::of(self.app).kept() {
                Some(_) => {
                    "what was answered of the new visit is kept, and the same command goes on with it"
                }
                None => "a question that was still being asked is not answered",
            };
            return Err(Error::interrupted(format!(
                "stopped: what was recorded is in the book, and holdtrue alone goes on there; {asked}"
            )));
        }
        Ok(Finished::announced(Exit::Done))
    }

    /// The first run asks whose name goes under what is written.
    fn name_technician(&mut self) -> Result<(), Error> {
        if self.app.technician.is_some() {
            return Ok(());
        }
        let question = Question {
            title: "holdtrue, the first time here".to_owned(),
            word: "WHO".to_owned(),
            sentence: "Make the letters bigger until this screen is full of them (Ctrl and +)."
                .to_owned(),
            ..Question::default()
        };
        let mut asking = Asking::begin(&mut self.app.console, self.interrupt.clone());
        let wanted = Wanted {
            what: "Whose name goes under what is written",
            alone: Some("nobody is named"),
            back: None,
            before: "",
        };
        let name = asking.text(&question, &wanted);
        drop(asking);
        if let Some(Text::Typed(name)) = name
            && !name.is_empty()
        {
            let words = ["settings", "--name", &name].map(str::to_owned).to_vec();
            if self.run(&words) == Exit::Done {
                self.app.technician = Some(name);
            }
        }
        Ok(())
    }

    /// One look at the day and what is chosen; whether it goes on.
    fn once(&mut self) -> Result<bool, Error> {
        let standing = Standing::now(self.app)?;
        let question = self.question(&standing);
        let seen = standing.gauges.clone();
        let looked = Cell::new(Instant::now());
        let changed = || {
            let due = looked.get().elapsed() >= PORTS_EVERY;
            if due {
                looked.set(Instant::now());
            }
            due && gauges() != seen
        };
        let mut asking = Asking::begin(&mut self.app.console, self.interrupt.clone());
        let answer = asking.key_until(&question, changed);
        drop(asking);
        let act = match answer {
            None => Act::Leave,
            Some(Answer::Forward) => match (&standing.open, standing.gauges.is_empty()) {
                (Some(_), _) => Act::Next,
                (None, true) if self.is_fresh(&standing) => Act::Rehearse,
                (None, _) => Act::New,
            },
            Some(Answer::Sign(sign)) => match sign {
                'V' => Act::New,
                'G' => Act::Grip,
                'R' => Act::Runout,
                'C' => Act::Round,
                'K' => Act::Check,
                'P' => Act::Paper,
                'E' => Act::Finish,
                'O' => Act::Overview,
                'T' => Act::Rehearse,
                'Q' => Act::Leave,
                _ => Act::Look,
            },
            Some(Answer::Back | Answer::Changed) => Act::Look,
        };
        self.act(act, &standing)
    }

    fn act(&mut self, act: Act, standing: &Standing) -> Result<bool, Error> {
        let words = |of: &[&str]| of.iter().map(|word| (*word).to_owned()).collect::<Words>();
        if standing.open.is_none() && matches!(act, Act::Grip | Act::Runout | Act::Round) {
            // What is measured belongs to a spindle: which one is asked before, and not found out by who reads the page.
            if !self.new_visit()? {
                return Ok(false);
            }
            let begun = Standing::now(self.app)?;
            return match begun.open.is_some() {
                true => self.act(act, &begun),
                false => Ok(true),
            };
        }
        match act {
            Act::Leave => return Ok(false),
            Act::Look => return Ok(true),
            Act::New => match &standing.open {
                // Before anything is asked, which would be answered for nothing.
                Some(open) => {
                    let (spindle, key) = (open.spindle(), self.app.console.big_key());
                    self.app.console.say(&format!(
                        "The visit to {spindle} is still open: {key} goes on with it, E ends it, and V begins the next one then."
                    ));
                }
                None => return self.new_visit(),
            },
            Act::Next => match (&standing.open, standing.next()) {
                (Some(open), _) if open.visit.spindle.is_none() => return self.name_spindle(),
                (Some(open), Some(step)) => return self.part(step.part, open, standing),
                _ => return Ok(true),
            },
            Act::Grip => return self.measure(&["grip"], &[], standing),
            Act::Runout => return self.measure(&["runout"], &[], standing),
            Act::Check => return self.measure(&["gauge", "check"], &[], standing),
            Act::Round => _ = self.run(&words(&["finding", "round"])),
            Act::Finish if standing.open.is_none() => {
                self.app
                    .console
                    .say("There is no visit open, so there is none to finish.");
            }
            Act::Finish => {
                self.ask_for_tool(standing)?;
                // It says what is missing, and then asks.
                if self.run(&words(&["visit", "finish"])) == Exit::Done {
                    return self.paper(standing);
                }
            }
            Act::Overview => _ = self.run(&words(&["overview"])),
            Act::Rehearse => self.rehearsed |= self.run(&words(&["rehearse"])) == Exit::Done,
            Act::Paper => return self.paper(standing),
        }
        Ok(self.go_on())
    }

    /// A tool that was taken out belongs back before the visit ends: by the control, which is nobody's to see here.
    fn ask_for_tool(&mut self, standing: &Standing) -> Result<(), Error> {
        let header = standing.open.as_ref().map(|open| open.visit.visit.header());
        let out = header.filter(|header| !header.tool_back);
        let Some(tool) = out.and_then(|header| header.tool_in_spindle.clone()) else {
            return Ok(());
        };
        let asked = format!("Is the customer's tool {tool} back in the spindle, by the control?");
        if self.app.console.ask(&asked)? == Some(true) {
            self.run(&["visit", "edit", "--tool-back"].map(str::to_owned));
        }
        Ok(())
    }

    fn part(&mut self, part: Part, open: &OpenVisit, standing: &Standing) -> Result<bool, Error> {
        let book = self.app.read_book()?;
        let visit = open.visit.visit.id;
        let state = |kind: CheckKind| -> Result<Vec<&str>, Error> {
            Ok(match state::of_next(&book, visit, kind, false)? {
                Some(State::AsFound) => vec!["--state", "as-found"],
                Some(State::AsLeft) => vec!["--state", "as-left"],
                None => Vec::new(),
            })
        };
        match part {
            Part::GaugeCheck => self.measure(&["gauge", "check"], &[], standing),
            Part::Grip => self.measure(&["grip"], &state(CheckKind::Grip)?, standing),
            Part::Runout => self.measure(&["runout"], &state(CheckKind::Runout)?, standing),
            Part::ShortRunout => {
                let bar = ["--seatings", "2", "--at", "bar", "--height-mm", "20"];
                let more = [&bar[..], &state(CheckKind::Runout)?].concat();
                self.measure(&["runout"], &more, standing)
            }
            Part::Round => {
                self.run(&["finding", "round"].map(str::to_owned));
                Ok(self.go_on())
            }
            Part::Items(ids) => {
                let mut words = ["finding", "round"].map(str::to_owned).to_vec();
                for id in items_of(ids, &open.visit) {
                    words.extend(["--item".to_owned(), id.to_owned()]);
                }
                self.run(&words);
                Ok(self.go_on())
            }
            Part::Paper => {
                self.ask_for_tool(standing)?;
                self.app.console.say(
                    "\nThe end of the visit and its paper. Where it is not to end yet, answer no: the paper is made of it as it stands.",
                );
                match self.run(&["visit", "finish"].map(str::to_owned)) {
                    // No was answered.
                    Exit::Done | Exit::Usage => self.paper(standing),
                    _ => Ok(self.go_on()),
                }
            }
        }
    }

    fn new_visit(&mut self) -> Result<bool, Error> {
        let given = Given {
            short: self.short,
            facts: self.given.as_ref(),
        };
        let chosen = starting::ask(self.app, &self.interrupt, given)?;
        // What was typed with a command is said of the visit it asked for, and of no other.
        self.short = false;
        let given = self.given.take();
        let Some(Chosen::Begin(commands)) = chosen else {
            return Ok(chosen.is_some());
        };
        self.given = given;
        let ended = self.begin(&commands);
        self.given = None;
        let keeping = Keeping::of(self.app);
        match ended {
            Exit::Done => keeping.forget(),
            // Stopped at a question of the command's own: nothing of it is to be put right.
            Exit::Interrupted => {}
            _ => keeping.offer_again(),
        }
        if let Some(kept) = keeping.kept() {
            self.app.console.say(&format!(
                "The visit is not begun. What was answered is kept, and V goes on with it: {}.",
                kept.words()
            ));
        }
        Ok(self.go_on())
    }

    /// The visit was begun by measuring: it gets its spindle.
    fn name_spindle(&mut self) -> Result<bool, Error> {
        let chosen = starting::ask_spindle(self.app, &self.interrupt)?;
        let Some(Chosen::Begin(commands)) = chosen else {
            return Ok(chosen.is_some());
        };
        self.begin(&commands);
        Ok(self.go_on())
    }

    /// Carries out what was chosen, up to the first command that fails; how the last one ended.
    fn begin(&mut self, commands: &[Words]) -> Exit {
        let mut ended = commands.iter().map(|words| self.run(words));
        ended.find(|exit| *exit != Exit::Done).unwrap_or(Exit::Done)
    }

    /// A command at a gauge: the one that is plugged in, else where the person says it is.
    fn measure(
        &mut self,
        command: &[&str],
        more: &[&str],
        standing: &Standing,
    ) -> Result<bool, Error> {
        let port = match (&standing.gauges[..], &self.port) {
            ([only], _) => only.clone(),
            (_, Some(port)) => port.clone(),
            (several, None) => {
                let question = Question {
                    title: "Gauge".to_owned(),
                    word: "WHICH PORT".to_owned(),
                    sentence: match several.is_empty() {
                        true => "No gauge of ours says that it is plugged in. Plug it in and leave this, or name its port."
                            .to_owned(),
                        false => format!("Several are plugged in: {}.", several.join(", ")),
                    },
                    ..Question::default()
                };
                let mut asking = Asking::begin(&mut self.app.console, self.interrupt.clone());
                let wanted = Wanted {
                    what: "Port, such as /dev/ttyACM0 or COM3",
                    alone: Some("leave it"),
                    back: Some("leave it"),
                    before: "",
                };
                let typed = asking.text(&question, &wanted);
                drop(asking);
                match typed {
                    None => return Ok(false),
                    Some(Text::Back) => return Ok(true),
                    Some(Text::Typed(port)) if port.is_empty() => return Ok(true),
                    Some(Text::Typed(port)) => port,
                }
            }
        };
        let words: Vec<&str> = [command, &["--gauge", &port], more].concat();
        let mut words: Words = words.into_iter().map(str::to_owned).collect();
        if command == ["runout"] {
            match runout::asked(words, self.app, &self.interrupt)? {
                None => return Ok(true),
                Some(asked) => words = asked,
            }
        }
        let ended = self.run(&words);
        // A port that did not answer is asked for again.
        self.port = (ended != Exit::Gauge).then_some(port);
        Ok(self.go_on())
    }

    fn paper(&mut self, standing: &Standing) -> Result<bool, Error> {
        let book = self.app.book_if_there()?;
        let of_latest = |book: holdtrue_book::Book| {
            let latest = book.latest_visit()?;
            latest.map(|latest| book.visit(latest)).transpose()
        };
        let visit = match (&standing.open, book) {
            (Some(open), _) => Some(open.visit.clone()),
            (None, Some(book)) => of_latest(book)?,
            (None, None) => None,
        };
        match visit {
            Some(visit) => {
                let names = paper::names(&visit);
                let (name, anew) = match &names.there {
                    None => (&names.free, false),
                    Some(there) => match self.page_is_there(there, &names.free) {
                        Some(true) => (there, true),
                        Some(false) => (&names.free, false),
                        None => return Ok(true),
                    },
                };
                let words = paper::command(&visit, name, anew);
                self.run(&words);
            }
            None => self
                .app
                .console
                .say("There is no visit yet, so there is no page."),
        }
        Ok(self.go_on())
    }

    /// A page of that name is there: whether this one takes its place, or lies beside it; none where it is left.
    fn page_is_there(&mut self, there: &str, free: &str) -> Option<bool> {
        let question = Question {
            title: "Paper".to_owned(),
            word: "PAGE".to_owned(),
            sentence: format!(
                "There is a page of this spindle and day already: {there}.html, and its PDF."
            ),
            choices: vec![Key::new(SPACE, "BESIDE IT"), Key::new("2", "INSTEAD")],
            lines: vec![format!(
                "Beside it: {free}.html, and what is there stays. Instead: it takes its place."
            )],
            keys: vec![Key::new(BACK, "leave it")],
            ..Question::default()
        };
        self.takes_second(&question, '2')
    }

    /// Whether the second of two choices is taken, which has this sign; none where both are left.
    fn takes_second(&mut self, question: &Question, second: char) -> Option<bool> {
        let mut asking = Asking::begin(&mut self.app.console, self.interrupt.clone());
        loop {
            match asking.key(question)? {
                Answer::Forward => return Some(false),
                Answer::Sign(sign) if sign == second => return Some(true),
                Answer::Back => return None,
                _ => {}
            }
        }
    }

    /// Carries out a command and shows how it ended.
    fn run(&mut self, words: &[String]) -> Exit {
        let shown: Vec<String> = words.iter().map(|word| quoted(word)).collect();
        self.app
            .console
            .say(&format!("\n$ holdtrue {}", shown.join(" ")));
        let whole = std::iter::once("holdtrue".to_owned()).chain(words.iter().cloned());
        let result = match Cli::read(whole.map(OsString::from)) {
            Ok(Cli {
                command: Some(mut command),
                ..
            }) => {
                if let Command::Visit(VisitCommand::Start { facts, .. }) = &mut command
                    && let Some(given) = self.given.take()
                {
                    **facts = given.with(facts);
                }
                (self.carry_out)(command, self.app)
            }
            Ok(_) => return Exit::Done,
            Err(refused) => {
                self.app
                    .console
                    .message(refused.render().to_string().trim_end());
                return Exit::Usage;
            }
        };
        self.app.settle_begun();
        let changed = matches!(words.first().map(String::as_str), Some("settings"));
        let exit = self.app.console.conclude(result);
        if changed {
            self.app.read_settings();
        }
        exit
    }

    /// What was said is read before the day is shown again; whether somebody is there.
    fn go_on(&mut self) -> bool {
        let keys = Keys::of_terminal();
        let listening = keys.listen();
        // Said once it is heard: who presses at once is not missed.
        let key = self.app.console.big_key();
        self.app.console.say(&format!("\n{key}: back to the day."));
        // A Ctrl-C that stopped a measurement stops no more than that.
        let Ok(interrupt) = Interrupt::on_ctrl_c() else {
            return false;
        };
        loop {
            use crate::terminal::keys::Key as Pressed;
            match listening.typed() {
                Some(Pressed::Take | Pressed::Back) => return true,
                Some(Pressed::Quit | Pressed::Stop) => return false,
                _ if interrupt.is_set() || keys.are_gone() => return false,
                _ => std::thread::sleep(Duration::from_millis(30)),
            }
        }
    }

    /// Nothing is there that a visit could begin with.
    fn is_fresh(&self, standing: &Standing) -> bool {
        let nothing = standing.gauges.is_empty() && self.port.is_none() && !standing.anything;
        nothing && !self.rehearsed && Keeping::of(self.app).kept().is_none()
    }

    /// What the next visit begins with.
    fn next_visit(&self, standing: &Standing) -> String {
        match Keeping::of(self.app).kept() {
            Some(kept) => format!(
                "goes on with the new visit that was being asked about: {}.",
                kept.words()
            ),
            None if standing.visited => {
                "begins a new visit; what was said at the last one to that spindle stands there."
                    .to_owned()
            }
            None => "begins a new visit.".to_owned(),
        }
    }

    fn question(&self, standing: &Standing) -> Question {
        let who = self.app.technician.as_deref().unwrap_or("nobody named");
        let book = self.app.book_path().file_stem().unwrap_or_default();
        let mut question = Question {
            title: format!("holdtrue · book \"{}\" · {who}", book.to_string_lossy()),
            ..Question::default()
        };
        let plugged = match &standing.gauges[..] {
            [] => match &self.port {
                Some(port) => format!("PLUGGED IN: a gauge on {port}, as you said"),
                None => "PLUGGED IN: nothing. Plug the gauge in; this line changes by itself."
                    .to_owned(),
            },
            several => format!("PLUGGED IN: gauge on {}", several.join(", ")),
        };
        let mut lines = Vec::new();
        let key = self.app.console.big_key();
        match &standing.open {
            None => {
                question.word = "NO VISIT".to_owned();
                let fresh = self.is_fresh(standing);
                question.sentence = match fresh {
                    true => "No book yet, no gauge: a rehearsal shows a whole visit against a simulated gauge.".to_owned(),
                    false => "No visit is open.".to_owned(),
                };
                lines.push(plugged);
                lines.push(match fresh {
                    true => format!("NEXT: {key} rehearses. It leads to a first figure and a page, in the folder rehearsal."),
                    false => format!("NEXT: {key} {}", self.next_visit(standing)),
                });
            }
            Some(open) => of_visit(open, standing, plugged, key, &mut question, &mut lines),
        }
        question.lines = lines;
        question.keys = vec![
            Key::new(SPACE, "what is next"),
            Key::new("G", "grip force"),
            Key::new("R", "runout"),
            Key::new("C", "condition round"),
            Key::new("K", "check the gauge"),
            Key::new("P", "paper"),
            Key::new("E", "end of the visit"),
            Key::new("V", "new visit"),
            Key::new("O", "overview"),
            Key::new("T", "rehearse"),
            Key::new("Q", "leave"),
        ];
        question
    }
}

fn of_visit(
    open: &OpenVisit,
    standing: &Standing,
    plugged: String,
    key: &str,
    question: &mut Question,
    lines: &mut Vec<String>,
) {
    question.word = open.spindle().to_uppercase();
    question.sentence = open.facts();
    let since = times::moment(&open.visit.visit.header().started_at);
    let kind = if open.minutes_left.is_some() {
        "short visit"
    } else {
        "visit"
    };
    let work = match open.minutes_left {
        None => String::new(),
        Some(left) => match open.work_left() - left {
            over @ 1.. => format!(
                " Work left: {} min, {over} more than there are.",
                open.work_left()
            ),
            _ => format!(" Work left: {} min.", open.work_left()),
        },
    };
    lines.push(format!("OPEN: a {kind} since {since}.{work}"));
    question.figure = open.minutes_left.map(|left| Figure {
        digits: left.to_string(),
        unit: format!("minutes left of {}", crate::day::standing::SHORT_VISIT_MIN),
    });
    let next = standing.next();
    let steps = |then: &str| -> Vec<String> {
        let each = open.steps.iter().map(|(step, done)| {
            let is_next = !done && next.is_some_and(|next| next.name == step.name);
            match (done, is_next) {
                (true, _) => match step.done {
                    Some(items) => format!("answered: {items}"),
                    None => format!("done: {}", step.name),
                },
                (_, true) => format!("NEXT: {}, {} min", step.name, step.minutes),
                _ => format!("{then}{}, {} min", step.name, step.minutes),
            }
        });
        each.collect()
    };
    match open.minutes_left {
        // They are numbered.
        Some(_) => question.steps = steps(""),
        None => lines.extend(steps("then: ")),
    }
    lines.push(plugged);
    if let Some(check) = open.broken_off() {
        lines.push(format!(
            "A set of {} was broken off: the same key goes on with it.",
            check.start.kind.word()
        ));
    }
    lines.extend(left_words(&open.visit).map(|left| format!("{left}.")));
    lines.push(match (&open.visit.spindle, next) {
        (None, _) => format!("{key}: say which spindle it is."),
        (_, Some(next)) => format!("{key}: {}.", next.name),
        (_, None) => "Nothing is left of this visit.".to_owned(),
    });
}

/// A word as one types it.
fn quoted(word: &str) -> String {
    match word.is_empty() || word.contains(|c: char| c.is_whitespace() || "\"'$&;()".contains(c)) {
        true => format!("\"{}\"", word.replace('"', "\\\"")),
        false => word.to_owned(),
    }
}
