//go:build linux

package serve

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/phones"
	"icehand/internal/keep/store"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// phoneProgram builds the phone's program once; ICEHAND_PHONE names a folder where it lies built already.
var phoneProgram = sync.OnceValues(func() (string, error) {
	if dir := os.Getenv("ICEHAND_PHONE"); dir != "" {
		return dir, nil
	}
	dir := filepath.Join(os.TempDir(), "icehand-phone-test") // one folder, written anew each time: nothing piles up
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", filepath.Join(dir, "icehand.wasm"), "icehand/cmd/icehand-phone")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w\n%s", err, out)
	}
	run, err := os.ReadFile(filepath.Join(runtime.GOROOT(), "lib/wasm/wasm_exec.js"))
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "wasm_exec.js"), run, 0o644)
	}
	return dir, err
})

// square is a lake of 2 km by 2 km, 11 m deep, with its landing in the south.
func square(t testing.TB, d *desk.Desk) {
	t.Helper()
	ctx, origin := t.Context(), geo.Position{Lat: 47.9, Lon: -45}
	must(t, d.FoundLake(ctx, desk.Act{}, "Square", origin, "Etc/GMT+3", "2025-11-24"))
	f := geo.NewFrame(origin)
	corner := func(e, n float64) string {
		p := f.Position(geo.Local{E: e, N: n})
		return fmt.Sprintf("[%.7f,%.7f]", p.Lon, p.Lat)
	}
	outline := fmt.Sprintf(`{"type":"Polygon","coordinates":[[%s,%s,%s,%s,%s]]}`, corner(-1000, -1000), corner(1000, -1000), corner(1000, 1000), corner(-1000, 1000), corner(-1000, -1000))
	depths := "lat,lon,depth_m\n"
	for e := -800.0; e <= 800; e += 200 {
		for n := -800.0; n <= 800; n += 200 {
			p := f.Position(geo.Local{E: e, N: n})
			depths += fmt.Sprintf("%.7f,%.7f,11.0\n", p.Lat, p.Lon)
		}
	}
	for what, data := range map[string]string{"outline": outline, "soundings": depths} {
		h, err := d.Store().PutBlob(ctx, []byte(data))
		must(t, err)
		must(t, d.Record(ctx, desk.Act{}, &journal.Layer{What: what, Blob: h, Name: what, Media: "text/plain"}))
	}
	must(t, d.Record(ctx, desk.Act{}, &journal.Trip{Rods: 2, Travel: "foot", Landing: journal.PointOf(f.Position(geo.Local{N: -900}))}))
}

// ashore is the server of a phone, which can be shut and opened again at the same address.
type ashore struct {
	desk    *desk.Desk
	store   *mem.Store
	addr    string
	handler http.Handler
	server  *http.Server
}

func newAshore(t testing.TB) *ashore {
	t.Helper()
	program, err := phoneProgram()
	must(t, err)
	st := mem.New(store.NewIdentity(time.Now()))
	a := &ashore{addr: "127.0.0.1:0", store: st}
	shelf := NewShelf(nil, nil)
	a.desk, err = desk.Open(t.Context(), st, desk.Options{Recall: shelf.Recall, Keep: shelf.Keep})
	must(t, err)
	square(t, a.desk)
	book := phones.Open(t.TempDir())
	pair := func(context.Context) (string, error) { return book.Add("phone", time.Now()) }
	pages, err := Handler(Options{Desk: a.desk, Log: slog.New(slog.DiscardHandler), Program: os.DirFS(program), Pair: pair, Keys: book, Shelf: shelf})
	must(t, err)
	mux := http.NewServeMux()
	mux.Handle("/", pages)
	mux.Handle(syncing.Path, syncing.NewServer(st, nil).Handler(book))
	a.handler = mux
	a.open(t)
	t.Cleanup(a.shut)
	return a
}

func (a *ashore) open(t testing.TB) {
	t.Helper()
	l, err := net.Listen("tcp", a.addr)
	must(t, err)
	a.addr, a.server = l.Addr().String(), &http.Server{Handler: a.handler, ReadHeaderTimeout: 10 * time.Second}
	go func() { _ = a.server.Serve(l) }() // it ends when it is shut
}

// shut closes the listener and every connection: nothing answers any more.
func (a *ashore) shut() { _ = a.server.Close() }

func (a *ashore) base() string { return "http://" + a.addr }

// hand is a browser with a phone's screen and a profile that outlives it.
type hand struct {
	ctx    context.Context
	cancel func()
}

// pickUp starts the browser on a profile.
func pickUp(t testing.TB, path, profile string) *hand {
	t.Helper()
	return pickUpFor(t, path, profile, 4*time.Minute)
}

// pickUpFor starts it for as long as a walk takes.
func pickUpFor(t testing.TB, path, profile string, long time.Duration, more ...chromedp.ExecAllocatorOption) *hand {
	t.Helper()
	alloc, stop := chromedp.NewExecAllocator(context.Background(), append(more, chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true))...)
	ctx, cancel := chromedp.NewContext(alloc)
	ctx, end := context.WithTimeout(ctx, long)
	p := &hand{ctx, func() { end(); cancel(); stop() }}
	t.Cleanup(p.cancel)
	must(t, chromedp.Do(p.ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch)))
	return p
}

