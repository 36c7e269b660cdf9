package advise

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

const (
	usualBudget = 600
	// MoreBudget is that of an answer thought over while the guide walks: places half as far apart.
	MoreBudget = 2400
	marksEvent = "marks"
	ruledReach = 30.0 // m about a place that the guide ruled out; our own choice
	standing   = 5.0  // m from an open hole: within a phone's fix
	tossUp     = 0.1  // share by which two scores may differ and still be as good
)

// Next gives the next step: for the scout, and for every rod.
func Next(ctx context.Context, in Input) (Step, error) {
	w, err := in.look(ctx)
	if err != nil {
		return Step{}, err
	}
	s := Step{At: in.Now, Seed: in.Seed, Budget: in.Budget, HolesLeft: w.options.HolesLeft, Evidence: w.evidence}
	if s.Budget <= 0 {
		s.Budget = usualBudget
	}
	s.Aim, s.Score = in.Aim, w.score()
	if deadline, _ := w.turnBack(); !in.Now.Before(deadline) {
		w.headIn(&s)
		w.answer(ctx, &s)
		return s, nil
	}
	w.rods(&s)
	w.sparing(&s)
	from, ok := w.scout()
	switch {
	case in.Surface == nil:
		w.hold(&s, Reason{Code: "no_outline", Weight: 1, Text: "no lake outline, so no place may be advised"})
	case !ok:
		w.hold(&s, Reason{Code: "no_fix", Weight: 1, Age: w.fixAge(), Text: "no fix, so no place may be advised"})
	default:
		if err := w.seek(ctx, from, &s); err != nil {
			return Step{}, err
		}
	}
	w.statePlan(&s)
	s.Windows = w.biteWindows()
	w.changes(&s)
	w.rateByHour(&s)
	w.second(&s)
	w.leave(&s)
	w.answer(ctx, &s)
	return s, nil
}

// statePlan tells the odds of a step that sits for the sit and its clock, not for a look.
func (w *world) statePlan(s *Step) {
	h := w.in.Lake.Hole(s.Hole)
	if s.Do != Stay && s.Do != Move || h == nil || !h.Placed {
		return
	}
	var wait time.Duration
	for _, r := range s.Rods {
		if left := r.ReAsk.Sub(w.in.Now); s.Do == Stay && r.Do == Stay && left > 0 && (wait == 0 || left < wait) {
			wait = left
		}
	}
	if wait == 0 {
		wait = w.sitClock(rateOf(w.filter.Rate(h.At, max(1, w.rodsNear(h.At, sharers)))), 0)
	}
	s.To, s.Odds = h.At, w.oddsOf(h.At, wait, Sitting)
}

// oddsOf gives the odds of a plan at a place.
func (w *world) oddsOf(p geo.Local, wait time.Duration, plan Plan) Odds {
	o := w.odds(w.filter.Odds(p, wait))
	o.Wait, o.Plan = wait, plan
	return o
}

func (w *world) fixAge() time.Duration {
	if w.in.Scout.Fixed.IsZero() {
		return 0
	}
	return max(0, w.in.Now.Sub(w.in.Scout.Fixed))
}

// headIn is the step when the turn-back time has come.
func (w *world) headIn(s *Step) {
	s.Do = HeadIn
	r := w.turnBackReason()
	r.Weight = 1
	s.Why = []Reason{r}
	for _, rod := range w.in.Rods {
		s.Rods = append(s.Rods, RodStep{Rod: rod.Number, Do: HeadIn, ReAsk: w.in.Now, Why: s.Why})
	}
}

// hold is the step when no place may be advised: the rods' own advice stands.
func (w *world) hold(s *Step, why Reason) {
	s.Do = Wait
	s.Why = []Reason{why}
	for i, r := range s.Rods {
		if r.Do == Stay {
			s.Do, s.Hole = Stay, w.in.Rods[i].Hole
			break
		}
	}
	s.Odds = Odds{Event: marksEvent, Wait: w.options.LookLength, Word: word(0)}
}

// seek fills the scout's step.
func (w *world) seek(ctx context.Context, from geo.Local, s *Step) error {
	v := &vetting{world: w, hop: w.hops(from), answers: map[int64]safety.HopAnswer{}}
	spots, holes := w.openSpots()
	if w.plain() {
		if w.byLine(from, v, s) {
			return nil
		}
	}
	crew, _ := w.crew()
	q := plan.Question{Crew: crew, From: from, Open: spots, Ice: w.ice(), Look: w.options.LookLength, DayGone: w.dayGone(),
		Bold: boldness(w.in.Aim), Budget: s.Budget, Drillable: true, Allowed: v.allowed}
	best, err := w.weigh(ctx, q)
	if err != nil {
		return err
	}
	if len(best) == 0 {
		w.nowhere(v, s)
		return nil
	}
	s.RuledOut = v.ruled
	w.take(s, best[0], holes, v)
	w.bringOver(s, from)
	w.stayHere(s, from)
	w.alternatives(s, best, holes, v)
	return w.farther(ctx, q, s, holes, v)
}

