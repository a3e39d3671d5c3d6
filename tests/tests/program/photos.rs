//! Photos of findings: kept as they came, shown upright and small, and nothing of the camera, place or owner on the page.

use base64::prelude::{BASE64_STANDARD, Engine as _};
use holdtrue_book::Book;
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;
use image::{ExtendedColorType, ImageFormat, Rgb, RgbImage};
use serde_json::Value;
use std::io::Cursor;

/// An open visit.
fn visit() -> Bench {
    let bench = bench!();
    bench.in_book("spindle add", &["Centre 1"]).exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    bench
}

/// Red on the left, blue on the right.
fn red_and_blue(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, _| match x < width / 2 {
        true => Rgb([220, 20, 20]),
        false => Rgb([20, 20, 220]),
    })
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    let encoder = image::codecs::jpeg::JpegEncoder::new(&mut bytes);
    let (width, height) = picture.dimensions();
    image::ImageEncoder::write_image(
        encoder,
        picture.as_raw(),
        width,
        height,
        ExtendedColorType::Rgb8,
    )
    .expect("a picture");
    bytes
}

fn png(picture: &image::DynamicImage) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, ImageFormat::Png)
        .expect("a picture");
    bytes.into_inner()
}

/// Exif (TIFF 6.0, Exif 2.3; from memory): orientation, maker, and a position on earth.
fn exif(orientation: u8) -> Vec<u8> {
    let mut tiff = b"II*\0\x08\0\0\0".to_vec();
    tiff.extend(3_u16.to_le_bytes());
    let mut entry = |tag: u16, kind: u16, count: u32, value: u32| {
        tiff.extend(tag.to_le_bytes());
        tiff.extend(kind.to_le_bytes());
        tiff.extend(count.to_le_bytes());
        tiff.extend(value.to_le_bytes());
    };
    entry(0x0110, 2, 16, 80);
    entry(0x0112, 3, 1, u32::from(orientation));
    entry(0x8825, 4, 1, 50);
    tiff.extend(0_u32.to_le_bytes());
    tiff.extend(2_u16.to_le_bytes());
    for (tag, reference) in [(1_u16, b"N\0\0\0"), (3, b"E\0\0\0")] {
        tiff.extend(tag.to_le_bytes());
        tiff.extend(2_u16.to_le_bytes());
        tiff.extend(2_u32.to_le_bytes());
        tiff.extend(reference);
    }
    tiff.extend(0_u32.to_le_bytes());
    tiff.extend(b"CAMERA-OF-SOMEON");
    tiff
}

/// The same picture as a phone writes it.
fn from_a_phone(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    let mut segment = b"Exif\0\0".to_vec();
    segment.extend(exif(orientation));
    let length = u16::try_from(segment.len() + 2).expect("a short segment");
    let mut bytes = b"\xff\xd8\xff\xe1".to_vec();
    bytes.extend(length.to_be_bytes());
    bytes.extend(segment);
    bytes.extend(&jpeg[2..]);
    bytes
}

fn findings(bench: &Bench) -> Value {
    let document = bench.in_book("finding list --json", &[]).exits(0).json();
    let schema = bench.line("schema finding-list").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    document["findings"].clone()
}

/// The photos on the page, as they stand in it.
fn on_page(bench: &Bench) -> Vec<Vec<u8>> {
    bench
        .in_book("report --overwrite --html page.html", &[])
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    let each = page.split("data:image/jpeg;base64,").skip(1);
    each.map(|rest| {
        let code = rest.split('"').next().expect("the end of the attribute");
        BASE64_STANDARD.decode(code).expect("base64")
    })
    .collect()
}

fn size_of(jpeg: &[u8]) -> (u32, u32) {
    let picture = image::load_from_memory(jpeg).expect("a picture");
    (picture.width(), picture.height())
}

const ADD: &str = "finding add --severity soon --item fingers --photo";

