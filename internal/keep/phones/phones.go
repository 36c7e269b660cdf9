// Package phones keeps who may sync with this server: a file in the data folder with a line for each phone and the hash
// of its key.
//
// Start with [Open]; [Book.Add] gives a phone its key, which is shown once and stored nowhere, [Book.End] takes it back.
// A Book is the keys of a syncing.Server, and looks at the file again when it changed, so that a command takes effect on
// a running server. The file belongs to the machine: it is in no backup and no export. It assumes that one person at a
// time changes it. It leaves out rights: a phone that is known may read and write all that its account may.
package phones

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"icehand/internal/base/fault"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// File is the name of the file in the data folder.
const File = "phones.json"

const (
	keyBytes = 20 // of chance in a key: 160 bit
	mostName = 60 // characters of a name
	mostFile = 1 << 20
	most     = 200 // phones on file
)

// Phone is one phone on file.
type Phone struct {
	Name  string       `json:"name"`
	Key   journal.Hash `json:"key"` // SHA-256 of the key
	Added time.Time    `json:"added"`
	Ended time.Time    `json:"ended,omitzero"` // when its access was taken back
	Wipe  bool         `json:"wipe,omitempty"` // it is told to remove what it holds
}

// Book is the phones of a data folder. It is safe for concurrent use.
type Book struct {
	path string

	mu    sync.Mutex
	stamp string // of the file as it was read
	list  []Phone
}

var _ syncing.Keys = (*Book)(nil)

// Open gives the phones of a data folder. A folder without the file has none.
func Open(dir string) *Book { return &Book{path: filepath.Join(dir, File)} }

// encoding of keys: letters and digits that are hard to take for one another, spoken and typed in groups of four.
var encoding = base32.NewEncoding("abcdefghjkmnpqrstuvwxyz234567890").WithPadding(base32.NoPadding)

// hash gives the hash of a key as typed: case, spaces and dashes do not matter.
func hash(key string) journal.Hash {
	return sha256.Sum256([]byte(strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(key))))
}

// load reads the file anew when it changed.
func (b *Book) load() error {
	info, err := os.Stat(b.path)
	if errors.Is(err, os.ErrNotExist) {
		b.list, b.stamp = nil, ""
		return nil
	}
	if err != nil {
		return b.fault(err)
	}
	stamp := fmt.Sprint(info.Size(), info.ModTime().UnixNano())
	if stamp == b.stamp {
		return nil
	}
	if info.Size() > mostFile {
		return b.fault(fmt.Errorf("phones: %d bytes", info.Size()))
	}
	raw, err := os.ReadFile(b.path)
	if err != nil {
		return b.fault(err)
	}
	var file struct {
		Phones []Phone `json:"phones"`
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		return b.fault(err)
	}
	b.list, b.stamp = file.Phones, stamp
	return nil
}

func (b *Book) fault(err error) error {
	return fault.Wrap(err, fault.Damaged, "Remove the file and pair the phones again; no record is in it.", "%s cannot be read", b.path)
}

// save replaces the file whole.
func (b *Book) save(list []Phone) error {
	raw, err := json.MarshalIndent(map[string]any{"phones": list}, "", "  ")
	if err != nil {
		return fmt.Errorf("phones: writing: %w", err)
	}
	f, err := os.CreateTemp(filepath.Dir(b.path), File+".*")
	if err == nil {
		defer os.Remove(f.Name()) // gone when it got its name
		_, err = f.Write(append(raw, '\n'))
		err = errors.Join(err, f.Chmod(0o600), f.Sync(), f.Close())
	}
	if err == nil {
		err = os.Rename(f.Name(), b.path)
	}
	if err != nil {
		return fault.Wrap(err, fault.NotSaved, "Look at the disk and the rights of the folder.", "%s cannot be written", b.path)
	}
	b.stamp = ""
	return nil
}

// List gives all phones, those that were ended too.
func (b *Book) List() ([]Phone, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	err := b.load()
	return slices.Clone(b.list), err
}

// Add puts a phone on file and gives its key.
func (b *Book) Add(name string, now time.Time) (key string, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.load(); err != nil {
		return "", err
	}
	name = strings.TrimSpace(name)
	switch {
	case name == "" || !utf8.ValidString(name) || utf8.RuneCountInString(name) > mostName || strings.ContainsFunc(name, func(r rune) bool { return r < 0x20 }):
		return "", fault.New(fault.BadInput, fmt.Sprintf("Use 1 to %d characters, such as: red phone.", mostName), "%q is no name for a phone", name)
	case b.find(name) >= 0:
		return "", fault.New(fault.Conflict, "Choose another name, or end that one first.", "there is a phone called %q", name)
	case len(b.list) >= most:
		return "", fault.New(fault.Conflict, "Remove ended ones from the file.", "%d phones are on file", len(b.list))
	}
	raw := make([]byte, keyBytes)
	rand.Read(raw) // never fails
	text := encoding.EncodeToString(raw)
	var groups []string
	for g := range slices.Chunk([]byte(text), 4) {
		groups = append(groups, string(g))
	}
	return strings.Join(groups, "-"), b.save(append(slices.Clone(b.list), Phone{Name: name, Key: hash(text), Added: now.UTC().Truncate(time.Second)}))
}

// find gives the phone of a name that was not ended, or -1.
func (b *Book) find(name string) int {
	return slices.IndexFunc(b.list, func(p Phone) bool { return strings.EqualFold(p.Name, name) && p.Ended.IsZero() })
}

// End takes a phone's access back at once. With wipe it is told to remove what it holds when it asks next; what it had
// not sent is then lost.
func (b *Book) End(name string, wipe bool, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.load(); err != nil {
		return err
	}
	name = strings.TrimSpace(name)
	i := b.find(name)
	if i < 0 && wipe { // an ended one may still be told to wipe
		i = slices.IndexFunc(b.list, func(p Phone) bool { return strings.EqualFold(p.Name, name) && !p.Wipe })
	}
	if i < 0 {
		return fault.New(fault.NotFound, "icehand phone lists them.", "no phone is called %q", name)
	}
	list := slices.Clone(b.list)
	if list[i].Ended.IsZero() {
		list[i].Ended = now.UTC().Truncate(time.Second)
	}
	list[i].Wipe = wipe
	return b.save(list)
}

// Phone gives the phone of a key. The hashes of keys are compared, so that the time it takes tells nothing of a key.
func (b *Book) Phone(ctx context.Context, key string) (syncing.Phone, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.load(); err != nil {
		return syncing.Phone{}, err
	}
	h := hash(key)
	for _, p := range b.list {
		switch {
		case p.Key != h:
		case p.Wipe:
			return syncing.Phone{}, fmt.Errorf("phones: %w: %w", syncing.ErrEnded, syncing.ErrWipe)
		case !p.Ended.IsZero():
			return syncing.Phone{}, fmt.Errorf("phones: %w", syncing.ErrEnded)
		default:
			return syncing.Phone{Name: p.Name}, ctx.Err()
		}
	}
	return syncing.Phone{}, fault.New(fault.NotFound, "Pair the phone: icehand phone add NAME.", "this server does not know who asks")
}
