//go:build darwin || dragonfly || freebsd || illumos || linux || netbsd || openbsd

package sqlite

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile tries to lock an open file for one holder. The system lets go of the lock when the holder dies.
func lockFile(f *os.File, exclusive bool) (bool, error) {
	how := unix.LOCK_SH
	if exclusive {
		how = unix.LOCK_EX
	}
	for {
		err := unix.Flock(int(f.Fd()), how|unix.LOCK_NB)
		switch {
		case err == nil:
			return true, nil
		case errors.Is(err, unix.EWOULDBLOCK):
			return false, nil
		case !errors.Is(err, unix.EINTR):
			return false, err
		}
	}
}

// syncDir makes a rename or a new file in a folder durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
