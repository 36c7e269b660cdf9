package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// A reading of several taps is one form: figures as they are written on the chips, and the thickness that was pressed.
func TestIceReadingInOneForm(t *testing.T) {
	for _, units := range []string{"si", "us"} {
		d, h, _ := demo(t, true)
		page := get(h, "/ice", "units="+units).Body.String()
		form := url.Values{"id": {journal.NewID().String()}, "slush": {"yes"}}
		for _, name := range []string{"white", "snow", "water", "total"} {
			values := regexp.MustCompile(`name="`+name+`" value="([^"]+)"`).FindAllStringSubmatch(page, -1)
			want := 5
			if name == "total" {
				want = 9
			}
			if len(values) != want {
				t.Fatalf("%s, %s: %d figures, want %d", units, name, len(values), want)
			}
			form.Set(name, values[want/2][1])
		}
		if w := post(h, "/ice", form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", units, w.Code, w.Body)
		}
		var b *journal.Ice
		if err := d.Read(t.Context(), func(v desk.View) error {
			for _, f := range v.Log.Facts() {
				if x, ok := f.Body.(*journal.Ice); ok {
					b = x
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if b.White == nil || b.Snow == nil || b.Water == nil || !b.Slush || b.Layered || b.Total < 400 || b.Total > 500 || *b.White > 80 || *b.Snow < 50 || *b.Snow > 150 {
			t.Errorf("%s: %+v from %v", units, b, form)
		}
	}
}

// What was not tapped is not read: a thickness alone tells nothing else.
func TestIceTotalAlone(t *testing.T) {
	d, h, _ := demo(t, true)
	if w := post(h, "/ice", url.Values{"id": {journal.NewID().String()}, "total": {"46 cm"}}); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	err := d.Read(t.Context(), func(v desk.View) error {
		r := v.Lake.Ice[len(v.Lake.Ice)-1]
		if r.WhiteTold || r.SnowTold || r.WaterTold || r.Slush {
			t.Errorf("%+v", r)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Another table wants a name when it is looser; the page then tells table, date and whoever answers for it.
func TestIceTableIsChosen(t *testing.T) {
	_, h, _ := demo(t, true)
	choose := func(agency, by string) int {
		return post(h, "/ice-table", url.Values{"id": {journal.NewID().String()}, "agency": {agency}, "by": {by}}).Code
	}
	if code := choose("Water Security Agency", ""); code != http.StatusBadRequest {
		t.Errorf("a looser table without a name: %d", code)
	}
	if code := choose("Nobody", "Ada"); code != http.StatusBadRequest {
		t.Errorf("a table that nobody knows: %d", code)
	}
	if page := get(h, "/ice").Body.String(); !strings.Contains(page, "asks for 15 cm") {
		t.Error("a refused table changed the answer")
	}
	if code := choose("Water Security Agency", "Ada Fell"); code != http.StatusSeeOther {
		t.Errorf("with a name: %d", code)
	}
	if page := get(h, "/ice").Body.String(); !strings.Contains(page, "asks for 10 cm") || !strings.Contains(page, "Saskatchewan, Canada (2024-11-29), entered by Ada Fell") {
		t.Error("the page does not tell the table in force")
	}
}

// A table of the outfit's own is entered on the page with all that is to be known of it; what cannot be names the field and
// changes nothing. One that asks for less than the default says who answers for it.
func TestOwnIceTable(t *testing.T) {
	_, h, _ := demo(t, true)
	good := map[string]string{"own": "yes", "agency": "Long Flat rule", "jurisdiction": "Lake Tamaringen", "dated": "2026-01-10", "source": "guides' book", "by": "Ada Fell", "on_foot": "18", "snow_machine": "11 in", "car": "42 cm"}
	enter := func(change map[string]string) (int, string) {
		form := url.Values{"id": {journal.NewID().String()}}
		for k, x := range good {
			form.Set(k, x)
		}
		for k, x := range change {
			form.Set(k, x)
		}
		w := post(h, "/ice-table", form)
		return w.Code, w.Body.String()
	}
	for _, c := range []struct{ field, value, says string }{
		{"agency", " ", "agency"}, {"jurisdiction", "", "jurisdiction"}, {"source", "", "source"}, {"by", " ", "by"}, {"dated", "", "dated"}, {"dated", "2026-13-01", "date"}, {"dated", "2027-01-01", "date"},
		{"on_foot", "-18", "on_foot"}, {"on_foot", "0", "on_foot"}, {"car", "301", "car"}, {"car", "4 kg", "car"}, {"truck", "thick", "truck"}, {"agency", strings.Repeat("x", 500), "too long"},
	} {
		if code, body := enter(map[string]string{c.field: c.value}); code != http.StatusBadRequest || !strings.Contains(strings.ToLower(body), c.says) {
			t.Errorf("%s %q: status %d, no %q", c.field, c.value, code, c.says)
		}
	}
	if code, body := enter(map[string]string{"on_foot": "", "snow_machine": "", "car": ""}); code != http.StatusBadRequest || !strings.Contains(body, "no rows") {
		t.Errorf("without rows: %d", code)
	}
	if page := get(h, "/ice").Body.String(); !strings.Contains(page, "asks for 15 cm") || strings.Contains(page, "Long Flat rule") {
		t.Error("a refused table changed the answer")
	}
	if code, body := enter(nil); code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", code, body)
	}
	page := get(h, "/ice").Body.String()
	for _, want := range []string{"asks for 18 cm", "Long Flat rule, Lake Tamaringen (2026-01-10), entered by Ada Fell"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(page, "asks for less than the occupational table") {
		t.Error("a stricter table is called looser")
	}
	if code, _ := enter(map[string]string{"on_foot": "12"}); code != http.StatusSeeOther {
		t.Fatalf("status %d", code)
	}
	if page := get(h, "/ice").Body.String(); !strings.Contains(page, "It asks for less than the occupational table for: on foot. Ada Fell answers for that.") {
		t.Error("nobody answers for the looser table")
	}
	if page := get(h, "/ice?load=truck").Body.String(); !strings.Contains(page, "has no row for this load") {
		t.Error("a figure was made up for a load without a row")
	}
}

// What cannot be of a reading names the field and leaves nothing behind.
func TestBadReadings(t *testing.T) {
	d, h, _ := demo(t, true)
	count := func() (n int) {
		if err := d.Read(t.Context(), func(v desk.View) error { n = len(v.Log.Facts()); return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := count()
	for _, c := range []struct{ form, says string }{
		{"total=-5", "ice of -5 cm is outside 0 cm to 400 cm"}, {"total=900", "ice of 900 cm is outside 0 cm to 400 cm"},
		{"total=200+in", "ice of 200 in is outside 0 in to 157.5 in"}, {"total=20+ft", "ice of 20 ft is outside 0 ft to 13.1 ft"}, {"total=16+inches&white=20+in", "white ice of 20 in is more than the total of 16 in"},
		{"total=40&white=50", "white ice of 50 cm is more than the total of 40 cm"}, {"total=40&white=-1", "white"}, {"total=40+kg", "total"}, {"total=abc", "total"}, {"", "thickness"},
		{"total=40&snow=-3", "snow"}, {"total=40&snow=9000", "snow"}, {"total=40&water=9000", "water"}, {"total=40&solid=50&layered=yes", "layer"}, {"total=40&crack=big", "crack"}, {"total=40+cm+16+in", "total"},
	} {
		form, err := url.ParseQuery(c.form)
		if err != nil {
			t.Fatal(err)
		}
		form.Set("id", journal.NewID().String())
		w := post(h, "/ice", form)
		if w.Code != http.StatusBadRequest || !strings.Contains(strings.ToLower(w.Body.String()), c.says) {
			t.Errorf("%s: status %d, says %q: %v", c.form, w.Code, c.says, regexp.MustCompile(`<h1>[^<]*</h1>|<p[^>]*>[^<]*</p>`).FindAllString(w.Body.String(), 6))
		}
	}
	for _, bad := range []string{"mass=0", "mass=-3", "mass=heavy", "mass=", "mass=300+cm", "mass=1e9"} {
		form, _ := url.ParseQuery(bad + "&what=truck&id=" + journal.NewID().String())
		if w := post(h, "/parked", form); w.Code != http.StatusBadRequest {
			t.Errorf("a load with %s: status %d", bad, w.Code)
		}
	}
	for _, c := range []struct{ form, says string }{
		{"e=0&n=0", "Hazard &#34;&#34; is none of"}, {"what=dragon&e=0&n=0", "dragon"}, {"what=thin&e=9000000&n=0", "The hazard&#39;s place, "}, {"what=thin&e=-600000&n=0", "km from the lake"},
		{"what=thin&e=NaN&n=0", "place"}, {"what=thin&e=12", "place"},
	} {
		form, _ := url.ParseQuery(c.form + "&id=" + journal.NewID().String())
		w := post(h, "/hazard", form)
		if w.Code != http.StatusBadRequest || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("a hazard with %s: status %d, says %q: %v", c.form, w.Code, c.says, regexp.MustCompile(`<h1>[^<]*</h1>|<p[^>]*>[^<]*</p>`).FindAllString(w.Body.String(), 6))
		}
	}
	if w := post(h, "/depth", form("hole", view(t, d).Lake.HolesOn(view(t, d).Today)[0].ID.String(), "depth", "4000 ft")); w.Code != http.StatusBadRequest || !strings.Contains(w.Body.String(), "Depth of 4000 ft is outside 0 ft to 1312.3 ft") {
		t.Errorf("a depth of 4000 ft: status %d %s", w.Code, w.Body.String())
	}
	if after := count(); after != before {
		t.Errorf("%d entries became %d", before, after)
	}
}

func TestFreezeUpIsSaved(t *testing.T) {
	d, h, _ := demo(t, true)
	set := func(day string) int {
		return post(h, "/freeze-up", url.Values{"id": {journal.NewID().String()}, "day": {day}}).Code
	}
	for _, bad := range []string{"", "2026-13-01", "2026-01-16", "yesterday"} {
		if code := set(bad); code != http.StatusBadRequest {
			t.Errorf("%q: status %d", bad, code)
		}
	}
	if code := set("2025-11-25"); code != http.StatusSeeOther {
		t.Fatalf("status %d", code)
	}
	err := d.Read(t.Context(), func(v desk.View) error {
		if v.Lake.FreezeUp != "2025-11-25" || v.Lake.Name == "" {
			t.Errorf("%s %q", v.Lake.FreezeUp, v.Lake.Name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// What is on the ice is drawn to scale with what the circles mean, and told in words beside it.
func TestIcePlan(t *testing.T) {
	_, h, _ := demo(t, true)
	page := get(h, "/ice").Body.String()
	for _, want := range []string{`class="plan-map sketch ice-plan"`, "What stands within one weighs with it", "snow machine with sled, 500 kg", "Estimate on the blown ice", "only ever lowers"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	if n := strings.Count(page, `class="reach"`); n < 2 {
		t.Errorf("%d circles", n)
	}
}

// A load is asked about with its own mass.
func TestIceMass(t *testing.T) {
	_, h, _ := demo(t, true)
	if page := get(h, "/ice?load=car&mass=1500").Body.String(); !strings.Contains(page, "Asked with 1500 kg") || strings.Contains(page, "Mass not told") {
		t.Error("the mass is not taken")
	}
	for _, bad := range []string{"0", "-5", "heavy", "100+t"} {
		if w := get(h, "/ice?load=car&mass="+bad); w.Code != http.StatusBadRequest {
			t.Errorf("mass %s: status %d", bad, w.Code)
		}
	}
}

// Once somebody says that the ice broke or the water level changed, no reading from before gives a figure.
func TestIceEnded(t *testing.T) {
	for _, cause := range []string{"broken_up", "level_changed"} {
		_, h, _ := demo(t, true)
		if page := get(h, "/ice").Body.String(); !strings.Contains(page, "Not below either figure") {
			t.Fatal("no figure to begin with")
		}
		if w := post(h, "/ice-ended", url.Values{"id": {journal.NewID().String()}, "cause": {"boredom"}}); w.Code != http.StatusBadRequest {
			t.Errorf("status %d", w.Code)
		}
		if w := post(h, "/ice-ended", url.Values{"id": {journal.NewID().String()}, "cause": {cause}}); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d", w.Code)
		}
		if page := get(h, "/ice").Body.String(); strings.Contains(page, "Not below either figure") || !strings.Contains(page, "after the hole was read") {
			t.Errorf("%s: the readings still count", cause)
		}
	}
}

// Without a fix the page says of which hole it speaks; with one it does not.
func TestIceWithoutAFix(t *testing.T) {
	said := regexp.MustCompile(`No fix: (&#34;|&quot;)here(&#34;|&quot;) means hole \d+, \d\d:\d\d, not where you stand\.`)
	for _, told := range []bool{true, false} {
		_, h, _ := demo(t, told)
		page := get(h, "/ice").Body.String()
		if said.MatchString(page) == told || strings.Contains(page, "from here") && !told || strings.Contains(page, "Read ice where you stand") == told {
			t.Errorf("fix %v: said %v", told, said.MatchString(page))
		}
	}
}
