-- Times are UTC text of one width, such as 2026-11-05T11:00:00Z: they sort as they follow each other. The modifier
-- '+0 days' makes SQLite compute the date anew, so that a 30th of February differs from what it becomes.

-- "care" in ASCII: what tells this file from the databases of other programs.
PRAGMA application_id = 1667330661;

CREATE TABLE migration (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    name TEXT NOT NULL,
    applied_at TEXT NOT NULL CHECK (applied_at IS strftime('%Y-%m-%dT%H:%M:%SZ', applied_at, '+0 days'))
) STRICT;

-- The care log. Entries are never erased: one that was wrong is struck, and says by which other it was superseded.
CREATE TABLE entry (
    number INTEGER PRIMARY KEY,
    identity TEXT NOT NULL CHECK (length(identity) = 64 AND identity NOT GLOB '*[^0-9a-f]*'),
    tree TEXT NOT NULL CONSTRAINT tree_is_an_id CHECK (length(tree) BETWEEN 1 AND 40 AND tree NOT GLOB '*[^a-z0-9-]*'),
    -- The last five are names that the design keeps for later works.
    work TEXT NOT NULL CONSTRAINT work_is_known CHECK (work IN (
        'set-layer', 'sever-layer', 'root-prune', 'repot', 'defoliate', 'hard-prune', 'wire', 'bend', 'unwire', 'seal',
        'tie-down', 'untie', 'lift', 'graft', 'move', 'water', 'observe', 'begin', 'end',
        'candle-cut', 'sow', 'prick-out', 'cutting', 'feed')),
    at TEXT NOT NULL CHECK (at IS strftime('%Y-%m-%dT%H:%M:%SZ', at, '+0 days')),
    -- The day at the site: part of the identity, and not to be had from UTC.
    day TEXT NOT NULL CHECK (day IS strftime('%Y-%m-%d', day, '+0 days')),
    roots TEXT CHECK (roots IN ('sparse', 'fair', 'dense')),
    roots_worked INTEGER NOT NULL CHECK (roots_worked IN (0, 1)),
    removed REAL CONSTRAINT removed_is_a_share CHECK (removed > 0 AND removed <= 1),
    tied INTEGER NOT NULL CHECK (tied IN (0, 1)),
    paste INTEGER NOT NULL CHECK (paste IN (0, 1)),
    to_place TEXT CONSTRAINT place_is_an_id CHECK (length(to_place) BETWEEN 1 AND 40 AND to_place NOT GLOB '*[^a-z0-9-]*'),
    seen TEXT CONSTRAINT seen_is_known CHECK (seen IN (
        'bud-swell', 'leaf-out', 'mature', 'colouring', 'leaf-fall', 'dormant', 'wilting', 'scorch', 'new-growth',
        'dead')),
    -- A name, or "move:" and a place.
    measure TEXT CHECK (length(measure) BETWEEN 1 AND 45 AND measure NOT GLOB '*[^a-z0-9:-]*'),
    note TEXT CONSTRAINT note_is_short CHECK (length(note) BETWEEN 1 AND 2000),
    recorded_at TEXT NOT NULL CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%SZ', recorded_at, '+0 days')),
    struck_at TEXT CHECK (struck_at IS strftime('%Y-%m-%dT%H:%M:%SZ', struck_at, '+0 days')),
    superseded_by INTEGER REFERENCES entry (number),
    CONSTRAINT move_names_its_place CHECK ((to_place IS NOT NULL) = (work = 'move')),
    CONSTRAINT observe_says_what_was_seen CHECK ((seen IS NOT NULL) = (work = 'observe')),
    CONSTRAINT begin_and_end_name_their_measure CHECK ((measure IS NOT NULL) = (work IN ('begin', 'end'))),
    CONSTRAINT superseded_is_struck CHECK (superseded_by IS NULL OR struck_at IS NOT NULL)
) STRICT;

CREATE UNIQUE INDEX entry_once ON entry (identity) WHERE struck_at IS NULL;

CREATE TRIGGER entry_is_never_erased BEFORE DELETE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry of the care log is struck, never erased');
END;

CREATE TRIGGER entry_stays_as_it_was BEFORE UPDATE OF
    number, identity, tree, work, at, day, roots, roots_worked, removed, tied, paste, to_place, seen, measure, note,
    recorded_at ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry of the care log is superseded, never changed');
END;

