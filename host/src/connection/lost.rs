//! A gauge that is lost in the middle of a measurement. In: how it was lost, the picture of what is measured. Out: the same
//! gauge again, or that whoever sits there ends it.

use crate::terminal::console::Console;
use crate::terminal::error::{Error, Loss};
use crate::terminal::interrupt::{Interrupt, cut_off};
use crate::terminal::keys::Key;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use holdtrue_gauge::link::serial::SerialLink;
use holdtrue_gauge::link::{LinkError, discover};
use holdtrue_gauge::session::Session;
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_screen::{Ground, Key as ShownKey, Picture, Scene};
use std::time::{Duration, Instant};

/// How often the port is looked for.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// How often a key is looked for.
const KEYS_EVERY: Duration = Duration::from_millis(50);
/// Heard again by whoever came back to the machine meanwhile.
const RING_EVERY: Duration = Duration::from_secs(20);
/// As many bells as the light blinks where something is wrong.
const BELLS: u8 = 5;

/// What is measured.
#[derive(Clone, Copy, Debug)]
pub struct Measured<'a> {
    /// Which check, by which gauge.
    pub subject: &'a Subject,
    /// What was measured so far.
    pub picture: &'a Picture,
    /// What becomes of what was read, one sentence.
    pub kept: &'a str,
    /// What it is measured with; none where it is read anew in any case.
    pub calibration: Option<&'a CalibrationRecord>,
}

/// Waits for a gauge that was lost until it is plugged in again. The stream has to be started anew then.
///
/// # Errors
/// `error` itself where no gauge was lost, where there is no live screen to wait on, and where somebody ends it; Ctrl-C: exit 130.
pub fn wait_for(
    session: &mut Session,
    error: Error,
    measured: &Measured<'_>,
    prompt: &mut dyn Prompt,
    interrupt: &Interrupt,
) -> Result<(), Error> {
    let Some(loss) = error.loss.filter(|_| prompt.listens()) else {
        return Err(error);
    };
    let port = session.port();
    session.let_go();
    prompt.forget_typed();
    // A gauge that stopped answers as before: it is plugged in again once it was seen to be gone.
    let mut was_gone = loss == Loss::Gone;
    let mut trouble = None;
    let (mut look_at, mut ring_at) = (Instant::now(), Instant::now());
    loop {
        match prompt.typed() {
            Some(Key::Stop | Key::Quit) => return Err(error),
            _ if interrupt.is_set() => return Err(cut_off()),
            Some(Key::Take) => {
                was_gone = true;
                look_at = Instant::now();
            }
            _ => {}
        }
        if Instant::now() >= ring_at {
            prompt.ring(BELLS);
            ring_at = Instant::now() + RING_EVERY;
        }
        if prompt.wants_scene() {
            prompt.show(&scene(loss, measured, trouble.as_deref()));
        }
        if Instant::now() >= look_at {
            match find(session, &port, was_gone, measured.calibration) {
                Ok(true) => {
                    prompt.say("The gauge is plugged in again: it goes on.");
                    return Ok(());
                }
                Ok(false) => trouble = None,
                Err(LinkError::NotFound { .. } | LinkError::Silent { .. }) => {
                    (was_gone, trouble) = (true, None);
                }
                Err(other) => (was_gone, trouble) = (true, Some(other.to_string())),
            }
            look_at = Instant::now() + LOOK_EVERY;
        }
        std::thread::sleep(KEYS_EVERY);
    }
}

/// The same gauge on its port, or on another one that calls itself a gauge: a system may give a plug another name. Whether
/// the session goes on; one that was not gone yet does not.
fn find(
    session: &mut Session,
    port: &str,
    was_gone: bool,
    calibration: Option<&CalibrationRecord>,
) -> Result<bool, LinkError> {
    let took = match take(session, port, was_gone) {
        Err(LinkError::NotFound { port }) => {
            let others = discover::ports().into_iter().filter(|other| other.is_gauge);
            let mut tried = others.map(|other| take(session, &other.name, was_gone));
            let found = tried.find(|tried| matches!(tried, Ok(true)));
            found.unwrap_or(Err(LinkError::NotFound { port }))
        }
        took => took,
    }?;
    if let Some(before) = calibration.filter(|_| took) {
        let now = session.sound_calibration(before.channel)?;
        if now.as_ref() != Some(before) {
            let port = session.port();
            session.let_go();
            return Err(LinkError::Refused {
                port,
                request: "go on with this check",
                reason: "it carries another calibration than the check was begun with; end this check, and begin another with --new"
                    .to_owned(),
            });
        }
    }
    Ok(took)
}

fn take(session: &mut Session, port: &str, was_gone: bool) -> Result<bool, LinkError> {
    let link = SerialLink::open(port)?;
    if was_gone {
        session.resume(Box::new(link))?;
    }
    Ok(was_gone)
}

/// Keeps it in sight that the gauge was lost, until a key is pressed, where nothing can go on by itself. Hands the error back.
pub fn told(
    error: Error,
    subject: &Subject,
    kept: &str,
    console: &mut Console,
    interrupt: &Interrupt,
) -> Error {
    if let Some(loss) = error.loss {
        let measured = Measured {
            subject,
            picture: &Picture::None,
            kept,
            calibration: None,
        };
        let waiting = scene(loss, &measured, None);
        let ended = Scene {
            steps: vec![kept.to_owned()],
            keys: vec![ShownKey::new("Space", "leave this picture")],
            ..waiting
        };
        console.ring(BELLS);
        console.keep_scene(&ended, || interrupt.is_set());
    }
    error
}

fn scene(loss: Loss, measured: &Measured<'_>, trouble: Option<&str>) -> Scene {
    let Measured {
        subject,
        picture,
        kept,
        ..
    } = *measured;
    let (sentence, plug) = match loss {
        Loss::Gone => (
            "The gauge is gone: its cable was pulled, or it has no power.",
            "Plug it in again.",
        ),
        Loss::Stopped => (
            "The gauge is there, and nothing measured comes from it.",
            "Unplug it, plug it in again.",
        ),
    };
    Scene {
        ground: Ground::Hatched,
        word: "NO GAUGE".to_owned(),
        sentence: sentence.to_owned(),
        steps: [plug, "It goes on by itself.", kept]
            .map(str::to_owned)
            .to_vec(),
        // What is wrong with the port has to be read whole.
        picture: match trouble {
            None => picture.clone(),
            Some(_) => Picture::None,
        },
        lines: trouble.map(str::to_owned).into_iter().collect(),
        link: format!("{} · not there", subject.gauge),
        keys: vec![
            ShownKey::new("Space", "look again"),
            ShownKey::new("Q", "end it"),
        ],
        ..Scene::new(subject.title.clone())
    }
}
