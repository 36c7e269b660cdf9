package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/share"
	"icehand/internal/feed/photo"
	"icehand/internal/physics/cold"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// ReportAsk is what a guide chooses of a guest report. The zero value, with a day, is a report without pictures.
type ReportAsk struct {
	Day      journal.Day
	Words    string
	Depth    bool        // with a word for the depth
	Next     journal.Day // "": no day is kept
	Pictures []uuid.UUID // acts of pictures on record, in order
	Loose    []photo.Picture
	Captions []string // of the pictures in that order, then of the loose ones; fewer or empty: without
	Units    quantity.System
}

// OutfitName and PrivateNames are settings that the guest report reads: what the outfit calls itself, and the names of places that it keeps to
// itself, parted by commas.
const (
	OutfitName   = "outfit_name"
	PrivateNames = "private_names"
)

// TellWord tells a setting of words, such as the outfit's name; "" takes it back.
func (d *Desk) TellWord(ctx context.Context, a Act, key, words string) error {
	if key != OutfitName && key != PrivateNames {
		return fault.New(fault.BadInput, "", "%q is told elsewhere", key)
	}
	if _, err := share.NewName(words); key == OutfitName && err != nil {
		return err
	}
	raw, err := json.Marshal(strings.TrimSpace(words))
	if err != nil {
		return fmt.Errorf("desk: keeping a name: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: key, Value: raw})
}

// Word gives a setting of words; "" when it was not told.
func (d *Desk) Word(ctx context.Context, key string) (word string, err error) {
	err = d.with(ctx, func() error {
		word = d.word(key)
		return nil
	})
	return word, err
}

// GuestReport gathers what a guest may be given of a day. What it cannot vouch for it refuses, and says how to mend it.
func (d *Desk) GuestReport(ctx context.Context, q ReportAsk) (out share.Report, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		g := gatherer{d: d, ctx: ctx, q: q, kinds: map[string]*share.Catch{}, people: map[string]int{}}
		r, err := g.report()
		if err != nil {
			return err
		}
		out, err = share.Build(r)
		return err
	})
	return out, err
}

// gatherer fills a report; its first error counts.
type gatherer struct {
	d   *Desk
	ctx context.Context
	q   ReportAsk
	err error

	kinds  map[string]*share.Catch
	order  []string       // species in order of their first fish
	people map[string]int // by folded name: row in the party
	parts  [4]int
}

// name takes a name of the record for a report.
func (g *gatherer) name(s string) share.Name {
	n, err := share.NewName(s)
	if g.err == nil {
		g.err = err
	}
	return n
}

func (g *gatherer) report() (r share.Report, err error) {
	d, day := g.d, g.q.Day
	if !day.Valid() {
		return r, fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", string(day))
	}
	r = share.Report{Outfit: g.name(d.word(OutfitName)), Lake: g.name(d.lake.Name), Day: dateOf(day), Next: dateOf(g.q.Next), Units: g.q.Units, Weather: d.dayWeather(day)}
	if r.Words, err = share.NewWords(g.q.Words, d.privateNames(g.ctx)); err != nil {
		return r, err
	}
	for _, p := range d.party.Guests {
		if p.Day == day {
			g.person(&r, p)
		}
	}
	if len(r.Party) == 0 {
		return r, fault.New(fault.Missing, "Choose another day, or record who was out.", "nobody is recorded for %s", string(day))
	}
	for _, f := range d.party.Fish {
		if f.Day == day {
			g.fish(&r, f)
		}
	}
	for _, s := range g.order {
		r.Catch = append(r.Catch, *g.kinds[s])
	}
	r.Best = g.best()
	g.firsts(&r)
	g.again(&r)
	if g.q.Depth {
		r.Depth = d.depthClass(day)
	}
	if err := g.pictures(&r); err != nil {
		return r, err
	}
	return r, g.err
}

