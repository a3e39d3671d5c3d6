//! Values of options that cannot be taken: refused by what was found and expected.

use holdtrue_tests::bench;

/// A negative number is the value of its option, whatever the option: what was found and expected is said of it.
#[test]
fn a_negative_number_is_refused_as_a_number_and_not_as_an_option() {
    let bench = bench!();
    let grip = "grip --readings 9.8 --unit kN";
    for (line, expected) in [
        (
            format!("{grip} --uncertainty-percent -0.5"),
            "found \"-0.5\", expected a number above 0",
        ),
        (
            format!("{grip} --uncertainty-percent 0"),
            "no gauge without uncertainty",
        ),
        (
            format!("{grip} --limit-n -1e3"),
            "found \"-1e3\", expected a number above 0",
        ),
        (
            "runout --readings 0 --unit um --uncertainty-um 0".to_owned(),
            "no gauge without uncertainty",
        ),
        (
            "gauge certificate --rated-n -5".to_owned(),
            "found \"-5\", expected a number above 0",
        ),
        (
            "gauge certificate --span-n -500 20000".to_owned(),
            "found \"-500\", expected 0 or more",
        ),
        (
            "gauge calibrate --from a.csv --resolution-counts -5".to_owned(),
            "found \"-5\", expected a number above 0",
        ),
        (
            "study --from a.csv --tolerance -5".to_owned(),
            "found \"-5\", expected a number above 0",
        ),
    ] {
        bench.line(&line).exits(2).tells(expected);
    }
}

#[test]
fn a_mistyped_word_is_answered_with_the_one_that_was_meant() {
    let bench = bench!();
    for (line, meant) in [
        ("finding rnd", "'round'"),
        ("gripp", "'grip'"),
        ("vist status", "'visit'"),
        ("rehearse --condition weak-spring", "'weak-springs'"),
        ("rehearse --condition lekaing", "'leaking'"),
        ("gauge calbrte", "'calibrate'"),
        ("overview --jso", "'--json'"),
        ("spindle add X --drawbar disk-springs", "'disc-springs'"),
    ] {
        let run = bench.line(line).exits(2);
        run.tells("tip: ").tells(meant);
    }
    // What is near to nothing is answered with nothing.
    for line in ["finding xyzzy", "rehearse --condition banana"] {
        let run = bench.line(line).exits(2);
        assert!(!run.messages.contains("tip: a similar"), "{run}");
    }
}
