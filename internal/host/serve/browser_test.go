package serve

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

var update = flag.Bool("update", false, "write the reference screenshots anew")

// madeUp makes the demo's journal once for all tests; each fills its own store from it.
var madeUp = sync.OnceValues(func() (*sim.Demo, error) { return sim.NewDemo(15) })

// surfaces keeps the lake's depth surfaces for all tests: they are worked out once.
var surfaces mem.Shelf

// demoDesk is a desk on the made-up lake, with a scout who walks where he is sent and a clock that can be moved.
type demoDesk struct {
	*desk.Desk

	mu  sync.Mutex
	now time.Time
	at  geo.Local
}

func newDemoDesk(t testing.TB) *demoDesk { return newDeskOn(t, true) }

// newDeskOn makes a demo desk; without told it knows no place but what the phone's fix says.
func newDeskOn(t testing.TB, told bool) *demoDesk {
	t.Helper()
	demo, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: demo.Now})
	if err := demo.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	d := &demoDesk{now: demo.Now, at: demo.Lake.Frame.Local(demo.Scout)}
	o := desk.Options{Seed: 15, Clock: func() time.Time { d.mu.Lock(); defer d.mu.Unlock(); return d.now }, Recall: surfaces.Recall, Keep: surfaces.Keep}
	if told {
		o.Follow = d.follow
		o.Position = func(now time.Time) advise.Place {
			d.mu.Lock()
			defer d.mu.Unlock()
			return advise.Place{At: d.at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
		}
	}
	d.Desk, err = desk.Open(t.Context(), st, o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func (d *demoDesk) follow(s advise.Step) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.at, d.now = s.To, d.now.Add(time.Duration(s.Cost.Minutes*float64(time.Minute)))
}

// clock moves the demo's clock to an hour of its day.
func (d *demoDesk) clock(hour, minute int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now = time.Date(2026, 1, 15, hour, minute, 0, 0, time.FixedZone(sim.Zone, -3*3600))
}

// browser finds the browser to drive; without one the test is skipped, or failed where CI asks for it.
func browser(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser test takes seconds")
	}
	names := []string{"chromium", "chromium-browser", "google-chrome"}
	if p := os.Getenv("ICEHAND_BROWSER"); p != "" {
		names = []string{p}
	}
	for _, n := range names {
		if p, err := exec.LookPath(n); err == nil {
			return p
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("no chromium found, and CI must run the browser tests")
	}
	t.Skip("no chromium found: install it to test the pages in a browser")
	return ""
}

// shared is the browser of all tests, started by the first: each start takes a second of the processor.
var shared struct {
	sync.Mutex
	ctx    context.Context
	cancel context.CancelFunc
}

func TestMain(m *testing.M) {
	status := m.Run()
	if shared.cancel != nil {
		shared.cancel()
	}
	os.Exit(status)
}

// running gives the browser, started anew when it has ended.
func running(t *testing.T, path string) context.Context {
	t.Helper()
	shared.Lock()
	defer shared.Unlock()
	if shared.ctx != nil && shared.ctx.Err() == nil {
		return shared.ctx
	}
	profile, err := os.MkdirTemp("", "icehand-browser")
	if err != nil {
		t.Fatal(err)
	}
	alloc, end := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true), chromedp.Flag("force-color-profile", "srgb"))
	ctx, stop := chromedp.NewContext(alloc)
	shared.ctx, shared.cancel = ctx, func() {
		stop()
		end()
		os.RemoveAll(profile)
	}
	do(t, ctx, chromedp.Navigate("about:blank"))
	return ctx
}

// tab opens a tab that shares nothing with those of other tests, and gathers what its console complains of.
func tab(t *testing.T, path string) (context.Context, func() []string) {
	t.Helper()
	var mu sync.Mutex
	var complaints []string
	ctx, cancel := chromedp.NewContext(running(t, path), chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(cancel)
	messages := chromedp.Console(ctx) // subscribed from here on
	go func() {                       // ends with the tab's context
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleWarning || m.IsException() {
				mu.Lock()
				complaints = append(complaints, m.String()+" "+m.URL)
				mu.Unlock()
			}
		}
	}()
	return ctx, func() []string {
		mu.Lock()
		defer mu.Unlock()
		return complaints
	}
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// eval gives the value of a script.
func eval[T any](t *testing.T, ctx context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		t.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for a script to be true.
func until(t *testing.T, ctx context.Context, js string) {
	t.Helper()
	for start := time.Now(); time.Since(start) < 30*time.Second; time.Sleep(50 * time.Millisecond) {
		if v, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js)); err == nil && v {
			return
		}
	}
	t.Fatalf("never true: %s", js)
}

