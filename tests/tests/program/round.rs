//! The condition round without a terminal: by words and by a file of answers, each item once, nothing half.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;
use serde_json::Value;

/// An open visit to a machine with a belt.
fn visit(more: &[&str]) -> Bench {
    let bench = bench!();
    bench
        .in_book(
            "spindle add --drive belt --axis vertical --interface BT40",
            &["Centre 1"],
        )
        .exits(0);
    let start = ["visit", "start", "--spindle", "Centre 1"];
    let words: Vec<&str> = start.iter().chain(more).copied().collect();
    bench.in_book("", &words).exits(0);
    bench
}

fn round(bench: &Bench, more: &[&str]) -> Value {
    let document = bench.in_book("finding round --json", more).exits(0).json();
    let schema = bench.line("schema finding-round").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    document
}

fn item<'a>(document: &'a Value, id: &str) -> &'a Value {
    let items = document["items"].as_array().expect("items");
    let found = items.iter().find(|item| item["item"] == id);
    found.unwrap_or_else(|| panic!("no item {id}"))
}

#[test]
fn every_item_is_answered_once_and_what_was_not_looked_at_says_why() {
    let bench = visit(&[]);
    let before = round(&bench, &[]);
    let all = before["left"].as_u64().expect("a count");
    assert!(all > 30, "{all}");
    assert!(
        before["items"]
            .as_array()
            .expect("items")
            .iter()
            .all(|item| item["item"] != "gearbox")
    );
    let after = round(
        &bench,
        &[
            "--answer",
            "taper-wall=fine",
            "--answer",
            "gripper-fingers=soon: two shiny",
            "--answer",
            "belt=not: the cover was locked",
            "--fine-rest",
            "gripper",
        ],
    );
    assert_eq!(item(&after, "taper-wall")["kind"], "in_order");
    assert_eq!(item(&after, "gripper-fingers")["severity"], "soon");
    assert_eq!(item(&after, "push-out")["kind"], "in_order");
    assert_eq!(item(&after, "belt")["kind"], "not_examined");
    assert_eq!(item(&after, "bore")["kind"], Value::Null);
    let left = after["left"].as_u64().expect("a count");
    // Answered is answered: a slip is corrected with its reason.
    bench
        .in_book("finding round --answer", &["belt=fine"])
        .exits(2)
        .tells("answered already: not examined, because the cover was locked");
    for wrong in [
        "belt",
        "belts=fine",
        "bore=good",
        "bore=soon",
        "bore=urgent: rust",
        "bore=not:",
        "bore=fine: rust",
    ] {
        bench
            .in_book("finding round --answer", &[wrong])
            .exits(2)
            .tells("--answer");
    }
    bench
        .in_book("finding round --answer bore=fine --fine-rest", &["gearbox"])
        .exits(2)
        .tells("axes and covers");
    assert_eq!(
        round(&bench, &["--dry-run", "--answer", "bore=fine"])["left"],
        left
    );
    assert_eq!(
        round(&bench, &[])["left"],
        left,
        "what was refused wrote nothing"
    );
    bench
        .in_book("visit status", &[])
        .exits(0)
        .shows("items of the condition round are not answered");
    bench
        .in_book("visit finish", &[])
        .exits(2)
        .tells("--not-examined-rest");
    let done = round(&bench, &["--not-examined-rest", "no time"]);
    assert_eq!(done["left"], 0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    for text in [
        "because no time",
        "because the cover was locked",
        "two shiny",
    ] {
        assert!(page.contains(text), "{text}");
    }
    // The next visit shows what it was.
    bench.in_book("visit finish", &[]).exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    let next = round(&bench, &[]);
    let last = item(&next, "gripper-fingers")["last_time"]
        .as_str()
        .expect("last time");
    assert!(last.contains("within weeks: two shiny"), "{last}");
    // A finding struck out answers nothing any more.
    round(&bench, &["--answer", "bore=fine"]);
    bench
        .in_book("finding strike 1 --because wrong", &[])
        .exits(0);
    assert_eq!(item(&round(&bench, &[]), "bore")["kind"], Value::Null);
}

#[test]
fn a_purchase_looks_at_more_and_a_list_of_ones_own_takes_the_place_of_ours() {
    let bench = visit(&["--reason", "before-purchase"]);
    let document = round(&bench, &["--answer", "papers=later: no wiring diagrams"]);
    assert_eq!(item(&document, "papers")["severity"], "later");
    let printed = bench
        .in_book("finding round --print-list", &[])
        .exits(0)
        .out;
    bench.file("own.toml", &printed);
    let same = round(&bench, &["--list", "own.toml"]);
    assert_eq!(same["items"], document["items"]);
    let own = "[[assembly]]\nname = \"bed\"\n[[assembly.item]]\nid = \"feet\"\nshort = \"FEET\"\nname = \"feet\"\nlook = \"Level?\"\n";
    bench.file("own.toml", own);
    let document = round(
        &bench,
        &["--list", "own.toml", "--answer", "feet=note: on wood"],
    );
    assert_eq!(document["items"].as_array().expect("items").len(), 1);
    for (wrong, told) in [
        (own.replace("FEET", "FEET OF THE BED"), "1 to 13 signs"),
        (
            own.replace("\"feet\"\nshort", "\"Feet!\"\nshort"),
            "small letters",
        ),
        (own.replace("look =", "looks ="), "line 7"),
        (format!("{own}only = [\"wings\"]\n"), "wings"),
        (format!("{own}{own}"), "twice"),
        (String::new(), "assembly"),
    ] {
        bench.file("own.toml", wrong);
        bench
            .in_book("finding round --list own.toml", &[])
            .exits(4)
            .tells(told)
            .tells("--print-list");
    }
}

#[test]
fn a_file_of_answers_is_taken_whole_or_not_at_all_and_its_photos_stay_in_its_folder() {
    let bench = visit(&[]);
    let picture = image::DynamicImage::new_rgb8(40, 30);
    let mut png = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut png, image::ImageFormat::Png)
        .expect("a picture");
    std::fs::create_dir_all(bench.path("visit/photos")).expect("a folder");
    bench.file("visit/photos/belt.png", png.get_ref());
    bench.file("secret.png", png.get_ref());
    let good = "[belt]\nseen = \"frayed\"\nseverity = \"soon\"\nmeasured = \"6 mm\"\nmaker = \"3 to 5 mm\"\n\
                cost = \"90 to 120 EUR\"\nhours = \"1\"\nphotos = [\"photos/belt.png\"]\n\
                [bore]\nfine = true\n[cables]\nnot_examined = \"dark\"\n";
    let none = round(&bench, &[])["left"].clone();
    for (wrong, told) in [
        (
            good.replace("photos/belt.png", "../secret.png"),
            "in the folder of the answers",
        ),
        (
            good.replace("photos/belt.png", "photos/../../secret.png"),
            "in the folder of the answers",
        ),
        (
            good.replace(
                "photos/belt.png",
                bench.path("secret.png").to_str().expect("a name"),
            ),
            "in the folder of the answers",
        ),
        (
            good.replace("photos/belt.png", "photos/none.png"),
            "none.png",
        ),
        (good.replace("[bore]", "[boring]"), "boring"),
        (
            good.replace("severity = \"soon\"\n", ""),
            "without its severity",
        ),
        (good.replace("soon", "urgent"), "before-use"),
        (
            good.replace("fine = true", "fine = true\nseen = \"rust\""),
            "more than one answer",
        ),
        (good.replace("fine = true", ""), "no answer"),
        (
            good.replace("fine = true", "fine = true\ncost = \"5 EUR\""),
            "only something found",
        ),
        (good.replace("6 mm", "6"), "0.35 mm"),
        (good.replace("EUR", ""), "currency"),
        (good.replace("hours", "hour"), "line 7"),
        (format!("{good}[bore]\n"), "line"),
    ] {
        bench.file("visit/answers.toml", &wrong);
        bench
            .in_book("finding round --answers visit/answers.toml", &[])
            .exits(4)
            .tells(told);
        assert_eq!(round(&bench, &[])["left"], none, "{wrong}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(
            bench.path("secret.png"),
            bench.path("visit/photos/link.png"),
        )
        .expect("a link");
        bench.file("visit/answers.toml", good.replace("belt.png", "link.png"));
        bench
            .in_book("finding round --answers visit/answers.toml", &[])
            .exits(4)
            .tells("in the folder of the answers");
    }
    bench.file("visit/answers.toml", good);
    let done = round(&bench, &["--answers", "visit/answers.toml"]);
    assert_eq!(done["sums"][0]["costs"][0]["to"], 120.0);
    let belt = item(&done, "belt")["text"].as_str().expect("words");
    assert!(belt.contains("outside it"), "{belt}");
    let list = bench.in_book("finding list --json", &[]).exits(0).json();
    let findings = list["findings"].as_array().expect("findings");
    let belt = findings
        .iter()
        .find(|each| each["round"] == "belt")
        .expect("the belt");
    assert_eq!(belt["photos"][0]["name"], "belt.png");
}
