package sqlite

import (
	"context"
	"errors"
	"fmt"

	"modernc.org/sqlite"

	"icehand/internal/base/fault"
)

// Result codes of SQLite [SQLite, result codes].
const (
	sqliteError    = 1
	sqliteBusy     = 5
	sqliteReadOnly = 8
	sqliteIOErr    = 10
	sqliteCorrupt  = 11
	sqliteFull     = 13
	sqliteCantOpen = 14
	sqliteNotADB   = 26
)

// code gives SQLite's result code, or 0 when the error is not SQLite's.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}

// explain turns an error of SQLite into plain words. An error that is a fault already, or the end of a context, passes.
func explain(err error, doing, what string) error {
	var known *fault.Error
	if errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	err = fmt.Errorf("sqlite: %s: %w", doing, err)
	const restore = "Copy the data folder away as it is, then restore the last backup with icehand restore; icehand audit names the damage."
	if errors.Is(err, errShape) {
		return fault.Wrap(err, fault.Damaged, restore, "%s is damaged", what)
	}
	switch code(err) {
	case sqliteNotADB:
		return fault.Wrap(err, fault.Damaged, restore, "%s is not a database, or its beginning is damaged", what)
	case sqliteCorrupt, sqliteError: // our statements are fixed: one that fails to compile has met a changed table
		return fault.Wrap(err, fault.Damaged, restore, "%s is damaged", what)
	case sqliteFull:
		return fault.Wrap(err, fault.NotSaved, "Free some space and save it again: nothing will be doubled.", "The disk is full: this is not saved")
	case sqliteIOErr:
		return fault.Wrap(err, fault.NotSaved, "Check the disk and try again: nothing will be doubled.", "The disk failed while %s", doing)
	case sqliteBusy:
		return fault.Wrap(err, fault.Unavailable, "Try again in a moment.", "%s is being used by another program", what)
	case sqliteReadOnly, sqliteCantOpen:
		return fault.Wrap(err, fault.Unavailable, "Check that the folder may be read and written, or copy it to another disk.", "%s cannot be opened", what)
	}
	return err
}