// weigh gives the places most worth the next look. With more than the usual budget the first answer stands, unless
// thinking it over finds one that is better by more than a toss-up: a guide on his way is not turned round for less.
func (w *world) weigh(ctx context.Context, q plan.Question) ([]plan.Candidate, error) {
	more := q
	q.Budget = min(q.Budget, usualBudget)
	best, _, err := w.filter.Choose(ctx, q)
	if err != nil || len(best) == 0 || best[0].For != plan.Search || more.Budget <= usualBudget {
		return best, err
	}
	closer, _, err := w.filter.Choose(ctx, more)
	if err == nil && len(closer) > 0 && closer[0].Score*(1-tossUp) > best[0].Score {
		best = closer
	}
	return best, err
}

// boldness is how far the aim of the day favours unknown ground.
func boldness(aim string) float64 {
	switch aim {
	case "learning":
		return 1.5
	case "first_fish":
		return 0.25
	}
	return 1
}

// dayGone is the share of the day's fishing that is over.
func (w *world) dayGone() float64 {
	end, _ := w.turnBack()
	start := w.sun.Sunrise.Time
	if start.IsZero() || !end.After(start) {
		return 0.5
	}
	return num.Clamp(w.in.Now.Sub(start).Seconds()/end.Sub(start).Seconds(), 0, 1)
}

// crew tells party and holes as they are, and which hole each of the crew's is.
func (w *world) crew() (plan.Crew, []*lake.Hole) {
	c := plan.Crew{Walk: w.options.WalkSpeed, SetUp: w.options.SetUp, Good: goodWorth(w.in.Aim)}
	var holes []*lake.Hole
	for _, h := range w.in.Lake.HolesOn(w.day) {
		if h.Placed && !h.Drilled.After(w.in.Now) {
			c.Holes = append(c.Holes, plan.Hole{At: h.At, Open: w.open(h), Skim: w.idle(h) > plan.SkimFrom, Taken: w.rodsNear(h.At, 1) > 0})
			holes = append(holes, h)
		}
	}
	for _, r := range w.in.Rods {
		at, ok := w.rodAt(r)
		if !ok {
			continue
		}
		on := slices.IndexFunc(holes, func(h *lake.Hole) bool { return h.ID == r.Hole })
		c.Rods = append(c.Rods, plan.Rod{Number: r.Number, At: at, Hole: on, Fishing: true, Since: r.Since})
	}
	return c, holes
}

// goodWorth is what a good fish counts against another by the aim of the day.
func goodWorth(aim string) float64 {
	switch aim {
	case "size":
		return 6
	case "action", "first_fish":
		return 1
	}
	return 2
}

// vetting asks the vetoes and keeps their answers.
type vetting struct {
	*world
	hop     func(geo.Local, time.Time) safety.HopAnswer
	answers map[int64]safety.HopAnswer
	barred  []safety.HopAnswer
	late    int
	passed  int       // places that were let through
	left    int       // places left out for the sake of fish that go back
	spared  *Reason   // why a place was left out for the sake of fish that go back
	ruled   *RuledOut // the best that only the guide's ruling keeps out, when it comes before all that passed
}

func (v *vetting) allowed(c plan.Candidate) bool {
	done := v.in.Now.Add(time.Duration(c.Minutes * float64(time.Minute)))
	if !v.inTime(c.At, done) {
		v.late++
		return false
	}
	a := v.hop(c.At, done)
	if a.Barred && c.Open && c.WalkM < standing { // no step is taken
		a = safety.HopAnswer{Label: hereLabel, Nearest: a.Nearest}
	}
	if a.Barred {
		v.barred = append(v.barred, a)
		return false
	}
	if when, out := v.ruledOut(c.At); out {
		if v.passed == 0 && v.ruled == nil {
			v.ruled = &RuledOut{When: when, To: c.At, From: v.anchor(c.At), Odds: v.oddsOf(c.At, v.options.LookLength, OneHole)}
		}
		return false
	}
	if why, out := v.world.spared(c.At, v.holeAt(c.At)); out {
		v.spared, v.left = &why, v.left+1
		return false
	}
	v.answers[c.Key] = a
	v.passed++
	return true
}

