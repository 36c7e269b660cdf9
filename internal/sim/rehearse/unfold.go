package rehearse

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// Every is how far apart the frames of a shown day lie unless told otherwise.
const Every = 5 * time.Minute

// StartsAt is when the day on the ice begins, since midnight.
const StartsAt = 7*time.Hour + 30*time.Minute

// Watchable lists the ways that a party can walk and that one day tells apart.
func Watchable() []string {
	return slices.DeleteFunc(singleDay(), func(name string) bool { return find(name).make == nil })
}

// Watch says which day is to be shown, and by which ways.
type Watch struct {
	Family string
	Stage  Stage
	Seed   uint64
	Rods   int     // 0: 4
	Aim    way.Aim // "": numbers
	Ways   []string
	Every  time.Duration // between frames; 0: Every

	// Progress, when not nil, is told how many minutes are walked of how many.
	Progress func(done, of int)
}

// Unfolded is one day as each way walked it, to be watched. The lake, its fish and the guests' hands are the same for all.
type Unfolded struct {
	Chart    *ground.Surface // depth as the guide's chart has it
	Landing  geo.Local
	Crowds   []way.Crowd
	Low      quantity.Length // the band of depth that guides search
	High     quantity.Length
	Compared []Walked
}

// Walked is the day of one way.
type Walked struct {
	Way     string
	Outcome Outcome
	Holes   []WalkedHole
	Frames  []Frame
}

// WalkedHole is a hole of the day with what it gave, whenever that was.
type WalkedHole struct {
	At      geo.Local
	Drilled time.Duration
	Marks   time.Duration   // when marks first showed; the day's length when never
	Fish    []time.Duration // when fish were landed
}

// Frame is one moment. It is kept small: a day has hundreds of schools and a hundred frames.
type Frame struct {
	At      time.Duration
	Scout   geo.Local
	Guests  []Seat
	Holes   int      // drilled so far
	Schools []School // the truth, which no way saw
}

// Seat is where a guest is.
type Seat struct {
	At      geo.Local
	Fishing bool
	Fish    int // so far
}

// School is a school in a picture, to the metre.
type School struct {
	EastM, NorthM int16
	RadiusM       uint8
	Feeding       bool
}

// Unfold walks each way through the same day and keeps a frame every so often, with the truth under the ice.
func Unfold(ctx context.Context, w Watch) (*Unfolded, error) {
	o := Options{Days: 1, Seed: w.Seed, Families: []string{w.Family}, Ways: w.Ways, Rods: w.Rods, Aim: w.Aim}
	if len(w.Ways) == 0 {
		return nil, fault.New(fault.BadInput, fmt.Sprintf("Ways are %v.", Watchable()), "no way of searching is named")
	}
	if err := o.settle(); err != nil {
		return nil, err
	}
	for _, name := range w.Ways {
		if !slices.Contains(Watchable(), name) {
			return nil, fault.New(fault.BadInput, fmt.Sprintf("Choose of %v.", Watchable()), "one day cannot show the way %q", name)
		}
	}
	if w.Every <= 0 {
		w.Every = Every
	}
	f, _ := world.FamilyByName(w.Family)
	d := world.NewLake(f, w.Seed, 0).Day(w.Stage.Season, 0)
	brief := Brief(d, o.Rods, o.Aim, w.Seed*1000, 0) // as Run briefs the first day of a seed
	depths := newSurfaces()
	chart, err := depths.of(w.Family, w.Seed, brief)
	if err != nil {
		return nil, fmt.Errorf("rehearse: charting %s lake %d: %w", w.Family, w.Seed, err)
	}
	out := &Unfolded{Chart: chart, Landing: brief.Landing, Crowds: brief.Crowds, Low: brief.Low, High: brief.High}
	for i, name := range w.Ways {
		run := d.Run()
		r := &recorder{ctx: ctx, every: w.Every, run: run, Way: find(name).make(setting{d, run, depths, o.Budget})}
		if w.Progress != nil {
			r.progress = func(minute int) { w.Progress(i*minutesOf(world.Length)+minute, len(w.Ways)*minutesOf(world.Length)) }
		}
		x, err := r.walk(d, brief)
		if err != nil {
			return nil, fmt.Errorf("rehearse: way %s on %s lake %d: %w", name, w.Family, w.Seed, err)
		}
		x.Way = name
		out.Compared = append(out.Compared, *x)
	}
	return out, nil
}

