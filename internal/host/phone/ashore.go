//go:build js && wasm

package phone

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"syscall/js"

	"icehand/internal/base/fault"
	"icehand/internal/keep/browser"
	"icehand/internal/keep/syncing"
)

// errAlone: this phone has not been paired with a server.
var errAlone = fault.New(fault.Missing, "Open Icehand once where the server can be reached.", "this phone is not paired with a server yet")

// notes under which the store keeps what is no entry.
const (
	noteToken  = "token"  // by which the server knows this phone
	noteOutfit = "outfit" // whose record this phone holds
	noteSync   = "sync"   // what the client remembers between runs
)

// memory lets the store keep what the client remembers.
type memory struct{ st *browser.Store }

func (m memory) Load(ctx context.Context) ([]byte, error) { return m.st.Note(ctx, noteSync) }

func (m memory) Save(ctx context.Context, b []byte) error { return m.st.SetNote(ctx, noteSync, b) }

// sync brings phone and server in step as far as there is a signal, and tells the page how it stands.
func (h *host) sync(ctx context.Context) any {
	c, err := h.ashore(ctx)
	if err != nil {
		return h.state(ctx, err)
	}
	out, err := c.Step(ctx)
	if out.Pulled > 0 || out.Reopen {
		h.takeWork(ctx)
		h.reopen() // the pages shown next go by what has come
	}
	state := h.state(ctx, err).(map[string]any)
	state["pushed"], state["pulled"], state["reopen"] = out.Pushed, out.Pulled, out.Reopen
	return state
}

// takeWork takes along what the server has worked out and this phone lacks. Whatever fails, the phone works it out itself.
func (h *host) takeWork(ctx context.Context) {
	token, err := h.store.Note(ctx, noteToken)
	if err != nil {
		return
	}
	status, data, err := fetch(http.MethodGet, ShelfPath, string(token), "", nil)
	var names []string
	if err != nil || status != http.StatusOK || json.Unmarshal(data, &names) != nil {
		return
	}
	for _, name := range names {
		if h.store.Recall(name) != nil {
			continue
		}
		if status, data, err := fetch(http.MethodGet, ShelfPath+"/"+name, string(token), "", nil); err == nil && status == http.StatusOK {
			h.store.Keep(name, data)
		}
	}
}

// ashore gives the client, pairing the phone with its server when that has not been done.
func (h *host) ashore(ctx context.Context) (*syncing.Client, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.client != nil {
		return h.client, nil
	}
	token, err := h.store.Note(ctx, noteToken)
	if err != nil {
		return nil, err
	}
	if token == nil {
		if token, err = h.pair(ctx); err != nil {
			return nil, err
		}
	}
	return h.opened(ctx, token)
}

// known gives the client of a phone that is paired, without asking the server; nil for one that is not.
func (h *host) known(ctx context.Context) *syncing.Client {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.client != nil {
		return h.client
	}
	token, err := h.store.Note(ctx, noteToken)
	if err != nil || token == nil {
		return nil
	}
	c, err := h.opened(ctx, token)
	if err != nil {
		return nil // it is told when the server is asked
	}
	return c
}

// opened makes the client. The caller holds mu.
func (h *host) opened(ctx context.Context, token []byte) (*syncing.Client, error) {
	c, err := syncing.Open(ctx, syncing.Options{Store: h.store, Exchange: carry(string(token)), Memory: memory{h.store}})
	if err == nil {
		h.client = c
	}
	return c, err
}

// state tells the page how the record stands; what failed on the way ashore is told in words.
func (h *host) state(ctx context.Context, failed error) any {
	out := map[string]any{"entries": h.store.Entries(), "made": h.store.Made(), "paired": false, "waiting": -1, "trouble": "", "ended": false, "when": 0, "sent": 0}
	if c := h.known(ctx); c != nil {
		out["paired"] = true
		if n, err := c.Waiting(ctx); err == nil {
			out["waiting"] = n
		}
		if t := c.When(); !t.IsZero() {
			out["when"], out["offset"] = t.UnixMilli(), c.Offset().Milliseconds()
		}
		if t := c.Sent(); !t.IsZero() {
			out["sent"] = t.UnixMilli()
		}
	}
	if failed != nil {
		f := fault.Public(failed)
		out["trouble"], out["ended"] = f.Error(), errors.Is(failed, syncing.ErrEnded)
	}
	return out
}

// mostWait is how long an answer of the server is waited for, in milliseconds.
const mostWait = 90_000

