-- The book, layout 1. Times are nanoseconds since 1970-01-01 UTC, lengths metres.
-- Nothing recorded is changed or deleted: a clock's edit, the end of a session, an
-- undo are rows of their own, and the triggers at the end refuse the rest.

CREATE TABLE clocks (
  id         INTEGER PRIMARY KEY,
  created_ns INTEGER NOT NULL
) STRICT;

-- The newest row of a clock describes it.
CREATE TABLE clock_versions (
  id              INTEGER PRIMARY KEY,
  clock_id        INTEGER NOT NULL REFERENCES clocks,
  written_ns      INTEGER NOT NULL,
  name            TEXT NOT NULL CHECK (name <> ''),
  train           TEXT NOT NULL,
  beats_per_hour  REAL NOT NULL CHECK (beats_per_hour >= 0),
  beats_per_tooth INTEGER NOT NULL CHECK (beats_per_tooth >= 0),
  hour_arbor      INTEGER NOT NULL CHECK (hour_arbor >= 0),
  rod             TEXT NOT NULL,
  nut_pitch_m     REAL NOT NULL CHECK (nut_pitch_m >= 0),
  zone            TEXT NOT NULL
) STRICT;
CREATE INDEX clock_versions_by_clock ON clock_versions (clock_id, id);

-- The newest row names the clock in hand.
CREATE TABLE clock_uses (
  id       INTEGER PRIMARY KEY,
  clock_id INTEGER NOT NULL REFERENCES clocks,
  at_ns    INTEGER NOT NULL
) STRICT;

CREATE TABLE sessions (
  id               INTEGER PRIMARY KEY,
  clock_id         INTEGER NOT NULL REFERENCES clocks,
  kind             TEXT NOT NULL CHECK (kind IN ('measure', 'time')),
  part             TEXT NOT NULL,
  plan             TEXT NOT NULL,
  port             TEXT NOT NULL,
  profile          TEXT NOT NULL,
  started_ns       INTEGER NOT NULL,
  count_rate       REAL NOT NULL,     -- counts a second, nominal; 0 = beats carry no count
  count_bits       INTEGER NOT NULL,
  host_synced      INTEGER NOT NULL CHECK (host_synced IN (0, 1)),
  host_known       INTEGER NOT NULL CHECK (host_known IN (0, 1)),
  host_max_error_s REAL NOT NULL
) STRICT;
CREATE INDEX sessions_by_clock ON sessions (clock_id, started_ns);

-- A session without its row here is open, or was cut off.
CREATE TABLE session_ends (
  session_id INTEGER PRIMARY KEY REFERENCES sessions,
  ended_ns   INTEGER NOT NULL
) STRICT;

CREATE TABLE readings (
  id         INTEGER PRIMARY KEY,
  session_id INTEGER REFERENCES sessions, -- null for readings that were imported
  clock_id   INTEGER NOT NULL REFERENCES clocks,
  at_ns      INTEGER NOT NULL,
  part       TEXT NOT NULL,
  dimension  TEXT NOT NULL CHECK (dimension <> ''),
  value      REAL NOT NULL, -- as read, before any zero correction
  u          REAL NOT NULL CHECK (u >= 0), -- standard uncertainty that the text states; 0 = none
  limit_pm   REAL NOT NULL CHECK (limit_pm >= 0), -- the instrument's limit of error, ±; 0 = not known
  step       REAL NOT NULL CHECK (step >= 0), -- one of the last digit shown; 0 = not known
  text       TEXT NOT NULL, -- as received
  instrument TEXT NOT NULL,
  state      TEXT NOT NULL CHECK (state IN ('kept', 'doubtful')), -- when it was taken
  why        TEXT NOT NULL
) STRICT;
CREATE INDEX readings_by_clock ON readings (clock_id, at_ns);

