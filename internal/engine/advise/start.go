package advise

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/safety"
	"icehand/internal/stats/search"
	"icehand/internal/trade/lake"
)

const (
	startsApart = 400 * quantity.Metre
	startRadius = 150 * quantity.Metre
	startStep   = 100.0                // m
	mostStarts  = 4000                 // places weighed
	hazardKeep  = 100.0                // m about a hazard in which no start is laid
	shoreKeep   = 200 * quantity.Metre // nearer the shore no hop may be advised
	fullDay     = 6 * time.Hour        // of which the way takes its share
	untried     = 0.25                 // looked-at share below which ground counts as untried
	recordReach = 300.0                // m over which fish on record speak for a place
	recordFade  = 30.0                 // days after which they speak half as loud, e-fold
	priorRate   = 1.0                  // fish a rod-hour before anything is recorded; our own assumption
)

// effort is one past sit: how long, and what was landed in it.
type effort struct {
	at    geo.Local
	when  time.Time
	hours float64
	fish  float64
	hole  uuid.UUID
}

// readRecord gives the sits on record with what they brought. Fish without a sit have no exposure and are left out.
func (w *world) readRecord() []effort {
	if w.in.Party == nil {
		return nil
	}
	var out []effort
	byHole := map[uuid.UUID][]int{}
	for _, s := range w.in.Party.Sits {
		h := w.in.Lake.Hole(s.Hole)
		if h == nil || !h.Placed || s.To.IsZero() || !s.To.After(s.From) || s.To.Sub(s.From) > longestSit || s.From.After(w.in.Now) {
			continue
		}
		for _, p := range dusk.Pieces(w.in.Party, s, s.To) {
			if w.in.Party.TargetAt(s, p.From) != dusk.Target {
				byHole[s.Hole] = append(byHole[s.Hole], len(out))
				out = append(out, effort{at: h.At, when: p.From, hours: p.To.Sub(p.From).Hours(), hole: s.Hole})
			}
		}
	}
	for _, x := range w.in.Party.Fish {
		if x.Species == dusk.Target {
			continue
		}
		for _, i := range byHole[x.Hole] {
			e := &out[i]
			const slack = time.Minute
			if !x.When.Before(e.when.Add(-slack)) && !x.When.After(e.when.Add(time.Duration(e.hours*float64(time.Hour))).Add(slack)) {
				e.fish += float64(max(1, x.Count))
				break
			}
		}
	}
	return out
}

// dispersion gives how much more the catches of sits scatter than independent fish would: fish come in schools, so a
// record of n fish is worth n over this many. At least 1, and with few sits the prior guess of 5.
func dispersion(record []effort) float64 {
	const guess, weight = 5.0, 10.0 // our own assumption: as if ten sits had been seen to scatter so
	fish, hours, n := 0.0, 0.0, 0.0
	for _, s := range record {
		fish, hours, n = fish+s.fish, hours+s.hours, n+1
	}
	if fish == 0 || hours == 0 {
		return guess
	}
	rate, chi := fish/hours, 0.0
	for _, s := range record {
		expected := rate * s.hours
		chi += (s.fish - expected) * (s.fish - expected) / expected
	}
	// (PLAN-54) Pearson's chi-square over its degrees of freedom [McCullagh1989], shrunk towards the guess
	return math.Max(1, (chi+guess*weight)/(math.Max(0, n-1)+weight))
}

// rate gives the fish by rod-hour to expect at a place: the record near it, shrunk towards the lake's mean, itself shrunk
// towards a wide prior. Both are divided by the scatter of the record, so that a lucky hour stays a lucky hour.
func (e *eve) rate(p geo.Local) (search.Gamma, float64, float64) {
	lake := search.Gamma{Shape: 1, Rate: 1 / priorRate}
	fish, hours, φ := 0.0, 0.0, dispersion(e.record)
	for _, s := range e.record {
		age := e.in.Now.Sub(s.when).Hours() / 24
		old := math.Exp(-math.Max(0, age) / recordFade)
		d := float64(s.at.Distance(p))
		w := math.Exp(-d * d / (2 * recordReach * recordReach / 4))
		lake = lake.Update(old*s.fish/φ, old*s.hours/φ)
		fish, hours = fish+w*old*s.fish, hours+w*old*s.hours
	}
	// (PLAN-52) area's rate ~ gamma with the lake's mean and shape 2
	g := search.Gamma{Shape: 2, Rate: 2 / lake.Mean()}
	return g.Update(fish/φ, hours/φ), fish, hours
}

