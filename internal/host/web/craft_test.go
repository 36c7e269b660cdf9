package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"icehand/internal/trade/journal"
)

// One tap logs how a rod fishes; the lure told before stays, and the record counts from then on.
func TestOneTapLogsThePresentation(t *testing.T) {
	_, h, _ := demo(t, true)
	page := get(h, "/present?screen=lookers").Body.String()
	for _, want := range []string{"Hold still, up to half a minute.", "Common practice, no source.", "Too few to compare manners", "not told how", "Too much movement is the commonest mistake."} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	sit := regexp.MustCompile(`id="rod-([0-9a-f-]{36})"`).FindStringSubmatch(page)
	if sit == nil {
		t.Fatal("no rod is in the water")
	}
	for _, f := range []url.Values{form("sit", sit[1], "lure", "red  spoon", "screen", "lookers"), form("sit", sit[1], "manner", "still", "screen", "lookers")} {
		if w := post(h, "/present", f); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
	}
	page = get(h, "/present?screen=lookers").Body.String()
	if !strings.Contains(page, "red spoon, held still, since") {
		t.Error("the rod does not say how it fishes")
	}
	for name, c := range map[string]struct {
		f      url.Values
		status int
	}{
		"no such manner": {form("sit", sit[1], "manner", "dance"), 400}, "no such screen": {form("sit", sit[1], "manner", "still", "screen", "blank"), 400},
		"no such sit": {form("sit", journal.NewID().String(), "manner", "still"), 404}, "a long name": {form("sit", sit[1], "lure", strings.Repeat("x", 41)), 400},
	} {
		if w := post(h, "/present", c.f); w.Code != c.status {
			t.Errorf("%s: status %d, want %d", name, w.Code, c.status)
		}
	}
	if w := get(h, "/present?screen=x"); w.Code != 400 {
		t.Errorf("status %d", w.Code)
	}
}

// An outfit's own words stand in for the common practice, and an empty form brings that back.
func TestPracticeInOwnWords(t *testing.T) {
	_, h, _ := demo(t, true)
	post(h, "/practice", form("screen", "lookers", "words", "Count to sixty.\n\n <b>Then</b> lift."))
	page := get(h, "/present?screen=lookers").Body.String()
	if !strings.Contains(page, "Count to sixty.") || !strings.Contains(page, "Your own words.") || !strings.Contains(page, "&lt;b&gt;Then") || strings.Contains(page, "up to half a minute") {
		t.Error("the own words do not stand there")
	}
	post(h, "/practice", form("screen", "lookers", "words", " \n"))
	if page := get(h, "/present?screen=lookers").Body.String(); !strings.Contains(page, "up to half a minute") || !strings.Contains(page, "Common practice, no source.") {
		t.Error("the common practice did not come back")
	}
	for _, f := range []url.Values{form("screen", "snow", "words", "x"), form("screen", "lookers", "words", strings.Repeat("x", 121)), form("screen", "lookers", "words", strings.Repeat("x\n", 9))} {
		if w := post(h, "/practice", f); w.Code != 400 {
			t.Errorf("status %d", w.Code)
		}
	}
}

// A drop timed on the page is the lure's own figure; the card for guests holds no place and no hole.
func TestTacklePage(t *testing.T) {
	_, h, _ := demo(t, true)
	if page := get(h, "/tackle?depth=11+m&mass=2+g").Body.String(); !strings.Contains(page, "Sinks in 8 s or more.") || !strings.Contains(page, "hang a weight and they are your own") {
		t.Error("the bare sphere is not told")
	}
	w := post(h, "/tackle", form("lure", "red spoon", "mass", "2 g", "of", "lead", "depth", "11 m", "took", "22"))
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	if page := get(h, w.Header().Get("Location")).Body.String(); !strings.Contains(page, "Sinks in about 22 s.") {
		t.Error("the timed drop does not count")
	}
	card := get(h, "/tackle?lure=red+spoon&card=yes").Body.String()
	if !strings.Contains(card, "Open the reel. Count to") || regexp.MustCompile(`(?i)hole \d|47\.\d|45\.\d`).MatchString(card) {
		t.Error("the card lacks its count, or tells where")
	}
	for _, q := range []string{"?depth=deep", "?lure=unknown", "?mass=0", "?tip=oak", "?lean=95"} {
		if w := get(h, "/tackle"+q); w.Code != 400 && w.Code != 404 {
			t.Errorf("%s: status %d", q, w.Code)
		}
	}
	if w := post(h, "/tackle", form("hung", "20 g", "tip", "soft", "droop", "4")); w.Code != http.StatusSeeOther {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	if page := get(h, "/tackle?tip=soft").Body.String(); !strings.Contains(page, "Tip from your hung weight") {
		t.Error("the hung weight does not count")
	}
}

// Both sets of cards show, each card with a picture, and the talk keeps its ticks for the day.
func TestCardsAndTalk(t *testing.T) {
	_, h, _ := demo(t, true)
	for kind, want := range map[string]string{"beginners": "Wet bare hand", "children": "Your job today"} {
		page := get(h, "/cards?for="+kind).Body.String()
		if !strings.Contains(page, want) || strings.Count(page, `class="coach-picture"`) != strings.Count(page, `class="coach-card"`) || regexp.MustCompile(`stroke-linejoin="round">\s*</svg>`).MatchString(page) {
			t.Errorf("%s: a card lacks its words or its picture", kind)
		}
	}
	if page := get(h, "/talk").Body.String(); !strings.Contains(page, "0 of 11 told today.") {
		t.Error("ticks out of nowhere")
	}
	f := form()
	f["told"] = []string{"picks", "holes"}
	if w := post(h, "/talk", f); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if page := get(h, "/talk").Body.String(); !strings.Contains(page, "2 of 11 told today.") || strings.Count(page, " checked") != 2 {
		t.Error("the ticks are not kept")
	}
	if w := post(h, "/talk", form("told", "dancing")); w.Code != 400 {
		t.Errorf("status %d", w.Code)
	}
}