// fetch asks the server this page came from.
func fetch(method, path, token, media string, body []byte) (status int, data []byte, err error) {
	head := map[string]any{}
	if token != "" {
		head["Authorization"] = "Bearer " + token
	}
	if media != "" {
		head["Content-Type"] = media
	}
	o := map[string]any{"method": method, "headers": head, "cache": "no-store", "redirect": "error", "signal": js.Global().Get("AbortSignal").Call("timeout", mostWait)}
	if body != nil {
		b := js.Global().Get("Uint8Array").New(len(body))
		js.CopyBytesToJS(b, body)
		o["body"] = b
	}
	r, err := settled(js.Global().Call("fetch", path, o))
	if err == nil {
		status = r.Get("status").Int()
		r, err = settled(r.Call("arrayBuffer"))
	}
	if err != nil {
		return 0, nil, fault.Wrap(err, fault.Unavailable, "Try again where there is a signal. Nothing is lost meanwhile.", "the server cannot be reached")
	}
	b := js.Global().Get("Uint8Array").New(r)
	data = make([]byte, b.Length())
	js.CopyBytesToGo(data, b)
	return status, data, nil
}

// pair asks the server for the token by which it will know this phone. A phone that holds one outfit's record joins no other.
func (h *host) pair(ctx context.Context) ([]byte, error) {
	status, data, err := fetch(http.MethodPost, PairPath, "", "", nil)
	var p Pairing
	switch {
	case err != nil:
		return nil, err
	case status == http.StatusUnauthorized || status == http.StatusForbidden:
		return nil, fault.New(fault.Missing, "Log in to the server once with this phone.", "the server does not know this phone")
	case status != http.StatusOK || json.Unmarshal(data, &p) != nil || p.Token == "":
		return nil, errAlone
	}
	held, err := h.store.Note(ctx, noteOutfit)
	if err != nil {
		return nil, err
	}
	if held != nil && string(held) != p.Outfit.String() && h.store.Entries() > 0 {
		return nil, fault.New(fault.Conflict, "Use another phone or browser for that server.", "this phone holds the record of another outfit")
	}
	if err := h.store.SetNote(ctx, noteOutfit, []byte(p.Outfit.String())); err != nil {
		return nil, err
	}
	return []byte(p.Token), h.store.SetNote(ctx, noteToken, []byte(p.Token))
}

// carry takes a question to the server with the browser's own fetch: Go's client would weigh a megabyte.
func carry(token string) syncing.Exchange {
	return func(ctx context.Context, a syncing.Ask) (syncing.Answer, error) {
		method, path, media, body := http.MethodPost, syncing.Path+string(a.Op), "application/x-ndjson", []byte(nil)
		var err error
		switch a.Op {
		case syncing.OpBlob:
			method, path, media = http.MethodGet, syncing.Path+"blob/"+a.Names[0].String(), ""
		case syncing.OpPutBlob:
			method, path, media, body = http.MethodPut, syncing.Path+"blob/"+a.Names[0].String(), "application/octet-stream", a.Data
		default:
			body, err = a.Encode()
		}
		if err != nil {
			return syncing.Answer{}, err
		}
		status, data, err := fetch(method, path, token, media, body)
		if err != nil {
			return syncing.Answer{}, err
		}
		if status != http.StatusOK {
			return syncing.Answer{}, refusal(status, data)
		}
		if a.Op == syncing.OpBlob || a.Op == syncing.OpPutBlob {
			return syncing.Answer{Version: syncing.Version, Epoch: a.Epoch, Now: a.Now, Data: data}, nil
		}
		return syncing.DecodeAnswer(bytes.NewReader(data))
	}
}

// refusal reads why the server did not answer.
func refusal(status int, data []byte) error {
	var p struct {
		Error struct {
			Code          fault.Code
			Message, Hint string
		}
		Ended, Wipe bool
	}
	err := json.Unmarshal(data, &p)
	switch {
	case err == nil && p.Wipe:
		return fault.Wrap(errors.Join(syncing.ErrEnded, syncing.ErrWipe), fault.Conflict, "", "this phone's access has ended")
	case err == nil && p.Ended:
		return fault.Wrap(syncing.ErrEnded, fault.Conflict, "Pair the phone again. Recording goes on meanwhile.", "this phone's access has ended")
	case err == nil && p.Error.Code != "":
		return &fault.Error{Code: p.Error.Code, Message: p.Error.Message, Hint: p.Error.Hint}
	}
	return fault.New(fault.Unavailable, "Try again later.", "the server answered with status %d", status)
}
