package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// The fish. Every number in this file is invented; docs/models/sim.md says what each is for.

// World is a lake with schools of perch under its ice, as they are at one time. It only goes forward.
type World struct {
	Lake    *Lake
	Now     time.Time
	schools []school
	move    *rand.Rand
	see     *rand.Rand

	// habitat is the logarithm of the ground's worth on a grid over the waters that the outfit reaches.
	habitat      []float64
	columns      int
	patches      []wave
	low, high    geo.Local
	reachableKM2 float64
}

// phase is what a school does.
type phase int

const (
	resting phase = iota
	travelling
	feeding
)

// school is a roaming school; its share of good fish never changes.
type school struct {
	at        geo.Local
	radiusM   float64
	fish      float64
	goodShare float64
	does      phase
	until     time.Time
	heading   quantity.Bearing
	drift     geo.Local // metres in a minute
	taken     float64   // fish taken lately; the school feeds less for it
}

const (
	schoolsPerKM2  = 20.0 // of reachable water, most of them on a small part of it
	preferredM     = 10.8 // m; depth of mid-January
	preferredSpanM = 1.2  // m
	patchiness     = 0.8  // standard deviation of the logarithm of the ground's worth
	habitatCellM   = 60.0
	dawn, dusk     = 6*60 + 30, 16*60 + 40 // minutes of the day between which schools are followed minute by minute
)

// NewWorld puts schools under the ice at a time. Lake and world may have different seeds.
func NewWorld(l *Lake, seed uint64, at time.Time) *World {
	w := &World{
		Lake: l, Now: at, move: num.NewStream(seed, "schools move"), see: num.NewStream(seed, "what is seen"),
		patches: waves(num.NewStream(seed, "patches"), 350, 1500),
		low:     geo.Local{E: -8300, N: -11500}, high: geo.Local{E: -3600, N: -6200},
	}
	w.survey()
	rng := num.NewStream(seed, "schools")
	for range int(schoolsPerKM2 * w.reachableKM2) {
		w.schools = append(w.schools, w.newSchool(rng))
	}
	return w
}

// survey works out the ground's worth once: depth and date do not change it within a fortnight.
func (w *World) survey() {
	w.columns = int((w.high.E-w.low.E)/habitatCellM) + 1
	rows := int((w.high.N-w.low.N)/habitatCellM) + 1
	w.habitat = make([]float64, w.columns*rows)
	for i := range w.habitat {
		p := geo.Local{E: w.low.E + habitatCellM*float64(i%w.columns), N: w.low.N + habitatCellM*float64(i/w.columns)}
		w.habitat[i] = math.Inf(-1)
		if !w.Lake.Water(p) {
			continue
		}
		w.reachableKM2 += habitatCellM * habitatCellM / 1e6
		off := (w.Lake.Depth(p).Metres() - preferredM) / preferredSpanM
		// (SIM-3) ln h = -off^2/2, not below -4, + s f(place)
		w.habitat[i] = math.Max(-4, -off*off/2) + patchiness*fieldAt(w.patches, p)
	}
}

// worth gives the logarithm of the ground's worth; minus infinity on land and outside the reachable waters.
func (w *World) worth(p geo.Local) float64 {
	x, y := int(math.Round((p.E-w.low.E)/habitatCellM)), int(math.Round((p.N-w.low.N)/habitatCellM))
	if x < 0 || y < 0 || x >= w.columns || y >= len(w.habitat)/w.columns {
		return math.Inf(-1)
	}
	return w.habitat[y*w.columns+x]
}

// newSchool draws a school and a place for it, by the ground's worth.
func (w *World) newSchool(rng *rand.Rand) school {
	fish := num.Clamp(900*math.Exp(0.75*rng.NormFloat64()), 300, 6000)
	s := school{
		fish: fish, radiusM: num.Clamp(12+12*math.Sqrt(fish/900)+4*rng.NormFloat64(), 12.5, 45), goodShare: 0.1 + 0.6*rng.Float64(),
		heading: quantity.NewBearing(360 * rng.Float64()), until: w.Now.Add(time.Duration(rng.Float64() * float64(40*time.Minute))),
	}
	for {
		p := geo.Local{E: mix(w.low.E, w.high.E, rng.Float64()), N: mix(w.low.N, w.high.N, rng.Float64())}
		if math.Log(rng.Float64())+2.5*patchiness < w.worth(p) {
			s.at = p
			return s
		}
	}
}

