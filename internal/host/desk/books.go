package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/books"
	"icehand/internal/trade/journal"
)

// Books gives the outfit's books, folded afresh.
func (d *Desk) Books(ctx context.Context) (v *books.View, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		v = books.New(d.lake.ID)
		v.Sync(&d.log)
		return nil
	})
	return v, err
}

// LineText is a line of the books as a person writes it.
type LineText struct {
	What, Day, Amount, Item, Hours, Distance string
	Booking                                  uuid.UUID
}

// Money reads an amount such as 150 or 12.50 as hundredths.
func Money(s string) (int64, error) {
	s = strings.TrimSpace(s)
	whole, part, dot := strings.Cut(strings.ReplaceAll(s, ",", "."), ".")
	digits := func(s string) bool {
		return s != "" && !strings.ContainsFunc(s, func(r rune) bool { return r < '0' || r > '9' })
	}
	if !digits(whole) || len(whole) > 8 || dot && (!digits(part) || len(part) > 2) {
		return 0, fault.New(fault.BadInput, "Write 150 or 12.50, without a sign and without thousands parted.", "%q is no amount of money", s)
	}
	n, err := strconv.ParseInt(whole+(part + "00")[:2], 10, 64)
	if err != nil {
		return 0, fmt.Errorf("desk: reading an amount: %w", err)
	}
	return n, nil
}

// MoneyText writes hundredths with two places.
func MoneyText(c int64) string {
	sign := ""
	if c < 0 {
		sign, c = "-", -c
	}
	return fmt.Sprintf("%s%d.%02d", sign, c/100, c%100)
}

// BookLine records a line of the books.
func (d *Desk) BookLine(ctx context.Context, a Act, t LineText) error {
	b := &journal.Ledger{What: t.What, Day: journal.Day(t.Day), Item: strings.TrimSpace(t.Item), Booking: t.Booking}
	var err error
	switch t.What {
	case "gear":
		h, bad := quantity.ParseNumber(strings.TrimSuffix(strings.TrimSpace(t.Hours), "h"))
		if bad != nil || !(h > 0 && h <= 500) {
			return fault.New(fault.BadInput, "Write the hours that it ran, such as 1.5.", "%q is no time that gear ran", t.Hours)
		}
		m := max(1, int64(h*60+0.5))
		b.Minutes = &m
	case "distance":
		l, _, bad := quantity.ParseLength(t.Distance, quantity.Kilometre)
		if bad != nil || !(l > 0 && l <= 5000*quantity.Kilometre) {
			return fault.New(fault.BadInput, "Write it as 84 km or 52 mi.", "%q is no distance driven", t.Distance)
		}
		b.Distance = journal.MM(l)
	default:
		if b.Amount, err = Money(t.Amount); err != nil {
			return err
		}
	}
	if t.Booking != uuid.Nil {
		v, err := d.Books(ctx)
		if err != nil {
			return err
		}
		if _, ok := v.Find(t.Booking); !ok {
			return fault.New(fault.NotFound, "Choose one of the bookings.", "that booking is not on record")
		}
	}
	return d.Record(ctx, a, b)
}

// BookingText is a booking as a person writes it.
type BookingText struct {
	Day, Name, People, Children, Meet, Note string
	Asked                                   bool // not yet sure
}

// Book records a booking; the name and the note can be erased.
func (d *Desk) Book(ctx context.Context, a Act, t BookingText) error {
	if strings.TrimSpace(t.Name) == "" || len(t.Name) > 80 || len(t.Note) > 400 {
		return fault.New(fault.BadInput, "Give the party a name of up to 80 letters, and a note of up to 400.", "a booking needs a name")
	}
	b := &journal.Booking{Day: journal.Day(t.Day), State: "booked"}
	if t.Asked {
		b.State = "asked"
	}
	whole := func(into *int64, s, what string) error {
		if s = strings.TrimSpace(s); s == "" {
			return nil
		}
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil || n < 0 {
			return fault.New(fault.BadInput, "Write a whole number.", "%q is no number of %s", s, what)
		}
		*into = n
		return nil
	}
	if err := whole(&b.People, t.People, "people"); err != nil {
		return err
	}
	if err := whole(&b.Children, t.Children, "children"); err != nil {
		return err
	}
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		a, err := d.settle(a)
		if err != nil {
			return err
		}
		if t.Meet != "" && b.Day.Valid() {
			at, err := ClockOn(b.Day, t.Meet, d.lake.Zone)
			if err != nil {
				return err
			}
			b.Meet = at.UnixMilli()
		}
		words := []string{strings.TrimSpace(t.Name)}
		if s := strings.TrimSpace(t.Note); s != "" {
			words = append(words, s)
		}
		b.Name.Blob[0] = 1 // checked below before anything is kept: the true name follows
		if err := b.Check(); err != nil {
			return fault.Wrap(err, fault.BadInput, "Correct the value and enter it again. Nothing was written.", "%s", plain(err))
		}
		kept, err := d.store.PutTexts(ctx, words)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the booking was not saved")
		}
		if b.Name = kept[0]; len(kept) > 1 {
			b.Note = &kept[1]
		}
		return d.write(ctx, item{a.ID, a.At, b})
	})
}

