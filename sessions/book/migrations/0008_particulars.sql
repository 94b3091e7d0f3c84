-- Layout 8: what is told or seen of a clock, its job and its parts and no instrument
-- measures; and views of the record for whoever reads it with another SQL tool.

-- The newest of a clock's rows of one part and name rules, but for photographs, which
-- all count. The part is empty where it is of the whole clock or the job.
CREATE TABLE particulars (
  id       INTEGER PRIMARY KEY,
  clock_id INTEGER NOT NULL REFERENCES clocks,
  at_ns    INTEGER NOT NULL,
  part     TEXT NOT NULL,
  name     TEXT NOT NULL CHECK (name <> ''),
  value    TEXT NOT NULL CHECK (value <> '')
) STRICT;
CREATE INDEX particulars_by_clock ON particulars (clock_id, at_ns);
CREATE TRIGGER particulars_keep_update BEFORE UPDATE ON particulars
BEGIN SELECT RAISE(ABORT, 'particulars: nothing recorded is changed'); END;
CREATE TRIGGER particulars_keep_delete BEFORE DELETE ON particulars
BEGIN SELECT RAISE(ABORT, 'particulars: nothing recorded is deleted'); END;
CREATE TRIGGER particulars_keep_replace BEFORE INSERT ON particulars
WHEN EXISTS (SELECT 1 FROM particulars WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'particulars: nothing recorded is replaced'); END;
CREATE TRIGGER particulars_refer BEFORE INSERT ON particulars
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'particulars: it points at a row that is not there'); END;

-- A particular can be taken back too. SQLite can't change what a column may hold, so the
-- table is made anew, with the same rows.
ALTER TABLE withdrawals RENAME TO withdrawals_7;
CREATE TABLE withdrawals (
  id     INTEGER PRIMARY KEY,
  at_ns  INTEGER NOT NULL,
  thing  TEXT NOT NULL CHECK (thing IN ('check', 'note', 'air', 'session', 'particular')),
  row_id INTEGER NOT NULL,
  why    TEXT NOT NULL
) STRICT;
INSERT INTO withdrawals SELECT id, at_ns, thing, row_id, why FROM withdrawals_7;
DROP TABLE withdrawals_7;
CREATE UNIQUE INDEX withdrawals_by_row ON withdrawals (thing, row_id);
CREATE TRIGGER withdrawals_keep_update BEFORE UPDATE ON withdrawals
BEGIN SELECT RAISE(ABORT, 'withdrawals: nothing recorded is changed'); END;
CREATE TRIGGER withdrawals_keep_delete BEFORE DELETE ON withdrawals
BEGIN SELECT RAISE(ABORT, 'withdrawals: nothing recorded is deleted'); END;
CREATE TRIGGER withdrawals_keep_replace BEFORE INSERT ON withdrawals
WHEN EXISTS (SELECT 1 FROM withdrawals WHERE id = NEW.id OR thing = NEW.thing AND row_id = NEW.row_id)
BEGIN SELECT RAISE(ABORT, 'withdrawals: nothing recorded is replaced'); END;
CREATE TRIGGER withdrawals_refer BEFORE INSERT ON withdrawals
WHEN NEW.thing = 'check' AND NOT EXISTS (SELECT 1 FROM checks WHERE id = NEW.row_id)
  OR NEW.thing = 'note' AND NOT EXISTS (SELECT 1 FROM events WHERE id = NEW.row_id)
  OR NEW.thing = 'air' AND NOT EXISTS (SELECT 1 FROM air WHERE id = NEW.row_id)
  OR NEW.thing = 'session' AND NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.row_id)
  OR NEW.thing = 'particular' AND NOT EXISTS (SELECT 1 FROM particulars WHERE id = NEW.row_id)
BEGIN SELECT RAISE(ABORT, 'withdrawals: it points at a row that is not there'); END;

