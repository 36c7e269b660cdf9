// Package check answers whether the program still agrees with the outside world: published tables, worked examples and
// other programs' printed results.
//
// Start with [Embedded] for the rows that ship with the program, or [Load] for a file of the same layout; then [Run]
// and [Summarise]. Every row names a quantity, a slug that [Slugs] lists and docs/checks.md explains, its inputs, one
// expected number and one tolerance. A new area of slugs is one file here and one line in the list of areas.
// It assumes that a row's source was judged when the row was written; a row marked recalled was remembered and not
// looked up. It leaves out checks that need data tables: those stand beside the package that they test.
package check

import (
	"embed"
	"fmt"
	"io/fs"
	"math"
	"sort"
	"strings"

	"icehand/internal/base/fault"
)

// Check is one row: what the outside world says a quantity is.
type Check struct {
	ID        string
	Quantity  string            // slug
	Inputs    map[string]string // as written; units are fixed by the slug
	Expected  float64
	Unit      string
	Tolerance float64 // absolute; 0 means equal to nine figures
	Source    string  // source key, then how it was obtained
	Recalled  bool    // remembered, not looked up
}

// Key gives the part of the source before the colon, by which rows are grouped.
func (c Check) Key() string {
	key, _, _ := strings.Cut(c.Source, ":")
	return strings.TrimSpace(key)
}

// Outcome is a row with what the program makes of it.
type Outcome struct {
	Check
	Got   float64
	Err   error // the row could not be run: unknown slug, wrong inputs or unit, or the model refused
	Holds bool
}

// Run works out every row. A row that cannot be run does not hold.
func Run(rows []Check) []Outcome {
	out := make([]Outcome, len(rows))
	for i, c := range rows {
		o := Outcome{Check: c}
		o.Got, o.Err = evaluate(c)
		o.Holds = o.Err == nil && math.Abs(o.Got-c.Expected) <= c.Tolerance+1e-9*math.Max(1e-3, math.Abs(c.Expected))
		out[i] = o
	}
	return out
}

// evaluate runs one row. Models panic on input that makes no sense; in a row from a file that is the row's fault.
func evaluate(c Check) (got float64, err error) {
	slug, ok := bySlug[c.Quantity]
	if !ok {
		return 0, fault.New(fault.BadInput, "docs/checks.md lists the quantities.", "quantity %q is not known", c.Quantity)
	}
	if c.Unit != slug.Unit {
		return 0, fault.New(fault.BadInput, "Convert expected value and tolerance.", "%s is in %s, not in %q", c.Quantity, unitName(slug.Unit), c.Unit)
	}
	in, err := slug.read(c.Inputs)
	if err != nil {
		return 0, err
	}
	defer func() {
		if r := recover(); r != nil {
			got, err = 0, fault.New(fault.BadInput, "", "%s: the model refuses these inputs: %v", c.Quantity, r)
		}
	}()
	got, err = slug.Eval(in)
	if err == nil && (math.IsNaN(got) || math.IsInf(got, 0)) {
		err = fmt.Errorf("check: working out %s: the result is %v", c.Quantity, got)
	}
	return got, err
}

// Summary counts the rows of one source.
type Summary struct {
	Source   string // key
	Total    int
	Hold     int
	Recalled int       // of the total, remembered rather than looked up
	Failures []Outcome // the rows that do not hold
}

// Summarise groups outcomes by source, in alphabetical order.
func Summarise(outcomes []Outcome) []Summary {
	by := map[string]*Summary{}
	for _, o := range outcomes {
		s := by[o.Key()]
		if s == nil {
			s = &Summary{Source: o.Key()}
			by[o.Key()] = s
		}
		s.Total++
		if o.Recalled {
			s.Recalled++
		}
		if o.Holds {
			s.Hold++
		} else {
			s.Failures = append(s.Failures, o)
		}
	}
	out := make([]Summary, 0, len(by))
	for _, s := range by {
		out = append(out, *s)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Source < out[j].Source })
	return out
}

//go:embed data/*.csv
var data embed.FS

// Embedded gives the rows that ship with the program.
func Embedded() ([]Check, error) { return loadFolder(data, "data") }

// loadFolder loads every table of a folder. No table, or an id used twice, is an error.
func loadFolder(fsys fs.FS, folder string) ([]Check, error) {
	names, err := fs.Glob(fsys, folder+"/*.csv")
	if err != nil || len(names) == 0 {
		return nil, fmt.Errorf("check: loading the built-in rows: no tables found (%v)", err)
	}
	var all []Check
	seen := map[string]string{}
	for _, name := range names {
		f, err := fsys.Open(name)
		if err != nil {
			return nil, fmt.Errorf("check: loading %s: %w", name, err)
		}
		rows, err := Load(f)
		f.Close()
		if err != nil {
			return nil, fmt.Errorf("check: loading %s: %w", name, err)
		}
		for _, c := range rows {
			if first, ok := seen[c.ID]; ok {
				return nil, fmt.Errorf("check: loading %s: id %s is also in %s", name, c.ID, first)
			}
			seen[c.ID] = name
		}
		all = append(all, rows...)
	}
	return all, nil
}
