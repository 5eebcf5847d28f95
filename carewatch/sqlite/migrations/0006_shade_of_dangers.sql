-- Days in shade that a tree needs when it is brought out again: known when it is sent in, asked for when it comes back.
ALTER TABLE danger
ADD COLUMN shade_days INTEGER NOT NULL DEFAULT 0 CONSTRAINT days_in_shade CHECK (shade_days BETWEEN 0 AND 365);
