package rehearsal

import (
	"context"
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/world"
	"icehand/internal/trade/journal"
)

// site is the page within the pages of a desk that has recorded nothing: a rehearsal needs no record.
func site(t testing.TB) (http.Handler, *Pages) {
	t.Helper()
	now := time.Date(2026, 1, 15, 9, 50, 0, 0, time.UTC)
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: now})
	d, err := desk.Open(context.Background(), st, desk.Options{Clock: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	p := New(nil)
	t.Cleanup(p.Close)
	return web.New(web.Options{Desk: d, Static: "/static/x/", Extras: p.Extras()}), p
}

func ask(h http.Handler, method, path string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, nil)
	if method == http.MethodPost {
		r = httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	} else if len(form) > 0 {
		r = httptest.NewRequest(method, path+"?"+form.Encode(), nil)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// settled waits for the end of what is being walked.
func settled(t *testing.T, p *Pages) {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if p.runs.running() == nil {
			return
		}
	}
	t.Fatal("the run did not end in a minute")
}

func with(form url.Values, pairs ...string) url.Values {
	out := url.Values{}
	for k, v := range form {
		out[k] = v
	}
	for i := 0; i < len(pairs); i += 2 {
		out.Set(pairs[i], pairs[i+1])
	}
	return out
}

// quick asks for ways that take hundredths of a second a day.
var quick = url.Values{"kind": {"roamers"}, "ice": {"late"}, "seed": {"2007"}, "rods": {"3"}, "aim": {"numbers"}, "way": {"spiral-rule"}, "other": {"rule"}, "days": {"12"}}

// inline would be stopped by the content policy: scripts and styles in the page, handlers in attributes.
var inline = regexp.MustCompile(`(?i)<style|\sstyle="|\son[a-z]+="|<script>|javascript:`)

// One goes from the form over the run to the day, steps through it, reveals the truth, and compares: all by links and
// forms alone.
func TestDayIsWatchedWithoutScript(t *testing.T) {
	h, p := site(t)
	if w := ask(h, "GET", Path, nil); w.Code != 200 || !strings.Contains(w.Body.String(), "Choose a day") || !strings.Contains(w.Body.String(), `class="wide here"`) {
		t.Fatalf("the form: status %d", w.Code)
	}
	w := ask(h, "POST", Path, with(quick, "do", "watch"))
	to := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(to, Path+"?") {
		t.Fatalf("watching: status %d, on to %q", w.Code, to)
	}
	settled(t, p)
	day := ask(h, "GET", to, nil).Body.String()
	for _, want := range []string{"No figure is a catch forecast", "spiral-rule: 0 fish, 0 holes", "rule: 0 fish", "Where rod time went", "First fish", "Guest 3", "Another day", "07:30"} {
		if !strings.Contains(day, want) {
			t.Errorf("the day lacks %q", want)
		}
	}
	later := ask(h, "GET", Path, with(quick, "at", "244")).Body.String()
	if !strings.Contains(later, "11:30") || !strings.Contains(later, "4 h into the day") || strings.Contains(later, "Truth, which no way saw") {
		t.Errorf("minute 244 is not shown as 11:30 without the truth")
	}
	steps := regexp.MustCompile(`<a class="button" href="([^"]+)" data-replace>([^<]+)</a>`).FindAllStringSubmatch(later, -1)
	if len(steps) != 6 {
		t.Fatalf("%d steps", len(steps))
	}
	for i, want := range []string{"0", "210", "235", "245", "270", "510"} {
		at, err := url.Parse(strings.ReplaceAll(steps[i][1], "&amp;", "&"))
		if err != nil || at.Query().Get("at") != want {
			t.Errorf("step %s leads to %q, want minute %s", steps[i][2], steps[i][1], want)
		}
	}
	if w := ask(h, "POST", Path, with(quick, "do", "compare")); w.Code != http.StatusSeeOther {
		t.Fatalf("comparing: status %d", w.Code)
	}
	settled(t, p)
	both := ask(h, "GET", Path, with(quick, "at", "300", "truth", "yes", "view", "lake")).Body.String()
	for _, want := range []string{"12 days, lakes: roamers, late ice, from seed 2007", "Over spiral-rule", "1.00 [1.00 1.00]", "Truth, which no way saw", `aria-pressed="true"`} {
		if !strings.Contains(both, want) {
			t.Errorf("day and table lack %q", want)
		}
	}
	for _, body := range []string{day, later, both} {
		if m := inline.FindString(body); m != "" {
			t.Errorf("the page holds %q", m)
		}
	}
	part := ask(h, "GET", Path+"/moment", with(quick, "at", "300", "truth", "yes"))
	if body := part.Body.String(); part.Code != 200 || strings.Contains(body, "<html") || !strings.HasPrefix(strings.TrimSpace(body), `<div id="rehearsal-moment">`) {
		t.Errorf("the moment: status %d, %.60q", part.Code, body)
	}
	if w := ask(h, "GET", Path+"/moment", with(quick, "seed", "1")); w.Code != http.StatusNotFound {
		t.Errorf("a moment of a day that was not walked: status %d", w.Code)
	}
}

// While one rehearsal is walked the page shows how far it is, every page answers, another is refused, and Stop ends it.
func TestOneRunAtATime(t *testing.T) {
	h, p := site(t)
	release := make(chan struct{})
	q, _, err := read(quick)
	if err != nil {
		t.Fatal(err)
	}
	err = p.runs.start(q.day(), q.title(), func(ctx context.Context, progress func(done, of int)) (func(), error) {
		progress(47, 100)
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-release:
			return nil, errors.New("not stopped")
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end) && p.runs.running().done == 0; {
		time.Sleep(time.Millisecond)
	}
	body := ask(h, "GET", Path, quick).Body.String()
	for _, want := range []string{`aria-valuenow="47"`, `width="470"`, "One day by spiral-rule and rule; lake: roamers", `data-refresh="1"`, `action="/season/rehearsal/stop"`} {
		if !strings.Contains(body, want) {
			t.Errorf("the running page lacks %q", want)
		}
	}
	if w := ask(h, "GET", "/help", nil); w.Code != 200 {
		t.Errorf("another page: status %d", w.Code)
	}
	if w := ask(h, "POST", Path, with(quick, "do", "watch")); w.Code != http.StatusSeeOther {
		t.Errorf("the same day again: status %d", w.Code)
	}
	w := ask(h, "POST", Path, with(quick, "seed", "3", "do", "watch"))
	if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "Another rehearsal is being walked.") || !strings.Contains(w.Body.String(), "or stop it") {
		t.Errorf("another day: status %d", w.Code)
	}
	if w := ask(h, "POST", Path+"/stop", quick); w.Code != http.StatusSeeOther {
		t.Errorf("stop: status %d", w.Code)
	}
	settled(t, p)
	if body := ask(h, "GET", Path, quick).Body.String(); !strings.Contains(body, "The rehearsal was stopped.") || !strings.Contains(body, "Choose a day") {
		t.Error("the page does not say that the rehearsal was stopped")
	}
	if w := ask(h, "POST", Path+"/stop", nil); w.Code != http.StatusSeeOther {
		t.Errorf("stopping nothing: status %d", w.Code)
	}
}

// A real run ends soon after it is told to: within a tenth of what it would have taken.
func TestStopEndsTheWalk(t *testing.T) {
	_, p := site(t)
	q := usual
	q.Days = 48
	if err := p.runs.compare(q); err != nil {
		t.Fatal(err)
	}
	p.runs.cancel()
	start := time.Now()
	settled(t, p)
	if d := time.Since(start); d > 10*time.Second {
		t.Errorf("it went on for %v", d)
	}
	if p.runs.table(q) != nil || p.runs.why(q.table()) == nil {
		t.Error("a stopped run left a table, or no word of it")
	}
}

// A mistake in a way of searching ends its rehearsal, not the server that keeps the journal.
func TestPanicEndsTheRunOnly(t *testing.T) {
	h, p := site(t)
	q, _, _ := read(quick)
	if err := p.runs.start(q.day(), "x", func(context.Context, func(done, of int)) (func(), error) { panic("a way lost its way") }); err != nil {
		t.Fatal(err)
	}
	settled(t, p)
	if body := ask(h, "GET", Path, quick).Body.String(); !strings.Contains(body, "Something went wrong inside the program.") || strings.Contains(body, "lost its way") {
		t.Error("the page says nothing of a failed run, or too much")
	}
}

func TestRefusals(t *testing.T) {
	h, p := site(t)
	for _, x := range []struct{ key, value, want string }{
		{"kind", "sharks", `Kind of lake: &#34;sharks&#34; is not among pods, contour, roamers, bottom.`},
		{"ice", "summer", "Time of winter: "}, {"aim", "luck", "is not among numbers, size"}, {"way", "bound", "Way: "}, {"way", "engine-memory", "Way: "}, {"other", "x", "Second way: "},
		{"days", "5000", "is not among 12, 24, 48"}, {"seed", "-4", "Seed: &#34;-4&#34; is no whole number from 0 to 4294967295"}, {"seed", "4294967296", "Seed: "}, {"rods", "0", "Guests: "},
		{"rods", "13", "is no whole number from 1 to 12"}, {"rods", "four", "Guests: "}, {"at", "511", "Minute of the day: "}, {"seed", strings.Repeat("9", 300), "999..."},
	} {
		form := with(quick, x.key, x.value)
		for _, method := range []string{"GET", "POST"} {
			w := ask(h, method, Path, form)
			if body := w.Body.String(); w.Code != http.StatusBadRequest || !strings.Contains(body, x.want) || !strings.Contains(body, "Mend it below") || !strings.Contains(body, "Watch the day") {
				t.Errorf("%s %s=%.20s: status %d", method, x.key, x.value, w.Code)
			}
		}
	}
	if p.runs.running() != nil {
		t.Error("a refused form started a run")
	}
}

// What is typed comes back in the form, and the address that it makes reads as the same question.
func TestQuestionSurvivesItsAddress(t *testing.T) {
	for _, form := range []url.Values{quick, {}, with(quick, "other", "", "truth", "yes", "view", "lake", "at", "120", "aim", "size", "days", "48")} {
		q, l, err := read(form)
		if err != nil {
			t.Fatal(err)
		}
		q2, l2, err := read(q.values(l))
		if err != nil || q2 != q || l2 != l {
			t.Errorf("%v became %v %v, %v", form, q2, l2, err)
		}
	}
	if q, _, _ := read(with(quick, "other", "spiral-rule")); q.Other != "" {
		t.Error("a way stands beside itself")
	}
}

// Every way that can be chosen is explained, and no word is left of a way that is gone.
func TestEveryWayIsExplained(t *testing.T) {
	names := rehearse.Watchable()
	if len(names) == 0 {
		t.Fatal("no way can be chosen")
	}
	for _, n := range names {
		if meanings[n] == "" {
			t.Errorf("nothing says what %s does", n)
		}
	}
	for n := range meanings {
		if !slices.Contains(names, n) {
			t.Errorf("%s is explained and cannot be chosen", n)
		}
	}
	for _, n := range append(rivals, usual.Way, usual.Other) {
		if !slices.Contains(names, n) {
			t.Errorf("%s is asked for unless told otherwise, and is not there", n)
		}
	}
}

// The picture is well-formed, stands still all day, and draws a school that feeds by another shape than one that rests.
func TestPictureTellsFeedingByShape(t *testing.T) {
	q, l, err := read(with(quick, "truth", "yes", "view", "lake"))
	if err != nil {
		t.Fatal(err)
	}
	u, err := rehearse.Unfold(t.Context(), q.watch(nil))
	if err != nil {
		t.Fatal(err)
	}
	walked := u.Compared[0]
	drawn := 0
	for i, f := range walked.Frames {
		l.At = f.At
		p := draw(u, walked, f, l, 0, 0)
		feeding, resting := 0, 0
		for _, s := range f.Schools {
			if s.Feeding {
				feeding++
			} else {
				resting++
			}
		}
		// every school lies on the lake, and the whole lake is shown: one diamond or lens each
		if got := strings.Count(p.Feeding, "l"); got != feeding {
			t.Fatalf("frame %d: %d diamonds for %d schools that feed", i, got, feeding)
		}
		if got := strings.Count(p.Resting, "M"); got != resting || strings.Count(p.Resting, "q") != resting || strings.Contains(p.Feeding, "q") {
			t.Fatalf("frame %d: %d lenses for %d schools that do not feed", i, got, resting)
		}
		drawn += feeding
		holes := strings.Count(p.Holes, "M") + strings.Count(p.Caught, "M")
		due := 0
		for _, h := range walked.Holes {
			if h.Drilled <= f.At {
				due++
			}
		}
		if holes != due || len(p.Guests) != 3 {
			t.Fatalf("frame %d: %d of %d holes, %d guests", i, holes, due, len(p.Guests))
		}
	}
	if drawn == 0 {
		t.Error("no school fed all day")
	}
	for _, h := range walked.Holes {
		if !windowOf(walked, true).shows(h.At, -10) {
			t.Errorf("the ground where the party went leaves out the hole at %v", h.At)
		}
	}
	l.Truth = false
	if p := draw(u, walked, walked.Frames[60], l, 0, 0); p.Feeding != "" || p.Resting != "" {
		t.Error("the truth is drawn unasked")
	}
	var part strings.Builder
	if err := momentPart(momentOf(u, q, look{At: 300 * time.Minute, Truth: true, Near: true}, 0)).Render(&part); err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(strings.NewReader(part.String()))
	dec.Strict = false // HTML knows attributes without a value
	for {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the moment is not well-formed: %v", err)
		}
	}
}

