package rehearse

import (
	"fmt"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// What things take. The drilling and walking times are common practice, no source; the others our own assumption.
const (
	walk          = 1.0 * quantity.MetrePerSecond // on wind-packed snow with a sled
	tow           = 5.0 * quantity.MetrePerSecond // behind a machine, from the landing to the first hole
	drillStart    = 20 * time.Second
	drillPerMetre = 55 * time.Second
	setUp         = 60 * time.Second // of a rod at a hole
	skim          = 45 * time.Second // a crusted hole
	pause         = 30 * time.Second
)

// Spent is how a party's rod time passed. It adds up to rods x day.
type Spent struct {
	Travel  time.Duration `json:"travel"` // walking and setting up
	Off     time.Duration `json:"off_fish"`
	Resting time.Duration `json:"over_resting"` // over fish that do not feed
	Feeding time.Duration `json:"over_feeding"`
	Idle    time.Duration `json:"idle"` // no hole to go to
}

// Total gives all rod time.
func (s Spent) Total() time.Duration { return s.Travel + s.Off + s.Resting + s.Feeding + s.Idle }

// Outcome is one way's day.
type Outcome struct {
	Fish, Good  int
	PerGuest    []int
	FirstFish   []time.Duration // by guest; the day's length when none
	FirstSchool time.Duration   // first time anybody's sonar stood over a school
	Holes       int
	Schools     int // different schools that gave a fish
	Spent       Spent
	ScoutIdle   time.Duration
	Work        Work
	Forecasts   []Forecast `json:",omitempty"` // of a way that tells odds
	Ground      float64    `json:",omitempty"` // worth of the holes' ground over the lake's mean; of the lock-in test only
}

// worker is the scout or a guest, and what he is busy with.
type worker struct {
	at    geo.Local
	free  time.Duration
	order way.Order
	from  time.Duration // the present piece of work began
	done  func()        // what happens when it ends
}

// party walks a way through a day.
type party struct {
	b       way.Briefing
	run     *world.Run
	day     *world.Day
	way     way.Way
	view    way.View
	scout   worker
	guests  []worker
	skill   []float64
	crossed []time.Duration // time spent on the present walk, by guest, charged when it ends
	out     Outcome
	tally   tally
	watch   func(t time.Duration, p *party) // nil but for a day that is shown
	err     error
}

// Walk takes a party by a way through a day. An order that cannot be carried out is the way's fault and an error.
func Walk(d *world.Day, run *world.Run, w way.Way, b way.Briefing) (Outcome, error) {
	p := newParty(d, run, w, b)
	err := p.through()
	return p.out, err
}

// through lets the day pass and hears what the way has to say of it.
func (p *party) through() error {
	p.pass()
	if f, ok := p.way.(interface{ Err() error }); ok && p.err == nil {
		p.err = f.Err()
	}
	if f, ok := p.way.(forecaster); ok {
		p.out.Forecasts = f.Forecasts()
	}
	return p.err
}

func newParty(d *world.Day, run *world.Run, w way.Way, b way.Briefing) *party {
	p := &party{b: b, run: run, day: d, way: w, tally: newTally()}
	p.out.PerGuest = make([]int, b.Rods)
	p.out.FirstSchool = b.Length
	start := w.Begin(b)
	if !b.Inside(start) {
		p.err = fmt.Errorf("rehearse: starting: %v lies outside the working area", start)
		return p
	}
	towed := time.Duration(float64(b.Landing.Distance(start)) / float64(tow) * float64(time.Second))
	towed = min(towed, b.Length)
	p.view.Scout = start
	p.scout = worker{at: start, free: towed}
	for rod := range b.Rods {
		p.guests = append(p.guests, worker{at: start, free: towed})
		p.view.Guests = append(p.view.Guests, way.Guest{At: start, Hole: -1})
		p.skill = append(p.skill, d.Skill(rod))
		p.out.FirstFish = append(p.out.FirstFish, b.Length)
		p.out.Spent.Travel += towed
	}
	return p
}

// pass lets the day pass: whoever is free first finishes what he did and is asked what he does next.
func (p *party) pass() {
	for p.err == nil {
		next, rod := &p.scout, way.Scout
		for i := range p.guests {
			if p.guests[i].free < next.free {
				next, rod = &p.guests[i], i
			}
		}
		if next.free >= p.b.Length {
			break
		}
		p.view.Now = next.free
		if p.watch != nil {
			p.watch(p.view.Now, p)
		}
		if next.done != nil {
			done := next.done
			next.done = nil
			done()
			if next.done != nil {
				continue // one piece of work led to another: the look after the drilling
			}
		}
		if rod == way.Scout {
			p.sendScout()
		} else {
			p.sendGuest(rod)
		}
	}
	p.out.Holes, p.out.Schools = len(p.view.Holes), p.run.Gave
	p.out.Work = p.tally.sum()
	p.way.End()
}

func (p *party) fail(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf("rehearse: "+format, args...)
	}
}

// busy sets a piece of work and gives the part of it that falls within the day.
func (p *party) busy(w *worker, lasts time.Duration, done func()) time.Duration {
	w.from, w.done = p.view.Now, done
	w.free = p.view.Now + lasts
	return min(lasts, p.b.Length-p.view.Now)
}

func walkTime(a, b geo.Local) time.Duration {
	return time.Duration(float64(a.Distance(b)) / float64(walk) * float64(time.Second))
}