// folded is a name as it is compared: somebody who comes again is the same person under the same name.
func folded(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// person adds a row for somebody of the day; a name entered twice is one row.
func (g *gatherer) person(r *share.Report, p *party.Guest) {
	name := g.d.text(g.ctx, p.Name)
	if name == "" {
		name = "(name erased)"
	}
	if _, twice := g.people[folded(name)]; twice {
		return
	}
	g.people[folded(name)] = len(r.Party)
	r.Party = append(r.Party, share.Person{Name: g.name(name), Guide: p.Role != "guest"})
}

// rowOf finds the row of a person, making one for fish that nobody was named for.
func (g *gatherer) rowOf(r *share.Report, id uuid.UUID) *share.Person {
	name := "(nobody named)"
	if p := g.d.party.Guest(id); p != nil {
		if name = g.d.text(g.ctx, p.Name); name == "" {
			name = "(name erased)"
		}
	}
	i, ok := g.people[folded(name)]
	if !ok {
		i = len(r.Party)
		g.people[folded(name)] = i
		r.Party = append(r.Party, share.Person{Name: g.name(name)})
	}
	return &r.Party[i]
}

// fish counts a fish for its person, its kind and its part of the day. Its hole is not looked at.
func (g *gatherer) fish(r *share.Report, f *party.Fish) {
	k := g.kinds[f.Species]
	if k == nil {
		k = &share.Catch{Species: g.name(f.Species)}
		g.kinds[f.Species] = k
		g.order = append(g.order, f.Species)
	}
	p := g.rowOf(r, f.Guest)
	if f.Kept {
		k.Kept, p.Kept = k.Kept+f.Count, p.Kept+f.Count
	} else {
		k.PutBack, p.PutBack = k.PutBack+f.Count, p.PutBack+f.Count
	}
	k.Biggest = max(k.Biggest, f.Length)
	if f.Length > p.Biggest {
		p.Biggest, p.Of = f.Length, k.Species
	}
	switch f.Size {
	case "small":
		k.Sizes.Small += f.Count
	case "good":
		k.Sizes.Good += f.Count
	case "big":
		k.Sizes.Big += f.Count
	}
	g.parts[share.PartOf(f.When.In(g.d.lake.Zone).Hour())] += f.Count
}

// best gives the part of the day in which most fish came, where that is more than half of them.
func (g *gatherer) best() share.Part {
	all := g.parts[share.Morning] + g.parts[share.Midday] + g.parts[share.Evening]
	for _, p := range []share.Part{share.Morning, share.Midday, share.Evening} {
		if 2*g.parts[p] > all {
			return p
		}
	}
	return share.NoPart
}

// firsts finds children whose first fish on record came on the day.
func (g *gatherer) firsts(r *share.Report) {
	had := map[string]bool{}
	for _, f := range g.d.party.Fish { // by time
		p := g.d.party.Guest(f.Guest)
		if p == nil || f.Day > g.q.Day {
			continue
		}
		name := g.d.text(g.ctx, p.Name)
		if name == "" || had[folded(name)] {
			continue
		}
		had[folded(name)] = true
		if f.Day == g.q.Day && p.Age == "child" && len(r.Firsts) < share.MostFirsts {
			r.Firsts = append(r.Firsts, share.First{Name: g.name(name), Species: g.name(f.Species), Length: f.Length, Kept: f.Kept})
		}
	}
}

// winter gives the winter of a day, by the year in which it began.
func winter(day journal.Day) string {
	t, err := time.Parse(time.DateOnly, string(day))
	if err != nil {
		return ""
	}
	return fmt.Sprint(t.AddDate(0, -6, 0).Year())
}

// again says what the record holds of guests who were out before.
func (g *gatherer) again(r *share.Report) {
	type history struct {
		days, winters map[string]bool
		fish          int
	}
	by, who := map[string]*history{}, map[uuid.UUID]string{}
	for _, p := range g.d.party.Guests {
		name := g.d.text(g.ctx, p.Name)
		if p.Day > g.q.Day || p.Role != "guest" || name == "" {
			continue
		}
		h := by[folded(name)]
		if h == nil {
			h = &history{map[string]bool{}, map[string]bool{}, 0}
			by[folded(name)] = h
		}
		h.days[string(p.Day)], h.winters[winter(p.Day)], who[p.ID] = true, true, folded(name)
	}
	for _, f := range g.d.party.Fish {
		if h := by[who[f.Guest]]; h != nil && f.Day <= g.q.Day {
			h.fish += f.Count
		}
	}
	for _, p := range r.Party {
		if h := by[folded(p.Name.String())]; h != nil && len(h.days) > 1 && len(r.Again) < 6 {
			r.Again = append(r.Again, share.Returning{Name: p.Name, Days: len(h.days), Winter: len(h.winters), Fish: h.fish})
		}
	}
}

// pictures takes those that were chosen.
func (g *gatherer) pictures(r *share.Report) error {
	var loose []photo.Picture
	for _, id := range g.q.Pictures {
		f := g.d.log.Find(id)
		if f == nil || !f.Counts() {
			return fault.New(fault.NotFound, "Choose one of the pictures shown.", "a picture that was chosen is not on record")
		}
		b, ok := f.Body.(*journal.Photo)
		if !ok {
			return fault.New(fault.NotFound, "Choose one of the pictures shown.", "a picture that was chosen is not on record")
		}
		data, err := g.d.store.Blob(g.ctx, b.Blob)
		if err != nil {
			return fmt.Errorf("desk: a picture: %w", err)
		}
		p, err := photo.Clean(data) // also what an older program kept as it came
		if err != nil {
			return err
		}
		loose = append(loose, p)
	}
	for i, p := range append(loose, g.q.Loose...) {
		x := share.Photo{Data: p.Data, Width: p.Width, Height: p.Height}
		if i < len(g.q.Captions) {
			words, err := share.NewWords(g.q.Captions[i], g.d.privateNames(g.ctx))
			if err != nil {
				f := fault.Public(err)
				return fault.Wrap(err, f.Code, f.Hint, "the caption of picture %d: %s", i+1, f.Message)
			}
			x.Caption = words
		}
		r.Photos = append(r.Photos, x)
	}
	return nil
}

// dateOf gives a day as a report holds it.
func dateOf(day journal.Day) share.Date {
	t, err := time.Parse(time.DateOnly, string(day))
	if err != nil {
		return share.Date{}
	}
	return share.Date{Year: t.Year(), Month: int(t.Month()), Day: t.Day()}
}

// word reads a setting of words.
func (d *Desk) word(key string) string {
	var s string
	if raw := d.lake.Setting(key, d.Clock()); raw != nil && json.Unmarshal(raw, &s) == nil {
		return s
	}
	return ""
}

// privateNames lists the places that the outfit keeps to itself: those told, and the areas of every trip plan.
func (d *Desk) privateNames(ctx context.Context) []string {
	names := strings.FieldsFunc(d.word(PrivateNames), func(r rune) bool { return r == ',' || r == '\n' || r == ';' })
	for i := range d.party.Plans {
		if s, err := d.sheet(ctx, &d.party.Plans[i]); err == nil {
			names = append(names, s.Areas...)
		}
	}
	return names
}

// dayWeather sums a day's weather up, from what was seen and measured while somebody was out.
func (d *Desk) dayWeather(day journal.Day) (w share.Weather) {
	from, to := d.hoursOut(day)
	cloud, clouds := 0.0, 0
	for _, o := range slices.Concat(d.lake.Observed, d.lake.Measured) {
		if o.When.Before(from) || o.When.After(to) {
			continue
		}
		if o.AirTold && (!w.Cold || o.Air < w.Air) {
			w.Air, w.Cold = o.Air, true
		}
		if o.WindTold {
			w.Wind, w.Blew = max(w.Wind, o.Wind), true
		}
		if o.AirTold && o.WindTold {
			if index, applies := cold.WindChill(o.Air, o.Wind); applies && (!w.Chilled || index < w.Chill) {
				w.Chill, w.Chilled = index, true
			}
		}
		if o.CloudTold {
			cloud, clouds = cloud+o.Cloud, clouds+1
		}
		w.Snow = w.Snow || o.Snowing == "light" || o.Snowing == "heavy"
	}
	if clouds > 0 {
		switch mean := cloud / float64(clouds); {
		case mean < 0.3:
			w.Sky = share.Clear
		case mean < 0.75:
			w.Sky = share.Broken
		default:
			w.Sky = share.Overcast
		}
	}
	return w
}

// hoursOut gives from when to when somebody was on the ice on a day; seven to five where nobody reported. Ours.
func (d *Desk) hoursOut(day journal.Day) (from, to time.Time) {
	midnight := day.Midnight(d.lake.Zone)
	from, to = midnight.Add(7*time.Hour), midnight.Add(17*time.Hour)
	for _, s := range d.party.Sits {
		if s.Day == day {
			from = earlier(from, s.From)
			to = later(to, s.To)
		}
	}
	return from, to
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// depthClass gives the third of the lake's water, by depth, in which most of the day's fish came; none where the lake's depths are not known.
func (d *Desk) depthClass(day journal.Day) share.Class {
	s := d.surface()
	if s == nil {
		return share.NoClass
	}
	var all []float64
	for i := range s.Grid().Len() {
		if s.CellOnWater(i) {
			if x := s.Cell(i); x.Known {
				all = append(all, x.Mean.Metres())
			}
		}
	}
	if len(all) < 3 {
		return share.NoClass
	}
	slices.Sort(all)
	var in [4]int
	for _, f := range d.party.Fish {
		if h := d.lake.Hole(f.Hole); f.Day == day && h != nil && h.Depth > 0 {
			switch m := h.Depth.Metres(); {
			case m < all[len(all)/3]:
				in[share.Shallow] += f.Count
			case m < all[2*len(all)/3]:
				in[share.Mid] += f.Count
			default:
				in[share.Deep] += f.Count
			}
		}
	}
	best := share.NoClass
	for _, c := range []share.Class{share.Shallow, share.Mid, share.Deep} {
		if in[c] > in[best] {
			best = c
		}
	}
	return best
}
