//! Units on screen: chosen once, kept, and refused with their place when the file is spoilt.

use holdtrue_tests::bench;
use holdtrue_tests::schema::differences;

#[test]
fn a_choice_is_kept() {
    let bench = bench!();
    let schema = bench.line("schema settings").json();
    let before = bench.line("settings --json").exits(0).json();
    assert_eq!(
        (&before["force"], &before["length"]),
        (&"kN".into(), &"um".into())
    );
    bench
        .line("settings --force lbf --length 0.0001in")
        .exits(0);
    let after = bench.line("settings --json").exits(0).json();
    assert_eq!(
        (&after["force"], &after["length"]),
        (&"lbf".into(), &"0.0001in".into())
    );
    assert_eq!(differences(&schema, &after), Vec::<String>::new());
}

#[test]
fn a_spoilt_file_is_named_with_line_and_column() {
    let bench = bench!();
    bench.file("settings.toml", "force = \"kN\"\nlength = \"furlong\"\n");
    let document = bench.line("settings --json").exits(4).json();
    assert_eq!(document["error"]["line"], 2);
    assert_eq!(document["error"]["column"], "10");
}

#[test]
fn settings_that_cannot_be_stored_are_exit_6() {
    let bench = bench!();
    // The new file is written beside the old one and takes its place; a folder of that name is in its way.
    std::fs::create_dir(bench.path("settings.toml.new")).expect("a folder");
    bench
        .line("settings --force N")
        .exits(6)
        .tells("settings.toml");
    bench.line("settings").exits(0).shows("kN");
}
