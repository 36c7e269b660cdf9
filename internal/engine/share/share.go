// Package share answers what a guest may be given of a day: it holds the guest report, and writes it as one page that
// stands alone.
//
// Start with [Build], which refuses what it cannot vouch for, then [Report.Page] for the file and [Report.Tells] for what that
// file tells a stranger.
// It is an allow-list: a report has no field in which a position, an hour, a depth, a distance or a hole could travel, and
// this package may import nothing that knows one. Free words pass [NewWords]; pictures are cleaned before they come here,
// and refused when they are not.
// It leaves out who may receive a report, and keeping it: that is the host's. Model note: docs/models/share.md.
package share

import (
	"fmt"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// Date is a civil day; it holds no hour. The zero Date is none.
type Date struct{ Year, Month, Day int }

// None tells that no day is named.
func (d Date) None() bool { return d == Date{} }

var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

func (d Date) valid() bool {
	return d.None() || d.Year >= 1900 && d.Year <= 2200 && d.Month >= 1 && d.Month <= 12 && d.Day >= 1 && d.Day <= 31
}

// Text says the day, as 15 January 2026.
func (d Date) Text() string {
	if d.None() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, months[d.Month-1], d.Year)
}

// Part is a third of the day: as near as a report comes to an hour.
type Part int

// The parts of a day.
const (
	NoPart Part = iota
	Morning
	Midday
	Evening
)

// PartOf gives the part in which an hour of the day lies. Ours: morning ends at 11, midday at 14.
func PartOf(hour int) Part {
	switch {
	case hour < 11:
		return Morning
	case hour < 14:
		return Midday
	}
	return Evening
}

func (p Part) word() string {
	return [...]string{"", "in the morning", "around midday", "in the later hours"}[p]
}

// Class is a third of the lake's water by depth: as near as a report comes to a depth. It narrows the lake to that third, so a report
// leaves it out unless the guide asks for it.
type Class int

// The classes of depth.
const (
	NoClass Class = iota
	Shallow
	Mid
	Deep
)

func (c Class) word() string { return [...]string{"", "shallow", "mid-depth", "deep"}[c] }

// Sky is how the sky looked over the day.
type Sky int

// The skies.
const (
	NoSky Sky = iota
	Clear
	Broken
	Overcast
)

func (s Sky) word() string { return [...]string{"", "clear", "broken cloud", "overcast"}[s] }

// Weather is the day's weather over the whole lake, in classes, and the figure that guests like to tell at home.
type Weather struct {
	Sky     Sky
	Snow    bool
	Chill   quantity.Celsius // coldest wind chill of the hours out, to the whole degree
	Chilled bool             // a chill is known
	Wind    quantity.Speed   // most of the hours out; only its class is shown
	Blew    bool             // a wind is known
	Air     quantity.Celsius // coldest of the hours out; only its class is shown
	Cold    bool             // an air temperature is known
}

// Sizes counts fish by the three classes that a guide records.
type Sizes struct{ Small, Good, Big int }

// Catch is what was caught of one kind over the whole day, by the whole party.
type Catch struct {
	Species       Name
	Kept, PutBack int
	Biggest       quantity.Length // 0: none was measured
	Sizes         Sizes
}

// Person is one of the party.
type Person struct {
	Name          Name
	Guide         bool
	Kept, PutBack int
	Biggest       quantity.Length // 0: none was measured
	Of            Name            // what the biggest was
}

// First is a child's first fish on record.
type First struct {
	Name    Name
	Species Name
	Length  quantity.Length // 0: not measured
	Kept    bool
}

// Returning says what the record holds of a guest who was out before, over every day and the whole lake.
type Returning struct {
	Name   Name
	Days   int // with this one
	Winter int // in which winter of theirs this is
	Fish   int // with today's
}

// Photo is a picture that was drawn anew: a JPEG without metadata.
type Photo struct {
	Data          []byte
	Width, Height int
	Caption       Words
}

// Report is what a guest receives. Everything in it is meant to be read by strangers.
type Report struct {
	Outfit  Name // may be empty
	Lake    Name
	Day     Date
	Weather Weather
	Catch   []Catch
	Best    Part  // in which the most fish came
	Depth   Class // left out unless the guide asked for it
	Party   []Person
	Firsts  []First
	Again   []Returning
	Words   Words // the guide's own
	Photos  []Photo
	Next    Date // when they mean to come again
	Units   quantity.System

	built bool
}

// The most that a report of two pages holds.
const (
	MostPeople   = 12
	MostPhotos   = 4
	MostFirsts   = 4
	MostSpecies  = 6
	mostOfAFish  = 1.5 * quantity.Metre // a longer one is a slipped point
	mostFish     = 2000
	mostReturned = 6
)

