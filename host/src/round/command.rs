//! `finding round`: what is looked at beside grip force and runout. In: the list, answers by keys, flags or a file. Out: a
//! finding an item, in the book at once.

use crate::round::answers;
use crate::round::led;
use crate::round::state::Round;
use crate::tables::read_file;
use crate::terminal::app::App;
use crate::terminal::console::{Finished, NOTHING_WRITTEN};
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Keys;
use crate::visits::arguments::RoundArgs;
use crate::visits::book::opening::{open_visit, spindle_of};
use crate::visits::findings::condition_list::{BUILT_IN, ConditionList, Machine};
use holdtrue_wording::joined_lines;
use serde_json::json;

pub(crate) fn run(args: &RoundArgs, app: &mut App) -> Result<Finished, Error> {
    if args.print_list {
        return Finished::new(
            Exit::Done,
            &json!({ "schema": 1, "text": BUILT_IN }),
            BUILT_IN.to_owned(),
        );
    }
    let list = list(args)?;
    let writer = app.writer_of_existing()?;
    let visit = open_visit(&writer.book, args.which.visit.as_deref())?;
    let spindle = spindle_of(&writer.book, visit.header())?;
    let machine = Machine {
        spindle: spindle.as_ref(),
        purpose: visit.header().purpose.as_deref(),
    };
    let list = list
        .for_machine(&machine)
        .only(&args.item)
        .map_err(Error::usage)?;
    let mut round = Round::of(writer, visit.id, list.assemblies)?;
    let currency = app.settings.currency.clone();
    let told = answers::told(args, &round, currency.as_deref())?;
    let mut lines = Vec::new();
    if args.dry_run {
        let would = told.iter().map(|(at, answer)| {
            let item = &round.places[*at].item;
            format!(
                "Would be written: {}: {} {}",
                item.id,
                answer.kind.word(),
                answer.text
            )
        });
        lines.extend(would);
        lines.push(NOTHING_WRITTEN.to_owned());
        return Finished::new(Exit::Done, &round.document()?, joined_lines(&lines));
    } else if !told.is_empty() {
        round.answer(told)?;
    } else if Keys::of_terminal().is_somebody() && app.console.is_terminal() {
        let interrupt = Interrupt::on_ctrl_c()?;
        led::lead(&mut round, currency.as_deref(), &mut app.console, interrupt)?;
        lines.extend(round.lines()?);
        return Finished::new(Exit::Done, &round.document()?, joined_lines(&lines));
    }
    lines.extend(round.item_lines());
    lines.extend(round.lines()?);
    Finished::new(Exit::Done, &round.document()?, joined_lines(&lines))
}

fn list(args: &RoundArgs) -> Result<ConditionList, Error> {
    let Some(file) = &args.list else {
        return ConditionList::built_in();
    };
    let name = file.display().to_string();
    let text = String::from_utf8(read_file(&name)?).map_err(|_| {
        let refusal = Refusal {
            found: "signs that are no UTF-8",
            expected: "a list as a text file",
            next: "Save it as UTF-8.",
        };
        Error::input(Place::file(&name), refusal)
    })?;
    ConditionList::read(&name, &text)
}
