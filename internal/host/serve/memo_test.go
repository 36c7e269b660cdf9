//go:build linux

package serve

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestVoiceMemo: a memo is recorded from the browser's made-up microphone with the server shut, tied to the hole, is there after a
// kill, also when the kill came while it was recorded, plays, ends by itself at its longest, is refused when the room is used up,
// and goes only when its key is held. The record and the server never see it. Source: U13.
func TestVoiceMemo(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	profile := t.TempDir()
	again := func() *hand {
		return pickUpFor(t, path, profile, 5*time.Minute, chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("autoplay-policy", "no-user-gesture-required"))
	}
	p := again()
	p.installs(t, a)
	a.shut()
	eval[bool](t, p.ctx, `run(async () => { step++; await press("Few"); })`)
	wait(t, p)
	held := eval[string](t, p.ctx, `document.cookie.match(/held=(\d+)/)[1]`)
	words, rows := `document.querySelector("[data-memo=words]").textContent`, `[...document.querySelectorAll("[data-memo=list] .row > p")].map((p) => p.textContent)`
	record := `document.querySelector("[data-memo=record]").click() ?? true`
	open := func() {
		t.Helper()
		p.opens(t, a, "/memos")
		until(t, p.ctx, `document.querySelector("[data-memo=record]").onclick !== null`)
	}
	open()
	judged(t, p.ctx, "/memos")
	eval[bool](t, p.ctx, record)
	within(t, p.ctx, 30*time.Second, `/0:0[2-9]/.test(document.querySelector("[data-memo=record]").textContent)`)
	eval[bool](t, p.ctx, record)
	until(t, p.ctx, words+`.startsWith("Saved on this phone: 0:0")`)
	if s := eval[string](t, p.ctx, words); !strings.HasSuffix(s, ", hole 1.") {
		t.Errorf("saved as %q", s)
	}
	eval[bool](t, p.ctx, record) // and the battery dies in the midst of another
	within(t, p.ctx, time.Minute, `/0:(0[5-9]|1\d)/.test(document.querySelector("[data-memo=record]").textContent)`)
	p.kill(t)
	p = again()
	open()
	until(t, p.ctx, rows+`.length === 2`)
	list := eval[[]string](t, p.ctx, rows)
	if !eval[bool](t, p.ctx, fmt.Sprintf(`/hole 1, 0:(0[4-9]|1\\d), cut off$/.test(%q) && /hole 1, 0:0[2-9]$/.test(%q)`, list[0], list[1])) {
		t.Errorf("after the kill: %q", list)
	}
	for i := range list { // both can be heard: the browser finds sound in them
		eval[bool](t, p.ctx, fmt.Sprintf(`document.querySelectorAll("[data-memo=list] .row")[%d].querySelector("button").click() ?? true`, i))
		until(t, p.ctx, words+`.startsWith("Playing")`)
		eval[bool](t, p.ctx, `(document.querySelector("[data-memo=words]").textContent = "") === ""`)
	}
	eval[bool](t, p.ctx, `(document.getElementById("memos").dataset.seconds = "1") === "1"`)
	eval[bool](t, p.ctx, `(() => { for (let i = 0; i < 2; i++) document.querySelector("[data-memo=record]").click(); return true; })()`) // a glove presses twice: one memo
	until(t, p.ctx, words+`.startsWith("Saved on this phone: 0:01")`)
	eval[bool](t, p.ctx, `(document.getElementById("memos").dataset.bytes = "1000") === "1000"`)
	eval[bool](t, p.ctx, record)
	until(t, p.ctx, words+`.startsWith("The memos are full")`)

	erase := `document.querySelector("[data-memo=list] .row form button")`
	at := eval[[]float64](t, p.ctx, `(() => { const r = `+erase+`; r.scrollIntoView({ block: "center" }); const b = r.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2]; })()`)
	do(t, p.ctx, chromedp.MouseClickXY(at[0], at[1]))
	until(t, p.ctx, `document.getElementById("trouble").textContent.startsWith("Hold it")`)
	if n := eval[int](t, p.ctx, rows+`.length`); n != 3 {
		t.Errorf("%d memos after a short press", n)
	}
	eval[bool](t, p.ctx, erase+`.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, pointerType: "mouse" }))`)
	until(t, p.ctx, rows+`.length === 2`)
	p.kill(t)
	p = again()
	open()
	until(t, p.ctx, rows+`.length === 2`)
	if now := eval[string](t, p.ctx, `document.cookie.match(/held=(\d+)/)[1]`); now != held {
		t.Errorf("the record has %s entries, before the memos %s", now, held)
	}
	a.open(t)
	before, err := a.store.Last(t.Context())
	must(t, err)
	eval[bool](t, p.ctx, `window.ran = ""; (async () => { const m = await import(document.documentElement.dataset.files + "phone/engine.js"); for (;;) { const s = await m.ashore(true); if (s && !s.trouble && s.waiting === 0) break; await new Promise((r) => setTimeout(r, 300)); } })().then(() => { window.ran = "yes"; }); true`)
	until(t, p.ctx, `window.ran === "yes"`)
	audit, err := a.store.Verify(t.Context())
	must(t, err)
	after, err := a.store.Last(t.Context())
	must(t, err)
	if audit.Blobs != 2 || after <= before { // the outline and the soundings
		t.Errorf("ashore are %d files; %d entries, %d before", audit.Blobs, after, before)
	}
}
