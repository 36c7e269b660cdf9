package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/paper"
)

// Keys of the settings behind the paper ashore. Each value names its form or day; the newest of one counts.
const (
	formSetting = "paper_form"
	madeSetting = "paper_made"
	bagsSetting = "fish_bags"
)

// Forms lists the agency forms that the outfit entered, the newest of each, by name.
func (v View) Forms() []paper.Form {
	seen := map[string]bool{}
	var out []paper.Form
	for _, s := range slices.Backward(v.Lake.Settings(formSetting)) {
		if s.When.After(v.Now) {
			continue
		}
		var gone struct {
			Gone string `json:"gone"`
		}
		if json.Unmarshal(s.Value, &gone) == nil && gone.Gone != "" {
			seen[gone.Gone] = true
			continue
		}
		if f, err := paper.Parse(s.Value); err == nil && !seen[f.Key] {
			seen[f.Key] = true
			out = append(out, f)
		}
	}
	slices.Reverse(out)
	return out
}

// Form finds a form of the outfit.
func (v View) Form(key string) (paper.Form, error) {
	for _, f := range v.Forms() {
		if f.Key == key {
			return f, nil
		}
	}
	return paper.Form{}, fault.New(fault.NotFound, "Choose one of the forms entered.", "no form %q is on record", key)
}

// TellForm records an agency's form; one of the same short name replaces it.
func (d *Desk) TellForm(ctx context.Context, a Act, data []byte) error {
	if len(data) > 32<<10 {
		return fault.New(fault.BadInput, "A field map is a page of text.", "the form is longer than 32 kB")
	}
	if _, err := paper.Parse(data); err != nil {
		return err
	}
	return d.Record(ctx, a, &journal.Setting{Key: formSetting, Value: json.RawMessage(data)})
}

