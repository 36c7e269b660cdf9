//go:build js && wasm

package phone

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"syscall/js"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/keep/browser"
	"icehand/internal/keep/syncing"
)

// host is the program in the worker: the record, once it could be opened, and the pages on it.
type host struct {
	mu     sync.Mutex
	store  *browser.Store
	pages  http.Handler // nil: to be opened
	desk   *desk.Desk   // under the pages
	client *syncing.Client
}

// Run answers the page until the worker ends.
func Run() {
	h := &host{}
	js.Global().Call("icehandReady", js.FuncOf(func(_ js.Value, args []js.Value) any {
		q := args[0]
		return promise(func() any { return h.ask(q) })
	}))
	select {}
}

// breathing is a context that lets the browser's event loop run for a moment whenever it is asked after some time: long work
// asks its context, and in a browser nothing else would interrupt it.
type breathing struct {
	context.Context
	last time.Time
}

// breath is how long work goes on without a pause.
const breath = 200 * time.Millisecond

func (b *breathing) Err() error {
	if now := time.Now(); now.Sub(b.last) > breath {
		time.Sleep(time.Millisecond)
		b.last = time.Now()
	}
	return b.Context.Err()
}

// promise runs f in a goroutine of its own: what waits for the storage must not hold the event loop, which would never
// tell it that the storage is done.
func promise(f func() any) js.Value {
	run := js.FuncOf(func(_ js.Value, settle []js.Value) any {
		go func() { settle[0].Invoke(f()) }()
		return nil
	})
	defer run.Release() // Promise has called it by then
	return js.Global().Get("Promise").New(run)
}

// settled waits for a promise of the browser.
func settled(p js.Value) (js.Value, error) {
	type end struct {
		v  js.Value
		ok bool
	}
	done := make(chan end, 1)
	note := func(ok bool) js.Func {
		return js.FuncOf(func(_ js.Value, args []js.Value) any {
			done <- end{args[0], ok}
			return nil
		})
	}
	good, bad := note(true), note(false)
	defer good.Release()
	defer bad.Release()
	p.Call("then", good, bad)
	e := <-done
	if !e.ok {
		return js.Value{}, js.Error{Value: e.v}
	}
	return e.v, nil
}

// word reads a text of what the page asks; "" when there is none.
func word(q js.Value, key string) string {
	if v := q.Get(key); v.Type() == js.TypeString {
		return v.String()
	}
	return ""
}

// ask does what the page asks: a page, or an errand of the host itself.
func (h *host) ask(q js.Value) any {
	ctx := context.Context(&breathing{Context: context.Background(), last: time.Now()})
	pages, err := h.open(ctx)
	if err != nil {
		f := fault.Public(err)
		return h.answer(Response{Status: http.StatusServiceUnavailable, Path: word(q, "path"), Type: "text/plain; charset=utf-8", Body: []byte(f.Error())})
	}
	switch word(q, "errand") {
	case "":
		return h.answer(Answer(ctx, pages, Request{Method: word(q, "method"), Path: word(q, "path"), Type: word(q, "type"), Body: word(q, "body"), Cookie: word(q, "cookie")}))
	case "sync":
		return h.sync(ctx)
	case "hand over":
		return h.giveFile(ctx)
	case "take over":
		return h.takeFile(ctx, q.Get("data"))
	}
	return h.state(ctx, nil)
}

// open opens the record at the first request, and again after a failure.
func (h *host) open(ctx context.Context) (http.Handler, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.pages != nil {
		return h.pages, nil
	}
	if h.store == nil {
		st, err := browser.Open(ctx, browser.Options{})
		if err != nil {
			return nil, err
		}
		h.store = st
	}
	d, err := desk.Open(ctx, h.store, desk.Options{Recall: h.store.Recall, Keep: h.store.Keep, Passed: desk.Running()})
	if err != nil {
		return nil, err
	}
	h.desk = d
	h.pages = web.New(web.Options{Desk: d, Static: "files/", Phone: true, Extras: []web.Extra{state(d, h.store.Entries), Aside(d), memos(d), h.key()}})
	return h.pages, nil
}

// key takes the key of this phone, typed once where it cannot pair by itself.
func (h *host) key() web.Extra {
	return web.Extra{Pattern: "POST /app/key", Answer: func(r *http.Request, _ web.Visitor) (web.Answer, error) {
		key := strings.TrimSpace(r.PostFormValue("key"))
		if key == "" {
			return web.Answer{}, fault.New(fault.BadInput, "Type it as icehand phone add showed it.", "there is no key")
		}
		if err := h.store.SetNote(r.Context(), noteToken, []byte(key)); err != nil {
			return web.Answer{}, err
		}
		h.mu.Lock()
		h.client = nil
		h.mu.Unlock()
		return web.Answer{To: "/app"}, nil
	}}
}

// reopen lets the next request open the desk anew: the identity or the order of entries has changed.
func (h *host) reopen() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.pages = nil
}

// answer gives a response to the page. Pages travel as text, pictures as bytes.
func (h *host) answer(r Response) any {
	out := map[string]any{"status": r.Status, "path": r.Path, "type": r.Type, "name": r.Name, "entries": 0}
	if h.store != nil {
		out["entries"] = h.store.Entries()
	}
	cookies := make([]any, len(r.Cookies))
	for i, c := range r.Cookies {
		cookies[i] = c
	}
	out["cookies"] = cookies
	if isText(r.Type) {
		out["body"] = string(r.Body)
	} else {
		b := js.Global().Get("Uint8Array").New(len(r.Body))
		js.CopyBytesToJS(b, r.Body)
		out["body"] = b
	}
	return out
}
