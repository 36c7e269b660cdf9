package report

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

var madeUp = sync.OnceValues(func() (*sim.Demo, error) { return sim.NewDemo(15) })

// surfaces keeps the lake's depth surfaces for all tests: they are worked out once.
var surfaces mem.Shelf

// site is the made-up lake's record with its pages, at the demo's hour moved on by so much. The returned clock may be moved.
func site(t testing.TB) (*desk.Desk, http.Handler, *time.Time) {
	t.Helper()
	demo, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	now := demo.Now
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: now})
	if err := demo.Fill(context.Background(), st); err != nil {
		t.Fatal(err)
	}
	d, err := desk.Open(context.Background(), st, desk.Options{Clock: func() time.Time { return now }, Recall: surfaces.Recall, Keep: surfaces.Keep})
	if err != nil {
		t.Fatal(err)
	}
	return d, web.New(web.Options{Desk: d, Static: "/static/x/", Extras: New(d).Extras()}), &now
}

func ask(h http.Handler, method, path string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// dots is a picture; with metadata it tells a place in EXIF, in a comment and after its end.
func dots(t testing.TB, metadata []byte) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	for i := range 320 * 240 {
		img.Set(i%320, i/320, color.RGBA{uint8(i), uint8(i / 320), uint8(i * i / 977), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	plain := b.Bytes()
	out := append([]byte{}, plain[:2]...)
	for _, code := range []byte{0xe1, 0xfe} {
		part := append([]byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\x00\x00"), metadata...)
		out = append(out, 0xff, code, byte((len(part)+2)>>8), byte(len(part)+2))
		out = append(out, part...)
	}
	return append(append(out, plain[2:]...), metadata...)
}

// spots gives every position that the record holds of a day: holes, ice, hazards, trip, crowds, parked loads.
func spots(t testing.TB, d *desk.Desk, day journal.Day) (out []geo.Position) {
	t.Helper()
	err := d.Read(t.Context(), func(v desk.View) error {
		add := func(p *journal.Point) {
			if p != nil {
				out = append(out, p.Position())
			}
		}
		for _, f := range v.Log.Facts() {
			if f.Entry.Day != day && f.Entry.Kind != journal.KindHazard {
				continue
			}
			switch b := f.Body.(type) {
			case *journal.Hole:
				add(b.At)
			case *journal.Ice:
				add(b.At)
			case *journal.Trip:
				add(b.Landing)
			case *journal.Hazard:
				for i := range b.Points {
					add(&b.Points[i])
				}
			case *journal.Crowd:
				add(&b.At)
			case *journal.LoadParked:
				add(&b.At)
			}
		}
		for _, h := range v.Lake.HolesOn(day) { // those placed by paces too
			if h.Placed {
				out = append(out, v.Lake.Frame.Position(h.At))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var embedded = regexp.MustCompile(`base64,([A-Za-z0-9+/=]+)`)

// everyByte gives a page with all that is packed into it, unpacked as well.
func everyByte(t testing.TB, page []byte) string {
	t.Helper()
	all := string(page)
	for _, m := range embedded.FindAllSubmatch(page, -1) {
		raw, err := base64.StdEncoding.DecodeString(string(m[1]))
		if err != nil {
			t.Fatal(err)
		}
		all += "\n" + string(raw)
	}
	return all
}

// notations writes a position in every way in which it may slip out: decimal degrees at 2 to 6 decimals with point and comma, degrees and minutes,
// degrees, minutes and seconds, the journal's own units, UTM at three roundings, the grid at four to ten figures, the lake's plane, a geohash and an open location
// code. Lat and lon apart: one of them alone gives a line.
func notations(t testing.TB, p geo.Position, l geo.Local) []string {
	t.Helper()
	var out []string
	add := func(s ...string) {
		for _, x := range s {
			out = append(out, x, strings.ReplaceAll(x, ".", ","))
		}
	}
	for _, v := range []float64{p.Lat, p.Lon} {
		a := math.Abs(v)
		for n := 2; n <= 6; n++ {
			add(fmt.Sprintf("%.*f", n, a), fmt.Sprintf("%.*f", n, math.Trunc(a*math.Pow10(n))/math.Pow10(n)))
		}
		deg, min := math.Trunc(a), (a-math.Trunc(a))*60
		sec := (min - math.Trunc(min)) * 60
		for n := 2; n <= 6; n++ {
			add(fmt.Sprintf("%.0f %.*f", deg, n, min), fmt.Sprintf("%.0f°%.*f", deg, n, min), fmt.Sprintf("%.0f° %.*f", deg, n, min), fmt.Sprintf("%.0f-%.*f", deg, n, min))
		}
		add(fmt.Sprintf("%.0f %02.0f %02.0f", deg, math.Trunc(min), sec), fmt.Sprintf("%.0f°%02.0f'%02.0f", deg, math.Trunc(min), sec), fmt.Sprintf("%.0f°%02.0f′%02.0f", deg, math.Trunc(min), sec), fmt.Sprintf("%.0f° %02.0f' %.1f", deg, math.Trunc(min), sec))
	}
	lat, lon := p.E7()
	add(fmt.Sprint(lat), fmt.Sprint(-lon), fmt.Sprint(lon), fmt.Sprintf("%d", lat/10), fmt.Sprintf("%d", lon/10))
	if u := p.ToUTM(); u.Zone > 0 {
		add(fmt.Sprintf("%.0f", u.Easting), fmt.Sprintf("%.0f", u.Northing), fmt.Sprintf("%.0f", math.Trunc(u.Easting)), fmt.Sprintf("%.0f", math.Trunc(u.Northing)), fmt.Sprintf("%.2f", u.Easting), fmt.Sprintf("%.2f", u.Northing))
	}
	for _, figures := range []int{4, 6, 8, 10} {
		if g, err := p.GridSquare(figures); err == nil {
			s := g.String()
			add(s, strings.ReplaceAll(s, " ", ""))
		}
	}
	add(fmt.Sprintf("%.1f, %.1f", l.E, l.N), fmt.Sprintf("%.2f", l.E), fmt.Sprintf("%.2f", l.N), geohash(p, 7))
	return out
}

// geohash writes a position as a geohash [public algorithm, from memory; the well-known ezs42 of 42.6, -5.6 checks it below].
func geohash(p geo.Position, n int) string {
	const letters = "0123456789bcdefghjkmnpqrstuvwxyz"
	lat, lon := [2]float64{-90, 90}, [2]float64{-180, 180}
	var out []byte
	for i, bits := 0, 0; len(out) < n; i++ {
		side, v := &lon, p.Lon
		if i%2 == 1 {
			side, v = &lat, p.Lat
		}
		mid := (side[0] + side[1]) / 2
		bits <<= 1
		if v >= mid {
			bits |= 1
			side[0] = mid
		} else {
			side[1] = mid
		}
		if i%5 == 4 {
			out = append(out, letters[bits&31])
			bits = 0
		}
	}
	return string(out)
}

// The positions of a whole day, in every notation at 2 to 6 decimals, are absent from every byte of the report: of its text, its type and its
// pictures. Pictures come in with the place in their metadata. [Definition: the day is made up; notations as in notations]
func TestNoPositionLeaks(t *testing.T) {
	if got := geohash(geo.Position{Lat: 42.6, Lon: -5.6}, 5); got != "ezs42" {
		t.Fatalf("geohash of the well-known place is %s", got)
	}
	d, _, _ := site(t)
	demo, _ := madeUp()
	day := journal.Day("2026-01-15")
	places := spots(t, d, day)
	if len(places) < 40 {
		t.Fatalf("only %d positions on record", len(places))
	}
	if err := d.AddPicture(t.Context(), desk.Act{}, dots(t, fmt.Appendf(nil, "%f %f hole 17", places[0].Lat, places[0].Lon))); err != nil {
		t.Fatal(err)
	}
	pictures, err := d.Pictures(t.Context(), day)
	if err != nil || len(pictures) != 1 {
		t.Fatalf("%d pictures, %v", len(pictures), err)
	}
	tested := 0
	for _, depth := range []bool{false, true} {
		if depth && testing.Short() {
			break // the depths of the whole lake are worked out for it
		}
		q := desk.ReportAsk{Day: day, Words: "A good day, soup and all.", Next: "2027-01-14", Depth: depth}
		q.Pictures = append(q.Pictures, pictures[0].ID)
		rep, err := d.GuestReport(t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		page, err := Page(rep)
		if err != nil {
			t.Fatal(err)
		}
		all := everyByte(t, page)
		if !strings.Contains(all, "\xff\xd8\xff") {
			t.Fatal("the picture is not in the report: nothing was looked through")
		}
		for _, p := range places {
			for _, n := range notations(t, p, demo.Lake.Frame.Local(p)) {
				if len(n) < 5 {
					continue
				}
				tested++
				if strings.Contains(all, n) {
					t.Errorf("the report holds %q of %v", n, p)
				}
			}
		}
		for _, never := range []string{"Exif", "EXIF", "GPS", "hole 17", "Harrow Landing", "lat=", "lon=", "geo:"} {
			if strings.Contains(all, never) {
				t.Errorf("the report holds %q", never)
			}
		}
	}
	if tested < 10_000 {
		t.Fatalf("only %d notations were looked for", tested)
	}
	t.Logf("%d positions, %d notations looked for", len(places), tested)
}

// The test above can fail: the day's own export is full of what it looks for.
func TestNotationsAreFound(t *testing.T) {
	p := geo.Position{Lat: 47.9012345, Lon: -45.0132109}
	found := 0
	for _, text := range []string{"47.90", "47.9012", "-45.0132", "45,01321", "47 54.07", "47°54.0741", "47°54'04", "479012345", "-450132109"} {
		for _, n := range notations(t, p, geo.Local{E: 12.3, N: 45.6}) {
			if strings.Contains(text, n) {
				found++
				break
			}
		}
	}
	if found != 9 {
		t.Errorf("%d of 9 notations are recognised", found)
	}
}

// No hour, no depth in figures, no distance, no ice reading, no number of a hole: leak routes 4, 5 and 6.
func TestNoHourNoDepthNoDistance(t *testing.T) {
	if testing.Short() {
		t.Skip("the depths of the whole lake are worked out for it")
	}
	d, _, _ := site(t)
	rep, err := d.GuestReport(t.Context(), desk.ReportAsk{Day: "2026-01-15", Depth: true})
	if err != nil {
		t.Fatal(err)
	}
	page, err := Page(rep)
	if err != nil {
		t.Fatal(err)
	}
	text := said(string(page))
	for _, never := range []string{`\b[0-9]{1,2}:[0-9]{2}\b`, `[0-9] ?(m|km|ft|yd|mi|paces)\b`, `(?i)\bhole\b`, `(?i)\bice (of|was) [0-9]`, `(?i)\b(north|south|east|west)\b`, `[0-9]\.[0-9]`} {
		if m := regexp.MustCompile(never).FindString(text); m != "" {
			t.Errorf("the report says %q in:\n%s", m, text)
		}
	}
	if !strings.Contains(text, "deep water") && !strings.Contains(text, "mid-depth water") && !strings.Contains(text, "shallow water") {
		t.Errorf("asked for, the depth is not told in a word: %s", text)
	}
	plain, err := d.GuestReport(t.Context(), desk.ReportAsk{Day: "2026-01-15"})
	if err != nil {
		t.Fatal(err)
	}
	if page, err = Page(plain); err != nil || regexp.MustCompile(`(shallow|deep|mid-depth) water`).MatchString(said(string(page))) {
		t.Errorf("not asked for, the depth is told all the same (%v)", err)
	}
}

var (
	styles = regexp.MustCompile(`(?s)<style>.*?</style>|<svg.*?</svg>|data:[^"]*`)
	marks  = regexp.MustCompile(`<[^>]*>`)
)

// said gives a page's words.
func said(page string) string {
	return strings.Join(strings.Fields(marks.ReplaceAllString(styles.ReplaceAllString(page, " "), " ")), " ")
}

// Leak route 7: file name and link tell nothing; a link ends with its hour, when it is taken back, and with any other key; the record holds no
// key.
func TestLinkEnds(t *testing.T) {
	d, h, now := site(t)
	w := ask(h, http.MethodPost, "/report/give", url.Values{"id": {journal.NewID().String()}, "day": {"2026-01-15"}, "days": {"14"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, said(w.Body.String()))
	}
	shown := ask(h, http.MethodGet, "/report?day=2026-01-15", nil).Body.String()
	link := regexp.MustCompile(`/r/[0-9a-f]{32}`).FindString(shown)
	if link == "" {
		t.Fatalf("no link is shown: %s", said(shown))
	}
	open := func() int { return ask(h, http.MethodGet, link, nil).Code }
	got := ask(h, http.MethodGet, link, nil)
	if got.Code != http.StatusOK || !strings.Contains(got.Body.String(), "Lake Tamaringen") {
		t.Fatalf("the link opens %d", got.Code)
	}
	for k, want := range map[string]string{"Cache-Control": "no-store", "X-Robots-Tag": "noindex, nofollow", "Content-Security-Policy": policy} {
		if got.Header().Get(k) != want {
			t.Errorf("%s is %q", k, got.Header().Get(k))
		}
	}
	if c := ask(h, http.MethodGet, link[:len(link)-1]+"g", nil).Code; c != http.StatusNotFound {
		t.Errorf("another key opens %d", c)
	}
	key := strings.TrimPrefix(link, "/r/")
	err := d.Read(t.Context(), func(v desk.View) error {
		for _, f := range v.Log.Facts() {
			if bytes.Contains(f.Entry.Body, []byte(key)) {
				t.Error("the record holds the key itself")
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	start := *now
	*now = start.Add(14*24*time.Hour - time.Second)
	if open() != http.StatusOK {
		t.Error("it ended too early")
	}
	*now = start.Add(14 * 24 * time.Hour)
	if open() != http.StatusNotFound {
		t.Error("it opens at its end")
	}
	*now = start.Add(time.Minute)
	report := regexp.MustCompile(`name="report" value="([^"]+)"`).FindStringSubmatch(ask(h, http.MethodGet, "/report?day=2026-01-15", nil).Body.String())
	if report == nil {
		t.Fatal("nothing to take back")
	}
	if w := ask(h, http.MethodPost, "/report/back", url.Values{"id": {journal.NewID().String()}, "day": {"2026-01-15"}, "report": {report[1]}}); w.Code != http.StatusSeeOther {
		t.Fatalf("%d", w.Code)
	}
	if open() != http.StatusNotFound {
		t.Error("taken back, it still opens")
	}
}

// Bad input on the page: what is wrong, how to mend it, and nothing is kept.
func TestPageRefuses(t *testing.T) {
	d, h, _ := site(t)
	for what, x := range map[string]struct {
		method, path string
		form         url.Values
		code         int
		says         string
	}{
		"a place in the words":      {http.MethodGet, "/report?day=2026-01-15&words=" + url.QueryEscape("at 47.9012, -45.0134"), nil, 200, "holds a number with decimals"},
		"no such date":              {http.MethodGet, "/report?day=yesterday", nil, 400, "is not a date"},
		"a day without people":      {http.MethodGet, "/report?day=2026-01-31", nil, 200, "Nobody is recorded"},
		"no such picture":           {http.MethodGet, "/report?day=2026-01-15&picture=" + journal.NewID().String(), nil, 200, "not on record"},
		"days without end":          {http.MethodPost, "/report/give", url.Values{"day": {"2026-01-15"}, "days": {"4000"}}, 400, "too short or too long"},
		"words, given all the same": {http.MethodPost, "/report/give", url.Values{"day": {"2026-01-15"}, "days": {"1"}, "words": {"hole 17"}}, 400, "names a hole"},
	} {
		w := ask(h, x.method, x.path, x.form)
		if got := strings.ToLower(said(w.Body.String())); w.Code != x.code || !strings.Contains(got, strings.ToLower(x.says)) {
			t.Errorf("%s: %d %s", what, w.Code, got)
		}
	}
	err := d.Read(t.Context(), func(v desk.View) error {
		if len(v.Party.Given) != 0 {
			t.Errorf("%d reports are kept", len(v.Party.Given))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.AddPicture(t.Context(), desk.Act{}, []byte("a photo that is no photo")); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("no picture: %v", err)
	}
}
