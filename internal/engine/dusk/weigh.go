package dusk

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/stats/search"
)

// UsualWorth is how many perch a walleye counts for: the weight of one of 38 cm, the lake's least, over that of a perch of
// 23 cm, by the standard weights log W = -5.453 + 3.180 log L [Murphy1990] and -5.386 + 3.230 log L [Willis1991]: 563 g over
// 175 g, rounded. That weight is what counts is our own assumption; the aim of the day may say otherwise.
const UsualWorth = 3.0

// Lines of the decision; our own choice.
const (
	shortest  = 25 * time.Minute // of fishing there: a shorter stay is not worth a move
	pays      = 0.65             // chance of paying from which a switch is advised
	paysNot   = 0.4              // and below which staying is
	fewHours  = 6.0              // line-hours after walleye below which, and
	fewFish   = 3                // walleye below which the record is too thin to tell
	gainSteps = 0.01             // fish, within which two plans are the same
	loading   = 5 * time.Minute  // of the sleds, before a move; common practice, no source
)

// Weigh decides. It panics without a zone.
func Weigh(in Input) Answer {
	w := newWeighing(in)
	a := Answer{At: in.Now, Cover: in.Cover, Law: in.Law}
	a.Record.Hours, a.Record.Beside, a.Record.Fish = w.Belief.Told()
	search := Search{From: w.Here, Way: w.Way, Surfaces: w.Surfaces, Belief: w.Belief}
	here := search.place(w.Here, Here)
	a.Depth = here.Depth
	if in.Law.Closed {
		why := cmp.Or(in.Law.Why, "The rule book is closed for walleye on that day.")
		a.Verdict, a.Refused = Barred, []safety.Refusal{{Code: "law", Text: why}}
		a.Why = []Reason{{Code: "law", Weight: 1, Text: why}}
		a.Windows = w.windows(here)
		return a
	}
	var options []Option
	for _, p := range search.places() {
		if o, ok := w.option(p); ok {
			options = append(options, o)
		}
	}
	slices.SortStableFunc(options, func(x, y Option) int {
		return cmp.Or(cmp.Compare(num.Quantise(y.gain, gainSteps), num.Quantise(x.gain, gainSteps)), x.Leave.Compare(y.Leave))
	})
	for _, o := range options {
		if bar, ok := w.bar(o); !ok {
			a.refuse(bar)
			if a.Best == nil && a.Would == nil {
				o.Bar = bar
				w.dress(&o)
				a.Would = &o
			}
			continue
		} else {
			o.Bar = bar
		}
		w.dress(&o)
		if a.Best == nil {
			a.Best = &o
			a.Depth = o.Place.Depth
		} else if len(a.Others) < 2 {
			a.Others = append(a.Others, o)
		}
	}
	a.Windows = w.windows(here)
	if a.Best != nil {
		a.Windows = w.windows(a.Best.Place)
	}
	w.judge(&a, len(options) > 0)
	return a
}

func (a *Answer) refuse(b Bar) {
	for _, r := range b.Refusals {
		if !slices.ContainsFunc(a.Refused, func(o safety.Refusal) bool { return o.Code == r.Code }) {
			a.Refused = append(a.Refused, r)
		}
	}
}

// weighing holds what all places share.
type weighing struct {
	Input
	first time.Time // the first step
	steps int
	hour  []int     // of each step
	sky   []glow    // over the ice
	perch []float64 // fish a rod in each step, if it stays
	open  []bool    // lines may be after walleye by law
}

func newWeighing(in Input) *weighing {
	if in.Zone == nil {
		panic("dusk: no time zone")
	}
	if in.Belief == nil {
		in.Belief = (&Tally{}).Learn()
	}
	in.Rods = max(1, in.Rods)
	in.Worth = cmp.Or(in.Worth, UsualWorth)
	y, m, d := in.Now.In(in.Zone).Date()
	midnight := time.Date(y, m, d+1, 0, 0, 0, 0, in.Zone)
	if in.Until.IsZero() || in.Until.After(midnight) {
		in.Until = midnight
	}
	w := &weighing{Input: in, first: in.Now.Truncate(step)}
	if w.first.Before(in.Now) {
		w.first = w.first.Add(step)
	}
	w.steps = max(0, int(in.Until.Sub(w.first)/step))
	for k := range w.steps {
		t := w.at(k).Add(step / 2)
		w.hour = append(w.hour, hourOf(t, in.Place))
		w.sky = append(w.sky, sky(t, in.Place, in.Cloud))
		perch := 0.0
		if w.at(k).Before(in.TurnBack) {
			perch = in.Perch.Mean * step.Hours()
			if in.Perch.Activity != nil {
				perch *= in.Perch.Activity(t)
			}
		}
		w.perch = append(w.perch, perch)
		law := in.Law
		w.open = append(w.open, (law.From.IsZero() || !w.at(k).Before(law.From)) && (law.To.IsZero() || !w.at(k+1).After(law.To)))
	}
	return w
}

