"""The casebook's tables, and the steps that lead from each released schema to the next.

Theory of operation
-------------------
* A step, once released, is never edited: a change is a new step at the end of ``STEPS``, and
  ``PRAGMA user_version`` counts the steps a file has seen. Each step runs once, in one transaction
  with the note in ``migration`` that it ran, after a backup of the file beside it.
* Rows are only ever added. What may change later is added as a row of its own with author and
  date (``case_change``, ``finding``, ``answer``, ``review``); the exceptions are an end that was
  open (``drive.ended_utc``, ``stretch.end_ms``), a drive filed under a case, and identity, which
  can be erased. So two casebooks merge by taking the union of their rows.
* Bulky or repeated content (sheets, attachments) is kept once under its SHA-256.
* SQLite keeps no checksums of its pages, so rows that carry what cannot be measured again carry a
  CRC-32 or SHA-256 of their own, and ``case check`` recomputes it.
* Nothing refers to FTS5 but the search index, which is made from ``case_words`` and can be made
  again; a file moves freely between programs with and without it.
"""

from __future__ import annotations

APPLICATION_ID = 0x6C6F636D
"""In the file's header, so that another program's file is told from a casebook ("locm")."""

_CORE = """
CREATE TABLE migration (
    number INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    at_utc TEXT NOT NULL,
    program TEXT NOT NULL
) STRICT;
CREATE TABLE about (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;
CREATE TABLE cases (
    id TEXT PRIMARY KEY,
    title TEXT NOT NULL,
    opened_utc TEXT NOT NULL,
    fields TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE TABLE case_change (
    id TEXT PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases(id),
    at_utc TEXT NOT NULL,
    author TEXT NOT NULL,
    fields TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE INDEX case_change_case ON case_change(case_id);
CREATE TABLE content (
    sha256 TEXT PRIMARY KEY,
    size INTEGER NOT NULL,
    data BLOB NOT NULL
) STRICT;
CREATE TABLE case_sheet (
    id TEXT PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases(id),
    role TEXT NOT NULL,
    name TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES content(sha256),
    attached_utc TEXT NOT NULL
) STRICT;
CREATE INDEX case_sheet_case ON case_sheet(case_id);
CREATE TABLE drive (
    id TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    case_id TEXT REFERENCES cases(id),
    started_utc TEXT NOT NULL,
    ended_utc TEXT,
    how TEXT,
    board TEXT NOT NULL,
    settings TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE INDEX drive_case ON drive(case_id);
CREATE TABLE drive_sheet (
    drive_id TEXT NOT NULL REFERENCES drive(id),
    role TEXT NOT NULL,
    name TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES content(sha256),
    attached_utc TEXT NOT NULL,
    PRIMARY KEY (drive_id, role, name, sha256)
) STRICT, WITHOUT ROWID;
CREATE TABLE block (
    drive_id TEXT NOT NULL REFERENCES drive(id),
    seq INTEGER NOT NULL,
    data BLOB NOT NULL,
    crc INTEGER NOT NULL,
    PRIMARY KEY (drive_id, seq)
) STRICT;
CREATE TABLE clock (
    drive_id TEXT NOT NULL REFERENCES drive(id),
    seq INTEGER NOT NULL,
    board_ms INTEGER NOT NULL,
    utc_ms INTEGER NOT NULL,
    round_trip_ms REAL NOT NULL,
    PRIMARY KEY (drive_id, seq)
) STRICT, WITHOUT ROWID;
CREATE TABLE stretch (
    drive_id TEXT NOT NULL REFERENCES drive(id),
    number INTEGER NOT NULL,
    start_ms INTEGER NOT NULL,
    end_ms INTEGER,
    connected TEXT NOT NULL,
    foot TEXT NOT NULL,
    plan TEXT,
    PRIMARY KEY (drive_id, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE mark (
    id TEXT PRIMARY KEY,
    drive_id TEXT NOT NULL REFERENCES drive(id),
    t_ms INTEGER NOT NULL,
    kind TEXT NOT NULL,
    ago_ms INTEGER NOT NULL,
    note TEXT NOT NULL,
    at_utc TEXT NOT NULL
) STRICT;
CREATE INDEX mark_drive ON mark(drive_id, t_ms);
CREATE TABLE answer (
    id TEXT PRIMARY KEY,
    drive_id TEXT NOT NULL REFERENCES drive(id),
    stretch INTEGER NOT NULL,
    felt INTEGER NOT NULL CHECK (felt IN (0, 1)),
    at_utc TEXT NOT NULL
) STRICT;
CREATE INDEX answer_drive ON answer(drive_id, stretch);
CREATE TABLE gap (
    id TEXT PRIMARY KEY,
    drive_id TEXT NOT NULL REFERENCES drive(id),
    t_ms INTEGER NOT NULL,
    until_ms INTEGER NOT NULL,
    lost INTEGER NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX gap_drive ON gap(drive_id, t_ms);
CREATE TABLE review (
    id TEXT PRIMARY KEY,
    drive_id TEXT NOT NULL REFERENCES drive(id),
    version TEXT NOT NULL,
    made_utc TEXT NOT NULL,
    result TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE INDEX review_drive ON review(drive_id);
CREATE TABLE finding (
    id TEXT PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases(id),
    kind TEXT NOT NULL,
    at_utc TEXT NOT NULL,
    author TEXT NOT NULL,
    body TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE INDEX finding_case ON finding(case_id, kind);
CREATE TABLE attachment (
    id TEXT PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases(id),
    drive_id TEXT REFERENCES drive(id),
    name TEXT NOT NULL,
    media_type TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES content(sha256),
    at_utc TEXT NOT NULL,
    author TEXT NOT NULL,
    note TEXT NOT NULL
) STRICT;
CREATE INDEX attachment_case ON attachment(case_id);
CREATE TABLE identity (
    case_id TEXT NOT NULL REFERENCES cases(id),
    field TEXT NOT NULL,
    value TEXT NOT NULL,
    PRIMARY KEY (case_id, field)
) STRICT, WITHOUT ROWID;
CREATE TABLE calibration (
    id TEXT PRIMARY KEY,
    board_serial TEXT NOT NULL,
    made_utc TEXT NOT NULL,
    meter TEXT NOT NULL,
    body TEXT NOT NULL,
    crc INTEGER NOT NULL
) STRICT;
CREATE INDEX calibration_board ON calibration(board_serial);
"""

_SEARCH = """
CREATE TABLE case_words (
    number INTEGER PRIMARY KEY,
    case_id TEXT NOT NULL UNIQUE REFERENCES cases(id),
    title TEXT NOT NULL,
    words TEXT NOT NULL
) STRICT;
CREATE TABLE trait (
    case_id TEXT NOT NULL REFERENCES cases(id),
    kind TEXT NOT NULL,
    word TEXT NOT NULL,
    low REAL,
    high REAL
) STRICT;
CREATE INDEX trait_case ON trait(case_id);
CREATE INDEX trait_word ON trait(kind, word);
CREATE INDEX trait_span ON trait(kind, low);
"""

STEPS: tuple[tuple[str, str], ...] = (("core", _CORE), ("search", _SEARCH))
"""Name and SQL of every step, in order; the schema's number is how many have run."""

SCHEMA = len(STEPS)
