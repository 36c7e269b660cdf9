// Package exchange moves whole journals between stores as text: one JSON object a line, nothing lost, nothing changed.
//
// Start with [WriteNDJSON] and [ReadNDJSON]; [CheckNDJSON] reads a file and stores nothing. docs/journal-format.md defines the lines.
// It assumes that the store checks what it is given. It leaves out sync over a network.
package exchange

import (
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

const (
	// batch is how many entries are stored in one call.
	batch = 500
	// maxLine is the longest line in bytes: the largest blob in base64 and what stands about it.
	maxLine = store.MaxBlob/3*4 + 1024
	// maxEntryLine is the longest line of an entry: the largest body and its envelope, with room for odd names.
	maxEntryLine = journal.MaxBody + 8<<10
)

// Errors that a caller may want to tell apart, under the faults that are shown.
var (
	ErrCut   = errors.New("exchange: the file ends early")
	ErrNewer = errors.New("exchange: the file is newer than this program")
)

// Count says what was written or read.
type Count struct {
	Entries int `json:"entries"`
	Blobs   int `json:"blobs"`
	Texts   int `json:"texts"`
}

// WriteOptions says what to write. The zero value writes everything.
type WriteOptions struct {
	WithoutTexts bool // leave out names and free text; their hashes stay in the entries; default false
	WithoutBlobs bool // leave out bulk data; default false
	// Blob chooses among the bulk data; nil: all of it is written.
	Blob func(journal.Hash) bool
}

type blobLine struct {
	Blob journal.Hash `json:"blob"`
	Data []byte       `json:"data"`
}

type textLine struct {
	Text journal.Hash `json:"text"`
	Salt []byte       `json:"salt"`
	Data string       `json:"data"`
}

type endLine struct {
	End Count `json:"end"`
}

// WriteNDJSON writes a store: entries in the store's order, then the blobs and texts, so that everything an entry refers
// to is among them although others go on writing, then a line that counts them.
func WriteNDJSON(ctx context.Context, s store.Store, w io.Writer, opt WriteOptions) (Count, error) {
	var n Count
	out := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	err := s.Read(ctx, 0, func(_ store.Position, e *journal.Entry) (err error) {
		if line, err = journal.AppendLine(line[:0], e); err != nil {
			return err
		}
		n.Entries++
		_, err = out.Write(line)
		return err
	})
	if err == nil && !opt.WithoutBlobs {
		err = s.Blobs(ctx, func(h journal.Hash) error {
			if opt.Blob != nil && !opt.Blob(h) {
				return nil
			}
			data, err := s.Blob(ctx, h)
			if err != nil {
				return err
			}
			n.Blobs++
			_, err = fmt.Fprintf(out, "{\"blob\":%q,\"data\":%q}\n", h, base64.StdEncoding.EncodeToString(data))
			return err
		})
	}
	if err == nil && !opt.WithoutTexts {
		err = s.Texts(ctx, func(t store.Salted) error {
			n.Texts++
			return writeJSON(out, textLine{t.Name().Blob, t.Salt[:], t.Text})
		})
	}
	if err == nil {
		err = writeJSON(out, endLine{n})
	}
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return n, fmt.Errorf("exchange: writing: %w", err)
	}
	return n, nil
}

// writeJSON writes a value and a newline.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// ReadNDJSON stores what WriteNDJSON has written and answers how much of it was read. What is held already is passed
// over, so reading a file twice adds nothing. At the first bad line it ends with a fault that names the line; what came
// before is stored. A file without its last line has been cut and is reported as such.
func ReadNDJSON(ctx context.Context, s store.Store, r io.Reader) (Count, error) {
	return (&reader{ctx: ctx, store: s, kept: "What stands before was taken."}).read(r)
}

// read takes every line.
func (in *reader) read(r io.Reader) (Count, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 1<<16), maxLine)
	for lines.Scan() {
		in.line++
		if err := in.ctx.Err(); err != nil {
			return in.count, in.fail(err)
		}
		if err := in.take(lines.Bytes()); err != nil {
			return in.count, in.fail(err)
		}
	}
	if err := lines.Err(); err != nil {
		in.line++
		if errors.Is(err, bufio.ErrTooLong) {
			err = fault.New(fault.BadInput, "", "it is longer than %d bytes", maxLine)
		}
		return in.count, in.fail(err)
	}
	if err := in.flush(); err != nil {
		return in.count, in.fail(err)
	}
	if !in.ended {
		return in.count, fault.Wrap(ErrCut, fault.Damaged, in.kept+" Get the whole file and read it again: what is held already is passed over.",
			"The journal file ends early, after line %d", in.line)
	}
	return in.count, nil
}

// reader stores lines as they come.
type reader struct {
	ctx     context.Context
	store   taker
	kept    string // what became of the lines before a bad one, in words
	see     func(*journal.Entry)
	line    int
	count   Count
	ended   bool
	entries []journal.Entry // read and not yet stored; they stand on consecutive lines
	last    int             // line of the last of them
	refused int             // how many entries the store refused together
}

