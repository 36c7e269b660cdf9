package syncing

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// A message is one line of JSON, then a line for each entry (docs/journal-format.md, 4), then one for each text. The
// first line counts the others, so that a message that was cut is known as such. Members that are not known are passed
// over in the first line and refused in the others.

// maxLine is the longest line of an entry or text: the largest body and its envelope, with room for odd names.
const maxLine = journal.MaxBody + 8<<10

type textLine struct {
	Text journal.Hash `json:"text"`
	Salt []byte       `json:"salt"`
	Data string       `json:"data"`
}

// encode writes a message.
func encode(head any, entries []journal.Entry, texts []store.Salted) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(head); err != nil {
		return nil, fmt.Errorf("syncing: writing a message: %w", err)
	}
	out := bytes.Clone(b.Bytes())
	for i := range entries {
		var err error
		if out, err = journal.AppendLine(out, &entries[i]); err != nil {
			return nil, err
		}
	}
	for _, t := range texts {
		b.Reset()
		if err := enc.Encode(textLine{t.Name().Blob, t.Salt[:], t.Text}); err != nil {
			return nil, fmt.Errorf("syncing: writing a text: %w", err)
		}
		out = append(out, b.Bytes()...)
	}
	return out, nil
}

// Encode writes a question.
func (a Ask) Encode() ([]byte, error) {
	a.Version, a.Count, a.Texted = Version, len(a.Entries), len(a.Texts)
	return encode(a, a.Entries, a.Texts)
}

// Encode writes an answer.
func (a Answer) Encode() ([]byte, error) {
	a.Version, a.Count, a.Texted = Version, len(a.Entries), len(a.Texts)
	return encode(a, a.Entries, a.Texts)
}

const cutHint = "Nothing of it was taken. Try again."

// lines reads a message line by line.
type lines struct {
	scan *bufio.Scanner
	n    int
}

func newLines(r io.Reader) *lines {
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 0, 16<<10), mostUnpacked)
	return &lines{scan: s}
}

func (l *lines) next() ([]byte, error) {
	l.n++
	if l.scan.Scan() {
		return l.scan.Bytes(), nil
	}
	switch err := l.scan.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, fault.Wrap(err, fault.BadInput, cutHint, "line %d of the message is too long", l.n)
	case err != nil:
		return nil, fault.Wrap(err, fault.BadInput, cutHint, "the message was cut in line %d", l.n)
	}
	return nil, fault.New(fault.BadInput, cutHint, "the message was cut before line %d", l.n)
}

func (l *lines) first(into any) error {
	line, err := l.next()
	if err != nil {
		return err
	}
	if err := json.Unmarshal(line, into); err != nil {
		return fault.Wrap(err, fault.BadInput, "Use matching versions on phone and server.", "the first line of the message cannot be read")
	}
	return nil
}

func versioned(v int) error {
	if v < 1 || v > Version {
		return fault.New(fault.Conflict, "Update the older of phone and server. Nothing is lost meanwhile.", "version %d of the protocol is not spoken here", v)
	}
	return nil
}

func (l *lines) entries(count int) ([]journal.Entry, error) {
	if count < 0 || count > mostEntries {
		return nil, fault.New(fault.BadInput, "Send fewer at once.", "a message of %d entries, at most %d are taken", count, mostEntries)
	}
	out := make([]journal.Entry, 0, count)
	for range count {
		line, err := l.next()
		if err != nil {
			return nil, err
		}
		if len(line) > maxLine {
			return nil, fault.New(fault.BadInput, "", "line %d of the message is longer than %d bytes", l.n, maxLine)
		}
		e, err := journal.ParseLine(line)
		if err != nil {
			return nil, fault.Wrap(err, fault.BadInput, "Use matching versions on phone and server.", "line %d of the message is no entry", l.n)
		}
		e.Body = bytes.Clone(e.Body)
		if err := journal.Verify(store.Before(&e), &e); err != nil {
			return nil, fault.Wrap(err, fault.Damaged, cutHint, "line %d of the message was damaged on its way", l.n)
		}
		out = append(out, e)
	}
	return out, nil
}

