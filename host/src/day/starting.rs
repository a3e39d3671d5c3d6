//! A new visit, asked question by question. In: keys, and as defaults what the last visit said. Out: the commands that enter
//! the spindle and start the visit.

use crate::grip::arguments::GripArgs;
use crate::grip::setup;
use crate::limits::command::limit_words;
use crate::terminal::app::App;
use crate::terminal::asking::{Answer, Asking, BACK, Question, SPACE, Text, Wanted};
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::name::name;
use crate::terminal::parse::{force, not_negative};
use crate::visits::arguments::VisitFacts;
use crate::visits::book::opening::find_spindle;
use crate::visits::spindles::spelled::interface;
use holdtrue_book::{Book, Entity, SpindleHeader, VisitHeader};
use holdtrue_metrology::grip::limits::UsualRange;
use holdtrue_screen::Key;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Class, Drawbar};

/// Words of a command.
pub type Words = Vec<String>;

/// Spindles that have a digit.
const CHOICES: usize = 9;

/// What the person wants.
pub enum Chosen {
    /// Begin with these commands.
    Begin(Vec<Words>),
    /// Leave it.
    Left,
}

fn words(of: &[&str]) -> Words {
    of.iter().map(|word| (*word).to_owned()).collect()
}

/// What was said of the visit already: none of it is asked.
#[derive(Clone, Copy, Debug, Default)]
pub struct Given<'a> {
    /// It is a short one; else that is asked.
    pub short: bool,
    /// The rest of it.
    pub facts: Option<&'a VisitFacts>,
}

impl Given<'_> {
    /// Whether what a question is about is known.
    fn has(self, of: impl Fn(&VisitFacts) -> bool) -> bool {
        self.facts.is_some_and(of)
    }
}

/// Asks for a new visit.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn ask(
    app: &mut App,
    interrupt: &Interrupt,
    given: Given<'_>,
) -> Result<Option<Chosen>, Error> {
    let book = app.book_if_there()?;
    let mut known = book
        .as_ref()
        .map(known_spindles)
        .transpose()?
        .unwrap_or_default();
    known.truncate(CHOICES);
    let mut starting = Starting {
        asking: Asking::begin(&mut app.console, interrupt.clone()),
    };
    let Some(which) = starting.which(&known) else {
        return Ok(None);
    };
    let mut commands = Vec::new();
    let spindle = match which {
        Which::Known(place) => known[place].header().name.clone(),
        Which::New => match starting.new_spindle(&known) {
            None => return Ok(None),
            Some(None) => return Ok(Some(Chosen::Left)),
            Some(Some((name, add))) => {
                commands.push(add);
                name
            }
        },
        Which::Left => return Ok(Some(Chosen::Left)),
    };
    let last = book
        .as_ref()
        .map(|book| last_visit(book, &spindle))
        .transpose()?
        .flatten();
    let Some(start) = starting.visit(&spindle, &last.unwrap_or_default(), given) else {
        return Ok(None);
    };
    commands.push(start);
    Ok(Some(Chosen::Begin(commands)))
}

/// Asks which spindle the open visit is about.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn ask_spindle(app: &mut App, interrupt: &Interrupt) -> Result<Option<Chosen>, Error> {
    let book = app.read_book()?;
    let mut known = known_spindles(&book)?;
    known.truncate(CHOICES);
    let mut starting = Starting {
        asking: Asking::begin(&mut app.console, interrupt.clone()),
    };
    let name_it = |name: &str| words(&["visit", "edit", "--spindle", name]);
    Ok(match starting.which(&known) {
        None => None,
        Some(Which::Left) => Some(Chosen::Left),
        Some(Which::Known(place)) => {
            Some(Chosen::Begin(vec![name_it(&known[place].header().name)]))
        }
        Some(Which::New) => starting.new_spindle(&known).map(|entered| match entered {
            None => Chosen::Left,
            Some((name, add)) => Chosen::Begin(vec![add, name_it(&name)]),
        }),
    })
}