// fail names the line of an error.
func (in *reader) fail(err error) error {
	if in.ctx.Err() != nil {
		return fmt.Errorf("exchange: reading: %w", err)
	}
	code := fault.CodeOf(err)
	what := fault.Public(err).Message
	switch {
	case errors.Is(err, store.ErrFork):
		code, what = fault.Conflict, "other entries are held under the same numbers"
	case errors.Is(err, store.ErrGap):
		code, what = fault.Conflict, "an entry is missing before one of them"
	case code == fault.Internal:
		code = fault.BadInput
	}
	hint := in.kept + " Get the file again from where it came."
	if errors.Is(err, ErrNewer) {
		hint = in.kept + " Bring this Icehand up to date, then read the file again."
	}
	return fault.Wrap(err, code, hint,
		"The journal file cannot be read at %s: %s", in.place(), what)
}

// place names the line at fault, or the lines of the entries that were refused together.
func (in *reader) place() string {
	if in.refused > 1 {
		return fmt.Sprintf("lines %d to %d", in.last-in.refused+1, in.last)
	}
	if in.refused == 1 {
		return fmt.Sprintf("line %d", in.last)
	}
	return fmt.Sprintf("line %d", in.line)
}

// take reads one line. The first name of the object tells what the line is.
func (in *reader) take(line []byte) error {
	if in.ended {
		return fault.New(fault.BadInput, "", "something follows the last line")
	}
	dec := json.NewDecoder(bytes.NewReader(line))
	if t, err := dec.Token(); err != nil || t != json.Delim('{') {
		return fault.Wrap(err, fault.BadInput, "", "it is not a JSON object")
	}
	first, err := dec.Token()
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "", "it is not a JSON object")
	}
	if first == "blob" || first == "text" || first == "end" {
		if err := in.flush(); err != nil {
			return err
		}
	}
	switch first {
	case "blob":
		return in.takeBlob(line)
	case "text":
		return in.takeText(line)
	case "end":
		return in.takeEnd(line)
	}
	if len(line) > maxEntryLine {
		return fault.New(fault.BadInput, "", "an entry of %d bytes is longer than %d", len(line), maxEntryLine)
	}
	e, err := journal.ParseLine(line)
	if err != nil {
		var later struct {
			Format uint64 `json:"format"`
		}
		if json.Unmarshal(line, &later) == nil && later.Format > journal.FormatVersion {
			return fault.Wrap(ErrNewer, fault.BadInput, "", "it was written by a newer Icehand")
		}
		return fault.Wrap(err, fault.BadInput, "", "it is not an entry")
	}
	if err := journal.Verify(store.Before(&e), &e); err != nil {
		return fault.Wrap(err, fault.Damaged, "", "the bytes of entry %d of journal %s do not match its hash", e.N, e.Journal)
	}
	if in.see != nil {
		in.see(&e)
	}
	in.entries, in.last = append(in.entries, e), in.line
	in.count.Entries++
	if len(in.entries) < batch {
		return nil
	}
	return in.flush()
}

// flush stores the entries read so far.
func (in *reader) flush() error {
	_, err := in.store.Put(in.ctx, in.entries)
	if err != nil {
		in.refused = len(in.entries)
	}
	in.entries = in.entries[:0]
	return err
}

func decode(line []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return fault.Wrap(err, fault.BadInput, "", "it is malformed")
	}
	if _, err := dec.Token(); err != io.EOF {
		return fault.New(fault.BadInput, "", "more than one value stands on it")
	}
	return nil
}

func (in *reader) takeBlob(line []byte) error {
	var b blobLine
	if err := decode(line, &b); err != nil {
		return err
	}
	if journal.Sum(b.Data) != b.Blob {
		return fault.New(fault.Damaged, "", "the bytes of blob %s do not match its hash", b.Blob)
	}
	in.count.Blobs++
	_, err := in.store.PutBlob(in.ctx, b.Data)
	return err
}

func (in *reader) takeText(line []byte) error {
	var t textLine
	if err := decode(line, &t); err != nil {
		return err
	}
	s := store.Salted{Text: t.Data}
	if len(t.Salt) != len(s.Salt) {
		return fault.New(fault.BadInput, "", "a salt of %d bytes", len(t.Salt))
	}
	copy(s.Salt[:], t.Salt)
	if s.Name().Blob != t.Text {
		return fault.New(fault.Damaged, "", "the words of text %s do not match its hash", t.Text)
	}
	in.count.Texts++
	_, err := in.store.PutSalted(in.ctx, s)
	return err
}

func (in *reader) takeEnd(line []byte) error {
	var e endLine
	if err := decode(line, &e); err != nil {
		return err
	}
	if e.End != in.count {
		return fault.New(fault.Damaged, "", "it counts %+v, and %+v came before it", e.End, in.count)
	}
	in.ended = true
	return nil
}
