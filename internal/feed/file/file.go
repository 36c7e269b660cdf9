// Package file answers what a file from a guide's machine holds, and what of it cannot be taken.
//
// Start with [Detect] for the kind of file and [FormatOf] for how it is written; the packages chart, holelog, weather and
// station then read it, through [OpenTable], [JSON] or [OpenMarkup], and report into a [Preview]. Parsing only: bytes in, typed rows and problems out. Nothing here
// touches a disk, the network, the clock or the journal, so a preview can be thrown away without a trace.
// It assumes that nothing in a file can be trusted: size, nesting, rows, cells and numbers are all bounded.
// It leaves out spreadsheets' own formats: [Detect] recognises them and says what to save instead.
package file

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
)

// Kind is what a file holds.
type Kind string

// The kinds, as typed after --as.
const (
	Outline   Kind = "outline"   // the shore of a lake
	Soundings Kind = "soundings" // measured depths of a chart
	Holes     Kind = "holes"     // a hole log
	Weather   Kind = "weather"   // hours of a forecast
	Station   Kind = "station"   // past days of a weather station
)

// Options is what the user adds to a file. The zero value adds nothing.
type Options struct {
	As       Kind              // "" = detect
	Unit     string            // unit of depths that state none, such as "ft"; "" = refuse them
	Map      map[string]string // column header -> meaning, or meaning:unit, such as "Z" -> "depth:ft"
	Zone     *time.Location    // zone of times without an offset; nil = refuse them
	UTMZone  string            // such as "15N"; "" = only what the file states
	Today    time.Time         // for years of two digits and dates in the future; zero = the first are refused, the second go unseen
	MaxBytes int               // 0 = [MaxBytes]
}

// Bounds on every file. A guide's real files stay far below them.
const (
	MaxBytes   = 64 << 20 // size of a file
	MaxRows    = 1_000_000
	MaxColumns = 500
	MaxCell    = 64 << 10 // bytes in a quoted cell
	MaxNesting = 64       // depth of brackets in JSON
	maxListed  = 10_000   // problems listed one by one; the rest are counted
	maxValue   = 80       // bytes of a cell that are repeated in a problem
)

// Severity tells a row that was left out from one that was taken with a remark.
type Severity string

// The severities.
const (
	Refused Severity = "refused" // the row, or with row 0 the whole file, is not taken
	Note    Severity = "note"    // taken; the reason says what was assumed or is odd
)

// Problem is one thing that the user should know about a file.
type Problem struct {
	Severity Severity
	Row      int    // line of the file, or number of the feature, from 1; 0 = the whole file
	Column   string // header of the column; may be empty
	Value    string // the cell as typed, shortened
	Reason   string
	Mend     string // what to do about it; may be empty
}

// ColumnMeaning tells how a column was read.
type ColumnMeaning struct {
	Header, Meaning, Unit string // Meaning "" = ignored
	Why                   string
}

// Preview is what an import would do: shown, and accepted or not, before anything is written.
// Taken + Refused + Duplicates + Blank = Rows, unless the whole file was refused.
type Preview struct {
	Kind                                    Kind
	Name                                    string
	Rows, Taken, Refused, Duplicates, Blank int
	Problems                                []Problem
	Unlisted                                int // problems beyond those listed
	Columns                                 []ColumnMeaning
	Summary                                 []string
}

// Refuse counts and lists a row that is not taken.
func (p *Preview) Refuse(row int, column, value, reason, mend string) {
	p.Refused++
	p.list(Problem{Refused, row, column, value, reason, mend})
}

// Remark lists something odd or assumed about a row that is taken, or with row 0 about the file.
func (p *Preview) Remark(row int, column, value, reason, mend string) {
	p.list(Problem{Note, row, column, value, reason, mend})
}

// Repeat counts and lists a row that says the same as an earlier one.
func (p *Preview) Repeat(row, first int) {
	p.Duplicates++
	p.list(Problem{Severity: Note, Row: row, Reason: fmt.Sprintf("says the same as row %d; taken once", first)})
}

// Reject marks the whole file as refused. Several reasons may be given, so that the user can mend them in one go.
func (p *Preview) Reject(column, value, reason, mend string) {
	p.list(Problem{Refused, 0, column, value, reason, mend})
}

func (p *Preview) list(x Problem) {
	if len(p.Problems) >= maxListed && x.Row != 0 {
		p.Unlisted++
		return
	}
	x.Column, x.Value = Short(x.Column), Short(x.Value)
	p.Problems = append(p.Problems, x)
}

// Sort puts the problems in the order of rows, those of the whole file first.
func (p *Preview) Sort() {
	slices.SortStableFunc(p.Problems, func(a, b Problem) int { return a.Row - b.Row })
}

// Err gives the fault of a file that was refused as a whole, nil otherwise.
func (p *Preview) Err() error {
	var reasons, mends []string
	for _, x := range p.Problems {
		if x.Row != 0 || x.Severity != Refused {
			continue
		}
		reasons = append(reasons, strings.TrimSpace(x.Reason))
		if x.Mend != "" {
			mends = append(mends, x.Mend)
		}
	}
	if reasons == nil {
		return nil
	}
	return fault.New(fault.BadInput, strings.Join(mends, " "), "%s is not taken: %s", p.Name, strings.Join(reasons, "; "))
}

// Short shortens a text to what a message can hold.
func Short(s string) string {
	if len(s) <= maxValue {
		return strings.Clone(s) // so that a kept problem does not keep the whole file
	}
	return strings.ToValidUTF8(s[:maxValue], "") + "..."
}