func (l *lines) texts(count int) ([]store.Salted, error) {
	if count < 0 || count > mostNames {
		return nil, fault.New(fault.BadInput, "Send fewer at once.", "a message of %d texts, at most %d are taken", count, mostNames)
	}
	var out []store.Salted
	for range count {
		line, err := l.next()
		if err != nil {
			return nil, err
		}
		var t textLine
		dec := json.NewDecoder(bytes.NewReader(line))
		dec.DisallowUnknownFields()
		s := store.Salted{}
		if err := dec.Decode(&t); err != nil || len(t.Salt) != len(s.Salt) {
			return nil, fault.Wrap(err, fault.BadInput, cutHint, "line %d of the message is no text", l.n)
		}
		s.Text = t.Data
		copy(s.Salt[:], t.Salt)
		if s.Name().Blob != t.Text {
			return nil, fault.New(fault.Damaged, cutHint, "line %d of the message was damaged on its way", l.n)
		}
		if err := s.Check(); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

func (l *lines) end() error {
	if l.scan.Scan() {
		return fault.New(fault.BadInput, cutHint, "something follows the last line of the message")
	}
	if err := l.scan.Err(); err != nil {
		return fault.Wrap(err, fault.BadInput, cutHint, "the message was cut after line %d", l.n)
	}
	return nil
}

// DecodeAsk reads a question. Whatever it takes is whole: every entry matches its hash.
func DecodeAsk(op Op, r io.Reader) (Ask, error) {
	l := newLines(r)
	var a Ask
	err := l.first(&a)
	if err == nil {
		err = versioned(a.Version)
	}
	if err == nil {
		err = a.check(op)
	}
	if err == nil {
		a.Entries, err = l.entries(a.Count)
	}
	if err == nil {
		a.Texts, err = l.texts(a.Texted)
	}
	if err == nil {
		err = l.end()
	}
	if err == nil {
		err = a.oneJournal()
	}
	if err != nil {
		return Ask{}, err
	}
	a.Op = op
	return a, nil
}

// check holds a question to its limits.
func (a *Ask) check(op Op) error {
	marks := 0
	for _, m := range a.Marks {
		marks += len(m)
		if !slices.IsSortedFunc(m, func(x, y Mark) int { return cmp.Compare(x.N, y.N) }) || len(m) > 0 && m[0].N == 0 {
			return fault.New(fault.BadInput, "", "the marks of a journal are not in order")
		}
	}
	switch {
	case marks > mostMarks || len(a.Marks) > mostMarks:
		return fault.New(fault.BadInput, "Compare fewer at once.", "%d marks, at most %d are taken", marks, mostMarks)
	case len(a.Names) > mostNames:
		return fault.New(fault.BadInput, "Ask for fewer at once.", "%d names, at most %d are taken", len(a.Names), mostNames)
	case op != OpPush && a.Count != 0, op != OpTexts && a.Texted != 0:
		return fault.New(fault.BadInput, "", "%s carries no such lines", op)
	case op == OpPush && a.Count == 0:
		return fault.New(fault.BadInput, "", "a push of nothing")
	case op == OpFetch && len(a.Names) > fetchNames:
		return fault.New(fault.BadInput, "Ask for fewer at once.", "%d names, at most %d are given at once", len(a.Names), fetchNames)
	}
	return nil
}

// oneJournal holds a push to entries of one journal in order.
func (a *Ask) oneJournal() error {
	for i := range a.Entries {
		if e := &a.Entries[i]; e.Journal != a.Journal || i > 0 && e.N != a.Entries[i-1].N+1 {
			return fault.New(fault.BadInput, "", "entry %d of the push is not the next of its journal", i+1)
		}
	}
	return nil
}

// DecodeAnswer reads an answer.
func DecodeAnswer(r io.Reader) (Answer, error) {
	l := newLines(r)
	var a Answer
	err := l.first(&a)
	if err == nil {
		err = versioned(a.Version)
	}
	if err == nil {
		a.Entries, err = l.entries(a.Count)
	}
	if err == nil {
		a.Texts, err = l.texts(a.Texted)
	}
	if err == nil {
		err = l.end()
	}
	if err != nil {
		return Answer{}, err
	}
	return a, nil
}

// size estimates the length of an entry as a line.
func size(e *journal.Entry) int { return len(e.Body) + len(e.Zone) + len(e.Kind) + 720 }

func textSize(t store.Salted) int { return len(t.Text) + base64.StdEncoding.EncodedLen(32) + 120 }
