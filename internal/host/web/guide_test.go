package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
)

// The rescue card on Help holds every format that a rescuer may ask for, bearings true and by compass, and what to read aloud. The formats are
// held to GeographicLib in package geo; the declination of the made-up lake is 15 degrees west [MagneticField].
func TestHelpIsTheRescueCard(t *testing.T) {
	_, h, s := demo(t, true)
	page := get(h, "/help").Body.String()
	for _, want := range []string{"23T MN 9348 9695", s.Scout.DMMText(), s.Scout.DecimalText(), s.Scout.ToUTM().String(), "Home lies 215 true, 230 by compass.", "Mike November",
		"Landing: 23T MN 9179 9455", "/way", "/whiteout", "/cold", "/day/alarms.ics", "No emergency number is entered"} {
		if !strings.Contains(page, want) {
			t.Errorf("Help lacks %q", want)
		}
	}
	if w := post(h, "/emergency", url.Values{"id": {journal.NewID().String()}, "number": {"call me"}}); w.Code != http.StatusBadRequest {
		t.Errorf("a number that nobody can dial: status %d", w.Code)
	}
	if w := post(h, "/emergency", url.Values{"id": {journal.NewID().String()}, "number": {"+299 112"}}); w.Code != http.StatusSeeOther {
		t.Errorf("status %d", w.Code)
	}
	for _, path := range []string{"/help", "/whiteout"} {
		if page := get(h, path).Body.String(); !strings.Contains(page, "Emergency number: &#43;299 112") && !strings.Contains(page, "Emergency number: +299 112") {
			t.Errorf("%s lacks the number", path)
		}
	}
}

// The way home names the side, metres and paces; the way to a hole keeps its start in the address of the key that asks again.
func TestWayPages(t *testing.T) {
	_, h, _ := demo(t, true)
	page := get(h, "/way").Body.String()
	for _, want := range []string{"right of the line: back to it first", "by compass", "paces", "to go, 57 min", "Reckoned at 3.5 km/h: measured today, the slowest member"} {
		if !strings.Contains(page, want) {
			t.Errorf("the way home lacks %q", want)
		}
	}
	link := regexp.MustCompile(`/way\?hole=[0-9a-f-]{36}`).FindString(page)
	if link == "" {
		t.Fatal("no hole to be led to")
	}
	if page := get(h, link).Body.String(); !strings.Contains(page, "Way to hole ") || !strings.Contains(page, "ice not read on it. Spud ahead.") || !strings.Contains(page, link[:46]) {
		t.Error("the way to a hole does not say what it rests on")
	}
	for path, status := range map[string]int{"/way?hole=x": 400, "/way?hole=" + journal.NewID().String(): 404, "/cold?ride=fast": 400} {
		if w := get(h, path); w.Code != status {
			t.Errorf("%s: status %d, want %d", path, w.Code, status)
		}
	}
}

// The whiteout sheet says stay unless everything holds, and the cold watch keeps its record: a wet person is told until dry again, a heater without
// alarm is told.
func TestWhiteoutAndColdWatch(t *testing.T) {
	_, h, _ := demo(t, true)
	page := get(h, "/whiteout").Body.String()
	for _, want := range []string{"Decide before the tracks fill in", "Wind to NW about 17:00", "Go only if all of this holds", "not so", "you tell", "stay, and call"} {
		if !strings.Contains(page, want) {
			t.Errorf("the whiteout sheet lacks %q", want)
		}
	}
	page = get(h, "/cold").Body.String()
	for _, want := range []string{"Wind chill -23 C", "Lena Albrecht", "warm-up 10:12, every 30 min", "Look at every face by 09:55, every 15 min", "No heater burns", "1 min", "60 min", "none is an allowance"} {
		if !strings.Contains(page, want) {
			t.Errorf("the cold watch lacks %q", want)
		}
	}
	if page := get(h, "/people").Body.String(); strings.Contains(page, "warm-up due") {
		t.Error("nobody's warm-up is due yet")
	}
	lena := regexp.MustCompile(`(?s)Lena Albrecht.*?name="person" value="([0-9a-f-]+)"`).FindStringSubmatch(page)
	if lena == nil {
		t.Fatal("no key for Lena")
	}
	watch := func(what, person string) {
		t.Helper()
		if w := post(h, "/watch", url.Values{"id": {journal.NewID().String()}, "what": {what}, "person": {person}}); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d", what, w.Code)
		}
	}
	watch("wet", lena[1])
	watch("heater_on", "")
	if page := get(h, "/cold").Body.String(); !strings.Contains(page, "Lena Albrecht is wet: into the warm base now.") || !strings.Contains(page, "No CO alarm here. Do not heat.") {
		t.Error("neither the wet person nor the heater without alarm is told")
	}
	if page := get(h, "/").Body.String(); !strings.Contains(page, "Lena Albrecht wet: into the warm base now.") {
		t.Error("Now does not tell of the wet person")
	}
	watch("dry", lena[1])
	if page := get(h, "/map").Body.String(); !strings.Contains(page, "No CO alarm here. Do not heat.") {
		t.Error("the map does not tell of the heater without alarm")
	}
	watch("co_alarm", "")
	if page := get(h, "/cold").Body.String(); strings.Contains(page, "is wet") || strings.Contains(page, "Do not heat") {
		t.Error("what is mended is still told")
	}
	if page := get(h, "/cold?ride=40+km/h").Body.String(); !strings.Contains(page, "riding") {
		t.Error("riding is not told")
	}
}

