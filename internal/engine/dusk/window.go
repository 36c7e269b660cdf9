package dusk

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/light"
	"icehand/internal/physics/sun"
)

// Band gives the light in which walleye are most active [WalleyeLight2020]; another source, unverified, begins at 8 lux.
func Band() (low, high quantity.Illuminance) { return 6 * quantity.Lux, 68 * quantity.Lux }

// step is how finely a day is cut.
const step = 5 * time.Minute

// Span is a stretch of time.
type Span struct{ From, To time.Time }

// Window is a stretch of a day in which the light at the fish lies in the band.
type Window struct {
	Span                       // at the middle of what is believed
	Earliest, Latest time.Time // 8 times in 10 it begins and ends within these
	Chance           float64   // that the light comes into the band at all on that day
	Morning          bool      // it begins before the sun's highest
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
	at := func(t time.Time) Lit {
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
		if l := at(t); l.Range.High >= faint {
			out.Course = append(out.Course, l)
		}
	}
	out.Brightest = at(out.Sun.Transit)
	out.Windows = in.windows(out.Sun.Transit, p, w)
	return out
}

// faint is the light below which an hour is not told: a tenth of the band's dim end.
const faint = 0.6 * quantity.Lux

func lux(ln float64) quantity.Illuminance { return quantity.Illuminance(math.Exp(ln)) }

// arm is the half of a day before the sun's highest, or after it.
type arm int

const (
	before arm = iota
	after
)

// lit holds for one light that may be when it is in the band in each half of the day, and whether at noon.
type lit struct {
	half [2]Span
	in   [2]bool
	noon bool
}

// windows finds when the light is in the band: as it is at the middle one of the lights that reach the band at all, with the
// spread over the others.
func (in DayInput) windows(transit time.Time, p pane, w [lots]float64) []Window {
	days := in.lights(transit.Round(step), p)
	reach, total := []int{}, 0.0
	for i, d := range days {
		if d.in[before] || d.in[after] {
			reach, total = append(reach, i), total+w[i]
		}
	}
	if total < likelyEnough {
		return nil
	}
	middle, run := reach[0], 0.0
	for _, i := range reach {
		if run += w[i]; run >= total/2 {
			middle = i
			break
		}
	}
	var first, last [2][]weighed
	for _, i := range reach {
		for h := range 2 {
			if days[i].in[h] {
				first[h] = append(first[h], weighed{days[i].half[h].From, w[i]})
				last[h] = append(last[h], weighed{days[i].half[h].To, w[i]})
			}
		}
	}
	m := days[middle]
	window := func(from, to arm) Window {
		return Window{Span: Span{From: m.half[from].From, To: m.half[to].To}, Earliest: quantile(first[from], 0.1), Latest: quantile(last[to], 0.9), Chance: total,
			Morning: from == before, Noon: from != to}
	}
	switch {
	case m.in[before] && m.in[after] && m.noon:
		return []Window{window(before, after)}
	case m.in[before] && m.in[after]:
		return []Window{window(before, before), window(after, after)}
	case m.in[before]:
		return []Window{window(before, before)}
	}
	return []Window{window(after, after)}
}

// lights works out when each light that may be is in the band.
func (in DayInput) lights(noon time.Time, p pane) [lots]lit {
	const half = int(12 * time.Hour / step)
	var out [lots]lit
	for h := range 2 {
		for k := range half {
			t := noon.Add(time.Duration(k) * step)
			if h == 0 {
				t = noon.Add(-time.Duration(k) * step)
			}
			g := sky(t, in.Place, in.Cloud)
			for i := range lots {
				if !inBand(atFish(g, p, i)) {
					continue
				}
				d := &out[i]
				if k == 0 {
					d.noon = true
				}
				s := &d.half[h]
				if !d.in[h] {
					*s, d.in[h] = Span{From: t, To: t}, true
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
	return out
}

// likelyEnough is the chance below which a window is not told: our own choice.
const likelyEnough = 0.1

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