// kill ends the browser at once, as a battery does.
func (p *hand) kill(t testing.TB) {
	t.Helper()
	if err := chromedp.FromContext(p.ctx).Browser.Process().Signal(syscall.SIGKILL); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Fatal(err)
	}
	p.cancel()
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// helpers give the page a fix that moves on with each step, and press, which presses a key and tells when it was saved.
const helpers = `(() => {
	window.step = 0;
	const at = () => ({ coords: { latitude: 47.9 + (step %% 40) * 0.0001, longitude: -45 + Math.floor(step / 40) * 0.00015, accuracy: 4 }, timestamp: Date.now() });
	navigator.geolocation.getCurrentPosition = (done) => done(at());
	window.savedIDs = []; window.times = [];
	const held = () => document.cookie.match(/held=(\d+)/)?.[1];
	window.press = async (word) => {
		const key = [...document.querySelectorAll(".keys button")].find((b) => b.textContent.includes(word) && b.getClientRects().length);
		if (!key) throw new Error("no key " + word + ": " + document.body.innerText.slice(0, 200));
		const before = held(), start = performance.now();
		key.click();
		const id = key.form.elements.namedItem("id").value;
		while (held() === before) {
			if (performance.now() - start > (window.longest ?? 30000)) throw new Error("not saved: " + document.getElementById("trouble").textContent);
			await new Promise((r) => setTimeout(r, 2));
		}
		times.push(performance.now() - start);
		savedIDs.push(id);
		await new Promise((r) => setTimeout(r, 0));
		while (!document.getElementById("done")) await new Promise((r) => setTimeout(r, 5));
	};
	window.run = (f) => { window.ran = ""; f().then(() => { window.ran = "yes"; }, (e) => { window.ran = String(e); }); return true; };
	return true;
})()`

// wait lets a script that run started come to its end.
func wait(t *testing.T, p *hand) {
	t.Helper()
	until(t, p.ctx, `window.ran !== ""`)
	if s := eval[string](t, p.ctx, `window.ran`); s != "yes" {
		t.Fatal(s)
	}
}

// installs opens the app for the first time, and waits until it needs the server no more.
func (p *hand) installs(t *testing.T, a *ashore) {
	t.Helper()
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	until(t, p.ctx, `navigator.serviceWorker.controller !== null`)
	p.arrives(t)
}

// arrives waits until the app shows Now with its keys.
func (p *hand) arrives(t *testing.T) {
	t.Helper()
	until(t, p.ctx, `document.body.dataset.ready === "yes" && document.querySelector(".keys") !== null`)
	eval[bool](t, p.ctx, strings.ReplaceAll(helpers, "%%", "%"))
}

// TestPhone: installed once, the app works with the server gone; what it showed as saved outlives every kill; back in reach
// all of it comes ashore, once.
func TestPhone(t *testing.T) {
	path := browser(t)
	kills, looks, fish := 3, 60, 40
	if os.Getenv("ICEHAND_SOAK") != "" {
		kills = 15
	}
	a := newAshore(t)
	profile := t.TempDir()
	p := pickUp(t, path, profile)
	p.installs(t, a)
	a.shut()
	if r, err := http.Get(a.base() + "/health"); err == nil {
		r.Body.Close()
		t.Fatal("the server still answers")
	}
	do(t, p.ctx, chromedp.Reload())
	p.arrives(t)
	eval[bool](t, p.ctx, fmt.Sprintf(`run(async () => { for (let i = 0; i < %d; i++) { step++; await press(["Nothing", "Few", "Many"][i %% 3]); } for (let i = 0; i < %d; i++) await press("Put back"); })`, looks, fish))
	wait(t, p)
	saved := eval[[]string](t, p.ctx, `savedIDs`)
	times := eval[[]float64](t, p.ctx, `times`)
	slices.Sort(times)
	t.Logf("tap to saved: median %.0f ms, p95 %.0f ms of %d", times[len(times)/2], times[len(times)*95/100], len(times))
	if step := eval[string](t, p.ctx, `document.querySelector(".call")?.textContent ?? ""`); step == "" {
		t.Error("no next step is shown")
	}
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/people"))
	until(t, p.ctx, `document.body.dataset.ready === "yes" && document.querySelector(".page-people") !== null`)
	for range kills {
		p.kill(t)
		p = pickUp(t, path, profile)
		start := time.Now()
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/?from=icon"))
		until(t, p.ctx, `document.body.dataset.ready === "yes"`)
		t.Logf("from icon to page, offline: %v", time.Since(start).Round(time.Millisecond))
		if at := eval[string](t, p.ctx, `location.pathname`); at != "/phone/people" && at != "/phone/" {
			t.Errorf("reopened at %s", at)
		}
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
		p.arrives(t)
		eval[bool](t, p.ctx, `run(async () => { for (;;) { step++; await press("Few"); } })`)
		until(t, p.ctx, `savedIDs.length > 1`)
		time.Sleep(time.Duration(rand.IntN(300)) * time.Millisecond) // in the midst of one
		saved = append(saved, eval[[]string](t, p.ctx, `savedIDs`)...)
	}
	p.kill(t)
	p = pickUp(t, path, profile)
	a.open(t)
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	p.arrives(t)
	eval[bool](t, p.ctx, `run(async () => { const m = await import(document.documentElement.dataset.files + "phone/engine.js"); for (;;) { const s = await m.ashore(true); if (s && !s.trouble && s.waiting === 0) break; await new Promise((r) => setTimeout(r, 300)); } })`)
	wait(t, p)
	held := map[uuid.UUID]int{}
	must(t, a.desk.Read(t.Context(), func(v desk.View) error {
		for _, l := range v.Lake.Looks {
			held[l.ID]++
		}
		for _, f := range v.Party.Fish {
			held[f.ID]++
		}
		return nil
	}))
	if len(saved) < looks+fish+2*kills {
		t.Errorf("only %d acts were saved", len(saved))
	}
	for _, s := range saved {
		if n := held[uuid.MustParse(s)]; n != 1 {
			t.Errorf("act %s, shown as saved, is %d times ashore", s, n)
		}
	}
	t.Logf("%d acts shown as saved over %d kills, all ashore", len(saved), kills+1)
}
