// Package way holds ways of searching a lake for fish, from the trade's plain rules to planners, in a form in which they
// can be compared: each sees what a party sees, and says what the scout and every guest do next.
//
// Start with [Way]; [Rule], [TunedRule], [SpiralRule], [Remembering], [Random] and [Planner] make the ways. Package
// rehearse walks a party by them.
// It assumes one scout with the only auger, and guests with a rod and a sonar each. What is truly under the ice has no
// type here: a way cannot look it up. Knowing ways, made for comparison, live in package rehearse.
// Model note: docs/models/rehearsal.md.
package way

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Scout stands for the scout where an observer is named; guests count from 0.
const Scout = -1

// Step is how often a guest who fishes is asked whether to stay.
const Step = 30 * time.Second

// Aim is what the party wants.
type Aim string

// The aims.
const (
	Numbers Aim = "numbers"
	Size    Aim = "size"
)

// Crowd is a group of other parties in sight.
type Crowd struct {
	At     geo.Local
	Radius quantity.Length
}

// Briefing is what is known before the first hole.
type Briefing struct {
	Rods    int
	Aim     Aim
	Length  time.Duration // of the day
	Season  float64       // 0 early ice, 1 middle, 2 late ice
	Date    int           // counts the days on this lake; 0 for a day by itself
	Width   quantity.Length
	Height  quantity.Length // of the working area, whose south-west corner is the frame's origin
	Landing geo.Local
	Start   geo.Local // where a guide who follows the season's depth would begin
	Chart   func(geo.Local) quantity.Length
	Low     quantity.Length // band of depth that guides search at this time
	High    quantity.Length
	Ice     quantity.Length
	Crowds  []Crowd
	Walk    quantity.Speed
	Seed    uint64 // for ways that draw lots
}

// Inside tells whether a place lies in the working area.
func (b *Briefing) Inside(p geo.Local) bool {
	return p.E >= 0 && p.N >= 0 && p.E <= float64(b.Width) && p.N <= float64(b.Height)
}

// Crowded tells whether a place lies within a margin of a crowd.
func (b *Briefing) Crowded(p geo.Local, margin quantity.Length) bool {
	for _, c := range b.Crowds {
		r := float64(c.Radius + margin)
		if math.Abs(p.E-c.At.E) < r && math.Abs(p.N-c.At.N) < r && float64(p.Distance(c.At)) < r {
			return true
		}
	}
	return false
}

// Look is what a sonar showed: the scout's look, or a half minute of a guest's sit.
type Look struct {
	By     int // rod, or Scout
	Hole   int
	At     geo.Local
	From   time.Duration // since the day's start
	Length time.Duration
	Count  int    // separate marks
	Moving string // still, slow, fast, or "" when not told
}

// Catch is a take.
type Catch struct {
	Rod    int
	Hole   int
	At     geo.Local
	When   time.Duration
	Landed bool
	Good   bool // of good size
}

// Hole is a hole of today.
type Hole struct {
	At      geo.Local
	Depth   quantity.Length
	Drilled time.Duration
	Used    time.Duration // last time somebody was at it
	Rod     int           // who fishes it or walks to it; Scout when nobody
}

// Guest is what everybody sees of a guest.
type Guest struct {
	At      geo.Local
	Hole    int // where he fishes or walks to; -1 none
	Fishing bool
	Since   time.Duration // began to fish at this hole
	Fish    int           // today
}

// View is what the party sees of itself.
type View struct {
	Now    time.Duration
	Scout  geo.Local
	Holes  []Hole
	Guests []Guest
}

// Shut tells whether a hole has frozen so far that it must be drilled anew.
func (v *View) Shut(h int) bool { return v.Now-v.Holes[h].Used > Refreeze }

// Crust and Refreeze are how long a hole that nobody is at stays open to the hand, and open to the skimmer.
const (
	Crust    = 60 * time.Minute
	Refreeze = 180 * time.Minute
)

// Do is a kind of order.
type Do int

// The orders. Stay is for guests that fish, Wait for anybody, Drill and Visit for the scout, Move for guests.
const (
	Wait  Do = iota // half a minute
	Stay            // fish on
	Move            // walk to Hole and fish
	Drill           // walk to At, drill, look for Look
	Visit           // walk to Hole and look for Look
)

// Order says what somebody does next.
type Order struct {
	Do   Do
	Hole int
	At   geo.Local
	Look time.Duration
}

// Way is a way of searching. It is told everything the party sees, in order of time, and asked whenever somebody is
// free; guests that fish are asked every half minute.
type Way interface {
	Begin(b Briefing) geo.Local // where the party is towed to
	Looked(l Look)
	Caught(c Catch)
	Scout(v *View) Order
	Guest(v *View, rod int) Order
	End() // the day is over; a way with a memory keeps what it learned
}