#[test]
fn a_phones_photo_is_kept_as_it_came_and_shown_upright_small_and_without_its_place() {
    let bench = visit();
    // Of the eight ways a camera is held: the picture's size as it stands, and where its red side comes to lie.
    let ways = [
        (1, (1600, 800), (10, 400)),
        (2, (1600, 800), (1590, 400)),
        (3, (1600, 800), (1590, 400)),
        (4, (1600, 800), (10, 400)),
        (5, (800, 1600), (400, 10)),
        (6, (800, 1600), (400, 10)),
        (7, (800, 1600), (400, 1590)),
        (8, (800, 1600), (400, 1590)),
    ];
    let plain = jpeg(&red_and_blue(2400, 1200));
    let mut originals = Vec::new();
    for (orientation, _, _) in ways {
        let name = format!("held-{orientation}.jpg");
        originals.push(from_a_phone(&plain, orientation));
        bench.file(&name, originals.last().expect("just made"));
        let added = bench
            .in_book(ADD, &[&name, "--caption", "two shiny ones", "two shiny"])
            .exits(0);
        added.shows("1600").shows("800").shows("kept as it is");
    }
    let shown = on_page(&bench);
    assert_eq!(shown.len(), ways.len());
    for ((orientation, size, red), jpeg) in ways.into_iter().zip(&shown) {
        let picture = image::load_from_memory(jpeg)
            .expect("a picture")
            .into_rgb8();
        assert_eq!(picture.dimensions(), size, "held {orientation}");
        let [r, _, b] = picture.get_pixel(red.0, red.1).0;
        assert!(
            r > 150 && b < 100,
            "held {orientation}: red is not at {red:?}"
        );
        for trace in [&b"Exif"[..], b"CAMERA"] {
            let found = jpeg.windows(trace.len()).any(|window| window == trace);
            assert!(!found, "held {orientation}: metadata on the page");
        }
    }
    // The book has what the phone wrote, to the byte.
    let book = Book::open(bench.path("yard.holdtrue")).expect("the book");
    for (finding, original) in findings(&bench)
        .as_array()
        .expect("findings")
        .iter()
        .zip(&originals)
    {
        let photo = &finding["photos"][0];
        assert_eq!(photo["caption"], "two shiny ones");
        let sha256 = photo["sha256"].as_str().expect("a hash");
        assert_eq!(book.file(sha256).expect("a file").as_ref(), Some(original));
    }
}

#[test]
fn pictures_of_every_kind_come_onto_the_page() {
    let bench = visit();
    let red = red_and_blue(400, 200);
    let grey = image::DynamicImage::ImageRgb8(red.clone()).into_luma8();
    let clear = image::RgbaImage::from_pixel(400, 200, image::Rgba([0, 0, 0, 0]));
    let deep = image::DynamicImage::ImageRgb8(red.clone()).into_rgb16();
    let narrow = RgbImage::from_pixel(5000, 1, Rgb([9, 9, 9]));
    for (name, bytes) in [
        ("rgb.png", png(&red.clone().into())),
        ("grey.png", png(&grey.into())),
        ("clear.png", png(&clear.into())),
        ("deep.png", png(&deep.into())),
        ("narrow.png", png(&narrow.into())),
        // A name says nothing.
        ("small.jpeg.png", jpeg(&red)),
    ] {
        bench.file(name, bytes);
        bench.in_book(ADD, &[name, "seen"]).exits(0);
    }
    let shown = on_page(&bench);
    let sizes: Vec<_> = shown.iter().map(|jpeg| size_of(jpeg)).collect();
    let same = (400, 200);
    assert_eq!(sizes, [same, same, same, same, (1600, 1), same]);
    let clear = image::load_from_memory(&shown[2])
        .expect("a picture")
        .into_rgb8();
    assert!(
        clear.get_pixel(5, 5).0.iter().all(|part| *part > 250),
        "what is clear is paper"
    );
}

