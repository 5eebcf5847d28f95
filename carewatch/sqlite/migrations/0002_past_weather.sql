-- Hours of past weather: one UTC day from one origin in a row, packed. Where several know an hour, the reader chooses.
CREATE TABLE past_day (
    -- Coordinates in ten-thousandths of a degree and height that were asked for: another place has another past.
    site TEXT NOT NULL CHECK (length(site) BETWEEN 1 AND 60),
    day TEXT NOT NULL CHECK (day IS strftime('%Y-%m-%d', day, '+0 days')),
    origin TEXT NOT NULL CHECK (origin IN ('archive', 'met-norway', 'open-meteo')),
    -- Of air temperature; the mean is of those hours.
    hours INTEGER NOT NULL CHECK (hours BETWEEN 0 AND 24),
    mean_c REAL CHECK (mean_c BETWEEN -90 AND 70),
    content BLOB NOT NULL,
    -- How often the archive was asked for the day: what it does not know yet is asked for again.
    tries INTEGER NOT NULL CHECK (tries >= 0),
    stored_at TEXT NOT NULL CHECK (stored_at IS strftime('%Y-%m-%dT%H:%M:%SZ', stored_at, '+0 days')),
    PRIMARY KEY (site, day, origin),
    CONSTRAINT mean_of_known_hours CHECK ((mean_c IS NULL) = (hours = 0))
) STRICT, WITHOUT ROWID;
