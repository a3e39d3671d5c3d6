//! Opening the book for a command. In: what the command line says. Out: a book to read or a book to write into.

use crate::terminal::app::App;
use crate::terminal::console::Console;
use crate::terminal::error::{Error, Place};
use crate::terminal::exit::Exit;
use crate::terminal::name::is_same_name;
use crate::visits::book::book_writer::{BookWriter, is_from_paper};
use crate::visits::known_day;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::spelled::interface;
use holdtrue_book::{Acknowledgement, Book, Entity, GaugeHeader, SpindleHeader, VisitHeader};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Class, Drawbar};
use uuid::Uuid;

/// Author of a row where nobody gave a name.
pub(crate) const UNNAMED: &str = "technician, not named";

impl App {
    /// The book, for reading only.
    ///
    /// # Errors
    /// It cannot be read: exit 6.
    pub fn read_book(&self) -> Result<Book, Error> {
        self.require_there()?;
        Ok(Book::open_read_only(self.book_path())?)
    }

    /// The book, for writing; never created.
    ///
    /// # Errors
    /// It is not there, or cannot be opened: exit 6.
    pub fn writer_of_existing(&self) -> Result<BookWriter, Error> {
        self.require_there()?;
        Ok(BookWriter::open_existing(self.book_path(), self.author())?)
    }

    /// The book as it stands, for reading only; none where there is none yet. Nothing is created.
    ///
    /// # Errors
    /// It cannot be read: exit 6.
    pub fn book_if_there(&self) -> Result<Option<Book>, Error> {
        self.require_there()?;
        match Book::open_read_only(self.book_path()) {
            Ok(book) => Ok(Some(book)),
            Err(holdtrue_book::Error::Missing { .. } | holdtrue_book::Error::Empty { .. }) => {
                Ok(None)
            }
            Err(other) => Err(other.into()),
        }
    }

    /// The open visit as it stands, before anything is filed.
    ///
    /// # Errors
    /// The book cannot be read: exit 6.
    pub fn at_hand(&self) -> Result<AtHand, Error> {
        let Some(book) = self.book_if_there()? else {
            return Ok(AtHand::default());
        };
        let mut open = book.open_visits()?;
        open.retain(|visit| !is_from_paper(visit.header()));
        let Some(visit) = open.pop() else {
            return Ok(AtHand::default());
        };
        AtHand::of(&book, &visit)
    }

    /// The open visit that is meant, as it stands, before anything is filed.
    ///
    /// # Errors
    /// As [`maybe_open_visit`]; the book cannot be read: exit 6.
    pub fn to_add_to(&self, wanted: Option<&str>) -> Result<AtHand, Error> {
        let Some(book) = self.book_if_there()? else {
            return Ok(AtHand::default());
        };
        let visit = maybe_open_visit(&book, wanted)?;
        visit.map_or_else(|| Ok(AtHand::default()), |visit| AtHand::of(&book, &visit))
    }

    /// Whose name goes under what is written.
    pub fn author(&self) -> &str {
        self.technician.as_deref().unwrap_or(UNNAMED)
    }
}

/// What is known before a check begins.
#[derive(Debug, Default)]
pub struct AtHand {
    /// The open visit, where there is one.
    pub visit: Option<Uuid>,
    /// It is entered from paper.
    pub from_paper: bool,
    /// The day its readings are of: that of the paper, else today.
    pub day: Option<KnownDay>,
    /// The spindle of the open visit, where there is one and it has been named.
    pub spindle: Option<SpindleHeader>,
    /// Two people changed its page apart from each other, and nobody has settled what is right.
    pub at_odds: bool,
    /// What was acknowledged in that visit.
    pub acknowledged: Vec<Acknowledgement>,
}

impl AtHand {
    fn of(book: &Book, visit: &Entity<VisitHeader>) -> Result<Self, Error> {
        let page = visit.header().spindle;
        let page = page
            .map(|page| book.get::<SpindleHeader>(page))
            .transpose()?;
        Ok(Self {
            at_odds: page.is_some_and(|page| page.conflict()),
            visit: Some(visit.id),
            from_paper: is_from_paper(visit.header()),
            day: is_from_paper(visit.header())
                .then(|| KnownDay::of(&visit.header().started_at))
                .flatten(),
            spindle: spindle_of(book, visit.header())?,
            acknowledged: book.acknowledgements(visit.id)?,
        })
    }
}

impl AtHand {
    /// Says what a set that is judged now would rest on, where that is not settled.
    pub fn warn(&self, console: &mut Console) {
        let Some(spindle) = self.spindle.as_ref().filter(|_| self.at_odds) else {
            return;
        };
        console.message(&format!(
            "Two people changed the page of \"{}\" apart from each other: it is judged by the change made last, which nobody has \
             settled. holdtrue spindle show tells both, holdtrue spindle edit says what is right.",
            spindle.name
        ));
    }
}

