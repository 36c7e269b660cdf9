package tally

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/rules"
)

// row weighs one person and species.
func (s *Sheet) row(p *Person, species string) Row {
	r := Row{Person: p.ID, Species: species, State: Unasked}
	for _, f := range s.today() {
		if f.Person != p.ID || f.Species != species {
			continue
		}
		if s.Counts(f) {
			r.Kept += f.Count
			r.Times = append(r.Times, f.When)
		}
		if !f.Kept && f.Fate != "lost" {
			r.PutBack += f.Count
		}
	}
	r.Held, r.Asked = s.held(p.ID, rules.Rule{Of: []string{species}})
	s.daily(p, species, &r)
	s.possession(p, species, &r)
	s.yearly(p, species, &r)
	if len(s.Law.Rules(rules.Release, species)) > 0 {
		r.cap(-r.Kept, s.Law.Rules(rules.Release, species)[0], "release")
	}
	if may, _ := s.Law.GuideMayKeep(); p.Guides() && !may && r.Limited {
		r.cap(min(-r.Kept, r.Left), r.Binding, "guide")
	}
	s.share(p, species, &r)
	switch {
	case !r.Limited:
	case r.Left < 0:
		r.State = Beyond
	case r.Left == 0:
		r.State = Full
	case r.Left <= nearLimit:
		r.State = Near
	default:
		r.State = Room
	}
	return r
}

// cap lowers what is left.
func (r *Row) cap(left int, by rules.Rule, why string) {
	if !r.Limited || left < r.Left {
		r.Left, r.Limited, r.Binding, r.Why = left, true, by, why
	}
}

// daily weighs the daily limits of a species and of the groups it belongs to. Where the law lets a party pool, what the others have left
// may be kept as well; a guide's fish never are part of a pool. Fish without a name count against everybody.
func (s *Sheet) daily(p *Person, species string, r *Row) {
	pooled, _ := s.Law.Pooled()
	for _, c := range s.Law.Caps(rules.Daily, species) {
		loose := s.kept(c, noName)
		left, why := c.Count-s.kept(c, only(p.ID))-loose, ""
		if loose > 0 {
			why = "unnamed"
		}
		if pooled && !p.Guides() {
			whole, n := 0, 0
			for _, x := range s.People {
				if !x.Guides() {
					n++
					whole += s.kept(c, only(x.ID))
				}
			}
			if room := n*c.Count - whole - loose; room != left {
				left, why = room, "pooled"
			}
		}
		r.cap(left, c, why)
	}
}

// possession weighs what may be held at one time. Without a word on what was carried over it counts what the record knows.
func (s *Sheet) possession(p *Person, species string, r *Row) {
	for _, c := range s.Law.Caps(rules.Possession, species) {
		held, _ := s.held(p.ID, c)
		r.cap(c.Count-held-s.kept(c, noName), c, "possession")
	}
}

// yearly weighs the season's total: what the record knows of the person since the book holds.
func (s *Sheet) yearly(p *Person, species string, r *Row) {
	for _, c := range s.Law.Caps(rules.Yearly, species) {
		r.cap(c.Count-s.season(p, c)-s.kept(c, noName), c, "season")
	}
}

// season counts what a person kept since the book holds.
func (s *Sheet) season(p *Person, c rules.Rule) (n int) {
	for _, f := range s.fish {
		if f.Person == p.ID && c.Concerns(f.Species) && s.Counts(f) && s.sameBook(f) {
			n += f.Count
		}
	}
	return n
}

func (s *Sheet) sameBook(f *Fish) bool {
	for _, v := range s.Law.Versions {
		if v.Book.Holds(f.Day) {
			return true
		}
	}
	return false
}

// held counts what a person holds of the species that a rule speaks of: what was carried over as told last, and what came and went
// since. Asked is false when nobody told what was carried over. Fish are held until they are given away, and until they are eaten
// where the law says so; cleaning them changes nothing.
func (s *Sheet) held(person uuid.UUID, c rules.Rule) (n int, asked bool) {
	asked = true
	for _, species := range s.speciesOf(c) {
		k, told := s.heldOne(person, species)
		n += k
		asked = asked && told
	}
	return n, asked
}

// speciesOf lists the species that a rule counts together: those it names, or all on the sheet.
func (s *Sheet) speciesOf(c rules.Rule) []string {
	if len(c.Of) > 0 {
		return c.Of
	}
	seen := map[string]bool{}
	var out []string
	for _, f := range s.fish {
		if !seen[f.Species] {
			seen[f.Species] = true
			out = append(out, f.Species)
		}
	}
	return out
}

func (s *Sheet) heldOne(person uuid.UUID, species string) (n int, told bool) {
	var since time.Time
	for _, m := range s.moves {
		if m.Person == person && m.Species == species && m.What == "carried" {
			n, since, told = int(m.Count), m.When, true
		}
	}
	for _, f := range s.fish {
		if f.Person == person && f.Species == species && s.Counts(f) && s.since(f, since, told) {
			n += f.Count
		}
	}
	eaten, _ := s.Law.Choice(rules.Eaten)
	for _, m := range s.moves {
		if m.Species != species || told && m.When.Before(since) {
			continue
		}
		switch {
		case m.What == "gift_in" && m.Person == person, m.What == "gift_out" && m.Other == person:
			n += int(m.Count)
		case m.What == "gift_out" && m.Person == person, m.What == "gift_in" && m.Other == person:
			n -= int(m.Count)
		case m.What == "eaten" && m.Person == person && eaten == "no longer held":
			n -= int(m.Count)
		}
	}
	return n, told
}

// since tells whether a fish came after what was carried over was told: a word on earlier days, so that fish of its own day
// always come on top.
func (s *Sheet) since(f *Fish, told time.Time, known bool) bool {
	if !known {
		return true
	}
	for _, m := range s.moves {
		if m.What == "carried" && m.When.Equal(told) {
			return f.Day >= m.Day
		}
	}
	return !f.When.Before(told)
}

// share keeps a phone to what was handed out to it before contact was lost.
func (s *Sheet) share(p *Person, species string, r *Row) {
	if s.Shares == nil {
		return
	}
	mine, told := 0, false
	for _, part := range s.Shares.Parts {
		if part.Person != p.ID || part.Species != species {
			continue
		}
		told = true
		if part.Journal == s.own {
			mine += int(part.Count)
		}
	}
	if !told {
		return
	}
	for _, f := range s.today() {
		if f.By == s.own && f.Species == species && (f.Person == p.ID || f.Person == uuid.Nil) && s.Counts(f) && f.When.After(s.Shares.When) {
			mine -= f.Count
		}
	}
	r.cap(mine, r.Binding, "share")
}
