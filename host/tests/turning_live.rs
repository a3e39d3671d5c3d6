//! Marked and free turns measured from a gauge in this process, against the simulated spindle's own geometry.

use holdtrue::runout::arguments::{PlaceArgs, Way};
use holdtrue::runout::changeover::Cautioned;
use holdtrue::runout::live::{RunoutRequest, Station, measure};
use holdtrue::runout::plan::PlannedPlane;
use holdtrue::runout::stored::Begun;
use holdtrue::terminal::interrupt::Interrupt;
use holdtrue::terminal::keys::Keys;
use holdtrue::terminal::prompt::Prompt;
use holdtrue::terminal::scene_words::Subject;
use holdtrue::terminal::settings::Settings;
use holdtrue::visits::book::book_writer::BookWriter;
use holdtrue_book::How;
use holdtrue_gauge::link::simulated::SimulatedLink;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::runout::{Method, PlaneResult, RunoutSetup};
use holdtrue_protocol::message::Channel;
use holdtrue_simulated_gauge::operator::turning::Way as Turned;
use holdtrue_simulated_gauge::world::plane::{At as Surface, PlaneSetup};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use holdtrue_terms::vocabulary::At;

struct Silent;

impl Prompt for Silent {
    fn say(&mut self, _line: &str) {}
}

/// One plane on the bar 300 mm out, turned by hand without stopping.
fn turned(way: Way) -> PlaneResult {
    let folder = tempfile::tempdir().expect("a folder");
    let mut setup = Setup::new(7, Condition::TiltedTaper);
    setup.planes = vec![PlaneSetup {
        at: Surface::Bar,
        height_mm: 300.0,
        seating: 1,
        orientation_deg: 0.0,
        way: Turned::Free { turns: 8 },
    }];
    let link = SimulatedLink::new(SimulatedGauge::new(setup));
    let mut session = Session::open(Box::new(link)).expect("a gauge");
    let calibration = session
        .calibration(Channel::Displacement)
        .expect("an answer")
        .expect("a record");
    let mut writer =
        BookWriter::open(&folder.path().join("yard.holdtrue"), "Technician A").expect("a book");
    let visit = writer.visit_at_hand().expect("a visit");
    let gauge = writer
        .gauge(holdtrue_book::GaugeHeader::default())
        .expect("a gauge");
    let place = PlaceArgs {
        at: Some(At::Bar),
        height_mm: Some(300.0),
        ..PlaceArgs::default()
    };
    let begun = Begun {
        planes: None,
        unit: None,
        place: place.clone(),
        way,
        setup: RunoutSetup::default(),
        calibration_sha256: None,
    };
    let order = RunoutRequest {
        plan: vec![PlannedPlane { place, way }],
        bar_is_in: true,
        begun,
        limits: None,
        turns: 4,
        seconds: 25.0,
        paced_s: None,
        fresh: true,
        visit,
        gauge,
        cautions: Cautioned {
            by: How::Printed,
            said: Vec::new(),
        },
        subject: Subject::default(),
    };
    let mut bench = Station {
        session: &mut session,
        calibration: &calibration,
        writer: &mut writer,
        prompt: &mut Silent,
        keys: &Keys::nobody(),
        settings: &Settings::default(),
        interrupt: &Interrupt::default(),
    };
    let taken = measure(&mut bench, &order).expect("a check");
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    taken.result.expect("a result").planes.remove(0)
}

#[test]
fn a_marked_turn_gives_what_repeats_and_a_free_one_only_the_tir() {
    let marked = turned(Way {
        marked: true,
        ..Way::default()
    });
    assert_eq!(marked.method, Method::Marked);
    let eccentricity_um = marked.eccentricity_um.expect("an eccentricity");
    let tir_um = marked.tir_um.expect("a TIR");
    assert!(
        marked.synchronous_um.is_some() && marked.asynchronous_um.is_some(),
        "{marked:?}"
    );

    let free = turned(Way {
        free: true,
        ..Way::default()
    });
    assert_eq!(free.method, Method::Free);
    assert_eq!(free.eccentricity_um, None);
    assert_eq!(free.drift_um, None);
    // The same surface by two ways: a tilted taper's turn is mostly once per turn.
    let free_um = free.tir_um.expect("a TIR");
    assert!(
        (free_um / tir_um - 1.0).abs() < 0.1,
        "free {free_um} µm, marked {tir_um} µm"
    );
    assert!(
        (2.0 * eccentricity_um / tir_um - 1.0).abs() < 0.15,
        "{eccentricity_um} µm of {tir_um} µm"
    );
}
