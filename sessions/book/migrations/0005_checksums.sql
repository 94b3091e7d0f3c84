-- Layout 5: each page of the file ends with a checksum of its own, so that a turned bit
-- anywhere is seen when the page is read. The program turns that on before this script
-- runs (SQLite's checksum VFS, eight bytes a page). Any SQLite tool can read the book. A
-- tool without that VFS that writes to it leaves pages that count as damaged.

-- The book refuses in itself what no measurement gives and what points nowhere, under
-- any tool: STRICT keeps types apart, not bounds, and foreign keys are off by default.
CREATE TRIGGER clock_versions_finite BEFORE INSERT ON clock_versions
WHEN abs(NEW.beats_per_hour) > 1.7976931348623157e308 OR abs(NEW.nut_pitch_m) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'clock_versions: a value must be finite'); END;
CREATE TRIGGER sessions_finite BEFORE INSERT ON sessions
WHEN abs(NEW.count_rate) > 1.7976931348623157e308 OR abs(NEW.host_max_error_s) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'sessions: a value must be finite'); END;
CREATE TRIGGER readings_finite BEFORE INSERT ON readings
WHEN abs(NEW.value) > 1.7976931348623157e308 OR abs(NEW.u) > 1.7976931348623157e308 OR abs(NEW.limit_pm) > 1.7976931348623157e308 OR abs(NEW.step) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'readings: a value must be finite'); END;
CREATE TRIGGER checks_finite BEFORE INSERT ON checks
WHEN abs(NEW.error_s) > 1.7976931348623157e308 OR abs(NEW.u_s) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'checks: a value must be finite'); END;
CREATE TRIGGER events_finite BEFORE INSERT ON events
WHEN abs(NEW.turns) > 1.7976931348623157e308 OR abs(NEW.before_s) > 1.7976931348623157e308 OR abs(NEW.after_s) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'events: a value must be finite'); END;
CREATE TRIGGER air_finite BEFORE INSERT ON air
WHEN abs(NEW.temperature_c) > 1.7976931348623157e308 OR abs(NEW.pressure_hpa) > 1.7976931348623157e308 OR abs(NEW.humidity_pct) > 1.7976931348623157e308
BEGIN SELECT RAISE(ABORT, 'air: a value must be finite'); END;
CREATE TRIGGER clock_versions_refer BEFORE INSERT ON clock_versions
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'clock_versions: it points at a row that is not there'); END;
CREATE TRIGGER clock_uses_refer BEFORE INSERT ON clock_uses
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'clock_uses: it points at a row that is not there'); END;
CREATE TRIGGER sessions_refer BEFORE INSERT ON sessions
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'sessions: it points at a row that is not there'); END;
CREATE TRIGGER session_ends_refer BEFORE INSERT ON session_ends
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'session_ends: it points at a row that is not there'); END;
CREATE TRIGGER readings_refer BEFORE INSERT ON readings
WHEN NEW.session_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
  OR NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'readings: it points at a row that is not there'); END;
CREATE TRIGGER marks_refer BEFORE INSERT ON marks
WHEN NOT EXISTS (SELECT 1 FROM readings WHERE id = NEW.reading_id)
BEGIN SELECT RAISE(ABORT, 'marks: it points at a row that is not there'); END;
CREATE TRIGGER faults_refer BEFORE INSERT ON faults
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'faults: it points at a row that is not there'); END;
CREATE TRIGGER beat_chunks_refer BEFORE INSERT ON beat_chunks
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'beat_chunks: it points at a row that is not there'); END;
CREATE TRIGGER checks_refer BEFORE INSERT ON checks
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'checks: it points at a row that is not there'); END;
CREATE TRIGGER events_refer BEFORE INSERT ON events
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'events: it points at a row that is not there'); END;
CREATE TRIGGER air_refer BEFORE INSERT ON air
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'air: it points at a row that is not there'); END;
CREATE TRIGGER reference_times_refer BEFORE INSERT ON reference_times
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'reference_times: it points at a row that is not there'); END;
-- Beats are numbered once. A chunk that holds beats that are there already must hold
-- whole chunks and all that it spans, as one does that takes their place.
CREATE TRIGGER beat_chunks_overlap BEFORE INSERT ON beat_chunks
WHEN EXISTS (SELECT 1 FROM beat_chunks c WHERE c.session_id = NEW.session_id
    AND c.first_beat >= NEW.first_beat AND c.first_beat < NEW.first_beat + NEW.beats)
  AND NEW.beats <> (SELECT sum(c.beats) FROM beat_chunks c WHERE c.session_id = NEW.session_id
    AND c.first_beat >= NEW.first_beat AND c.first_beat < NEW.first_beat + NEW.beats)
  OR NEW.first_beat < (SELECT c.first_beat + c.beats FROM beat_chunks c WHERE c.session_id = NEW.session_id
    AND c.first_beat < NEW.first_beat ORDER BY c.first_beat DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'beat_chunks: its beats are there already'); END;

-- Every table has an index, against which SQLite's own check counts its rows: a page that
-- was written in another's place then shows, even where it makes the table look empty.
CREATE INDEX clocks_by_creation ON clocks (created_ns);
CREATE INDEX clock_uses_by_clock ON clock_uses (clock_id);
CREATE INDEX session_ends_by_end ON session_ends (ended_ns);
