package advise

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/priors"
	"icehand/internal/stats/roam"
	"icehand/internal/trade/lake"
)

// Habits are what the record tells of how schools move and of how many fish one gives. Where it tells too little they are
// those of the stage.
type Habits struct {
	Speed     roam.LogNormal // m/s
	SpeedFrom int            // looks that told
	SpeedTold bool           // the record has narrowed it enough to be used
	Size      roam.LogNormal // fish that can be taken of a school
	SizeFrom  int            // fish that told
	SizeTold  bool
}

// Our own choice, all of it.
const (
	habitSD     = 0.7                 // of the logarithm of speed and size before anything is on record
	narrowed    = 0.75                // share of that below which the record is used
	mostLooks   = 3000                // newest looks that are read
	mostStands  = 300                 // newest stands
	standNear   = 25 * quantity.Metre // fish taken so near one another come of one school
	standBreak  = 30 * time.Minute    // without a fish: another school
	standEffort = 3.0                 // rod-minutes: a shorter stand tells nothing
)

// habits reads past events, in order of time.
func (in Input) habits(s priors.Season, past []event) Habits {
	h := Habits{Speed: roam.LogNormal{Median: s.Speed.MetresPerSecond(), SD: habitSD}, Size: roam.LogNormal{Median: s.SchoolSize, SD: habitSD}}
	var looks []roam.Look
	for _, e := range past {
		if l, ok := e.body.(plan.Look); ok {
			looks = append(looks, roam.Look{At: e.at, Time: float64(e.when.Unix()), Seen: l.Marks != lake.None})
		}
	}
	looks = looks[max(0, len(looks)-mostLooks):]
	p := plan.Default(s)
	// PLAN-30 at the depth that is preferred
	radius := float64(s.SchoolRadius) + p.ConeShare*float64(s.Depth)*math.Tan(p.HalfCone.Radians())
	h.Speed, h.SpeedFrom = roam.Speed(looks, radius, h.Speed)
	h.SpeedTold = h.Speed.SD < narrowed*habitSD
	h.Size, h.SizeFrom = roam.Size(stands(past), h.Size)
	h.SizeTold = h.Size.SD < narrowed*habitSD
	return h
}

// apply gives the beliefs of a season with what the record tells better.
func (h Habits) apply(s priors.Season) priors.Season {
	if h.SpeedTold {
		s.Speed = quantity.Speed(h.Speed.Median)
	}
	if h.SizeTold {
		s.SchoolSize = h.Size.Median
	}
	return s
}

// stands puts the fish of past days into runs over one school, with the lines that fished it.
func stands(past []event) []roam.Stand {
	var out []roam.Stand
	var sits []plan.SitSpan // those that a fish may still fall into
	type open struct {
		at         geo.Local
		begun, now time.Time
		times      []time.Time
	}
	var runs []*open
	shut := func(r *open) {
		if s, ok := stand(r.at, r.begun, r.times, sits); ok {
			out = append(out, s)
		}
	}
	for _, e := range past {
		kept := runs[:0]
		for _, r := range runs {
			if e.when.Sub(r.now) > standBreak+oldPiece { // by then the pieces that hold its tail are told
				shut(r)
			} else {
				kept = append(kept, r)
			}
		}
		runs = kept
		switch b := e.body.(type) {
		case plan.SitSpan:
			for len(sits) > 0 && e.when.Sub(sits[0].To) > 6*time.Hour {
				sits = sits[1:]
			}
			sits = append(sits, b)
		case plan.Fish:
			var run *open
			for _, r := range runs {
				if r.at.Distance(e.at) <= standNear && e.when.Sub(r.now) <= standBreak {
					run = r
				}
			}
			if run == nil {
				run = &open{at: e.at, begun: e.when}
				runs = append(runs, run)
			}
			run.now = e.when
			for range max(1, b.Count) {
				run.times = append(run.times, e.when)
			}
		}
	}
	for _, r := range runs {
		shut(r)
	}
	return out[max(0, len(out)-mostStands):]
}

// stand gives a run of fish with the effort between them. The first fish only tells that the school is there.
func stand(at geo.Local, begun time.Time, times []time.Time, sits []plan.SitSpan) (roam.Stand, bool) {
	effort := func(from, to time.Time) float64 {
		sum := 0.0
		for _, s := range sits {
			if s.At.Distance(at) <= standNear {
				sum += math.Max(0, earlier(to, s.To).Sub(later(from, s.From)).Minutes())
			}
		}
		return sum
	}
	var out roam.Stand
	last, total := begun, 0.0
	for i, t := range times {
		k := roam.Take{Effort: effort(last, t), Time: t.Sub(last).Minutes()}
		if i == 0 {
			k = roam.Take{}
		}
		total += k.Effort
		out.Takes = append(out.Takes, k)
		last = t
	}
	end := last
	for _, s := range sits { // until the last line left, or the school is called gone
		if s.At.Distance(at) <= standNear && s.From.Before(last.Add(time.Minute)) && s.To.After(end) {
			end = s.To
		}
	}
	end = earlier(end, last.Add(standBreak))
	out.TailEffort, out.TailTime = effort(last, end), end.Sub(last).Minutes()
	return out, total+out.TailEffort >= standEffort
}

// reasons says what of the schools' habits the odds take from the record.
func (h Habits) reasons() []Reason {
	var out []Reason
	if h.SpeedTold {
		low, high := h.Speed.Range()
		out = append(out, Reason{Code: "speed_record", Weight: 0.03, Count: h.SpeedFrom, Prior: ByRecord,
			Text: fmt.Sprintf("schools here move %.0f m to %.0f m in a minute, by %d looks on record near marks", 60*low, 60*high, h.SpeedFrom)})
	}
	if h.SizeTold {
		low, high := h.Size.Range()
		out = append(out, Reason{Code: "size_record", Weight: 0.02, Count: h.SizeFrom, Prior: ByRecord,
			Text: fmt.Sprintf("a school here gives %.0f to %.0f fish before it stops, by %d fish on record", low, high, h.SizeFrom)})
	}
	return out
}
