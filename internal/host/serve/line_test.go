package serve

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
)

// TestRecordLine: the page records a line from a pressed start to a pressed stop, tells of the newest fix on every page, leaves poor fixes out aloud, keeps
// what was not taken, goes on after the page was loaded anew, and takes the line back.
func TestRecordLine(t *testing.T) {
	path := browser(t)
	d, base := serveDesk(t, newDeskOn(t, false))
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	phone := func() { // a phone that tells the fixes it is given
		eval[bool](t, ctx, `(() => {
			Object.defineProperty(navigator, "geolocation", { configurable: true, value: {
				watchPosition: (f) => { window.feed = f; return 1; }, clearWatch: () => { window.feed = null; }, getCurrentPosition: (f, e) => e({ code: 2 }) } });
			return true;
		})()`)
	}
	at := d.at
	fix := func(ago time.Duration, accuracy float64) {
		p := read(t, d).Lake.Frame.Position(at)
		eval[bool](t, ctx, fmt.Sprintf(`(() => { window.feed({ timestamp: Date.now() - %d, coords: { latitude: %.7f, longitude: %.7f, accuracy: %g } }); return true; })()`, ago.Milliseconds(), p.Lat, p.Lon, accuracy))
	}
	told := func(words string) {
		t.Helper()
		until(t, ctx, fmt.Sprintf(`document.getElementById("line").textContent.includes(%q)`, words))
	}
	lines := func() []desk.Line {
		l, err := d.Lines(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return l[1:] // the first is the made-up morning's
	}
	open(t, ctx, base, screen{path: "/way"})
	phone()
	if eval[bool](t, ctx, `!document.getElementById("line").hidden`) {
		t.Error("it tells of a line before anybody started one")
	}
	tap(t, ctx, "#line-keys button", "Scouting")
	told("Recording scouting · no fix yet")
	for i := range 30 {
		at = at.Add(geo.Local{E: 40})
		accuracy := 5.0
		if i == 4 {
			accuracy = 90
		}
		fix(time.Duration(30-i)*30*time.Second, accuracy)
	}
	told("within 5 m")
	told("30 fixes")
	tap(t, ctx, "#nav a", "Ice")
	until(t, ctx, `location.pathname === "/ice"`)
	told("Recording scouting")
	open(t, ctx, base, screen{path: "/way"}) // the page is loaded anew, and goes on by itself: what waited is sent
	told("1 poor and left out")
	if l := lines(); len(l) != 1 || l[0].Fixes != 30 || l[0].Bad != 1 || math.Abs(l[0].Length.Metres()-29*40) > 90 || l[0].Purpose != "scouting" {
		t.Fatalf("recorded %+v", l)
	}
	compare(t, "way-recording-390x844.png", shoot(t, ctx))
	overflow(t, ctx, "recording")
	tap(t, ctx, "#nav a", "Now")
	until(t, ctx, `document.querySelector(".keys") !== null`)
	if over := eval[float64](t, ctx, `document.querySelector(".keys").getBoundingClientRect().bottom - document.getElementById("nav").getBoundingClientRect().top`); over > 0 {
		t.Errorf("the line pushes the keys %.0f px under the pages", over)
	}
	compare(t, "now-recording-390x844.png", shoot(t, ctx))
	open(t, ctx, base, screen{path: "/way"})
	tap(t, ctx, "#line-stop", "Stop recording")
	until(t, ctx, `document.getElementById("line").hidden && document.querySelector(".line-told")?.textContent.startsWith("Scouting")`)
	tap(t, ctx, ".lines form button", "Take it back")
	until(t, ctx, `document.querySelectorAll(".line-told").length === 1`)
	if l := lines(); len(l) != 0 {
		t.Errorf("taken back: %+v", l)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}
