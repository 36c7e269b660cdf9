//go:build linux

package serve

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/keep/phones"
	"icehand/internal/keep/syncing"
)

// disturbed is the app's worker with what may befall it in the field, told by a message: it is stuck once its next act is
// saved, its storage is full, or its connection to the storage cannot be had again.
const disturbed = `
{
	const add = IDBObjectStore.prototype.add, open = IDBDatabase.prototype.transaction, send = self.postMessage.bind(self);
	let stick = false;
	self.postMessage = (m) => {
		if (stick && m.answer) for (;;);
		send(m);
	};
	const heard = self.onmessage;
	self.onmessage = (e) => {
		if (e.data.befall === undefined) return heard(e);
		stick = e.data.befall === "stuck";
		IDBObjectStore.prototype.add = e.data.befall === "full" ? () => { throw new DOMException("no room", "QuotaExceededError"); } : add;
		IDBDatabase.prototype.transaction = e.data.befall === "lost" ? () => { throw new DOMException("closed", "InvalidStateError"); } : open;
	};
}
`

// befalls lets the page tell the worker what befalls it: window.befall(what), "" for nothing. A full or lost storage is so
// for the next worker too.
const befalls = `
let befallen = "";
self.Worker = class extends Worker {
	constructor(file) {
		super(file);
		if (befallen) this.postMessage({ befall: befallen });
	}
};
window.befall = (what) => {
	befallen = what === "stuck" ? "" : what;
	worker.postMessage({ befall: what });
	return true;
};
`

// pagesOf makes a server's pages from page files with something added to one of them: another version of the app.
func (a *ashore) pagesOf(t *testing.T, book *phones.Book, add map[string]string) {
	t.Helper()
	program, err := phoneProgram()
	must(t, err)
	dir := t.TempDir()
	must(t, os.CopyFS(dir, os.DirFS("../../../web")))
	for name, text := range add {
		file := filepath.Join(dir, filepath.FromSlash(name))
		b, err := os.ReadFile(file)
		must(t, err)
		must(t, os.WriteFile(file, append(bytes.Clone(b), text...), 0o600))
	}
	pair := func(context.Context) (string, error) { return book.Add("phone", time.Now()) }
	pages, err := Handler(Options{Desk: a.desk, Log: slog.New(slog.DiscardHandler), Program: os.DirFS(program), Pair: pair, Keys: book, Dev: dir})
	must(t, err)
	mux := http.NewServeMux()
	mux.Handle("/", pages)
	mux.Handle(syncing.Path, syncing.NewServer(a.store, nil).Handler(book))
	a.handler = mux
}

// within waits for a script to be true, longer than until does.
func within(t *testing.T, ctx context.Context, long time.Duration, js string) {
	t.Helper()
	for start := time.Now(); time.Since(start) < long; time.Sleep(100 * time.Millisecond) {
		if v, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js, chromedp.EvalAwaitPromise)); err == nil && v {
			return
		}
	}
	t.Fatalf("not in %v: %s; the page says %q", long, js, eval[string](t, ctx, `document.body.innerText.slice(0, 300)`))
}

