package check

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"icehand/internal/base/fault"
)

// Slug is a quantity that rows may name.
type Slug struct {
	Name   string
	Unit   string // of the expected value; "1" where it has none
	Doc    string
	Inputs []Input // all of them are wanted in every row
	Eval   func(Inputs) (float64, error)
}

// Input is one input of a slug.
type Input struct {
	Key  string
	Unit string // a unit, "1", or one of the kinds text, time, date, list, or words parted by | to choose from
}

// The kinds of input that are not numbers.
const (
	kindText = "text"
	kindTime = "time" // RFC 3339
	kindDate = "date" // year-month-day
	kindList = "list" // numbers parted by spaces
)

// Inputs holds the inputs of a row after they were checked against the slug.
type Inputs struct {
	text   map[string]string
	number map[string]float64
	moment map[string]time.Time
	list   map[string][]float64
}

// n gives a number. Asking for a key that the slug does not declare is our own mistake.
func (in Inputs) n(key string) float64 {
	v, ok := in.number[key]
	if !ok {
		panic("check: no number " + key + " declared")
	}
	return v
}

// s gives a text.
func (in Inputs) s(key string) string {
	v, ok := in.text[key]
	if !ok {
		panic("check: no text " + key + " declared")
	}
	return v
}

// t gives a time or date.
func (in Inputs) t(key string) time.Time {
	v, ok := in.moment[key]
	if !ok {
		panic("check: no time " + key + " declared")
	}
	return v
}

// l gives a list of numbers.
func (in Inputs) l(key string) []float64 {
	v, ok := in.list[key]
	if !ok {
		panic("check: no list " + key + " declared")
	}
	return v
}

// keys makes inputs from pairs of key and unit.
func keys(pairs ...string) []Input {
	if len(pairs)%2 != 0 {
		panic("check: a key without a unit")
	}
	var out []Input
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, Input{pairs[i], pairs[i+1]})
	}
	return out
}

// areas lists the slugs by area, one file each.
var areas = []struct {
	name  string
	slugs []Slug
}{
	{"Cold", coldSlugs}, {"Ice", iceSlugs}, {"Ice column", columnSlugs}, {"Ice from place to place, fitted laws", fitSlugs}, {"Load on ice", loadSlugs}, {"Moving loads", movingSlugs},
	{"Sun", sunSlugs}, {"Light", lightSlugs}, {"Sonar", sonarSlugs}, {"Tackle", tackleSlugs},
	{"Depth surface", depthSlugs}, {"Depth surfaces of others", surfaceSlugs},
	{"Formats", formatSlugs}, {"Globe and tiles", globeSlugs}, {"Moon", moonSlugs},
	{"Search", searchSlugs}, {"Rates", rateSlugs}, {"Two rates", contrastSlugs}, {"Fish put back", careSlugs}, {"Positions and units", geoSlugs}, {"Guidance", guidanceSlugs},
}

var bySlug = func() map[string]Slug {
	m := map[string]Slug{}
	for _, a := range areas {
		for _, s := range a.slugs {
			if _, twice := m[s.Name]; twice {
				panic("check: slug " + s.Name + " is listed twice")
			}
			m[s.Name] = s
		}
	}
	return m
}()

// Slugs lists all quantities in alphabetical order.
func Slugs() []Slug {
	out := make([]Slug, 0, len(bySlug))
	for _, s := range bySlug {
		out = append(out, s)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// read checks a row's inputs against the slug: all keys there, none besides, each of its kind.
func (s Slug) read(raw map[string]string) (Inputs, error) {
	in := Inputs{map[string]string{}, map[string]float64{}, map[string]time.Time{}, map[string][]float64{}}
	for _, want := range s.Inputs {
		v, ok := raw[want.Key]
		if !ok {
			return in, s.wrong("needs the input %s (%s)", want.Key, unitName(want.Unit))
		}
		if err := s.readOne(&in, want, v); err != nil {
			return in, err
		}
	}
	if len(raw) > len(s.Inputs) {
		for k := range raw {
			if !s.takes(k) {
				return in, s.wrong("takes no input %q", clip(k))
			}
		}
	}
	return in, nil
}

func (s Slug) readOne(in *Inputs, want Input, v string) error {
	switch {
	case want.Unit == kindText:
		in.text[want.Key] = v
	case want.Unit == kindTime || want.Unit == kindDate:
		layout := time.RFC3339
		if want.Unit == kindDate {
			layout = time.DateOnly
		}
		t, err := time.Parse(layout, v)
		if err != nil {
			return s.wrong("input %s: %q is not a %s like %s", want.Key, clip(v), want.Unit, layout)
		}
		in.moment[want.Key] = t
	case want.Unit == kindList:
		for _, f := range strings.Fields(v) {
			x, ok := finite(f)
			if !ok {
				return s.wrong("input %s: %q is not a number", want.Key, clip(f))
			}
			in.list[want.Key] = append(in.list[want.Key], x)
		}
	case strings.Contains(want.Unit, "|"):
		for _, word := range strings.Split(want.Unit, "|") {
			if v == word {
				in.text[want.Key] = v
				return nil
			}
		}
		return s.wrong("input %s: %q is none of %s", want.Key, clip(v), strings.ReplaceAll(want.Unit, "|", ", "))
	default:
		x, ok := finite(v)
		if !ok {
			return s.wrong("input %s: %q is not a number", want.Key, clip(v))
		}
		in.number[want.Key] = x
	}
	return nil
}

func (s Slug) takes(key string) bool {
	for _, i := range s.Inputs {
		if i.Key == key {
			return true
		}
	}
	return false
}

func (s Slug) wrong(format string, args ...any) error {
	return fault.New(fault.BadInput, "docs/checks.md lists the inputs.", "%s %s", s.Name, fmt.Sprintf(format, args...))
}

func unitName(u string) string {
	if u == "1" {
		return "a plain number"
	}
	return strings.ReplaceAll(u, "|", " or ")
}