// at gives the start of a step.
func (w *weighing) at(k int) time.Time { return w.first.Add(time.Duration(k) * step) }

// up gives the number of whole steps that a time takes.
func up(d time.Duration) int { return int((d + step - 1) / step) }

// limit gives the number of steps until lines must be up at a place.
func (w *weighing) limit(p Place) (int, time.Time) {
	end := w.TurnBack
	if p.Form != Here && w.TurnBackAt != nil {
		end = w.TurnBackAt(p.At)
	}
	return min(w.steps, int(end.Sub(w.first)/step)), end
}

// load sums the exposure at a place over steps.
func (w *weighing) load(p Place, from, to int) *load {
	pane, x := w.Cover.pane(p.Depth), &load{}
	for k := max(0, from); k < to; k++ {
		for i := range lots {
			// (DUSK-5) aimed at walleye
			x[i][w.hour[k]] += step.Hours() * edgeWorth(p.Edge) * response(atFish(w.sky[k], pane, i))
		}
	}
	return x
}

// rates gives the walleye that one rod is expected to land in each step at a place.
func (w *weighing) rates(p Place, until int) []float64 {
	out := make([]float64, until)
	pane := w.Cover.pane(p.Depth)
	var worth [lots][hours]float64
	for i := range lots {
		f := &w.Belief.factors[i]
		base := w.Belief.weight[i] * f.level.Mean() * f.edge[edged(p.Edge > 0.5)].Mean() * w.Belief.spotAt(p.At, i).Mean() * edgeWorth(p.Edge) * step.Hours()
		for h := range hours {
			worth[i][h] = base * f.hour[h].Mean()
		}
	}
	for k := range out {
		for i := range lots {
			out[k] += worth[i][w.hour[k]] * response(atFish(w.sky[k], pane, i))
		}
	}
	return out
}

// option finds the best times for a place: when to leave, and when to stop.
func (w *weighing) option(p Place) (Option, bool) {
	travel := time.Duration(0)
	if p.Form != Here {
		if w.Travel == nil {
			return Option{}, false
		}
		travel = w.Travel(p.At)
	}
	until, end := w.limit(p)
	leaveBy := min(w.steps, int(w.TurnBack.Sub(w.first)/step)) // lines are up here by the turn-back time here
	if until <= 0 || leaveBy < 0 {
		return Option{}, false
	}
	rate := w.rates(p, until)
	out, home := w.SetUp, w.SetUp // without a line besides the travel
	if p.Form != Here {
		out += loading + w.Drill*time.Duration(w.Rods+1)/2 // holes are cut one after the other, and lines go down as they come
		home += loading
	}
	there, back := up(travel+out), up(travel+home)
	walleye, perch := running(rate), running(w.perch)
	least := int(shortest / step)
	best, from, to, returns := math.Inf(-1), -1, 0, false
	for i := 0; i <= leaveBy; i++ {
		for j := i + there + least; j <= until; j++ {
			if !w.legal(i+there, j) {
				continue
			}
			// (DUSK-13) gain = worth * walleye - perch forgone while away
			try := func(away int, back bool) {
				if g := w.Worth*(walleye[j]-walleye[i+there]) - (perch[min(away, w.steps)] - perch[i]); g > best+1e-9 {
					best, from, to, returns = g, i, j, back
				}
			}
			try(w.steps, false)
			if w.at(j + back).Before(w.TurnBack) {
				try(j+back, true)
			}
		}
	}
	if from < 0 {
		return Option{}, false
	}
	o := Option{Place: p, Distance: w.Here.Distance(p.At), Bearing: w.Here.BearingTo(p.At), Leave: w.at(from), Begin: w.at(from).Add(travel + out), End: w.at(to),
		Back: returns, TurnBack: end, Minutes: (travel + out).Minutes(), gain: best}
	if returns {
		o.Minutes += (travel + home).Minutes()
		o.perchAt = w.at(min(w.steps, to+back))
	}
	if o.Distance == 0 {
		o.Bearing = 0
	}
	return o, true
}

