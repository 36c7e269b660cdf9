package tally

import (
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/rules"
)

// notes lists what the law says against the ledger: counts first, then single fish.
func (s *Sheet) notes() {
	pooled, _ := s.Law.Pooled()
	for _, p := range s.People {
		s.overCaps(p, pooled)
		s.overLarge(p)
		s.guideFish(p)
		s.packs(p)
		s.fishedOn(p)
		if pooled && !p.Guides() {
			s.carrying(p)
		}
	}
	if pooled {
		s.overPool()
	}
	for _, f := range s.today() {
		s.oneFish(f)
	}
	for _, m := range s.moves {
		gifts, by := s.Law.Choice(rules.Gifts)
		if m.Day != s.Day || m.What != "gift_in" && m.What != "gift_out" || by == nil {
			continue
		}
		switch {
		case gifts == "none":
			s.note(Note{Code: "gift_note", Person: m.Person, Species: m.Species, Rule: *by, Count: int(m.Count), Text: "fish may not be given away"})
		case gifts != "lawful" && m.Note == nil:
			s.note(Note{Code: "gift_note", Person: m.Person, Species: m.Species, Rule: *by, Count: int(m.Count), Text: "the gift has no signed and dated note"})
		}
	}
}

func (s *Sheet) note(n Note) { s.Notes = append(s.Notes, n) }

// found notes what the law has found against fish of a person.
func (s *Sheet) found(person uuid.UUID, species string, count int, against []rules.Finding) {
	for _, f := range against {
		s.note(Note{Code: f.Code, Person: person, Species: species, Rule: f.Rule, Count: count, Text: f.Text})
	}
}

// fishedOn notes fish that a person caught of a species after the day's limit was reached, kept or not: their own limit, or where the
// law lets a party pool, the party's.
func (s *Sheet) fishedOn(p *Person) {
	for _, c := range s.Law.Rules(rules.Daily, "") {
		if c.Count == 0 { // nobody reaches a limit of none: what comes up goes back
			continue
		}
		most, whose := c.Count, only(p.ID)
		if pooled, _ := s.Law.Pooled(); pooled && !p.Guides() {
			guests := s.guests()
			most, whose = c.Count*len(guests), func(id uuid.UUID) bool { return guests[id] || id == uuid.Nil }
		}
		kept, after := 0, 0
		for _, f := range s.fish {
			if !s.inDay(f) || !c.Concerns(f.Species) {
				continue
			}
			if f.caughtBy(p.ID) && kept >= most && f.Day == s.Day && f.Fate != "lost" {
				after += f.Count
			}
			if whose(f.Person) && s.Counts(f) {
				kept += f.Count
			}
		}
		s.found(p.ID, c.Of[0], after, s.Law.FishedOn(after))
	}
}

// caughtBy tells whether a person had the fish on the hook, as far as is told.
func (f *Fish) caughtBy(p uuid.UUID) bool {
	if f.Hooked != uuid.Nil {
		return f.Hooked == p
	}
	return f.Person == p
}

// carrying notes more fish than one person of a party that pools may carry home.
func (s *Sheet) carrying(p *Person) {
	for _, c := range s.Law.Rules(rules.Daily, "") {
		n := s.kept(c, only(p.ID))
		s.found(p.ID, c.Of[0], n-c.Count, s.Law.Carrying(n, c))
	}
}

// guests gives the people of the day who are not guides.
func (s *Sheet) guests() map[uuid.UUID]bool {
	out := map[uuid.UUID]bool{}
	for _, p := range s.People {
		if !p.Guides() {
			out[p.ID] = true
		}
	}
	return out
}

// overCaps notes limits that a person has passed, each rule once.
func (s *Sheet) overCaps(p *Person, pooled bool) {
	for _, k := range []rules.Kind{rules.Daily, rules.Possession, rules.Yearly} {
		for _, c := range s.Law.Rules(k, "") {
			n := s.kept(c, only(p.ID))
			code, word := "over_daily", "kept today"
			if k == rules.Yearly {
				n, code, word = s.season(p, c), "over_season", "kept this season"
			} else if k == rules.Possession {
				n, _ = s.held(p.ID, c)
				code, word = "over_possession", "held"
			} else if pooled && !p.Guides() {
				continue
			}
			if n > c.Count {
				s.note(Note{Code: code, Person: p.ID, Species: c.Of[0], Rule: c, Count: n - c.Count, Text: fmt.Sprintf("%d %s, the limit is %d", n, word, c.Count)})
			}
		}
	}
}

