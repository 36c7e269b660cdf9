package sim

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Lake is Lake Tamaringen: 31 km from north to south, 17 km from west to east, with two islands. All of it is invented.
type Lake struct {
	ID       uuid.UUID
	Name     string
	Frame    geo.Frame
	FreezeUp journal.Day
	Outline  geo.Polygon

	Landing geo.Local   // Harrow Landing
	Ridge   []geo.Local // the winter's pressure ridge, Gull Point to Cold Dock
	Throat  []geo.Local // the northern narrows: a line from bank to bank
	Springs []Oval      // Kettle Springs
	Base    geo.Local   // where the outfit's party of 15 January begins: 10.8 m deep, on the Long Flat
	C2      geo.Local   // the crossing of the ridge that the outfit uses

	rough []wave
	sheet []wave // of the ice
}

// Oval is an upright ellipse on the lake's plane.
type Oval struct {
	At          geo.Local
	East, North quantity.Length // half axes
}

// wave is one term of a smooth random field.
type wave struct{ east, north, phase float64 }

// NewLake makes the lake. The seed moves the small bends of the shore and the small bumps of the bottom, no more.
func NewLake(seed uint64) *Lake {
	l := &Lake{
		ID: journal.ContentID(uuid.Nil, journal.KindLake, fmt.Sprintf("sim/%d", seed)), Name: "Lake Tamaringen",
		Frame: geo.NewFrame(origin), FreezeUp: "2025-11-24",
		rough: waves(num.NewStream(seed, "bottom"), 600, 2500), sheet: waves(num.NewStream(seed, "sheet"), 400, 3000),
	}
	l.Outline = geo.Polygon{Outer: shoreline(num.NewStream(seed, "shore"))}
	for _, i := range islands {
		l.Outline.Holes = append(l.Outline.Holes, i.ring())
	}
	l.Landing = l.bank(harrowLanding)
	l.Ridge = []geo.Local{l.bank(gullPoint), crossing, {E: -2500, N: -9450}, {E: 3200, N: -9300}, l.bank(coldDock)}
	l.Throat = []geo.Local{l.bank(geo.Local{E: -150, N: 12400}), l.bank(geo.Local{E: 750, N: 12400})}
	l.C2 = crossing
	l.Springs = kettleSprings
	l.Base = l.baseNear(geo.Local{E: -5900, N: -8000})
	return l
}

// baseNear gives the place about there that is 10.8 m deep.
func (l *Lake) baseNear(p geo.Local) geo.Local {
	best, bestM := p, math.Inf(1)
	for e := -400.0; e <= 400; e += 50 {
		for n := -400.0; n <= 400; n += 50 {
			q := p.Add(geo.Local{E: e, N: n})
			if offM := math.Abs((l.Depth(q) - 10.8*quantity.Metre).Metres()); offM < bestM {
				best, bestM = q, offM
			}
		}
	}
	return best
}

// waves makes a random field with wavelengths between the two lengths in metres.
func waves(rng *rand.Rand, shortM, longM float64) []wave {
	out := make([]wave, 24)
	for i := range out {
		length := shortM * math.Pow(longM/shortM, rng.Float64())
		dir := 2 * math.Pi * rng.Float64()
		k := 2 * math.Pi / length
		out[i] = wave{k * math.Cos(dir), k * math.Sin(dir), 2 * math.Pi * rng.Float64()}
	}
	return out
}

// fieldAt gives the random field at a place; its mean is 0 and its standard deviation 1.
func fieldAt(ws []wave, p geo.Local) float64 {
	sum := 0.0
	for _, w := range ws {
		sum += math.Cos(w.east*p.E + w.north*p.N + w.phase)
	}
	return sum * math.Sqrt(2/float64(len(ws)))
}

// Water tells whether a place lies on the lake.
func (l *Lake) Water(p geo.Local) bool { return l.Outline.Contains(p) }

// Position gives latitude and longitude of a place.
func (l *Lake) Position(p geo.Local) geo.Position { return l.Frame.Position(p) }

// bank gives the corner of the shoreline nearest to a place.
func (l *Lake) bank(p geo.Local) geo.Local {
	best := l.Outline.Outer[0]
	for _, q := range l.Outline.Outer {
		if p.Distance(q) < p.Distance(best) {
			best = q
		}
	}
	return best
}

// Depth gives the true depth; 0 on land.
func (l *Lake) Depth(p geo.Local) quantity.Length {
	return l.depth(p, cinderBar.topM)
}

// ChartDepth gives the depth as the old chart's surveyors met it: they missed the crest of Cinder Bar.
func (l *Lake) ChartDepth(p geo.Local) quantity.Length {
	return l.depth(p, chartBarTopM)
}

func (l *Lake) depth(p geo.Local, barTopM float64) quantity.Length {
	if !l.Water(p) {
		return 0
	}
	shoreM := l.Outline.ShoreDistance(p)
	// (SIM-1) depth = g(shore) * floor, the floor drawn towards the middle of each rise and of the trough
	floorM := bottomFloor(p) + bumpM*fieldAt(l.rough, p)
	floorM = mix(floorM, owlTrough.topM, owlTrough.rise(p))
	floorM = mix(floorM, barTopM, cinderBar.rise(p))
	floorM = mix(floorM, saltboxReef.topM, saltboxReef.rise(p))
	return quantity.Length(bankProfile(p, shoreM) * floorM)
}

// bottomFloor gives the depth far from shore without the named rises and the trough.
func bottomFloor(p geo.Local) float64 {
	u := math.Pow(math.Pow((p.E-longFlat.E)/flatHalfE, 6)+math.Pow((p.N-longFlat.N)/flatHalfN, 6), 1.0/6)
	flat := mix(10.4, 11.9, num.Clamp((p.N-longFlat.N)/flatHalfN/2+0.5, 0, 1)) // m; 1.5 m in 14 km
	return mix(flat, outerFloorM, smoothstep(1.0, 1.35, u))
}

// bankProfile gives the share of the full depth that is reached at a distance from the bank: a shelf with a break in the
// west, a plain slope elsewhere.
func bankProfile(p geo.Local, shoreM float64) float64 {
	shelf := 0.44*(1-math.Exp(-shoreM/110)) + 0.56*smoothstep(380, 850, shoreM)
	slope := 1 - math.Exp(-shoreM/700)
	return mix(shelf, slope, smoothstep(-4500, -1500, p.E))
}