/// What the clamps of a spindle are judged by, in lines.
///
/// # Errors
/// The book cannot be read, or its page of the spindle says what cannot be: exit 6, 2.
pub fn judged_by(app: &App, spindle: &str) -> Result<Vec<String>, Error> {
    let book = app.read_book()?;
    let found = find_spindle(&book, spindle)?;
    let conditions = setup::gather(&GripArgs::default(), Some(found.header()))?;
    let mut lines: Vec<String> = conditions
        .limits
        .limits
        .iter()
        .map(|limit| format!("Judged: {}", limit_words(limit, &app.settings)))
        .collect();
    if let Some(range) = conditions.setup.assumption.and_then(UsualRange::of) {
        let force = |newton: f64| app.settings.force(newton);
        let usual = match range.low_n < range.high_n {
            true => format!("{} to {}", force(range.low_n), force(range.high_n)),
            false => format!("the usual {}", force(range.low_n)),
        };
        lines.push(format!(
            "No maker's figure: a spindle of this class holds {usual} (an assumption). Far below it is rejected; nothing is accepted by it."
        ));
    }
    if lines.is_empty() {
        lines.push(
            "No maker's figure and no class: the clamps are measured and kept, and not judged."
                .to_owned(),
        );
    }
    Ok(lines)
}

/// Spindles, the one of the latest visit first.
fn known_spindles(book: &Book) -> Result<Vec<Entity<SpindleHeader>>, Error> {
    let mut known = book.list::<SpindleHeader>()?;
    known.retain(|spindle| !spindle.removed);
    let visits = book.visits()?;
    let last = |spindle: &Entity<SpindleHeader>| {
        visits
            .iter()
            .rposition(|visit| visit.header().spindle == Some(spindle.id))
    };
    known.sort_by_key(|spindle| std::cmp::Reverse(last(spindle)));
    Ok(known)
}

fn last_visit(book: &Book, spindle: &str) -> Result<Option<VisitHeader>, Error> {
    let Ok(spindle) = find_spindle(book, spindle) else {
        return Ok(None);
    };
    let visits = book.visits_of(spindle.id)?;
    Ok(visits.last().map(|visit| visit.header().clone()))
}

enum Which {
    Known(usize),
    New,
    Left,
}

struct Starting<'a> {
    asking: Asking<'a>,
}

/// A question of the new visit.
fn question(word: &str, sentence: &str) -> Question {
    Question {
        title: "New visit".to_owned(),
        word: word.to_owned(),
        sentence: sentence.to_owned(),
        keys: vec![Key::new(BACK, "leave it")],
        ..Question::default()
    }
}

