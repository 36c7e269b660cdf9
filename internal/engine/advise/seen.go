package advise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/sight"
	"icehand/internal/trade/journal"
)

// Seen says who can see the party at a place, by what of other parties is on record.
type Seen struct {
	Parties []Watcher       // the nearest first, at most three
	More    int             // others
	Left    int             // of today, reported gone
	Reach   quantity.Length // from which a standing person still shows above the horizon
	Plain   quantity.Length // from which a person can be told for one
	Air     quantity.Length // how far one sees today, as observed or forecast; see AirTold
	AirTold bool
	Dark    bool            // before civil dawn or after civil dusk
	Shore   quantity.Length // of the nearest shore
}

// Watcher is another party and how it sees a person at the place.
type Watcher struct {
	ID       uuid.UUID
	Shelters int
	Distance quantity.Length
	Toward   quantity.Bearing // from the place to them
	Now      quantity.Length  // how far they are from the scout now; 0 without a fix
	Age      time.Duration    // of the report
	Sees     Sees
}

// Sees is how a party sees a person.
type Sees string

// The kinds of seeing, from the plainest.
const (
	Plainly  Sees = "plainly"
	AsASpeck Sees = "speck"
	TooSmall Sees = "too_small" // for a bare eye
	Hidden   Sees = "land"      // land lies between
	Beyond   Sees = "air"       // farther than one sees today
	Sunken   Sees = "horizon"   // below the horizon
)

const (
	eyeHeight   = 1.6 * quantity.Metre // of a standing adult; common practice, no source
	standHeight = 1.7 * quantity.Metre // of a person; common practice, no source
	freshSight  = 3 * time.Hour        // an older observation of sight counts no more
	sightStep   = 50.0                 // m along a line, to find land on it
	mostParties = 3
)

// seen looks from every other party of today to a place.
func (w *world) seen(p geo.Local) Seen {
	out := Seen{Reach: sight.Range(eyeHeight, standHeight), Plain: plainFrom()}
	out.Air, out.AirTold = w.sightNow()
	dawn, dusk := w.sun.CivilDawn.Time, w.sun.CivilDusk.Time
	out.Dark = !dawn.IsZero() && w.in.Now.Before(dawn) || !dusk.IsZero() && w.in.Now.After(dusk)
	if w.in.Surface != nil {
		out.Shore = w.in.Surface.ShoreDistance(p)
	}
	scout, known := w.scout()
	for _, c := range w.in.Lake.Crowds {
		if c.When.After(w.in.Now) || journal.DayOf(c.When, w.in.Lake.Zone) != w.day {
			continue
		}
		if c.Gone {
			out.Left++
			continue
		}
		x := Watcher{ID: c.ID, Shelters: c.Shelters, Distance: max(0, c.At.Distance(p)-c.Radius), Toward: p.BearingTo(c.At), Age: w.in.Now.Sub(c.When)}
		if known {
			x.Now = max(0, c.At.Distance(scout)-c.Radius)
		}
		x.Sees = w.sees(c.At, p, x.Distance, out)
		out.Parties = append(out.Parties, x)
	}
	slices.SortStableFunc(out.Parties, func(a, b Watcher) int { return cmp.Compare(a.Distance, b.Distance) })
	if n := len(out.Parties); n > mostParties {
		out.Parties, out.More = out.Parties[:mostParties], n-mostParties
	}
	return out
}

// plainFrom gives the distance from which a standing person is as high as what a usual eye can tell.
func plainFrom() quantity.Length {
	return quantity.Length(float64(standHeight) / math.Tan(sight.Shape.Radians()))
}

// sees tells how a person at a place looks from another one.
func (w *world) sees(from, p geo.Local, d quantity.Length, s Seen) Sees {
	switch θ := sight.Angle(standHeight, d); {
	case d > s.Reach:
		return Sunken
	case w.landBetween(from, p):
		return Hidden
	case s.AirTold && d > s.Air:
		return Beyond
	case θ >= sight.Shape:
		return Plainly
	case θ >= sight.Speck:
		return AsASpeck
	}
	return TooSmall
}

// landBetween tells whether the straight line between two places leaves the water.
func (w *world) landBetween(a, b geo.Local) bool {
	if w.in.Surface == nil {
		return false
	}
	n := int(float64(a.Distance(b))/sightStep) + 1
	for i := range n + 1 {
		t := float64(i) / float64(n)
		if !w.in.Surface.OnWater(geo.Local{E: a.E + t*(b.E-a.E), N: a.N + t*(b.N-a.N)}) {
			return true
		}
	}
	return false
}

// sightNow gives how far one sees: as observed within three hours, else as forecast for this hour.
func (w *world) sightNow() (quantity.Length, bool) {
	for i := len(w.in.Lake.Observed) - 1; i >= 0; i-- {
		o := w.in.Lake.Observed[i]
		if o.SightTold && !o.When.After(w.in.Now) && w.in.Now.Sub(o.When) <= freshSight {
			return o.Sight, true
		}
	}
	for _, h := range w.in.Forecast {
		if h.SightTold && !h.Start.After(w.in.Now) && w.in.Now.Before(h.Start.Add(time.Hour)) {
			return h.Sight, true
		}
	}
	return 0, false
}
