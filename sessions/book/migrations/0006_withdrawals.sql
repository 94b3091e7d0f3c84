-- Layout 6: what was recorded by mistake is taken back, and a session that was tagged
-- wrongly is tagged anew, by a row that points at it. (Readings have their marks.)

CREATE TABLE withdrawals (
  id     INTEGER PRIMARY KEY,
  at_ns  INTEGER NOT NULL,
  thing  TEXT NOT NULL CHECK (thing IN ('check', 'note', 'air', 'session')),
  row_id INTEGER NOT NULL,
  why    TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX withdrawals_by_row ON withdrawals (thing, row_id);

-- The newest row of a session tells its clock and part.
CREATE TABLE session_moves (
  id         INTEGER PRIMARY KEY,
  session_id INTEGER NOT NULL REFERENCES sessions,
  at_ns      INTEGER NOT NULL,
  clock_id   INTEGER NOT NULL REFERENCES clocks,
  part       TEXT NOT NULL
) STRICT;
CREATE INDEX session_moves_by_session ON session_moves (session_id, id);

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
BEGIN SELECT RAISE(ABORT, 'withdrawals: it points at a row that is not there'); END;
CREATE TRIGGER session_moves_keep_update BEFORE UPDATE ON session_moves
BEGIN SELECT RAISE(ABORT, 'session_moves: nothing recorded is changed'); END;
CREATE TRIGGER session_moves_keep_delete BEFORE DELETE ON session_moves
BEGIN SELECT RAISE(ABORT, 'session_moves: nothing recorded is deleted'); END;
CREATE TRIGGER session_moves_keep_replace BEFORE INSERT ON session_moves
WHEN EXISTS (SELECT 1 FROM session_moves WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'session_moves: nothing recorded is replaced'); END;
CREATE TRIGGER session_moves_refer BEFORE INSERT ON session_moves
WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE id = NEW.session_id) OR NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'session_moves: it points at a row that is not there'); END;
