package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// The ten answers stand behind the step on Now, and on a page of their own that Map leads to; the answers are the same.
func TestTenAnswersBehindOneTap(t *testing.T) {
	_, h, _ := demo(t, true)
	question := regexp.MustCompile(`<li id="answer-([a-z]+)"><h2>[^<]+\?</h2><ul><li>`)
	var keys [2]string
	for i, path := range []string{"/", "/why"} {
		w := get(h, path)
		all := question.FindAllStringSubmatch(w.Body.String(), -1)
		if w.Code != http.StatusOK || len(all) != 10 {
			t.Fatalf("%s: status %d, %d answers", path, w.Code, len(all))
		}
		for _, m := range all {
			keys[i] += m[1] + " "
		}
	}
	if keys[0] != "why looks wrong cost stay tried ice home walk seen " || keys[0] != keys[1] {
		t.Errorf("%v", keys)
	}
	for path, wants := range map[string][]string{
		"/":    {`<details class="why" id="why">`, "1 hole", "by Ingrid Vossler", "3 shelters", "Too early to judge the odds: 23 looks of 40."},
		"/map": {`href="/why"`, `class="facts"`, `class="reason"`},
	} {
		body := get(h, path).Body.String()
		for _, want := range wants {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not show %q", path, want)
			}
		}
		// each of the five rods has one clock or one place to go; rods with the same clock are told together
		var rods []string
		if m := regexp.MustCompile(`<b>Sit</b> ([^<]+)<`).FindStringSubmatch(body); m != nil {
			for _, told := range strings.Split(m[1], " | ") {
				who, what, _ := strings.Cut(told, ": ")
				if !regexp.MustCompile(`^(\d+ min|to \d+)$`).MatchString(what) {
					t.Errorf("%s: rods %s are told %q", path, who, what)
				}
				rods = append(rods, strings.Split(who, ", ")...)
			}
		}
		if slices.Sort(rods); !slices.Equal(rods, []string{"1", "2", "3", "4", "5"}) {
			t.Errorf("%s: clocks of rods %v", path, rods)
		}
	}
	today := get(h, "/map/today.json").Body.String()
	for _, want := range []string{`"sort":"next"`, `"sort":"clock"`, `"sort":"other"`} {
		if !strings.Contains(today, want) {
			t.Errorf("the map does not draw %s", want)
		}
	}
}

// The aim is one control: set on the rods' page, it is in the day's trip, in the step, and one Undo takes it back. Nothing
// else of the trip changes.
func TestAimIsOneControl(t *testing.T) {
	d, h, _ := demo(t, true)
	trip := func() (x party.Trip) {
		if err := d.Read(t.Context(), func(v desk.View) error { x = *v.Party.Trip(v.Today); return nil }); err != nil {
			t.Fatal(err)
		}
		return x
	}
	before := trip()
	body := get(h, "/rods").Body.String()
	lena := regexp.MustCompile(`name="for" value="([0-9a-f-]+)"[^<]*>\s*<button[^>]*>first fish: Lena`).FindStringSubmatch(body)
	if lena == nil || !strings.Contains(body, "Aim: numbers") {
		t.Fatalf("no control of the aim:\n%s", body)
	}
	if to := sent(t, h, "/aim", form("aim", "first_fish", "for", lena[1])); to != "/rods#aim" {
		t.Errorf("sent to %s", to)
	}
	after := trip()
	if after.Aim != "first_fish" || after.AimFor.String() != lena[1] || after.Rods != before.Rods || after.Travel != before.Travel || after.Drill != before.Drill || *after.Landing != *before.Landing {
		t.Errorf("from %+v to %+v", before, after)
	}
	if body := get(h, "/rods").Body.String(); !strings.Contains(body, "Aim: a first fish for Lena Albrecht") {
		t.Error("the page does not say for whom")
	}
	if body := get(h, "/").Body.String(); !strings.Contains(body, "Weighed for the aim of the day: a first fish.") {
		t.Error("the step does not know the aim")
	}
	sent(t, h, "/target", form("target", "walleye"))
	if x := trip(); x.Target != "walleye" || x.AimFor.String() != lena[1] {
		t.Errorf("another target forgot the aim: %+v", x)
	}
	sent(t, h, "/undo", form())
	sent(t, h, "/undo", form())
	if x := trip(); x.Aim != before.Aim || x.Target != before.Target {
		t.Errorf("undone: %+v", x)
	}
	for _, f := range []url.Values{form("aim", "fame"), form("aim", ""), form("aim", "numbers", "for", lena[1]), form("aim", "first_fish", "for", "019ba000-0000-7000-8000-000000000001")} {
		n := count(t, d, journal.KindTrip)
		if w := post(h, "/aim", f); w.Code < 400 || !strings.Contains(w.Body.String(), "Not saved") || count(t, d, journal.KindTrip) != n {
			t.Errorf("%v: %d", f, w.Code)
		}
	}
}

