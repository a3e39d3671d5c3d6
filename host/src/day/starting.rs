//! A new visit, asked question by question. In: keys, and as defaults what the last visit said. Out: the commands that enter
//! the spindle and start the visit. Each answer is kept until it is begun: who is called away, mistypes or stops goes on there.

use crate::day::asked;
use crate::day::asked::{Asked, Keeping, KeptAnswers, Words, value};
use crate::terminal::app::App;
use crate::terminal::asking::{Answer, Asking, BACK, Question, SPACE, Text, Wanted};
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::name::name;
use crate::terminal::parse::{counted_hours, force};
use crate::visits::arguments::VisitFacts;
use crate::visits::book::opening::find_spindle;
use crate::visits::spindles::spelled::interface;
use holdtrue_book::{Book, Entity, SpindleHeader, VisitHeader};
use holdtrue_metrology::grip::limits::UsualRange;
use holdtrue_screen::Key;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Class, Drawbar};

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
    /// What was said of a question by an option; none of one that is to be asked.
    fn told(self, number: usize) -> Option<Words> {
        let facts = self.facts;
        match number {
            PURPOSE => {
                let purpose = facts?.purpose?;
                Some(asked::option("--reason", purpose.to_string()))
            }
            HOW_LONG => self.short.then(|| words(&["--short"])),
            _ => {
                let (_, _, flag) = TEXTS.get(number.checked_sub(FIRST_TEXT)?)?;
                Some(asked::option(flag, told_of(flag, facts?)?))
            }
        }
    }
}

/// Asks for a new visit, or goes on with the questions of one that was not begun.
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
    let keeping = Keeping::of(app);
    let mut starting = Starting {
        asking: Asking::begin(&mut app.console, interrupt.clone()),
    };
    let mut kept = match keeping.kept() {
        None => None,
        Some(kept) => match starting.goes_on(&kept) {
            None => return Ok(None),
            Some(GoesOn::Left) => return Ok(Some(Chosen::Left)),
            Some(GoesOn::Yes) => gone_on_with(kept, &known, given),
            Some(GoesOn::Anew) => {
                keeping.forget();
                None
            }
        },
    };
    known.truncate(CHOICES);
    loop {
        let (which, mut entered, mut visit) = match kept.take() {
            Some(gone_on_with) => gone_on_with,
            None => match starting.which(&known) {
                None => return Ok(None),
                Some(Which::Left) => return Ok(Some(Chosen::Left)),
                Some(which) => (which, Asked::default(), Asked::default()),
            },
        };
        loop {
            let mut commands = Vec::new();
            let spindle = match &which {
                Which::Known(name) => name.clone(),
                Which::New | Which::Left => {
                    let keep =
                        |entered: &Asked| keeping.keep(&KeptAnswers::of(None, entered, &visit));
                    match starting.new_spindle(&known, &mut entered, keep) {
                        None => return Ok(None),
                        Some(None) => break,
                        Some(Some((name, add))) => {
                            commands.push(add);
                            name
                        }
                    }
                }
            };
            let last = book
                .as_ref()
                .map(|book| last_visit(book, &spindle))
                .transpose()?
                .flatten();
            let in_book = matches!(which, Which::Known(_)).then_some(&*spindle);
            let keep = |visit: &Asked| {
                let answers = KeptAnswers::of(in_book, &entered, visit);
                keeping.keep(&answers.with(|number| given.told(number)));
            };
            match starting.visit(&spindle, &last.unwrap_or_default(), given, &mut visit, keep) {
                None => return Ok(None),
                Some(Some(start)) => {
                    commands.push(start);
                    return Ok(Some(Chosen::Begin(commands)));
                }
                // Back to the last question about the spindle.
                Some(None) if entered.step_back() => {}
                Some(None) => break,
            }
        }
        if known.is_empty() {
            return Ok(Some(Chosen::Left));
        }
    }
}

