package web_test

import (
	"fmt"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// ruled gives the demo with the invented rule book entered and, when asked, signed.
func ruled(t *testing.T, sign bool) (*desk.Desk, http.Handler, uuid.UUID) {
	t.Helper()
	d, h, _ := demo(t, true)
	text, err := os.ReadFile("../../../examples/tamaringen/rules.txt")
	if err != nil {
		t.Fatal(err)
	}
	sent(t, h, "/rules", form("by", "Ruth Vossler", "text", string(text)))
	if sign {
		sent(t, h, "/rules/sign", form("by", "Ingrid Vossler"))
	}
	v := view(t, d)
	for _, g := range v.Party.Guests {
		if g.Day == v.Today && d.Clock().Equal(v.Now) && v.Name(g.Name) == "Petra Albrecht" {
			return d, h, g.ID
		}
	}
	t.Fatal("Petra is not out")
	return nil, nil, uuid.Nil
}

// A kept fish is recorded first, and Now says how near to the limit it brings the guest: nothing at three left, a warning at two, stop at
// none, flagged beyond.
func TestKeptWarning(t *testing.T) {
	d, h, petra := ruled(t, true)
	v := view(t, d)
	have := 0
	if r, ok := v.Sheet(v.Today, v.Now).Of(petra, "perch"); ok {
		have = r.Kept
	}
	for n := have + 1; n <= 21; n++ {
		to := sent(t, h, "/fish", form("guest", petra.String(), "kept", "yes"))
		if n < 17 {
			continue
		}
		body := get(h, to).Body.String()
		if !strings.Contains(body, "Kept 1") {
			t.Errorf("%d: the fish is not told as kept", n)
		}
		for k, words := range map[int]string{18: ">2 perch left.", 19: ">1 perch left.", 20: ">At the limit for perch. Stop keeping.",
			21: ">1 perch beyond the limit. Stop keeping. Flagged."} {
			if strings.Contains(body, words) != (k == n) {
				t.Errorf("%d kept: %q is there: %v", n, words, !(k == n))
			}
		}
		body = get(h, "/").Body.String()
		if strings.Contains(body, "o more perch for Petra") != (n >= 20) || strings.Contains(body, "1 against the rules") != (n == 21) {
			t.Errorf("%d kept: what stands", n)
		}
	}
	v = view(t, d)
	if r, _ := v.Sheet(v.Today, v.Now).Of(petra, "perch"); r.Kept != 21 || r.Left != -1 {
		t.Errorf("nothing was refused: %+v", r)
	}
	flagged := 0
	for _, f := range v.Sheet(v.Today, v.Now).Fish() {
		if f.Person == petra && strings.HasPrefix(f.Flag, "kept beyond the limit") {
			flagged++
		}
	}
	if flagged != 1 {
		t.Errorf("%d fish are flagged, want the 21st", flagged)
	}
}

// A book that nobody signed shows no number that is left.
func TestUnsignedShowsNoNumber(t *testing.T) {
	_, h, petra := ruled(t, false)
	sent(t, h, "/fish", form("guest", petra.String(), "kept", "yes"))
	for _, path := range []string{"/people", "/tally", "/officer"} {
		body := get(h, path).Body.String()
		if regexp.MustCompile(`[0-9]+ left`).MatchString(body) || path != "/officer" && !strings.Contains(body, "nverified; strictest reading") {
			t.Errorf("%s shows what is left, or not that it is unverified", path)
		}
	}
}

// A rule book that contradicts itself is shown again with both lines named, and nothing is stored.
func TestRefusedBook(t *testing.T) {
	d, h, _ := demo(t, true)
	w := post(h, "/rules", form("by", "Ruth", "text", "book: b\r\nsource: s\r\nretrieved: 2025-12-01\r\nfrom: 2026-01-01\r\nto: 2026-12-31\r\ndaily perch: 20\r\npossession perch: 10\r\n"))
	if w.Code != http.StatusBadRequest || !strings.Contains(w.Body.String(), "ines 6 and 7 contradict each other") || !strings.Contains(w.Body.String(), "possession perch: 10") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	if n := count(t, d, journal.KindRuleBook); n != 0 {
		t.Errorf("%d books are stored", n)
	}
}

// A correction needs a reason and leaves a trace that the officer sees.
func TestCorrection(t *testing.T) {
	d, h, petra := ruled(t, true)
	other := someone(t, d)
	sent(t, h, "/fish", form("guest", petra.String(), "kept", "yes"))
	fish := view(t, d).Ledger().Fish[len(view(t, d).Ledger().Fish)-1].ID.String()
	for _, to := range []string{other.String(), "slip", "put_back"} {
		if w := post(h, "/fish/correct", form("fish", fish, "to", to, "why", " ")); w.Code != http.StatusBadRequest {
			t.Errorf("%s without a reason: status %d", to, w.Code)
		}
	}
	sent(t, h, "/fish/correct", form("fish", fish, "to", other.String(), "why", "it bit on her line"))
	if body := get(h, "/officer").Body.String(); !strings.Contains(body, "it bit on her line") {
		t.Error("the officer sees no trace")
	}
	sent(t, h, "/fish/correct", form("fish", fish, "to", "put_back", "why", "a bigger one came"))
	if body := get(h, "/tally").Body.String(); !strings.Contains(body, "it still counts") || !strings.Contains(body, "a bigger one came") {
		t.Error("a replaced fish does not count on")
	}
}

// The officer view holds no position: no coordinate of any hole, reading, hazard or landing in any usual writing, no hole, no depth, and no way
// to a page that has one but the guide's key back.
func TestOfficerViewHasNoPlace(t *testing.T) {
	d, h, petra := ruled(t, true)
	sent(t, h, "/fish", form("guest", petra.String(), "kept", "yes"))
	body := get(h, "/officer").Body.String()
	for _, want := range []string{"Petra Albrecht", "Tamaringen winter rules 2026", "Entered by Ruth Vossler, checked by Ingrid Vossler", "licence", "kept at "} {
		if !strings.Contains(body, want) {
			t.Errorf("without %q", want)
		}
	}
	v := view(t, d)
	checked := 0
	for _, o := range v.Lake.Holes {
		if !o.Placed {
			continue
		}
		p := v.Lake.Frame.Position(o.At)
		for _, x := range []float64{p.Lat, p.Lon} {
			if x < 0 {
				x = -x
			}
			for digits := 2; digits <= 6; digits++ {
				for _, text := range []string{fmt.Sprintf("%.*f", digits, x), fmt.Sprintf("%.*f", digits, (x-float64(int(x)))*60), fmt.Sprint(int64(x * 1e7))} {
					if checked++; len(text) > 4 && strings.Contains(body, text) {
						t.Fatalf("%s stands in the officer view", text)
					}
				}
			}
		}
		if depth := quantity.SI.DepthText(o.Depth); o.Depth > 0 && strings.Contains(body, depth) {
			t.Fatalf("the depth %s stands in the officer view", depth)
		}
	}
	if checked < 1000 {
		t.Errorf("only %d writings were looked for", checked)
	}
	for _, m := range regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(body, -1) {
		if m[1] != "/tally" && !strings.HasPrefix(m[1], "/static/") {
			t.Errorf("the officer view leads to %s", m[1])
		}
	}
	for _, word := range []string{"hole", "Hole", "paces", "ridge", "depth", " m ", "script"} {
		if strings.Contains(body, word) {
			t.Errorf("%q stands in the officer view", word)
		}
	}
}