// screen is one reference picture: a page in a theme, units and hand of the phone.
type screen struct{ name, path, theme, units, hand string }

var screens = []screen{
	{name: "now-sun", path: "/", theme: "sun"}, {name: "now-dusk", path: "/", theme: "dusk"}, {name: "now-night", path: "/", theme: "night"},
	{name: "now-us", path: "/", units: "us"}, {name: "now-left", path: "/", hand: "left"},
	{name: "map", path: "/map"}, {name: "map-night", path: "/map", theme: "night"}, {name: "map-us", path: "/map", units: "us"},
	{name: "day", path: "/day"}, {name: "evening", path: "/evening"}, {name: "people", path: "/people"},
	{name: "ice", path: "/ice"}, {name: "ice-dusk", path: "/ice", theme: "dusk"}, {name: "ice-night", path: "/ice#read", theme: "night"}, {name: "ice-us", path: "/ice?load=truck", units: "us"}, {name: "help", path: "/help"}, {name: "import", path: "/import"},
	{name: "holes", path: "/holes"}, {name: "rods", path: "/rods"}, {name: "trip", path: "/trip"}, {name: "turn-back", path: "/turn-back"},
	{name: "turn-back-late", path: "/turn-back?until=15:30&reason=crossing_read"}, {name: "count", path: "/people?count=open"},
}

// paired are the screens whose picture TestPairs holds in much the same form: 90 pictures are what a person still looks through.
var paired = map[string]bool{"now-dusk390": true, "now-night390": true, "now-us390": true, "now-left390": true, "map-night390": true, "map-us390": true,
	"ice-dusk1280": true, "ice-night1280": true, "ice-us1280": true, "map-us1280": true}

// open shows a page as one phone would.
func open(t *testing.T, ctx context.Context, base string, x screen) {
	t.Helper()
	do(t, ctx, chromedp.Navigate(base+"/health"))
	for k, v := range map[string]string{"theme": x.theme, "units": x.units, "hand": x.hand} {
		eval[string](t, ctx, fmt.Sprintf(`document.cookie = "%s=%s; path=/"`, k, v))
	}
	do(t, ctx, chromedp.Navigate(base+x.path))
	until(t, ctx, `document.body.dataset.ready === "yes" && document.fonts.status === "loaded"`)
	if strings.HasPrefix(x.path, "/map") {
		until(t, ctx, `document.getElementById("chart").dataset.drawn === "yes"`)
	}
}

func shoot(t *testing.T, ctx context.Context) []byte {
	t.Helper()
	shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	return shot
}

// serveDemo starts the server on a demo desk.
func serveDemo(t *testing.T) (*demoDesk, string) {
	t.Helper()
	return serveDesk(t, newDemoDesk(t))
}