func minutesOf(t time.Duration) int { return int(t / time.Minute) }

// recorder stands between a party and its way, and keeps what passes.
type recorder struct {
	way.Way

	ctx      context.Context
	every    time.Duration
	run      *world.Run
	progress func(minute int)

	next  time.Duration // of the next frame
	towed time.Duration // when the party has reached its first place
	out   Walked
	marks map[int]time.Duration
	fish  map[int][]time.Duration
}

func (r *recorder) Looked(l way.Look) {
	if _, had := r.marks[l.Hole]; l.Count > 0 && !had {
		r.marks[l.Hole] = l.From + l.Length
	}
	r.Way.Looked(l)
}

func (r *recorder) Caught(c way.Catch) {
	if c.Landed {
		r.fish[c.Hole] = append(r.fish[c.Hole], c.When)
	}
	r.Way.Caught(c)
}

// walk lets the day pass. Keeping frames changes nothing of it.
func (r *recorder) walk(d *world.Day, b way.Briefing) (*Walked, error) {
	r.marks, r.fish = map[int]time.Duration{}, map[int][]time.Duration{}
	p := newParty(d, r.run, r, b)
	r.towed = p.scout.free
	p.watch = r.keep
	p.pass()
	if f, ok := r.Way.(interface{ Err() error }); ok && p.err == nil {
		p.err = f.Err()
	}
	if p.err != nil {
		return nil, p.err
	}
	r.keep(b.Length, p)
	r.out.Outcome = p.out
	for i, h := range p.view.Holes {
		x := WalkedHole{At: h.At, Drilled: h.Drilled, Marks: b.Length, Fish: r.fish[i]}
		if t, ok := r.marks[i]; ok {
			x.Marks = t
		}
		r.out.Holes = append(r.out.Holes, x)
	}
	return &r.out, p.err
}

// keep makes the frames that are due. The party is as it was left by what happened last, so that it may be asked about
// any time since.
func (r *recorder) keep(t time.Duration, p *party) {
	if err := r.ctx.Err(); err != nil {
		p.err = err
		return
	}
	for ; r.next <= t; r.next += r.every {
		f := Frame{At: r.next, Scout: r.under(r.next, p, p.scout.at), Holes: len(p.view.Holes)}
		for i, g := range p.view.Guests {
			s := Seat{At: r.under(r.next, p, g.At), Fishing: g.Fishing, Fish: p.out.PerGuest[i]}
			if g.Hole >= 0 && !g.Fishing {
				to := p.view.Holes[g.Hole].At
				s.At = between(g.At, to, float64(r.next-p.guests[i].from)/float64(walkTime(g.At, to)+1))
			}
			f.Guests = append(f.Guests, s)
		}
		schools := r.run.Schools(r.next)
		f.Schools = make([]School, 0, len(schools))
		for _, s := range schools {
			f.Schools = append(f.Schools, School{int16(math.Round(s.At.E)), int16(math.Round(s.At.N)), uint8(math.Round(min(s.RadiusM, 255))), s.Feeding})
		}
		r.out.Frames = append(r.out.Frames, f)
		if r.progress != nil {
			r.progress(minutesOf(r.next))
		}
	}
}

// under gives the place of somebody who may still be under tow from the landing.
func (r *recorder) under(t time.Duration, p *party, at geo.Local) geo.Local {
	if t >= r.towed {
		return at
	}
	return between(p.b.Landing, at, float64(t)/float64(r.towed))
}

// between gives the place that a share of the way leads to.
func between(a, b geo.Local, share float64) geo.Local {
	u := num.Clamp(share, 0, 1)
	return geo.Local{E: a.E + u*(b.E-a.E), N: a.N + u*(b.N-a.N)}
}