// Guests who sit close together stay apart in the picture, each near where he is.
func TestGuestsDoNotCoverEachOther(t *testing.T) {
	taken := [][2]float64{}
	for range 12 {
		p := free([2]float64{200, 150}, 25, taken)
		for _, o := range taken {
			if abs(o[0]-p[0]) < 24.999 && abs(o[1]-p[1]) < 24.999 {
				t.Fatalf("%v covers %v", p, o)
			}
		}
		taken = append(taken, p)
	}
}

func abs(x float64) float64 { return max(x, -x) }

func TestFewDaysAreKept(t *testing.T) {
	c := kept[int, string]{most: 2}
	c.put(1, "a")
	c.put(2, "b")
	if c.get(1) != "a" {
		t.Fatal("1 is gone")
	}
	c.put(3, "c") // 2 was asked for longest ago
	if c.get(2) != "" || c.get(1) != "a" || c.get(3) != "c" || len(c.values) != 2 {
		t.Errorf("kept %v", c.values)
	}
	q := usual
	other := q
	other.Days, other.Rods = 48, 5
	if q.day() == other.day() {
		t.Error("other guests, the same day")
	}
	other.Rods = q.Rods
	if q.day() != other.day() {
		t.Error("the table's days make another day")
	}
	if q.table().Ways != "rule spiral-rule engine" {
		t.Errorf("the table compares %q", q.table().Ways)
	}
}

