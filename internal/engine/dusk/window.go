package dusk

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/light"
	"icehand/internal/physics/sun"
)

// Band gives the light in which walleye are most active.
func Band() safety.LightBand { return safety.WalleyeBand() }

// step is how finely a day is cut.
const step = 5 * time.Minute

// Span is a stretch of time.
type Span = safety.Span

// Window is a stretch of a day in which the light at the fish lies in the band.
type Window struct {
	Span                       // at the middle of what is believed
	Earliest, Latest time.Time // 8 times in 10 it begins and ends within these
	Chance           float64   // that the light comes into the band at all in this half of the day
	Morning          bool      // before the sun's highest; a window that holds noon counts as both and is told once
	Noon             bool      // it holds the sun's highest
}

// DayInput is what [Over] looks at.
type DayInput struct {
	Day    time.Time // any instant of the civil day
	Zone   *time.Location
	Place  geo.Position
	Cover  Cover
	Depth  Range   // of the water, measured from the top of the ice
	Cloud  Cloud   // nil: not told
	Belief *Belief // what the lake's record says of its light; nil: nothing
}

// Lit is the light at the fish at an instant: the ends, and the middle of what is believed.
type Lit struct {
	At     time.Time
	Range  light.Range
	Middle quantity.Illuminance
	InBand float64 // chance
}

// Daylight is a day's light at the fish.
type Daylight struct {
	Sun       sun.Day
	Course    []Lit // from the first to the last moment at which there is any to speak of, by the hour
	Windows   []Window
	Brightest Lit // of the day
}

// Over gives the light at the fish over a day and when it is in the walleye band. It panics without a zone.
func Over(in DayInput) Daylight {
	if in.Zone == nil {
		panic("dusk: no time zone")
	}
	y, m, d := in.Day.In(in.Zone).Date()
	out := Daylight{Sun: sun.EventsOn(y, m, d, in.Place, in.Zone)}
	p, w := in.Cover.pane(in.Depth), in.Belief.lots()
	lit := func(t time.Time) Lit {
		g := sky(t, in.Place, in.Cloud)
		a := Lit{At: t, Range: light.Range{Low: lux(g.low + p.dim), High: lux(g.high + p.bright)}}
		mean := 0.0
		for i := range lots {
			e := atFish(g, p, i)
			mean += w[i] * e
			if inBand(e) {
				a.InBand += w[i]
			}
		}
		a.Middle = lux(mean)
		return a
	}
	midnight := time.Date(y, m, d, 0, 0, 0, 0, in.Zone)
	for t := midnight; t.Before(midnight.Add(24 * time.Hour)); t = t.Add(time.Hour) {
		if l := lit(t); l.Range.High >= faint {
			out.Course = append(out.Course, l)
		}
	}
	out.Brightest = lit(out.Sun.Transit)
	out.Windows = in.windows(out.Sun.Transit, p, w)
	return out
}

// faint is the light below which an hour is not told: a tenth of the band's dim end.
const faint = 0.6 * quantity.Lux

func lux(ln float64) quantity.Illuminance { return quantity.Illuminance(math.Exp(ln)) }

// windows finds when the light is in the band before and after the sun's highest, for every light that may be.
func (in DayInput) windows(transit time.Time, p pane, w [lots]float64) []Window {
	const half = int(12 * time.Hour / step)
	var found [2][lots]Span
	var ok [2][lots]bool
	noon := transit.Round(step)
	for arm := range 2 {
		sign := time.Duration(2*arm - 1)
		for k := range half {
			t := noon.Add(sign * time.Duration(k) * step)
			g := sky(t, in.Place, in.Cloud)
			for i := range lots {
				if !inBand(atFish(g, p, i)) {
					continue
				}
				s := &found[arm][i]
				if !ok[arm][i] {
					*s, ok[arm][i] = Span{From: t, To: t}, true
				}
				if t.Before(s.From) {
					s.From = t
				}
				if t.After(s.To) {
					s.To = t
				}
			}
		}
	}
	var out []Window
	for arm := range 2 {
		x, any := summarise(found[arm], ok[arm], w)
		if !any {
			continue
		}
		x.Morning = arm == 0
		if near := 2 * step; len(out) == 1 && x.From.Sub(out[0].To) <= near { // one window that holds noon
			out[0].To, out[0].Latest, out[0].Chance, out[0].Noon = x.To, x.Latest, math.Max(out[0].Chance, x.Chance), true
			continue
		}
		out = append(out, x)
	}
	return out
}

// likelyEnough is the chance below which a window is not told: our own choice.
const likelyEnough = 0.1

// summarise gives the middle and the ends of a half day's windows over the lights that may be.
func summarise(spans [lots]Span, ok [lots]bool, w [lots]float64) (Window, bool) {
	var from, to []weighed
	x := Window{}
	for i := range lots {
		if ok[i] {
			x.Chance += w[i]
			from = append(from, weighed{spans[i].From, w[i]})
			to = append(to, weighed{spans[i].To, w[i]})
		}
	}
	if x.Chance < likelyEnough {
		return x, false
	}
	x.From, x.To = quantile(from, 0.5), quantile(to, 0.5)
	x.Earliest, x.Latest = quantile(from, 0.1), quantile(to, 0.9)
	return x, true
}

type weighed struct {
	at time.Time
	w  float64
}

// quantile gives the instant that a share of the weight does not pass.
func quantile(list []weighed, share float64) time.Time {
	slices.SortFunc(list, func(a, b weighed) int { return a.at.Compare(b.at) })
	sum := 0.0
	for _, x := range list {
		sum += x.w
	}
	run := 0.0
	for _, x := range list {
		if run += x.w; run >= share*sum-1e-12 {
			return x.at
		}
	}
	return list[len(list)-1].at
}
