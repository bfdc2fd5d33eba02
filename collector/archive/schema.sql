-- The archive of soakline, schema version 1 (PRAGMA user_version). Any SQLite tool reads it.
-- Times of day are RFC 3339 in UTC with nine decimals; times within a session are seconds
-- since its first sample.

CREATE TABLE session (
  number    INTEGER PRIMARY KEY,
  id        TEXT NOT NULL UNIQUE,         -- start in UTC and three letters: 20260301-201500-k3f
  name      TEXT NOT NULL DEFAULT '',     -- what the user calls it
  stored    TEXT NOT NULL,                -- when it came into the archive
  start     TEXT,                         -- of the first sample; NULL where a file did not say
  host      TEXT NOT NULL DEFAULT '',
  system    TEXT NOT NULL DEFAULT '',     -- operating system and processor
  origin    TEXT NOT NULL DEFAULT '',     -- live, rig, replay or import
  simulated INTEGER NOT NULL DEFAULT 0,   -- 1 where any channel is computed, not measured
  period_s  REAL NOT NULL DEFAULT 0,      -- 0 where steps are uneven or not known
  state     TEXT NOT NULL CHECK (state IN ('recording', 'closed', 'broken off')),
  why       TEXT NOT NULL DEFAULT '',     -- why it ended
  rows      INTEGER NOT NULL DEFAULT 0,
  length_s  REAL NOT NULL DEFAULT 0,      -- time of the last row
  bytes     INTEGER NOT NULL DEFAULT 0    -- of all its blocks
);

CREATE TABLE channel (
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  position  INTEGER NOT NULL,             -- from 0, as in the blocks
  key       TEXT NOT NULL,                -- source, device and attribute, stable over reboots
  name      TEXT NOT NULL,
  quantity  TEXT NOT NULL,                -- temperature, power, ...
  unit      TEXT NOT NULL,                -- of the stored values: degC, W, ...
  role      TEXT NOT NULL DEFAULT '',
  source    TEXT NOT NULL DEFAULT '',
  device    TEXT NOT NULL DEFAULT '',
  refresh_s REAL NOT NULL DEFAULT 0,      -- how often the hardware renews the value, 0 unknown
  simulated INTEGER NOT NULL DEFAULT 0,
  width     INTEGER NOT NULL CHECK (width IN (4, 8)), -- bytes of a value: float32 or float64
  stated    INTEGER NOT NULL DEFAULT 1,   -- 0 where the states were not measured but worked out
  labels    TEXT NOT NULL DEFAULT '[]',   -- JSON: the text of value 0, 1, 2 ... of a label channel
  bits      TEXT NOT NULL DEFAULT '[]',   -- JSON: mask, name and limiter of each bit of a reason mask
  PRIMARY KEY (session, position)
) WITHOUT ROWID;

CREATE TABLE setting (
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  position  INTEGER NOT NULL,
  key       TEXT NOT NULL,
  value     TEXT NOT NULL,
  PRIMARY KEY (session, position)
) WITHOUT ROWID;

CREATE TABLE mark (
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  id        INTEGER NOT NULL,             -- below 0: made by the archive itself
  at_s      REAL NOT NULL,
  kind      TEXT NOT NULL,                -- user, machine or command
  text      TEXT NOT NULL,
  PRIMARY KEY (session, id)
) WITHOUT ROWID;

-- What stood in a mark or a setting before it was corrected.
CREATE TABLE history (
  number    INTEGER PRIMARY KEY,
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  changed   TEXT NOT NULL,                -- when
  what      TEXT NOT NULL CHECK (what IN ('mark', 'setting')),
  item      TEXT NOT NULL,                -- the mark's id or the setting's key
  before    TEXT NOT NULL                 -- '' where there was nothing
);
CREATE INDEX history_session ON history (session);

-- The rows, a block for each second while recording, larger packed blocks afterwards.
-- All numbers are little endian. Where a state is a gap, the value beside it is NaN.
--
-- form 0, plain: float64 time [rows]; then for each channel its values [rows] of the channel's
--   width; then for each channel its states [rows], one byte each.
-- form 1, packed: a zlib stream of, one after the other, the times, each channel's values, and
--   each channel's states [rows]. Times and values are columns coded thus: one byte says how;
--   then planes of [rows] bytes, the lowest byte of every row first, 8 planes for times and for
--   values of width 8, 4 for width 4. The numbers in the planes are, for
--     how 0..9: differences to the row before, zigzag coded, of the integers value x 10^how
--               (the decimal value is the integer divided by 10^how);
--     how 255:  the bits of the float, XORed with those of the row before.
--   The row before the first is 0. A gap repeats the row before it.
--
-- states: 1 measured, 2 held (the last measurement); all others are gaps: 0 not read, 3 denied,
-- 4 not ready, 5 disabled, 6 input/output error, 7 gone, 8 impossible value, 9 asleep, 10 timeout,
-- 11 machine suspended, 12 counter restarted, 13 empty in the file, 14 stale, 15 unreadable.
CREATE TABLE block (
  session   INTEGER NOT NULL REFERENCES session(number) ON DELETE CASCADE,
  first     INTEGER NOT NULL,             -- number of its first row; rows count from 1
  rows      INTEGER NOT NULL,
  channels  INTEGER NOT NULL,             -- fewer than the session has where some came later
  form      INTEGER NOT NULL,
  data      BLOB NOT NULL,
  PRIMARY KEY (session, first)
);