// A form that cannot be meant is refused with a hint, and the journal holds not one entry more.
func TestFormsThatCannotBeMeantChangeNothing(t *testing.T) {
	d, h, s := demo(t, false)
	entries := func() (n int) {
		if err := d.Read(t.Context(), func(v desk.View) error { n = len(v.Log.Facts()); return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	var hole string
	if err := d.Read(t.Context(), func(v desk.View) error { hole = v.Lake.HolesOn(v.Today)[0].ID.String(); return nil }); err != nil {
		t.Fatal(err)
	}
	land := s.Lake.Frame.Local(s.Scout).Toward(270, 40_000)
	at := s.Lake.Frame.Position(land)
	fix := func(more ...string) url.Values {
		return form(append([]string{"lat", fmt.Sprint(at.Lat), "lon", fmt.Sprint(at.Lon), "accuracy", "5", "age", "2"}, more...)...)
	}
	for name, x := range map[string]struct {
		path string
		form url.Values
		says string
	}{
		"marks on land":          {"/look", fix("marks", "few"), "on land"},
		"a sit on land":          {"/sit", fix(), "on land"},
		"ice on land":            {"/ice", fix("total", "40"), "on land"},
		"a hole on land":         {"/hole", form("e", fmt.Sprintf("%.0f", land.E*10), "n", fmt.Sprintf("%.0f", land.N*10)), "on land"},
		"a depth of zero":        {"/depth", form("hole", hole, "depth", "0 m"), "depth"},
		"a depth below zero":     {"/depth", form("hole", hole, "depth", "-2 m"), ""},
		"a depth without figure": {"/depth", form("hole", hole, "depth", "deep"), ""},
		"a fix of the future":    {"/look", form("marks", "few", "lat", fmt.Sprint(at.Lat), "lon", fmt.Sprint(at.Lon), "accuracy", "5", "age", "-600"), "fix"},
		"a trip of yesterday":    {"/trip", form("day", "2026-01-14", "rods", "3", "travel", "foot"), "day"},
		"a hole nobody drilled":  {"/look", form("marks", "few", "hole", journal.NewID().String()), "not on record"},
		"fish from nowhere":      {"/fish", form("kept", "yes", "hole", journal.NewID().String()), "not on record"},
	} {
		before := entries()
		w := post(h, x.path, x.form)
		body := w.Body.String()
		if w.Code < 400 || w.Code >= 500 || !strings.Contains(body, "Not saved") || !strings.Contains(body, x.says) {
			t.Errorf("%s: status %d: %s", name, w.Code, regexp.MustCompile(`(?s)class="fault".*?</section>|class="fault".*`).FindString(body))
		}
		if n := entries(); n != before {
			t.Errorf("%s: %d entries more", name, n-before)
		}
	}
	// an act that claims a time to come, or one before its hole
	now, id := d.Clock(), uuid.MustParse(hole)
	for name, a := range map[string]time.Time{"in an hour": now.Add(time.Hour), "before its hole": now.Add(-9 * time.Hour)} {
		before := entries()
		_, err := d.Look(t.Context(), desk.LookAct{Act: desk.Act{At: a}, Hole: desk.HoleRef{ID: id}})
		if fault.CodeOf(err) != fault.BadInput || fault.Public(err).Hint == "" || entries() != before {
			t.Errorf("a look %s: %v", name, err)
		}
		if err := d.Record(t.Context(), desk.Act{At: a}, &journal.Bite{Hole: id, Rod: 1}); fault.CodeOf(err) != fault.BadInput || entries() != before {
			t.Errorf("a bite %s: %v", name, err)
		}
	}
}

// Not there: the guide's ruling is journaled and respected, the answers say what it changed, and Undo takes it back.
func TestNotThereIsRespected(t *testing.T) {
	d, h, _ := demo(t, true)
	call := regexp.MustCompile(`<span class="call">([^<]+)</span>`)
	button := regexp.MustCompile(`(?s)action="/not-there".*?name="e" value="(-?\d+)".*?name="n" value="(-?\d+)"`)
	body := get(h, "/").Body.String()
	was, at := call.FindStringSubmatch(body), button.FindStringSubmatch(body)
	if was == nil || at == nil || strings.Contains(body, "You ruled out") {
		t.Fatalf("no call, or no way to rule it out: %v %v", was, at)
	}
	n := count(t, d, journal.KindSetting)
	to := sent(t, h, "/not-there", form("e", at[1], "n", at[2]))
	if count(t, d, journal.KindSetting) != n+1 || !strings.Contains(get(h, to).Body.String(), "ruled out for today") {
		t.Errorf("not journaled, or not said: %s", to)
	}
	body = get(h, "/").Body.String()
	if now := call.FindStringSubmatch(body); now == nil || now[1] == was[1] || !strings.Contains(body, "You ruled out ") || !strings.Contains(body, "without that it would be the step: ") {
		t.Errorf("still %v", now)
	}
	sent(t, h, "/undo", form())
	if now := call.FindStringSubmatch(get(h, "/").Body.String()); now == nil || now[1] != was[1] {
		t.Errorf("undone: %v, was %v", now, was)
	}
	for _, f := range []url.Values{form(), form("e", "x", "n", "1"), form("e", "99999999", "n", "0")} {
		if w := post(h, "/not-there", f); w.Code != http.StatusBadRequest || count(t, d, journal.KindSetting) != n {
			t.Errorf("%v: %d", f, w.Code)
		}
	}
}

// How far somebody is walked is told by one tap on People, and answers who can walk that far.
func TestReachIsTold(t *testing.T) {
	d, h, _ := demo(t, true)
	page := get(h, "/people").Body.String()
	person := regexp.MustCompile(`(?s)Mr Okafor.*?walks 400 m, usual.*?name="person" value="([0-9a-f-]+)"`).FindStringSubmatch(page)
	if person == nil {
		t.Fatal("People does not say how far Mr Okafor walks")
	}
	if to := sent(t, h, "/people/reach", form("person", person[1], "reach", "200000")); to != "/people" {
		t.Errorf("sent to %s", to)
	}
	if page := get(h, "/people").Body.String(); !strings.Contains(page, "walks 200 m, told") {
		t.Error("People does not know what it was told")
	}
	if page := get(h, "/why").Body.String(); !strings.Contains(page, "told, Mr Okafor 200 m; by age, child 300 m") {
		t.Error("the answer does not know")
	}
	for _, f := range []url.Values{form("person", person[1], "reach", "far"), form("person", person[1], "reach", "0"), form("person", journal.NewID().String(), "reach", "200000")} {
		n := count(t, d, journal.KindAmend)
		if w := post(h, "/people/reach", f); w.Code < 400 || w.Code >= 500 || count(t, d, journal.KindAmend) != n {
			t.Errorf("%v: %d", f, w.Code)
		}
	}
}

// Day says of what was advised whether it was done or overruled, and what came.
func TestDaySaysWhatWasFollowed(t *testing.T) {
	d, h, s := demo(t, true)
	get(h, "/") // shows, and journals, a step
	var to journal.Point
	err := d.Read(t.Context(), func(v desk.View) error {
		last := v.Party.Advised[len(v.Party.Advised)-1]
		var shown struct{ To journal.Point }
		if err := json.Unmarshal(last.Answer, &shown); err != nil {
			return err
		}
		to = shown.To
		return nil
	})
	if err != nil || to.Lat == 0 {
		t.Fatalf("%v %v", err, to)
	}
	look := func(away quantity.Length) {
		at := s.Lake.Frame.Local(to.Position()).Toward(0, away)
		_, err := d.Look(t.Context(), desk.LookAct{Act: desk.Act{At: s.Now.Add(time.Minute)}, Hole: desk.HoleRef{Place: &advise.Place{At: at, Known: true, Accuracy: 3, Fixed: s.Now}}, Marks: lake.Few})
		if err != nil {
			t.Fatal(err)
		}
	}
	look(70)
	if page := get(h, "/day").Body.String(); !regexp.MustCompile(`Overruled: 25, 70 m off, few\.`).MatchString(page) {
		t.Error("Day does not say that the advice was overruled")
	}
	sent(t, h, "/undo", form())
	look(1)
	if page := get(h, "/day").Body.String(); !regexp.MustCompile(`Done: \d+, few\.`).MatchString(page) || strings.Contains(page, "Overruled") {
		t.Error("Day does not say that the advice was followed")
	}
}

// A hole that the advice asks for beside one that holds fish is recorded as a hole of its own, though a fix cannot tell the
// two apart: once the look went to the old hole, and the step stayed the same for ever.
func TestAHoleBesideAnotherIsRecorded(t *testing.T) {
	d, h, _ := demo(t, true)
	step, err := d.Next(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if here := d.Here(); step.Do != advise.Drill || step.To.Distance(here.At) > 6 {
		t.Fatalf("the demo's step is no hole beside another: %v, %v off", step.Do, step.To.Distance(here.At))
	}
	n := count(t, d, journal.KindHole)
	sent(t, h, "/look", form("marks", "none"))
	if count(t, d, journal.KindHole) != n+1 {
		t.Fatal("the look went to the hole beside it")
	}
	err = d.Read(t.Context(), func(v desk.View) error {
		holes := v.Lake.HolesOn(v.Today)
		if last := holes[len(holes)-1]; last.At.Distance(step.To) > 0.1 {
			t.Errorf("hole %d lies %v from where it was advised", last.Number, last.At.Distance(step.To))
		}
		return nil
	})
	after, err2 := d.Next(t.Context(), nil)
	if err != nil || err2 != nil || after.To.Distance(step.To) < 0.5 && after.Do == step.Do {
		t.Errorf("the step stayed: %v to %v, %v %v", after.Do, after.To, err, err2)
	}
}
