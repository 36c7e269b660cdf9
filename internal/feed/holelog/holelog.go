// Package holelog answers what a hole log, kept by a guide in a spreadsheet, says about each hole.
//
// Start with [Read]: every row of the CSV is either taken or listed with its line, column and reason. Pure.
// It assumes a row to a hole, under a header somewhere in the first lines. What had to be assumed (a unit by the header,
// a dash for none, the order of day and month by the evidence of the whole file) is listed as a note; what cannot be
// read refuses its row, and nothing is guessed silently. It leaves out several species in a cell and times given in words.
package holelog

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Log is what was taken from a hole log.
type Log struct {
	Rows []Row
}

// Row is one hole as logged. A nil or empty field was left blank, which says nothing.
type Row struct {
	Row       int       // line of the file
	Time      time.Time // the start of the day when TimeKnown is false
	TimeKnown bool
	Number    string
	Pos       *geo.Position // nil = placeless
	Place     string        // where it was in words, when the log gives no coordinates
	Depth     *Reading
	Ice       *Reading // total thickness
	White     *Reading // of which white
	Snow      *Reading // on the ice
	Marks     Marks
	Kept      *int
	PutBack   *int
	Species   string
	Lengths   []quantity.Length
	Lure      string
	Minutes   *int // fished
	Remarks   string
	Key       string // the same content gives the same key, in whatever style it was written
}

// Reading is a length and the unit in which it was typed or which its column states.
type Reading struct {
	Length quantity.Length
	Typed  string
}

// Class is how much was seen in a look.
type Class string

// The classes.
const (
	None Class = "none"
	Few  Class = "few"  // 1 to 3
	Many Class = "many" // 4 and more
)

// fewAtMost is the largest count that is few; the outfit may class the counts anew. Common practice, no source.
const fewAtMost = 3

// ClassOf classes a count of marks.
func ClassOf(count int) Class {
	switch {
	case count <= 0:
		return None
	case count <= fewAtMost:
		return Few
	}
	return Many
}

// Marks is what a look showed.
type Marks struct {
	Known bool // false = the cell was blank
	Class Class
	Count *int // nil = not counted
}

// Read reads a hole log from CSV. The zone of the lake must be given.
func Read(name string, data []byte, opt file.Options) (Log, file.Preview, error) {
	p := file.Preview{Kind: file.Holes, Name: name}
	t, err := file.OpenTable(data, file.Holes, opt)
	if err != nil {
		return Log{}, p, err
	}
	r := newReader(t, opt, &p)
	if err := p.Err(); err != nil {
		return Log{}, p, err
	}
	if err := t.Each(r.line); err != nil {
		return Log{}, p, err
	}
	r.finish()
	if err := p.Err(); err != nil {
		return Log{}, p, err
	}
	return Log{r.rows}, p, nil
}

// key digests the content of a row in one normal form: UTC seconds, 1e-7 degree, millimetres, lower case.
func (r Row) key() string {
	fold := func(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }
	mm := func(l *Reading) string {
		if l == nil {
			return ""
		}
		return fmt.Sprint(l.Length.Millimetres())
	}
	count := func(n *int) string {
		if n == nil {
			return ""
		}
		return fmt.Sprint(*n)
	}
	place := fold(r.Place)
	if r.Pos != nil {
		lat, lon := r.Pos.E7()
		place = fmt.Sprintf("%d %d", lat, lon)
	}
	fields := []string{"1", fmt.Sprint(r.Time.Unix(), r.TimeKnown), fold(r.Number), place, mm(r.Depth), mm(r.Ice), mm(r.White), mm(r.Snow),
		string(r.Marks.Class), count(r.Marks.Count), count(r.Kept), count(r.PutBack), fold(r.Species), fold(r.Lure), count(r.Minutes), fold(r.Remarks)}
	for _, l := range r.Lengths {
		fields = append(fields, fmt.Sprint(l.Millimetres()))
	}
	sum := sha256.Sum256([]byte(strings.Join(fields, "\x1f")))
	return hex.EncodeToString(sum[:16])
}
