package web_test

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/importing"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

func newStore(made time.Time) store.Store {
	return mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: made})
}

// madeUp makes the demo's journal once for all tests; each fills its own store from it.
var madeUp = sync.OnceValues(func() (*sim.Demo, error) { return sim.NewDemo(15) })

// surfaces keeps the lake's depth surfaces for all tests: they are worked out once.
var surfaces mem.Shelf

// demo gives the made-up lake's desk and its pages. Without told, the desk knows no place but what forms carry.
func demo(t *testing.T, told bool) (*desk.Desk, http.Handler, *sim.Demo) {
	t.Helper()
	s, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	st := newStore(s.Now)
	if err := s.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	o := desk.Options{Seed: 15, Clock: func() time.Time { return s.Now }, Recall: surfaces.Recall, Keep: surfaces.Keep}
	if told {
		at := s.Lake.Frame.Local(s.Scout)
		o.Position = func(now time.Time) advise.Place {
			return advise.Place{At: at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
		}
	}
	d, err := desk.Open(t.Context(), st, o)
	if err != nil {
		t.Fatal(err)
	}
	return d, web.New(web.Options{Desk: d, Static: "/static/x/", Extras: importing.New(d).Extras()}), s
}

func get(h http.Handler, path string, cookies ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for _, c := range cookies {
		r.Header.Add("Cookie", c)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func post(h http.Handler, path string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// count counts the entries of a kind that count.
func count(t *testing.T, d *desk.Desk, kind journal.Kind) (n int) {
	t.Helper()
	err := d.Read(t.Context(), func(v desk.View) error {
		for _, f := range v.Log.Facts() {
			if f.Counts() && f.Entry.Kind == kind {
				n++
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// inline would be stopped by the content policy: scripts and styles in the page, handlers in attributes.
var inline = regexp.MustCompile(`(?i)<style|\sstyle="|\son[a-z]+="|<script>|javascript:`)

// TestPages: every page of the demo is whole, has the turn-back time on top, and holds nothing inline.
func TestPages(t *testing.T) {
	_, h, _ := demo(t, true)
	for path, want := range map[string]string{
		"/": "Undo", "/keys": "Read ice", "/map": "chart", "/day": "Advised and done", "/day?day=2026-01-14": "Day 14 Jan", "/evening": "What would change the plan",
		"/evening?day=2026-01-20": "20 January 2026", "/people": "Okafor", "/ice": "Table in force", "/ice?load=car": "for a car", "/help": "Advice only. Call the emergency number.", "/import": "Nothing is written before you accept",
		"/map/place?e=0&n=0": "call",
	} {
		w := get(h, path)
		body := w.Body.String()
		if w.Code != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%s: status %d, without %q", path, w.Code, want)
		}
		if m := inline.FindString(body); m != "" {
			t.Errorf("%s holds %q", path, m)
		}
		if !strings.HasPrefix(path, "/map/") && (!strings.Contains(body, `id="strip"`) || !strings.Contains(body, "turn back")) {
			t.Errorf("%s lacks the turn-back strip", path)
		}
		if w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("%s may be kept by a cache", path)
		}
	}
	for path, want := range map[string]string{"/map/lake.json": `"sort":"shore"`, "/map/today.json": `"sort":"hole"`, "/map/odds.json": `"sort":"odds"`, "/map/ice.json": `"sort":"ice"`, "/map/odds.png": "\x89PNG"} {
		if w := get(h, path); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: status %d, without %q", path, w.Code, want)
		}
	}
}

func TestPagesRefuse(t *testing.T) {
	_, h, _ := demo(t, true)
	for path, status := range map[string]int{"/nowhere": 404, "/evening?day=tomorrow": 400, "/ice?load=tank": 400, "/map/place?e=x&n=1": 400, "/day?day=2026-13-01": 400} {
		if w := get(h, path); w.Code != status || !strings.Contains(w.Body.String(), `class="fault"`) {
			t.Errorf("%s: status %d, want %d", path, w.Code, status)
		}
	}
	for _, x := range []struct {
		path   string
		form   url.Values
		status int
	}{
		{"/look", url.Values{"marks": {"lots"}}, 400},
		{"/look", url.Values{"marks": {"few"}, "id": {"no-id"}}, 400},
		{"/look", url.Values{"marks": {"few"}, "hole": {journal.NewID().String()}}, 404},
		{"/fish", url.Values{"kept": {"yes"}, "count": {"500"}}, 400},
		{"/fish/name", url.Values{"fish": {journal.NewID().String()}}, 400},
		{"/up", url.Values{"sit": {journal.NewID().String()}}, 404},
		{"/ice", url.Values{"total": {"thick"}}, 400},
		{"/ice", url.Values{}, 400},
		{"/hazard", url.Values{"what": {"dragon"}}, 400},
		{"/settings", url.Values{"theme": {"pink"}}, 400},
		{"/import", url.Values{"token": {"x"}}, 404},
	} {
		w := post(h, x.path, x.form)
		if w.Code != x.status || !strings.Contains(w.Body.String(), "Not saved") {
			t.Errorf("%s %v: status %d, want %d and \"Not saved\"", x.path, x.form, w.Code, x.status)
		}
	}
}

// TestNoLake: an empty store shows the way to Import, and the strip does not look like plenty of time.
func TestNoLake(t *testing.T) {
	d, err := desk.Open(t.Context(), newStore(time.Now()), desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h := web.New(web.Options{Desk: d, Static: "/static/x/", Extras: importing.New(d).Extras()})
	w := get(h, "/")
	if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), `href="/import"`) || !strings.Contains(w.Body.String(), "unknown: head in") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	if w := get(h, "/import"); w.Code != http.StatusOK {
		t.Errorf("Import: status %d", w.Code)
	}
	if w := get(h, "/help"); w.Code != http.StatusOK {
		t.Errorf("Help: status %d", w.Code)
	}
}

// TestAdviceIsJournaledOnce: showing the same step again adds nothing.
func TestAdviceIsJournaledOnce(t *testing.T) {
	d, h, _ := demo(t, true)
	had := count(t, d, journal.KindAdvice)
	for range 3 {
		if w := get(h, "/"); w.Code != http.StatusOK {
			t.Fatalf("status %d", w.Code)
		}
	}
	if got := count(t, d, journal.KindAdvice); got != had+1 {
		t.Errorf("%d advices journaled by showing Now three times, want 1", got-had)
	}
}

// TestFixes: a fix in the form places the hole; no fix, or one of another day, makes a hole without a place and says so;
// a repeated form counts once.
func TestFixes(t *testing.T) {
	d, h, s := demo(t, false)
	holes := func() int { return count(t, d, journal.KindHole) }
	had := holes()
	spot := s.Lake.Frame.Position(s.Lake.Frame.Local(s.Scout).Toward(0, 400))
	form := url.Values{"id": {journal.NewID().String()}, "marks": {"none"}, "lat": {fmt.Sprint(spot.Lat)}, "lon": {fmt.Sprint(spot.Lon)}, "accuracy": {"5"}, "age": {"2"}}
	for range 2 {
		w := post(h, "/look", form)
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
		if page := get(h, w.Header().Get("Location")).Body.String(); strings.Contains(page, "without place") || !strings.Contains(page, "Nothing") {
			t.Error("a look with a fix is not shown as placed")
		}
	}
	if holes() != had+1 {
		t.Fatalf("%d holes made by one look sent twice", holes()-had)
	}
	stale := url.Values{"id": {journal.NewID().String()}, "marks": {"none"}, "lat": {fmt.Sprint(spot.Lat)}, "lon": {fmt.Sprint(spot.Lon)}, "accuracy": {"5"}, "age": {"600"}}
	w := post(h, "/look", stale)
	if page := get(h, w.Header().Get("Location")).Body.String(); !strings.Contains(page, "without place") {
		t.Errorf("a fix of ten minutes ago placed a hole: status %d", w.Code)
	}
}

// TestUndo takes back a look together with the hole that it made.
func TestUndo(t *testing.T) {
	d, h, _ := demo(t, false)
	holes, looks := count(t, d, journal.KindHole), count(t, d, journal.KindLook)
	if w := post(h, "/look", url.Values{"id": {journal.NewID().String()}, "marks": {"many"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if w := post(h, "/undo", url.Values{"id": {journal.NewID().String()}}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if h, l := count(t, d, journal.KindHole), count(t, d, journal.KindLook); h != holes || l != looks {
		t.Errorf("%d holes and %d looks left over", h-holes, l-looks)
	}
}

// TestFishAndPeople: a fish kept under a name is counted for that person; a head count names who is missing.
func TestFishAndPeople(t *testing.T) {
	d, h, _ := demo(t, true)
	var petra, guests = "", []string{}
	err := d.Read(t.Context(), func(v desk.View) error {
		for _, g := range v.Party.Guests {
			if g.Day == v.Today {
				guests = append(guests, g.ID.String())
				if strings.HasPrefix(v.Name(g.Name), "Petra") {
					petra = g.ID.String()
				}
			}
		}
		return nil
	})
	if err != nil || petra == "" {
		t.Fatalf("no Petra: %v", err)
	}
	before := regexp.MustCompile(`Petra Albrecht</p>(?s:.*?)<strong>(\d+)</strong>`)
	kept := func() string {
		m := before.FindStringSubmatch(get(h, "/people").Body.String())
		if m == nil {
			t.Fatal("Petra is not on People")
		}
		return m[1]
	}
	was := kept()
	if w := post(h, "/fish", url.Values{"id": {journal.NewID().String()}, "kept": {"yes"}, "guest": {petra}, "back": {"/people"}}); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/people" {
		t.Fatalf("status %d to %s", w.Code, w.Header().Get("Location"))
	}
	if got := kept(); got == was {
		t.Errorf("Petra still has %s", got)
	}
	present := []string{}
	for _, g := range guests {
		if g != petra {
			present = append(present, g)
		}
	}
	if w := post(h, "/head-count", url.Values{"id": {journal.NewID().String()}, "present": present}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if page := get(h, "/people").Body.String(); !strings.Contains(page, "Missing: Petra Albrecht") {
		t.Error("the head count does not name who is missing")
	}
}

// TestReadIce saves a thickness in the phone's own units.
func TestReadIce(t *testing.T) {
	d, h, _ := demo(t, true)
	r := httptest.NewRequest(http.MethodPost, "/ice", strings.NewReader(url.Values{"id": {journal.NewID().String()}, "total": {"16.5"}, "white": {"2"}, "grey": {"yes"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Cookie", "units=us")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	err := d.Read(t.Context(), func(v desk.View) error {
		last := v.Lake.Ice[len(v.Lake.Ice)-1]
		if last.Total.Millimetres() != 419 || last.White.Millimetres() != 51 || !last.Grey || last.Slush { // 16.5 in and 2 in
			t.Errorf("%+v", last)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// upload sends a file as the import form does.
func upload(t *testing.T, h http.Handler, name string, data []byte, fields map[string]string) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, v := range fields {
		if err := m.WriteField(k, v); err != nil {
			t.Fatal(err)
		}
	}
	f, err := m.CreateFormFile("file", name)
	if err == nil {
		_, err = f.Write(data)
	}
	if err != nil || m.Close() != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "/import", &b)
	r.Header.Set("Content-Type", m.FormDataContentType())
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// TestImport: a preview writes nothing, its acceptance does, once; a refused file says how to mend it.
func TestImport(t *testing.T) {
	now := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	d, err := desk.Open(t.Context(), newStore(now), desk.Options{Clock: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	h := web.New(web.Options{Desk: d, Static: "/static/x/", Extras: importing.New(d).Extras()})
	l := sim.NewLake(15)
	w := upload(t, h, "outline.geojson", l.OutlineGeoJSON(), map[string]string{"tz": "Etc/GMT+3"})
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(w.Body.String())
	if w.Code != http.StatusOK || token == nil {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	if n := count(t, d, journal.KindLake); n != 0 {
		t.Fatal("the preview wrote a lake")
	}
	if w := post(h, "/import", url.Values{"token": {token[1]}}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	if n := count(t, d, journal.KindLake); n != 1 {
		t.Fatalf("%d lakes after acceptance", n)
	}
	if w := post(h, "/import", url.Values{"token": {token[1]}}); w.Code != http.StatusNotFound {
		t.Errorf("accepted twice: status %d", w.Code)
	}
	w = upload(t, h, "depths.csv", []byte("lat,lon,depth\n47.9,-45,30\n"), nil)
	if page := w.Body.String(); strings.Contains(page, `name="token"`) || !strings.Contains(page, "not taken") {
		t.Errorf("soundings without a unit were not refused: %d", w.Code)
	}
}

// TestSettings are kept on the phone and come back as a redirect to where they were made, on these pages only.
func TestSettings(t *testing.T) {
	_, h, _ := demo(t, true)
	w := post(h, "/settings", url.Values{"theme": {"night"}, "back": {"/help"}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/help" || !strings.Contains(w.Header().Get("Set-Cookie"), "theme=night") {
		t.Errorf("status %d, %v", w.Code, w.Header())
	}
	for _, away := range []string{"//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example", "elsewhere"} {
		if w := post(h, "/settings", url.Values{"units": {"us"}, "back": {away}}); w.Header().Get("Location") != "/" {
			t.Errorf("%q leads to %q", away, w.Header().Get("Location"))
		}
	}
	page := get(h, "/", "theme=night; units=us; hand=left").Body.String()
	for _, want := range []string{`data-theme="night"`, `bgcolor="#000000"`, `class="left"`, " ft"} {
		if !strings.Contains(page, want) {
			t.Errorf("Now lacks %q", want)
		}
	}
}

func TestHealth(t *testing.T) {
	_, h, _ := demo(t, true)
	w := get(h, "/health")
	if b, err := io.ReadAll(w.Body); w.Code != http.StatusOK || err != nil || string(b) != "ready\n" {
		t.Errorf("status %d, %q", w.Code, b)
	}
}