// The day's whole: rod time adds up to all of it, and never is told as such.
func TestWholeDayAddsUp(t *testing.T) {
	q, _, _ := read(with(quick, "other", ""))
	u, err := rehearse.Unfold(t.Context(), q.watch(nil))
	if err != nil {
		t.Fatal(err)
	}
	sum := 0
	for _, r := range wholeOf(u).Time {
		n := 0
		for _, c := range r.Cells[0].Bar {
			n = 10*n + int(c-'0')
		}
		sum += n
	}
	if sum < 997 || sum > 1003 { // five shares, each rounded to a thousandth
		t.Errorf("rod time adds up to %d thousandths", sum)
	}
	if got := firstAt(world.Length); got != "none" {
		t.Errorf("no fish all day came at %q", got)
	}
	if got := clock(0) + " " + clock(world.Length); got != "07:30 16:00" {
		t.Errorf("the day is %s", got)
	}
}

func TestClosedPagesRefuse(t *testing.T) {
	p := New(nil)
	p.Close()
	if err := p.runs.watch(usual); fault.CodeOf(err) != fault.Unavailable {
		t.Errorf("a run after the end: %v", err)
	}
}

// FuzzQuestion: whatever an address or form says, the answer is a page or a refusal, never a fault of the server's.
func FuzzQuestion(f *testing.F) {
	f.Add(quick.Encode())
	f.Add("kind=&seed=99999999999999999999&at=-1&way=%ff")
	f.Add("truth=yes&view=lake&at=510&rods=12&other=clairvoyant")
	h, _ := site(f)
	f.Fuzz(func(t *testing.T, text string) {
		form, err := url.ParseQuery(text)
		if err != nil {
			t.Skip("no form")
		}
		for _, path := range []string{Path, Path + "/moment"} {
			if w := ask(h, "GET", path, form); w.Code >= 500 {
				t.Errorf("%s %q: status %d", path, text, w.Code)
			}
		}
		if w := ask(h, "POST", Path+"/stop", form); w.Code != http.StatusSeeOther {
			t.Errorf("stop %q: status %d", text, w.Code)
		}
	})
}

func BenchmarkMoment(b *testing.B) {
	q := usual
	q.Kind, q.Way, q.Other = "pods", "spiral-rule", "rule" // the kind with most schools
	u, err := rehearse.Unfold(b.Context(), q.watch(nil))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := momentPart(momentOf(u, q, look{At: 200 * time.Minute, Truth: true}, 0)).Render(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
