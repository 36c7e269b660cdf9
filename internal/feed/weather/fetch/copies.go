package fetch

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"time"
)

// stored is an answer that was good, with what is needed to ask whether it still holds.
type stored struct {
	Modified  string    `json:"last_modified,omitempty"` // as the service wrote it
	Tag       string    `json:"etag,omitempty"`
	Fetched   time.Time `json:"fetched"`             // when the service last said that it holds
	NotBefore time.Time `json:"not_before,omitzero"` // do not ask again before
	Body      []byte    `json:"body"`
}

// copies keeps good answers in a folder, a file each. What cannot be read counts as not there.
type copies struct{ folder string }

// file names the copy of an answer. The key is no part of it, nor is the place readable in it.
func (c copies) file(s *service, path string, query url.Values) string {
	sum := sha256.Sum256([]byte(string(s.provider) + "\n" + s.base.String() + path + "?" + query.Encode()))
	return filepath.Join(c.folder, string(s.provider)+"-"+hex.EncodeToString(sum[:8])+".json")
}

func (c copies) load(s *service, path string, query url.Values) (k stored, ok bool) {
	if c.folder == "" {
		return k, false
	}
	f, err := os.Open(c.file(s, path, query))
	if err != nil {
		return k, false
	}
	defer f.Close()
	raw, err := io.ReadAll(io.LimitReader(f, 2*maxBody))
	if err != nil || json.Unmarshal(raw, &k) != nil || len(k.Body) == 0 || len(k.Body) > maxBody {
		return stored{}, false
	}
	return k, true
}

// keep writes a copy so that a crash leaves the former one.
func (c copies) keep(s *service, path string, query url.Values, k stored) error {
	if c.folder == "" {
		return nil
	}
	if err := os.MkdirAll(c.folder, 0o700); err != nil {
		return err
	}
	raw, err := json.Marshal(k)
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(c.folder, ".copy-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name()) // gone already after the rename
	_, err = tmp.Write(raw)
	if err := errors.Join(err, tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), c.file(s, path, query))
}

// drop forgets a copy.
func (c copies) drop(s *service, path string, query url.Values) {
	if c.folder != "" {
		_ = os.Remove(c.file(s, path, query)) // gone already is as good
	}
}
