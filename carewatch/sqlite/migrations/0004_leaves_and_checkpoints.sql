-- The answers to the leaf question are observations: leaves that hang at two in the afternoon, leaves that are firm. The
-- table is rebuilt, since SQLite changes no CHECK of a table that stands. Numbers stay.

CREATE TABLE entry_with_leaves (
    number INTEGER PRIMARY KEY,
    identity TEXT NOT NULL CHECK (length(identity) = 64 AND identity NOT GLOB '*[^0-9a-f]*'),
    tree TEXT NOT NULL CONSTRAINT tree_is_an_id CHECK (length(tree) BETWEEN 1 AND 40 AND tree NOT GLOB '*[^a-z0-9-]*'),
    -- Some are names that are kept for later entries.
    work TEXT NOT NULL CONSTRAINT work_is_known CHECK (work IN (
        'set-layer', 'sever-layer', 'root-prune', 'repot', 'defoliate', 'hard-prune', 'wire', 'bend', 'unwire', 'seal',
        'tie-down', 'untie', 'lift', 'graft', 'sacrifice', 'cut-off', 'feed', 'move', 'water', 'observe', 'begin', 'end',
        'candle-cut', 'sow', 'prick-out', 'cutting', 'checked', 'put-off')),
    at TEXT NOT NULL CHECK (at IS strftime('%Y-%m-%dT%H:%M:%SZ', at, '+0 days')),
    -- The day at the site: part of the identity, and not to be had from UTC.
    day TEXT NOT NULL CHECK (day IS strftime('%Y-%m-%d', day, '+0 days')),
    roots TEXT CHECK (roots IN ('sparse', 'fair', 'dense')),
    roots_worked INTEGER NOT NULL CHECK (roots_worked IN (0, 1)),
    removed REAL CONSTRAINT removed_is_a_share CHECK (removed > 0 AND removed <= 1),
    tied INTEGER NOT NULL CHECK (tied IN (0, 1)),
    paste INTEGER NOT NULL CHECK (paste IN (0, 1)),
    branch TEXT CONSTRAINT branch_is_short CHECK (length(branch) BETWEEN 1 AND 60),
    gauge_mm REAL CONSTRAINT gauge_is_of_wire CHECK (gauge_mm BETWEEN 0.3 AND 12),
    due TEXT CHECK (due IS strftime('%Y-%m-%d', due, '+0 days')),
    other_tree TEXT CONSTRAINT other_tree_is_an_id CHECK (
        length(other_tree) BETWEEN 1 AND 40 AND other_tree NOT GLOB '*[^a-z0-9-]*'),
    to_place TEXT CONSTRAINT place_is_an_id CHECK (length(to_place) BETWEEN 1 AND 40 AND to_place NOT GLOB '*[^a-z0-9-]*'),
    seen TEXT CONSTRAINT seen_is_known CHECK (seen IN (
        'bud-swell', 'leaf-out', 'mature', 'colouring', 'leaf-fall', 'dormant', 'wilting', 'scorch', 'new-growth',
        'dead', 'hanging', 'firm')),
    -- A name, or "move:" and a place; of a task where one was looked after or put off.
    measure TEXT CHECK (length(measure) BETWEEN 1 AND 45 AND measure NOT GLOB '*[^a-z0-9:-]*'),
    note TEXT CONSTRAINT note_is_short CHECK (length(note) BETWEEN 1 AND 2000),
    recorded_at TEXT NOT NULL CHECK (recorded_at IS strftime('%Y-%m-%dT%H:%M:%SZ', recorded_at, '+0 days')),
    struck_at TEXT CHECK (struck_at IS strftime('%Y-%m-%dT%H:%M:%SZ', struck_at, '+0 days')),
    superseded_by INTEGER REFERENCES entry_with_leaves (number),
    CONSTRAINT move_names_its_place CHECK ((to_place IS NOT NULL) = (work = 'move')),
    CONSTRAINT observe_says_what_was_seen CHECK ((seen IS NOT NULL) = (work = 'observe')),
    CONSTRAINT begin_and_end_name_their_measure CHECK (
        (measure IS NOT NULL) = (work IN ('begin', 'end', 'checked', 'put-off'))),
    CONSTRAINT due_is_of_what_is_planned CHECK (due IS NULL OR work IN ('sacrifice', 'put-off')),
    CONSTRAINT superseded_is_struck CHECK (superseded_by IS NULL OR struck_at IS NOT NULL)
) STRICT;

INSERT INTO entry_with_leaves (
    number, identity, tree, work, at, day, roots, roots_worked, removed, tied, paste, branch, gauge_mm, due, other_tree,
    to_place, seen, measure, note, recorded_at, struck_at, superseded_by)
SELECT
    number, identity, tree, work, at, day, roots, roots_worked, removed, tied, paste, branch, gauge_mm, due, other_tree,
    to_place, seen, measure, note, recorded_at, struck_at, superseded_by FROM entry;

-- Its triggers and its index go with it.
DROP TABLE entry;

ALTER TABLE entry_with_leaves RENAME TO entry;

CREATE UNIQUE INDEX entry_once ON entry (identity) WHERE struck_at IS NULL;

CREATE TRIGGER entry_is_never_erased BEFORE DELETE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry of the care log is struck, never erased');
END;

CREATE TRIGGER entry_stays_as_it_was BEFORE UPDATE OF
    number, identity, tree, work, at, day, roots, roots_worked, removed, tied, paste, branch, gauge_mm, due, other_tree,
    to_place, seen, measure, note, recorded_at ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry of the care log is superseded, never changed');
END;

CREATE TRIGGER log_moves_with_an_entry AFTER INSERT ON entry
BEGIN
    UPDATE log_version SET version = version + 1;
END;

CREATE TRIGGER log_moves_with_a_struck_entry AFTER UPDATE ON entry
BEGIN
    UPDATE log_version SET version = version + 1;
END;

-- What the past has made of the garden's floors and root balls, so that it need not be worked out again every hour. A
-- cache and never a truth: it may be emptied at any time.
CREATE TABLE checkpoint (
    key TEXT PRIMARY KEY CHECK (length(key) = 64 AND key NOT GLOB '*[^0-9a-f]*'),
    content BLOB NOT NULL,
    -- Of carewatch: another one may compute another state.
    release TEXT NOT NULL,
    made_at TEXT NOT NULL CHECK (made_at IS strftime('%Y-%m-%dT%H:%M:%SZ', made_at, '+0 days'))
) STRICT, WITHOUT ROWID;
