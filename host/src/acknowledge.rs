//! In: what is about to be energised. Out: its cautions said, and somebody's yes stored in the book.

use crate::cautions::{self, MachineState};
use crate::commands::World;
use crate::desk::Desk;
use crate::error::Error;
use crate::live::voice::Voice;
use holdtrue_book::{Acknowledgement, How};
use uuid::Uuid;

/// Cautions that were said and acknowledged. Nothing of it is in the book yet: first the gauge has to answer.
#[derive(Debug)]
#[must_use]
pub struct Acknowledged {
    state: MachineState,
    /// How; none where they stand acknowledged in this visit already.
    how: Option<How>,
}

/// Says the cautions of a state and has them acknowledged: once a visit, and again when the state changes. `last` is
/// the newest acknowledgement of the open visit.
///
/// # Errors
/// Nobody there to ask and no `--yes`, or the answer is no: exit 2, with nothing energised.
pub fn before(
    state: MachineState,
    last: Option<&Acknowledgement>,
    world: &mut World,
) -> Result<Acknowledged, Error> {
    if last.is_some_and(|last| last.caution == state.name() && last.how != How::Printed) {
        world.console.say(cautions::FIRST_LINE);
        world.console.say(&format!(
            "Cautions for {} were acknowledged earlier in this visit.",
            state.heading()
        ));
        return Ok(Acknowledged { state, how: None });
    }
    say(state, world);
    let how = Some(how(world)?);
    Ok(Acknowledged { state, how })
}

impl Acknowledged {
    /// Keeps it with the visit.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn file(&self, visit: Uuid, desk: &mut Desk) -> Result<(), Error> {
        match self.how {
            Some(how) => store(self.state, visit, how, desk),
            None => Ok(()),
        }
    }
}

/// Says the cautions for loading a gauge away from a spindle and has them acknowledged.
///
/// # Errors
/// As [`how`].
pub fn loading(heading: &str, cautions: &[&str], world: &mut World) -> Result<How, Error> {
    world.console.say(cautions::FIRST_LINE);
    world.console.say(heading);
    for caution in cautions {
        world.console.say(&format!("- {caution}"));
    }
    world.console.say("");
    asked("here", world)
}

/// Has what was just said acknowledged.
///
/// # Errors
/// Nobody there to ask and no `--yes`, or the answer is no: exit 2.
pub fn how(world: &mut World) -> Result<How, Error> {
    asked("at this machine", world)
}

/// Says the cautions where nothing is energised, and keeps that they were printed.
///
/// # Errors
/// When the book does not take it.
pub fn only_print(
    state: MachineState,
    visit: Uuid,
    desk: &mut Desk,
    world: &mut World,
) -> Result<(), Error> {
    say(state, world);
    store(state, visit, How::Printed, desk)
}

fn asked(place: &str, world: &mut World) -> Result<How, Error> {
    if world.yes {
        return Ok(How::ByFlag);
    }
    match world
        .console
        .ask(&format!("Read, understood, and in place {place}?"))
    {
        Some(true) => Ok(How::Asked),
        Some(false) => Err(Error::usage(
            "cautions not acknowledged: nothing was started. Put them in place, then try again",
        )),
        None => Err(Error::usage(
            "the cautions must be acknowledged and nobody can be asked here: nothing was started. \
             Run it on a terminal, or add --yes",
        )),
    }
}

/// Prints them.
pub fn say(state: MachineState, world: &mut World) {
    world.console.say(cautions::FIRST_LINE);
    world.console.say(state.heading());
    for caution in state.cautions() {
        world.console.say(&format!("- {caution}"));
    }
    world.console.say("");
}

fn store(state: MachineState, visit: Uuid, how: How, desk: &mut Desk) -> Result<(), Error> {
    let id = desk.id();
    let stamp = desk.stamp();
    let text = [cautions::FIRST_LINE]
        .iter()
        .chain(state.cautions())
        .copied()
        .collect::<Vec<_>>()
        .join("\n");
    desk.book.acknowledge(&Acknowledgement {
        id,
        visit,
        check: None,
        caution: state.name().to_owned(),
        text,
        how,
        stamp,
    })?;
    Ok(())
}