/// The spindle of a visit, where it has been named.
///
/// # Errors
/// When the book cannot be read.
pub fn spindle_of(
    book: &Book,
    visit: &VisitHeader,
) -> holdtrue_book::Result<Option<SpindleHeader>> {
    let Some(spindle) = visit.spindle else {
        return Ok(None);
    };
    Ok(Some(book.get::<SpindleHeader>(spindle)?.header().clone()))
}

/// What a check is headed with besides its kind: the spindle's name, and the taper.
pub fn called(spindle: Option<&SpindleHeader>, taper: Option<Interface>) -> Vec<String> {
    let name = spindle.map(|spindle| spindle.name.clone());
    name.into_iter()
        .chain(taper.map(|taper| taper.to_string()))
        .collect()
}

/// The taper of a spindle, where the book knows family and size.
///
/// # Errors
/// One that is not known here: exit 6.
pub fn taper_of(spindle: &SpindleHeader) -> Result<Option<Interface>, Error> {
    let name = interface(spindle).filter(|_| spindle.taper_size.is_some());
    let read = |name: String| {
        name.parse()
            .map_err(|e| not_known(spindle, "--interface", &e))
    };
    name.map(read).transpose()
}

/// What pulls the drawbar of a spindle, where the book knows it.
///
/// # Errors
/// A word that is not known here: exit 6.
pub fn drawbar_of(spindle: &SpindleHeader) -> Result<Option<Drawbar>, Error> {
    let read = |word: &String| {
        word.parse()
            .map_err(|e| not_known(spindle, "--drawbar", &e))
    };
    spindle.drawbar.as_ref().map(read).transpose()
}

/// What class a spindle is taken to be of, where the book knows it.
///
/// # Errors
/// A word that is not known here: exit 6.
pub fn class_of(spindle: &SpindleHeader) -> Result<Option<Class>, Error> {
    let read = |word: &String| word.parse().map_err(|e| not_known(spindle, "--class", &e));
    spindle.grip_class.as_ref().map(read).transpose()
}

fn not_known(spindle: &SpindleHeader, option: &str, why: &dyn std::fmt::Display) -> Error {
    Error::book(format!(
        "the page of spindle \"{}\" in the book: {why}. Was it written by a newer program? Update this one, or correct the \
         page: holdtrue spindle edit with {option}",
        spindle.name
    ))
}

impl From<holdtrue_book::Error> for Error {
    fn from(error: holdtrue_book::Error) -> Self {
        Self {
            exit: Exit::Book,
            message: error.to_string(),
            place: Place::default(),
            loss: None,
        }
    }
}

/// The spindle somebody means: by its name, or by enough of its id.
///
/// # Errors
/// None or several: exit 2.
pub fn find_spindle(book: &Book, wanted: &str) -> Result<Entity<SpindleHeader>, Error> {
    let mut spindles = book.list::<SpindleHeader>()?;
    spindles.retain(|spindle| !spindle.removed);
    let by_name = |spindle: &Entity<SpindleHeader>| is_same_name(&spindle.header().name, wanted);
    let by_id = |spindle: &Entity<SpindleHeader>| is_id(spindle.id, wanted);
    let named = spindles.iter().any(by_name);
    let mut meant = spindles.iter().filter(|spindle| {
        if named {
            by_name(spindle)
        } else {
            by_id(spindle)
        }
    });
    match (meant.next(), meant.next()) {
        (Some(one), None) => Ok(one.clone()),
        (Some(_), Some(_)) => Err(Error::usage(format!(
            "several spindles are called \"{wanted}\": name one by its id, see holdtrue spindle list"
        ))),
        _ => Err(Error::usage(format!(
            "no spindle \"{wanted}\" in the book {}. {}",
            book.path().display(),
            known_names(&spindles)
        ))),
    }
}

/// The force gauge somebody means: by its serial number, or the only one of the book.
///
/// # Errors
/// None or several: exit 2.
pub fn find_gauge(book: &Book, serial: Option<&str>) -> Result<Entity<GaugeHeader>, Error> {
    let mut gauges = book.list::<GaugeHeader>()?;
    gauges.retain(|gauge| !gauge.removed && gauge.header().what == "force-gauge");
    let mut serials: Vec<String> = gauges
        .iter()
        .map(|gauge| gauge.header().serial.clone())
        .collect();
    serials.sort();
    serials.dedup();
    let known = match serials.as_slice() {
        [] => "It has none yet: holdtrue gauge check enters the one that is plugged in.".to_owned(),
        some => format!("Known: {}.", some.join(", ")),
    };
    if serial.is_none() && serials.len() > 1 {
        return Err(Error::usage(format!(
            "the book has several force gauges: name one with --serial. {known}"
        )));
    }
    let meant = gauges
        .into_iter()
        .find(|gauge| serial.is_none_or(|serial| gauge.header().serial == serial));
    meant.ok_or_else(|| {
        let which = serial.map_or_else(String::new, |serial| format!(" \"{serial}\""));
        Error::usage(format!(
            "no force gauge{which} in the book {}. {known}",
            book.path().display()
        ))
    })
}