// No page of this part says or implies that ice is good, in any theme's words; the words forbidden are those of every other page.
func TestSafetyPagesNeverApprove(t *testing.T) {
	_, h, _ := demo(t, true)
	for _, path := range []string{"/way", "/whiteout", "/cold", "/help"} {
		text := strings.ToLower(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(get(h, path).Body.String(), " "))
		for _, word := range []string{"safe", "proved", "cleared", "allowed", "good ice", " fine", " ok "} {
			if strings.Contains(text, word) {
				t.Errorf("%s says %q", path, word)
			}
		}
	}
}

// What is seen of the weather is recorded by one form: a wind without its height is refused, a shift of the wind moves the turn-back time, a closed
// sky counts as flat light, and what cannot be meant writes nothing.
func TestWeatherSeen(t *testing.T) {
	d, h, _ := demo(t, true)
	before := count(t, d, journal.KindWeather)
	for name, bad := range map[string]url.Values{
		"no height": {"wind": {"20 km/h"}}, "nothing": {}, "an air": {"air": {"-200 C"}}, "a sky": {"cloud": {"lots"}}, "a point": {"from": {"up"}}, "a sight": {"sight": {"far"}},
		"snow": {"snowing": {"sideways"}}, "a wind": {"wind": {"-3 km/h"}, "height": {"face"}},
	} {
		if w := post(h, "/weather", bad); w.Code != http.StatusBadRequest {
			t.Errorf("%s: status %d", name, w.Code)
		}
	}
	if n := count(t, d, journal.KindWeather); n != before {
		t.Fatalf("%d entries of forms that were refused", n-before)
	}
	back := func() (clock, way string) {
		x, err := d.TurnBack(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return x.Binding.Code, get(h, "/way").Body.String()
	}
	if code, way := back(); code != "wind_shift" || strings.Contains(way, "flat light") {
		t.Errorf("before: %s", code)
	}
	see := func(seen url.Values) {
		t.Helper()
		if w := post(h, "/weather", seen); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d", w.Code)
		}
	}
	see(url.Values{"cloud": {"100"}})
	if _, way := back(); !strings.Contains(way, "the slowest member&#39;s, flat light") {
		t.Error("a closed sky is no flat light")
	}
	see(url.Values{"wind": {"14 km/h"}, "height": {"face"}, "from": {"NW"}})                      // 21 km/h at 10 m
	if code, way := back(); code != "wind_came" || !strings.Contains(way, "No known way. Stay") { // the shift shuts the crossing
		t.Errorf("a turned wind: %s", code)
	}
}