// CancelReasons lists why a booking may be cancelled.
func CancelReasons() []string { return []string{"weather", "ice", "guests", "machine"} }

// CancelBooking takes a booking off the roster. It stays on record with its reason; cancelled twice it is cancelled once.
func (d *Desk) CancelBooking(ctx context.Context, a Act, id uuid.UUID, why string) error {
	if !slices.Contains(CancelReasons(), why) {
		return fault.New(fault.BadInput, "Choose weather, ice, guests or machine.", "%q is no reason for cancelling", why)
	}
	v, err := d.Books(ctx)
	if err != nil {
		return err
	}
	b, ok := v.Find(id)
	switch {
	case !ok:
		return fault.New(fault.NotFound, "Choose one of the bookings.", "that booking is not on record")
	case b.State == "cancelled":
		return nil
	}
	return d.Amend(ctx, a, id, map[string]json.RawMessage{"state": json.RawMessage(`"cancelled"`), "why": json.RawMessage(strconv.Quote(why))}, "cancelled")
}

// loadSetting is the key of what goes onto which vehicle; the newest of a day counts.
const loadSetting = "load_out"

// LoadOut is what goes onto the vehicles of a day.
type LoadOut struct {
	Day      journal.Day   `json:"day"`
	Vehicles []VehicleLoad `json:"vehicles"`
}

// VehicleLoad is one vehicle with what it carries.
type VehicleLoad struct {
	Name   string       `json:"name"`
	Class  string       `json:"class"` // as the ice table has it
	Empty  int64        `json:"empty_g"`
	People int          `json:"people"`
	Items  []LoadedItem `json:"items,omitempty"`
}

// LoadedItem is gear: so many of one kind.
type LoadedItem struct {
	What string `json:"what"`
	Each int64  `json:"each_g"`
	N    int    `json:"n"`
}

// Mass gives the whole load on the ice: vehicle, people at the usual figure, gear.
func (l VehicleLoad) Mass() quantity.Mass {
	m := quantity.Mass(l.Empty)*quantity.Gram + quantity.Mass(l.People)*safety.PersonMass
	for _, x := range l.Items {
		m += quantity.Mass(x.Each) * quantity.Gram * quantity.Mass(x.N)
	}
	return m
}

// LoadClasses lists the classes of a load check.
func LoadClasses() []string {
	return []string{"on_foot", "group", "snow_machine", "side_by_side", "car", "truck"}
}

// ParseLoadOut reads one vehicle a line: name; class; empty mass; people; gear each "2 x auger 12 kg", parted by commas.
func ParseLoadOut(day journal.Day, text string) (LoadOut, error) {
	out := LoadOut{Day: day}
	if !day.Valid() {
		return out, fault.New(fault.BadInput, "Choose a day.", "%q is not a date", string(day))
	}
	for i, line := range strings.Split(text, "\n") {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		v, err := parseVehicle(line)
		if err != nil {
			return out, fault.Wrap(err, fault.BadInput, "Write: truck 1; truck; 2900 kg; 3; 2 x auger 12 kg, 4 x battery 3 kg", "line %d: %s", i+1, fault.Public(err).Message)
		}
		out.Vehicles = append(out.Vehicles, v)
	}
	if len(out.Vehicles) > 30 {
		return out, fault.New(fault.BadInput, "", "%d vehicles on one day", len(out.Vehicles))
	}
	return out, nil
}

