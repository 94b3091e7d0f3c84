-- Layout 2: what a time reference told while a clock was timed.

-- A time, and the host's stamps of when it came: host_mono_ns counts from the
-- session's first beat, as the beats do.
CREATE TABLE reference_times (
  id           INTEGER PRIMARY KEY,
  session_id   INTEGER NOT NULL REFERENCES sessions,
  host_mono_ns INTEGER NOT NULL,
  host_utc_ns  INTEGER NOT NULL,
  reference_ns INTEGER NOT NULL
) STRICT;
CREATE INDEX reference_times_by_session ON reference_times (session_id, id);

CREATE TRIGGER reference_times_keep_update BEFORE UPDATE ON reference_times
BEGIN SELECT RAISE(ABORT, 'reference_times: nothing recorded is changed'); END;
CREATE TRIGGER reference_times_keep_delete BEFORE DELETE ON reference_times
BEGIN SELECT RAISE(ABORT, 'reference_times: nothing recorded is deleted'); END;
CREATE TRIGGER reference_times_keep_replace BEFORE INSERT ON reference_times
WHEN EXISTS (SELECT 1 FROM reference_times WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'reference_times: nothing recorded is replaced'); END;
