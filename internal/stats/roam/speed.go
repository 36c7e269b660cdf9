// Package roam answers how fast groups that wander under cover move, from where they were met and where they were looked
// for in vain, and how many of a group can be taken before it stops giving, from how its yield falls.
//
// Start with [Speed] and [Size]. Both give a belief with its range, and how much they had to go on; with nothing it is the
// prior. They assume that a group met lately nearby is the one met again or missed, that it walks straight for some minutes
// and then turns, and that each one taken leaves one less to take.
// They leave out headings, and cannot tell a group that goes quiet from one that is used up better than the rests between
// takes do: what [Size] gives is what can be taken, not what is there.
// Model note: docs/models/roam.md.
package roam

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"icehand/internal/base/geo"
	"icehand/internal/stats/search"
)

// Look is one look for groups.
type Look struct {
	At   geo.Local
	Time float64 // s, from any instant
	Seen bool
}

// LogNormal is a belief about something above 0: the median, and the standard deviation of its logarithm.
type LogNormal struct{ Median, SD float64 }

// Range gives the ends that hold 8 in 10.
func (l LogNormal) Range() (low, high float64) {
	const z80 = 1.2816
	return l.Median * math.Exp(-z80*l.SD), l.Median * math.Exp(z80*l.SD)
}

const (
	nearM    = 200.0 // a group met within it may be the one looked for
	soonest  = 90.0  // s: a second look so soon only confirms the first
	latest   = 3600.0
	detect   = 0.93 // chance that a look over a group shows it; our own assumption
	clusters = 2.0  // looks at one group share its path: they count by this less; by simulation
)

// What is not known of a walk, each value as likely: s of a straight run, s that a group stays together and near.
var (
	runs  = [...]float64{90, 240, 700}
	stays = [...]float64{2400, 9000}
)

const speedSteps = 21

// Speed gives the speed of groups in m/s, from looks in order of time that each show a group within radiusM, and the number
// of looks that told of it: those near a place where a group had been met within the hour.
func Speed(looks []Look, radiusM float64, prior LogNormal) (LogNormal, int) {
	if !(radiusM > 0 && prior.Median > 0 && prior.SD > 0) {
		panic("roam: a radius or a prior is not above 0")
	}
	tries, chance := pairs(looks)
	if len(tries) == 0 {
		return prior, 0
	}
	logs := make([]float64, speedSteps)
	belief := make([]float64, speedSteps)
	for i := range belief {
		z := 3 * (2*float64(i)/(speedSteps-1) - 1)
		logs[i] = math.Log(prior.Median) + z*prior.SD
		var walks []float64
		for _, run := range runs {
			for _, stay := range stays {
				sum := 0.0
				for _, t := range tries {
					sum += t.log(math.Exp(logs[i]), run, stay, radiusM, chance)
				}
				walks = append(walks, sum/clusters)
			}
		}
		belief[i] = logMean(walks) - z*z/2
	}
	return moments(logs, belief), len(tries)
}

// try is a look near a place where a group was met a while before.
type try struct {
	d2   float64 // m2
	wait float64 // s
	seen bool
}

// pairs gives the looks that tell, and the chance that any other look shows a group.
func pairs(looks []Look) (out []try, chance float64) {
	hits, n := 1.0, 20.0 // our own assumption: one in twenty
	var met []Look
	for _, l := range looks {
		recent := -1
		for i := len(met) - 1; i >= 0 && l.Time-met[i].Time < latest; i-- {
			if float64(met[i].At.Distance(l.At)) < nearM {
				recent = i
				break
			}
		}
		switch {
		case recent < 0:
			n++
			if l.Seen {
				hits++
			}
		case l.Time-met[recent].Time >= soonest:
			d := float64(met[recent].At.Distance(l.At))
			out = append(out, try{d * d, l.Time - met[recent].Time, l.Seen})
		}
		if l.Seen {
			met = append(met, l)
		}
	}
	return out, hits / n
}

// log gives the log chance of what a look brought, for groups of a speed that run straight for so long and stay so long.
func (t try) log(speed, run, stay, radiusM, chance float64) float64 {
	τ := t.wait / run
	// (ROAM-1) V = R²/4 + v²T²(τ/T - 1 + exp(-τ/T)), of each coordinate of a persistent walk [Furth1920]
	V := radiusM*radiusM/4 + speed*speed*run*run*(τ+math.Expm1(-τ))
	// (ROAM-2) q = exp(-τ/stay) × SEARCH-16, or another group
	q := math.Exp(-t.wait/stay) * search.BlobLook(detect, radiusM*radiusM, V, t.d2)
	none := (1 - q) * (1 - chance)
	if t.seen {
		return math.Log1p(-none)
	}
	return math.Log(none)
}

// moments gives median and spread of a belief on a lattice of logarithms.
func moments(logs, belief []float64) LogNormal {
	most := slices.Max(belief)
	sum, mean := 0.0, 0.0
	for i, b := range belief {
		w := math.Exp(b - most)
		sum, mean = sum+w, mean+w*logs[i]
	}
	mean /= sum
	v := 0.0
	for i, b := range belief {
		v += math.Exp(b-most) * (logs[i] - mean) * (logs[i] - mean)
	}
	return LogNormal{math.Exp(mean), math.Sqrt(v / sum)}
}

// logMean gives the logarithm of the mean of what has these logarithms.
func logMean(x []float64) float64 { return floats.LogSumExp(x) - math.Log(float64(len(x))) }
