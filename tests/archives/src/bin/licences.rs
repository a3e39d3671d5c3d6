//! `licences ROOT TARGET OUT.txt [NAME=LICENCE=FILE]… < METADATA`: what `cargo metadata` says of a workspace comes in; the list
//! of the packages that go into the program `ROOT` for `TARGET`, each with its licence and the text of it, goes out. What the
//! compiler adds (its own library, the C library it links) no package names: it is said with its licence and the file that
//! states it.
//!
//! A text that many packages share is printed once, with their names above it. A package that ships no text is taken under
//! Apache-2.0 where it may be, whose text is the same for everybody; else the text of the licence it names stands there, with the
//! authors it names. One that names no licence known here is an error.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::error::Error;
use std::path::{Path, PathBuf};
use std::{fs, io};

/// How a file that states a licence begins, in capitals, or a folder of such files.
const NAMES: [&str; 4] = ["LICEN", "COPYING", "NOTICE", "UNLICENSE"];
const APACHE: &str = "Apache-2.0";
const APACHE_TEXT: &str = include_str!("../../../../LICENSE-APACHE");
/// Ours, for all behind its line of copyright.
const MIT_TEXT: &str = include_str!("../../../../LICENSE-MIT");
const BSD_3_TEXT: &str = include_str!("../../texts/BSD-3-Clause.txt");
const USAGE: &str = "usage: licences ROOT TARGET OUT.txt [NAME=LICENCE=FILE]... < METADATA";

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [root, target, out, added @ ..] = &words[..] else {
        return Err(USAGE.into());
    };
    let metadata: Value = serde_json::from_reader(io::stdin().lock())?;
    let mut packages = foreign(&metadata, root)?;
    if packages.is_empty() {
        return Err(format!("nothing goes into {root}: is that its name?").into());
    }
    for each in added {
        packages.push(beside(each)?);
    }
    let bare = packages.iter().filter(|package| package.texts.is_empty());
    let bare: Vec<&str> = bare.map(|package| &*package.name).collect();
    if !bare.is_empty() {
        let bare = bare.join(", ");
        return Err(format!(
            "no text of a licence comes with {bare}: find it before it is shipped"
        )
        .into());
    }
    fs::write(out, page(root, target, &packages)?).map_err(|error| format!("{out}: {error}"))?;
    println!("{out}: {} packages", packages.len());
    Ok(())
}

/// A package that is not ours.
struct Package {
    name: String,
    licence: String,
    texts: Vec<String>,
}

/// Everything that the program needs when it runs, but what lies in this workspace.
fn foreign(metadata: &Value, root: &str) -> Result<Vec<Package>, Box<dyn Error>> {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let id = |value: &Value| value["id"].as_str().unwrap_or_default().to_owned();
    let packages: BTreeMap<String, Value> = list(&metadata["packages"])
        .into_iter()
        .map(|package| (id(&package), package))
        .collect();
    let nodes: BTreeMap<String, Value> = list(&metadata["resolve"]["nodes"])
        .into_iter()
        .map(|node| (id(&node), node))
        .collect();
    let mut open: Vec<String> = packages
        .iter()
        .filter(|(_, package)| package["name"] == root)
        .map(|(id, _)| id.clone())
        .collect();
    let mut reached = BTreeSet::new();
    while let Some(id) = open.pop() {
        let needs = nodes.get(&id).map(|node| list(&node["deps"]));
        if reached.insert(id) {
            // A kind of null is a need at run time; others build or test it.
            let runs = |need: &Value| list(&need["dep_kinds"]).iter().any(|k| k["kind"].is_null());
            let names = needs.into_iter().flatten().filter(runs);
            open.extend(names.filter_map(|need| need["pkg"].as_str().map(str::to_owned)));
        }
    }
    let reached: Vec<&Value> = reached.iter().filter_map(|id| packages.get(id)).collect();
    let (ours, others): (Vec<&Value>, Vec<&Value>) = reached
        .into_iter()
        .partition(|package| package["source"].is_null());
    let fonts = ours
        .into_iter()
        .filter_map(|package| fonts(package).transpose());
    others.into_iter().map(read).chain(fonts).collect()
}

/// The fonts that a package of ours has in its folder `fonts`: they go into the program, with the licence beside them.
fn fonts(package: &Value) -> Result<Option<Package>, Box<dyn Error>> {
    let manifest = package["manifest_path"].as_str().unwrap_or_default();
    let folder = Path::new(manifest).with_file_name("fonts");
    if !folder.is_dir() {
        return Ok(None);
    }
    let name = package["name"].as_str().unwrap_or_default();
    Ok(Some(Package {
        name: format!("the fonts in {name}"),
        licence: "OFL-1.1".to_owned(),
        texts: vec![fs::read_to_string(folder.join("OFL.txt"))?],
    }))
}

