package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/host/desk"
	"icehand/internal/host/web"
)

// A clock that was set back is the first thing that every page's strip says, whatever else stands there, until one press on
// the turn-back page says that it is right.
func TestAClockSetBackOnThePages(t *testing.T) {
	s, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	st := newStore(s.Now)
	if err := s.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	now, passed := s.Now, time.Duration(0)
	d, err := desk.Open(t.Context(), st, desk.Options{Seed: 15, Clock: func() time.Time { return now }, Passed: func() time.Duration { return passed }, Recall: surfaces.Recall, Keep: surfaces.Keep})
	if err != nil {
		t.Fatal(err)
	}
	h := web.New(web.Options{Desk: d, Static: "/static/x/"})
	const said = "clock went back"
	if page := get(h, "/people").Body.String(); strings.Contains(page, said) {
		t.Fatal("the clock went back before it did")
	}
	sent(t, h, "/turn-back", form("until", "14:00", "reason", "agreed_ashore"))
	passed, now = passed+10*time.Minute, now.Add(-50*time.Minute)
	for _, path := range []string{"/", "/people", "/ice"} {
		page := get(h, path).Body.String()
		if !strings.Contains(page, "This clock went back 60 min: turn-back comes as much earlier. Check it.") || !strings.Contains(page, "13:00") {
			t.Errorf("%s does not say it", path)
		}
	}
	if page := get(h, "/turn-back").Body.String(); !strings.Contains(page, "The clock went back 1 h today") || !strings.Contains(page, "/clock-right") {
		t.Error("the turn-back page has no way back")
	}
	sent(t, h, "/clock-right", form())
	for _, path := range []string{"/", "/turn-back"} {
		if page := get(h, path).Body.String(); strings.Contains(page, said) || !strings.Contains(page, "14:00") {
			t.Errorf("%s still says it", path)
		}
	}
	if w := post(h, "/clock-right", form()); w.Code != http.StatusNotFound {
		t.Errorf("nothing to take back: %d", w.Code)
	}
}