/// Where the questions were left; none where the spindle they were about is gone.
fn gone_on_with(
    kept: KeptAnswers,
    known: &[Entity<SpindleHeader>],
    given: Given<'_>,
) -> Option<(Which, Asked, Asked)> {
    let kept = kept.fitted(|number| given.told(number).is_some());
    let is_known = |name: &str| known.iter().any(|each| each.header().name == name);
    // One that was new may have come into the book before the visit was refused.
    let entered = kept.entered.words(0).first();
    let name = kept
        .spindle
        .as_ref()
        .or(entered.filter(|name| is_known(name)));
    match name {
        Some(name) if !is_known(name) => None,
        Some(name) => Some((Which::Known(name.clone()), Asked::default(), kept.visit)),
        None => Some((Which::New, kept.entered, kept.visit)),
    }
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
    loop {
        let chosen = match starting.which(&known) {
            None => None,
            Some(Which::Left) => Some(Chosen::Left),
            Some(Which::Known(name)) => Some(Chosen::Begin(vec![name_it(&name)])),
            Some(Which::New) => match starting.new_spindle(&known, &mut Asked::default(), |_| ()) {
                None => None,
                Some(None) if known.is_empty() => Some(Chosen::Left),
                Some(None) => continue,
                Some(Some((name, add))) => Some(Chosen::Begin(vec![add, name_it(&name)])),
            },
        };
        return Ok(chosen);
    }
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
    /// One of the book, by its name.
    Known(String),
    New,
    Left,
}

/// What becomes of answers that were kept.
enum GoesOn {
    Yes,
    Anew,
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
        ..Question::default()
    }
}

/// How a question was answered.
enum Said {
    /// What it adds to the command.
    Words(Words),
    /// It does not arise.
    NotAsked,
    /// Back to the question before.
    Back,
}

fn option(name: &str, value: impl Into<String>) -> Said {
    Said::Words(asked::option(name, value))
}

/// What was not said adds nothing.
fn nothing() -> Said {
    Said::Words(Words::new())
}

/// Where the way back leads.
const ONE_BACK: &str = "one question back";

