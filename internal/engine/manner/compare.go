package manner

import (
	"math"
	"time"

	"icehand/internal/stats/contrast"
)

// level of every interval here.
const level = 0.95

// bunching gives how much more the counts of single sits scatter than independent events would: fish come in schools. At
// least 1; with two sits or fewer nothing is known of it and 3 is taken (ours).
func bunching(rows []Row) float64 {
	sum, n := 0.0, 0
	for _, r := range rows {
		if r.Events == 0 || r.Time <= 0 {
			continue
		}
		rate := float64(r.Events) / r.Time.Hours()
		for i, hours := range r.sits {
			μ := rate * hours
			sum += (r.events[i] - μ) * (r.events[i] - μ) / math.Max(μ, 0.1)
			n++
		}
		n-- // its own rate was fitted
	}
	const guess, weight = 3.0, 4.0
	// (MANNER-1)
	φ := (sum + guess*weight) / (float64(n) + weight)
	return math.Max(1, φ)
}

// bound fills rate and bounds.
func (r *Row) bound(φ float64) {
	if r.Time <= 0 {
		return
	}
	r.Rate = float64(r.Events) / r.Time.Hours()
	// (MANNER-2)
	events, hours := thin(r.Events, r.Time, φ)
	b := contrast.Rate(events, hours, level)
	r.Low, r.High = b.Low, b.High
}

// thin gives the count and hours of independent events that tell as much as bunched ones.
func thin(events int, t time.Duration, φ float64) (int, float64) {
	n := int(math.Round(float64(events) / φ))
	if n == 0 || events == 0 {
		return n, t.Hours() / φ
	}
	return n, t.Hours() * float64(n) / float64(events) // the rate stays what it was
}

// Verdict is what can be said of two rows.
type Verdict string

// The verdicts.
const (
	TooFew    Verdict = "too_few"   // hours or events do not suffice to look at all
	Undecided Verdict = "undecided" // the interval of the ratio holds one
	Better    Verdict = "better"    // the first took more, beyond chance and bunching
)

// Least that is compared; ours: under it even a true doubling would hardly show.
const (
	LeastHours  = 3  // rod-hours of each
	LeastEvents = 10 // of both together
	LeastSits   = 3  // of each
)

// Compared is a comparison of the two most fished rows, the better one first.
type Compared struct {
	A, B      Row
	Verdict   Verdict
	Ratio     float64 // A to B; +Inf where B took nothing
	Low, High float64
	P         float64
	Bunching  float64
}

// Compare compares the two rows that were fished most; false when there are not two.
func Compare(rows []Row) (Compared, bool) {
	if len(rows) < 2 {
		return Compared{}, false
	}
	c := Compared{A: rows[0], B: rows[1], Bunching: bunching(rows), Verdict: TooFew}
	if c.B.Rate > c.A.Rate {
		c.A, c.B = c.B, c.A
	}
	for _, r := range []Row{c.A, c.B} {
		if r.Time.Hours() < LeastHours || r.Sits < LeastSits || c.A.Events+c.B.Events < LeastEvents {
			return c, true
		}
	}
	x, t1 := thin(c.A.Events, c.A.Time, c.Bunching)
	y, t2 := thin(c.B.Events, c.B.Time, c.Bunching)
	// (MANNER-3)
	two := contrast.Ratio(x, t1, y, t2, level)
	c.Ratio, c.Low, c.High, c.P = c.A.Rate/c.B.Rate, two.Interval.Low, two.Interval.High, two.P
	if c.Verdict = Undecided; two.Interval.Low > 1 {
		c.Verdict = Better
	}
	return c, true
}
