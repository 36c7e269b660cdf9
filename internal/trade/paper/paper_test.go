package paper

import (
	"os"
	"strings"
	"testing"
	"time"
)

var zone = time.FixedZone("lake", -3*3600)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, zone) }

func form(t *testing.T, name string) Form {
	t.Helper()
	b, err := os.ReadFile("../../../examples/tamaringen/forms/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	f, err := Parse(b)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// worked is the worked day of the made-up world: 58 kept, 20, 11, 9, 8 and 10.
func worked() Trip {
	perch := func(n int) map[string]int { return map[string]int{"perch": n} }
	return Trip{Date: day(2026, 1, 15), Water: "Lake Tamaringen", Lines: 5, RodTime: 31 * time.Hour, Out: time.Date(2026, 1, 15, 6, 58, 0, 0, zone), Returned: time.Date(2026, 1, 15, 16, 15, 0, 0, zone),
		Guides: []Person{{Name: "Ingrid Vossler", Licence: "G-1"}},
		Clients: []Person{{Name: "Jonas Albrecht", Licence: "L-1", Age: "adult", Kept: perch(20)}, {Name: "Petra Albrecht", Licence: "L-2", Age: "adult", Kept: perch(11), Released: perch(3)},
			{Name: "Lena Albrecht", Age: "child", Kept: perch(9)}, {Name: "Tim Albrecht", Age: "child", Kept: perch(8)}, {Name: "Mr Okafor", Licence: "L-5", Age: "elder", Kept: perch(10)}}}
}

// The two invented forms filled from one day: one row a client, and one a trip, with the day's own totals.
func TestWorkedDay(t *testing.T) {
	a := form(t, "lake-log").Fill(worked())
	if len(a.Rows) != 5 || len(a.Missing) != 0 || strings.Join(a.Rows[2], "|") != "Ingrid Vossler|G-1|2026-01-15|T-017|Lena Albrecht|exempt|child|9|0|0|9" {
		t.Errorf("%v, missing %v", a.Rows, a.Missing)
	}
	for _, s := range a.Sums {
		if !s.Agrees() {
			t.Errorf("%+v", s)
		}
	}
	b := form(t, "landing-sheet").Fill(worked())
	if len(b.Rows) != 1 || len(b.Missing) != 0 || strings.Join(b.Rows[0], "|") != "Ingrid Vossler|2026-01-15|Lake Tamaringen|5|5|06:58|16:15|31.0|58|3" {
		t.Errorf("%v, missing %v", b.Rows, b.Missing)
	}
}

// What the form needs and the record lacks is named: an adult's licence, an hour, a fish without a name.
func TestMissingIsNamed(t *testing.T) {
	w := worked()
	w.Clients[1].Licence, w.Returned, w.Nobody = "", time.Time{}, Person{Kept: map[string]int{"perch": 2}}
	a := strings.Join(form(t, "lake-log").Fill(w).Missing, "; ")
	if !strings.Contains(a, "Client licence of Petra Albrecht") || strings.Contains(a, "Lena") || !strings.Contains(a, "Perch kept: the rows hold 58, the day 60") {
		t.Error(a)
	}
	if b := strings.Join(form(t, "landing-sheet").Fill(w).Missing, "; "); !strings.Contains(b, "Came in") || strings.Contains(b, "Went out") {
		t.Error(b)
	}
	if c := form(t, "lake-log").Fill(Trip{Date: day(2026, 1, 15)}); len(c.Rows) != 0 || !strings.Contains(strings.Join(c.Missing, ";"), "nobody is recorded") {
		t.Errorf("%+v", c)
	}
}

// Deadlines by the minute and by the month, from both sides of midnight, of the year's end, and with nobody reported ashore.
func TestDue(t *testing.T) {
	sheet, log := form(t, "landing-sheet"), form(t, "lake-log")
	at := func(h, m int) time.Time { return time.Date(2026, 1, 15, h, m, 0, 0, zone) }
	for _, c := range []struct {
		name      string
		got, want time.Time
	}{
		{"half an hour after return", sheet.Due(day(2026, 1, 15), at(16, 15)), at(16, 45)},
		{"late return: midnight comes first", sheet.Due(day(2026, 1, 15), at(23, 45)), day(2026, 1, 16)},
		{"nobody reported ashore", sheet.Due(day(2026, 1, 15), time.Time{}), day(2026, 1, 16)},
		{"the tenth of the next month, its end", log.Due(day(2026, 1, 15), at(16, 15)), day(2026, 2, 11)},
		{"over the year's end", log.Due(day(2025, 12, 31), time.Time{}), day(2026, 1, 11)},
	} {
		if !c.got.Equal(c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}

// A month without a trip is due where the form wants it, and only there.
func TestNilMonths(t *testing.T) {
	trips := []time.Time{day(2025, 12, 14), day(2025, 12, 20), day(2026, 2, 3)}
	months := form(t, "lake-log").Months(day(2025, 12, 1), day(2026, 2, 20), trips)
	if len(months) != 3 || months[0].Trips != 2 || !months[1].Nil || months[1].Due != day(2026, 2, 11) || months[2].Nil {
		t.Errorf("%+v", months)
	}
	if m := form(t, "landing-sheet").Months(day(2025, 12, 1), day(2026, 2, 20), trips); len(m) != 2 || m[0].Nil || m[1].Nil {
		t.Errorf("%+v", m)
	}
}

// A form that cannot be is refused with the field named.
func TestBadForms(t *testing.T) {
	b, err := os.ReadFile("../../../examples/tamaringen/forms/lake-log.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, says string }{
		{`"from": "guide_name"`, `"from": "position"`, `field 1 (Guide) is taken from "position"`}, {`"rows": "client"`, `"rows": "trip"`, "is about one client"}, {`"rows": "client"`, `"rows": "hole"`, "neither trip nor client"},
		{`"day_of_next_month": 10`, `"day_of_next_month": 31`, "due is not told"}, {`"form": "lake-log"`, `"form": "../x"`, "short name"}, {`2025-11-01`, `2025-13-01`, "is not a date"}, {`"nil_months": true`, `"nil_monts": true`, "unknown field"},
		{`"label": "Guide"`, `"label": ""`, "has no label"}, {`"exempt": ["child"]`, `"exempt": ["dog"]`, "exempts an age"}, {`"from": "date"`, `"from": "date", "species": "perch"`, "counts no fish"},
	} {
		text := strings.Replace(string(b), c.from, c.to, 1)
		if text == string(b) {
			t.Fatalf("%s is not in the form", c.from)
		}
		if _, err := Parse([]byte(text)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.to, err)
		}
	}
}

// FuzzParse: whatever is entered, a form that is taken can be filled without a panic, one cell a field.
func FuzzParse(f *testing.F) {
	for _, name := range []string{"lake-log", "landing-sheet"} {
		b, err := os.ReadFile("../../../examples/tamaringen/forms/" + name + ".json")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte(`{"form":"x"}{}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := Parse(data)
		if err != nil {
			return
		}
		for _, row := range x.Fill(worked()).Rows {
			if len(row) != len(x.Fields) {
				t.Fatal("a row of another length")
			}
		}
		if x.Due(day(2026, 1, 15), time.Time{}).IsZero() {
			t.Fatal("a form without a deadline")
		}
	})
}
