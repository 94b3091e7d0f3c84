-- Layout 3: whether a reference's time is by its pulse, whose stamp is far better than
-- a sentence's. What was told before is by sentences.
ALTER TABLE reference_times ADD COLUMN by_pulse INTEGER NOT NULL DEFAULT 0 CHECK (by_pulse IN (0, 1));
