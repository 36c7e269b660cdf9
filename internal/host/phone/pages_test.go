package phone

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// The evening before: the page says of when the weather, the lake and past winters are, and what has not come.
func TestWhatThePhoneHolds(t *testing.T) {
	st := mem.New(store.NewIdentity(morning))
	now := morning
	d, err := desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return now }})
	must(t, err)
	pages := web.New(web.Options{Desk: d, Static: "files/", Phone: true, Extras: []web.Extra{state(d, func() int { return 7 })}})
	page := func() string {
		r := Answer(context.Background(), pages, Request{Method: http.MethodGet, Path: "/app"})
		if r.Status != http.StatusOK {
			t.Fatalf("status %d: %s", r.Status, r.Body)
		}
		return string(r.Body)
	}
	says := func(when string, want ...string) {
		t.Helper()
		got := page()
		for _, w := range want {
			if !strings.Contains(got, "<td>"+w+"</td>") {
				t.Errorf("%s: the page does not say %q:\n%s", when, w, got[strings.Index(got, "<table"):strings.Index(got, "</table>")])
			}
		}
	}
	says("empty", "none: fetch a forecast ashore", "no outline; no soundings", "none", "7 entries on this phone")
	must(t, d.FoundLake(t.Context(), desk.Act{}, "Square", geo.Position{Lat: 47.9, Lon: -45}, "Etc/GMT+3", ""))
	var hours []string
	for h := range 12 {
		hours = append(hours, fmt.Sprintf(`{"time":"%s","data":{"instant":{"details":{"air_temperature":-8.0,"wind_speed":3.0,"wind_from_direction":200}}}}`, morning.Add(time.Duration(h)*time.Hour).Format(time.RFC3339)))
	}
	forecast := `{"type":"Feature","geometry":{"type":"Point","coordinates":[-45,47.9,0]},"properties":{"meta":{"updated_at":"` + morning.Add(-2*time.Hour).Format(time.RFC3339) + `","units":{"air_temperature":"celsius","wind_speed":"m/s","wind_from_direction":"degrees"}},"timeseries":[` + strings.Join(hours, ",") + `]}}`
	layer := func(what, name, text string, held bool) {
		h := journal.Sum([]byte(text))
		if held {
			var err error
			h, err = st.PutBlob(t.Context(), []byte(text))
			must(t, err)
		}
		must(t, d.Record(t.Context(), desk.Act{}, &journal.Layer{What: what, Blob: h, Name: name, Media: "application/json"}))
	}
	layer("forecast", "forecast.json", forecast, true)
	layer("outline", "outline.json", "outline", true)
	layer("soundings", "depths.csv", "lat,lon,depth_m\n", false)
	must(t, d.Record(t.Context(), desk.Act{ID: hole, At: morning.AddDate(-2, 0, -1)}, &journal.Hole{Number: 1}))
	for _, ago := range []int{1, 2} {
		must(t, d.Record(t.Context(), desk.Act{At: morning.AddDate(-ago, 0, 0)}, &journal.Look{Hole: hole, Seconds: 30, Marks: "none"}))
	}
	says("the evening before", "of 06:00, 2 h ago, until 20:00", "outline of 08:00, just now; soundings of 08:00: its file has not come. Bring ashore now", "2 winters, 2 days with looks, the last 2025-01-15")
	now = morning.Add(15 * time.Hour)
	says("late", "of 06:00, 17 h ago: it ended at 20:00. Fetch a new one ashore")
}
