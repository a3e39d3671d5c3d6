//! The visits of a spindle read at once are the visits read one by one.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use holdtrue_terms::vocabulary::{Outcome, State};
use std::collections::BTreeSet;

const BOTH: [CheckKind; 2] = [CheckKind::Grip, CheckKind::Runout];

fn past(book: &Book) -> Vec<PastVisit<String>> {
    let everyone = book
        .past(Whose::Everyone, &BOTH, |_, document| document.to_owned())
        .unwrap();
    let entries = book.same(Kind::Spindle, uuid(SPINDLE)).unwrap();
    let of_one = book
        .past(Whose::Of(&entries), &BOTH, |_, document| {
            document.to_owned()
        })
        .unwrap();
    assert_eq!(everyone, of_one);
    everyone.visits
}

fn bury(book: &mut Book, id: u128, target: u128) {
    book.bury(&Tombstone {
        id: uuid(id),
        target: uuid(target),
        reason: "entered twice".into(),
        stamp: stamp(90),
    })
    .unwrap();
}

#[test]
fn a_visit_has_its_header_its_checks_and_what_is_read_of_their_results() {
    let (_folder, _path, book) = filled();
    let [visit] = past(&book).try_into().unwrap();
    assert_eq!(
        (visit.id, visit.spindle, visit.finished),
        (uuid(VISIT), uuid(SPINDLE), false)
    );
    assert_eq!(visit.header.started_at, at(0));
    assert_eq!(visit.header.technician, "Technician A");
    let [check] = visit.checks.try_into().unwrap();
    assert_eq!(
        (check.kind, check.state),
        (CheckKind::Grip, Some(State::AsFound))
    );
    assert_eq!(
        (check.gauge, check.calibration),
        (Some(uuid(GAUGE)), Some(uuid(CALIBRATION)))
    );
    let result = check.result.unwrap();
    assert_eq!(result.outcome, Some(Outcome::Undecided));
    assert_eq!(result.read, r#"{"check":"grip","schema":1}"#);
}

#[test]
fn a_corrected_header_holds_until_the_end_and_not_after_it() {
    let (_folder, _path, mut book) = filled();
    let later = |id, parent, hours| {
        let header = VisitHeader {
            spindle: Some(uuid(SPINDLE)),
            started_at: at(0),
            power_on_hours: Some(hours),
            ..VisitHeader::default()
        };
        revision(id, VISIT, &[parent], header, 70)
    };
    book.revise(&later(104, 103, 4_000.0)).unwrap();
    assert_eq!(past(&book)[0].header.power_on_hours, Some(4_000.0));
    let (_other_folder, other_path) = place();
    std::fs::copy(book.path(), &other_path).unwrap();
    book.finish(uuid(VISIT), uuid(800), &stamp(100)).unwrap();
    let mut other = Book::open(&other_path).unwrap();
    other.revise(&later(105, 104, 5_000.0)).unwrap();
    other
        .start_check(&CheckStart {
            id: uuid(700),
            ..book.check_start(uuid(CHECK)).unwrap()
        })
        .unwrap();
    drop(other);
    book.merge_from(&other_path).unwrap();
    let [visit] = past(&book).try_into().unwrap();
    assert!(visit.finished);
    assert_eq!(visit.header.power_on_hours, Some(4_000.0));
    let checks: Vec<_> = visit.checks.iter().map(|check| check.id).collect();
    assert_eq!(checks, [uuid(CHECK)]);
}

#[test]
fn what_is_taken_out_of_sight_is_gone_unless_the_visit_was_over_or_it_is_brought_back() {
    let (_folder, _path, mut book) = filled();
    bury(&mut book, 901, CHECK);
    assert!(past(&book)[0].checks.is_empty());
    bury(&mut book, 902, 901);
    assert_eq!(past(&book)[0].checks.len(), 1);
    book.finish(uuid(VISIT), uuid(800), &stamp(100)).unwrap();
    bury(&mut book, 903, CHECK);
    bury(&mut book, 904, VISIT);
    assert_eq!(past(&book)[0].checks.len(), 1);
}

#[test]
fn a_check_struck_after_the_end_counts_until_an_amendment_and_a_lifted_strike_counts_no_more() {
    let (_folder, _path, mut book) = filled();
    let struck = |book: &Book| {
        let [visit] = past(book).try_into().unwrap();
        let check = &visit.checks[0];
        let why = |struck: &Option<Struck>| struck.as_ref().map(|struck| struck.reason.clone());
        (why(&check.struck), why(&check.struck_later))
    };
    let because = || Some("the bar touched the guard".to_owned());
    book.remark(&strike(1001, CHECK)).unwrap();
    assert_eq!(struck(&book), (because(), None));
    book.remark(&strike(1002, 1001)).unwrap();
    assert_eq!(struck(&book), (None, None));
    book.finish(uuid(VISIT), uuid(800), &stamp(100)).unwrap();
    for target in [CHECK, VISIT] {
        book.remark(&strike(1100 + target, target)).unwrap();
        assert_eq!(struck(&book), (None, because()));
        book.remark(&strike(1200 + target, 1100 + target)).unwrap();
        assert_eq!(struck(&book), (None, None));
    }
    book.remark(&strike(1005, CHECK)).unwrap();
    let amendment = Amendment {
        id: uuid(1006),
        visit: uuid(VISIT),
        reason: "the bar".to_owned(),
        content: Json::of(&()).unwrap(),
        stamp: stamp(120),
    };
    book.amend_with_end(&amendment, uuid(1007)).unwrap();
    assert_eq!(struck(&book), (because(), None));
    book.remark(&strike(1008, 1005)).unwrap();
    assert_eq!(struck(&book), (because(), None));
}

#[test]
fn entries_joined_by_aliases_are_one_spindle_and_visits_of_others_stay_away() {
    let (_folder, _path, mut book) = filled();
    for (id, entity) in [(110, 50), (111, 51), (112, 52)] {
        book.revise(&revision(id, entity, &[], centre_1(), 2))
            .unwrap();
        let visit = VisitHeader {
            spindle: Some(uuid(entity)),
            started_at: at(u32::try_from(entity).unwrap()),
            ..VisitHeader::default()
        };
        book.revise(&revision(id + 10, entity + 10, &[], visit, 3))
            .unwrap();
    }
    for (id, entity, same_as) in [(120, 51, SPINDLE), (121, 50, 51)] {
        let alias = Alias {
            id: uuid(id + 20),
            kind: Kind::Spindle,
            entity: uuid(entity),
            same_as: uuid(same_as),
            stamp: stamp(4),
        };
        book.alias(&alias).unwrap();
    }
    let joined = book.joined(Kind::Spindle).unwrap();
    let first = uuid(SPINDLE);
    assert_eq!(
        joined,
        [(uuid(SPINDLE), first), (uuid(50), first), (uuid(51), first)].into()
    );
    let entries: BTreeSet<_> = book.same(Kind::Spindle, first).unwrap();
    let past = book.past(Whose::Of(&entries), &BOTH, |_, _| ()).unwrap();
    let visits = past.visits;
    let spindles: Vec<_> = visits.iter().map(|visit| visit.spindle).collect();
    assert_eq!(spindles, [uuid(SPINDLE), uuid(50), uuid(51)]);
    let everyone = book.past(Whose::Everyone, &BOTH, |_, _| ()).unwrap();
    assert_eq!(everyone.visits.len(), 4);
}
