package web_test

import (
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/importing"
	"icehand/internal/host/web"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

// history is U28 of trade.md: 50,000 holes in the record, here with a look each, a hundred a day over the days of earlier winters.
const history = 50_000

// oldDrafts makes holes of earlier winters about the place where the demo fishes, each with a look.
func oldDrafts(s *sim.Demo, holes int) []journal.Draft {
	var author journal.Author
	for _, d := range s.Diary.Drafts {
		if d.Kind == journal.KindHole {
			author = journal.Author{Lake: d.Lake, Zone: time.FixedZone(d.Zone, -3*3600)}
			break
		}
	}
	rng := rand.New(rand.NewPCG(50, 15))
	about := s.Lake.Frame.Local(s.Scout)
	day := time.Date(2025, 3, 20, 12, 0, 0, 0, time.UTC)
	out := make([]journal.Draft, 0, 2*holes)
	for i := range holes {
		if i%100 == 0 && i > 0 {
			day = day.AddDate(0, 0, -1)
			if day.Month() == time.December && day.Day() < 10 {
				day = time.Date(day.Year(), 3, 20, 12, 0, 0, 0, time.UTC)
			}
		}
		at := day.Add(time.Duration(i%100) * 4 * time.Minute)
		hole, depth := journal.NewID(), int64(4000+rng.IntN(9000))
		place := s.Lake.Frame.Position(about.Add(geo.Local{E: rng.NormFloat64() * 700, N: rng.NormFloat64() * 700}))
		out = append(out, author.Draft(hole, at, at, &journal.Hole{Number: int64(i%100 + 1), At: journal.PointOf(place), Depth: &depth, DepthBy: "sonar"}),
			author.Draft(journal.NewID(), at.Add(time.Minute), at.Add(time.Minute), &journal.Look{Hole: hole, Seconds: 30, Marks: []string{"none", "none", "few", "many"}[rng.IntN(4)]}))
	}
	return out
}

// TestFiftyThousandHoles measures, with ICEHAND_MEASURE set, what pages take with 50,000 old holes in the record, beside the demo without them. It holds
// nothing to a figure: a busy machine says nothing of a phone. docs/bench keeps a run.
func TestFiftyThousandHoles(t *testing.T) {
	if os.Getenv("ICEHAND_MEASURE") == "" {
		t.Skip("set ICEHAND_MEASURE to measure")
	}
	s, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	for _, holes := range []int{0, history} {
		st := newStore(s.Now)
		who, err := st.Identity(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		drafts := oldDrafts(s, holes)
		for i := range drafts {
			drafts[i].Outfit, drafts[i].Account = who.Outfit, who.Account
		}
		if err := s.Fill(t.Context(), st); err != nil {
			t.Fatal(err)
		}
		for len(drafts) > 0 {
			n := min(1000, len(drafts))
			if _, err := st.Append(t.Context(), drafts[:n]); err != nil {
				t.Fatal(err)
			}
			drafts = drafts[n:]
		}
		at := s.Lake.Frame.Local(s.Scout)
		start := time.Now()
		d, err := desk.Open(t.Context(), st, desk.Options{Seed: 15, Clock: func() time.Time { return s.Now }, Recall: surfaces.Recall, Keep: surfaces.Keep,
			Position: func(now time.Time) advise.Place {
				return advise.Place{At: at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
			}})
		if err != nil {
			t.Fatal(err)
		}
		h := web.New(web.Options{Desk: d, Static: "/static/x/", Extras: importing.New(d).Extras()})
		known := 0
		if err := d.Read(t.Context(), func(v desk.View) error { known = len(v.Lake.Holes); return nil }); err != nil {
			t.Fatal(err)
		}
		if known < holes {
			t.Fatalf("%d holes on record, want %d and more", known, holes)
		}
		t.Logf("%d holes: opened and read in %v", known, time.Since(start).Round(time.Millisecond))
		for _, path := range []string{"/", "/map", "/map/lake.json", "/map/today.json", "/map/odds.json", "/map/odds.png", "/day", "/evening", "/holes", "/people", "/ice", "/way", "/help"} {
			var first time.Duration
			best := time.Hour
			size := 0
			for i := range 6 {
				start := time.Now()
				w := get(h, path)
				took := time.Since(start)
				if w.Code != 200 {
					t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
				}
				size = w.Body.Len()
				if i == 0 {
					first = took
				} else {
					best = min(best, took)
				}
			}
			t.Logf("%-16s first %6.0f ms, then %6.1f ms, %4d kB", path, ms(first), ms(best), size/1000)
		}
		var acts []string
		for range 5 {
			start := time.Now()
			w := post(h, "/look", url.Values{"id": {journal.NewID().String()}, "marks": {"few"}})
			if get(h, w.Header().Get("Location")); w.Code != 303 {
				t.Fatalf("a look: status %d", w.Code)
			}
			acts = append(acts, fmt.Sprintf("%.0f", ms(time.Since(start))))
		}
		t.Logf("a look and the page Now after it: %s ms", acts)
	}
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
