-- Layout 4: how a reading was taken, and the form of the uncertainty that its text
-- states. Both are null in rows from before, which stay as they are: whoever reads
-- them takes the usual kind for the dimension, and knows that it is a guess.
ALTER TABLE readings ADD COLUMN kind TEXT CHECK (kind IN ('outside', 'inside', 'depth', 'typed', 'count'));
ALTER TABLE readings ADD COLUMN u_form TEXT CHECK (u_form IN ('limit', 'standard')); -- null where u is 0