-- Thermometer readings by the grower: air at a place of the garden.
CREATE TABLE reading (
    place TEXT NOT NULL CONSTRAINT place_is_an_id CHECK (length(place) BETWEEN 1 AND 40 AND place NOT GLOB '*[^a-z0-9-]*'),
    at TEXT NOT NULL CHECK (at IS strftime('%Y-%m-%dT%H:%M:%SZ', at, '+0 days')),
    value_c REAL NOT NULL CONSTRAINT reading_is_a_temperature_of_air CHECK (value_c BETWEEN -90 AND 70),
    recorded_at TEXT NOT NULL CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%SZ', recorded_at, '+0 days')),
    PRIMARY KEY (place, at)
) STRICT, WITHOUT ROWID;

-- Answers of weather services, each content once, however often it was fetched.
CREATE TABLE forecast (
    id INTEGER PRIMARY KEY,
    source TEXT NOT NULL CHECK (source IN ('open-meteo', 'met-norway', 'recorded')),
    kind TEXT NOT NULL CHECK (kind IN ('single', 'ensemble', 'archive')),
    model TEXT NOT NULL,
    -- Of the site that it was asked for, in ten-thousandths of a degree.
    latitude REAL NOT NULL CHECK (latitude BETWEEN -90 AND 90),
    longitude REAL NOT NULL CHECK (longitude BETWEEN -180 AND 180),
    content_hash TEXT NOT NULL UNIQUE CHECK (length(content_hash) = 64 AND content_hash NOT GLOB '*[^0-9a-f]*'),
    -- JSON, compressed (RFC 1950).
    content BLOB NOT NULL
) STRICT;

CREATE TABLE fetch (
    id INTEGER PRIMARY KEY,
    forecast INTEGER NOT NULL REFERENCES forecast (id) ON DELETE CASCADE,
    fetched_at TEXT NOT NULL CHECK (fetched_at IS strftime('%Y-%m-%dT%H:%M:%SZ', fetched_at, '+0 days'))
) STRICT;

CREATE INDEX fetch_of_forecast ON fetch (forecast, fetched_at);
CREATE INDEX fetch_by_time ON fetch (fetched_at);

CREATE TABLE danger (
    id TEXT PRIMARY KEY CONSTRAINT danger_has_an_id CHECK (length(id) = 16 AND id NOT GLOB '*[^0-9a-f]*'),
    tree TEXT NOT NULL CONSTRAINT tree_is_an_id CHECK (length(tree) BETWEEN 1 AND 40 AND tree NOT GLOB '*[^a-z0-9-]*'),
    hazard TEXT NOT NULL CONSTRAINT hazard_is_known CHECK (hazard IN (
        'frost', 'chill', 'root-freeze', 'heave', 'heat', 'root-heat', 'drying', 'sun', 'bark-scald', 'wind', 'load',
        'soak', 'forcing', 'dark', 'damp')),
    starts TEXT NOT NULL CHECK (starts IS strftime('%Y-%m-%dT%H:%M:%SZ', starts, '+0 days')),
    ends TEXT NOT NULL CHECK (ends IS strftime('%Y-%m-%dT%H:%M:%SZ', ends, '+0 days')),
    severity TEXT NOT NULL CHECK (severity IN ('Unknown', 'Minor', 'Moderate', 'Severe', 'Extreme')),
    -- A little more than a share can be: no warning is lost to the last digit of a sum.
    probability REAL NOT NULL CHECK (probability BETWEEN -0.001 AND 1.001),
    loss REAL NOT NULL CHECK (loss BETWEEN -0.001 AND 1.001),
    -- None where it is not a number: an unknown hour may raise a danger.
    peak REAL,
    limit_value REAL,
    unit TEXT NOT NULL,
    measure TEXT NOT NULL CHECK (length(measure) <= 100 AND measure NOT GLOB '*[^a-z0-9:+-]*'),
    act_by TEXT CHECK (act_by IS strftime('%Y-%m-%dT%H:%M:%SZ', act_by, '+0 days')),
    undo_at TEXT CHECK (undo_at IS strftime('%Y-%m-%dT%H:%M:%SZ', undo_at, '+0 days')),
    revision INTEGER NOT NULL CHECK (revision >= 1),
    state TEXT NOT NULL CHECK (state IN ('foreseen', 'raised', 'answered', 'lapsed', 'over')),
    first_seen_at TEXT NOT NULL CHECK (first_seen_at IS strftime('%Y-%m-%dT%H:%M:%SZ', first_seen_at, '+0 days')),
    raised_at TEXT CHECK (raised_at IS strftime('%Y-%m-%dT%H:%M:%SZ', raised_at, '+0 days')),
    spoken_severity TEXT NOT NULL CHECK (spoken_severity IN ('', 'Unknown', 'Minor', 'Moderate', 'Severe', 'Extreme')),
    spoken_measure TEXT NOT NULL CHECK (length(spoken_measure) <= 100 AND spoken_measure NOT GLOB '*[^a-z0-9:+-]*'),
    spoken_act_by TEXT CHECK (spoken_act_by IS strftime('%Y-%m-%dT%H:%M:%SZ', spoken_act_by, '+0 days')),
    spoken_at TEXT CHECK (spoken_at IS strftime('%Y-%m-%dT%H:%M:%SZ', spoken_at, '+0 days')),
    answer TEXT NOT NULL CHECK (answer IN ('', 'done', 'skip', 'later', 'hang', 'firm')),
    below_runs INTEGER NOT NULL CHECK (below_runs >= 0),
    in_force INTEGER NOT NULL CHECK (in_force IN (0, 1)),
    CONSTRAINT ends_after_it_starts CHECK (ends >= starts)
) STRICT, WITHOUT ROWID;