// holeAt gives the hole of today that a place is, or nil.
func (w *world) holeAt(p geo.Local) *lake.Hole {
	for _, h := range w.in.Lake.HolesOn(w.day) {
		if h.Placed && h.At.Distance(p) < quantity.Length(standing) {
			return h
		}
	}
	return nil
}

// ruledOut tells whether the guide ruled a place out today, and when.
func (w *world) ruledOut(p geo.Local) (time.Time, bool) {
	for i := len(w.in.NotThere) - 1; i >= 0; i-- {
		n := w.in.NotThere[i]
		if !n.When.After(w.in.Now) && journal.DayOf(n.When, w.in.Lake.Zone) == w.day && float64(n.At.Distance(p)) < ruledReach {
			return n.When, true
		}
	}
	return time.Time{}, false
}

// nowhere is the step when no place passed the vetoes.
func (w *world) nowhere(v *vetting, s *Step) {
	if v.late > 0 && len(v.barred) == 0 {
		w.headIn(s)
		return
	}
	why := Reason{Code: "no_place", Weight: 1, Text: "no place near here may be advised"}
	if v.spared != nil {
		why = *v.spared
	} else if len(v.barred) > 0 && len(v.barred[0].Reasons) > 0 {
		r := v.barred[0].Reasons[0]
		why = Reason{Code: r.Code, Weight: 1, Text: r.Text}
		s.Ice = v.barred[0]
	}
	w.hold(s, why)
}

// take makes a candidate the step.
func (w *world) take(s *Step, c plan.Candidate, holes map[int64]*lake.Hole, v *vetting) {
	s.Do, s.To, s.Ice = Drill, c.At, v.answers[c.Key]
	s.Odds = w.odds(c.Odds)
	s.Cost = w.cost(c)
	s.Why = w.why(c.At, c.Odds)
	if r, ok := w.purpose(c); ok {
		s.Why = append([]Reason{r}, s.Why...)
		if c.For == plan.Search { // it only explains why the search stays close
			s.Why = append(s.Why[1:], r)
		}
	}
	if h := holes[c.Key]; c.Open && h != nil {
		s.Do, s.Hole = Look, h.ID
	}
	s.From = w.anchor(c.At)
}

// purpose tells what a hole is for when that is not plain search: it serves a school under the rods, follows a lost one,
// or searches close to one that feeds.
func (w *world) purpose(c plan.Candidate) (Reason, bool) {
	const (
		reach = 150.0           // m: a school farther off is not meant
		fresh = 3 * time.Minute // since the newest marks or fish
	)
	var at *plan.School
	for _, k := range w.filter.Schools() {
		d := k.At.Distance(c.At)
		if float64(d) <= reach && !k.LastSeen.IsZero() && (at == nil || d < at.At.Distance(c.At)) {
			at = &k
		}
	}
	if at == nil {
		return Reason{}, false
	}
	r := Reason{Code: string(c.For), Weight: 0.9, Age: w.in.Now.Sub(at.LastSeen)}
	for i := len(w.today) - 1; i >= 0; i-- { // where it was seen last
		if e := w.today[i]; lively(e) && e.hole != nil && !e.when.After(at.LastSeen) && float64(e.at.Distance(at.At)) <= reach {
			r.Holes = []uuid.UUID{e.hole.ID}
			break
		}
	}
	if c.For == plan.Search {
		r.Code, r.Weight = "beside", 0.05
		return r, r.Age <= fresh && len(r.Holes) > 0 && w.rodsNear(w.in.Lake.Hole(r.Holes[0]).At, sharers) > 0
	}
	r.Rate = at.Feeding
	return r, true
}

// stayHere turns the step into fishing where the scout stands, when nobody has a line out and a school was seen there
// minutes ago and confirmed.
func (w *world) stayHere(s *Step, from geo.Local) {
	const fresh = 5 * time.Minute
	if len(w.in.Rods) > 0 {
		return
	}
	for _, h := range w.in.Lake.HolesOn(w.day) {
		if !w.open(h) || h.At.Distance(from) > standing {
			continue
		}
		if _, out := w.spared(h.At, h); out {
			continue
		}
		for _, k := range w.filter.Schools() {
			age := w.in.Now.Sub(k.LastSeen)
			if !k.Sure || age >= fresh || k.At.Distance(h.At) >= 10 {
				continue
			}
			o := w.filter.Odds(h.At, w.options.LookLength)
			why := Reason{Code: "marks_here", Weight: 1, Age: age, Holes: []uuid.UUID{h.ID}, Text: "marks here, confirmed"}
			s.Do, s.To, s.Hole, s.From, s.Odds, s.TossUp = Stay, h.At, h.ID, w.anchor(h.At), w.odds(o), false
			s.Cost, s.Ice = Cost{Minutes: w.options.SetUp.Minutes()}, safety.HopAnswer{Label: hereLabel}
			s.Why = append([]Reason{why}, w.why(h.At, o)...)
			return
		}
	}
}