// site is a place that was weighed as a start.
type site struct {
	at    geo.Local
	key   int
	odds  plan.Odds
	score float64
	sure  float64
}

// starts ranks start areas: A and B by expected marks, C on untried ground where there is some.
func (e *eve) starts(ctx context.Context) ([]Start, error) {
	sites, err := e.sites(ctx)
	if err != nil {
		return nil, err
	}
	var chosen []site
	apart := func(s site) bool {
		for _, c := range chosen {
			if c.at.Distance(s.at) < startsApart {
				return false
			}
		}
		return true
	}
	for k := range 3 {
		best := -1
		for i, s := range sites {
			if !apart(s) || k == 2 && s.sure > untried {
				continue
			}
			best = i
			break
		}
		if best < 0 && k == 2 { // everything has been tried
			best = slices.IndexFunc(sites, apart)
		}
		if best < 0 {
			break
		}
		chosen = append(chosen, sites[best])
	}
	out := make([]Start, len(chosen))
	for i, s := range chosen {
		out[i] = e.start(string(rune('A'+i)), s)
	}
	e.giveUps(out)
	return out, nil
}

// sites weighs a lattice of places, best first.
func (e *eve) sites(ctx context.Context) ([]site, error) {
	g := e.in.Surface.Grid()
	w, h := float64(g.Cell)*float64(g.NX), float64(g.Cell)*float64(g.NY)
	step := math.Max(startStep, math.Ceil(math.Sqrt(w*h/mostStarts)/startStep)*startStep)
	var out []site
	for _, keep := range []quantity.Length{shoreKeep, 0} { // near the shore only where the lake has nothing else
		key := 0
		for y := math.Ceil(g.Origin.N/step) * step; y < g.Origin.N+h; y += step {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			for x := math.Ceil(g.Origin.E/step) * step; x < g.Origin.E+w; x += step {
				key++
				p := geo.Local{E: x, N: y}
				if !e.in.Surface.OnWater(p) || keep > 0 && e.in.Surface.ShoreDistance(p) < keep || e.hazardous(p) {
					continue
				}
				out = append(out, e.site(p, key))
			}
		}
		if len(out) > 0 {
			break
		}
	}
	slices.SortFunc(out, func(a, b site) int { return cmp.Or(cmp.Compare(b.score, a.score), cmp.Compare(a.key, b.key)) })
	return out, nil
}

// site weighs one place: the mean odds of a look there and 60 m to each side, the way charged.
func (e *eve) site(p geo.Local, key int) site {
	s := site{at: p, key: key, odds: e.filter.Odds(p, e.options.LookLength), sure: e.filter.Sureness(p)}
	_, travel := e.travelled(p)
	// (PLAN-53) odds less the share of the day that the way there and back takes
	s.score = num.Quantise(e.filter.Ground(p, e.options.LookLength).P*math.Max(0.2, 1-2*travel.Hours()/fullDay.Hours()), 5e-4)
	return s
}

// hazardous tells whether a hazard in force lies near a place.
func (e *eve) hazardous(p geo.Local) bool {
	for _, h := range e.in.Lake.Hazards {
		if h.InForce() && h.Distance(p) < hazardKeep {
			return true
		}
	}
	return false
}

// start dresses a site.
func (e *eve) start(letter string, s site) Start {
	out := Start{Letter: letter, At: s.at, Radius: startRadius, Odds: e.odds(s.odds), Why: e.why(s.at, s.odds)}
	out.Distance, out.Travel = e.travelled(s.at)
	lo, hi := math.Inf(1), 0.0
	for _, d := range []geo.Local{{}, {E: 100}, {E: -100}, {N: 100}, {N: -100}} {
		if z := e.in.Surface.At(s.at.Add(d)); z.Known {
			lo, hi = math.Min(lo, float64(z.Mean)), math.Max(hi, float64(z.Mean))
		}
	}
	if hi > 0 {
		out.Depth = [2]quantity.Length{quantity.Length(lo), quantity.Length(hi)}
	}
	holes := e.pattern(s.at, 0).Holes
	out.First = e.chain(e.filter.First(holes, e.options.LookLength), len(holes))
	g, fish, hours := e.rate(s.at)
	r := plan.GammaRange(g)
	out.Rate = Rate(r)
	if hours > 0.5 {
		out.Why = append(out.Why, Reason{Code: "fish_record", Weight: 0.4, Count: int(fish + 0.5), Rate: fish / hours,
			Text: "fish by rod-hour on record near here"})
	}
	if s.sure < untried {
		out.Why = append(out.Why, Reason{Code: "untried", Weight: 0.3, Text: "hardly tried this season: worth knowing"})
	}
	slices.SortStableFunc(out.Why, func(a, b Reason) int { return cmp.Compare(b.Weight, a.Weight) })
	out.Barred = e.barred(s.at)
	return out
}

