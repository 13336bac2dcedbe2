package season

import "database/sql"

// migrations bring a file from version to version. Only add to the end.
var migrations = []string{
	`CREATE TABLE plan (
		checksum TEXT PRIMARY KEY,
		text     TEXT NOT NULL -- the plan file, on one line
	) STRICT;
	CREATE TABLE field (
		id   INTEGER PRIMARY KEY,
		name TEXT NOT NULL COLLATE NOCASE UNIQUE CHECK (name <> '')
	) STRICT;
	CREATE TABLE visit (
		id      TEXT PRIMARY KEY,
		field   INTEGER NOT NULL REFERENCES field (id),
		date    TEXT NOT NULL CHECK (date GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
		stage   TEXT NOT NULL,
		plan    TEXT NOT NULL REFERENCES plan (checksum),
		source  TEXT NOT NULL,
		changes INTEGER NOT NULL CHECK (changes >= 0),
		started TEXT NOT NULL, -- when the first entry was typed
		-- What the visit came to. It follows from plan and entries.
		stops        INTEGER NOT NULL CHECK (stops >= 0),
		plants       INTEGER NOT NULL CHECK (plants >= 0),
		total        INTEGER NOT NULL CHECK (total >= 0),
		units        INTEGER NOT NULL CHECK (units >= 0),
		signs        INTEGER NOT NULL CHECK (signs BETWEEN 0 AND stops),
		verdict      TEXT NOT NULL CHECK (verdict IN ('', 'act', 'leave', 'continue')),
		decided_at   INTEGER NOT NULL CHECK (decided_at BETWEEN 0 AND stops),
		sign_missing   INTEGER NOT NULL CHECK (sign_missing IN (0, 1)),
		next_visit   TEXT NOT NULL,
		next_rule    TEXT NOT NULL,
		found_before INTEGER NOT NULL CHECK (found_before IN (0, 1)),
		in_stage     REAL
	) STRICT;
	CREATE INDEX visit_of_field ON visit (field, date, started);
	CREATE INDEX visit_of_date ON visit (date);
	CREATE TABLE entry (
		visit  TEXT NOT NULL REFERENCES visit (id),
		number INTEGER NOT NULL CHECK (number >= 1),
		kind   TEXT NOT NULL CHECK (kind IN ('stop', 'correct', 'undo', 'note', 'more')),
		stop   INTEGER NOT NULL CHECK (stop >= 0),
		total  INTEGER NOT NULL CHECK (total >= 0),
		plants INTEGER NOT NULL CHECK (plants >= 0),
		sign   INTEGER CHECK (sign IN (0, 1)),
		note   TEXT NOT NULL,
		at     TEXT NOT NULL,
		PRIMARY KEY (visit, number)
	) STRICT, WITHOUT ROWID;
	CREATE TRIGGER entry_is_kept BEFORE UPDATE ON entry BEGIN SELECT RAISE (ABORT, 'entries are never changed'); END;
	CREATE TRIGGER entry_is_not_deleted BEFORE DELETE ON entry BEGIN SELECT RAISE (ABORT, 'entries are never deleted'); END;`,

	// New kinds of entries need a new table, for what a column accepts is fixed when
	// it is made. Dropping a table runs no triggers.
	`CREATE TABLE entry_of_version_2 (
		visit  TEXT NOT NULL REFERENCES visit (id),
		number INTEGER NOT NULL CHECK (number >= 1),
		kind   TEXT NOT NULL CHECK (kind IN ('stop', 'correct', 'undo', 'note', 'more', 'void', 'rename')),
		stop   INTEGER NOT NULL CHECK (stop >= 0),
		total  INTEGER NOT NULL CHECK (total >= 0),
		plants INTEGER NOT NULL CHECK (plants >= 0),
		sign   INTEGER CHECK (sign IN (0, 1)),
		note   TEXT NOT NULL,
		at     TEXT NOT NULL,
		takes  INTEGER NOT NULL CHECK (takes BETWEEN 0 AND number), -- number of the entry that an undo takes back
		scout  TEXT NOT NULL,
		was    TEXT NOT NULL, -- of a rename: the name before
		name   TEXT NOT NULL, -- and after
		PRIMARY KEY (visit, number)
	) STRICT, WITHOUT ROWID;
	INSERT INTO entry_of_version_2 SELECT visit, number, kind, stop, total, plants, sign, note, at, 0, '', '', '' FROM entry;
	DROP TABLE entry;
	ALTER TABLE entry_of_version_2 RENAME TO entry;
	CREATE TRIGGER entry_is_kept BEFORE UPDATE ON entry BEGIN SELECT RAISE (ABORT, 'entries are never changed'); END;
	CREATE TRIGGER entry_is_not_deleted BEFORE DELETE ON entry BEGIN SELECT RAISE (ABORT, 'entries are never deleted'); END;
	CREATE TRIGGER visit_is_not_deleted BEFORE DELETE ON visit BEGIN SELECT RAISE (ABORT, 'visits are never deleted'); END;
	ALTER TABLE visit ADD COLUMN void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1));
	ALTER TABLE visit ADD COLUMN scout TEXT NOT NULL DEFAULT '';
	ALTER TABLE visit ADD COLUMN seal TEXT NOT NULL DEFAULT ''; -- a digest of the visit and all its entries
	CREATE TABLE expected (
		field INTEGER PRIMARY KEY REFERENCES field (id) -- a field that is to be visited this season
	) STRICT;`,

	// What earlier visits found, where the plan has tables by that.
	`ALTER TABLE visit ADD COLUMN last TEXT NOT NULL DEFAULT '' CHECK (last IN ('', 'none', 'found', 'little', 'more'));`,
}

// after holds what a migration leaves to be computed, by the version it brings.
var after = map[int]func(tx *sql.Tx) error{2: sealAll}
