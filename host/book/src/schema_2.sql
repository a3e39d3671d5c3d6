-- What schema 2 adds to schema 1. FORMAT.md tells what every field means; the triggers that keep rows as they are
-- are added for each of these tables by schema.rs.

CREATE TABLE gauge_check (
    id          TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    gauge       TEXT NOT NULL CHECK (length(gauge) = 36),
    calibration TEXT REFERENCES calibration (id),
    fit         INTEGER NOT NULL CHECK (fit IN (0, 1)),
    content     TEXT NOT NULL CHECK (json_valid(content)),
    author      TEXT NOT NULL,
    at          TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX gauge_check_gauge ON gauge_check (gauge);

CREATE TABLE knob_change (
    id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
    gauge    TEXT NOT NULL CHECK (length(gauge) = 36),
    knob     TEXT,
    good_for INTEGER CHECK (good_for > 0),
    author   TEXT NOT NULL,
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??*' AND julianday(at) IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX knob_change_gauge ON knob_change (gauge);