// The hours that end the day are told on the turn-back page, bind when they are first, and are taken back by an empty one.
func TestHoursThatEndTheDay(t *testing.T) {
	d, h, _ := demo(t, true)
	binding := func() string {
		x, err := d.TurnBack(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return x.Binding.Code
	}
	tell := func(which, clock string, status int) {
		t.Helper()
		if w := post(h, "/hours", url.Values{"which": {which}, "clock": {clock}}); w.Code != status {
			t.Errorf("%s %q: status %d", which, clock, w.Code)
		}
	}
	tell("legal_close", "late", http.StatusBadRequest)
	tell("bedtime", "21:00", http.StatusBadRequest)
	tell("fuel_until", "13:00", http.StatusSeeOther)
	if got := binding(); got != "fuel" {
		t.Errorf("fuel to 13:00: bound by %s", got)
	}
	if page := get(h, "/").Body.String(); !strings.Contains(page, "battery or fuel to 13:00; landing ") {
		t.Error("the strip does not name it")
	}
	tell("legal_close", "12:30", http.StatusSeeOther)
	if got := binding(); got != "legal_close" {
		t.Errorf("lawful to 12:30: bound by %s", got)
	}
	if page := get(h, "/turn-back").Body.String(); !strings.Contains(page, `value="12:30"`) || !strings.Contains(page, `value="13:00"`) {
		t.Error("the hours told are not shown")
	}
	tell("margin_min", "20", http.StatusBadRequest)
	tell("margin_min", "55", http.StatusSeeOther)
	tell("pack_up_min", "45", http.StatusSeeOther)
	if page := get(h, "/turn-back").Body.String(); !strings.Contains(page, `value="55" placeholder="30"`) || !strings.Contains(page, `value="45" placeholder="20"`) {
		t.Error("the minutes told are not shown")
	}
	if page := get(h, "/trip").Body.String(); !strings.Contains(page, `name="margin_min" value="55"`) || !strings.Contains(page, `name="pack_up_min" value="45"`) {
		t.Error("the minutes told are not on the trip's page")
	}
	tell("legal_close", "", http.StatusSeeOther)
	tell("fuel_until", "", http.StatusSeeOther)
	if got := binding(); got != "wind_shift" {
		t.Errorf("nothing told: bound by %s", got)
	}
}

// Outside the years of the magnetic model the pages tell the true bearing and why there is none by compass.
func TestPagesOutsideTheMagneticModel(t *testing.T) {
	s, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	st := newStore(s.Now)
	if err := s.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	at := s.Lake.Frame.Local(s.Scout)
	later := s.Now.AddDate(5, 0, 0)
	d, err := desk.Open(t.Context(), st, desk.Options{Seed: 15, Clock: func() time.Time { return later }, Recall: surfaces.Recall, Keep: surfaces.Keep, Position: func(now time.Time) advise.Place {
		return advise.Place{At: at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
	}})
	if err != nil {
		t.Fatal(err)
	}
	h := web.New(web.Options{Desk: d, Static: "/static/x/"})
	for _, path := range []string{"/help", "/way"} {
		w := get(h, path)
		if page := w.Body.String(); w.Code != http.StatusOK || strings.Contains(page, "by compass") || !strings.Contains(page, "no compass bearing: the magnetic model covers 2025 to 2029") {
			t.Errorf("%s: status %d\n%s", path, w.Code, page)
		}
	}
	for _, path := range []string{"/", "/ice", "/whiteout", "/map"} {
		if w := get(h, path); w.Code >= http.StatusInternalServerError {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}

// The page Light tells the sun as the trade note has it for this day and place (section 1.5: civil dawn 07:09, sunrise 07:45,
// sunset 16:33, civil dusk 17:08), the light at the fish by the hour, and what is not known of it; a deeper fish has less.
func TestLightPage(t *testing.T) {
	_, h, _ := demo(t, true)
	page := get(h, "/light?day=2026-01-15&depth=6+m").Body.String()
	for _, want := range []string{"Light of 15 Jan", "Light at 6.0 m under ", "walleye band", "In the walleye band", "Clarity of the water not told", "the local table decides", "<th>Hour</th>"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	for what, clock := range map[string]string{"civil dawn": "07:(08|09|10)", "sunrise": "07:4[4-6]", "sunset": "16:3[2-4]", "civil dusk": "17:0[7-9]"} {
		if !regexp.MustCompile(`<th>` + clock + `</th>\s*<td>` + what + `</td>`).MatchString(page) {
			t.Errorf("%s is not at %s", what, clock)
		}
	}
	noon := func(query string) string {
		x := regexp.MustCompile(`<th>12:00</th>\s*<td>([^<]+)</td>`).FindStringSubmatch(get(h, "/light?day=2026-01-15&"+query).Body.String())
		if x == nil {
			return ""
		}
		return x[1]
	}
	if a, b := noon("depth=6+m&snow=0&clarity=3&cloud=0"), noon("depth=12+m&snow=0&clarity=3&cloud=0"); a == b || a == "" {
		t.Errorf("at 6 m %q, at 12 m %q", a, b)
	}
	if page := get(h, "/light", "units=us").Body.String(); !strings.Contains(page, "Light at 20 ft under ") {
		t.Error("US units are not told")
	}
	for _, bad := range []string{"depth=deep", "depth=-1", "depth=200+m", "snow=9+m", "clarity=0", "cloud=120", "day=1949-12-31", "day=tomorrowish"} {
		if w := get(h, "/light?"+bad); w.Code != http.StatusBadRequest {
			t.Errorf("%s: status %d", bad, w.Code)
		}
	}
	for clarity, status := range map[string]int{"": http.StatusBadRequest, "murky": http.StatusBadRequest, "4": http.StatusSeeOther} {
		if w := post(h, "/clarity", url.Values{"id": {journal.NewID().String()}, "clarity": {clarity}}); w.Code != status {
			t.Errorf("clarity %q: status %d", clarity, w.Code)
		}
	}
	if page := get(h, "/light").Body.String(); strings.Contains(page, "Clarity of the water not told") {
		t.Error("the clarity is not kept")
	}
	for _, path := range []string{"/help", "/evening"} {
		if !strings.Contains(get(h, path).Body.String(), `href="/light`) {
			t.Errorf("%s leads to no light", path)
		}
	}
}
