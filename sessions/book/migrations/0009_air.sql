-- Layout 9: a session may be of recording the air alone: it has the faults of the air's
-- sensor, and tells when it was listened to. SQLite can't change a table's condition, and
-- too much refers to this table for it to be made anew. But a condition that lets more
-- through may be widened in the text of the table itself, as SQLite's own page on ALTER
-- TABLE describes: no row changes.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '(''measure'', ''time'')', '(''measure'', ''time'', ''air'')')
WHERE type = 'table' AND name = 'sessions';
PRAGMA writable_schema = RESET;

-- Made anew as it was, so that a program that has the book open reads the table's text again.
DROP TRIGGER sessions_refer;
CREATE TRIGGER sessions_refer BEFORE INSERT ON sessions
WHEN NOT EXISTS (SELECT 1 FROM clocks WHERE id = NEW.clock_id)
BEGIN SELECT RAISE(ABORT, 'sessions: it points at a row that is not there'); END;