fn known_names(spindles: &[Entity<SpindleHeader>]) -> String {
    if spindles.is_empty() {
        return "It has none yet: enter it with holdtrue spindle add. If another book is meant, name it with --book FILE, or once \
                for all with holdtrue settings --book FILE."
            .to_owned();
    }
    let names: Vec<_> = spindles
        .iter()
        .map(|spindle| spindle.header().name.as_str())
        .collect();
    format!("Known: {}.", names.join(", "))
}

/// Ids are long: their last eight characters, or more, or the beginning, are enough.
pub(crate) fn is_id(id: Uuid, wanted: &str) -> bool {
    const ENOUGH: usize = 6;
    let id = id.to_string();
    wanted.len() >= ENOUGH && (id.ends_with(wanted) || id.starts_with(wanted))
}

/// The short form of an id on screen.
pub fn short_id(id: Uuid) -> String {
    let id = id.to_string();
    id[id.len() - 8..].to_owned()
}

/// The open visit that is meant: the one named, else the only one.
///
/// # Errors
/// None is open, several and none named, or the one named is not open: exit 2.
pub fn open_visit(book: &Book, wanted: Option<&str>) -> Result<Entity<VisitHeader>, Error> {
    maybe_open_visit(book, wanted)?
        .ok_or_else(|| Error::usage("no visit is open: start one with holdtrue visit start"))
}

/// The same; none where none is open and none is named.
///
/// # Errors
/// Several are open and none is named, or the one named is not open: exit 2.
pub fn maybe_open_visit(
    book: &Book,
    wanted: Option<&str>,
) -> Result<Option<Entity<VisitHeader>>, Error> {
    let mut open = book.open_visits()?;
    if let Some(wanted) = wanted {
        let visit = find_visit(book, wanted)?;
        let named = open.into_iter().find(|each| each.id == visit);
        return match named {
            Some(named) => Ok(Some(named)),
            None => Err(Error::usage(format!(
                "the visit {} is finished: nothing is added to it",
                short_id(visit)
            ))),
        };
    }
    if open.len() > 1 {
        let each: Result<Vec<String>, Error> =
            open.iter().map(|visit| described(book, visit)).collect();
        return Err(Error::usage(format!(
            "several visits are open: {}. Say which with --visit and its id",
            each?.join("; ")
        )));
    }
    Ok(open.pop())
}

/// The open visit that is meant, or a new one for a spindle still unnamed.
///
/// # Errors
/// As [`maybe_open_visit`]; when the book does not take it.
pub fn visit_to_add_to(writer: &mut BookWriter, wanted: Option<&str>) -> Result<Uuid, Error> {
    match maybe_open_visit(&writer.book, wanted)? {
        Some(visit) => Ok(visit.id),
        None => Ok(writer.start_visit(VisitHeader::default())?),
    }
}

/// A visit in a few words, with its id.
///
/// # Errors
/// When the book cannot be read.
pub fn described(book: &Book, visit: &Entity<VisitHeader>) -> Result<String, Error> {
    let header = visit.header();
    let paper = if is_from_paper(header) {
        ", from paper"
    } else {
        ""
    };
    Ok(format!(
        "{} to {} of {}{paper}",
        short_id(visit.id),
        spindle_name(book, header)?,
        known_day::words(&header.started_at)
    ))
}

/// The visit named, else the open one, else the one that began last.
///
/// # Errors
/// There is none: exit 2.
pub fn visit_meant(book: &Book, named: Option<&str>) -> Result<Uuid, Error> {
    if let Some(wanted) = named {
        return find_visit(book, wanted);
    }
    let open = maybe_open_visit(book, None)?.map(|visit| visit.id);
    let meant = match open {
        None => book.latest_visit()?,
        open => open,
    };
    meant.ok_or_else(|| {
        Error::usage(format!(
            "there is no visit in the book {}: start one with holdtrue visit start",
            book.path().display()
        ))
    })
}

/// What people call the spindle of a visit.
///
/// # Errors
/// When the book cannot be read.
pub fn spindle_name(book: &Book, visit: &VisitHeader) -> Result<String, Error> {
    match visit.spindle {
        Some(spindle) => Ok(book.get::<SpindleHeader>(spindle)?.header().name.clone()),
        None => Ok("unnamed".to_owned()),
    }
}

/// The visit somebody means, by enough of its id.
///
/// # Errors
/// None or several: exit 2.
pub fn find_visit(book: &Book, wanted: &str) -> Result<Uuid, Error> {
    let visits = book.visits()?;
    let mut meant = visits.iter().filter(|visit| is_id(visit.id, wanted));
    match (meant.next(), meant.next()) {
        (Some(one), None) => Ok(one.id),
        _ => Err(Error::usage(format!(
            "no single visit \"{wanted}\" in the book: holdtrue spindle show lists the visits to a spindle"
        ))),
    }
}