CREATE INDEX danger_standing ON danger (first_seen_at) WHERE state <> 'over';

CREATE TABLE notice (
    id TEXT PRIMARY KEY CONSTRAINT notice_has_an_id CHECK (length(id) = 16 AND id NOT GLOB '*[^0-9a-f]*'),
    kind TEXT NOT NULL CHECK (kind IN (
        'call', 'repeat', 'worse', 'stand-down', 'bring-back', 'rounds', 'season', 'question', 'blind', 'sees-again',
        'test')),
    severity TEXT NOT NULL CHECK (severity IN ('Unknown', 'Minor', 'Moderate', 'Severe', 'Extreme')),
    title TEXT NOT NULL CHECK (length(title) >= 1),
    body TEXT NOT NULL CONSTRAINT body_is_short CHECK (length(body) <= 1000),
    created_at TEXT NOT NULL CHECK (created_at IS strftime('%Y-%m-%dT%H:%M:%SZ', created_at, '+0 days')),
    due_at TEXT NOT NULL CHECK (due_at IS strftime('%Y-%m-%dT%H:%M:%SZ', due_at, '+0 days')),
    useless_after TEXT NOT NULL CHECK (useless_after IS strftime('%Y-%m-%dT%H:%M:%SZ', useless_after, '+0 days')),
    -- What makes a plan that is made twice speak once.
    dedup TEXT NOT NULL UNIQUE CHECK (length(dedup) >= 1),
    repeats TEXT REFERENCES notice (id)
) STRICT, WITHOUT ROWID;

CREATE INDEX notice_by_time ON notice (created_at);

CREATE TABLE notice_line (
    notice TEXT NOT NULL REFERENCES notice (id),
    position INTEGER NOT NULL CHECK (position >= 1),
    -- None for a line that is about a tree and no danger.
    danger TEXT REFERENCES danger (id),
    tree TEXT NOT NULL CONSTRAINT tree_is_an_id CHECK (length(tree) BETWEEN 1 AND 40 AND tree NOT GLOB '*[^a-z0-9-]*'),
    measure TEXT NOT NULL CHECK (length(measure) <= 100 AND measure NOT GLOB '*[^a-z0-9:+-]*'),
    PRIMARY KEY (notice, position),
    UNIQUE (notice, danger)
) STRICT, WITHOUT ROWID;

CREATE INDEX notice_line_of_danger ON notice_line (danger);

