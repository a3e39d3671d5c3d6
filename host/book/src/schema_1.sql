-- Schema 1 of a book. FORMAT.md tells what every field means; the triggers that keep rows as they are
-- are added for each of these tables by schema.rs.

CREATE TABLE revision (
    id      TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    kind    TEXT NOT NULL CHECK (kind IN ('spindle', 'gauge', 'visit')),
    entity  TEXT NOT NULL CHECK (length(entity) = 36),
    parents TEXT NOT NULL CHECK (json_valid(parents)),
    content TEXT NOT NULL CHECK (json_valid(content)),
    author  TEXT NOT NULL,
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX revision_entity ON revision (kind, entity);

CREATE TABLE alias (
    id      TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    kind    TEXT NOT NULL CHECK (kind IN ('spindle', 'gauge')),
    entity  TEXT NOT NULL CHECK (length(entity) = 36),
    same_as TEXT NOT NULL CHECK (length(same_as) = 36 AND same_as <> entity),
    author  TEXT NOT NULL,
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;

CREATE TABLE tombstone (
    id      TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    target  TEXT NOT NULL CHECK (length(target) = 36),
    reason  TEXT NOT NULL,
    author  TEXT NOT NULL,
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX tombstone_target ON tombstone (target);

CREATE TABLE calibration (
    id      TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    channel TEXT NOT NULL,
    format  TEXT NOT NULL,
    record  BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE limits (
    sha256  TEXT NOT NULL PRIMARY KEY CHECK (length(sha256) = 64),
    text    TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE check_start (
    id            TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit         TEXT NOT NULL CHECK (length(visit) = 36),
    kind          TEXT NOT NULL CHECK (kind IN ('grip', 'runout')),
    state         TEXT CHECK (state IN ('as_found', 'as_left')),
    gauge         TEXT CHECK (length(gauge) = 36),
    calibration   TEXT REFERENCES calibration (id),
    limits_sha256 TEXT REFERENCES limits (sha256),
    content       TEXT NOT NULL CHECK (json_valid(content)),
    author        TEXT NOT NULL,
    at            TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX check_start_visit ON check_start (visit);

CREATE TABLE capture (
    id      TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    check_id TEXT NOT NULL REFERENCES check_start (id),
    source  TEXT NOT NULL,
    content TEXT NOT NULL CHECK (json_valid(content)),
    author  TEXT NOT NULL,
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX capture_check ON capture (check_id);

CREATE TABLE chunk (
    capture_id TEXT NOT NULL REFERENCES capture (id),
    number     INTEGER NOT NULL CHECK (number >= 0),
    wire_major INTEGER NOT NULL CHECK (wire_major >= 0),
    wire_minor INTEGER NOT NULL CHECK (wire_minor >= 0),
    boot       INTEGER NOT NULL CHECK (boot >= 0),
    at         TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL),
    facts      TEXT CHECK (facts IS NULL OR json_valid(facts)),
    frames     BLOB NOT NULL,
    chain      BLOB NOT NULL CHECK (length(chain) = 32),
    PRIMARY KEY (capture_id, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE original (
    capture_id  TEXT NOT NULL PRIMARY KEY REFERENCES capture (id),
    name        TEXT NOT NULL,
    length      INTEGER NOT NULL CHECK (length >= 0),
    sha256      TEXT NOT NULL CHECK (length(sha256) = 64),
    compression TEXT NOT NULL CHECK (compression IN ('zlib', 'none')),
    bytes       BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE recorded (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    check_id TEXT NOT NULL REFERENCES check_start (id),
    kind     TEXT NOT NULL CHECK (kind IN ('clamp', 'reading', 'plane')),
    number   INTEGER NOT NULL CHECK (number >= 0),
    content  TEXT NOT NULL CHECK (json_valid(content)),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX recorded_check ON recorded (check_id);

CREATE TABLE result (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    check_id TEXT NOT NULL REFERENCES check_start (id),
    analysis TEXT NOT NULL,
    outcome  TEXT CHECK (outcome IN ('accept', 'reject', 'undecided')),
    calibration   TEXT REFERENCES calibration (id),
    limits_sha256 TEXT REFERENCES limits (sha256),
    content  TEXT NOT NULL CHECK (json_valid(content)),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX result_check ON result (check_id);

CREATE TABLE acknowledgement (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit    TEXT NOT NULL CHECK (length(visit) = 36),
    check_id TEXT REFERENCES check_start (id),
    caution  TEXT NOT NULL,
    text     TEXT NOT NULL,
    how      TEXT NOT NULL CHECK (how IN ('asked', 'by_flag', 'printed')),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX acknowledgement_visit ON acknowledgement (visit);

CREATE TABLE finding (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit    TEXT NOT NULL CHECK (length(visit) = 36),
    kind     TEXT NOT NULL CHECK (kind IN ('found', 'in_order', 'not_examined')),
    severity TEXT CHECK (severity IN ('before-use', 'soon', 'later', 'note')),
    assembly TEXT NOT NULL,
    item     TEXT NOT NULL,
    text     TEXT NOT NULL,
    content  TEXT NOT NULL CHECK (json_valid(content)),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_visit ON finding (visit);

CREATE TABLE note (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit    TEXT NOT NULL CHECK (length(visit) = 36),
    check_id TEXT REFERENCES check_start (id),
    text     TEXT NOT NULL,
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX note_visit ON note (visit);

CREATE TABLE finish (
    id          TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit       TEXT NOT NULL CHECK (length(visit) = 36),
    covers      TEXT NOT NULL CHECK (json_valid(covers)),
    digest_form INTEGER NOT NULL,
    digest      TEXT NOT NULL CHECK (length(digest) = 64),
    author      TEXT NOT NULL,
    at          TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX finish_visit ON finish (visit);

CREATE TABLE amendment (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    visit    TEXT NOT NULL CHECK (length(visit) = 36),
    reason   TEXT NOT NULL,
    content  TEXT NOT NULL CHECK (json_valid(content)),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX amendment_visit ON amendment (visit);
