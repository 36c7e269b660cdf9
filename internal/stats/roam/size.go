package roam

import "math"

// Take is one taken from a group: effort in rod-minutes and time in minutes since the one before, or since the first line
// went down.
type Take struct{ Effort, Time float64 }

// Stand is what one group gave to lines that stayed over it.
type Stand struct {
	Takes []Take
	// TailEffort and TailTime are how long lines stayed on after the last take, in vain.
	TailEffort, TailTime float64
}

const (
	sizeSteps = 25
	rateSteps = 9
	ownSpread = 0.6 // of the logarithm of the sizes of groups about the lake's median; our own assumption
	rateUsual = 0.3 // takes by rod-minute of a fresh group that gives; our own assumption, as is its spread
	rateSD    = 1.0 // of its logarithm
)

// quiets are the rates by minute at which a group that still has some goes quiet or leaves, each as likely; our own assumption.
var quiets = [...]float64{1.0 / 8, 1.0 / 20, 1.0 / 50}

// Size gives the median number that can be taken of the groups of a lake, from stands, and the number of takes that told.
// Stands of fewer than three tell nothing of a fall, only that so many were there.
func Size(stands []Stand, prior LogNormal) (LogNormal, int) {
	if !(prior.Median > 0 && prior.SD > 0) {
		panic("roam: a prior is not above 0")
	}
	logs := make([]float64, sizeSteps)
	belief := make([]float64, sizeSteps)
	for i := range logs {
		z := 3 * (2*float64(i)/(sizeSteps-1) - 1)
		logs[i] = math.Log(prior.Median) + z*prior.SD
		belief[i] = -z * z / 2
	}
	// sizes of single groups range farther than their median
	single := make([]float64, 2*sizeSteps)
	lo, hi := logs[0]-2*ownSpread, logs[sizeSteps-1]+2*ownSpread
	for k := range single {
		single[k] = lo + (hi-lo)*float64(k)/float64(len(single)-1)
	}
	n := 0
	for _, s := range stands {
		if len(s.Takes) == 0 {
			continue
		}
		n += len(s.Takes)
		like := make([]float64, len(single))
		for k, x := range single {
			like[k] = s.log(math.Exp(x))
		}
		for i, m := range logs {
			mix := make([]float64, len(single))
			for k, x := range single {
				u := (x - m) / ownSpread
				mix[k] = like[k] - u*u/2
			}
			// (ROAM-5) the median's belief × Σ over sizes of this group
			belief[i] += logMean(mix)
		}
	}
	if n == 0 {
		return prior, 0
	}
	return moments(logs, belief), n
}

// log gives the log likelihood of a stand over a group of N, over the rates that are not known.
func (s Stand) log(N float64) float64 {
	if float64(len(s.Takes)) > N {
		return -1e6 // more were taken than there were
	}
	left, effort := s.left(N)
	var all [rateSteps * len(quiets)]float64
	for i := range rateSteps {
		z := 2.5 * (2*float64(i)/(rateSteps-1) - 1)
		κ := rateUsual * math.Exp(z*rateSD) / N
		for j, quiet := range quiets {
			all[i*len(quiets)+j] = -z*z/2 + s.given(N, κ, quiet, left, effort)
		}
	}
	return logMean(all[:])
}

// left gives what a stand says of a group of N at any rate: Σ ln(N - n) and Σ (N - n) e over its takes.
func (s Stand) left(N float64) (logs, effort float64) {
	for n, t := range s.Takes {
		rest := N - float64(n)
		logs += math.Log(rest)
		effort += rest * t.Effort
	}
	return logs, effort
}

// given gives the log likelihood with all rates known: each one left is taken at κ by rod-minute, and the group goes quiet
// at a rate by minute.
func (s Stand) given(N, κ, quiet, left, effort float64) float64 {
	n, time := float64(len(s.Takes)), 0.0
	for _, t := range s.Takes {
		time += t.Time
	}
	// (ROAM-3) ln h - h e - quiet t with h = κ (N - n), summed over the takes
	sum := n*math.Log(κ) + left - κ*effort - quiet*time
	if s.TailTime <= 0 {
		return sum
	}
	h := κ * (N - n) * s.TailEffort / s.TailTime // by minute
	all := quiet + h
	// (ROAM-4) nothing for t: it went quiet before a take, or there was no take: (quiet + h exp(-(quiet + h) t))/(quiet + h)
	return sum + math.Log((quiet+h*math.Exp(-all*s.TailTime))/all)
}
