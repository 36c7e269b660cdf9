package advise

import (
	"context"
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/engine/ground"
)

const (
	halfWindow = 1000.0 // m: the working area is 2 x 2 km about the action
	mapCell    = 25.0   // m
)

// MapOdds gives the odds map of the working area now.
func MapOdds(ctx context.Context, in Input) (OddsMap, error) {
	w, err := in.look(ctx)
	if err != nil {
		return OddsMap{}, err
	}
	m := OddsMap{At: in.Now, Event: marksEvent, Wait: w.options.LookLength, Grid: window(w.middle())}
	m.P, m.Looked = make([]float64, m.Grid.Len()), make([]float64, m.Grid.Len())
	for i := range m.P {
		if i%256 == 0 && ctx.Err() != nil {
			return OddsMap{}, ctx.Err()
		}
		p := m.Grid.Centre(i)
		if in.Surface == nil || !in.Surface.OnWater(p) {
			m.P[i] = math.NaN()
			continue
		}
		m.P[i] = w.filter.Odds(p, m.Wait).P
		m.Looked[i] = w.filter.Sureness(p)
	}
	return m, nil
}

// window gives the grid of the working area; its lines lie on whole cells of the lake's plane.
func window(middle geo.Local) ground.Grid {
	n := int(2 * halfWindow / mapCell)
	down := func(x float64) float64 { return math.Floor((x-halfWindow)/mapCell) * mapCell }
	return ground.Grid{Origin: geo.Local{E: down(middle.E), N: down(middle.N)}, Cell: lengthOf(mapCell), NX: n, NY: n}
}

// Here gives the odds at a touched place and why. On land the chance is 0 and the reason says so.
func Here(ctx context.Context, in Input, at geo.Local) (Odds, []Reason, error) {
	w, err := in.look(ctx)
	if err != nil {
		return Odds{}, nil, err
	}
	if in.Surface == nil || !in.Surface.OnWater(at) {
		return Odds{Event: marksEvent, Wait: w.options.LookLength, Word: word(0)}, []Reason{{Code: "not_water", Weight: 1, Text: "not on known water"}}, nil
	}
	o := w.filter.Odds(at, w.options.LookLength)
	return w.odds(o), w.why(at, o), nil
}
