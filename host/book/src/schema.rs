//! The tables of each schema and the triggers that keep every row as it was written.
//!
//! In: an empty database, or a book of an older schema. Out: a book of the newest one, its rows untouched. The
//! statements are the format: FORMAT.md explains them.

use rusqlite::Connection;

/// Newest schema this crate reads and writes; stored as `user_version`.
pub const SCHEMA: i64 = 3;

/// Marks the file as ours: "HdTr" in ASCII, stored as `application_id`.
pub const APPLICATION_ID: i64 = 0x4864_5472;

/// What each schema adds to the one before, from schema 1 on.
const STEPS: [&str; 3] = [
    include_str!("schema_1.sql"),
    include_str!("schema_2.sql"),
    include_str!("schema_3.sql"),
];

/// One table: its name, the schema it came with, the columns of its key, and its other columns, in the order they were
/// declared.
pub(crate) struct Table {
    pub name: &'static str,
    pub since: i64,
    pub key: &'static [&'static str],
    pub rest: &'static [&'static str],
}

impl Table {
    /// All columns, key first, separated by commas.
    pub(crate) fn columns(&self) -> String {
        [self.key, self.rest].concat().join(", ")
    }

    /// `left.key = right.key AND …`.
    pub(crate) fn same_key(&self, left: &str, right: &str) -> String {
        let pairs = self
            .key
            .iter()
            .map(|column| format!("{left}.{column} = {right}.{column}"));
        pairs.collect::<Vec<_>>().join(" AND ")
    }
}

macro_rules! tables {
    ($($constant:ident = $name:literal $since:literal [$($key:literal),+] [$($rest:literal),+];)+) => {
        $(pub(crate) const $constant: Table =
            Table { name: $name, since: $since, key: &[$($key),+], rest: &[$($rest),+] };)+
        /// Every table, those referred to before those that refer.
        pub(crate) const TABLES: &[Table] = &[$($constant),+];
    };
}

tables! {
    REVISION = "revision" 1 ["id"] ["kind", "entity", "parents", "content", "author", "at"];
    ALIAS = "alias" 1 ["id"] ["kind", "entity", "same_as", "author", "at"];
    TOMBSTONE = "tombstone" 1 ["id"] ["target", "reason", "author", "at"];
    CALIBRATION = "calibration" 1 ["id"] ["channel", "format", "record"];
    LIMITS = "limits" 1 ["sha256"] ["text"];
    CHECK_START = "check_start" 1 ["id"]
        ["visit", "kind", "state", "gauge", "calibration", "limits_sha256", "content", "author", "at"];
    CAPTURE = "capture" 1 ["id"] ["check_id", "source", "content", "author", "at"];
    CHUNK = "chunk" 1 ["capture_id", "number"]
        ["wire_major", "wire_minor", "boot", "at", "facts", "frames", "chain"];
    ORIGINAL = "original" 1 ["capture_id"] ["name", "length", "sha256", "compression", "bytes"];
    RECORDED = "recorded" 1 ["id"] ["check_id", "kind", "number", "content", "author", "at"];
    RESULT = "result" 1 ["id"]
        ["check_id", "analysis", "outcome", "calibration", "limits_sha256", "content", "author", "at"];
    ACKNOWLEDGEMENT = "acknowledgement" 1 ["id"]
        ["visit", "check_id", "caution", "text", "how", "author", "at"];
    FINDING = "finding" 1 ["id"]
        ["visit", "kind", "severity", "assembly", "item", "text", "content", "author", "at"];
    NOTE = "note" 1 ["id"] ["visit", "check_id", "text", "author", "at"];
    FINISH = "finish" 1 ["id"] ["visit", "covers", "digest_form", "digest", "author", "at"];
    AMENDMENT = "amendment" 1 ["id"] ["visit", "reason", "content", "author", "at"];
    GAUGE_CHECK = "gauge_check" 2 ["id"] ["gauge", "calibration", "fit", "content", "author", "at"];
    KNOB_CHANGE = "knob_change" 2 ["id"] ["gauge", "knob", "good_for", "author", "at"];
    REMARK = "remark" 3 ["id"] ["kind", "target", "field", "old_value", "new_value", "reason", "author", "at"];
    EVENT = "event" 3 ["id"] ["entity", "kind", "happened", "text", "content", "author", "at"];
    FILE = "file" 3 ["sha256"] ["bytes"];
    ATTACHMENT = "attachment" 3 ["id"] ["target", "sha256", "media_type", "name", "text", "author", "at"];
}

/// The three triggers of a table. The one on INSERT is there because INSERT OR REPLACE would otherwise
/// remove the old row without ever asking the trigger on DELETE.
fn triggers(table: &Table) -> String {
    let (name, same) = (table.name, table.same_key(table.name, "NEW"));
    format!(
        "CREATE TRIGGER {name}_never_updated BEFORE UPDATE ON {name}
         BEGIN SELECT RAISE(ABORT, 'a row of this book is never changed'); END;
         CREATE TRIGGER {name}_never_deleted BEFORE DELETE ON {name}
         BEGIN SELECT RAISE(ABORT, 'a row of this book is never removed'); END;
         CREATE TRIGGER {name}_never_replaced BEFORE INSERT ON {name}
         WHEN EXISTS (SELECT 1 FROM {name} WHERE {same})
         BEGIN SELECT RAISE(ABORT, 'a row of this book is never replaced'); END;\n"
    )
}

/// Turns an empty database into an empty book, in the transaction the caller has opened.
pub(crate) fn create(db: &Connection) -> rusqlite::Result<()> {
    db.execute_batch(&format!("PRAGMA application_id = {APPLICATION_ID};"))?;
    raise(db, 0, SCHEMA)
}

/// Adds what the schemas above `from` and up to `to` bring, in the transaction the caller has opened. Nothing that is
/// there is touched, so every digest stays what it was.
pub(crate) fn raise(db: &Connection, from: i64, to: i64) -> rusqlite::Result<()> {
    for (schema, step) in (1..=to)
        .zip(STEPS)
        .skip_while(|(schema, _)| *schema <= from)
    {
        db.execute_batch(step)?;
        for table in TABLES.iter().filter(|table| table.since == schema) {
            db.execute_batch(&triggers(table))?;
        }
    }
    db.execute_batch(&format!("PRAGMA user_version = {to};"))
}

/// Name and text of every object of the database, sorted: equal for two books of one schema.
pub(crate) fn objects(db: &Connection) -> rusqlite::Result<Vec<(String, String)>> {
    let mut query = db.prepare("SELECT name, ifnull(sql, '') FROM sqlite_schema ORDER BY name")?;
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    rows.collect()
}

/// What [`objects`] gives for an untouched book of a schema.
pub(crate) fn expected_objects(schema: i64) -> rusqlite::Result<Vec<(String, String)>> {
    let db = Connection::open_in_memory()?;
    raise(&db, 0, schema)?;
    objects(&db)
}
