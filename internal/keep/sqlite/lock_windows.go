package sqlite

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockFile tries to lock an open file for one holder. Locks of this system bar reading, so the locked byte lies far
// beyond the end, where it does not hide who the holder is.
func lockFile(f *os.File, exclusive bool) (bool, error) {
	flags := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if exclusive {
		flags |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	far := windows.Overlapped{OffsetHigh: 1}
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &far)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return false, nil
	}
	return err == nil, err
}

// syncDir does nothing: this system has no sync of folders.
func syncDir(string) error { return nil }
