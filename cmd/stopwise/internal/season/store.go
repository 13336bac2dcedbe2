package season

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"strings"

	"modernc.org/sqlite"

	"stopwise/plans"
)

// A File is an open season file. It is not for use by several goroutines; other
// processes may have the same file open, and write to it.
type File struct {
	db    *sql.DB
	path  string
	plans map[string]*plans.Plan
	// copied is the directory of the copy that is read where the file itself cannot
	// be opened; else empty.
	copied string
}

// applicationID marks the database as a season file: "STPW".
const applicationID = 0x53545057

// A FormatError says that a file is no season file, or one that this program
// cannot read.
type FormatError struct{ Message string }

func (e *FormatError) Error() string { return e.Message }

// A StoreError says why a season file could not be read or written.
type StoreError struct {
	Message string
	Err     error
}

func (e *StoreError) Error() string { return e.Message }
func (e *StoreError) Unwrap() error { return e.Err }

func isBusy(err error) bool {
	e, ok := errors.AsType[*sqlite.Error](err)
	return ok && e.Code()&0xff == busy
}

// Close closes the file.
func (f *File) Close() error {
	err := f.db.Close()
	if f.copied != "" {
		err = errors.Join(err, os.RemoveAll(f.copied))
	}
	return err
}

func (f *File) transact(do func(tx *sql.Tx) error) error {
	tx, err := f.db.Begin()
	if err != nil {
		return explain(err)
	}
	defer func() { _ = tx.Rollback() }() // after a commit this does nothing
	if err := do(tx); err != nil {
		return explain(err)
	}
	return explain(tx.Commit())
}

// snapshot reads within one transaction: what other programs write meanwhile is
// not seen, so that the tables fit each other.
func (f *File) snapshot(read func(q *sql.Tx) error) error {
	tx, err := f.db.BeginTx(context.Background(), &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return explain(err)
	}
	defer func() { _ = tx.Rollback() }()
	return explain(read(tx))
}

// read returns what is read in a snapshot.
func read[T any](f *File, from func(q *sql.Tx) (T, error)) (out T, err error) {
	err = f.snapshot(func(q *sql.Tx) error {
		out, err = from(q)
		return err
	})
	return out, err
}

// The result codes of SQLite that are told apart (www.sqlite.org/rescode.html).
const (
	busy, readOnly, ioError, corrupt, full, cannotOpen, notDatabase = 5, 8, 10, 11, 13, 14, 26
)

// explain puts the errors of the database into words for people.
func explain(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	message := ""
	switch e.Code() & 0xff {
	case busy:
		message = "another program keeps the season file busy; try again"
	case readOnly:
		message = "cannot write: the season file or its directory is read-only; copy the file to where you can write"
	case full:
		message = "cannot write: the disk is full"
	case ioError:
		message = "cannot write: the disk is full or fails (" + e.Error() + ")"
	case cannotOpen:
		message = "cannot open or make the season file; it needs a directory that exists and that you can write to, because a journal is kept beside it"
	case corrupt:
		return &FormatError{"is damaged; use a copy (" + e.Error() + ")"}
	case notDatabase:
		return errForeign
	default:
		return &StoreError{strings.TrimSpace(e.Error()), err}
	}
	return &StoreError{message, err}
}
