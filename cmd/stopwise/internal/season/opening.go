package season

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"modernc.org/sqlite"

	"stopwise/plans"
)

// Open opens a season file, and makes it if create is set and there is none. A
// file of an older version is brought up to date; one of a newer version, or of
// another program, is left as it is and refused.
func Open(path string, create bool) (*File, error) {
	// Two programs that make or recover a file at once do not wait for each other
	// within the database: turning on the log takes the whole file.
	for deadline := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		f, err := openOnce(path, create)
		if !isBusy(err) || time.Now().After(deadline) {
			return f, err
		}
	}
}

// patience is how long another program may keep the file busy.
const patience = 10 * time.Second

// OpenToRead opens a season file to read it. Where neither the file nor its
// directory can be written, on a read-only medium for example, it reads a copy.
func OpenToRead(path string) (*File, error) {
	f, err := Open(path, false)
	e, store := errors.AsType[*sqlite.Error](err)
	closed := errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS)
	if err == nil || !closed && !(store && (e.Code()&0xff == readOnly || e.Code()&0xff == cannotOpen)) {
		return f, err
	}
	dir, failed := os.MkdirTemp("", "season-*")
	if failed != nil {
		return nil, err
	}
	name := filepath.Join(dir, "copy")
	if failed := copyWhole(path, name); failed != nil {
		os.RemoveAll(dir)
		if closed {
			return nil, failed
		}
		return nil, err
	}
	if f, err = Open(name, false); err != nil {
		os.RemoveAll(dir)
		return nil, err
	}
	f.copied = dir
	return f, nil
}

// copyWhole copies a season file with its journal, as they stand together: where
// one of them changes meanwhile, it begins again.
func copyWhole(from, to string) error {
	const journal = "-wal"
	state := func() (string, error) {
		all := ""
		for _, end := range []string{"", journal} {
			info, err := os.Stat(from + end)
			if errors.Is(err, fs.ErrNotExist) && end != "" {
				continue
			}
			if err != nil {
				return "", err
			}
			all += fmt.Sprint(info.Size(), info.ModTime(), " ")
		}
		return all, nil
	}
	for deadline := time.Now().Add(patience); ; {
		before, err := state()
		if err != nil {
			return err
		}
		for _, end := range []string{"", journal} {
			data, err := os.ReadFile(from + end)
			if errors.Is(err, fs.ErrNotExist) && end != "" {
				continue
			}
			if err != nil {
				return err
			}
			if err := os.WriteFile(to+end, data, 0o600); err != nil {
				return err
			}
		}
		after, err := state()
		if err != nil {
			return err
		}
		if before == after {
			return nil
		}
		if time.Now().After(deadline) {
			return &StoreError{Message: "another program keeps changing the season file, which cannot be written here; try again"}
		}
	}
}

func openOnce(path string, create bool) (*File, error) {
	if err := inspect(path, create); err != nil {
		return nil, err
	}
	mode := "rw"
	if create {
		mode = "rwc"
	}
	db, err := connect(path, url.Values{
		// WAL with FULL: a commit returns when it is on the disk, and readers do not
		// wait for writers.
		"_pragma": {"busy_timeout(10000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"},
		"_txlock": {"immediate"},
		"mode":    {mode},
	})
	if err != nil {
		return nil, explain(err)
	}
	f := &File{db: db, path: path, plans: map[string]*plans.Plan{}}
	if err := f.prepare(); err != nil {
		db.Close()
		return nil, explain(err)
	}
	return f, nil
}

func connect(path string, q url.Values) (*sql.DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: q.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1) // the process never waits for itself
	if err := db.Ping(); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

var errForeign = &FormatError{"is not a season file; give the name of one, or of a file that does not exist"}

// inspect refuses the files of other programs before anything is changed in them.
func inspect(path string, create bool) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) && create {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return &FormatError{"is a directory; give a file"}
	}
	head := make([]byte, 100)
	switch n, err := io.ReadFull(f, head); {
	case n == 0 && errors.Is(err, io.EOF):
		if !create {
			return &FormatError{"is empty: there is no season in it yet"}
		}
		return nil
	case err != nil || string(head[:16]) != "SQLite format 3\x00":
		return errForeign
	}
	if binary.BigEndian.Uint32(head[68:72]) == applicationID {
		return nil
	}
	// The mark may still stand in the log beside the file.
	db, err := connect(path, url.Values{"mode": {"rw"}, "_pragma": {"busy_timeout(10000)"}})
	if err != nil {
		return explain(err)
	}
	defer db.Close()
	var id, tables int
	if err := db.QueryRow("SELECT (SELECT application_id FROM pragma_application_id), (SELECT count(*) FROM sqlite_schema)").Scan(&id, &tables); err != nil {
		return explain(err)
	}
	if id != applicationID && (id != 0 || tables > 0) {
		return errForeign
	}
	return nil
}

// prepare reads the settings back, because a misspelt one is silently ignored,
// and brings the schema up to date.
func (f *File) prepare() error {
	for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "10000"} {
		var got string
		if err := f.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil {
			return err
		}
		if got != want {
			return &StoreError{Message: fmt.Sprintf("this place cannot keep a season file safely (%s is %s, not %s); keep the file on a local disk", pragma, got, want)}
		}
	}
	var version int
	if err := f.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if version == len(migrations) {
		return nil
	}
	return f.migrate()
}

func (f *File) migrate() error {
	return f.transact(func(tx *sql.Tx) error {
		var version int
		if err := tx.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
			return err
		}
		if version > len(migrations) {
			return &FormatError{fmt.Sprintf("is a season file of version %d, and this program knows up to %d; nothing was changed: use a newer stopwise", version, len(migrations))}
		}
		from := version
		for ; version < len(migrations); version++ {
			if _, err := tx.Exec(migrations[version]); err != nil {
				return fmt.Errorf("season: migration %d: %w", version+1, err)
			}
		}
		// What is computed is read with the tables of today.
		for v := from + 1; v <= version; v++ {
			if finish := after[v]; finish != nil {
				if err := finish(tx); err != nil {
					return fmt.Errorf("season: migration %d: %w", v, err)
				}
			}
		}
		_, err := tx.Exec(fmt.Sprintf("PRAGMA user_version = %d; PRAGMA application_id = %d", version, applicationID))
		return err
	})
}