func (p *party) sendScout() {
	o := p.way.Scout(&p.view)
	switch o.Do {
	case way.Wait:
		p.out.ScoutIdle += p.busy(&p.scout, pause, nil)
	case way.Drill:
		if !p.b.Inside(o.At) {
			p.fail("drilling: %v lies outside the working area", o.At)
			return
		}
		drill := drillStart + time.Duration(float64(drillPerMetre)*float64(p.b.Ice))
		p.busy(&p.scout, walkTime(p.scout.at, o.At)+drill, func() {
			p.scout.at, p.view.Scout = o.At, o.At
			p.view.Holes = append(p.view.Holes, way.Hole{At: o.At, Depth: p.day.Lake.Depth(o.At), Drilled: p.view.Now, Used: p.view.Now, Rod: way.Scout})
			p.look(len(p.view.Holes)-1, o.Look)
		})
	case way.Visit:
		if o.Hole < 0 || o.Hole >= len(p.view.Holes) || p.view.Shut(o.Hole) {
			p.fail("visiting: hole %d is not open", o.Hole)
			return
		}
		lasts := walkTime(p.scout.at, p.view.Holes[o.Hole].At) + p.skimming(o.Hole)
		p.busy(&p.scout, lasts, func() {
			p.scout.at = p.view.Holes[o.Hole].At
			p.view.Scout = p.scout.at
			p.view.Holes[o.Hole].Used = p.view.Now
			p.look(o.Hole, o.Look)
		})
	default:
		p.fail("asking the scout: order %d is not his", o.Do)
	}
}

// look lets the scout look into the hole that he stands at.
func (p *party) look(hole int, length time.Duration) {
	if length <= 0 {
		return
	}
	at := p.view.Holes[hole].At
	from := p.view.Now
	echo := p.run.Look(at, from, length, way.Scout)
	p.tally.looked(from, way.Scout, p.run.Seen)
	p.scout.free = from + length
	p.scout.done = func() {
		if echo.Count > 0 {
			p.out.FirstSchool = min(p.out.FirstSchool, from)
		}
		p.way.Looked(way.Look{By: way.Scout, Hole: hole, At: at, From: from, Length: length, Count: echo.Count, Moving: echo.Moving})
	}
}

func (p *party) skimming(hole int) time.Duration {
	if p.view.Now-p.view.Holes[hole].Used > way.Crust {
		return skim
	}
	return 0
}

func (p *party) sendGuest(rod int) {
	w, g := &p.guests[rod], &p.view.Guests[rod]
	o := p.way.Guest(&p.view, rod)
	switch {
	case o.Do == way.Stay && g.Fishing:
		p.fish(rod)
	case o.Do == way.Wait && !g.Fishing:
		p.out.Spent.Idle += p.busy(w, pause, nil)
	case o.Do == way.Move:
		p.move(rod, o.Hole)
	default:
		p.fail("asking guest %d: order %d fits nothing he can do", rod, o.Do)
	}
}

// move sends a guest to a hole. Every metre is walked.
func (p *party) move(rod, hole int) {
	if hole < 0 || hole >= len(p.view.Holes) || p.view.Shut(hole) || p.view.Holes[hole].Rod != way.Scout {
		p.fail("moving guest %d: hole %d is not free", rod, hole)
		return
	}
	w, g := &p.guests[rod], &p.view.Guests[rod]
	if g.Hole >= 0 {
		p.view.Holes[g.Hole].Rod = way.Scout
		p.view.Holes[g.Hole].Used = p.view.Now
	}
	h := &p.view.Holes[hole]
	lasts := walkTime(w.at, h.At) + setUp + p.skimming(hole)
	h.Rod, g.Hole, g.Fishing = rod, hole, false
	p.out.Spent.Travel += p.busy(w, lasts, func() {
		w.at, g.At = p.view.Holes[hole].At, p.view.Holes[hole].At
		g.Fishing, g.Since = true, p.view.Now
		p.view.Holes[hole].Used = p.view.Now
	})
}

// fish lets a guest fish for half a minute.
func (p *party) fish(rod int) {
	w, g := &p.guests[rod], &p.view.Guests[rod]
	hole, at, from := g.Hole, w.at, p.view.Now
	lasts := min(way.Step, p.b.Length-from)
	echo := p.run.Look(at, from, lasts, rod)
	p.tally.looked(from, rod, p.run.Seen)
	bites, over := p.run.Fish(at, from, lasts, rod, p.skill[rod])
	p.tally.fished(from, p.run.Fished, bites)
	switch over {
	case world.Feeding:
		p.out.Spent.Feeding += lasts
	case world.NotFeeding:
		p.out.Spent.Resting += lasts
	default:
		p.out.Spent.Off += lasts
	}
	if over != world.Nothing {
		p.out.FirstSchool = min(p.out.FirstSchool, from)
	}
	for _, b := range bites {
		if b.Landed {
			p.out.Fish++
			p.out.PerGuest[rod]++
			p.out.FirstFish[rod] = min(p.out.FirstFish[rod], from)
			if b.Good {
				p.out.Good++
			}
		}
	}
	p.busy(w, way.Step, func() {
		p.view.Holes[hole].Used = p.view.Now
		g.Fish = p.out.PerGuest[rod]
		p.way.Looked(way.Look{By: rod, Hole: hole, At: at, From: from, Length: lasts, Count: echo.Count, Moving: echo.Moving})
		for _, b := range bites {
			p.way.Caught(way.Catch{Rod: rod, Hole: hole, At: at, When: p.view.Now, Landed: b.Landed, Good: b.Good})
		}
	})
}