// TestPhoneStates walks the app through what befalls it in the field, in one browser: storage full, storage lost, a stuck
// worker, a second window, a new version, the end of the battery.
func TestPhoneStates(t *testing.T) {
	whole := t
	path := browser(t)
	a := newAshore(t)
	book := phones.Open(t.TempDir())
	a.shut()
	a.pagesOf(t, book, map[string]string{"phone/worker.js": disturbed, "phone/engine.js": befalls})
	a.open(t)
	profile := t.TempDir()
	p := pickUpFor(t, path, profile, 8*time.Minute)
	p.installs(t, a)
	saved := []string{}
	looks := func(t *testing.T) {
		t.Helper()
		eval[bool](t, p.ctx, `window.longest = 110000; run(async () => { step++; await press("Few"); })`)
		within(t, p.ctx, 2*time.Minute, `window.ran !== ""`)
		if s := eval[string](t, p.ctx, `window.ran`); s != "yes" {
			t.Fatal(s)
		}
		saved = append(saved, eval[string](t, p.ctx, `savedIDs.at(-1)`))
	}
	looks(t)

	for _, what := range []string{"full", "lost"} {
		t.Run(what, func(t *testing.T) {
			eval[bool](t, p.ctx, fmt.Sprintf(`befall(%q)`, what))
			press := `(() => { step++; window.key = [...document.querySelectorAll(".keys button")].find((b) => b.textContent.includes("Few")); key.click(); window.form = key.form; return true; })()`
			eval[bool](t, p.ctx, press)
			within(t, p.ctx, time.Minute, `document.getElementById("trouble").textContent.startsWith("Not saved")`)
			if over := eval[string](t, p.ctx, `getComputedStyle(document.body, "::before").content`); over != `"NOT SAVED"` {
				t.Errorf("over the page stands %s", over)
			}
			if loud := eval[bool](t, p.ctx, `(() => { const s = getComputedStyle(document.body, "::before"), r = s.backgroundColor.match(/\d+/g).map(Number); return r[0] > 120 && r[1] < 60 && r[2] < 60; })()`); !loud {
				t.Errorf("it stands on %s, which is not red", eval[string](t, p.ctx, `getComputedStyle(document.body, "::before").backgroundColor`))
			}
			if eval[bool](t, p.ctx, `document.getElementById("done") !== null && document.getElementById("done").textContent.includes("No fix")`) {
				t.Error("the page shows an act that is not saved")
			}
			id := eval[string](t, p.ctx, `form.elements.namedItem("id").value`)
			eval[bool](t, p.ctx, `befall("")`)
			eval[bool](t, p.ctx, `key.click() ?? true`)
			within(t, p.ctx, time.Minute, `document.documentElement.dataset.saved === "yes" && document.getElementById("trouble").textContent === ""`)
			if over := eval[string](t, p.ctx, `getComputedStyle(document.body, "::before").content`); over != "none" {
				t.Errorf("saved, and over the page still stands %s", over)
			}
			saved = append(saved, id)
		})
	}

	t.Run("stuck", func(t *testing.T) {
		eval[bool](t, p.ctx, `befall("stuck")`)
		start := time.Now()
		looks(t)
		t.Logf("a stuck worker was replaced and the form answered in %v", time.Since(start).Round(time.Second))
	})

	t.Run("second window", func(t *testing.T) {
		ctx, cancel := chromedp.NewContext(p.ctx)
		defer cancel()
		do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(a.base()+"/phone/"))
		within(t, ctx, time.Minute, `document.querySelector("#main .starting")?.textContent === "Icehand is open in another window."`)
		if n := eval[int](t, ctx, `document.querySelectorAll("form, .key").length`); n != 0 {
			t.Errorf("the second window shows %d forms and keys", n)
		}
		looks(t) // the first one works on
		eval[bool](t, ctx, `document.querySelector("#main button").click() ?? true`)
		within(t, p.ctx, time.Minute, `document.querySelector("#main .starting")?.textContent === "Icehand is now open in another window."`)
		second := &hand{ctx, cancel}
		within(t, ctx, 2*time.Minute, `document.querySelector(".keys") !== null`)
		second.arrives(t)
		eval[bool](t, ctx, `run(async () => { step++; await press("Few"); })`)
		wait(t, second)
		saved = append(saved, eval[string](t, ctx, `savedIDs.at(-1)`))
		eval[bool](t, p.ctx, `window.dispatchEvent(new Event("online")) && window.dispatchEvent(new PopStateEvent("popstate"))`) // what makes a page ask
		time.Sleep(22 * time.Second)                                                                                             // longer than a worker's patience and grace
		if s := eval[string](t, p.ctx, `document.querySelector("#main .starting")?.textContent ?? document.body.innerText`); s != "Icehand is now open in another window." {
			t.Errorf("the window that gave up the record shows %.200q", s)
		}
	})
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	within(t, p.ctx, time.Minute, `document.querySelector(".keys, #main .starting + .button") !== null`)
	p.arrives(t)

	t.Run("new version", func(t *testing.T) {
		files := func() string { return eval[string](t, p.ctx, `document.documentElement.dataset.files`) }
		old := files()
		a.pagesOf(t, book, map[string]string{"phone/worker.js": disturbed, "phone/engine.js": befalls, "phone/phone.css": "\n.of-the-new-version { color: red; }\n"})
		a.shut()
		a.open(t)
		for range 2 { // a day's reloads
			do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
			p.arrives(t)
			within(t, p.ctx, time.Minute, `navigator.serviceWorker.getRegistration("/phone/").then((r) => r.waiting !== null)`)
			if files() != old {
				t.Fatal("the new version came in unasked")
			}
		}
		looks(t)
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/app"))
		within(t, p.ctx, time.Minute, `document.querySelector("[data-app=update]")?.hidden === false`)
		eval[bool](t, p.ctx, `document.querySelector("[data-app=update]").click() ?? true`)
		within(t, p.ctx, 2*time.Minute, fmt.Sprintf(`document.documentElement.dataset.files !== %q && document.body.dataset.ready === "yes"`, old))
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
		p.arrives(t)
		looks(t)
	})

	t.Run("end of the battery", func(t *testing.T) {
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/people"))
		within(t, p.ctx, time.Minute, `document.body.dataset.ready === "yes" && document.querySelector(".page-people") !== null`)
		time.Sleep(time.Second)
		p.kill(t)
		p = pickUpFor(whole, path, profile, 8*time.Minute) // it is held on to the end
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/?from=icon"))
		within(t, p.ctx, 2*time.Minute, `document.body.dataset.ready === "yes"`)
		if at := eval[string](t, p.ctx, `location.pathname`); at != "/phone/people" {
			t.Errorf("reopened at %s", at)
		}
	})

	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	p.arrives(t)
	eval[bool](t, p.ctx, `run(async () => { const m = await import(document.documentElement.dataset.files + "phone/engine.js"); for (;;) { const s = await m.ashore(true); if (s && !s.trouble && s.waiting === 0) break; await new Promise((r) => setTimeout(r, 300)); } })`)
	wait(t, p)
	held := map[uuid.UUID]int{}
	must(t, a.desk.Read(t.Context(), func(v desk.View) error {
		for _, l := range v.Lake.Looks {
			held[l.ID]++
		}
		return nil
	}))
	for _, s := range saved {
		if n := held[uuid.MustParse(s)]; n != 1 {
			t.Errorf("look %s, shown as saved, is %d times ashore", s, n)
		}
	}
	if len(held) != len(saved) || len(saved) < 8 {
		t.Errorf("%d looks are ashore, %d were shown as saved", len(held), len(saved))
	}
}
