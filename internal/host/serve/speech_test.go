package serve

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"icehand/internal/base/geo"
)

// speaks gives the page a phone's voices, and writes down what they are told to say.
func speaks(t *testing.T, ctx context.Context, voices string) {
	t.Helper()
	eval[bool](t, ctx, fmt.Sprintf(`(() => {
		window.spoken = [];
		window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
		Object.defineProperty(window, "speechSynthesis", { configurable: true, value: %s && { getVoices: () => %s, cancel() {}, speak: (u) => spoken.push(u.voice.name + ": " + u.text) } });
		return true;
	})()`, voices, voices))
}

// goes brings a page in as a link does.
func goes(t *testing.T, ctx context.Context, to, arrived string) {
	t.Helper()
	eval[bool](t, ctx, fmt.Sprintf(`(() => { document.body.dataset.ready = ""; const a = document.createElement("a"); a.href = %q; document.getElementById("main").append(a); a.click(); a.remove(); return true; })()`, to))
	until(t, ctx, fmt.Sprintf(`document.body.dataset.ready === "yes" && document.querySelector(%q) !== null`, arrived))
}

// TestSaysTheWay: the way and the turn-back time are said with a voice of the phone alone, when asked, and when they change if that was asked for. A phone
// without one, or with none that speaks English, says plainly that it says nothing. U14 of trade.md.
func TestSaysTheWay(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	const from = `{ name: "far", lang: "en-GB", localService: false }`
	for what, voices := range map[string]string{"no speech": `null`, "no voice": `[]`, "a voice of the network": `[` + from + `]`, "a voice of another tongue": `[` + from + `, { name: "hier", lang: "de-DE", localService: true }]`} {
		t.Run(what, func(t *testing.T) {
			speaks(t, ctx, voices)
			goes(t, ctx, "/way", "#say")
			if s := eval[string](t, ctx, `document.getElementById("say-state").textContent`); s != "This phone has no English voice of its own: nothing is said. Read it." {
				t.Errorf("it tells %q", s)
			}
			if eval[bool](t, ctx, `document.getElementById("say-it").getClientRects().length > 0`) {
				t.Error("a key to say it is shown")
			}
			if what == "no voice" {
				compare(t, "way-390x844.png", shoot(t, ctx))
				overflow(t, ctx, what)
			}
			goes(t, ctx, "/", ".keys")
		})
	}
	speaks(t, ctx, `[`+from+`, { name: "own", lang: "en-US", localService: true }]`)
	said := func() []string { return eval[[]string](t, ctx, `spoken.splice(0)`) }
	goes(t, ctx, "/way", "#say")
	if s := said(); len(s) != 0 {
		t.Errorf("said without being asked: %q", s)
	}
	compare(t, "way-say-390x844.png", shoot(t, ctx))
	tap(t, ctx, "#say-it", "Say it")
	first := said()
	figures := `(zero|one|two|three|four|five|six|seven|eight|nine)`
	form := regexp.MustCompile(`^own: (.+ the line\. .+ )?Walk ` + figures + `( ` + figures + `){2} true, ` + figures + `( ` + figures + `){2} by compass\. .+ (kilo)?metres?\. Turn back at ` + figures + `( ` + figures + `){3}\.$`)
	if len(first) != 1 || !form.MatchString(first[0]) {
		t.Fatalf("said %q", first)
	}
	tap(t, ctx, "#say-on", "Say it when it changes")
	if s := said(); len(s) != 1 || s[0] != first[0] {
		t.Errorf("switched on, it said %q", s)
	}
	goes(t, ctx, "/way", "#say")
	if s := said(); len(s) != 0 {
		t.Errorf("nothing has changed, and it said %q", s)
	}
	d.mu.Lock()
	d.at = d.at.Add(geo.Local{E: 900, N: 300})
	d.mu.Unlock()
	goes(t, ctx, "/way", "#say")
	if s := said(); len(s) != 1 || s[0] == first[0] {
		t.Errorf("a new course, and it said %q", s)
	}
	tap(t, ctx, "#say-on", "Say it when it changes")
	d.clock(13, 40)
	goes(t, ctx, "/way", "#say")
	if s := said(); len(s) != 0 {
		t.Errorf("switched off, it said %q", s)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}
