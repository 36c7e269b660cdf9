package web

import (
	"math"
	"net/http"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/lake"
)

// sketchView is a small map of what lies about, for the room that a wide screen leaves on Now. North is up.
type sketchView struct {
	Width, Height string
	Way           string // this morning's line
	Holes         []sketchHole
	Hazards       []mapMark
	HazardLines   []string
	Next          *mapMark
	Here          *mapMark // R is its error
	Scale         mapMark
	ScaleText     string
}

type sketchHole struct {
	mapMark
	State string // empty, few, many, kept
}

// The sketch's own units, and how much lake it shows at least.
const (
	sketchWide  = 490.0
	sketchHigh  = 250.0
	sketchReach = 60.0  // m to each side
	sketchMost  = 260.0 // m to each side: farther off lies what the map is for
)

// sketch draws today's holes, the step, hazards and the phone's place; nil when the phone's place is not known.
func (h *handler) sketch(r *http.Request, v *visit, here advise.Place, step advise.Step) (*sketchView, error) {
	if !here.Known {
		return nil, nil
	}
	back, backErr := h.Desk.TurnBack(r.Context())
	var s sketchView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		goes := step.Do == advise.Drill || step.Do == advise.Look || step.Do == advise.Move
		reach := sketchReach
		if goes {
			reach = math.Max(reach, 1.25*here.At.Distance(step.To).Metres())
		}
		near := 0
		for _, o := range d.Lake.HolesOn(d.Today) {
			if l := o.At.Distance(here.At).Metres(); o.Placed && l < sketchMost && near < 12 {
				reach, near = math.Max(reach, 0.6*l), near+1
			}
		}
		reach = math.Min(reach, sketchMost)
		k := sketcher{lo: geo.Local{E: here.At.E - reach*sketchWide/sketchHigh, N: here.At.N - reach},
			hi: geo.Local{E: here.At.E + reach*sketchWide/sketchHigh, N: here.At.N + reach}, scale: sketchHigh / (2 * reach)}
		s = sketchView{Width: number(sketchWide), Height: number(sketchHigh)}
		if backErr == nil && len(back.Way.Line) > 1 {
			s.Way = k.path(back.Way.Line, false)
		}
		s.holes(d, k)
		s.hazards(d, v, k)
		if goes && k.inside(step.To, 0) {
			m := k.mark(step.To, 0, "next")
			m.TextY = number(k.y(step.To) + 34)
			s.Next = &m
		}
		m := k.mark(here.At, math.Max(here.Accuracy.Metres()*k.scale, 9), "")
		s.Here = &m
		bar := 20.0
		for _, l := range []float64{50, 100, 200} {
			if l*k.scale < 150 {
				bar = l
			}
		}
		s.Scale, s.ScaleText = mapMark{R: number(bar * k.scale)}, v.voice.Units.DistanceText(quantity.Length(bar))
		return nil
	})
	return &s, err
}

// holes draws today's holes as rings, dots for marks, filled for kept fish.
func (s *sketchView) holes(d desk.View, k sketcher) {
	marks, kept := outcomes(d)
	for _, o := range d.Lake.HolesOn(d.Today) {
		if !o.Placed || o.Label == "retracted" || !k.inside(o.At, -10) {
			continue
		}
		x := sketchHole{k.mark(o.At, 0, say.HoleName(o, d.Today)), "empty"}
		x.TextY = number(k.y(o.At) - 14)
		switch {
		case kept[o.ID] > 0:
			x.State = "kept"
		case marks[o.ID] == lake.Many:
			x.State = "many"
		case marks[o.ID] == lake.Few:
			x.State = "few"
		}
		s.Holes = append(s.Holes, x)
	}
}

// hazards draws what is in force, with its word and age.
func (s *sketchView) hazards(d desk.View, v *visit, k sketcher) {
	for _, z := range d.Lake.Hazards {
		if !z.InForce() {
			continue
		}
		if len(z.Points) > 1 {
			s.HazardLines = append(s.HazardLines, k.path(z.Points, z.Shape == "area"))
		}
		if p := z.Points[0]; k.inside(p, -20) {
			m := k.mark(p, math.Max(8, z.Radius.Metres()*k.scale), v.voice.HazardAge(z))
			if len(z.Points) > 1 {
				m.R = "0"
			}
			s.Hazards = append(s.Hazards, m)
		}
	}
}
