package plan

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// The events that move the odds. A host gives them in order of time; an event whose place is unknown is not given at all.

// Look is a look into a hole with no lure in it.
type Look struct {
	At     geo.Local
	When   time.Time
	Length time.Duration // 0: the usual half minute
	Marks  lake.Marks
	Count  int    // -1 or 0 when not counted
	Moving string // still, slow, fast; "" when not told
}

// SitSpan is a piece of a sit: one rod fishing at a hole without a break. Long sits are given in pieces, so that what
// happened meanwhile finds its place in time.
type SitSpan struct {
	At       geo.Local
	Rod      int
	From, To time.Time
	Watched  bool   // a sonar was watched all the time; Count and Moving are what it showed
	Count    int    // separate marks
	Moving   string // still, slow, fast; "" when not told
}

// Fish is a catch. Kept fish and those put back are alike here.
type Fish struct {
	At    geo.Local
	When  time.Time
	Count int
	Good  bool // of good size
}

// Bite is a take that was not landed.
type Bite struct {
	At   geo.Local
	When time.Time
}

// Crowd is a group of other parties, as seen.
type Crowd struct {
	At       geo.Local
	Radius   quantity.Length
	Shelters int
	When     time.Time
	Gone     bool
}

// beyond is how far a place lies from the crowd's edge, 0 within it.
func (c *Crowd) beyond(p geo.Local) quantity.Length { return max(0, c.At.Distance(p)-c.Radius) }

// Sketch is ground that the guide holds for good or for empty.
type Sketch struct {
	Area   geo.Polygon
	Weight int // -3 never here to 3 nearly always
}
