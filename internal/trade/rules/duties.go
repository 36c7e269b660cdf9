package rules

import (
	"fmt"
	"strings"
	"time"

	"icehand/internal/base/quantity"
)

// Moment is when a duty is due.
type Moment string

// The moments of a day.
const (
	Before  Moment = "before" // lines go down
	OnIce   Moment = "on_ice"
	Landing Moment = "landing" // fish come ashore
	Evening Moment = "evening"
)

// Duty is what the law asks besides counts and sizes, in a plain line.
type Duty struct {
	When Moment
	Tick string // short name under which somebody says that it is done today; "" where nothing can be said
	Rule Rule
	Text string
}

// Duties lists what the books ask of the law's day, by moment. What no book tells is not listed.
func (l Law) Duties() []Duty {
	var out []Duty
	add := func(when Moment, tick string, r Rule, format string, args ...any) {
		out = append(out, Duty{when, tick, r, fmt.Sprintf(format, args...)})
	}
	chosen := func(k Kind, when Moment, tick string, words map[string]string) {
		if c, by := l.Choice(k); by != nil && words[c] != "" {
			add(when, tick, *by, "%s", words[c])
		}
	}
	chosen(Licence, Before, "", map[string]string{"carried": "Each carries the licence.", "within reach": "Licences lie within reach."})
	chosen(Bait, Before, "bait", map[string]string{"no live bait": "No live bait.", "only with its papers": "Bait only with its papers: have them with you."})
	if r, ok := l.least(ShelterName, func(a, b Rule) bool { return a.Low > b.Low }); ok {
		add(Before, "shelter_name", r, "Every shelter bears its name, letters at least %s high.", r.Text)
	}
	if r, ok := l.HooksEach(); ok {
		add(Before, "hooks", r, "At most %d hooks a line: every line is looked at.", r.Count)
	}
	if r, ok := l.LinesEach(); ok {
		add(OnIce, "", r, "At most %d lines a person.", r.Count)
	}
	chosen(Attended, OnIce, "", map[string]string{"always": "Somebody stands by every line.", "every hour": "Every line is looked at every hour."})
	if r, ok := l.HoleAcross(); ok {
		add(OnIce, "", r, "No hole wider than %s.", r.Text)
	}
	chosen(HoleMarked, OnIce, "", map[string]string{"always": "Every hole is marked.", "when left": "A hole that is left is marked."})
	for _, r := range l.all(Zone) {
		add(OnIce, "", r, "%s: %s.", r.Place, r.Text)
	}
	chosen(Trips, OnIce, "", map[string]string{"one a day": "One trip a day: whoever went ashore does not fish again."})
	chosen(AfterLimit, OnIce, "", map[string]string{"stop fishing for it": "At the limit nobody fishes for it any more."})
	for _, r := range l.all(Cleaning) {
		if r.Text != "lawful" {
			add(Landing, "", r, "%s: %s.", capital(strings.Join(r.Of, "+")), r.Text)
		}
	}
	for _, r := range l.all(Tag) {
		add(Landing, "tag", r, "Each %s kept bears its tag.", strings.Join(r.Of, "+"))
	}
	chosen(Packs, Landing, "", map[string]string{"one fish a pack": "One fish a pack.", "countable and named": "Packs can be counted and bear a name."})
	chosen(Carried, Landing, "", map[string]string{"own fish only": "Each carries home their own fish."})
	for _, f := range l.Shelters() {
		add(Evening, "shelter_off", f.Rule, "%s.", capital(f.Text))
	}
	chosen(Litter, Evening, "litter", map[string]string{"carried out daily": "Litter is carried out today."})
	return out
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// told gives the findings of a choice that a book makes; a law without any book finds nothing, and what books leave out is read as the strictest.
func (l Law) told(k Kind, code string, words map[string]string) []Finding {
	if len(l.Versions) == 0 {
		return nil
	}
	c, by := l.Choice(k)
	text := words[c]
	if text == "" {
		return nil
	}
	f := Finding{Code: code, Text: text}
	if by != nil {
		f.Rule, f.Text = *by, text+": "+by.String()
	} else {
		f.Text += ": the rule book leaves it out, read the strictest way"
	}
	return []Finding{f}
}

// unwatched is how long a line may go without a look where it must be looked at every hour.
const unwatched = time.Hour

// Line says what the law has against a line in the water: whether somebody is by it, and how long ago it was looked at.
func (l Law) Line(by bool, since time.Duration) []Finding {
	words := map[string]string{}
	if !by {
		words["always"] = "nobody is by the line"
	}
	if since > unwatched {
		words["every hour"] = "the line was not looked at for more than an hour"
	}
	return l.told(Attended, "unattended", words)
}

// Outing says what the law has against going out for the nth time on a day.
func (l Law) Outing(n int) []Finding {
	if n < 2 {
		return nil
	}
	return l.told(Trips, "second_trip", map[string]string{"one a day": "out a second time today"})
}

// Cleaned says what the law has against cleaning a fish, on the ice or ashore.
func (l Law) Cleaned(species string, onIce bool) (out []Finding) {
	if !onIce {
		return nil
	}
	for _, r := range l.Rules(Cleaning, species) {
		if r.Text != "lawful" && r.Text != "fillets with skin patch" {
			out = append(out, Finding{"cleaned_on_ice", r, "cleaned on the ice: " + r.String()})
		}
	}
	return out
}

// Area says what the law has against going to a named part of the lake, on foot or by vehicle.
func (l Law) Area(name string, vehicle bool) (out []Finding) {
	for _, r := range l.all(Zone) {
		if strings.EqualFold(strings.Join(strings.Fields(name), " "), r.Place) && (r.Text != "no vehicles" || vehicle) {
			out = append(out, Finding{"zone", r, "the plan names it: " + r.String()})
		}
	}
	return out
}

// Unmarked says what the law has against open holes without a mark: all of them, and those that nobody fishes.
func (l Law) Unmarked(open, left int) []Finding {
	words := map[string]string{}
	if open > 0 {
		words["always"] = fmt.Sprintf("%d holes without a mark", open)
	}
	if left > 0 {
		words["when left"] = fmt.Sprintf("%d holes left without a mark", left)
	}
	if _, by := l.Choice(HoleMarked); by == nil { // a book that says nothing of marks asks for none
		return nil
	}
	return l.told(HoleMarked, "unmarked", words)
}

// Wide says what the law has against a hole of a width.
func (l Law) Wide(across quantity.Length) []Finding {
	r, ok := l.HoleAcross()
	if !ok || across <= r.Low+quantity.Millimetre/2 {
		return nil
	}
	return []Finding{{"hole_wide", r, "a hole is too wide: " + r.String()}}
}

// Lines says what the law has against so many lines of one person.
func (l Law) Lines(n int) []Finding {
	r, ok := l.LinesEach()
	if !ok || n <= r.Count {
		return nil
	}
	return []Finding{{"lines", r, fmt.Sprintf("%d lines, the most is %d", n, r.Count)}}
}

// Licensed tells whether somebody of an age class needs a licence: everybody, but children where a book names the age from which it is needed.
func (l Law) Licensed(child bool) bool {
	if len(l.Versions) == 0 {
		return false
	}
	_, told := l.LicenceAge()
	return !child || !told
}

// FishedOn holds fish that somebody caught after their limit against the rule on fishing on; silence is read the strictest way.
func (l Law) FishedOn(n int) []Finding {
	if n < 1 {
		return nil
	}
	return l.told(AfterLimit, "fished_on", map[string]string{"stop fishing for it": fmt.Sprintf("%d caught after the limit", n)})
}

// Packed holds fish that were cleaned against the rule on packs; packs of zero were not told. A book that says nothing of
// packs asks nothing of them. Whether a pack bears a name, nobody tells.
func (l Law) Packed(fish, packs int) []Finding {
	if _, by := l.Choice(Packs); by == nil || fish < 1 {
		return nil
	}
	words := map[string]string{}
	switch {
	case packs == 0:
		words["one fish a pack"] = "into how many packs was not told"
		words["countable and named"] = words["one fish a pack"]
	case packs < fish:
		words["one fish a pack"] = fmt.Sprintf("%d fish in %d packs", fish, packs)
	}
	return l.told(Packs, "packed", words)
}

// Carrying holds what one person of a party that pools kept against the rule on what each carries home: no more than one
// person's limit, unless the fish are the party's.
func (l Law) Carrying(kept int, limit Rule) []Finding {
	if pooled, _ := l.Pooled(); !pooled || kept <= limit.Count {
		return nil
	}
	return l.told(Carried, "carrying", map[string]string{"own fish only": fmt.Sprintf("%d kept, and each carries home at most %d", kept, limit.Count)})
}

// Watch says how a rule is watched over a day.
type Watch string

// The ways.
const (
	ByRecord Watch = "record" // what was told is held against it, and what is against it is said
	ByTick   Watch = "tick"   // somebody says that it is done
	ByEye    Watch = "eye"    // it is only to be read
)

// Watched tells how rules of a kind are watched.
func (k Kind) Watched() Watch {
	switch k {
	case Bait, Hooks, ShelterName, ShelterOff, ShelterEnd, Tag, Litter:
		return ByTick
	case Licence, ReportHolds, ReportNil:
		return ByEye
	}
	return ByRecord
}
