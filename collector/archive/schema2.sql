-- Version 2 of the archive: what a user keeps, scores, and how columns of other files are read.

ALTER TABLE session ADD COLUMN pinned INTEGER NOT NULL DEFAULT 0; -- 1: never removed by itself
ALTER TABLE session ADD COLUMN deleted TEXT; -- when it was deleted; NULL: it is not. It is removed for good later.

-- What a run achieved, in a unit of its own.
CREATE TABLE score (
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  position  INTEGER NOT NULL,             -- from 0
  name      TEXT NOT NULL,
  value     REAL NOT NULL,
  unit      TEXT NOT NULL DEFAULT '',
  higher_is_better INTEGER NOT NULL CHECK (higher_is_better IN (0, 1)),
  at_s      REAL NOT NULL,                -- it belongs to the last load that began before it
  PRIMARY KEY (session, position)
) WITHOUT ROWID;

-- What is kept of all sessions: at most one row.
CREATE TABLE keeping (
  only      INTEGER PRIMARY KEY CHECK (only = 1),
  age_s     REAL NOT NULL DEFAULT 0,      -- remove what is older; 0: whatever its age
  bytes     INTEGER NOT NULL DEFAULT 0    -- remove the oldest until the rest takes no more; 0: whatever its size
);

-- How the columns of a file of other make are read, remembered by its header.
CREATE TABLE mapping (
  header    TEXT PRIMARY KEY,             -- SHA-256 of separator and header cells, in hexadecimal
  columns   TEXT NOT NULL,                -- JSON: [{"from": "CPU Pkg", "to": "package power [W]"}, ...]
  used      TEXT NOT NULL                 -- when last
) WITHOUT ROWID;

-- Scores can be corrected too: the same table with one more word.
CREATE TABLE history_2 (
  number    INTEGER PRIMARY KEY,
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  changed   TEXT NOT NULL,                -- when
  what      TEXT NOT NULL CHECK (what IN ('mark', 'setting', 'score')),
  item      TEXT NOT NULL,                -- the mark's id, the setting's key or the score's name
  before    TEXT NOT NULL                 -- '' where there was nothing
);
INSERT INTO history_2 SELECT * FROM history;
DROP TABLE history;
ALTER TABLE history_2 RENAME TO history;
CREATE INDEX history_session ON history (session);
