package rules

import (
	"fmt"
	"slices"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// all gives the rules of a kind in every version that counts.
func (l Law) all(k Kind) []Rule {
	var out []Rule
	for _, v := range l.Versions {
		for _, r := range v.Book.Rules {
			if r.Kind == k {
				out = append(out, r)
			}
		}
	}
	return out
}

// Rules gives the rules of a kind that speak of a species; "" asks for all of the kind.
func (l Law) Rules(k Kind, species string) []Rule {
	return slices.DeleteFunc(l.all(k), func(r Rule) bool { return species != "" && !r.Concerns(species) })
}

// Caps gives the limits of a kind (daily, possession, season total) that a kept fish of a species counts against: its own, and those of
// the groups that it belongs to. The smallest of those for the same fish comes first.
func (l Law) Caps(k Kind, species string) []Rule {
	out := l.Rules(k, species)
	slices.SortStableFunc(out, func(a, b Rule) int { return a.Count - b.Count })
	return out
}

// Choice gives the strictest reading of a choice, and the rule that makes it; no rule where a version says nothing, which reads
// as the strictest.
func (l Law) Choice(k Kind) (choice string, by *Rule) {
	f := formFor(k)
	best := len(f.choices)
	for _, v := range l.Versions {
		told := slices.IndexFunc(v.Book.Rules, func(r Rule) bool { return r.Kind == k })
		if told < 0 {
			return f.choices[0], nil
		}
		if r := &v.Book.Rules[told]; r.Choice < best {
			best, by = r.Choice, r
		}
	}
	if by == nil {
		return f.choices[0], nil
	}
	return f.choices[best], by
}

func formFor(k Kind) form {
	for _, f := range forms {
		if f.kind == k {
			return f
		}
	}
	panic("rules: no form for " + string(k))
}

// Form says how one kind of rule is written, for people.
type Form struct{ Word, About, Value string }

// Forms lists every kind of rule.
func Forms() []Form {
	about := map[subject]string{oneSpecies: "SPECIES", species: "SPECIES or SPECIES+SPECIES", anySpecies: "nothing, SPECIES or SPECIES+SPECIES", placeName: "NAME"}
	out := make([]Form, 0, len(forms))
	for _, f := range forms {
		out = append(out, Form{string(f.kind), about[f.subject], f.values()})
	}
	return out
}

// Pooled tells whether the party may share its daily limits, and on what condition.
func (l Law) Pooled() (pooled bool, condition string) {
	c, _ := l.Choice(Pooling)
	switch c {
	case "in sight and voice":
		return true, "while all are in sight and voice"
	case "party":
		return true, ""
	}
	return false, ""
}

// GuideMayKeep tells whether fish of the guide's own are lawful; told is false when the book does not say.
func (l Law) GuideMayKeep() (may, told bool) {
	c, by := l.Choice(GuideFish)
	return c == "own limit", by != nil
}

// Finding is what the law says against a fish, a count or a line.
type Finding struct {
	Code string // below_least, over_most, put_back, outside, unmeasured, release, closed, tag
	Rule Rule
	Text string
}

// Size tells what the law says against keeping a fish of a species and length; a length of 0 was not measured.
func (l Law) Size(species string, length quantity.Length) (out []Finding) {
	const slack = quantity.Millimetre / 2 // lengths are kept in whole millimetres
	add := func(code string, r Rule, text string) { out = append(out, Finding{code, r, text}) }
	for _, r := range l.Rules(Release, species) {
		add("release", r, "always goes back")
	}
	for _, r := range l.Rules(Least, species) {
		if length > 0 && length < r.Low-slack {
			add("below_least", r, "shorter than "+r.Text)
		}
	}
	for _, r := range l.Rules(Most, species) {
		if length > r.Low+slack {
			add("over_most", r, "longer than "+r.Text)
		}
	}
	for _, r := range l.Rules(PutBack, species) {
		if length > r.Low-slack && length < r.High+slack {
			add("put_back", r, "in the range that goes back, "+r.Text)
		}
	}
	for _, r := range l.Rules(KeepOnly, species) {
		if length > 0 && (length < r.Low-slack || length > r.High+slack) {
			add("outside", r, "outside "+r.Text)
		}
	}
	if length == 0 && len(out) == 0 {
		for _, k := range []Kind{Least, Most, PutBack, KeepOnly, Over} {
			if rs := l.Rules(k, species); len(rs) > 0 {
				add("unmeasured", rs[0], "not measured, and there is a rule: "+rs[0].String())
				break
			}
		}
	}
	return out
}

// Open tells whether a species may be fished for on the law's day; by is the rule that closes it. A book that tells no season closes
// nothing.
func (l Law) Open(species string) (open bool, by *Rule) {
	t := l.Day.Midnight(time.UTC)
	today := MonthDay{t.Month(), t.Day()}
	for _, v := range l.Versions {
		for _, named := range []bool{true, false} { // the species' own season, and that of all fishing: both must be open
			told, open, last := false, false, Rule{}
			for _, r := range v.Book.Rules {
				if r.Kind == Season && r.Concerns(species) && (len(r.Of) > 0) == named {
					told, open, last = true, open || !r.Closed && r.spans(today), r
				}
			}
			if told && !open {
				return false, &last
			}
		}
	}
	return true, nil
}

// spans tells whether a season holds a day; one that ends before it begins runs over the new year.
func (r Rule) spans(d MonthDay) bool {
	if r.To.before(r.From) {
		return !d.before(r.From) || !r.To.before(d)
	}
	return !d.before(r.From) && !r.To.before(d)
}

// Hours gives when a species may be fished for on the law's day: from, to; zero where no hour is told. Told is false when no rule
// speaks. A rule that asks for a sun that does not rise closes the day: from equals to.
func (l Law) Hours(species string, zone *time.Location, sunrise, sunset time.Time) (from, to time.Time, by *Rule) {
	for _, r := range l.Rules(Hours, species) {
		opens, ok1 := r.Opens.At(l.Day, zone, sunrise, sunset)
		closes, ok2 := r.Closes.At(l.Day, zone, sunrise, sunset)
		if !ok1 || !ok2 {
			noon := l.Day.Midnight(zone).Add(12 * time.Hour)
			return noon, noon, &r
		}
		if from.IsZero() || opens.After(from) {
			from, by = opens, &r
		}
		if to.IsZero() || closes.Before(to) {
			to, by = closes, &r
		}
	}
	return from, to, by
}

// Least of a count rule without species (lines, hooks, licence age); ok is false when no book tells it.
func (l Law) least(k Kind, less func(a, b Rule) bool) (best Rule, ok bool) {
	for _, r := range l.all(k) {
		if !ok || less(r, best) {
			best, ok = r, true
		}
	}
	return best, ok
}

// LinesEach gives how many lines a person may have in the water; ok is false when no book tells.
func (l Law) LinesEach() (r Rule, ok bool) {
	return l.least(Lines, func(a, b Rule) bool { return a.Count < b.Count })
}

// HooksEach gives how many hooks a line may have.
func (l Law) HooksEach() (r Rule, ok bool) {
	return l.least(Hooks, func(a, b Rule) bool { return a.Count < b.Count })
}

// HoleAcross gives the widest hole.
func (l Law) HoleAcross() (r Rule, ok bool) {
	return l.least(HoleMost, func(a, b Rule) bool { return a.Low < b.Low })
}

// LicenceAge gives the age from which a licence is needed; ok is false when no book tells, which reads as everybody.
func (l Law) LicenceAge() (r Rule, ok bool) {
	if len(l.Versions) == 0 || slices.ContainsFunc(l.Versions, func(v *Version) bool {
		return !slices.ContainsFunc(v.Book.Rules, func(r Rule) bool { return r.Kind == LicenceFrom })
	}) {
		return Rule{}, false
	}
	return l.least(LicenceFrom, func(a, b Rule) bool { return a.Count < b.Count })
}

// Shelters tells what the law asks of shelters on its day: what must be done by its evening.
func (l Law) Shelters() (out []Finding) {
	t := l.Day.Midnight(time.UTC)
	today := MonthDay{t.Month(), t.Day()}
	for _, r := range l.all(ShelterOff) {
		if !monthsApart(today, r.From) {
			out = append(out, Finding{"shelter_off", r, "shelters come off the ice every day from " + r.Text})
		}
	}
	for _, r := range l.all(ShelterEnd) {
		if monthsApart(r.From, today) {
			out = append(out, Finding{"shelter_gone", r, "shelters had to be gone by " + r.Text})
		}
	}
	return out
}

// Reports gives the reports that are owed of the law's day, the soonest first.
func (l Law) Reports() []Owed {
	var out []Owed
	for _, r := range l.all(Report) {
		out = append(out, Owed{r, r.Due(l.Day), fmt.Sprintf("report: %s", r.Text)})
	}
	slices.SortStableFunc(out, func(a, b Owed) int { return order(a.By, b.By) })
	return out
}

// Owed is a report that is due.
type Owed struct {
	Rule Rule
	By   journal.Day
	Text string
}