// hereLabel is said where no step over the ice is taken.
const hereLabel = "The hole you stand at."

func (w *world) cost(c plan.Candidate) Cost {
	out := Cost{Minutes: c.Minutes, Distance: lengthOf(c.WalkM)}
	if !c.Open {
		out.Holes, out.Ice = 1, w.ice()
	}
	return out
}

// odds dresses the filter's odds for an answer.
func (w *world) odds(o plan.Odds) Odds {
	return Odds{P: o.P, Low: o.Low, High: o.High, Event: marksEvent, Wait: w.options.LookLength, Word: word(o.P), Plan: OneHole}
}

// chain dresses the odds of marks in at least one of several holes.
func (w *world) chain(o plan.Odds, holes int) Odds {
	out := w.odds(o)
	out.Plan, out.Holes = Chain, holes
	return out
}

// word gives the word of a chance.
func word(p float64) string {
	switch {
	case p >= 0.5:
		return "likely"
	case p >= 0.2:
		return "fair"
	}
	return "long_shot"
}

// elsewhere is how far a place must lie from the step to be another place for a guide; our own choice.
const elsewhere = 60.0 // m

// other adds an alternative.
func (w *world) other(s *Step, c plan.Candidate, holes map[int64]*lake.Hole, v *vetting) {
	a := Alternative{Do: Drill, To: c.At, From: w.anchor(c.At), Odds: w.odds(c.Odds), Cost: w.cost(c), Why: w.why(c.At, c.Odds), Ice: v.answers[c.Key]}
	if h := holes[c.Key]; c.Open && h != nil {
		a.Do, a.Hole = Look, h.ID
	}
	s.Others = append(s.Others, a)
}

// farther adds what would be done if no school fed under the rods, when that keeps the scout so close that there is no
// alternative of another place. It is never called a toss-up: its worth is not of the same reckoning.
func (w *world) farther(ctx context.Context, q plan.Question, s *Step, holes map[int64]*lake.Hole, v *vetting) error {
	if len(s.Others) >= 2 || len(q.Rods) == 0 {
		return nil
	}
	bars := v.allowed
	q.Rods, q.Wanted = nil, 1
	q.Allowed = func(c plan.Candidate) bool {
		far := float64(c.At.Distance(s.To)) >= elsewhere
		for _, o := range s.Others {
			far = far && float64(c.At.Distance(o.To)) >= elsewhere
		}
		return far && bars(c)
	}
	best, _, err := w.filter.Choose(ctx, q)
	if err != nil {
		return err
	}
	if len(best) > 0 {
		w.other(s, best[0], holes, v)
	}
	return nil
}

// alternatives adds at most two other steps, the first of another kind where there is one.
func (w *world) alternatives(s *Step, best []plan.Candidate, holes map[int64]*lake.Hole, v *vetting) {
	first := best[0]
	other := func(c plan.Candidate, kind bool) bool {
		far := float64(c.At.Distance(first.At)) >= elsewhere
		for _, o := range s.Others {
			far = far && float64(c.At.Distance(o.To)) >= elsewhere
		}
		return c.Open != first.Open && kind && c.At != first.At || !kind && far
	}
	for _, kind := range []bool{true, false, false} {
		for _, c := range best[1:] {
			if len(s.Others) < 2 && other(c, kind) {
				w.other(s, c, holes, v)
				if len(s.Others) == 1 && s.Do != Stay && first.For == plan.Search && c.For == plan.Search { // else the scores are not of one reckoning
					s.TossUp = c.Score >= first.Score*(1-tossUp)
				}
				break
			}
		}
	}
}

// bringOver turns the step into a move of the party when most rods should go to one place and the scout stands there.
func (w *world) bringOver(s *Step, from geo.Local) {
	to := map[uuid.UUID]int{}
	for _, r := range s.Rods {
		if r.Do == Move {
			to[r.To]++
		}
	}
	for _, r := range s.Rods {
		h := w.in.Lake.Hole(r.To)
		if r.Do != Move || 2*to[r.To] <= len(s.Rods) || h == nil || h.At.Distance(from) > 30 {
			continue
		}
		o := w.odds(w.filter.Odds(h.At, w.options.LookLength))
		s.Do, s.To, s.Hole, s.From, s.Odds, s.Why = Move, h.At, h.ID, w.anchor(h.At), o, r.Why
		s.Cost = Cost{Minutes: w.options.SetUp.Minutes()}
		s.TossUp = r.TossUp
		return
	}
}