impl Starting<'_> {
    /// Whether the questions go on where they were left; none where nobody is there any more.
    fn goes_on(&mut self, kept: &KeptAnswers) -> Option<GoesOn> {
        let mut question = question(
            "GO ON",
            "A new visit was being asked about, and was not begun. Go on with it?",
        );
        question.lines = vec![format!("Answered so far: {}.", kept.words())];
        question.choices = vec![Key::new(SPACE, "GO ON"), Key::new("N", "ANEW")];
        question.keys = vec![Key::new(BACK, "leave it")];
        loop {
            match self.asking.key(&question)? {
                Answer::Forward => return Some(GoesOn::Yes),
                Answer::Sign('N') => return Some(GoesOn::Anew),
                Answer::Back | Answer::Sign('Q') => return Some(GoesOn::Left),
                Answer::Sign(_) | Answer::Changed => {}
            }
        }
    }

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
            let place = match self.asking.key(&question)? {
                Answer::Forward => Some(0),
                Answer::Sign('N') => return Some(Which::New),
                Answer::Back | Answer::Sign('Q') => return Some(Which::Left),
                other => other.place(),
            };
            if let Some(spindle) = place.and_then(|place| known.get(place)) {
                return Some(Which::Known(spindle.header().name.clone()));
            }
        }
    }

    /// So many questions in turn, as far as they are not answered yet, each answer to `keep`; whether all were, or the first one
    /// led back. None where nobody is there any more.
    fn in_turn(
        &mut self,
        count: usize,
        asked: &mut Asked,
        keep: impl Fn(&Asked),
        mut ask: impl FnMut(&mut Self, usize, &Asked) -> Option<Said>,
    ) -> Option<bool> {
        while asked.count() < count {
            match ask(self, asked.count(), asked)? {
                Said::Words(words) => asked.answer(Some(words)),
                Said::NotAsked => {
                    asked.answer(None);
                    continue;
                }
                Said::Back if asked.step_back() => {}
                Said::Back => return Some(false),
            }
            keep(asked);
        }
        Some(true)
    }

    /// The name and the command that enters it; no command where the first question leads back.
    fn new_spindle(
        &mut self,
        known: &[Entity<SpindleHeader>],
        entered: &mut Asked,
        keep: impl Fn(&Asked),
    ) -> Option<Option<(String, Words)>> {
        let is_taken = |asked: &Asked| {
            let called = asked.words(0);
            known
                .iter()
                .any(|each| called.contains(&each.header().name))
        };
        let goes_on = self.in_turn(7, entered, keep, |starting, number, asked| match number {
            0 => starting.name(known.is_empty(), asked.before()),
            // The command says so, and what to do.
            _ if is_taken(asked) => Some(Said::NotAsked),
            1 => starting.taper(asked.before()),
            2 => starting.choice(
                asked.before(),
                "DRAWBAR",
                "What pulls the tool in?",
                &[("1", "SPRINGS"), ("2", "GAS SPRING"), ("3", "HYDRAULIC")],
                "not known",
                |place| Some(option("--drawbar", Drawbar::NAMED.get(place)?.to_string())),
            ),
            3 => starting.choice(
                asked.before(),
                "DRIVE",
                "What drives the spindle?",
                &[("1", "GEARBOX"), ("2", "BELT"), ("3", "DIRECT")],
                "not known",
                |place| Some(option("--drive", *["gearbox", "belt", "direct"].get(place)?)),
            ),
            4 => starting.choice(
                asked.before(),
                "AXIS",
                "Which way does it point?",
                &[("1", "VERTICAL"), ("2", "HORIZONTAL")],
                "not known",
                |place| Some(option("--axis", *["vertical", "horizontal"].get(place)?)),
            ),
            5 => starting.nominal(asked.before()),
            _ => {
                let taper = value(asked.words(1)).parse::<Interface>().ok();
                let is_known = !asked.words(5).is_empty();
                if is_known || taper.and_then(UsualRange::over_classes).is_none() {
                    return Some(Said::NotAsked);
                }
                starting.choice(
                    asked.before(),
                    "CLASS",
                    "Without the maker's figure: how strongly is it sprung, as far as you can tell? It is kept as an assumption.",
                    &[("1", "LIGHT"), ("2", "STANDARD"), ("3", "HEAVY")],
                    "no assumption",
                    |place| Some(option("--class", Class::ALL.get(place)?.to_string())),
                )
            }
        })?;
        let called = entered.words(0).first().cloned();
        Some(called.filter(|_| goes_on).map(|called| {
            let mut add = words(&["spindle", "add"]);
            add.extend(entered.all());
            (called, add)
        }))
    }

    fn name(&mut self, is_first: bool, before: Option<&[String]>) -> Option<Said> {
        let mut named = question(
            "NAME",
            "What do people call this spindle? Centre 1, or its serial number.",
        );
        let wanted = Wanted {
            what: "Name",
            alone: None,
            back: Some(if is_first { "leave it" } else { ONE_BACK }),
            before: value(before.unwrap_or_default()),
        };
        loop {
            match self.asking.text(&named, &wanted)? {
                Text::Back => return Some(Said::Back),
                Text::Typed(typed) => match name(&typed) {
                    // It would be taken for an option.
                    Ok(called) if called.starts_with('-') => {
                        named.lines = vec![format!(
                            "found \"{called}\", expected a name that does not begin with a dash"
                        )];
                    }
                    Ok(called) => return Some(Said::Words(vec![called])),
                    Err(told) => named.lines = vec![told],
                },
            }
        }
    }

    fn taper(&mut self, before: Option<&[String]>) -> Option<Said> {
        let asked = question(
            "TAPER",
            "Its taper, as people say it: BT40, SK 50, CAT-40, HSK-A63.",
        );
        self.text(
            asked,
            before,
            "Taper",
            "not known",
            |typed| match typed.parse::<Interface>() {
                Ok(_) => Ok(option("--interface", typed)),
                Err(error) => Err(error.to_string()),
            },
        )
    }

    fn nominal(&mut self, before: Option<&[String]>) -> Option<Said> {
        let asked = question(
            "MAKER",
            "The maker's grip force, such as 10 kN or 2250 lbf.",
        );
        let (what, alone) = ("Maker's grip force", "nobody has it");
        self.text(asked, before, what, alone, |typed| {
            // A bare number is in N, and few people mean that.
            match force(typed) {
                Ok(_) if !typed.contains(char::is_alphabetic) => Err(format!(
                    "{typed} of what? Type its unit too, such as {typed} kN."
                )),
                Ok(_) => Ok(option("--nominal-n", typed)),
                Err(told) => Err(told),
            }
        })
    }

    /// A line of text, asked again with why where it `says` nothing that can be; nothing typed adds nothing. What was answered
    /// `before` stands there already. None where nobody is there any more.
    fn text(
        &mut self,
        mut asked: Question,
        before: Option<&[String]>,
        what: &str,
        alone: &str,
        says: impl Fn(&str) -> Result<Said, String>,
    ) -> Option<Said> {
        let wanted = Wanted {
            what,
            alone: Some(alone),
            back: Some(ONE_BACK),
            before: value(before.unwrap_or_default()),
        };
        loop {
            match self.asking.text(&asked, &wanted)? {
                Text::Back => return Some(Said::Back),
                Text::Typed(typed) if typed.is_empty() => return Some(nothing()),
                Text::Typed(typed) => match says(&typed) {
                    Ok(said) => return Some(said),
                    Err(told) => asked.lines = vec![told],
                },
            }
        }
    }

    /// One of up to four by its digit, each of which `says` something; `otherwise` by the big key. What was answered `before` is
    /// kept by the big key, and `otherwise` by 0. None where nobody is there any more.
    fn choice(
        &mut self,
        before: Option<&[String]>,
        word: &str,
        sentence: &str,
        of: &[(&str, &str)],
        otherwise: &str,
        says: impl Fn(usize) -> Option<Said>,
    ) -> Option<Said> {
        let mut asked = question(word, sentence);
        asked.choices = of.iter().map(|(key, does)| Key::new(*key, *does)).collect();
        let kept = before.filter(|words| !words.is_empty());
        asked.keys = match kept {
            Some(words) => {
                let kept = value(words).replace('-', " ");
                vec![
                    Key::new(SPACE, format!("{kept}, as before")),
                    Key::new("0", otherwise),
                ]
            }
            None => vec![Key::new(SPACE, otherwise)],
        };
        asked.keys.push(Key::new(BACK, ONE_BACK));
        loop {
            match self.asking.key(&asked)? {
                Answer::Forward => {
                    return Some(kept.map_or_else(nothing, |words| Said::Words(words.to_vec())));
                }
                Answer::Sign('0') if kept.is_some() => return Some(nothing()),
                Answer::Back => return Some(Said::Back),
                answer => {
                    if let Some(said) = answer.place().and_then(&says) {
                        return Some(said);
                    }
                }
            }
        }
    }

    /// The command that begins the visit, with what the last one said as defaults; none where the first question leads back.
    fn visit(
        &mut self,
        spindle: &str,
        last: &VisitHeader,
        given: Given<'_>,
        asked: &mut Asked,
        keep: impl Fn(&Asked),
    ) -> Option<Option<Words>> {
        let count = FIRST_TEXT + TEXTS.len();
        let goes_on = self.in_turn(count, asked, keep, |starting, number, asked| match number {
            _ if given.told(number).is_some() => Some(Said::NotAsked),
            PURPOSE => starting.purpose(last, asked.before()),
            HOW_LONG => starting.how_long(asked.before()),
            _ => {
                let (word, what, flag) = TEXTS[number - FIRST_TEXT];
                starting.fact(word, what, flag, of_last(flag, last), asked.before())
            }
        })?;
        let mut start = words(&["visit", "start", "--spindle", spindle]);
        start.extend(asked.all());
        if given.short {
            start.push("--short".to_owned());
        }
        Some(Some(start).filter(|_| goes_on))
    }

    fn purpose(&mut self, last: &VisitHeader, before: Option<&[String]>) -> Option<Said> {
        const PURPOSES: [&str; 4] = ["service", "before-purchase", "acceptance", "after-repair"];
        let usual = last
            .purpose
            .as_deref()
            .filter(|word| PURPOSES.contains(word))
            .unwrap_or("service");
        let usual = before.map_or(usual, value);
        let reason = |purpose: &str| option("--reason", purpose);
        let chosen = self.choice(
            None,
            "WHAT FOR",
            "What is the visit for?",
            &[
                ("1", "SERVICE"),
                ("2", "PURCHASE"),
                ("3", "ACCEPTANCE"),
                ("4", "REPAIRED"),
            ],
            &usual.replace('-', " "),
            |place| PURPOSES.get(place).copied().map(reason),
        )?;
        Some(match chosen {
            Said::Words(words) if words.is_empty() => reason(usual),
            other => other,
        })
    }

    fn how_long(&mut self, before: Option<&[String]>) -> Option<Said> {
        let mut asked = question("HOW LONG", "How much time is there?");
        asked.choices = vec![Key::new(SPACE, "ALL OF IT"), Key::new("4", "40 MINUTES")];
        asked.lines =
            vec!["40 minutes: the short visit, led step by step with the minutes left.".to_owned()];
        if let Some(before) = before {
            let said = if before.is_empty() {
                "all of it"
            } else {
                "40 minutes"
            };
            asked
                .lines
                .insert(0, format!("Before you went back: {said}."));
        }
        asked.keys = vec![Key::new(BACK, ONE_BACK)];
        loop {
            match self.asking.key(&asked)? {
                Answer::Forward => return Some(nothing()),
                Answer::Sign('4') => return Some(Said::Words(words(&["--short"]))),
                Answer::Back => return Some(Said::Back),
                _ => {}
            }
        }
    }

    fn fact(
        &mut self,
        word: &str,
        what: &str,
        flag: &str,
        usual: Option<&str>,
        before: Option<&[String]>,
    ) -> Option<Said> {
        let alone = usual.map(|usual| format!("{usual}, as last time"));
        let alone = alone.as_deref().unwrap_or("not said");
        // What Enter alone says is not typed for anybody.
        let before = before.filter(|words| usual != Some(value(words)));
        let said = self.text(question(word, ""), before, what, alone, |typed| {
            match flag {
                "--power-on-hours" => _ = counted_hours(typed)?,
                "--customer" => _ = name(typed)?,
                _ => {}
            }
            Ok(option(flag, typed))
        })?;
        Some(match (said, usual) {
            (Said::Words(words), Some(usual)) if words.is_empty() => option(flag, usual),
            (said, _) => said,
        })
    }
}