func parseVehicle(line string) (v VehicleLoad, err error) {
	parts := strings.Split(line, ";")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	if len(parts) < 4 || len(parts) > 5 || parts[0] == "" {
		return v, fault.New(fault.BadInput, "", "a vehicle has a name, a class, its empty mass, its people, and its gear")
	}
	v.Name, v.Class = parts[0], strings.ReplaceAll(parts[1], " ", "_")
	if !slices.Contains(LoadClasses(), v.Class) {
		return v, fault.New(fault.BadInput, "", "%q is none of %s", parts[1], strings.Join(LoadClasses(), ", "))
	}
	grams := func(s string, most quantity.Mass) (int64, error) {
		m, err := quantity.ParseMass(s, quantity.Kilogram)
		if err != nil || !(m >= 0 && m <= most) {
			return 0, fault.New(fault.BadInput, "", "%q is no mass", s)
		}
		return milligrams(m) / 1000, nil
	}
	if v.Empty, err = grams(parts[2], 60*quantity.Tonne); err != nil {
		return v, err
	}
	if v.People, err = strconv.Atoi(parts[3]); err != nil || v.People < 0 || v.People > 60 {
		return v, fault.New(fault.BadInput, "", "%q is no number of people", parts[3])
	}
	if len(parts) == 5 {
		for _, s := range strings.Split(parts[4], ",") {
			if s = strings.TrimSpace(s); s == "" {
				continue
			}
			x := LoadedItem{N: 1}
			if n, rest, many := strings.Cut(s, " x "); many {
				if x.N, err = strconv.Atoi(strings.TrimSpace(n)); err != nil || x.N < 1 || x.N > 999 {
					return v, fault.New(fault.BadInput, "", "%q is no number of pieces", n)
				}
				s = strings.TrimSpace(rest)
			}
			i := strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' })
			if i < 1 {
				return v, fault.New(fault.BadInput, "", "%q tells no piece and its mass", s)
			}
			x.What = strings.TrimSpace(s[:i])
			if x.Each, err = grams(s[i:], 5*quantity.Tonne); err != nil {
				return v, err
			}
			v.Items = append(v.Items, x)
		}
	}
	return v, nil
}

// Text writes a load-out as it is typed.
func (l LoadOut) Text() string {
	var b strings.Builder
	kg := func(g int64) string { return strconv.FormatFloat(float64(g)/1000, 'f', -1, 64) + " kg" }
	for _, v := range l.Vehicles {
		fmt.Fprintf(&b, "%s; %s; %s; %d", v.Name, v.Class, kg(v.Empty), v.People)
		for i, x := range v.Items {
			sep := ", "
			if i == 0 {
				sep = "; "
			}
			fmt.Fprintf(&b, "%s%d x %s %s", sep, x.N, x.What, kg(x.Each))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// TellLoadOut records what goes onto the vehicles of a day.
func (d *Desk) TellLoadOut(ctx context.Context, a Act, l LoadOut) error {
	value, err := json.Marshal(l)
	if err != nil {
		return fmt.Errorf("desk: a load-out: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: loadSetting, Value: value})
}

// LoadOutOf gives the load-out of a day, else the newest of an earlier day as a start; told says which.
func (v View) LoadOutOf(day journal.Day) (l LoadOut, told bool) {
	for _, s := range slices.Backward(v.Lake.Settings(loadSetting)) {
		var x LoadOut
		if s.When.After(v.Now) || json.Unmarshal(s.Value, &x) != nil {
			continue
		}
		if x.Day == day {
			return x, true
		}
		if l.Day == "" && x.Day < day {
			l = x
		}
	}
	return l, false
}

// HoleBudget gives the metres of ice that the batteries can drill on a day, what is drilled, and the thickness to reckon
// with: the mean of the newest day with readings up to it.
func (v View) HoleBudget(day journal.Day) (drill, drilled, ice quantity.Length, from journal.Day) {
	if t := v.Party.Trip(day); t != nil {
		drill = t.Drill
	}
	sum, n := map[journal.Day]quantity.Length{}, map[journal.Day]int{}
	for _, r := range v.Lake.Ice {
		if d := journal.DayOf(r.When, v.Lake.Zone); d <= day && !r.When.After(v.Now) {
			sum[d], n[d] = sum[d]+r.Total, n[d]+1
			from = max(from, d)
		}
	}
	if n[from] > 0 {
		ice = sum[from] / quantity.Length(n[from])
	}
	return drill, quantity.Length(len(v.Lake.HolesOn(day))) * ice, ice, from
}