func serveDesk(t *testing.T, d *demoDesk) (*demoDesk, string) {
	t.Helper()
	h, err := Handler(Options{Desk: d.Desk, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return d, s.URL
}

// reference makes a picture small: 16 steps a channel are enough for pages of one ink on one paper.
func reference(t *testing.T, name string, shot []byte) []byte {
	t.Helper()
	if strings.HasPrefix(name, "map") {
		return shot
	}
	img, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	out := image.NewRGBA(b)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			step := func(v uint32) uint8 { return uint8((v>>8+8)/17) * 17 }
			out.SetRGBA(x, y, color.RGBA{step(min(r, 0xf7ff)), step(min(g, 0xf7ff)), step(min(bl, 0xf7ff)), 255})
		}
	}
	var buf bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&buf, out); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestScreens(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	for _, size := range []struct{ w, h int64 }{{390, 844}, {1280, 800}} {
		do(t, ctx, chromedp.EmulateViewport(size.w, size.h))
		for _, x := range screens {
			open(t, ctx, base, x)
			if !paired[fmt.Sprint(x.name, size.w)] {
				compare(t, fmt.Sprintf("%s-%dx%d.png", x.name, size.w, size.h), shoot(t, ctx))
			}
			overflow(t, ctx, x.name)
		}
	}
	do(t, ctx, chromedp.EmulateViewport(360, 640))
	open(t, ctx, base, screen{path: "/"})
	compare(t, "now-small-360x640.png", shoot(t, ctx))
	if n := eval[int](t, ctx, `[...document.querySelectorAll(".keys .key")].filter((k) => k.getClientRects().length).length`); n != 6 {
		t.Errorf("a small screen shows %d keys, want 6", n)
	}
	open(t, ctx, base, screen{path: "/keys"})
	compare(t, "keys-360x640.png", shoot(t, ctx))
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	d.clock(14, 5)
	open(t, ctx, base, screen{path: "/"})
	compare(t, "now-near-390x844.png", shoot(t, ctx))
	d.clock(15, 20)
	open(t, ctx, base, screen{path: "/", theme: "night"})
	compare(t, "now-past-390x844.png", shoot(t, ctx))
	if share := eval[float64](t, ctx, `document.getElementById("strip").getBoundingClientRect().height / innerHeight`); share < 0.32 {
		t.Errorf("past turn-back the strip takes %.2f of the screen, want a third", share)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// overflow fails a page that is wider than its screen.
func overflow(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if over := eval[int](t, ctx, `Math.max(document.getElementById("main").scrollWidth - document.getElementById("main").clientWidth, document.body.scrollWidth - innerWidth)`); over > 0 {
		t.Errorf("%s is %d px wider than its screen", name, over)
	}
}

// TestKeySizes holds Now to its sizes: keys 116 px wide or more with 12 to 14 px between them, numerals of 80, step of 26,
// keys of 21, body of 18, nothing smaller than the 16.5 of the facts line, and no target below 44 px.
func TestKeySizes(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	if n := eval[int](t, ctx, `document.querySelectorAll(".keys button.key, .keys a.key:not(.only)").length`); n != 9 {
		t.Errorf("%d keys, want 9", n)
	}
	for js, least := range map[string]float64{
		`Math.min(...[...document.querySelectorAll(".keys .key:not(.only)")].map((k) => k.getBoundingClientRect().width))`:                                                                                         116,
		`Math.min(...[...document.querySelectorAll(".keys .key:not(.only)")].map((k) => k.getBoundingClientRect().height))`:                                                                                        92,
		`parseFloat(getComputedStyle(document.querySelector(".strip-clock")).fontSize)`:                                                                                                                            80,
		`parseFloat(getComputedStyle(document.querySelector(".call")).fontSize)`:                                                                                                                                   26,
		`parseFloat(getComputedStyle(document.querySelector(".key")).fontSize)`:                                                                                                                                    21,
		`parseFloat(getComputedStyle(document.body).fontSize)`:                                                                                                                                                     18,
		`Math.min(...[...document.querySelectorAll("body *")].filter((e) => e.childElementCount === 0 && e.textContent.trim() && e.getClientRects().length).map((e) => parseFloat(getComputedStyle(e).fontSize)))`: 16.5,
		`Math.min(...[...document.querySelectorAll("a, button, summary")].filter((e) => e.getClientRects().length).map((e) => Math.min(e.getBoundingClientRect().width, e.getBoundingClientRect().height)))`:       44,
	} {
		if got := eval[float64](t, ctx, js); got < least-0.01 {
			t.Errorf("%s is %.2f, want %.2f or more", js, got, least)
		}
	}
	gap := `(() => { const k = [...document.querySelectorAll(".keys .key")].map((k) => k.getBoundingClientRect()); return [k[1].left - k[0].right, k[3].top - k[0].bottom]; })()`
	for _, g := range eval[[]float64](t, ctx, gap) {
		if g < 12 || g > 14 {
			t.Errorf("keys lie %.1f px apart, want 12 to 14", g)
		}
	}
}

// TestStepFits: the next step with a sentence, a reason and a line on the ice of two lines each, its facts and one
// alternative, stands above the keys without scrolling.
func TestStepFits(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	for selector, words := range map[string]string{".call": "Drill 80 paces WSW of 42, on the line 41 to 42.", ".reason": "3 of 5 looks within 100 m had marks, last 12 min ago; moving W.",
		".ice-there": "Ice not read there. Nearest 41 cm, 2 h ago, 210 m. Spud ahead.", ".other span": "Sit here 6 min more"} {
		eval[string](t, ctx, fmt.Sprintf(`document.querySelector(%q).textContent = %q`, selector, words))
	}
	if over := eval[int](t, ctx, `(() => { const s = document.querySelector(".step"); return s.scrollHeight - s.clientHeight; })()`); over > 0 {
		t.Errorf("the step is %d px too high", over)
	}
}

// TestEveningIsOneSheet: the evening plan prints on one sheet of A4 and of letter paper.
func TestEveningIsOneSheet(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	open(t, ctx, base, screen{path: "/evening", theme: "night"})
	for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPreferCSSPageSize()))
		if err != nil {
			t.Fatal(err)
		}
		if n := len(sheet.FindAll(pdf, -1)); n != 1 {
			t.Errorf("%v: %d sheets, want 1", paper, n)
		}
	}
}