-- The views leave out what was taken back. Times are UTC, units stand in the names of the
-- columns, and clock is the clock's number. They are short because SQLite reads them
-- whenever a book is opened.
CREATE VIEW v_clocks AS
SELECT c.id AS clock, name, train, beats_per_hour, rod, nut_pitch_m * 1e3 AS nut_pitch_mm, zone, datetime(created_ns / 1e9, 'unixepoch') AS added_utc
FROM clocks c JOIN clock_versions v ON v.id = (SELECT max(id) FROM clock_versions WHERE clock_id = c.id);

CREATE VIEW v_sessions AS
SELECT s.id AS session, coalesce(m.clock_id, s.clock_id) AS clock, kind, coalesce(m.part, s.part) AS part, plan, profile AS instrument,
  datetime(started_ns / 1e9, 'unixepoch') AS started_utc, (ended_ns - started_ns) / 1e9 AS duration_s,
  (SELECT sum(beats) FROM beat_chunks WHERE session_id = s.id) AS beats
FROM sessions s LEFT JOIN session_ends e ON e.session_id = s.id
  LEFT JOIN session_moves m ON m.id = (SELECT max(id) FROM session_moves WHERE session_id = s.id)
WHERE s.id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'session');

-- The instrument's zero is the mean of what it read with closed jaws in the same session.
-- It isn't in counts, nor in what was typed and not taken between jaws.
CREATE VIEW v_readings AS
WITH stands AS (
  SELECT *, coalesce(kind, CASE WHEN dimension IN ('bore', 'inner', 'hole') THEN 'inside' WHEN dimension IN ('depth', 'reach') THEN 'depth'
    WHEN dimension = 'length' THEN 'typed' WHEN dimension IN ('coils', 'free-coils', 'teeth', 'leaves') THEN 'count' ELSE 'outside' END) AS taken
  FROM readings WHERE id NOT IN (SELECT reading_id FROM marks)
    AND coalesce(session_id, 0) NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'session')
), zeroed AS (
  SELECT *, CASE WHEN taken <> 'count' THEN iif(dimension = 'zero' OR taken = 'typed' AND instrument IN ('', 'typed'), 0,
    coalesce((SELECT avg(value) FROM stands z WHERE z.clock_id = s.clock_id AND z.session_id IS s.session_id
      AND z.instrument = s.instrument AND z.dimension = 'zero' AND z.state = 'kept'), 0)) END AS zero
  FROM stands s
)
SELECT r.id AS reading, r.session_id AS session, coalesce(m.clock_id, r.clock_id) AS clock, coalesce(m.part, r.part) AS part, dimension, taken AS kind,
  datetime(r.at_ns / 1e9, 'unixepoch') AS time_utc, text, (value - zero) * 1e3 AS value_mm, zero * 1e3 AS zero_mm, iif(taken = 'count', value, NULL) AS count,
  instrument, state
FROM zeroed r LEFT JOIN session_moves m ON m.id = (SELECT max(id) FROM session_moves WHERE session_id = r.session_id);

CREATE VIEW v_checks AS
SELECT id AS "check", clock_id AS clock, datetime(at_ns / 1e9, 'unixepoch') AS time_utc, error_s, u_s
FROM checks WHERE id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'check');

CREATE VIEW v_notes AS
SELECT id AS note, clock_id AS clock, datetime(at_ns / 1e9, 'unixepoch') AS time_utc, kind, turns AS nut_turns, before_s AS error_before_s, after_s AS error_after_s, text
FROM events WHERE id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'note');

CREATE VIEW v_air AS
SELECT id AS air, clock_id AS clock, datetime(at_ns / 1e9, 'unixepoch') AS time_utc, temperature_c, pressure_hpa, humidity_pct
FROM air WHERE id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'air');

CREATE VIEW v_particulars AS
WITH stands AS (SELECT * FROM particulars WHERE id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'particular'))
SELECT id AS particular, clock_id AS clock, datetime(at_ns / 1e9, 'unixepoch') AS time_utc, part, name, value
FROM stands p WHERE name = 'photo' OR NOT EXISTS (SELECT 1 FROM stands n
  WHERE (n.clock_id, n.part, n.name) = (p.clock_id, p.part, p.name) AND (n.at_ns, n.id) > (p.at_ns, p.id));
