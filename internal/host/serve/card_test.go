//go:build linux

package serve

import (
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
)

// TestRescuePicture: without signal the phone saves the rescue card as a picture in the proportions of its screen, white on
// black, clear of where the phone shows its clock, with every word that Help marks for it and no place of the party. Source: U18.
func TestRescuePicture(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	p := pickUp(t, path, t.TempDir())
	p.installs(t, a)
	a.shut()
	eval[bool](t, p.ctx, `run(async () => { step++; await press("Few"); })`)
	wait(t, p)
	files := t.TempDir()
	_, err := chromedp.Call(p.ctx, cdp.SetDownloadBehavior, cdp.SetDownloadBehaviorParams{Behavior: cdp.SetDownloadBehaviorBehaviorAllow, DownloadPath: files})
	must(t, err)
	p.opens(t, a, "/help")
	until(t, p.ctx, `document.querySelector("[data-picture]")?.onclick != null`)
	eval[bool](t, p.ctx, `(() => { window.drawn = []; const f = CanvasRenderingContext2D.prototype.fillText; CanvasRenderingContext2D.prototype.fillText = function (s, x, y) { drawn.push(s); f.call(this, s, x, y); }; return true; })()`)
	eval[bool](t, p.ctx, `document.querySelector("[data-picture]").click() ?? true`)
	until(t, p.ctx, `document.getElementById("trouble").textContent.startsWith("Saved.")`)
	var found []string
	for start := time.Now(); len(found) == 0 && time.Since(start) < 20*time.Second; time.Sleep(50 * time.Millisecond) {
		found, _ = filepath.Glob(filepath.Join(files, "icehand-rescue-*.png"))
	}
	if len(found) != 1 {
		t.Fatalf("saved are %q", found)
	}
	f, err := os.Open(found[0])
	must(t, err)
	defer f.Close()
	m, err := png.Decode(f)
	must(t, err)
	wide, tall := m.Bounds().Dx(), m.Bounds().Dy()
	if want := 1080 * 844 / 390; wide != 1080 || max(tall-want, want-tall) > 1 {
		t.Errorf("%d by %d, want 1080 by %d", wide, tall, want)
	}
	if n := light(m, 0, tall*26/100); n != 0 {
		t.Errorf("%d light points where the phone shows its clock", n)
	}
	if n := light(m, tall*26/100, tall*9/10); n < wide*tall/200 {
		t.Errorf("only %d light points of type", n)
	}
	if n := light(m, tall*9/10, tall); n != 0 {
		t.Errorf("%d light points at the foot", n)
	}
	drawn := strings.Join(eval[[]string](t, p.ctx, `drawn`), " ")
	marked := eval[[]string](t, p.ctx, `[...document.querySelectorAll("[data-card]")].map((p) => p.textContent.trim())`)
	if len(marked) < 8 {
		t.Errorf("Help marks %q", marked)
	}
	for _, w := range append(marked, "RESCUE CARD of ", "No emergency number", "Landing: ", "Datum WGS 84") {
		if !strings.Contains(drawn, w) {
			t.Errorf("the picture lacks %q: %s", w, drawn)
		}
	}
	for _, place := range eval[[]string](t, p.ctx, `[...document.querySelectorAll(".position strong")].map((p) => p.textContent)`) {
		if strings.Contains(drawn, place) {
			t.Errorf("the picture tells where the party is: %s", place)
		}
	}
	if copyTo := os.Getenv("ICEHAND_CARD"); copyTo != "" {
		b, err := os.ReadFile(found[0])
		must(t, err)
		must(t, os.WriteFile(copyTo, b, 0o600))
	}
}

// light counts the points of rows that are not dark.
func light(m image.Image, from, to int) (n int) {
	for y := from; y < to; y++ {
		for x := range m.Bounds().Dx() {
			if r, _, _, _ := m.At(x, y).RGBA(); r > 0x8000 {
				n++
			}
		}
	}
	return n
}
