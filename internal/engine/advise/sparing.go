package advise

import (
	"slices"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
	"icehand/internal/trade/lake"
)

// Spare asks that no plan be advised by which fish are sorted where those put back seldom live.
type Spare struct {
	Selective bool // the day looks for size: small fish would go back
}

// sortReach is how far from a hole its small fish speak for: about as far as a school spreads; our own choice.
const sortReach = 60.0 // m

// depthOf gives the depth at a place: of a hole there that was measured, else of the surface; 0 when it is not known.
func (w *world) depthOf(p geo.Local, h *lake.Hole) quantity.Length {
	if h != nil && h.Depth > 0 {
		return h.Depth
	}
	if w.in.Surface == nil {
		return 0
	}
	z := w.in.Surface.At(p)
	if !z.Known {
		return 0
	}
	return z.Mean
}

// spared tells whether fishing at a place is barred for the sake of fish that go back, and why.
func (w *world) spared(p geo.Local, h *lake.Hole) (Reason, bool) {
	if w.in.Spare == nil {
		return Reason{}, false
	}
	depth := w.depthOf(p, h)
	if b, barred := care.Sorting(w.in.Spare.Selective, "perch", depth, 0); barred {
		return Reason{Code: "no_sorting", Weight: 1, Depth: b.Depth}, true
	}
	return w.sorted(p)
}

// sorted tells whether small fish are being sorted about a place: of those of the last hour hardly any was kept, and it is deep.
func (w *world) sorted(p geo.Local) (Reason, bool) {
	if w.in.Party == nil {
		return Reason{}, false
	}
	kept, back, deep := 0, 0, quantity.Length(0)
	r := Reason{Code: "small_deep", Weight: 1}
	for _, f := range slices.Backward(w.in.Party.Fish) {
		age := w.in.Now.Sub(f.When)
		if f.Day != w.day || age < 0 {
			continue
		}
		if age > care.MixSpan {
			break
		}
		h := w.in.Lake.Hole(f.Hole)
		if h == nil || !h.Placed || float64(h.At.Distance(p)) > sortReach {
			continue
		}
		if f.Kept {
			kept += f.Count
		} else {
			back += f.Count
		}
		deep = max(deep, w.depthOf(h.At, h))
		if r.Age == 0 {
			r.Age = age
		}
		if !slices.Contains(r.Holes, h.ID) {
			r.Holes = append(r.Holes, h.ID)
		}
	}
	if !care.TooSmall(kept, back, deep) {
		return Reason{}, false
	}
	r.Count, r.Of, r.Depth = kept, kept+back, deep
	return r, true
}

// sparing tells rods to leave holes where fishing on would be sorting deep fish. A rod that may go to another hole goes there.
func (w *world) sparing(s *Step) {
	if w.in.Spare == nil {
		return
	}
	for i, r := range w.in.Rods {
		at, ok := w.rodAt(r)
		if !ok || i >= len(s.Rods) {
			continue
		}
		why, barred := w.spared(at, w.in.Lake.Hole(r.Hole))
		if !barred {
			continue
		}
		x := &s.Rods[i]
		if to := w.in.Lake.Hole(x.To); x.Do == Move && to != nil {
			if _, also := w.spared(to.At, to); !also {
				x.Why = append([]Reason{why}, x.Why...)
				continue
			}
		}
		*x = RodStep{Rod: r.Number, Do: Leave, Here: x.Here, ReAsk: w.in.Now, Why: []Reason{why}, To: uuid.Nil}
	}
}
