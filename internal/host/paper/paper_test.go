package paper_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"icehand/internal/host/desk"
	"icehand/internal/host/paper"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

// opened is the made-up lake at 09:50 of 15 January, with the pages; one for all tests, each of which writes what it reads.
var opened = sync.OnceValues(func() (*desk.Desk, error) {
	s, err := sim.NewDemo(15)
	if err != nil {
		return nil, err
	}
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: s.Now})
	if err := s.Fill(context.Background(), st); err != nil {
		return nil, err
	}
	return desk.Open(context.Background(), st, desk.Options{Seed: 15, Clock: func() time.Time { return s.Now }})
})

func shop(t *testing.T) (*desk.Desk, http.Handler) {
	t.Helper()
	d, err := opened()
	if err != nil {
		t.Fatal(err)
	}
	return d, web.New(web.Options{Desk: d, Static: "/static/x/", Extras: paper.New(d).Extras()})
}

func get(t *testing.T, h http.Handler, path string) string {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
	}
	return w.Body.String()
}

func post(h http.Handler, path string, pairs ...string) *httptest.ResponseRecorder {
	f := url.Values{"id": {journal.NewID().String()}, "day": {"2026-01-15"}}
	for i := 0; i < len(pairs); i += 2 {
		f.Set(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(f.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func taken(t *testing.T, w *httptest.ResponseRecorder) {
	t.Helper()
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
}

func example(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile("../../../examples/tamaringen/forms/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func table(t *testing.T, text string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Both invented forms are taken in, filled from the day, told as due, handed in, and put away.
func TestLogs(t *testing.T) {
	d, h := shop(t)
	if page := get(t, h, "/paper"); !strings.Contains(page, "No form is entered.") {
		t.Error("a form out of nowhere")
	}
	for _, name := range []string{"lake-log", "landing-sheet"} {
		taken(t, post(h, "/paper/form", "map", example(t, name)))
	}
	page := get(t, h, "/paper")
	for _, want := range []string{"Guide log, Tamaringen waters", "Due by 2026-02-10 midnight.", "Due by 2026-01-15 midnight.", "it may be due sooner, 30 min after return", "Guide licence", "Client licence of Jonas Albrecht", "exempt", "agrees with the tally"} {
		if !strings.Contains(page, want) {
			t.Errorf("the logs lack %q", want)
		}
	}
	rows := table(t, get(t, h, "/paper/log.csv?form=lake-log&day=2026-01-15"))
	kept := 0
	err := d.Read(t.Context(), func(v desk.View) error {
		for _, c := range v.Party.Tally("2026-01-15") {
			kept += c.Kept["perch"]
		}
		return nil
	})
	sum := 0
	for _, r := range rows[1:] {
		n := 0
		for _, c := range r[7] {
			n = 10*n + int(c-'0')
		}
		sum += n
	}
	if err != nil || len(rows) < 4 || rows[0][7] != "Perch kept" || sum != kept || kept == 0 {
		t.Errorf("%d rows, %d perch of %d, %v", len(rows), sum, kept, err)
	}
	taken(t, post(h, "/paper/made", "form", "lake-log", "of", "2026-01-15"))
	if page := get(t, h, "/paper"); !strings.Contains(page, "Handed in 2026-01-15 09:50.") {
		t.Error("it is not told as handed in")
	}
	taken(t, post(h, "/paper/form", "drop", "lake-log"))
	if page := get(t, h, "/paper"); strings.Contains(page, "Guide log, Tamaringen") || !strings.Contains(page, "Landing sheet") {
		t.Error("the wrong form was put away")
	}
	for _, w := range []*httptest.ResponseRecorder{post(h, "/paper/form", "map", `{"form":"x"}`), post(h, "/paper/made", "form", "landing-sheet", "of", "soon"), post(h, "/paper/form", "map", strings.Repeat(" ", 33<<10))} {
		if w.Code != http.StatusBadRequest {
			t.Errorf("status %d", w.Code)
		}
	}
}

// The bags are held against the tally from both sides: as many, one fewer, one more.
func TestCleaning(t *testing.T) {
	_, h := shop(t)
	page := get(t, h, "/paper/cleaning")
	fields := regexp.MustCompile(`<strong>(\d+)</strong></td>\s*<td><input name="(bag [^"]+)"`).FindAllStringSubmatch(page, -1)
	if len(fields) < 3 || !strings.Contains(page, "Nobody has counted the bags.") {
		t.Fatalf("%d rows", len(fields))
	}
	count := func(first int) string {
		var pairs []string
		for i, f := range fields {
			n := f[1]
			if i == 0 {
				n = map[int]string{0: n, -1: "0", 1: n + "0"}[first]
			}
			pairs = append(pairs, f[2], n)
		}
		taken(t, post(h, "/paper/bags", pairs...))
		return get(t, h, "/paper/cleaning")
	}
	// the row counted wrong must hold fish, or fewer cannot be
	for i, f := range fields {
		if f[1] != "0" {
			fields[0], fields[i] = fields[i], fields[0]
			break
		}
	}
	if page := count(0); strings.Contains(page, "in the bag<") || !strings.Contains(page, "agrees") {
		t.Error("as many fish and yet they differ")
	}
	if page := count(-1); !strings.Contains(page, "fewer in the bag") {
		t.Error("a fish that is gone is not told")
	}
	if page := count(1); !strings.Contains(page, "more in the bag") {
		t.Error("a fish too many is not told")
	}
	for _, n := range []string{"-3", "3.5", "900"} {
		if w := post(h, "/paper/bags", fields[0][2], n); w.Code != http.StatusBadRequest {
			t.Errorf("%s: status %d", n, w.Code)
		}
	}
}

// The load-out adds up by hand, and the load check never says that the ice is good.
func TestPartySheet(t *testing.T) {
	_, h := shop(t)
	taken(t, post(h, "/paper/load", "loads", "truck 1; truck; 2900 kg; 3; 2 x auger 12 kg, 4 x battery 3.5 kg\n\nsled; snow machine; 320 kg; 1"))
	page := get(t, h, "/paper/party")
	for _, want := range []string{"truck 1: 3268 kg", "sled: 430 kg", "2 x auger, 24 kg", "4 x battery, 14 kg", "The batteries drill", "Petra Albrecht: licence not seen", "a child may be exempt"} {
		if !strings.Contains(page, want) {
			t.Errorf("the sheet lacks %q", want)
		}
	}
	if !strings.Contains(page, "table") || regexp.MustCompile(`(?i)\bsafe\b|\bOK\b`).MatchString(page) {
		t.Error("the load check says too little or too much")
	}
	if next := get(t, h, "/paper/party?day=2026-01-16"); !strings.Contains(next, "change it and save it for this day") {
		t.Error("the load-out of the day before is no start")
	}
	for line, says := range map[string]string{"truck": "Line 1: a vehicle has a name", "a; boat; 1 kg; 1": "is none of", "a; truck; heavy; 1": "is no mass", "a; truck; 1 kg; -1": "is no number of people", "a; truck; 1 kg; 1; 3 x auger": "tells no piece and its mass", "a; truck; 1 kg; 1; many x auger 3 kg": "is no number of pieces"} {
		if w := post(h, "/paper/load", "loads", line); w.Code != http.StatusBadRequest || !strings.Contains(w.Body.String(), says) {
			t.Errorf("%s: status %d: %s", line, w.Code, w.Body)
		}
	}
}

// A booking stands on its day's roster and in its calendar, without a place; cancelled, even twice, it is on neither.
func TestRoster(t *testing.T) {
	_, h := shop(t)
	taken(t, post(h, "/paper/booking", "day", "2026-01-20", "name", "Okafor", "people", "4", "children", "1", "meet", "06:15", "note", "knee"))
	page := get(t, h, "/paper/party?day=2026-01-20")
	if !strings.Contains(page, "4 people, 1 of them children, booked, meet 06:15") || !strings.Contains(page, "knee") {
		t.Error("the booking is not on the roster")
	}
	ics := get(t, h, "/paper/roster.ics?day=2026-01-20")
	if !strings.Contains(ics, "DTSTART:20260120T091500Z") || !strings.Contains(ics, "Okafor\\, 4 people") || strings.Contains(ics, "GEO") || strings.Contains(ics, "knee") {
		t.Error(ics)
	}
	id := regexp.MustCompile(`name="booking" value="([0-9a-f-]+)"`).FindStringSubmatch(page)
	for range 2 {
		taken(t, post(h, "/paper/cancel", "booking", id[1], "why", "ice", "day", "2026-01-20"))
	}
	if page := get(t, h, "/paper/party?day=2026-01-20"); strings.Contains(page, "Okafor") || strings.Contains(get(t, h, "/paper/roster.ics?all=yes&day=2026-01-01"), "Okafor") {
		t.Error("a cancelled booking is still there")
	}
	for _, f := range [][]string{{"name", "", "people", "3"}, {"name", "x", "people", "0"}, {"name", "x", "people", "100"}, {"name", "x", "people", "2", "children", "3"}, {"name", "x", "people", "2", "meet", "dawn"}, {"name", "x", "people", "2", "day", "2026-02-30"}} {
		if w := post(h, "/paper/booking", f...); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
	if w := post(h, "/paper/cancel", "booking", journal.NewID().String(), "why", "ice"); w.Code != http.StatusNotFound {
		t.Errorf("status %d", w.Code)
	}
}

// More lines than the page shows at first are never left out in silence: it says how many there are and leads to all of them.
func TestBooksTellOfLinesNotShown(t *testing.T) {
	_, h := shop(t)
	const first, more = 200, 203
	const year = "/paper/books?from=2024-01-01&to=2024-12-31" // in which no other test writes
	lines := func(page string) int { return strings.Count(page, "<td>income</td>") }
	for i := range more {
		taken(t, post(h, "/paper/line", "what", "income", "amount", fmt.Sprint(1+i), "day", "2024-03-01"))
		if i == first-1 {
			if page := get(t, h, year); lines(page) != first || strings.Contains(page, "Show all lines") {
				t.Errorf("%d lines of %d", lines(page), first)
			}
		}
	}
	page := get(t, h, year)
	if lines(page) != first || !strings.Contains(page, "The newest 200 of 203 lines.") || !strings.Contains(page, "20706.00") {
		t.Errorf("%d lines of %d", lines(page), more)
	}
	_, address, found := strings.Cut(page, `href="/paper/books?all=yes`)
	address, _, _ = strings.Cut(address, `"`)
	if !found || lines(get(t, h, "/paper/books?all=yes"+html.UnescapeString(address))) != more {
		t.Errorf("the way to all lines: %q", address)
	}
}

// Lines add up to the hundredth, and go out as CSV with a sign; words that a spreadsheet would run stay words.
func TestBooks(t *testing.T) {
	_, h := shop(t)
	for _, f := range [][]string{{"what", "income", "amount", "600.10"}, {"what", "cost", "amount", "45,5", "item", "=bait"}, {"what", "refund", "amount", "100"}, {"what", "gear", "amount", "1.5", "item", "auger 2"}, {"what", "distance", "amount", "84 km"}} {
		taken(t, post(h, "/paper/line", f...))
	}
	page := get(t, h, "/paper/books")
	for _, want := range []string{"454.60", "600.10", "-45.50", "-100.00", "1.5 h", "84 km"} {
		if !strings.Contains(page, want) {
			t.Errorf("the books lack %q", want)
		}
	}
	rows := table(t, get(t, h, "/paper/books.csv"))
	if len(rows) != 6 || strings.Join(rows[2], "|") != "2026-01-15|cost|'=bait|-45.50|||" || rows[4][4] != "1.50" || rows[5][5] != "84.0" {
		t.Errorf("%q", rows)
	}
	trips := table(t, get(t, h, "/paper/trips.csv"))
	if len(trips) < 5 || trips[1][0] != "2026-01-15" || trips[1][1] != "5" || trips[1][4] != "454.60" || trips[2][4] != "0.00" {
		t.Errorf("%q", trips)
	}
	for _, f := range [][]string{{"what", "cost", "amount", "-3"}, {"what", "cost", "amount", "1.234"}, {"what", "cost", "amount", "0"}, {"what", "gift", "amount", "3"}, {"what", "gear", "amount", "2"}, {"what", "gear", "amount", "0", "item", "x"}, {"what", "distance", "amount", "far"}, {"what", "cost", "amount", "1", "day", "yesterday"}} {
		if w := post(h, "/paper/line", f...); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
	if w := post(h, "/paper/line", "what", "income", "amount", "5", "booking", journal.NewID().String()); w.Code != http.StatusNotFound {
		t.Errorf("status %d", w.Code)
	}
}