// Advance moves the schools to a later time, minute by minute by day and in one leap by night. It does nothing when the
// time is not later.
func (w *World) Advance(to time.Time) {
	for w.Now.Before(to) {
		local := w.Now.In(zone)
		minute := local.Hour()*60 + local.Minute()
		if minute < dawn || minute >= dusk {
			next := clock(journal.DayOf(local, zone), 0, dawn)
			if minute >= dusk {
				next = next.AddDate(0, 0, 1)
			}
			if next.After(to) {
				next = to
			}
			w.night(next)
			continue
		}
		w.Now = w.Now.Add(time.Minute)
		for i := range w.schools {
			w.step(&w.schools[i])
		}
	}
}

// night shifts every school some 200 m within ground that it likes, and forgets what was taken.
func (w *World) night(to time.Time) {
	share := to.Sub(w.Now).Hours() / 14
	w.Now = to
	for i := range w.schools {
		s := &w.schools[i]
		for range 4 {
			const hopM = 110 // m
			p := s.at.Add(geo.Local{E: hopM * share * w.move.NormFloat64(), N: hopM * share * w.move.NormFloat64()})
			if math.Log(w.move.Float64()) < w.worth(p)-w.worth(s.at) {
				s.at = p
			}
		}
		s.taken *= 1 - share
		s.does, s.drift = resting, geo.Local{}
		s.until = to.Add(time.Duration((5 + 55*w.move.Float64()) * float64(time.Minute)))
	}
}

// step takes a school through one minute.
func (w *World) step(s *school) {
	if !s.until.After(w.Now) {
		w.nextPhase(s)
	}
	s.taken *= 1 - 1.0/120 // forgotten in about two hours
	if s.drift == (geo.Local{}) {
		return
	}
	p := s.at.Add(s.drift)
	if there := w.worth(p); math.IsInf(there, -1) || there < w.worth(s.at)-1.5 {
		s.swim(quantity.NewBearing(s.heading.Degrees()+90+180*w.move.Float64()), 100) // turns away from poor ground
		return
	}
	s.at = p
}

// swim sets course and speed in metres an hour.
func (s *school) swim(heading quantity.Bearing, metresAnHour float64) {
	s.heading = heading
	s.drift = geo.Local{}.Toward(heading, quantity.Length(metresAnHour/60))
}

// appetite gives the chance that a school that has travelled feeds next: a high hump in the middle of the morning, a
// lower one in the middle of the afternoon.
func appetite(at time.Time) float64 {
	local := at.In(zone)
	h := float64(local.Hour()) + float64(local.Minute())/60
	hump := func(mid, width float64) float64 { return math.Exp(-(h - mid) * (h - mid) / (2 * width * width)) }
	return 0.52 + 0.4*hump(9.5, 1.1) + 0.35*hump(14, 0.9)
}

// nextPhase ends what a school does and begins what it does next: rest, then travel, then feed or rest.
func (w *World) nextPhase(s *school) {
	draw := w.move.Float64()
	length := w.move.Float64()
	switch {
	case s.does == resting:
		s.does = travelling
		s.swim(w.course(s), 60+190*w.move.Float64())
		length = 8 + 27*length
	case s.does == travelling && draw < appetite(w.Now)*math.Exp(-s.taken/60):
		s.does = feeding
		s.swim(s.heading, 60*w.move.Float64())
		length = 14 + 26*length
	default:
		s.does, s.drift = resting, geo.Local{}
		length = 10 + 50*length
	}
	s.until = w.Now.Add(time.Duration(length * float64(time.Minute)))
}

// course gives the next heading: near the last one, and towards ground that is worth it.
func (w *World) course(s *school) quantity.Bearing {
	here := w.worth(s.at)
	for range 6 {
		heading := quantity.NewBearing(s.heading.Degrees() + 35*w.move.NormFloat64())
		ahead := s.at.Toward(heading, 80*quantity.Metre)
		if math.Log(w.move.Float64()) < w.worth(ahead)-here {
			return heading
		}
	}
	return quantity.NewBearing(s.heading.Degrees() + 180)
}

// GoodStart gives ground for a first hole: what a guide thinks most of among a few places, near where fish were last when
// that is known.
func (w *World) GoodStart(rng *rand.Rand, last *geo.Local) geo.Local {
	best, bestWorth := w.Lake.Base, math.Inf(-1)
	for range 60 {
		p := w.Lake.Base.Add(geo.Local{E: 900 * rng.NormFloat64(), N: 900 * rng.NormFloat64()})
		opinion := w.worth(p) + doubt*rng.NormFloat64()
		if last != nil {
			opinion -= p.Distance(*last).Metres() / 600
		}
		if opinion > bestWorth && w.Lake.workable(p) {
			best, bestWorth = p, opinion
		}
	}
	return best
}