/// Numbers of the questions about a visit: what it is for, how long it may take, and then [`TEXTS`].
const PURPOSE: usize = 0;
const HOW_LONG: usize = 1;
const FIRST_TEXT: usize = 2;

/// What is typed of a visit: the word of the screen, what is asked, the option it becomes.
const TEXTS: [(&str, &str, &str); 5] = [
    ("CONSENT", "Examined with the consent of", "--consent-of"),
    ("OPERATOR", "The machine is operated by", "--operated-by"),
    ("CUSTOMER", "For whom is it", "--customer"),
    (
        "HOURS",
        "Power-on hours off the control",
        "--power-on-hours",
    ),
    (
        "TOOL",
        "Number of the tool that comes out of the spindle",
        "--tool",
    ),
];

/// What an option said of it already.
fn told_of(flag: &str, facts: &VisitFacts) -> Option<String> {
    match flag {
        "--consent-of" => facts.consent_of.clone(),
        "--operated-by" => facts.operated_by.clone(),
        "--customer" => facts.customer.clone(),
        "--power-on-hours" => facts.power_on_hours.map(|hours| hours.to_string()),
        _ => facts.tool.clone(),
    }
}

/// What the last visit said of it that may be so again.
fn of_last<'a>(flag: &str, last: &'a VisitHeader) -> Option<&'a str> {
    match flag {
        "--consent-of" => last.consent_of.as_deref(),
        "--operated-by" => last.operated_by.as_deref(),
        "--customer" => last.customer.as_deref(),
        _ => None,
    }
}