-- What was thought of a reading afterwards; the newest row rules.
CREATE TABLE marks (
  id         INTEGER PRIMARY KEY,
  reading_id INTEGER NOT NULL REFERENCES readings,
  at_ns      INTEGER NOT NULL,
  state      TEXT NOT NULL CHECK (state IN ('undone')),
  why        TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX marks_by_reading ON marks (reading_id, state);

CREATE TABLE faults (
  id         INTEGER PRIMARY KEY,
  session_id INTEGER NOT NULL REFERENCES sessions,
  at_ns      INTEGER NOT NULL,
  kind       TEXT NOT NULL CHECK (kind <> ''),
  text       TEXT NOT NULL
) STRICT;
CREATE INDEX faults_by_session ON faults (session_id, id);

-- Beats first_beat to first_beat + beats - 1 of a session, coded with a checksum.
CREATE TABLE beat_chunks (
  id         INTEGER PRIMARY KEY,
  session_id INTEGER NOT NULL REFERENCES sessions,
  first_beat INTEGER NOT NULL CHECK (first_beat >= 0),
  beats      INTEGER NOT NULL CHECK (beats > 0),
  data       BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX beat_chunks_by_beat ON beat_chunks (session_id, first_beat, beats);

CREATE TABLE checks (
  id       INTEGER PRIMARY KEY,
  clock_id INTEGER NOT NULL REFERENCES clocks,
  at_ns    INTEGER NOT NULL,
  error_s  REAL NOT NULL, -- plus = the clock is fast
  u_s      REAL NOT NULL CHECK (u_s >= 0)
) STRICT;
CREATE INDEX checks_by_clock ON checks (clock_id, at_ns);

CREATE TABLE events (
  id       INTEGER PRIMARY KEY,
  clock_id INTEGER NOT NULL REFERENCES clocks,
  at_ns    INTEGER NOT NULL,
  kind     TEXT NOT NULL CHECK (kind <> ''),
  turns    REAL, -- of the nut, plus = made to gain
  before_s REAL, -- error of the dial before the hands were set, and after
  after_s  REAL,
  text     TEXT NOT NULL
) STRICT;
CREATE INDEX events_by_clock ON events (clock_id, at_ns);

-- Null = not measured.
CREATE TABLE air (
  id            INTEGER PRIMARY KEY,
  clock_id      INTEGER NOT NULL REFERENCES clocks,
  at_ns         INTEGER NOT NULL,
  temperature_c REAL,
  pressure_hpa  REAL,
  humidity_pct  REAL,
  CHECK (coalesce(temperature_c, pressure_hpa, humidity_pct) IS NOT NULL)
) STRICT;
CREATE INDEX air_by_clock ON air (clock_id, at_ns);

-- No row is changed, deleted, or replaced by one with the same number.
CREATE TRIGGER clocks_keep_update BEFORE UPDATE ON clocks
BEGIN SELECT RAISE(ABORT, 'clocks: nothing recorded is changed'); END;
CREATE TRIGGER clocks_keep_delete BEFORE DELETE ON clocks
BEGIN SELECT RAISE(ABORT, 'clocks: nothing recorded is deleted'); END;
CREATE TRIGGER clocks_keep_replace BEFORE INSERT ON clocks
WHEN EXISTS (SELECT 1 FROM clocks WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'clocks: nothing recorded is replaced'); END;
CREATE TRIGGER clock_versions_keep_update BEFORE UPDATE ON clock_versions
BEGIN SELECT RAISE(ABORT, 'clock_versions: nothing recorded is changed'); END;
CREATE TRIGGER clock_versions_keep_delete BEFORE DELETE ON clock_versions
BEGIN SELECT RAISE(ABORT, 'clock_versions: nothing recorded is deleted'); END;
CREATE TRIGGER clock_versions_keep_replace BEFORE INSERT ON clock_versions
WHEN EXISTS (SELECT 1 FROM clock_versions WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'clock_versions: nothing recorded is replaced'); END;
CREATE TRIGGER clock_uses_keep_update BEFORE UPDATE ON clock_uses
BEGIN SELECT RAISE(ABORT, 'clock_uses: nothing recorded is changed'); END;
CREATE TRIGGER clock_uses_keep_delete BEFORE DELETE ON clock_uses
BEGIN SELECT RAISE(ABORT, 'clock_uses: nothing recorded is deleted'); END;
CREATE TRIGGER clock_uses_keep_replace BEFORE INSERT ON clock_uses
WHEN EXISTS (SELECT 1 FROM clock_uses WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'clock_uses: nothing recorded is replaced'); END;
CREATE TRIGGER sessions_keep_update BEFORE UPDATE ON sessions
BEGIN SELECT RAISE(ABORT, 'sessions: nothing recorded is changed'); END;
CREATE TRIGGER sessions_keep_delete BEFORE DELETE ON sessions
BEGIN SELECT RAISE(ABORT, 'sessions: nothing recorded is deleted'); END;
CREATE TRIGGER sessions_keep_replace BEFORE INSERT ON sessions
WHEN EXISTS (SELECT 1 FROM sessions WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'sessions: nothing recorded is replaced'); END;
CREATE TRIGGER session_ends_keep_update BEFORE UPDATE ON session_ends
BEGIN SELECT RAISE(ABORT, 'session_ends: nothing recorded is changed'); END;
CREATE TRIGGER session_ends_keep_delete BEFORE DELETE ON session_ends
BEGIN SELECT RAISE(ABORT, 'session_ends: nothing recorded is deleted'); END;
CREATE TRIGGER session_ends_keep_replace BEFORE INSERT ON session_ends
WHEN EXISTS (SELECT 1 FROM session_ends WHERE session_id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'session_ends: nothing recorded is replaced'); END;
CREATE TRIGGER readings_keep_update BEFORE UPDATE ON readings
BEGIN SELECT RAISE(ABORT, 'readings: nothing recorded is changed'); END;
CREATE TRIGGER readings_keep_delete BEFORE DELETE ON readings
BEGIN SELECT RAISE(ABORT, 'readings: nothing recorded is deleted'); END;
CREATE TRIGGER readings_keep_replace BEFORE INSERT ON readings
WHEN EXISTS (SELECT 1 FROM readings WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'readings: nothing recorded is replaced'); END;
CREATE TRIGGER marks_keep_update BEFORE UPDATE ON marks
BEGIN SELECT RAISE(ABORT, 'marks: nothing recorded is changed'); END;
CREATE TRIGGER marks_keep_delete BEFORE DELETE ON marks
BEGIN SELECT RAISE(ABORT, 'marks: nothing recorded is deleted'); END;
CREATE TRIGGER marks_keep_replace BEFORE INSERT ON marks
WHEN EXISTS (SELECT 1 FROM marks WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM marks WHERE reading_id = NEW.reading_id AND state = NEW.state)
BEGIN SELECT RAISE(ABORT, 'marks: nothing recorded is replaced'); END;
CREATE TRIGGER faults_keep_update BEFORE UPDATE ON faults
BEGIN SELECT RAISE(ABORT, 'faults: nothing recorded is changed'); END;
CREATE TRIGGER faults_keep_delete BEFORE DELETE ON faults
BEGIN SELECT RAISE(ABORT, 'faults: nothing recorded is deleted'); END;
CREATE TRIGGER faults_keep_replace BEFORE INSERT ON faults
WHEN EXISTS (SELECT 1 FROM faults WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'faults: nothing recorded is replaced'); END;
CREATE TRIGGER beat_chunks_keep_update BEFORE UPDATE ON beat_chunks
BEGIN SELECT RAISE(ABORT, 'beat_chunks: nothing recorded is changed'); END;
CREATE TRIGGER beat_chunks_keep_replace BEFORE INSERT ON beat_chunks
WHEN EXISTS (SELECT 1 FROM beat_chunks WHERE id = NEW.id)
  OR EXISTS (SELECT 1 FROM beat_chunks WHERE session_id = NEW.session_id AND first_beat = NEW.first_beat AND beats = NEW.beats)
BEGIN SELECT RAISE(ABORT, 'beat_chunks: nothing recorded is replaced'); END;
CREATE TRIGGER checks_keep_update BEFORE UPDATE ON checks
BEGIN SELECT RAISE(ABORT, 'checks: nothing recorded is changed'); END;
CREATE TRIGGER checks_keep_delete BEFORE DELETE ON checks
BEGIN SELECT RAISE(ABORT, 'checks: nothing recorded is deleted'); END;
CREATE TRIGGER checks_keep_replace BEFORE INSERT ON checks
WHEN EXISTS (SELECT 1 FROM checks WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'checks: nothing recorded is replaced'); END;
CREATE TRIGGER events_keep_update BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events: nothing recorded is changed'); END;
CREATE TRIGGER events_keep_delete BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events: nothing recorded is deleted'); END;
CREATE TRIGGER events_keep_replace BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'events: nothing recorded is replaced'); END;
CREATE TRIGGER air_keep_update BEFORE UPDATE ON air
BEGIN SELECT RAISE(ABORT, 'air: nothing recorded is changed'); END;
CREATE TRIGGER air_keep_delete BEFORE DELETE ON air
BEGIN SELECT RAISE(ABORT, 'air: nothing recorded is deleted'); END;
CREATE TRIGGER air_keep_replace BEFORE INSERT ON air
WHEN EXISTS (SELECT 1 FROM air WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'air: nothing recorded is replaced'); END;
-- The one exception: a chunk may go once a larger one holds the same beats.
CREATE TRIGGER beat_chunks_keep_delete BEFORE DELETE ON beat_chunks
WHEN NOT EXISTS (SELECT 1 FROM beat_chunks c WHERE c.session_id = OLD.session_id AND c.beats > OLD.beats
  AND c.first_beat <= OLD.first_beat AND c.first_beat + c.beats >= OLD.first_beat + OLD.beats)
BEGIN SELECT RAISE(ABORT, 'beat_chunks: nothing recorded is deleted'); END;
