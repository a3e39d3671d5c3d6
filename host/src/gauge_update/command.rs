//! `gauge update`: another image for a gauge. In: a UF2 file, a port. Out: the gauge that answers with this image, and that every
//! record it had is there; or what to do.
//!
//! Everything that can be known is looked at before the gauge leaves: from then on it measures nothing until an image is in.

use crate::connection::connect;
use crate::gauge_check::info_command::channel_words;
use crate::gauge_update::arguments::UpdateArgs;
use crate::gauge_update::drive;
use crate::terminal::app::App;
use crate::terminal::console::{Finished, NOTHING_WRITTEN};
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::whole_file;
use crate::terminal::whole_file::NotRead;
use holdtrue_gauge::firmware_file::{self, Image};
use holdtrue_gauge::link::LinkError;
use holdtrue_gauge::link::discover;
use holdtrue_gauge::link::serial::SerialLink;
use holdtrue_gauge::session::Session;
use holdtrue_protocol::message::{Binding, CalibrationRecord, Channel, Channels};
use holdtrue_wording::{joined_lines, shown};
use serde::Serialize;
use std::path::PathBuf;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// How often it is looked whether drive or gauge is there.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// Twice the flash, since half of each block is no program, and once more.
const MOST_BYTES: u64 = 8 << 20;
const RECORDS: [(Channel, &str); 3] = [
    (Channel::Force, "force"),
    (Channel::Displacement, "probe"),
    (Channel::Indicator, "indicator"),
];

#[derive(Serialize)]
struct Document {
    check: &'static str,
    schema: u32,
    file: String,
    image: String,
    bytes: usize,
    port: Option<String>,
    serial: Option<String>,
    image_before: Option<String>,
    written: bool,
    records: Vec<&'static str>,
    dry_run: bool,
}

/// What a gauge says of itself that an image must leave as it is, and which image it runs.
#[derive(Clone, Debug, PartialEq)]
struct Told {
    serial: String,
    build: Option<u32>,
    fitted: Channels,
    records: Vec<(&'static str, CalibrationRecord)>,
    made_on: Option<Binding>,
}

impl Told {
    fn by(session: &mut Session) -> Result<Self, LinkError> {
        let mut records = Vec::new();
        for (channel, name) in RECORDS {
            let stored = session.stored_calibration(channel)?;
            records.extend(stored.map(|record| (name, record)));
        }
        let belonging = session.belonging()?;
        Ok(Self {
            serial: session.hello().serial.to_string(),
            build: belonging.hardware.map(|hardware| hardware.build),
            fitted: session.hello().fitted,
            records,
            made_on: belonging.made_on,
        })
    }