-- What is to be sent: one row per notice and channel, so that a channel that works is not asked again for one that fails.
CREATE TABLE outbox (
    id INTEGER PRIMARY KEY,
    notice TEXT NOT NULL REFERENCES notice (id),
    channel TEXT NOT NULL CHECK (length(channel) BETWEEN 1 AND 100),
    channel_order INTEGER NOT NULL,
    -- The next attempt is not made earlier.
    due_at TEXT NOT NULL CHECK (due_at IS strftime('%Y-%m-%dT%H:%M:%SZ', due_at, '+0 days')),
    lease_until TEXT CHECK (lease_until IS strftime('%Y-%m-%dT%H:%M:%SZ', lease_until, '+0 days')),
    attempts INTEGER NOT NULL DEFAULT 0 CHECK (attempts >= 0),
    sent_at TEXT CHECK (sent_at IS strftime('%Y-%m-%dT%H:%M:%SZ', sent_at, '+0 days')),
    failed_at TEXT CHECK (failed_at IS strftime('%Y-%m-%dT%H:%M:%SZ', failed_at, '+0 days')),
    -- permanent: the channel will never take it; too-late: it became useless; withdrawn: it was not needed any more.
    failure TEXT CHECK (failure IN ('permanent', 'too-late', 'withdrawn')),
    last_error TEXT CHECK (length(last_error) <= 300),
    UNIQUE (notice, channel),
    CONSTRAINT failed_with_a_reason CHECK ((failed_at IS NULL) = (failure IS NULL)),
    CONSTRAINT sent_or_failed CHECK (sent_at IS NULL OR failed_at IS NULL),
    CONSTRAINT ended_without_a_lease CHECK (lease_until IS NULL OR (sent_at IS NULL AND failed_at IS NULL))
) STRICT;

CREATE INDEX outbox_open ON outbox (due_at, channel_order) WHERE sent_at IS NULL AND failed_at IS NULL;

-- What the grower said: one answer per line stands, those that it replaced are kept.
CREATE TABLE answer (
    number INTEGER PRIMARY KEY,
    notice TEXT NOT NULL,
    position INTEGER NOT NULL,
    answer TEXT NOT NULL CHECK (answer IN ('done', 'skip', 'later', 'hang', 'firm')),
    answered_at TEXT NOT NULL CHECK (answered_at IS strftime('%Y-%m-%dT%H:%M:%SZ', answered_at, '+0 days')),
    answered_by TEXT NOT NULL CHECK (answered_by IN ('command', 'page')),
    replaced_at TEXT CHECK (replaced_at IS strftime('%Y-%m-%dT%H:%M:%SZ', replaced_at, '+0 days')),
    FOREIGN KEY (notice, position) REFERENCES notice_line (notice, position)
) STRICT;

CREATE UNIQUE INDEX answer_once ON answer (notice, position) WHERE replaced_at IS NULL;

-- Links that answer without a password. The token itself is only in the message that was sent.
CREATE TABLE answer_token (
    token_hash TEXT PRIMARY KEY CHECK (length(token_hash) = 64 AND token_hash NOT GLOB '*[^0-9a-f]*'),
    notice TEXT NOT NULL REFERENCES notice (id),
    channel TEXT NOT NULL CHECK (length(channel) BETWEEN 1 AND 100),
    issued_at TEXT NOT NULL CHECK (issued_at IS strftime('%Y-%m-%dT%H:%M:%SZ', issued_at, '+0 days'))
) STRICT, WITHOUT ROWID;

CREATE INDEX answer_token_of_notice ON answer_token (notice);

-- Small state of the service, such as when the last whole cycle ended.
CREATE TABLE fact (
    key TEXT PRIMARY KEY CONSTRAINT fact_has_a_key CHECK (length(key) BETWEEN 1 AND 100 AND key NOT GLOB '*[^a-z0-9:._-]*'),
    value TEXT NOT NULL,
    changed_at TEXT NOT NULL CHECK (changed_at IS strftime('%Y-%m-%dT%H:%M:%SZ', changed_at, '+0 days'))
) STRICT, WITHOUT ROWID;

-- Counts what an assessment stands on; the triggers count, so that no writer can forget to.
CREATE TABLE log_version (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    version INTEGER NOT NULL
) STRICT;

INSERT INTO log_version (one, version) VALUES (1, 0);

CREATE TRIGGER log_moves_with_an_entry AFTER INSERT ON entry
BEGIN
    UPDATE log_version SET version = version + 1;
END;

CREATE TRIGGER log_moves_with_a_struck_entry AFTER UPDATE ON entry
BEGIN
    UPDATE log_version SET version = version + 1;
END;

CREATE TRIGGER log_moves_with_a_reading AFTER INSERT ON reading
BEGIN
    UPDATE log_version SET version = version + 1;
END;

CREATE TRIGGER log_moves_with_an_answer AFTER INSERT ON answer
BEGIN
    UPDATE log_version SET version = version + 1;
END;
