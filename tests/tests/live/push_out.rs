//! How far the shank is pushed out, measured with the force: from the probe or the indicator on the gauge's end face into
//! table, book, trend and page; judged by the maker's figure only.

use crate::standing::calibrated;
use crate::{BOOK, is_sound};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::OwnPort;
use serde_json::Value;

const MAKER: &str = "schema = 1\ntitle = \"Centre 1, spindle sheet\"\ninterface = \"7/24-40\"\n\
                     [nominal]\nforce = 10\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"sheet, page 4\"\n\
                     [[limit]]\nfigure = \"push-out\"\nside = \"lower\"\nlimit = 0.4\nunit = \"mm\"\nprovenance = \"maker\"\nsource = \"sheet, page 4\"\n\
                     [[limit]]\nfigure = \"push-out\"\nside = \"upper\"\nlimit = 0.6\nunit = \"mm\"\nprovenance = \"maker\"\nsource = \"sheet, page 4\"\n";

/// A gauge with a tip on its end face: the probe, or the indicator alone.
fn gauge(condition: Condition, probe: bool) -> Setup {
    let mut setup = Setup {
        end_face: true,
        ..calibrated(3, condition, 60)
    };
    setup.fitted.displacement = probe;
    setup
}

fn measured(bench: &Bench, port: &OwnPort) -> Run {
    bench.file("maker.toml", MAKER);
    let line = format!(
        "grip --gauge {} --book {BOOK} --clamps 3 --push-out --drawbar disc-springs --limits maker.toml --state as-found --yes --json",
        port.path
    );
    bench.line(&line)
}

fn counted(document: &Value) -> impl Iterator<Item = &Value> {
    let clamps = document["clamps"].as_array().expect("clamps").iter();
    clamps.filter(|clamp| clamp["counted"] == true)
}

#[test]
fn each_unclamp_shows_how_far_the_shank_is_pushed_out_by_probe_and_by_indicator() {
    for probe in [true, false] {
        let bench = bench!();
        let setup = gauge(Condition::Sound, probe);
        let port = OwnPort::of(setup.clone());
        bench
            .line(&format!("spindle add Centre-1 --book {BOOK}"))
            .exits(0);
        bench
            .line(&format!("visit start --spindle Centre-1 --book {BOOK}"))
            .exits(0);
        let run = measured(&bench, &port).exits(0);
        let told = &run.messages;
        assert!(
            told.contains("drop 5 to 10 mm") && told.contains("no hand goes near"),
            "{run}"
        );
        assert!(
            told.contains("hold the shank up against the gripper"),
            "{run}"
        );
        let document = run.json();
        // The stop is where the simulated machine has it; an indicator shows whole micrometres.
        let mut truth = SimulatedGauge::new(setup);
        let stop_mm = stop_mm(&mut truth);
        assert_eq!(counted(&document).count(), 3);
        for clamp in counted(&document) {
            for figure in ["push_out_mm", "draw_in_mm"] {
                let mm = clamp[figure]
                    .as_f64()
                    .unwrap_or_else(|| panic!("{figure}: {document:#}"));
                assert!((mm - stop_mm).abs() < 0.04, "{figure} {mm}, {stop_mm}");
            }
        }
        let limits = document["verdict"]["limits"].as_array().expect("limits");
        let of_push_out = limits.iter().filter(|limit| limit["figure"] == "push-out");
        let outcomes: Vec<&Value> = of_push_out.map(|limit| &limit["outcome"]).collect();
        assert_eq!(outcomes, ["accept", "accept"]);
        drop(port);

        // The stored capture gives the same again; trend and page have it.
        bench.line(&format!("recheck --book {BOOK}")).exits(0);
        bench.line(&format!("visit finish --book {BOOK} --yes"));
        let trend = bench.line(&format!(
            "trend --figure push-out --against date --spindle Centre-1 --book {BOOK} --json"
        ));
        let series = trend.json()["series"].clone();
        let mean_mm = series[0]["value"].as_f64().expect("a push-out");
        assert!((mean_mm - stop_mm).abs() < 0.04, "{mean_mm}");
        bench
            .line(&format!("report --html page.html --book {BOOK}"))
            .exits(0);
        let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
        assert!(page.contains("ush-out (knock-out distance)"));
        is_sound(&bench);
    }
}

/// The mean of the stops of the first clamps, mm.
fn stop_mm(gauge: &mut SimulatedGauge) -> f64 {
    use holdtrue_protocol::message::Channels;
    use holdtrue_simulated_gauge::recorder::Recorder;
    let force = Channels {
        force: true,
        ..Channels::default()
    };
    let begun =
        Recorder::new(gauge).record(1_000, force, |_, recording| !recording.samples.is_empty());
    begun.expect("a healthy gauge streams");
    let stops = (0..4).map(|clamps| gauge.true_push_out_mm(clamps).expect("a spindle"));
    stops.sum::<f64>() / 4.0
}

#[test]
fn springs_setting_and_unclamp_cylinder_are_told_apart_after_a_low_force() {
    for (condition, cause, outcome) in [
        (Condition::WeakSprings, "weak-springs", "accept"),
        (Condition::DrawbarSetting, "drawbar-setting", "reject"),
        (Condition::UnclampCylinder, "unclamp-cylinder", "reject"),
    ] {
        let bench = bench!();
        let port = OwnPort::of(gauge(condition, true));
        let document = measured(&bench, &port).exits(1).json();
        assert_eq!(document["hints"][0]["cause"], cause, "{document:#}");
        let limits = document["verdict"]["limits"].as_array().expect("limits");
        let of_push_out = limits.iter().filter(|limit| limit["figure"] == "push-out");
        let outcomes: Vec<&Value> = of_push_out.map(|limit| &limit["outcome"]).collect();
        assert!(outcomes.contains(&&Value::from(outcome)), "{document:#}");
    }
}

#[test]
fn without_a_tip_nothing_is_measured_and_a_limit_on_it_stays_open() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 60));
    bench.file("maker.toml", MAKER);
    let line = format!(
        "grip --gauge {} --book {BOOK} --clamps 3 --limits maker.toml --state as-found --yes --json",
        port.path
    );
    let document = bench.line(&line).exits(3).json();
    assert!(document["clamps"][0]["push_out_mm"].is_null());
    assert!(document.to_string().contains("--push-out"));
    drop(port);
    let mut setup = gauge(Condition::Sound, false);
    setup.fitted.indicator = false;
    let port = OwnPort::of(setup);
    let line = format!(
        "grip --gauge {} --book {BOOK} --new --push-out --state as-found --yes",
        port.path
    );
    bench
        .line(&line)
        .exits(5)
        .tells("neither probe nor indicator");
}