#[test]
fn what_is_no_photo_is_refused_with_what_to_do_and_nothing_is_written() {
    let bench = visit();
    let good = from_a_phone(&jpeg(&red_and_blue(400, 300)), 6);
    let plain = png(&image::DynamicImage::ImageRgb8(red_and_blue(400, 300)));
    let mut bomb = plain.clone();
    // Its header claims 50 000 × 50 000 pixels; the sum of the header is made to fit.
    bomb[16..24].copy_from_slice(&[0, 0, 0xc3, 0x50, 0, 0, 0xc3, 0x50]);
    let sum = crc32(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&sum.to_be_bytes());
    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic".to_vec();
    let webp = b"RIFF\x10\0\0\0WEBPVP8 ".to_vec();
    std::fs::create_dir(bench.path("folder.jpg")).expect("a folder");
    for (name, bytes, told) in [
        ("nothing.jpg", Vec::new(), "empty file"),
        ("phone.heic", heic.clone(), "HEIC"),
        ("renamed.jpg", heic, "most compatible"),
        ("net.webp", webp, "WebP"),
        (
            "text.jpg",
            b"two shiny fingers".to_vec(),
            "no picture this program knows",
        ),
        ("bomb.png", bomb, "50000 × 50000 pixels"),
        ("half.jpg", good[..good.len() / 2].to_vec(), "cut short"),
        ("almost.jpg", good[..good.len() - 2].to_vec(), "cut short"),
        ("half.png", plain[..plain.len() / 2].to_vec(), "cut short"),
        ("headers.jpg", good[..20].to_vec(), "cut short"),
        ("damaged.png", damaged(&plain), "damaged"),
    ] {
        bench.file(name, bytes);
        let run = bench.in_book(ADD, &[name, "two shiny"]).exits(4);
        run.tells(name).tells(told).tells("expected");
    }
    for (name, told) in [
        ("folder.jpg", "a folder"),
        ("missing.jpg", "Check the name"),
    ] {
        bench
            .in_book(ADD, &[name, "two shiny"])
            .exits(4)
            .tells(told);
    }
    assert_eq!(findings(&bench), Value::Array(Vec::new()));
    // One that is no photo keeps those beside it out, too.
    bench.file("good.jpg", &good);
    bench
        .in_book(ADD, &["good.jpg", "--photo", "text.jpg", "two shiny"])
        .exits(4);
    assert_eq!(findings(&bench), Value::Array(Vec::new()));
    bench
        .in_book(
            ADD,
            &["good.jpg", "--caption", "a", "--caption", "b", "seen"],
        )
        .exits(2)
        .tells("2 captions for 1 photos");
}

/// In the middle of the picture.
fn damaged(png: &[u8]) -> Vec<u8> {
    let mut bytes = png.to_vec();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0xff;
    bytes
}

/// As PNG sums a chunk (ISO 15948, annex D; from memory).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |sum: u32, byte: &u8| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| match sum & 1 {
            1 => 0xedb8_8320 ^ (sum >> 1),
            _ => sum >> 1,
        })
    };
    !bytes.iter().fold(!0, step)
}

#[test]
fn a_photo_is_added_later_taken_off_with_a_reason_and_covered_by_the_check_code() {
    let bench = visit();
    bench.file("wear.jpg", jpeg(&red_and_blue(400, 300)));
    bench.file("knob.jpg", jpeg(&red_and_blue(300, 400)));
    bench
        .in_book("finding add --severity soon --item fingers", &["two shiny"])
        .exits(0);
    bench
        .in_book("finding edit 1 --photo wear.jpg --photo knob.jpg", &[])
        .exits(0)
        .shows("photo 1: wear.jpg")
        .shows("photo 2: knob.jpg");
    // What it reads is not changed without a reason, nor is a photo taken off.
    for line in [
        "finding edit 1 --photo wear.jpg --text three",
        "finding edit 1 --photo wear.jpg --without-photo 1",
        "finding edit 1 --without-photo 3 --because wrong",
        "finding edit 1 --without-photo 1",
    ] {
        bench.in_book(line, &[]).exits(2);
    }
    assert_eq!(on_page(&bench).len(), 2);
    bench
        .in_book(
            "finding edit 1 --without-photo 2 --because",
            &["another machine"],
        )
        .exits(0)
        .shows("another machine");
    assert_eq!(on_page(&bench).len(), 1);
    bench
        .in_book("finding edit 1 --without-photo 2 --because again", &[])
        .exits(2);
    bench.in_book("visit finish", &[]).exits(0);
    // After the end it is shown as added later, and is not on the page.
    bench
        .in_book("finding edit 1 --photo knob.jpg", &[])
        .exits(0)
        .shows("added after the visit was finished: the photo or file \"knob.jpg\"");
    assert_eq!(on_page(&bench).len(), 1);
    bench.in_book("book verify", &[]).exits(0);
    // A byte of the photo changed by another tool: the check code no longer fits.
    let path = bench.path("yard.holdtrue");
    let book = rusqlite::Connection::open(&path).expect("the file");
    book.execute_batch("DROP TRIGGER file_never_updated")
        .expect("the trigger");
    let sql =
        "UPDATE file SET bytes = CAST(substr(bytes, 1, length(bytes) - 3) || x'00ffd9' AS BLOB)";
    assert_eq!(book.execute(sql, []).expect("the photos"), 2);
    drop(book);
    bench.in_book("book verify", &[]).exits(6);
    bench
        .in_book("report --overwrite --html page.html", &[])
        .exits(6);
}

