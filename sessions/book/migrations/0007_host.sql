-- Layout 7: what a computer told of its own clock as a timing session began, and as it ended.
-- Both times are since the computer was started: as its time service steers them, and by
-- the bare crystal.
CREATE TABLE host_readings (
  id         INTEGER PRIMARY KEY,
  session_id INTEGER NOT NULL REFERENCES sessions,
  host       TEXT NOT NULL CHECK (host <> ''), -- which computer it was, and which start of it
  boot       TEXT NOT NULL CHECK (boot <> ''),
  synced     INTEGER NOT NULL CHECK (synced IN (0, 1)),
  mono_ns    INTEGER NOT NULL,
  raw_ns     INTEGER NOT NULL
) STRICT;
CREATE INDEX host_readings_by_session ON host_readings (session_id, id);

CREATE TRIGGER host_readings_keep_update BEFORE UPDATE ON host_readings
BEGIN SELECT RAISE(ABORT, 'host_readings: nothing recorded is changed'); END;
CREATE TRIGGER host_readings_keep_delete BEFORE DELETE ON host_readings
BEGIN SELECT RAISE(ABORT, 'host_readings: nothing recorded is deleted'); END;
CREATE TRIGGER host_readings_keep_replace BEFORE INSERT ON host_readings
WHEN EXISTS (SELECT 1 FROM host_readings WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'host_readings: nothing recorded is replaced'); END;
CREATE TRIGGER host_readings_refer BEFORE INSERT ON host_readings
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id)
BEGIN SELECT RAISE(ABORT, 'host_readings: it points at a row that is not there'); END;
