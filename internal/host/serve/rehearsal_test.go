package serve

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/host/rehearsal"
)

// serveRehearsal starts the server with the page Season > Rehearsal, as the program does.
func serveRehearsal(t *testing.T) string {
	t.Helper()
	pages := rehearsal.New(nil)
	t.Cleanup(pages.Close)
	h, err := Handler(Options{Desk: newDemoDesk(t).Desk, Log: slog.New(slog.DiscardHandler), Extras: pages.Extras()})
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return s.URL
}

// plainDay asks for ways that other work does not change, so that the pictures stay as they are.
var plainDay = url.Values{"kind": {"roamers"}, "ice": {"mid"}, "seed": {"2003"}, "rods": {"4"}, "way": {"spiral-rule"}, "other": {"rule"}, "days": {"12"}}

// walked has a day or a table walked over plain HTTP and waits for it.
func walked(t *testing.T, base, do string) {
	t.Helper()
	form := url.Values{"do": {do}}
	for k, v := range plainDay {
		form[k] = v
	}
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		r, err := http.PostForm(base+rehearsal.Path, form) // a day that is kept is not walked again
		if err != nil {
			t.Fatal(err)
		}
		b := new(strings.Builder)
		err = r.Write(b)
		r.Body.Close()
		if err != nil || r.StatusCode != http.StatusOK {
			t.Fatalf("status %d, %v", r.StatusCode, err)
		}
		if strings.Contains(b.String(), map[string]string{"watch": "rehearsal-moment", "compare": "rehearsal-table"}[do]) {
			return
		}
	}
	t.Fatal("not walked in a minute")
}

func TestRehearsalScreens(t *testing.T) {
	path := browser(t)
	base := serveRehearsal(t)
	ctx, complaints := tab(t, path)
	at := func(more string) string { return rehearsal.Path + "?" + plainDay.Encode() + more }
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: at("")})
	compare(t, "rehearsal-form-390x844.png", shoot(t, ctx))
	walked(t, base, "watch")
	walked(t, base, "compare")
	for _, x := range []screen{
		{name: "rehearsal-390x844.png", path: at("&at=200&truth=yes")}, {name: "rehearsal-night-390x844.png", path: at("&at=200&truth=yes"), theme: "night"},
		{name: "rehearsal-lake-390x844.png", path: at("&at=200&truth=yes&view=lake"), units: "us"},
	} {
		open(t, ctx, base, x)
		compare(t, x.name, shoot(t, ctx))
		overflow(t, ctx, x.name)
	}
	// on the phone nothing of the page is smaller than the facts line, and no target than 44 px; pictures scale
	for js, least := range map[string]float64{
		`Math.min(...[...document.querySelectorAll("#main *")].filter((e) => e.childElementCount === 0 && e.textContent.trim() && e.getClientRects().length && !e.closest("svg")).map((e) => parseFloat(getComputedStyle(e).fontSize)))`:                      16.5,
		`Math.min(...[...document.querySelectorAll("#main svg text")].map((e) => parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getBoundingClientRect().width / 400))`:                                                                          16,
		`Math.min(...[...document.querySelectorAll("#main a, #main button, #main input:not([type=hidden]), #main select")].filter((e) => e.getClientRects().length).map((e) => Math.min(e.getBoundingClientRect().width, e.getBoundingClientRect().height)))`: 44,
	} {
		if got := eval[float64](t, ctx, js); got < least {
			t.Errorf("%s is %.2f, want %.2f or more", js, got, least)
		}
	}
	do(t, ctx, chromedp.EmulateViewport(1280, 800))
	open(t, ctx, base, screen{path: at("&at=200&truth=yes")})
	compare(t, "rehearsal-1280x800.png", shoot(t, ctx))
	overflow(t, ctx, "rehearsal at 1280")
	eval[bool](t, ctx, `(document.querySelector(".rehearsal-table").scrollIntoView(), true)`)
	compare(t, "rehearsal-table-1280x800.png", shoot(t, ctx))
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestRehearsalUnfolds: with the keys alone one chooses a day, sees it walked, drags and plays through it, reveals the
// truth, and stops a comparison; the way back is not littered with moments.
func TestRehearsalUnfolds(t *testing.T) {
	path := browser(t)
	base := serveRehearsal(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(1280, 800))
	open(t, ctx, base, screen{path: rehearsal.Path})
	set := func(id, value string) {
		t.Helper()
		eval[string](t, ctx, `document.getElementById("`+id+`").value = "`+value+`"`)
	}
	press := func(word string) {
		t.Helper()
		at := eval[[]float64](t, ctx, `(() => { const b = [...document.querySelectorAll("#main button, #main a.button")].find((b) => b.textContent.trim() === "`+word+`"); b.scrollIntoView({ block: "center" });
			const r = b.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
		do(t, ctx, chromedp.MouseClickXY(at[0], at[1]))
	}
	clock := func() string {
		return eval[string](t, ctx, `document.querySelector(".rehearsal-clock strong").textContent`)
	}
	for id, v := range map[string]string{"kind": "bottom", "seed": "2004", "way": "spiral-rule", "other": "rule", "days": "48"} {
		set(id, v)
	}
	press("Watch the day")
	until(t, ctx, `document.getElementById("rehearsal-moment") !== null && !document.getElementById("rehearsal-play").hidden`)
	if n := eval[int](t, ctx, `document.querySelectorAll(".rehearsal-side").length`); n != 2 || clock() != "07:30" {
		t.Fatalf("%d ways are shown at %s", n, clock())
	}
	trail := eval[int](t, ctx, `history.length`)
	eval[bool](t, ctx, `(() => { const s = document.getElementById("rehearsal-at"); for (const v of [100, 200, 305]) { s.value = v; s.dispatchEvent(new Event("input", { bubbles: true })); } return true; })()`)
	until(t, ctx, `document.querySelector(".rehearsal-clock strong").textContent === "12:35"`)
	if at := eval[string](t, ctx, `new URL(location).searchParams.get("at")`); at != "305" {
		t.Errorf("the address tells minute %s", at)
	}
	press("Truth under the ice")
	until(t, ctx, `[...document.querySelectorAll(".rehearsal-picture .resting")].every((p) => p.getAttribute("d").length > 100)`)
	if clock() != "12:35" {
		t.Errorf("the truth is shown at %s", clock())
	}
	press("+30")
	until(t, ctx, `document.querySelector(".rehearsal-clock strong").textContent === "13:05" && document.getElementById("rehearsal-at").value === "335"`)
	press("Play")
	until(t, ctx, `document.querySelector(".rehearsal-clock strong").textContent >= "13:15"`)
	press("Pause")
	stopped := clock()
	time.Sleep(time.Second) // a paused day must not go on
	if now := clock(); now > stopped[:3]+"59" || eval[string](t, ctx, `document.getElementById("rehearsal-play").textContent`) != "Play" {
		t.Errorf("paused at %s, now %s", stopped, now)
	}
	if n := eval[int](t, ctx, `history.length`); n != trail {
		t.Errorf("moments left %d entries on the way back", n-trail)
	}
	set("way", "clairvoyant") // slow enough to be stopped
	set("rods", "12")
	press("Compare over the days")
	until(t, ctx, `document.querySelector(".rehearsal-running") !== null`)
	until(t, ctx, `Number(document.querySelector("[role=progressbar]")?.getAttribute("aria-valuenow")) > 0`)
	press("Stop")
	until(t, ctx, `document.querySelector(".loud")?.textContent === "The rehearsal was stopped."`)
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}