// running gives the running sum, one longer than the list.
func running(list []float64) []float64 {
	out := make([]float64, len(list)+1)
	for k, x := range list {
		out[k+1] = out[k] + x
	}
	return out
}

// legal tells whether lines may be after walleye throughout.
func (w *weighing) legal(from, to int) bool {
	for k := from; k < to; k++ {
		if !w.open[k] {
			return false
		}
	}
	return true
}

// bar asks what forbids an option. To fish on where the lines are is no step over the ice.
func (w *weighing) bar(o Option) (Bar, bool) {
	if o.Place.Form == Here {
		return Bar{}, true
	}
	if w.Holes > 0 && w.Rods > w.Holes {
		return Bar{Refusals: []safety.Refusal{{Code: "holes_left", Text: "The batteries do not cut a hole for every rod any more."}}}, false
	}
	if w.Bars == nil {
		return Bar{}, true
	}
	return w.Bars(o.Place.At, o.Begin)
}

// dress works out what an option brings and costs, with its ranges.
func (w *weighing) dress(o *Option) {
	from, to := int(o.Begin.Sub(w.first)/step), int(o.End.Sub(w.first)/step)
	rods := float64(w.Rods)
	x := w.Belief.catch(o.Place.At, o.Place.Edge, w.load(o.Place, from, to))
	one := span(x)
	o.Fish = Rate{one.Mean * rods, one.Low * rods, one.High * rods}
	h := o.End.Sub(o.Begin).Hours()
	o.Rate = Rate{one.Mean / h, one.Low / h, one.High / h}
	// (DUSK-14) fish come in bunches of the record's scatter: so many independent chances
	bunches := rods / w.Belief.scatter
	o.Chance = Odds{P: 1 - x.None(bunches), Low: -math.Expm1(-one.Low * bunches), High: -math.Expm1(-one.High * bunches)}
	away := w.steps
	if o.Back {
		away = int(o.perchAt.Sub(w.first) / step)
	}
	perch := running(w.perch)
	gone := perch[away] - perch[int(o.Leave.Sub(w.first)/step)]
	share := 0.0 // of the present rate, in hours
	if w.Perch.Mean > 0 {
		share = gone / w.Perch.Mean
	}
	o.Forgone = Rate{gone * rods, w.Perch.Low * share * rods, w.Perch.High * share * rods}
	if o.Place.Form != Here {
		o.Holes = w.Rods
		o.Ice = quantity.Length(rods * w.Ice.Metres())
	}
	o.Pays = w.chancePays(x, share)
	if share > 0 {
		o.BreakEven = w.Worth * one.Mean / share
	}
}

// span gives mean and 80 % range of a gamma.
func span(g search.Gamma) Rate {
	if math.IsInf(g.Rate, 1) {
		return Rate{}
	}
	return Rate{Mean: g.Mean(), Low: mathext.GammaIncRegInv(g.Shape, 0.1) / g.Rate, High: mathext.GammaIncRegInv(g.Shape, 0.9) / g.Rate}
}

// chancePays gives the chance that walleye, weighed, exceed the perch of so many hours at the present rate.
func (w *weighing) chancePays(walleye search.Gamma, hours float64) float64 {
	if math.IsInf(walleye.Rate, 1) {
		return 0
	}
	spread := (w.Perch.High - w.Perch.Low) / 2.563 // 80 % range of a normal in standard deviations
	if hours <= 0 || w.Perch.Mean <= 0 {
		return 1
	}
	const points = 25
	p := 0.0
	for k := range points {
		perch := w.Perch.Mean
		if spread > 0 {
			a := w.Perch.Mean * w.Perch.Mean / (spread * spread)
			perch = mathext.GammaIncRegInv(a, (float64(k)+0.5)/points) / a * w.Perch.Mean
		}
		// (DUSK-15) P(worth * walleye > perch), over the perch rate's quantiles
		p += mathext.GammaIncRegComp(walleye.Shape, walleye.Rate*perch*hours/w.Worth) / points
	}
	return p
}

// windows gives when the light at a place is in the band, those that are not over.
func (w *weighing) windows(p Place) []Window {
	day := Over(DayInput{Day: w.Now, Zone: w.Zone, Place: w.Place, Cover: w.Cover, Depth: p.Depth, Cloud: w.Cloud, Belief: w.Belief})
	return slices.DeleteFunc(day.Windows, func(x Window) bool { return !x.Latest.After(w.Now) || x.From.After(w.Until) })
}
