package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"icehand/internal/trade/journal"
)

// send posts a form and gives the status, and the page it leads to.
func send(t *testing.T, h http.Handler, path string, pairs ...string) (int, string) {
	t.Helper()
	form := url.Values{"id": {journal.NewID().String()}}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if to, _, _ := strings.Cut(w.Header().Get("Location"), "#"); to != "" {
		page := httptest.NewRecorder()
		h.ServeHTTP(page, httptest.NewRequest(http.MethodGet, to, nil))
		return w.Code, page.Body.String()
	}
	return w.Code, w.Body.String()
}

// The pages Trip plan and Party from empty to told, and what is refused there: a plan left, a check-in, an incident, notes, a guest out of sight, what is left,
// a hole marked and one opened again.
func TestPlanAndParty(t *testing.T) {
	d, h, made := demo(t, true)
	jonas := made.People[1].ID.String()
	hole := ""
	if g, err := d.Gathering(t.Context()); err != nil || len(g.Open) == 0 {
		t.Fatalf("%v", err)
	} else {
		hole = g.Open[0].ID.String()
	}
	plan := []string{"day", "2026-01-15", "watcher", "Ruth Vossler", "calls", "Dale Harkin, 555 0142", "areas", "the flat", "sealed", "A: 47.91234, -45.01234", "check_in", "180", "after-call_party", "10", "after-look_for", "20", "after-call_rescue", "40", "dark-call_rescue", "20"}
	for _, x := range []struct {
		what, path string
		form       []string
		code       int
		says       string
		never      string
	}{
		{"a plan", "/plan", plan, 303, "Watching: Ruth Vossler", "47.91234"},
		{"a plan without a watcher", "/plan", []string{"day", "2026-01-15"}, 400, "names no watcher", ""},
		{"minutes that are none", "/plan", []string{"day", "2026-01-15", "watcher", "R", "check_in", "often"}, 400, "is no number of minutes", ""},
		{"a check-in", "/plan/tell", []string{"what", "check_in"}, 303, "checked in", "Check-in missed"},
		{"what cannot happen", "/plan/tell", []string{"what", "lunch"}, 400, "none of", ""},
		{"the seal", "/plan/open", []string{"by", "Ruth"}, 409, "stay sealed", "47.91234"},
		{"an incident", "/plan/tell", []string{"what", "incident", "back", "/help"}, 303, "Incident since", ""},
		{"the seal in an incident", "/plan/open", []string{"by", "Ruth"}, 200, "47.91234", ""},
		{"its end", "/plan/tell", []string{"what", "incident_over"}, 303, "incident ended", "Incident since"},
		{"notes", "/roster", []string{"person", jonas, "notes", "red coat", "licence", "TX 90 417", "seen", "yes", "until", "2026-12-31"}, 303, "red coat", "TX 90 417"},
		{"a date that is none", "/roster", []string{"person", jonas, "until", "soon"}, 400, "is not a date", ""},
		{"out of sight", "/claim", []string{"person", jonas, "state", "unseen", "back", "/party"}, 303, "Jonas Albrecht: reports contradict, or out of sight.", ""},
		{"found", "/claim", []string{"person", jonas, "state", "on_ice"}, 303, "6 on the ice", "is out of sight"},
		{"battery", "/supply", []string{"what", "battery", "left", "10"}, 303, "10 % left", ""},
		{"too much battery", "/supply", []string{"what", "battery", "left", "900"}, 400, "outside", ""},
		{"a hole marked", "/hole-state", []string{"hole", hole, "state", "marked"}, 303, "1 marked", ""},
		{"no such hole", "/hole-state", []string{"number", "9999", "day", "2026-01-15", "state", "reopened"}, 404, "not on record", ""},
		{"a hole without a day", "/hole-state", []string{"number", "3", "state", "reopened"}, 400, "hole is named", ""},
	} {
		code, page := send(t, h, x.path, x.form...)
		if code != x.code || !strings.Contains(page, x.says) || x.never != "" && strings.Contains(page, x.never) {
			t.Errorf("%s: %d, want %d saying %q and not %q", x.what, code, x.code, x.says, x.never)
		}
	}
}