    fn image(&self) -> String {
        self.build.map_or_else(
            || "an image it cannot name".to_owned(),
            |build| format!("image {build:08x}"),
        )
    }
}

pub(crate) fn run(args: &UpdateArgs, app: &mut App) -> Result<Finished, Error> {
    let name = args.file.display().to_string();
    let (bytes, image) = read(&name, args)?;
    let mut document = Document {
        check: "gauge-update",
        schema: 1,
        file: name.clone(),
        image: format!("{:08x}", image.build),
        bytes: image.bytes,
        port: None,
        serial: None,
        image_before: None,
        written: false,
        records: Vec::new(),
        dry_run: args.dry_run,
    };
    let mut lines = vec![format!(
        "{}: a whole image {:08x}, {} KiB of flash; it leaves the calibrations alone.",
        shown(&name),
        image.build,
        image.bytes.div_ceil(1024)
    )];
    let mut session = match connect(&args.port.gauge) {
        Err(_) if args.dry_run && args.port.gauge == "auto" => {
            lines.push(format!("No gauge was looked at. {NOTHING_WRITTEN}"));
            return Finished::new(Exit::Done, &document, joined_lines(&lines));
        }
        connected => connected?,
    };
    let before = Told::by(&mut session)?;
    let port = session.port();
    document.port = Some(port.clone());
    document.serial = Some(before.serial.clone());
    document.image_before = before.build.map(|build| format!("{build:08x}"));
    document.records = before.records.iter().map(|(name, _)| *name).collect();
    if before.build == Some(image.build) {
        lines.push(format!(
            "Gauge {} runs this image already; nothing was written.",
            before.serial
        ));
        return Finished::new(Exit::Done, &document, joined_lines(&lines));
    }
    let change = format!("Gauge {} on {port} runs {}", before.serial, before.image());
    if args.dry_run {
        lines.push(format!("{change}. {NOTHING_WRITTEN}"));
        return Finished::new(Exit::Done, &document, joined_lines(&lines));
    }
    app.console.say(&lines[0]);
    app.console.say(&format!("{change}."));
    confirm(app)?;
    let interrupt = Interrupt::on_ctrl_c()?;
    let waiting = Waiting {
        limit: Duration::from_secs(args.wait.into()),
        interrupt: &interrupt,
    };
    leave(session, app)?;
    let drive = waiting.for_drive(args)?;
    app.console
        .say(&format!("Writing onto {} …", drive.display()));
    drive::write(&drive, &bytes)?;
    app.console
        .say("Written. Waiting for the gauge to answer …");
    let after = waiting.for_gauge(&port, &before.serial)?;
    require_same(&before, &after, &image)?;
    document.written = true;
    lines.push(format!(
        "Gauge {} answers with image {:08x}, {} before; {}.",
        after.serial,
        image.build,
        before.image(),
        kept(&after)
    ));
    lines.push("Check it before the first clamp: holdtrue gauge check".to_owned());
    Finished::new(Exit::Done, &document, joined_lines(&lines))
}

fn read(name: &str, args: &UpdateArgs) -> Result<(Vec<u8>, Image), Error> {
    let refused = |found: &str, expected: &str| {
        let refusal = Refusal {
            found,
            expected,
            next: "Nothing was written; the gauge is as it was.",
        };
        Error::input(Place::file(name), refusal)
    };
    let bytes = whole_file::read(&args.file, MOST_BYTES).map_err(|not_read| {
        let expected = match not_read {
            NotRead::Unreadable(_) => "a file that can be read",
            NotRead::Folder | NotRead::Device | NotRead::TooLarge(_) => {
                "the file of an image, named .uf2"
            }
        };
        refused(&not_read.found(), expected)
    })?;
    let image =
        firmware_file::read(&bytes).map_err(|unfit| refused(&unfit.found, unfit.expected))?;
    Ok((bytes, image))
}

fn confirm(app: &mut App) -> Result<(), Error> {
    let question = "Load the image of the file now? Until it is in, the gauge measures nothing; leave it plugged in.";
    if app.yes {
        return Ok(());
    }
    match app.console.ask(question)? {
        Some(true) => Ok(()),
        Some(false) => Err(Error::usage("nothing was written; the gauge is as it was")),
        None => Err(Error::usage(
            "nobody can be asked whether to load the image; add --yes where it is meant",
        )),
    }
}

/// Sends the gauge into its boot mode; where it cannot go by itself, says how a person brings it there.
fn leave(mut session: Session, app: &mut App) -> Result<(), Error> {
    if !session.enter_boot_mode()? {
        app.console.say(
            "This gauge cannot go into its boot mode by itself: unplug it, hold its BOOTSEL button down and plug it in again. \
             Then a drive appears.",
        );
    }
    Ok(())
}

/// What is waited for, and how long.
struct Waiting<'i> {
    limit: Duration,
    interrupt: &'i Interrupt,
}

