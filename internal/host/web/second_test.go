package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

// walleyeRecord lets a rod fish for walleye on nine past days, 210 m from the scout, and land three each time.
func walleyeRecord(t *testing.T, d *desk.Desk, s *sim.Demo) {
	t.Helper()
	at := s.Lake.Frame.Local(s.Scout).Add(geo.Local{E: -150, N: -150})
	for back := 1; back <= 9; back++ {
		from := s.Now.AddDate(0, 0, -back).Add(4 * time.Hour)
		sit := journal.NewID()
		ref := desk.HoleRef{Place: &advise.Place{At: at, Known: true, Fixed: from}}
		if err := d.Sit(t.Context(), desk.Act{ID: sit, At: from}, ref, 9, uuid.Nil, "walleye"); err != nil {
			t.Fatal(err)
		}
		var hole uuid.UUID
		if err := d.Read(t.Context(), func(v desk.View) error {
			for _, x := range v.Party.Sits {
				if x.ID == sit {
					hole = x.Hole
				}
			}
			return nil
		}); err != nil || hole == uuid.Nil {
			t.Fatalf("sit %d: hole %v, %v", back, hole, err)
		}
		if err := d.Fish(t.Context(), desk.FishAct{Act: desk.Act{At: from.Add(20 * time.Minute)}, Hole: hole, Rod: 9, Species: "walleye", Kept: true, Count: 3}); err != nil {
			t.Fatal(err)
		}
		if err := d.Up(t.Context(), desk.Act{At: from.Add(50 * time.Minute)}, sit, ""); err != nil {
			t.Fatal(err)
		}
	}
}

// A line on Now says when walleye are near, the journal keeps what was shown, and the evening plan tells both halves of the day.
func TestSecondTargetOnThePages(t *testing.T) {
	d, h, s := demo(t, true)
	if body := get(h, "/").Body.String(); strings.Contains(body, `class="second"`) {
		t.Error("walleye beside the step with none on record")
	}
	walleyeRecord(t, d, s)
	sent(t, h, "/target", form("target", "walleye")) // then perch count for nothing
	body := get(h, "/").Body.String()
	_, line, ok := strings.Cut(body, `class="second">`)
	if line, _, _ = strings.Cut(line, "<"); !ok || !strings.HasPrefix(line, "Walleye ") || len([]rune(line)) > 40 {
		t.Errorf("line on Now: %q", line)
	}
	kept := ""
	if err := d.Read(t.Context(), func(v desk.View) error {
		if n := len(v.Party.Advised); n > 0 {
			kept = string(v.Party.Advised[n-1].Answer)
		}
		return nil
	}); err != nil || !strings.Contains(kept, `"second":"switch"`) || !strings.Contains(kept, line) {
		t.Errorf("journaled %s, %v", kept, err)
	}
	sent(t, h, "/fish", form("kept", "yes", "size", "good"))
	if err := d.Read(t.Context(), func(v desk.View) error {
		if n := len(v.Party.Fish); v.Party.Fish[n-1].Species != "walleye" {
			t.Errorf("landed with the strip on walleye: %s", v.Party.Fish[n-1].Species)
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	w := get(h, "/evening")
	for _, want := range []string{"<strong>Morning.</strong>", "<strong>Afternoon.</strong>", "for a walleye in", say.CheckRules[:20]} {
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
			t.Errorf("evening plan: status %d, does not show %q", w.Code, want)
		}
	}
}
