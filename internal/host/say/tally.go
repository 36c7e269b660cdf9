package say

import (
	"fmt"
	"strings"
	"time"

	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
	"icehand/internal/trade/tally"
)

// Unverified stands where a number would, when no rule book is in force: words that never show what is left.
const Unverified = "unverified; strictest reading"

// fullDate writes a day with its year: 31 Dec 2026.
func fullDate(d journal.Day) string {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return string(d)
	}
	return t.Format("2 Jan 2006")
}

// Law says in one line which rule book counts and how far it may be trusted.
func Law(l rules.Law) string {
	v := l.Newest()
	switch l.Standing {
	case rules.Verified:
		return fmt.Sprintf("%s, %s to %s, text read %s.", v.Book.Name, fullDate(v.Book.From), fullDate(v.Book.To), fullDate(v.Book.Retrieved))
	case rules.Unsigned:
		return v.Book.Name + ": nobody has checked it against its source. " + sentenceOf(Unverified)
	case rules.Expired:
		return fmt.Sprintf("%s ended on %s. %s", l.Versions[0].Book.Name, fullDate(l.Versions[0].Book.To), sentenceOf(Unverified))
	case rules.NotYet:
		return fmt.Sprintf("%s begins on %s. %s", v.Book.Name, fullDate(v.Book.From), sentenceOf(Unverified))
	}
	return "No rule book is entered: no number left is shown. Count by your own rules."
}

// Watched says how rules of a kind are watched, where the record cannot do it; "" where it does.
func Watched(k rules.Kind) string {
	switch k.Watched() {
	case rules.ByTick:
		return "to be ticked"
	case rules.ByEye:
		return "only to be read"
	}
	return ""
}

func sentenceOf(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// KeptCount says a count, as the least that it can be while other phones are about.
func KeptCount(n int, s *tally.Sheet) string {
	if s.AtLeast() {
		return fmt.Sprintf("at least %d", n)
	}
	return fmt.Sprint(n)
}

// Left says what is left of a limit; "" when no limit is on record. No number is shown by a book that is not in force.
func Left(r tally.Row, l rules.Law) string {
	switch {
	case !r.Limited && l.Standing == rules.Nothing, !r.Limited && l.Verified():
		return ""
	case !l.Verified() && r.Limited && r.Left <= 0:
		return "stop; " + Unverified
	case !l.Verified():
		return Unverified
	case r.Left < 0:
		return fmt.Sprintf("%d beyond the limit", -r.Left)
	case r.Left == 0:
		return "at the limit"
	}
	return fmt.Sprintf("%d left", r.Left)
}

// Room says why fewer or more are left than the day's limit alone would leave; "" when nothing else binds.
func Room(r tally.Row, s *tally.Sheet) string {
	if !s.Law.Verified() || !r.Limited {
		return ""
	}
	switch r.Why {
	case "possession":
		return fmt.Sprintf("held %d of %d", r.Held, r.Binding.Count)
	case "pooled":
		_, condition := s.Law.Pooled()
		return strings.TrimSpace("of the party's, " + condition)
	case "share":
		return "this phone's share; ask the others"
	case "guide":
		return "the guide's own fish"
	case "release":
		return "always goes back"
	case "season":
		return "season's total"
	}
	return ""
}

// Warning says what must be known after a fish was kept, in one line; "" when there is room, or no limit is on record. Name is whose fish it is.
func Warning(name string, r tally.Row, l rules.Law) string {
	out := warning(r, l)
	if out != "" && name != "" {
		out = name + ": " + out
	}
	return out
}

// warning says it without the name.
func warning(r tally.Row, l rules.Law) string {
	by := ""
	if !l.Verified() {
		by = " Rules unverified; strictest reading."
	}
	share := r.Why == "share" && l.Verified()
	switch {
	case !r.Limited:
		return ""
	case share && r.Left <= 0:
		return fmt.Sprintf("this phone's share of %s is used up. Stop; ask the others.", r.Species)
	case r.State == tally.Beyond && l.Verified():
		return fmt.Sprintf("%d %s beyond the limit. %s. Flagged.", -r.Left, r.Species, stop(l))
	case r.State == tally.Beyond || r.State == tally.Full:
		return fmt.Sprintf("at the limit for %s. %s.%s", r.Species, stop(l), by)
	case r.State == tally.Near && l.Verified():
		return fmt.Sprintf("%d %s left.", r.Left, r.Species)
	case r.State == tally.Near:
		return fmt.Sprintf("near the limit for %s.%s", r.Species, by)
	}
	return ""
}

// stop says what ends at a limit: keeping, and where the law lets nobody fish on, fishing.
func stop(l rules.Law) string {
	if c, _ := l.Choice(rules.AfterLimit); c == "stop fishing for it" {
		return "Stop fishing for it"
	}
	return "Stop keeping"
}

// Phones says which phones are not heard: what they keep, nobody here knows. "" when there is none.
func (v Voice) Phones(s *tally.Sheet) string {
	if len(s.Phones) == 0 {
		return ""
	}
	since := s.Phones[0].Heard
	for _, p := range s.Phones {
		if p.Heard.Before(since) {
			since = p.Heard
		}
	}
	word := fmt.Sprintf("%d phones", len(s.Phones))
	if len(s.Phones) == 1 {
		word = "1 phone"
	}
	if since.IsZero() {
		return word + " unheard today"
	}
	return word + " unheard since " + v.Clock(since)
}

// Noted says what the law holds against the ledger. Name is whose it is; "" for the party's, or for a fish without a name.
func Noted(name string, n tally.Note, l rules.Law) string {
	if name != "" {
		name += ": "
	}
	out := name + n.Text
	if n.Species != "" && n.Code != "closed" {
		out = name + n.Species + ": " + n.Text
	}
	if !l.Verified() && strings.HasPrefix(n.Code, "over_") {
		out = name + n.Species + ": beyond the limit by the strictest reading; rules unverified"
	}
	return out
}

// Moved says what became of fish that a person holds. Who and other are names.
func Moved(m tally.Move, who, other string) string {
	count := fmt.Sprintf("%d %s", m.Count, m.Species)
	if other == "" {
		other = "somebody outside"
	}
	switch m.What {
	case "carried":
		return who + " carried over " + count
	case "gift_in":
		return who + " got " + count + " from " + other
	case "gift_out":
		return who + " gave " + count + " to " + other
	case "eaten":
		return who + " ate " + count
	}
	out := who + " cleaned " + count
	if m.Packs > 0 {
		out += fmt.Sprintf(" into %d packs", m.Packs)
	}
	return out
}

// Changed says the trace of a correction. To names who the fish went to, when that changed.
func (v Voice) Changed(c tally.Change, to string) string {
	what := "corrected"
	for _, k := range c.Set {
		switch k {
		case "guest":
			what = "given to " + to
		case "kept":
			what = "taken off the tally"
		case "hooked", "landed":
			what = "hooked or landed by another"
		}
	}
	return fmt.Sprintf("%s %s: %s", v.Clock(c.When), what, c.Why)
}
