package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// form makes a form of pairs, with an identity of its own.
func form(pairs ...string) url.Values {
	f := url.Values{"id": {journal.NewID().String()}}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

// sent posts a form twice, as a phone does that heard no answer, and wants it taken both times.
func sent(t *testing.T, h http.Handler, path string, f url.Values) (location string) {
	t.Helper()
	for range 2 {
		w := post(h, path, f)
		if w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
		}
		location = w.Header().Get("Location")
	}
	return location
}

func view(t *testing.T, d *desk.Desk) (v desk.View) {
	t.Helper()
	if err := d.Read(t.Context(), func(x desk.View) error { v = x; return nil }); err != nil {
		t.Fatal(err)
	}
	return v
}

// someone gives a person of today.
func someone(t *testing.T, d *desk.Desk) uuid.UUID {
	t.Helper()
	v := view(t, d)
	for _, g := range v.Party.Guests {
		if g.Day == v.Today {
			return g.ID
		}
	}
	t.Fatal("nobody is out today")
	return uuid.Nil
}

// TestHazardReport: a newer report supersedes the older one, which stays on record; it takes a person of today.
func TestHazardReport(t *testing.T) {
	d, h, _ := demo(t, true)
	sent(t, h, "/hazard", form("what", "slush"))
	hazards := view(t, d).Lake.Hazards
	old := hazards[len(hazards)-1]
	page := get(h, "/ice").Body.String()
	if !strings.Contains(page, "report-"+old.ID.String()) {
		t.Fatal("the hazard is not listed on Ice")
	}
	for _, f := range []url.Values{form("of", old.ID.String(), "report", "gone"), form("of", old.ID.String(), "report", "gone", "by", journal.NewID().String()),
		form("of", old.ID.String(), "report", "maybe", "by", someone(t, d).String())} {
		if w := post(h, "/report", f); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
	had := len(view(t, d).Lake.Hazards)
	sent(t, h, "/report", form("of", old.ID.String(), "report", "gone", "by", someone(t, d).String()))
	hazards = view(t, d).Lake.Hazards
	gone := hazards[len(hazards)-1]
	if len(hazards) != had+1 || gone.InForce() || gone.Supersedes != old.ID || !strings.HasSuffix(gone.By, someone(t, d).String()) {
		t.Errorf("%d hazards more, the last %+v", len(hazards)-had, gone)
	}
	if strings.Contains(get(h, "/ice").Body.String(), "cleared") {
		t.Error("the page says cleared")
	}
	sent(t, h, "/undo", form())
	for _, z := range view(t, d).Lake.Hazards {
		if z.ID == old.ID && !z.InForce() {
			t.Error("undo left the hazard gone")
		}
	}
}

// TestParked: a load stands with its clock until it is said to have left.
func TestParked(t *testing.T) {
	d, h, _ := demo(t, true)
	standing := func() (n int, newest uuid.UUID) {
		for _, p := range view(t, d).Lake.Parked {
			if p.Until.IsZero() {
				n, newest = n+1, p.ID
			}
		}
		return n, newest
	}
	had, _ := standing()
	sent(t, h, "/parked", form("what", "tracked van", "mass", "2.1 t"))
	n, id := standing()
	if n != had+1 {
		t.Fatalf("%d loads stand, want %d", n, had+1)
	}
	if page := get(h, "/ice").Body.String(); !strings.Contains(page, "tracked van, 2100 kg, since 09:50, 0 s, move it by 11:50") || !strings.Contains(page, ": move it") {
		t.Error("Ice does not show the loads with their clocks")
	}
	sent(t, h, "/parked", form("of", id.String()))
	if n, _ = standing(); n != had {
		t.Errorf("%d loads stand after one left, want %d", n, had)
	}
	for _, f := range []url.Values{form("what", "van", "mass", "heavy"), form("what", "van", "mass", "0"), form("what", "van", "mass", "900 t"), form("mass", "900")} {
		if w := post(h, "/parked", f); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
	if w := post(h, "/parked", form("of", journal.NewID().String())); w.Code != http.StatusNotFound {
		t.Errorf("a load nobody parked left: status %d", w.Code)
	}
}

// TestTripOfTomorrow: a trip is told ahead, and the evening plan takes it up.
func TestTripOfTomorrow(t *testing.T) {
	d, h, _ := demo(t, true)
	if to := sent(t, h, "/trip", form("day", "2026-01-16", "rods", "3", "travel", "machine", "landing", "47.80427, -45.10962", "ashore", "15:45", "drill", "18", "aim", "size", "target", "Walleye")); to != "/evening?day=2026-01-16" {
		t.Errorf("leads to %s", to)
	}
	trip := view(t, d).Party.Trip("2026-01-16")
	if trip == nil || trip.Rods != 3 || trip.Travel != "machine" || trip.Landing == nil || trip.Drill != 18 || trip.Aim != "size" || trip.Target != "walleye" || trip.Agreed.UTC().Format("15:04") != "18:45" {
		t.Errorf("%+v", trip)
	}
	if page := get(h, "/evening?day=2026-01-16").Body.String(); !strings.Contains(page, "3 rods, by snow machine") || !strings.Contains(page, "Depths miss holes left out by") {
		t.Error("the evening plan does not take it up, or does not say how far depths can be trusted")
	}
	for _, f := range []url.Values{form("day", "2026-01-14", "rods", "3", "travel", "foot"), form("day", "2026-01-16", "rods", "0", "travel", "foot"), form("day", "2026-01-16", "rods", "3", "travel", "swim"),
		form("day", "2026-01-16", "rods", "3", "travel", "foot", "landing", "home"), form("day", "2026-01-16", "rods", "3", "travel", "foot", "ashore", "late"),
		form("day", "2026-01-16", "rods", "3", "travel", "foot", "drill", "much")} {
		if w := post(h, "/trip", f); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
}

// TestTurnBackNeedsItsReason: without one of the five, or for a time that is over, nothing is set.
func TestTurnBackNeedsItsReason(t *testing.T) {
	d, h, _ := demo(t, true)
	for _, f := range []url.Values{form("until", "15:30"), form("until", "15:30", "reason", "because"), form("until", "09:00", "reason", "party_faster"), form("until", "soon", "reason", "party_faster"),
		form("reason", "party_faster")} {
		if w := post(h, "/turn-back", f); w.Code != http.StatusBadRequest {
			t.Errorf("%v: status %d", f, w.Code)
		}
	}
	if w := get(h, "/turn-back?until=15:30&reason=party_faster"); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Later than 14:58") {
		t.Errorf("status %d", w.Code)
	}
	if n := len(view(t, d).Party.TurnBack); n != 0 {
		t.Fatalf("%d overrides set by looking", n)
	}
	sent(t, h, "/turn-back", form("until", "14:00", "reason", "agreed_ashore"))
	if page := get(h, "/day").Body.String(); !strings.Contains(page, "Set to 14:00 at 09:50, agreed with the shore. Computed: 14:58.") {
		t.Error("Day does not show what was set and what was computed")
	}
	sent(t, h, "/undo", form())
	if n := len(view(t, d).Party.TurnBack); n != 0 {
		t.Errorf("%d overrides after undo", n)
	}
}

// TestLoneRodNeedsNoCount: the head count is asked for when people move, not when an idle rod sits down.
func TestLoneRodNeedsNoCount(t *testing.T) {
	d, h, _ := demo(t, true)
	v := view(t, d)
	sit := v.Party.RodsAt(v.Now)[0]
	to := sent(t, h, "/up", form("sit", sit.ID.String()))
	if page := get(h, to).Body.String(); !strings.Contains(page, "Moving. Count 6.") {
		t.Error("the last line up at a hole asks for no head count")
	}
	to = sent(t, h, "/sit", form("rod", "1", "hole", sit.Hole.String())) // not where the scout is sent next: with the clock standing still that would be a move
	if page := get(h, to).Body.String(); strings.Contains(page, "Moving.") {
		t.Error("an idle rod that sits down asks for a head count")
	}
}

// TestChosenHole: a hole that was chosen by hand goes with every key and every way on from Now, whatever the fix says.
func TestChosenHole(t *testing.T) {
	d, h, _ := demo(t, false)
	v := view(t, d)
	hole := v.Lake.HolesOn(v.Today)[2]
	page := get(h, "/?hole="+hole.ID.String()).Body.String()
	field := `name="hole" value="` + hole.ID.String() + `"`
	if n := strings.Count(page, field); n != 7 { // three looks, three fish, the sit
		t.Errorf("%d keys go to the hole, want 7", n)
	}
	for _, want := range []string{"Hole 3 chosen", "/ice?hole=" + hole.ID.String(), "/keys?hole=" + hole.ID.String(), "/depth?hole=" + hole.ID.String()} {
		if !strings.Contains(page, want) {
			t.Errorf("Now lacks %q", want)
		}
	}
	sent(t, h, "/look", form("marks", "many", "hole", hole.ID.String()))
	looks := view(t, d).Lake.Looks
	if l := looks[len(looks)-1]; l.Hole != hole.ID {
		t.Errorf("the look went to %v", l.Hole)
	}
	for path, status := range map[string]int{"/?hole=x": 400, "/?hole=" + journal.NewID().String(): 404, "/depth": 400, "/place?hole=" + journal.NewID().String(): 404} {
		if w := get(h, path); w.Code != status {
			t.Errorf("%s: status %d, want %d", path, w.Code, status)
		}
	}
}