// overPool notes daily limits that a party that pools has passed together.
func (s *Sheet) overPool() {
	guests := s.guests()
	for _, c := range s.Law.Rules(rules.Daily, "") {
		n := s.kept(c, func(p uuid.UUID) bool { return guests[p] || p == uuid.Nil })
		if most := c.Count * len(guests); n > most {
			s.note(Note{Code: "over_daily", Species: c.Of[0], Rule: c, Count: n - most, Text: fmt.Sprintf("%d kept together, the party's limit is %d", n, most)})
		}
	}
}

// overLarge notes more fish over a size than one person may keep.
func (s *Sheet) overLarge(p *Person) {
	for _, c := range s.Law.Rules(rules.Over, "") {
		n := 0
		for _, f := range s.fish {
			if s.inDay(f) && f.Person == p.ID && c.Concerns(f.Species) && s.Counts(f) && f.Length > c.Low+quantity.Millimetre/2 {
				n += f.Count
			}
		}
		if n > c.Count {
			s.note(Note{Code: "over_large", Person: p.ID, Species: c.Of[0], Rule: c, Count: n - c.Count, Text: fmt.Sprintf("%d kept over the size, the limit is %s", n, c.Text)})
		}
	}
}

// guideFish notes fish of the guide's own that the book lets nobody keep.
func (s *Sheet) guideFish(p *Person) {
	may, told := s.Law.GuideMayKeep()
	if may || !p.Guides() || len(s.Law.Versions) == 0 {
		return
	}
	n := s.kept(rules.Rule{}, only(p.ID))
	if n == 0 {
		return
	}
	text := "the guide may keep none"
	if !told {
		text = "the rule book does not say whether the guide may keep fish"
	}
	s.note(Note{Code: "guide_fish", Person: p.ID, Count: n, Text: text})
}

// packs notes more fish cleaned than a person holds, and packs that are not as the law asks.
func (s *Sheet) packs(p *Person) {
	done := map[string]int{}
	for _, m := range s.moves {
		if m.Day == s.Day && m.Person == p.ID && m.What == "processed" {
			done[m.Species] += int(m.Count)
			s.found(p.ID, m.Species, int(m.Count), s.Law.Packed(int(m.Count), int(m.Packs)))
		}
	}
	for _, species := range slices.Sorted(maps.Keys(done)) {
		n := done[species]
		if held, _ := s.heldOne(p.ID, species); n > held {
			s.note(Note{Code: "packs", Person: p.ID, Species: species, Count: n - held, Text: fmt.Sprintf("%d cleaned, and %d held", n, held)})
		}
	}
}

// oneFish notes what the law says against one fish.
func (s *Sheet) oneFish(f *Fish) {
	if f.Unkept() {
		if c, by := s.Law.Choice(rules.Replacing); c != "lawful" && s.Counts(f) && len(s.Law.Versions) > 0 {
			n := Note{Code: "replaced", Person: f.Person, Species: f.Species, Fish: f.ID, Count: f.Count, Text: "kept, and put back later: it still counts"}
			if by != nil {
				n.Rule = *by
			}
			s.note(n)
		}
		return
	}
	if !f.Kept {
		return
	}
	if open, by := s.Law.Open(f.Species); !open {
		s.note(Note{Code: "closed", Person: f.Person, Species: f.Species, Fish: f.ID, Rule: *by, Count: f.Count, Text: "kept outside the season: " + by.String()})
	}
	for _, x := range s.Law.Size(f.Species, f.Length) {
		code := "size"
		if x.Code == "release" || x.Code == "unmeasured" {
			code = x.Code
		}
		s.note(Note{Code: code, Person: f.Person, Species: f.Species, Fish: f.ID, Rule: x.Rule, Count: f.Count, Text: "kept: " + x.Text})
	}
}

// Landing tells what the law says of keeping a fish now: what must be told before it goes into the bucket. A person of zero has no name yet.
func (s *Sheet) Landing(person uuid.UUID, species string, length quantity.Length) (row Row, against []rules.Finding) {
	if open, by := s.Law.Open(species); !open {
		against = append(against, rules.Finding{Code: "closed", Rule: *by, Text: "not in season: " + by.String()})
	}
	against = append(against, s.Law.Size(species, length)...)
	row, _ = s.Of(person, species)
	for _, c := range s.Law.Rules(rules.Over, species) {
		if length <= c.Low+quantity.Millimetre/2 {
			continue
		}
		n := 0
		for _, f := range s.fish {
			if s.inDay(f) && f.Person == person && c.Concerns(f.Species) && s.Counts(f) && f.Length > c.Low+quantity.Millimetre/2 {
				n += f.Count
			}
		}
		if n >= c.Count {
			against = append(against, rules.Finding{Code: "over_large", Rule: c, Text: "enough of that size: " + c.Text})
		}
	}
	return row, against
}