// giveUps sets how long to try each start without a fish: until its expected rate has fallen to the next letter's.
func (e *eve) giveUps(starts []Start) {
	rods := 1.0
	if e.trip != nil && e.trip.Rods > 1 {
		rods = float64(e.trip.Rods)
	}
	const least, most = 30 * time.Minute, 2 * time.Hour
	for i := range starts {
		g, _, _ := e.rate(starts[i].At)
		ρ := 0.7 * g.Mean() // the next place is not known to be worse: leave when this one has lost a third
		if i+1 < len(starts) {
			ρ = math.Min(g.Mean(), math.Max(ρ, 0.8*starts[i+1].Rate.Mean))
		}
		t := time.Duration(g.GivingUp(ρ) / rods * float64(time.Hour))
		starts[i].GiveUp = max(least, min(most, t)).Round(5 * time.Minute)
	}
}

// barred says what stands against a start as things are.
func (e *eve) barred(p geo.Local) []safety.Refusal {
	out := []safety.Refusal{{Code: "other_day", Text: "Ice on the way is not read on that day yet: read it on the way out."}}
	if e.in.Spare != nil {
		if b, barred := care.Sorting(e.in.Spare.Selective, "perch", e.depthOf(p, nil), 0); barred {
			out = append(out, safety.Refusal{Code: "no_sorting", Text: "No sorting for size from " + quantity.SI.DepthText(b.From) + " down: few live once put back."})
		}
	}
	if !e.landingKnown {
		return append(out, safety.Refusal{Code: "no_landing", Text: "The landing is not known, so the way is not looked at."})
	}
	if h := e.between(e.landing, p); h != nil {
		return append(out, safety.Refusal{Code: "hazard", Text: "A reported hazard (" + h.What + ") lies on the straight way from the landing."})
	}
	return out
}

// between gives a hazard in force within 30 m of the straight way between two places; nil without one.
func (e *eve) between(a, b geo.Local) *lake.Hazard {
	for _, h := range e.in.Lake.Hazards {
		if !h.InForce() {
			continue
		}
		for t := 0.0; t <= 1; t += 0.02 {
			d := b.Sub(a)
			if h.Distance(a.Add(geo.Local{E: t * d.E, N: t * d.N})) < 30 {
				return h
			}
		}
	}
	return nil
}

// spiral lays holes round the middle of past marks.
func (e *eve) spiral(about geo.Local, n int, usable func(geo.Local) bool, hits int) Pattern {
	s := plan.LineAndSpiral{Ring: 25 * quantity.Metre}
	out := Pattern{Kind: "spiral", Spacing: 25 * quantity.Metre,
		Why: []Reason{{Code: "season_record", Weight: 1, Count: hits, Of: hits, Near: record, Text: "round the marks on record"}}}
	if usable(about) {
		out.Holes = append(out.Holes, about)
	}
	for k := 1; len(out.Holes) < n && k < 6*n; k++ {
		if p := s.Hole(about, k); usable(p) {
			out.Holes = append(out.Holes, p)
		}
	}
	return out
}

// rows lays holes from the middle outwards along one or more bearings, to both sides in turn.
func (e *eve) rows(kind string, about geo.Local, bearings []float64, spacing float64, n int, usable func(geo.Local) bool, why string) Pattern {
	out := Pattern{Kind: kind, Spacing: quantity.Length(spacing), Why: []Reason{{Code: kind, Weight: 1, Text: why}}}
	if usable(about) {
		out.Holes = append(out.Holes, about)
	}
	for k := 1; len(out.Holes) < n && k <= n; k++ {
		for _, b := range bearings {
			for _, turn := range []float64{0, 180} {
				if p := about.Toward(quantity.NewBearing(b+turn), quantity.Length(spacing*float64(k))); len(out.Holes) < n && usable(p) {
					out.Holes = append(out.Holes, p)
				}
			}
		}
	}
	return out
}