impl Waiting<'_> {
    /// Looks again and again; none where it did not come in time.
    fn until<T>(
        &self,
        mut look: impl FnMut() -> Result<Option<T>, Error>,
    ) -> Result<Option<T>, Error> {
        let began = Instant::now();
        loop {
            if let Some(found) = look()? {
                return Ok(Some(found));
            }
            if self.interrupt.is_set() {
                return Err(Error::interrupted(
                    "stopped before the gauge answered: unplug it, plug it in again and see `holdtrue gauge info`; if it does \
                     not answer, repeat the command with its BOOTSEL button held while you plug it in",
                ));
            }
            if began.elapsed() >= self.limit {
                return Ok(None);
            }
            sleep(LOOK_EVERY);
        }
    }

    fn for_drive(&self, args: &UpdateArgs) -> Result<PathBuf, Error> {
        let found = self.until(|| drive::find(args.drive.as_deref()))?;
        found.ok_or_else(|| {
            let (place, next) = match &args.drive {
                Some(folder) => (
                    format!("no drive of a gauge at {}", folder.display()),
                    "see where it is mounted and name that with --drive",
                ),
                None => (
                    "no drive of a gauge appeared".to_owned(),
                    "if one is there, name its folder with --drive",
                ),
            };
            Error::gauge(format!(
                "{place} within {} s; {next}. Nothing was written: unplug the gauge and plug it in again, and it is as it was",
                self.limit.as_secs()
            ))
        })
    }

    /// The gauge of this serial number, on its port or on another that calls itself a gauge.
    fn for_gauge(&self, port: &str, serial: &str) -> Result<Told, Error> {
        let found = self.until(|| Ok(answering(port, serial)))?;
        found.ok_or_else(|| {
            Error::gauge(format!(
                "{port}: the image was written, and gauge {serial} did not answer within {} s. Unplug it, plug it in again and see \
                 `holdtrue gauge info`; if it does not answer, repeat the command with its BOOTSEL button held while you plug it in",
                self.limit.as_secs()
            ))
        })
    }
}

fn answering(port: &str, serial: &str) -> Option<Told> {
    let others = discover::ports().into_iter().filter(|other| other.is_gauge);
    let names = others.map(|other| other.name).filter(|name| name != port);
    let mut told = std::iter::once(port.to_owned())
        .chain(names)
        .filter_map(|name| {
            let link = SerialLink::open(&name).ok()?;
            let mut session = Session::open(Box::new(link)).ok()?;
            Told::by(&mut session).ok()
        });
    told.find(|told| told.serial == serial)
}

/// The image that was written, and all that was stored before.
fn require_same(before: &Told, after: &Told, image: &Image) -> Result<(), Error> {
    let serial = &after.serial;
    if after.build != Some(image.build) {
        return Err(Error::gauge(format!(
            "gauge {serial} answers with {}, and the file has image {:08x}: the file did not get in. Repeat the command; if it stays, \
             hold its BOOTSEL button while you plug it in",
            after.image(),
            image.build
        )));
    }
    if before.fitted != after.fitted {
        let [was, is] =
            [before.fitted, after.fitted].map(|fitted| channel_words(fitted).join(", "));
        return Err(Error::gauge(format!(
            "gauge {serial} answers with the new image, which is for a gauge that measures {is}; this one measured {was}: load the image \
             that was built for what is wired to it"
        )));
    }
    let lost = before
        .records
        .iter()
        .find(|record| !after.records.contains(record));
    if let Some((name, record)) = lost {
        return Err(Error::gauge(format!(
            "gauge {serial} answers with the new image, and its {name} calibration (certificate {}) is not there any more as it was: enter \
             the certificate again (`holdtrue gauge certificate`) before anything is measured",
            shown(&record.certificate)
        )));
    }
    if before.made_on.is_some() && before.made_on != after.made_on {
        return Err(Error::gauge(format!(
            "gauge {serial} answers with the new image, and no longer says what its calibration was made on: enter the certificate again \
             (`holdtrue gauge certificate`) before anything is measured"
        )));
    }
    Ok(())
}

fn kept(after: &Told) -> String {
    let names: Vec<&str> = after.records.iter().map(|(name, _)| *name).collect();
    match names.as_slice() {
        [] => "it had no calibration, and has none".to_owned(),
        names => format!("its calibrations are there as before: {}", names.join(", ")),
    }
}