// Build checks a report and gives it back ready to be written. It names the first thing that cannot go to a guest.
func Build(r Report) (Report, error) {
	bad := func(hint, format string, args ...any) (Report, error) {
		return Report{}, fault.New(fault.BadInput, hint, format, args...)
	}
	switch {
	case r.Lake.Empty():
		return bad("Name the lake.", "the report names no lake")
	case r.Day.None() || !r.Day.valid() || !r.Next.valid():
		return bad("Write a date such as 2026-01-15.", "the report has no day, or one that is none")
	case len(r.Party) > MostPeople:
		return bad("Make a report for each half of the party.", "%d people do not fit on the page, at most %d do", len(r.Party), MostPeople)
	case len(r.Photos) > MostPhotos:
		return bad("Choose fewer.", "%d pictures, at most %d fit", len(r.Photos), MostPhotos)
	case len(r.Catch) > MostSpecies || len(r.Firsts) > MostFirsts || len(r.Again) > mostReturned:
		return bad("Make a report for each half of the party.", "more kinds of fish, first fish or returning guests than fit on the page")
	}
	for _, p := range r.Party {
		if err := checkFish(p.Name.String(), p.Kept, p.PutBack, p.Biggest); err != nil {
			return Report{}, err
		}
	}
	for _, c := range r.Catch {
		if err := checkFish(c.Species.String(), c.Kept, c.PutBack, c.Biggest); err != nil {
			return Report{}, err
		}
	}
	for _, f := range r.Firsts {
		if err := checkFish(f.Name.String(), 0, 0, f.Length); err != nil {
			return Report{}, err
		}
	}
	for i, p := range r.Photos {
		if err := clean(p.Data); err != nil {
			return Report{}, fault.Wrap(err, fault.BadInput, "Take the picture in anew: icehand cleans it then.", "picture %d of the report: %s", i+1, err)
		}
	}
	r.built = true
	return r, nil
}

// checkFish refuses counts and lengths that no fish can have.
func checkFish(whose string, kept, back int, longest quantity.Length) error {
	switch {
	case kept < 0 || back < 0 || kept > mostFish || back > mostFish:
		return fault.New(fault.BadInput, "Correct the record: each fish with its own reason.", "%s: %d kept and %d put back cannot be", whose, kept, back)
	case longest != 0 && !(longest > 0 && longest <= mostOfAFish):
		return fault.New(fault.BadInput, "Correct the length of that fish with a reason, then make the report again.", "%s: a fish of %.0f cm is a slip of the pen", whose, longest.Centimetres())
	}
	return nil
}

// fishText counts fish.
func fishText(n int, species string) string {
	if species == "" {
		species = "fish"
	}
	return fmt.Sprintf("%d %s", n, species)
}

// Title names the file and the page: lake and day, which are in it anyway.
func (r Report) Title() string { return r.Lake.String() + ", " + r.Day.Text() }

// FileName is a name for the file that tells no more than its first line does.
func (r Report) FileName() string {
	return fmt.Sprintf("day-on-the-ice-%04d-%02d-%02d.html", r.Day.Year, r.Day.Month, r.Day.Day)
}

// InWords says the day in a few sentences, of classes alone.
func (r Report) InWords() []string {
	var out []string
	if s := r.Weather.words(r.Units); s != "" {
		out = append(out, s)
	}
	kept, back := 0, 0
	for _, c := range r.Catch {
		kept, back = kept+c.Kept, back+c.PutBack
	}
	switch {
	case kept+back == 0:
		out = append(out, "Not one fish came up. Such days are part of it, and they are honestly told.")
	default:
		s := fmt.Sprintf("%d fish came up, %d were kept and %d went back.", kept+back, kept, back)
		if kept+back == 1 {
			s = "One fish came up."
		}
		if w := r.Best.word(); w != "" && kept+back > 2 {
			s += " They came best " + w + "."
		}
		if w := r.Depth.word(); w != "" {
			s += " It was " + w + " water, as this lake goes."
		}
		out = append(out, s)
	}
	return out
}

// words says the weather. Where the classes end is ours; the wind's are those of the Beaufort scale, taken together.
func (w Weather) words(u quantity.System) string {
	var parts []string
	if w.Cold {
		switch c := w.Air.Degrees(); {
		case c <= -20:
			parts = append(parts, "bitter cold")
		case c <= -10:
			parts = append(parts, "hard cold")
		case c < 0:
			parts = append(parts, "a mild frost")
		default:
			parts = append(parts, "thawing")
		}
	}
	if s := w.Sky.word(); s != "" {
		parts = append(parts, s)
	}
	if w.Blew {
		switch v := w.Wind.MetresPerSecond(); { // Beaufort 0 to 1, 2 to 3, 4 to 5, 6 and more
		case v < 1.6:
			parts = append(parts, "hardly any wind")
		case v < 5.5:
			parts = append(parts, "a light wind")
		case v < 10.8:
			parts = append(parts, "a fresh wind")
		default:
			parts = append(parts, "a hard wind")
		}
	}
	if w.Snow {
		parts = append(parts, "snow in the air")
	}
	s := strings.Join(parts, ", ")
	if s != "" {
		s = strings.ToUpper(s[:1]) + s[1:] + "."
	}
	if c := w.chill(u); c != "" {
		s = strings.TrimSpace(s + " Wind chill down to " + c + ".")
	}
	return s
}

// chill prints the wind chill to the whole degree; "" when none is known.
func (w Weather) chill(u quantity.System) string {
	if !w.Chilled {
		return ""
	}
	return u.TemperatureText(w.Chill)
}
