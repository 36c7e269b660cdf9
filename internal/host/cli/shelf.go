package cli

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/google/uuid"
)

// shelf keeps what can be worked out anew in the data folder's cache, so that a command that answers one question need not
// work it out again. Whatever fails is let be: then it is worked out anew. What another build of the program kept is
// never brought back.
type shelf struct {
	dir   string
	build string
}

// mostShelved files are kept, the newest; a record needs four at a time.
const mostShelved = 16

func newShelf(data string) shelf { return shelf{filepath.Join(data, "cache"), buildMark()} }

// buildMark tells one build of the program from another.
func buildMark() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %d", info.Size(), info.ModTime().UnixNano()))
	return fmt.Sprintf("%x", sum[:4])
}

func (s shelf) file(name string) string { return filepath.Join(s.dir, name+"."+s.build) }

// recall gives what was kept under a name, or nil.
func (s shelf) recall(name string) []byte {
	if s.build == "" {
		return nil
	}
	data, err := os.ReadFile(s.file(name))
	if err != nil {
		return nil
	}
	return data
}

// keep writes beside and renames, so that a file is whole or not there.
func (s shelf) keep(name string, data []byte) {
	if s.build == "" || os.MkdirAll(s.dir, 0o700) != nil {
		return
	}
	part := filepath.Join(s.dir, ".part-"+uuid.NewString())
	if os.WriteFile(part, data, 0o600) != nil || os.Rename(part, s.file(name)) != nil {
		os.Remove(part)
		return
	}
	s.tidy()
}

// tidy removes the oldest files and those of other builds.
func (s shelf) tidy() {
	list, err := os.ReadDir(s.dir)
	if err != nil {
		return
	}
	type kept struct {
		path string
		at   int64
	}
	var mine []kept
	for _, e := range list {
		path := filepath.Join(s.dir, e.Name())
		info, err := e.Info()
		switch {
		case err != nil || strings.HasPrefix(e.Name(), "."): // another process may be writing it
		case strings.HasSuffix(e.Name(), "."+s.build):
			mine = append(mine, kept{path, info.ModTime().UnixNano()})
		case strings.HasPrefix(e.Name(), "chart-") || strings.HasPrefix(e.Name(), "surface-"):
			os.Remove(path)
		}
	}
	slices.SortFunc(mine, func(a, b kept) int { return cmp.Compare(b.at, a.at) })
	for i := mostShelved; i < len(mine); i++ {
		os.Remove(mine[i].path)
	}
}
