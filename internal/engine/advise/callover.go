package advise

import (
	"bytes"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
)

// Caller is somebody who could be called over to a hole where fish are.
type Caller struct {
	Person    uuid.UUID
	Waited    time.Duration   // since the last fish, or since the first line went down; 0: not fishing yet
	Walk      quantity.Length // to the hole; negative: where they are is not known
	Pace      quantity.Speed  // on foot, over snow
	Reach     quantity.Length // farthest at a stretch
	AtLimit   bool            // of the fish that are there
	Away      bool            // ashore, leaving or out of sight: not to be called about
	Child     bool
	FromAdult quantity.Length // of a child: from the hole to the nearest grown-up there; negative: none is there
}

// Why somebody is not called over.
const (
	NotHere   = "not_here"   // ashore, leaving or out of sight
	NoPlace   = "no_place"   // where they are is not known
	TooFar    = "too_far"    // beyond what they are walked
	TooLate   = "too_late"   // the school is expected to be gone first
	AtLimit   = "at_limit"   // they may keep no more
	ChildFar  = "child_far"  // no grown-up would be near
	AlreadyIn = "already_in" // they sit there
)

// Called is somebody with what calling them over is worth.
type Called struct {
	Person  uuid.UUID
	Worth   float64 // minutes at the fish, weighted by how long they have waited; 0 when barred
	Arrives time.Duration
	Fishes  time.Duration // left at the fish once there
	Barred  string        // why not; "" for nobody barred
}

// nearGrownUp is how near a grown-up must be to a child's hole; common practice, no source.
const nearGrownUp = 30 * quantity.Metre

// patience is the wait that doubles somebody's claim: a child without a fish for half an hour is done; common practice, no source.
const patience = 30 * time.Minute

// CallOver ranks whom to call over to fish that are expected to stay so long: fairness weighs the minutes that each would have at them. It is for the
// guide's eyes; order among equals is by identity, so that it does not jump.
func CallOver(all []Caller, stay time.Duration) []Called {
	var out []Called
	for _, c := range all {
		x := Called{Person: c.Person}
		if c.Walk >= 0 && c.Pace > 0 {
			x.Arrives = time.Duration(c.Walk.Metres() / c.Pace.MetresPerSecond() * float64(time.Second)).Round(time.Second)
		}
		switch {
		case c.Away:
			x.Barred = NotHere
		case c.AtLimit:
			x.Barred = AtLimit
		case c.Walk < 0 || c.Pace <= 0:
			x.Barred = NoPlace
		case c.Walk <= 3*quantity.Metre:
			x.Barred = AlreadyIn
		case c.Walk > c.Reach:
			x.Barred = TooFar
		case x.Arrives >= stay:
			x.Barred = TooLate
		case c.Child && (c.FromAdult < 0 || c.FromAdult > nearGrownUp):
			x.Barred = ChildFar
		default:
			x.Fishes = stay - x.Arrives
			// (CALL-1)
			x.Worth = x.Fishes.Minutes() * (1 + c.Waited.Minutes()/patience.Minutes())
			x.Worth = math.Round(x.Worth*100) / 100
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b Called) int {
		switch {
		case (a.Barred == "") != (b.Barred == ""):
			if a.Barred == "" {
				return -1
			}
			return 1
		case a.Worth != b.Worth:
			if a.Worth > b.Worth {
				return -1
			}
			return 1
		}
		return bytes.Compare(a.Person[:], b.Person[:])
	})
	return out
}

// Spell is a time in which fish were at a hole: from the first sign to the last.
type Spell struct{ First, Last time.Time }

// SpellGap parts two visits: signs closer together are one; common practice, no source.
const SpellGap = 8 * time.Minute

// Spells gathers the signs of fish at one hole, by time, into visits.
func Spells(signs []time.Time) (out []Spell) {
	for _, t := range signs {
		if n := len(out); n > 0 && t.Sub(out[n-1].Last) <= SpellGap {
			out[n-1].Last = t
			continue
		}
		out = append(out, Spell{t, t})
	}
	return out
}

// Expected stay of a school before anything is on record: 5 to 10 minutes are usual at a spot; common practice, no source.
const (
	priorStay   = 8 * time.Minute
	priorWeight = 4 // visits that the prior counts for
	leastStay   = 2 * time.Minute
)

// StayLeft gives how much longer fish that have been at a hole for so long are expected there: what earlier visits still had before them at that age, drawn
// towards the usual. n is how many visits it rests on.
func StayLeft(past []Spell, been time.Duration) (left time.Duration, n int) {
	// (CALL-2)
	sum := float64(priorWeight) * max(leastStay, priorStay-been).Seconds()
	for _, v := range past {
		if d := v.Last.Sub(v.First); d > 0 && d >= been {
			sum += (d - been).Seconds()
			n++
		}
	}
	left = time.Duration(sum / float64(priorWeight+n) * float64(time.Second)).Round(time.Minute)
	return max(left, leastStay), n
}
