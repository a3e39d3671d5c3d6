//! In: what is about to be energised. Out: its cautions said, and somebody's yes stored in the book.

use crate::cautions::{self, MachineState};
use crate::commands::World;
use crate::desk::Desk;
use crate::error::Error;
use crate::live::voice::Voice;
use holdtrue_book::{Acknowledgement, How};
use uuid::Uuid;

/// Says the cautions of a state and has them acknowledged: once a visit, and again when the state changes.
///
/// # Errors
/// Nobody there to ask and no `--yes`, or the answer is no: exit 2, with nothing energised.
pub fn before(
    state: MachineState,
    visit: Uuid,
    desk: &mut Desk,
    world: &mut World,
) -> Result<(), Error> {
    let last = desk.book.acknowledgements(visit)?.pop();
    if last.is_some_and(|last| last.caution == state.name() && last.how != How::Printed) {
        world.console.say(cautions::FIRST_LINE);
        world.console.say(&format!(
            "Cautions for {} were acknowledged earlier in this visit.",
            state.heading()
        ));
        return Ok(());
    }
    say(state, world);
    let how = if world.yes {
        How::ByFlag
    } else {
        asked(world)?
    };
    store(state, visit, how, desk)
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

fn asked(world: &mut World) -> Result<How, Error> {
    match world
        .console
        .ask("Read, understood, and in place at this machine?")
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
