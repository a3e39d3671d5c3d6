-- What schema 3 adds to schema 2. FORMAT.md tells what every field means; the triggers that keep rows as they are
-- are added for each of these tables by schema.rs.

-- A calibration is a check too, and needs no visit. Only rules are loosened: no row is touched, so the text of the table
-- is all that changes (SQLite, "ALTER TABLE", section 8, the simpler procedure).
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(sql,
    'visit         TEXT NOT NULL CHECK (length(visit) = 36)',
    'visit         TEXT CHECK (CASE WHEN visit IS NULL THEN kind = ''calibration'' ELSE length(visit) = 36 END)'),
    'CHECK (kind IN (''grip'', ''runout''))',
    'CHECK (kind IN (''grip'', ''runout'', ''calibration''))')
    WHERE type = 'table' AND name = 'check_start';
PRAGMA writable_schema = RESET;

CREATE TABLE remark (
    id        TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    kind      TEXT NOT NULL CHECK (kind IN ('strike', 'correction')),
    target    TEXT NOT NULL CHECK (length(target) = 36),
    field     TEXT CHECK ((field IS NOT NULL) = (kind = 'correction')),
    old_value TEXT CHECK ((old_value IS NOT NULL) = (kind = 'correction') AND (old_value IS NULL OR json_valid(old_value))),
    new_value TEXT CHECK ((new_value IS NOT NULL) = (kind = 'correction') AND (new_value IS NULL OR json_valid(new_value))),
    reason    TEXT NOT NULL CHECK (trim(reason) <> ''),
    author    TEXT NOT NULL,
    at        TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX remark_target ON remark (target);

CREATE TABLE event (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    entity   TEXT NOT NULL CHECK (length(entity) = 36),
    kind     TEXT NOT NULL CHECK (trim(kind) <> ''),
    happened TEXT NOT NULL CHECK (happened GLOB '????*'),
    text     TEXT NOT NULL,
    content  TEXT NOT NULL CHECK (json_valid(content)),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX event_entity ON event (entity);

CREATE TABLE file (
    sha256 TEXT NOT NULL PRIMARY KEY CHECK (length(sha256) = 64),
    bytes  BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE attachment (
    id         TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    target     TEXT NOT NULL CHECK (length(target) = 36),
    sha256     TEXT NOT NULL REFERENCES file (sha256),
    media_type TEXT NOT NULL CHECK (media_type GLOB '?*/?*'),
    name       TEXT NOT NULL,
    text       TEXT NOT NULL,
    author     TEXT NOT NULL,
    at         TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX attachment_target ON attachment (target);
