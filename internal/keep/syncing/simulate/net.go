package simulate

import (
	"bytes"
	"encoding/json"

	"github.com/google/uuid"

	"icehand/internal/keep/syncing"
)

// flight is a question on its way, and then its answer.
type flight struct {
	phone    *phone
	ask      syncing.Ask
	ghost    bool // a second copy, whose answer reaches nobody
	answered bool
	answer   syncing.Answer
	err      error
	history  int // the server's when it answered
}

// deliver moves one question or answer along, whichever: so they overtake each other.
func (w *world) deliver() {
	if len(w.net) == 0 {
		return
	}
	i := 0
	if !w.healing {
		i = w.rng.IntN(len(w.net))
	}
	f := w.net[i]
	if f.answered {
		w.net = append(w.net[:i], w.net[i+1:]...)
		w.arrive(f)
		return
	}
	f.answered = true
	switch {
	case w.chance(w.rates.drop):
		f.err = errLost
	case w.chance(w.rates.late):
		w.net = append(w.net, &flight{ask: f.ask, ghost: true})
		f.err = errLost
	default:
		if w.chance(w.rates.double) {
			w.net = append(w.net, &flight{ask: f.ask, ghost: true})
		}
		w.serve(f)
	}
	if f.ghost {
		w.net = append(w.net[:i], w.net[i+1:]...)
	}
}

// serve lets the server answer.
func (w *world) serve(f *flight) {
	a := f.ask
	w.note("asked "+string(a.Op), len(a.Entries))
	w.report.Asked++
	if w.coded && a.Op != syncing.OpPutBlob && a.Op != syncing.OpBlob {
		b, err := a.Encode()
		if err != nil {
			w.violated("writing a question: %v", err)
			return
		}
		whole := len(b)
		if w.chance(w.rates.cut) {
			b = b[:w.rng.IntN(len(b))]
		}
		a, err = syncing.DecodeAsk(a.Op, bytes.NewReader(b))
		if err == nil && len(b) < whole-1 { // the last newline may go
			w.violated("a question cut at %d of %d bytes was taken for whole", len(b), whole)
		}
		if err != nil && len(b) == whole {
			w.violated("a question cannot be read: %v", err)
		}
		if err != nil {
			f.err = errLost
			return
		}
	}
	f.history = w.server.history
	if w.refuses(a) {
		f.err = errLost
		return
	}
	f.answer, f.err = w.server.srv.Answer(w.ctx, a)
	if f.err != nil {
		f.err = errLost
	} else {
		w.checkEpoch(f.answer.Epoch)
		w.mistake(f)
	}
	if w.server.disk.dead {
		f.err = errLost
		w.startServer(w.server.disk.Store)
	}
}

// refuses plants servers that judge what entries say.
func (w *world) refuses(a syncing.Ask) bool {
	for i := range a.Entries {
		e := &a.Entries[i]
		if w.defects.Has(RefusesAhead) && e.HLC.Time().Sub(w.now).Minutes() > 5 || w.defects.Has(RefusesUnknown) && e.Kind == "moonbeam" {
			return true
		}
	}
	return false
}

// mistake plants a cursor that moves past what is not visible yet.
func (w *world) mistake(f *flight) {
	r := &f.answer
	if !w.defects.Has(CursorSkips) || f.ask.Op != syncing.OpPull || len(r.Runs) == 0 || r.Runs[len(r.Runs)-1] < 0 || w.healing || w.rng.IntN(4) > 0 {
		return
	}
	last := len(r.Runs) - 1
	r.Entries = r.Entries[:len(r.Entries)-1]
	if r.Runs[last]--; r.Runs[last] == 0 {
		r.Runs = r.Runs[:last]
	}
	r.Runs = append(r.Runs, -1)
}

// arrive brings an answer to its phone, unless that has given up waiting.
func (w *world) arrive(f *flight) {
	p := f.phone
	if p == nil || p.waiting != f {
		return
	}
	if f.err == nil && w.chance(w.rates.drop) {
		f.err = errLost
	}
	if f.err == nil && w.coded && f.ask.Op != syncing.OpBlob {
		b, err := f.answer.Encode()
		if err != nil {
			w.violated("writing an answer: %v", err)
			return
		}
		if w.chance(w.rates.cut) {
			b = b[:w.rng.IntN(len(b)-1)]
		}
		if f.answer, err = syncing.DecodeAnswer(bytes.NewReader(b)); err != nil {
			f.err = errLost
		}
	}
	p.misread(f)
	if f.err == nil && f.ask.Op == syncing.OpDigest && f.ask.Journal != uuid.Nil { // not one in search of a common entry
		p.known = f.history
	}
	w.note("arrived "+string(f.ask.Op), len(f.answer.Entries))
	p.answer, p.failed = f.answer, f.err
	p.goOn()
	w.checkClaims(p)
}

// taken is the answer to a push that was taken whole.
func taken(a syncing.Ask) syncing.Answer {
	last := a.Entries[len(a.Entries)-1]
	return syncing.Answer{Version: syncing.Version, Epoch: a.Epoch, Now: a.Now, Head: syncing.Mark{N: last.N, Hash: last.Hash}}
}

// misread plants phones that make too much of an answer.
func (p *phone) misread(f *flight) {
	d := p.w.defects
	a := f.ask
	switch {
	case a.Op == syncing.OpPush && f.err != nil && d.Has(ClearedEarly):
		f.answer, f.err = taken(a), nil
	case a.Op == syncing.OpPush && f.err == nil && d.Has(AckByNumber):
		if r := f.answer; r.Head.N >= a.Entries[len(a.Entries)-1].N && r.Why != syncing.WhyEpoch {
			f.answer = taken(a)
		}
	case a.Op == syncing.OpPull && f.err == nil && d.Has(CursorFirst):
		m := map[string]any{}
		if json.Unmarshal(p.memory, &m) == nil && f.answer.Why == "" {
			m["cursor"] = f.answer.To
			if b, err := json.Marshal(m); err == nil {
				_ = p.Save(p.w.ctx, b) // a killed program saves nothing
			}
		}
	}
}

// shortcut plants phones that do not ask what they should.
func (p *phone) shortcut(a syncing.Ask) (syncing.Answer, bool) {
	d := p.w.defects
	id, _ := p.disk.Identity(p.w.ctx)
	switch {
	case a.Op == syncing.OpPush && d.Has(OnlyOwn) && a.Journal != id.Journal && a.Journal != uuid.Nil:
		return taken(a), true
	case a.Op == syncing.OpTexts && d.Has(NamesLater):
		return syncing.Answer{Version: syncing.Version, Epoch: a.Epoch, Now: a.Now}, true
	}
	return syncing.Answer{}, false
}
