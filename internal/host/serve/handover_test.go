//go:build linux

package serve

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	cdp "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"

	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// installed gives a phone that has opened the app once, within reach of the server.
func (a *ashore) installed(t *testing.T, path string) *hand {
	t.Helper()
	p := pickUp(t, path, t.TempDir())
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	until(t, p.ctx, `navigator.serviceWorker.controller !== null`)
	until(t, p.ctx, `document.body.dataset.ready === "yes"`)
	return p
}

// opens shows a page of the app.
func (p *hand) opens(t *testing.T, a *ashore, page string) {
	t.Helper()
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone"+page))
	until(t, p.ctx, `document.body.dataset.ready === "yes"`)
}

// reads gives the words of a page as the app shows them.
func (p *hand) reads(t *testing.T, a *ashore, page string) string {
	t.Helper()
	p.opens(t, a, page)
	return eval[string](t, p.ctx, `document.getElementById("main").innerText`)
}

var unheard = regexp.MustCompile(`\d+ phones? unheard`)

// TestHandOver: with the server gone, a phone gives its day to another one as a file that the browser saves, and the other
// shows the same turn-back time, tally and holes and goes on. Source: U24, within 60 s.
func TestHandOver(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	must(t, a.desk.AddGuest(t.Context(), desk.Act{}, "Lena", journal.Guest{Role: "guest", Age: "adult"}))
	first := a.installed(t, path)
	first.arrives(t)
	second := a.installed(t, path) // the server's book has one phone of that name: this one is not paired, and holds nothing
	if words := eval[string](t, second.ctx, `document.body.innerText`); !strings.Contains(words, "No lake is recorded yet") {
		t.Fatalf("the second phone shows %.300q", words)
	}
	a.shut()
	if r, err := http.Get(a.base() + "/health"); err == nil {
		r.Body.Close()
		t.Fatal("the server still answers")
	}
	looks, fish := 20, 8
	if os.Getenv("ICEHAND_SOAK") != "" {
		looks, fish = 200, 60
	}
	eval[bool](t, first.ctx, fmt.Sprintf(`run(async () => { for (let i = 0; i < %d; i++) { step++; await press(["Nothing", "Few", "Many"][i %% 3]); } for (let i = 0; i < %d; i++) await press("Put back"); })`, looks, fish))
	within(t, first.ctx, 3*time.Minute, `window.ran !== ""`)
	wait(t, first)

	files := t.TempDir()
	_, err := chromedp.Call(first.ctx, cdp.SetDownloadBehavior, cdp.SetDownloadBehaviorParams{Behavior: cdp.SetDownloadBehaviorBehaviorAllow, DownloadPath: files})
	must(t, err)
	start := time.Now()
	first.opens(t, a, "/app")
	until(t, first.ctx, `document.querySelector("[data-hand=make]").onclick !== null`)
	eval[bool](t, first.ctx, `document.querySelector("[data-hand=make]").click() ?? true`)
	until(t, first.ctx, `!document.querySelector("[data-hand=made]").hidden`)
	eval[bool](t, first.ctx, `document.querySelector("[data-hand=save]").click() ?? true`)
	file := ""
	for file == "" && time.Since(start) < time.Minute {
		time.Sleep(20 * time.Millisecond)
		if found, _ := filepath.Glob(filepath.Join(files, "icehand-*.txt")); len(found) == 1 {
			file = found[0]
		}
	}
	made := time.Since(start)
	second.takes(t, a, file)
	words := eval[string](t, second.ctx, `document.querySelector("[data-hand=words]").textContent`)
	if !strings.Contains(words, "new here. Count heads") {
		t.Fatal(words)
	}
	eval[bool](t, second.ctx, `document.querySelector("[data-hand=now] a").click() ?? true`)
	second.arrives(t)
	took := time.Since(start)
	info, err := os.Stat(file)
	must(t, err)
	t.Logf("%d holes, %d bytes: file after %v, the other phone shows Now after %v; %s", looks, info.Size(), made.Round(time.Millisecond), took.Round(time.Millisecond), words)
	if took > time.Minute {
		t.Errorf("it took %v", took)
	}
	for _, page := range []string{"/tally", "/holes", "/day"} {
		one, two := first.reads(t, a, page), second.reads(t, a, page)
		if page == "/tally" { // on each phone, as many others as it knows are unheard
			one, two = unheard.ReplaceAllString(one, ""), unheard.ReplaceAllString(two, "")
		}
		if one != two || len(one) < 40 {
			t.Errorf("%s:\n%s\n--- the other phone:\n%s", page, one, two)
		}
	}
	first.opens(t, a, "/")
	second.opens(t, a, "/")
	for _, what := range []string{`document.querySelector(".strip-clock").textContent`, `document.querySelector(".spot").innerText`} {
		if one, two := eval[string](t, first.ctx, what), eval[string](t, second.ctx, what); one != two || one == "" {
			t.Errorf("%s: %q, the other phone %q", what, one, two)
		}
	}
	second.takes(t, a, file) // once more
	if words := eval[string](t, second.ctx, `document.querySelector("[data-hand=words]").textContent`); !strings.Contains(words, "were here already") {
		t.Error(words)
	}
	whole, err := os.ReadFile(file)
	must(t, err)
	must(t, os.WriteFile(file, whole[:len(whole)/2], 0o600))
	second.takes(t, a, file)
	if words := eval[string](t, second.ctx, `document.querySelector("[data-hand=words]").textContent`); !strings.HasPrefix(words, "The file ends early") || !strings.Contains(words, "Nothing was taken") {
		t.Error(words)
	}
	second.opens(t, a, "/")
	second.arrives(t)
	eval[bool](t, second.ctx, `run(async () => { step = 90; await press("Few"); })`) // and it goes on
	wait(t, second)
}

// takes lets the phone read a file on its page.
func (p *hand) takes(t *testing.T, a *ashore, file string) {
	t.Helper()
	p.opens(t, a, "/app")
	until(t, p.ctx, `document.querySelector("[data-hand=file]").onchange !== null`)
	do(t, p.ctx, chromedp.SetUploadFiles(`[data-hand=file]`, []string{file}))
	until(t, p.ctx, `!["", "The file is being read …"].includes(document.querySelector("[data-hand=words]").textContent)`)
}
