package serve

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log/slog"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

var update = flag.Bool("update", false, "write the reference screenshots anew")

// newDemoDesk gives a desk on the made-up lake, with a scout who walks where he is sent.
func newDemoDesk(t testing.TB) *desk.Desk {
	t.Helper()
	demo, err := sim.NewDemo(15)
	if err != nil {
		t.Fatal(err)
	}
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: demo.Now})
	if err := demo.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	now, at := demo.Now, demo.Lake.Frame.Local(demo.Scout)
	d, err := desk.Open(t.Context(), st, desk.Options{Seed: 15,
		Clock: func() time.Time { mu.Lock(); defer mu.Unlock(); return now },
		Position: func(n time.Time) advise.Place {
			mu.Lock()
			defer mu.Unlock()
			return advise.Place{At: at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: n}
		},
		Follow: func(s advise.Step) {
			mu.Lock()
			defer mu.Unlock()
			at, now = s.To, now.Add(time.Duration(s.Cost.Minutes*float64(time.Minute)))
		}})
	if err != nil {
		t.Fatal(err)
	}
	return d
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

// tab opens a browser tab and gathers what its console complains of.
func tab(t *testing.T, path string) (context.Context, func() []string) {
	t.Helper()
	var mu sync.Mutex
	var complaints []string
	alloc, cancel := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true), chromedp.Flag("force-color-profile", "srgb"))
	t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(alloc)
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

var screens = []struct {
	name, path, theme string
}{
	{"now-sun", "/", "sun"}, {"now-dusk", "/", "dusk"}, {"now-night", "/", "night"}, {"map", "/map", "sun"}, {"map-night", "/map", "night"}, {"day", "/day", "sun"},
	{"evening", "/evening", "sun"}, {"people", "/people", "sun"}, {"ice", "/ice", "sun"}, {"help", "/help", "sun"}, {"import", "/import", "sun"},
}

// small makes a reference small: 16 steps a channel are enough to look at.
func small(t *testing.T, shot []byte) []byte {
	t.Helper()
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
	h, err := Handler(Options{Desk: newDemoDesk(t), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	defer s.Close()
	ctx, complaints := tab(t, path)
	for _, size := range []struct{ w, h int64 }{{390, 844}, {1280, 800}} {
		do(t, ctx, chromedp.EmulateViewport(size.w, size.h))
		for _, x := range screens {
			do(t, ctx, chromedp.Navigate(s.URL+"/health"))
			eval[string](t, ctx, `document.cookie = "theme=`+x.theme+`; path=/"`)
			do(t, ctx, chromedp.Navigate(s.URL+x.path))
			until(t, ctx, `document.body.dataset.ready === "yes" && document.fonts.status === "loaded"`)
			if strings.HasPrefix(x.name, "map") {
				until(t, ctx, `document.getElementById("chart").dataset.drawn === "yes"`)
			}
			shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
			if err != nil {
				t.Fatal(err)
			}
			compare(t, fmt.Sprintf("%s-%dx%d.png", x.name, size.w, size.h), shot)
		}
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// compare holds a screenshot to its reference loosely: same size, and neither blank.
func compare(t *testing.T, name string, shot []byte) {
	t.Helper()
	file := filepath.Join("testdata", "screens", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, small(t, shot), 0o644); err != nil {
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
}