// sheet is the head of one page's object in a PDF file.
var sheet = regexp.MustCompile(`/Type /Page\b`)

// TestLookChangesStep: a tap on Nothing is saved and flashed, and the next step changes; the map shows the new hole.
func TestLookChangesStep(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	step := func() string { return eval[string](t, ctx, `document.querySelector(".call").textContent`) }
	press := func(word string) {
		t.Helper()
		at := eval[[]float64](t, ctx, fmt.Sprintf(`(() => { const r = [...document.querySelectorAll(".keys button")].find((b) => b.textContent.includes(%q)).getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`, word))
		do(t, ctx, chromedp.MouseClickXY(at[0], at[1]))
	}
	looks := func() (n int) {
		if err := d.Read(t.Context(), func(v desk.View) error { n = len(v.Lake.Looks); return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	before, had := step(), looks()
	press("Nothing")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Nothing"`)
	compare(t, "now-saved-390x844.png", shoot(t, ctx))
	overflow(t, ctx, "saved")
	if looks() != had+1 {
		t.Fatalf("%d looks on record, want %d", looks(), had+1)
	}
	if after := step(); after == before {
		t.Errorf("the next step stayed %q after a look that showed nothing", before)
	}
	press("Keep")
	until(t, ctx, `document.querySelector(".now.naming") !== null`)
	compare(t, "now-naming-390x844.png", shoot(t, ctx))
	overflow(t, ctx, "naming")
	press("Petra")
	until(t, ctx, `document.querySelector(".now") !== null && document.querySelector(".now.naming") === null && document.querySelector(".unnamed") === null`)
	press("Undo")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Undone"`)
	eval[bool](t, ctx, `[...document.querySelectorAll("#nav a")].find((a) => a.textContent.trim() === "Map").click() ?? true`)
	until(t, ctx, `document.getElementById("chart")?.dataset.drawn === "yes"`)
	eval[bool](t, ctx, `document.querySelector("[data-map=walk]").click() ?? true`)
	until(t, ctx, `document.querySelector("#map-place .call")?.textContent.includes("for marks")`)
	compare(t, "map-place-390x844.png", shoot(t, ctx))
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestResendCountsOnce: a form that is sent twice is one act, and a page without script works the same way.
func TestResendCountsOnce(t *testing.T) {
	d, base := serveDemo(t)
	count := func() (n int) {
		if err := d.Read(t.Context(), func(v desk.View) error { n = len(v.Lake.Looks); return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	had := count()
	form := url.Values{"id": {journal.NewID().String()}, "marks": {"few"}}
	for range 2 {
		r, err := http.PostForm(base+"/look", form)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(r.Body)
		r.Body.Close()
		if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(body), "Few") {
			t.Fatalf("status %d, %v", r.StatusCode, err)
		}
	}
	if count() != had+1 {
		t.Errorf("%d looks more, want 1", count()-had)
	}
}

// compare holds a screenshot to its reference loosely: same size, and about as much of it drawn on.
func compare(t *testing.T, name string, shot []byte) {
	t.Helper()
	file := filepath.Join("testdata", "screens", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, reference(t, name, shot), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	ref, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v: run with -update and look at it", err)
	}
	want, err := png.Decode(bytes.NewReader(ref))
	if err != nil {
		t.Fatal(err)
	}
	if got.Bounds() != want.Bounds() {
		t.Errorf("%s: size %v, the reference has %v", name, got.Bounds(), want.Bounds())
	}
	if g, w := drawn(got), drawn(want); g < 0.01 || g < w/2 || g > w*2 {
		t.Errorf("%s: %.3f of it is drawn on, %.3f of the reference", name, g, w)
	}
}

// drawn gives the share of a picture that is far from black, or from white when most of it is light.
func drawn(img image.Image) float64 {
	b := img.Bounds()
	light := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if c := color.GrayModel.Convert(img.At(x, y)).(color.Gray); c.Y > 110 {
				light++
			}
		}
	}
	share := float64(light) / float64(b.Dx()*b.Dy())
	return min(share, 1-share)
}