/// What the compiler adds, said as NAME=LICENCE=FILE.
fn beside(said: &str) -> Result<Package, Box<dyn Error>> {
    let mut parts = said.splitn(3, '=');
    let (Some(name), Some(licence), Some(file)) = (parts.next(), parts.next(), parts.next()) else {
        return Err(format!("found {said}; {USAGE}").into());
    };
    let text = fs::read_to_string(file).map_err(|error| format!("{name}: {file}: {error}"))?;
    Ok(Package {
        name: name.to_owned(),
        licence: licence.to_owned(),
        texts: vec![text],
    })
}

fn read(package: &Value) -> Result<Package, Box<dyn Error>> {
    let text = |key: &str| package[key].as_str().map(str::to_owned);
    let name = text("name").ok_or("a package without a name")?;
    let version = text("version").ok_or_else(|| format!("{name} has no version"))?;
    let name = format!("{name} {version}");
    let licence = text("license")
        .or_else(|| text("license_file").map(|file| format!("see its file {file}")))
        .ok_or_else(|| format!("{name} states no licence: look at it before it is shipped"))?;
    let manifest = text("manifest_path").ok_or_else(|| format!("{name} lies nowhere"))?;
    let folder = Path::new(&manifest).parent().ok_or("no folder")?;
    let mut texts = Vec::new();
    let own = entries(folder)?
        .into_iter()
        .filter(|path| states_licence(path));
    for path in own {
        let files = if path.is_dir() {
            entries(&path)?
        } else {
            vec![path]
        };
        for file in files {
            texts.push(fs::read_to_string(file)?);
        }
    }
    let may_choose = licence
        .split([' ', '/', '(', ')'])
        .any(|each| each == APACHE);
    if texts.is_empty() && may_choose && !licence.contains(" AND ") {
        texts.push(APACHE_TEXT.to_owned());
    } else if texts.is_empty() {
        texts.extend(named(&licence, package)?);
    }
    Ok(Package {
        name,
        licence,
        texts,
    })
}

/// The text of the one licence that a package names and does not ship, with the authors it names; none where it is not known
/// here.
fn named(licence: &str, package: &Value) -> Result<Option<String>, Box<dyn Error>> {
    let text = match licence {
        "MIT" => {
            let behind = MIT_TEXT.split_once("Permission is hereby");
            let (_, behind) = behind.ok_or("LICENSE-MIT is not what it was")?;
            format!("Permission is hereby{behind}")
        }
        "BSD-3-Clause" => BSD_3_TEXT.to_owned(),
        _ => return Ok(None),
    };
    let authors = package["authors"].as_array().into_iter().flatten();
    let authors: Vec<&str> = authors
        .filter_map(Value::as_str)
        .filter_map(|author| author.split(" <").next())
        .collect();
    if authors.is_empty() {
        return Ok(None);
    }
    Ok(Some(format!(
        "({licence}, which this package names and ships no text of; so are its authors.)\n\nCopyright (c) {}\n\n{text}",
        authors.join(", ")
    )))
}

/// What lies in a folder, in order.
fn entries(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()?;
    paths.sort();
    Ok(paths)
}

fn states_licence(path: &Path) -> bool {
    let name = path
        .file_name()
        .map(|name| name.to_string_lossy().to_uppercase());
    name.is_some_and(|name| NAMES.iter().any(|begin| name.starts_with(begin)))
}

fn page(root: &str, target: &str, packages: &[Package]) -> Result<String, Box<dyn Error>> {
    let mut page = format!(
        "What others wrote and {root} for {target} contains\n\n\
         The source of each package is the published package of that name and version. SQLite, inside\n\
         libsqlite3-sys, is in the public domain.\n\n"
    );
    for package in packages {
        page.push_str(&format!("{}: {}\n", package.name, package.licence));
    }
    let mut shared: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for package in packages {
        for text in &package.texts {
            shared.entry(text.trim()).or_default().push(&package.name);
        }
    }
    let mut texts: Vec<_> = shared.into_iter().collect();
    texts.sort_by(|a, b| a.1.cmp(&b.1).then(a.0.cmp(b.0)));
    for (text, names) in texts {
        let line = "-".repeat(78);
        page.push_str(&format!(
            "\n{line}\n{}\n{line}\n\n{text}\n",
            names.join(", ")
        ));
    }
    Ok(page)
}