#[test]
fn photos_come_out_of_the_book_as_they_went_in_and_over_no_other_file() {
    let bench = visit();
    let phone = from_a_phone(&jpeg(&red_and_blue(2400, 1200)), 6);
    let plain = png(&image::DynamicImage::ImageRgb8(red_and_blue(400, 300)));
    bench.file("IMG 2041.jpg", &phone);
    bench.file("nose.png", &plain);
    bench.in_book(ADD, &["IMG 2041.jpg", "two shiny"]).exits(0);
    bench.in_book(ADD, &["nose.png", "rings"]).exits(0);
    bench
        .in_book("finding edit 2 --photo", &["IMG 2041.jpg"])
        .exits(0);
    bench
        .in_book("finding edit 2 --without-photo 1 --because", &["blurred"])
        .exits(0);
    let saved = |more: &str| bench.in_book(&format!("finding photos out/side --json {more}"), &[]);
    let document = saved("").exits(0).json();
    let schema = bench.line("schema finding-photos").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let files = |document: &Value| -> Vec<(String, bool)> {
        let photos = document["photos"].as_array().expect("photos").iter();
        let each = photos.map(|photo| {
            let file = photo["file"].as_str().expect("a file").to_owned();
            (file, photo["written"].as_bool().expect("yes or no"))
        });
        each.collect()
    };
    let named = |file: &str, written: bool| (format!("out/side/{file}"), written);
    assert_eq!(
        files(&document),
        [
            named("1-1-IMG_2041.jpg", true),
            named("2-2-IMG_2041.jpg", true)
        ]
    );
    let on_disk = |file: &str| std::fs::read(bench.path(&format!("out/side/{file}")));
    assert_eq!(on_disk("1-1-IMG_2041.jpg").expect("it"), phone);
    // Again: what is there already stays; those taken off the page come on demand.
    assert_eq!(
        files(&saved("--struck").exits(0).json()),
        [
            named("1-1-IMG_2041.jpg", false),
            named("2-1-nose.png", true),
            named("2-2-IMG_2041.jpg", false)
        ]
    );
    assert_eq!(on_disk("2-1-nose.png").expect("it"), plain);
    // Another file of such a name stays as it is, and nothing is written beside it.
    std::fs::remove_file(bench.path("out/side/1-1-IMG_2041.jpg")).expect("it was there");
    bench.file("out/side/2-2-IMG_2041.jpg", "a letter");
    saved("")
        .exits(6)
        .tells("2-2-IMG_2041.jpg: found something else of this name");
    assert_eq!(on_disk("2-2-IMG_2041.jpg").expect("it"), b"a letter");
    assert!(on_disk("1-1-IMG_2041.jpg").is_err());
}

#[test]
fn a_photos_name_leads_into_no_other_folder() {
    let bench = visit();
    let plain = jpeg(&red_and_blue(400, 300));
    bench.file("nose.jpg", &plain);
    bench.in_book(ADD, &["nose.jpg", "rings"]).exits(0);
    // As a book of another tool may name it.
    let book = rusqlite::Connection::open(bench.path("yard.holdtrue")).expect("the book");
    for (name, file) in [
        ("../../nose.jpg", "1-1-.._.._nose.jpg"),
        ("/etc/nose", "1-1-_etc_nose.jpg"),
        ("C:\\nose\0.png...", "1-1-C__nose_.png"),
        ("", "1-1-.jpg"),
    ] {
        book.execute_batch("DROP TRIGGER IF EXISTS attachment_never_updated")
            .expect("SQL");
        book.execute("UPDATE attachment SET name = ?1", [name])
            .expect("SQL");
        let run = bench.in_book("finding photos saved --json", &[]).exits(0);
        assert_eq!(
            run.json()["photos"][0]["file"],
            format!("saved/{file}"),
            "{name:?}"
        );
        assert!(bench.path(&format!("saved/{file}")).exists());
    }
}