impl Starting<'_> {
    /// Which spindle; none where nobody is there any more.
    fn which(&mut self, known: &[Entity<SpindleHeader>]) -> Option<Which> {
        if known.is_empty() {
            return Some(Which::New);
        }
        let of = |place: usize, spindle: &Entity<SpindleHeader>| {
            let header = spindle.header();
            let facts = [interface(header), header.place.clone()];
            let facts: Vec<String> = facts.into_iter().flatten().collect();
            let facts = match facts.is_empty() {
                true => String::new(),
                false => format!(": {}", facts.join(", ")),
            };
            format!("{} {}{facts}", place + 1, header.name)
        };
        let mut question = question("SPINDLE", "Which spindle is it?");
        question.lines = known
            .iter()
            .enumerate()
            .map(|(place, each)| of(place, each))
            .collect();
        question.keys = vec![
            Key::new(SPACE, known[0].header().name.clone()),
            Key::new("1-9", "one of these"),
            Key::new("N", "a new one"),
            Key::new(BACK, "leave it"),
        ];
        loop {
            match self.asking.key(&question)? {
                Answer::Forward => return Some(Which::Known(0)),
                Answer::Sign('N') => return Some(Which::New),
                Answer::Back | Answer::Sign('Q') => return Some(Which::Left),
                other => {
                    if let Some(place) = other.place().filter(|place| *place < known.len()) {
                        return Some(Which::Known(place));
                    }
                }
            }
        }
    }

    /// The name and the command that enters it; no command where it is left.
    fn new_spindle(&mut self, known: &[Entity<SpindleHeader>]) -> Option<Option<(String, Words)>> {
        let named = question(
            "NAME",
            "What do people call this spindle? Centre 1, or its serial number.",
        );
        let called = loop {
            let typed = self.text(&named, "Name", "leave it")?;
            if typed.is_empty() {
                return Some(None);
            }
            if let Ok(called) = name(&typed) {
                break called;
            }
        };
        let mut add = words(&["spindle", "add", &called]);
        let taken = known.iter().any(|each| each.header().name == called);
        if taken {
            // The command says so, and what to do.
            return Some(Some((called, add)));
        }
        let mut trouble = None;
        let taper: Option<Interface> = loop {
            let mut asked = question(
                "TAPER",
                "Its taper, as people say it: BT40, SK 50, CAT-40, HSK-A63.",
            );
            asked.lines.extend(trouble.take());
            let typed = self.text(&asked, "Taper", "not known")?;
            match typed.parse::<Interface>() {
                _ if typed.is_empty() => break None,
                Ok(taper) => {
                    add.extend(["--interface".to_owned(), typed]);
                    break Some(taper);
                }
                Err(error) => trouble = Some(error.to_string()),
            }
        };
        let drawbar = self.choice(
            "DRAWBAR",
            "What pulls the tool in?",
            &[("1", "SPRINGS"), ("2", "GAS SPRING"), ("3", "HYDRAULIC")],
            "not known",
        )?;
        if let Some(drawbar) = drawbar.and_then(|place| Drawbar::NAMED.get(place)) {
            add.extend(["--drawbar".to_owned(), drawbar.to_string()]);
        }
        let drive = self.choice(
            "DRIVE",
            "What drives the spindle?",
            &[("1", "GEARBOX"), ("2", "BELT"), ("3", "DIRECT")],
            "not known",
        )?;
        if let Some(place) = drive {
            add.extend([
                "--drive".to_owned(),
                ["gearbox", "belt", "direct"][place].to_owned(),
            ]);
        }
        let axis = self.choice(
            "AXIS",
            "Which way does it point?",
            &[("1", "VERTICAL"), ("2", "HORIZONTAL")],
            "not known",
        )?;
        if let Some(place) = axis {
            add.extend([
                "--axis".to_owned(),
                ["vertical", "horizontal"][place].to_owned(),
            ]);
        }
        let nominal = loop {
            let mut asked = question(
                "MAKER",
                "The maker's grip force, such as 10 kN or 2250 lbf.",
            );
            asked.lines.extend(trouble.take());
            let typed = self.text(&asked, "Maker's grip force", "nobody has it")?;
            // A bare number is in N, and few people mean that.
            match force(&typed) {
                _ if typed.is_empty() => break None,
                Ok(_) if !typed.contains(char::is_alphabetic) => {
                    trouble = Some(format!(
                        "{typed} of what? Type its unit too, such as {typed} kN."
                    ));
                }
                Ok(_) => break Some(typed),
                Err(told) => trouble = Some(told),
            }
        };
        match nominal {
            Some(nominal) => add.extend(["--nominal-n".to_owned(), nominal]),
            None if taper.and_then(UsualRange::over_classes).is_some() => {
                let class = self.choice(
                    "CLASS",
                    "Without the maker's figure: how strongly is it sprung, as far as you can tell? It is kept as an assumption.",
                    &[("1", "LIGHT"), ("2", "STANDARD"), ("3", "HEAVY")],
                    "no assumption",
                )?;
                if let Some(class) = class.and_then(|place| Class::ALL.get(place)) {
                    add.extend(["--class".to_owned(), class.to_string()]);
                }
            }
            None => {}
        }
        Some(Some((called, add)))
    }

    /// A line of text; none where nobody is there any more.
    fn text(&mut self, question: &Question, what: &str, alone: &str) -> Option<String> {
        let wanted = Wanted {
            what,
            alone: Some(alone),
            back: None,
        };
        match self.asking.text(question, &wanted)? {
            Text::Typed(text) => Some(text),
            Text::Back => None,
        }
    }

    /// One of up to three by its digit; `otherwise` by the big key. None where nobody is there any more.
    fn choice(
        &mut self,
        word: &str,
        sentence: &str,
        of: &[(&str, &str)],
        otherwise: &str,
    ) -> Option<Option<usize>> {
        let mut asked = question(word, sentence);
        asked.choices = of.iter().map(|(key, does)| Key::new(*key, *does)).collect();
        asked.keys = vec![Key::new(SPACE, otherwise)];
        loop {
            match self.asking.key(&asked)? {
                Answer::Forward => return Some(None),
                Answer::Sign(sign) => {
                    let place = of.iter().position(|(key, _)| key.starts_with(sign));
                    if place.is_some() {
                        return Some(place);
                    }
                }
                Answer::Back | Answer::Changed => {}
            }
        }
    }

    /// The visit, with what the last one said as defaults.
    fn visit(&mut self, spindle: &str, last: &VisitHeader, given: Given<'_>) -> Option<Words> {
        let mut start = words(&["visit", "start", "--spindle", spindle]);
        const PURPOSES: [&str; 4] = ["service", "before-purchase", "acceptance", "after-repair"];
        let usual = last
            .purpose
            .as_deref()
            .filter(|word| PURPOSES.contains(word));
        let mut asked = question("WHAT FOR", "What is the visit for?");
        asked.choices = vec![
            Key::new("1", "SERVICE"),
            Key::new("2", "PURCHASE"),
            Key::new("3", "ACCEPTANCE"),
            Key::new("4", "REPAIRED"),
        ];
        let usual = usual.unwrap_or("service");
        asked.keys = vec![Key::new(SPACE, usual.replace('-', " "))];
        while !given.has(|facts| facts.purpose.is_some()) {
            let purpose = match self.asking.key(&asked)? {
                Answer::Forward => Some(usual),
                other => other.place().and_then(|place| PURPOSES.get(place).copied()),
            };
            if let Some(purpose) = purpose {
                start.extend(["--reason".to_owned(), purpose.to_owned()]);
                break;
            }
        }
        let mut asked = question("HOW LONG", "How much time is there?");
        asked.choices = vec![Key::new(SPACE, "ALL OF IT"), Key::new("4", "40 MINUTES")];
        asked.lines =
            vec!["40 minutes: the short visit, led step by step with the minutes left.".to_owned()];
        asked.keys = Vec::new();
        let mut is_short = given.short.then_some(true);
        while is_short.is_none() {
            is_short = match self.asking.key(&asked)? {
                Answer::Forward => Some(false),
                Answer::Sign('4') => Some(true),
                _ => None,
            };
        }
        if is_short == Some(true) {
            start.push("--short".to_owned());
        }
        let texts: [(&str, &str, &str, Option<&str>); 5] = [
            (
                "CONSENT",
                "Examined with the consent of",
                "--consent-of",
                last.consent_of.as_deref(),
            ),
            (
                "OPERATOR",
                "The machine is operated by",
                "--operated-by",
                last.operated_by.as_deref(),
            ),
            (
                "CUSTOMER",
                "For whom is it",
                "--customer",
                last.customer.as_deref(),
            ),
            (
                "HOURS",
                "Power-on hours off the control",
                "--power-on-hours",
                None,
            ),
            (
                "TOOL",
                "Number of the tool that comes out of the spindle",
                "--tool",
                None,
            ),
        ];
        let is_given = |flag: &str| {
            given.has(|facts| match flag {
                "--consent-of" => facts.consent_of.is_some(),
                "--operated-by" => facts.operated_by.is_some(),
                "--customer" => facts.customer.is_some(),
                "--power-on-hours" => facts.power_on_hours.is_some(),
                _ => facts.tool.is_some(),
            })
        };
        for (word, sentence, flag, usual) in texts {
            if is_given(flag) {
                continue;
            }
            let alone = usual.map(|usual| format!("{usual}, as last time"));
            let alone = alone.as_deref().unwrap_or("not said");
            let mut asked = question(word, "");
            let typed = loop {
                let typed = self.text(&asked, sentence, alone)?;
                let hours = flag == "--power-on-hours" && !typed.is_empty();
                match not_negative(&typed) {
                    Err(told) if hours => asked.lines = vec![told],
                    _ => break typed,
                }
            };
            let value = match typed.is_empty() {
                true => usual.map(str::to_owned),
                false => Some(typed),
            };
            if let Some(value) = value {
                start.extend([flag.to_owned(), value]);
            }
        }
        Some(start)
    }
}
