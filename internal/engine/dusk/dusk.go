// Package dusk answers when and where to switch to the second target, walleye, and what that costs in perch: the light at the
// fish over the day, what the lake's own record says of it, and one decision with its reasons.
//
// Start with [Weigh] for the decision and [Over] for a day's light at the fish; [Tally.Learn] makes the belief that both use.
// It assumes that light at the fish decides (a band of 6 to 68 lux), that walleye keep to the bottom and to edges, and that
// what is not known of snow, ice and clarity is the same from day to day on one lake. It leaves out the moon, the fishes'
// own movements from day to day, and perch landed while fishing for walleye. It never outranks turn-back time, ice or law:
// those come in as limits and bar. Model note: docs/models/dusk.md.
package dusk

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
)

// Input is what [Weigh] looks at.
type Input struct {
	Now   time.Time
	Until time.Time // nothing is planned past it; zero: the end of the civil day
	Zone  *time.Location
	Place geo.Position // of the lake
	Cover Cover
	Cloud Cloud

	Belief   *Belief           // nil: nothing on record
	Surfaces []*ground.Surface // finest first
	Here     geo.Local         // where the lines are
	Way      []geo.Local       // home, from here on; may be empty
	Rods     int               // at least 1
	SetUp    time.Duration     // of a rod at a hole
	Drill    time.Duration     // of one hole
	Ice      quantity.Length   // to drill through
	Holes    int               // that the batteries still allow; 0: not limited
	Perch    Perch
	Worth    float64 // perch that a walleye counts for; 0: [UsualWorth]
	Law      Law

	TurnBack   time.Time                              // here; lines are up by then at the latest
	TurnBackAt func(geo.Local) time.Time              // at another place; nil: never later than here
	Travel     func(geo.Local) time.Duration          // from here; nil: nowhere but here
	Bars       func(geo.Local, time.Time) (Bar, bool) // what forbids going there by an instant; nil: nothing is asked
}

// Bar is what forbids a place, or what must be said with it.
type Bar struct {
	Refusals []safety.Refusal // not empty: the place may not be advised
	Label    string           // to be said with a place that may
}

// Perch is what is believed of perch where the lines are: fish a rod-hour now, 8 times in 10 between Low and High, and how
// active they are at an instant against now; a nil Activity: as now.
type Perch struct {
	Mean, Low, High float64
	Activity        func(time.Time) float64
}

// Law is what the rule book says of walleye on the day. The zero value is that of a rule book that nobody signed.
type Law struct {
	Signed   bool
	Closed   bool      // no walleye may be fished for
	Why      string    // in a sentence
	From, To time.Time // legal hours; zero: none told
}

// Verdict is the decision.
type Verdict string

// The verdicts.
const (
	Switch  Verdict = "switch"   // switch to walleye
	TossUp  Verdict = "toss_up"  // as good as staying on perch
	Perches Verdict = "perch"    // stay on perch
	Thin    Verdict = "thin"     // too little on record to tell
	NoLight Verdict = "no_light" // the light never comes near the band while lines may be down
	Barred  Verdict = "barred"   // law, turn-back time or ice forbid it
)

// Answer is the decision with its reasons.
type Answer struct {
	At      time.Time
	Verdict Verdict
	Best    *Option  // the plan, or what it would have been; nil when there is none
	Would   *Option  // a plan that ranks above Best and is barred; nil when there is none
	Others  []Option // at most two, next best
	Windows []Window // of light in the band at the best place, or here
	Depth   Range    // at which the windows are told
	Why     []Reason // the largest first; at least one
	Changes []Reason // what would change it
	Refused []safety.Refusal
	Cover   Cover
	Law     Law
	Record  Record
}

// Record is what the belief rests on.
type Record struct {
	Hours, Beside float64 // line-hours after walleye, and after something else
	Fish          int     // walleye landed
}

// Option is one way of going about it.
type Option struct {
	Place     Place
	Distance  quantity.Length
	Bearing   quantity.Bearing // from here, true
	Leave     time.Time        // lines up here
	Begin     time.Time        // lines down there
	End       time.Time        // lines up there
	Back      bool             // back to perch after it; else home from there
	TurnBack  time.Time        // at that place: End is not past it
	Rate      Rate             // walleye a rod-hour there in that time
	Fish      Rate             // walleye for all rods
	Chance    Odds             // of at least one
	Forgone   Rate             // perch for all rods
	Pays      float64          // chance that it brings more than perch would
	BreakEven float64          // perch a rod-hour now at which it no longer pays
	Minutes   float64          // without a line in the water
	Holes     int
	Ice       quantity.Length // to drill
	Bar       Bar
	gain      float64
	perchAt   time.Time // lines down for perch again, when Back
}

// Rate is a number with its 80 % range.
type Rate struct{ Mean, Low, High float64 }

// Odds is a chance with its 80 % range.
type Odds struct{ P, Low, High float64 }

// Reason is one reason as data: Code chooses the sentence, the numbers fill it.
type Reason struct {
	Code   string
	Weight float64
	Count  int
	Rate   float64
	Depth  quantity.Length
	Lux    [2]quantity.Illuminance
	Text   string
}