// DropForm takes a form out of use; what was filled by it stays in the journal.
func (d *Desk) DropForm(ctx context.Context, a Act, key string) error {
	value, err := json.Marshal(map[string]string{"gone": key})
	if err != nil {
		return fmt.Errorf("desk: a form: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: formSetting, Value: value})
}

// Made is a form that was handed in: for a day, or for a month without a trip.
type Made struct {
	Form string    `json:"form"`
	Of   string    `json:"of"` // 2026-01-15, or 2026-01
	When time.Time `json:"-"`
}

// MadeForms lists the forms that were handed in, the newest last.
func (v View) MadeForms() (out []Made) {
	for _, s := range v.Lake.Settings(madeSetting) {
		var m Made
		if !s.When.After(v.Now) && json.Unmarshal(s.Value, &m) == nil {
			m.When = s.When
			out = append(out, m)
		}
	}
	return out
}

// TellMade records that a form was handed in.
func (d *Desk) TellMade(ctx context.Context, a Act, form, of string) error {
	_, dayErr := time.Parse(time.DateOnly, of)
	_, monthErr := time.Parse("2006-01", of)
	if dayErr != nil && monthErr != nil {
		return fault.New(fault.BadInput, "Choose a day or a month shown.", "%q is neither a day nor a month", of)
	}
	if err := d.Read(ctx, func(v View) error { _, err := v.Form(form); return err }); err != nil {
		return err
	}
	value, err := json.Marshal(Made{Form: form, Of: of})
	if err != nil {
		return fmt.Errorf("desk: a form handed in: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: madeSetting, Value: value})
}

// TripDays lists the days on which guests were out, by day.
func (v View) TripDays() (out []journal.Day) {
	for _, g := range v.Party.Guests {
		if g.Role == "guest" && g.Day <= v.Today && !slices.Contains(out, g.Day) {
			out = append(out, g.Day)
		}
	}
	slices.Sort(out)
	return out
}

// PaperTrip gathers what a form may ask of a day.
func (v View) PaperTrip(day journal.Day) paper.Trip {
	zone := v.Lake.Zone
	t := paper.Trip{Date: day.Midnight(zone), Water: v.Lake.Name}
	counts := map[uuid.UUID]*paper.Person{}
	count := func(id uuid.UUID) *paper.Person {
		if counts[id] == nil {
			counts[id] = &paper.Person{Kept: map[string]int{}, Released: map[string]int{}}
		}
		return counts[id]
	}
	for _, f := range v.Sheet(day, v.Now).Fish() {
		switch p := count(f.Person); {
		case f.Kept:
			p.Kept[f.Species] += f.Count
		case f.Fate != "lost":
			p.Released[f.Species] += f.Count
		}
	}
	for _, g := range v.Party.Guests {
		if g.Day != day {
			continue
		}
		p := count(g.ID)
		p.Name, p.Age = v.Name(g.Name), g.Age
		if g.Licence != nil {
			p.Licence = v.Name(*g.Licence)
		}
		if g.Role == "guest" {
			t.Clients = append(t.Clients, *p)
		} else {
			t.Guides = append(t.Guides, *p)
			p.Name = ""
		}
	}
	t.Nobody = *count(uuid.Nil)
	v.hoursOf(&t, day)
	return t
}

// hoursOf fills lines, rod-hours and the hours out.
func (v View) hoursOf(t *paper.Trip, day journal.Day) {
	first := func(at time.Time) {
		if t.Out.IsZero() || at.Before(t.Out) {
			t.Out = at
		}
	}
	rods := map[int]bool{}
	for _, s := range v.Party.Sits {
		if s.Day != day {
			continue
		}
		rods[s.Rod] = true
		first(s.From)
		end := s.To
		if end.IsZero() || end.After(v.Now) {
			end = v.Now
		}
		if ran := end.Sub(s.From); ran > 0 && ran < 16*time.Hour {
			t.RodTime += ran
		}
	}
	for _, h := range v.Lake.HolesOn(day) {
		first(h.Drilled)
	}
	t.Lines = len(rods)
	end := t.Date.AddDate(0, 0, 1)
	if v.Now.Before(end) {
		end = v.Now
	}
	all := true
	for _, w := range v.Party.OnIce(end) {
		if g := v.Party.Guest(w.Person); g == nil || g.Day != day {
			continue
		}
		if all = all && !w.OnIce; w.Since.After(t.Returned) {
			t.Returned = w.Since
		}
	}
	if !all {
		t.Returned = time.Time{}
	}
}

// Bags are fish in bags, as somebody counted them at the cleaning table.
type Bags struct {
	Day  journal.Day `json:"day"`
	Bags []Bag       `json:"bags"`
}

// Bag is one person's fish of a species.
type Bag struct {
	Person  uuid.UUID `json:"person"`
	Species string    `json:"species"`
	Fish    int       `json:"fish"`
}

// BagsOf gives the newest count of a day; false when nobody counted.
func (v View) BagsOf(day journal.Day) (Bags, bool) {
	for _, s := range slices.Backward(v.Lake.Settings(bagsSetting)) {
		var b Bags
		if !s.When.After(v.Now) && json.Unmarshal(s.Value, &b) == nil && b.Day == day {
			return b, true
		}
	}
	return Bags{}, false
}

// TellBags records fish in bags.
func (d *Desk) TellBags(ctx context.Context, a Act, b Bags) error {
	body, err := b.body()
	if err != nil {
		return err
	}
	return d.Record(ctx, a, body)
}

// body gives the entry of fish in bags, or says what is wrong with them.
func (b Bags) body() (*journal.Setting, error) {
	if !b.Day.Valid() {
		return nil, fault.New(fault.BadInput, "Choose a day.", "%q is not a date", string(b.Day))
	}
	for _, x := range b.Bags {
		if x.Fish < 0 || x.Fish > 500 {
			return nil, fault.New(fault.BadInput, "Count again.", "%d fish in one bag cannot be", x.Fish)
		}
	}
	value, err := json.Marshal(b)
	if err != nil {
		return nil, fmt.Errorf("desk: fish in bags: %w", err)
	}
	return &journal.Setting{Key: bagsSetting, Value: value}, nil
}
