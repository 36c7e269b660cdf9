package sqlite

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"icehand/internal/base/fault"
)

// Holder says which process writes to a data folder.
type Holder struct {
	Process int       `json:"process"`           // process id
	Program string    `json:"program"`           // name of the program
	Started time.Time `json:"started"`           // when it opened the folder
	Address string    `json:"address,omitempty"` // loopback address once it serves
}

func (h Holder) String() string {
	s := fmt.Sprintf("process %d (%s, since %s", h.Process, h.Program, h.Started.Local().Format("2 Jan 15:04"))
	if h.Process == 0 {
		s = "another process (it has not said which"
	}
	if h.Address != "" {
		s += ", serving at " + h.Address
	}
	return s + ")"
}

// HolderOf gives the writer of a data folder, so that a writing command can hand its work over. False when there is none.
func HolderOf(dir string) (Holder, bool) {
	f, err := os.Open(filepath.Join(dir, LockFile))
	if err != nil {
		return Holder{}, false
	}
	defer f.Close()
	if free, err := lockFile(f, false); free || err != nil {
		return Holder{}, false // closing lets go of the lock again
	}
	return readHolder(f), true
}

// readHolder reads who holds the lock; the zero Holder when that is not written yet.
func readHolder(f *os.File) Holder {
	for range 5 {
		var h Holder
		if b, err := os.ReadFile(f.Name()); err == nil && json.Unmarshal(b, &h) == nil {
			return h
		}
		time.Sleep(10 * time.Millisecond) // it is being written just now
	}
	return Holder{}
}

// folderLock is the right to write to a data folder. The file stays when the lock goes: removing it would let two
// writers lock two different files of one name.
type folderLock struct {
	file   *os.File
	holder Holder
}

func lockFolder(dir, program string) (*folderLock, error) {
	f, err := os.OpenFile(filepath.Join(dir, LockFile), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, folderFault(err, dir)
	}
	var held bool
	for range 10 { // a command that asks who holds the lock has it for a moment
		if held, err = lockFile(f, true); held || err != nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if err != nil {
		f.Close()
		return nil, fault.Wrap(err, fault.Unavailable, "Put the data folder on a local disk.", "The folder %s cannot be locked", dir)
	}
	if !held {
		h := readHolder(f)
		f.Close()
		return nil, fault.New(fault.Conflict, "Stop it, or run this command against it.", "%s is being written by %s", dir, h)
	}
	l := &folderLock{file: f, holder: Holder{Process: os.Getpid(), Program: program, Started: time.Now().UTC().Truncate(time.Second)}}
	if err := l.note(); err != nil {
		l.release()
		return nil, folderFault(err, dir)
	}
	return l, nil
}

// note writes the holder into the lock file, in place: the lock belongs to this very file.
func (l *folderLock) note() error {
	b, err := json.Marshal(l.holder)
	if err != nil {
		return err
	}
	b = append(b, '\n')
	if _, err := l.file.WriteAt(b, 0); err != nil {
		return err
	}
	return l.file.Truncate(int64(len(b)))
}

func (l *folderLock) release() error {
	return errors.Join(l.file.Truncate(0), l.file.Close())
}

// folderFault says in plain words why a data folder cannot be used.
func folderFault(err error, dir string) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault.Wrap(err, fault.Missing, "Name the folder with --data, or start with icehand demo or icehand import.", "There is no data folder %s", dir)
	case errors.Is(err, fs.ErrPermission):
		return fault.Wrap(err, fault.Unavailable, "Give yourself the right to write there, or name another folder.", "The folder %s may not be written", dir)
	}
	return fault.Wrap(err, fault.Unavailable, "Check the disk, or name another folder.", "The folder %s cannot be used", dir)
}
