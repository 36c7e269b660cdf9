// Package icetwin answers how well the ice of a zone is known between visits: it makes up winters with a known truth,
// drills it with the errors that holes have, and compares what [icehand/internal/engine/icecover] says with it, beside a
// refitted degree-day law and the weather alone.
//
// Start with [Run]. It is a twin experiment: truth comes from the same kind of model, so the errors are smaller than on
// a real lake; [Options.Foreign] makes a truth that the model cannot quite follow. The weather is known as it was: there
// is no forecast error in the figures. Every number of the weather is invented.
// Model note: docs/models/icecover.md.
package icetwin

import (
	"context"
	"fmt"
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Options says what to try.
type Options struct {
	Seasons   int // 0 for 60
	Members   int // 0 for 100
	Seed      uint64
	TotalOnly bool // holes tell the total and nothing else
	Foreign   bool // truth runs in 6-hour steps with a daily swing, packs slush as it likes and has two layers of doubt more
	HolesLast int  // day of the winter after which nobody drills; 0 for the whole winter
}

// Score is how a method did, over all days asked.
type Score struct {
	RMSE    quantity.Length // of total thickness
	Covered float64         // share of days on which the 90 % band held the true total
	Above   float64         // share on which the true total was at or above the 5 % quantile
	Worth   float64         // the same for effective thickness
	White   quantity.Length // root mean square error of the white part
	Days    int
}

// Result compares the methods seven days after a visit, before the next.
type Result struct {
	Growth Part          // up to the day of the thickest true ice
	Decay  Part          // after it
	Ageing map[int]Score // by days since the last holes, when HolesLast is told
}

// Part is the comparison over a part of the winters.
type Part struct {
	Filter, Weather Score           // with holes, and from weather alone
	Stefan          quantity.Length // RMSE of the square-root law, its coefficient refitted at every visit
}

// What the method is held to, seven days after a visit.
const (
	mostOfStefan   = 0.60 // of the RMSE of the refitted square-root law
	leastCovered   = 0.82 // by the band that should hold 0.90
	mostCovered    = 0.97
	leastAboveLow  = 0.90 // of the truths at or above the 5 % quantile
	leastWorthHeld = 0.90 // the same for effective thickness and the figure for decisions
)

// Figure is one figure of a part of the winters beside what the method is held to.
type Figure struct {
	What string  `json:"what"`
	Got  float64 `json:"got"`
	From float64 `json:"from"` // the figure must lie within From and Upto
	Upto float64 `json:"upto"`
	Met  bool    `json:"met"`
}

// Figures lists what the method is held to, seven days after a visit.
func (p Part) Figures() []Figure {
	f := p.Filter
	of := func(what string, got, from, upto float64) Figure {
		return Figure{what, got, from, upto, got >= from && got <= upto}
	}
	return []Figure{
		of("RMSE of the total over that of the refitted law", f.RMSE.Metres()/p.Stefan.Metres(), 0, mostOfStefan),
		of("90 % band held the true total", f.Covered, leastCovered, mostCovered),
		of("true total at or above the 5 % quantile", f.Above, leastAboveLow, 1),
		of("true effective thickness at or above the figure for decisions", f.Worth, leastWorthHeld, 1),
	}
}

// Shortfalls lists in words what a part of the winters misses of what the method is held to; nothing when all is met.
func (p Part) Shortfalls() []string {
	if p.Filter.Days == 0 {
		return []string{"no day was compared"}
	}
	var out []string
	for _, f := range p.Figures() {
		if !f.Met {
			out = append(out, fmt.Sprintf("%s: %.3f is not within %.2f to %.2f", f.What, f.Got, f.From, f.Upto))
		}
	}
	return out
}

// The made-up winters.
const (
	winterDays  = 150
	usualVisits = 7  // days from visit to visit
	holes       = 3  // of a visit, far enough apart to count one by one
	leadDays    = 10 // of weather before the believed freeze-up
	placeError  = 0.020
	readError   = 0.007
	whiteError  = 0.015
	snowError   = 0.025
	waterError  = 0.007
)

// firstDrilled is the true thickness from which anybody drills.
const firstDrilled = 10 * quantity.Centimetre

const oneDay = 24 * time.Hour

// began is the first day of weather; the year is of no matter.
var began = time.Date(2025, 11, 20, 0, 0, 0, 0, time.UTC)

// Run tries the methods on made-up winters, until the context ends.
func Run(ctx context.Context, o Options) (Result, error) {
	if o.Seasons == 0 {
		o.Seasons = 60
	}
	t := tallies{ageing: map[int]*tally{}}
	for k := range uint64(o.Seasons) {
		if err := ctx.Err(); err != nil {
			return Result{}, err
		}
		if err := newSeason(o, k).play(o, &t); err != nil {
			return Result{}, fmt.Errorf("icetwin: season %d: %w", k, err)
		}
	}
	r := Result{Growth: t.growth.score(), Decay: t.decay.score(), Ageing: map[int]Score{}}
	for d, a := range t.ageing {
		r.Ageing[d] = a.score()
	}
	return r, nil
}

// TimeSeason tells how long one winter with a visit a week takes through [icecover.Run], by a clock that is handed in.
func TimeSeason(ctx context.Context, members int, seed uint64, clock func() time.Time) (time.Duration, error) {
	s := newSeason(Options{Seed: seed}, 0)
	var readings []*lake.IceReading
	for d := leadDays; d < winterDays; d += usualVisits {
		if s.truth[d].Total() >= firstDrilled {
			readings = append(readings, s.drill(Options{}, d)...)
		}
	}
	o := icecover.Options{FreezeUp: began.AddDate(0, 0, leadDays), Start: began, Members: members, Seed: seed}
	from := clock()
	_, lessons, err := icecover.Run(ctx, o, s.weather, readings)
	if err == nil && len(lessons) != len(readings) {
		err = fmt.Errorf("icetwin: timing a season: %d lessons of %d holes", len(lessons), len(readings))
	}
	return clock().Sub(from), err
}

// tallies sums up all winters.
type tallies struct {
	growth, decay part
	ageing        map[int]*tally
}

type part struct{ filter, alone, stefan tally }

func (p *part) score() Part {
	return Part{Filter: p.filter.score(), Weather: p.alone.score(), Stefan: p.stefan.score().RMSE}
}

// season is one winter: weather day by day, and the truth at the start of each day.
type season struct {
	noise   num.Noise
	key     uint64
	weather []ice.Weather
	truth   []ice.Column
	peak    int // day of the thickest ice
}

// draw gives the season's standard normal number at an address. Kinds keep the uses apart.
func (s *season) draw(kind, i int) float64 { return s.noise.Normal(s.key, uint64(kind)<<32|uint64(i)) }

func (s *season) chance(kind, i int) float64 {
	return s.noise.Uniform(s.key, uint64(kind)<<32|uint64(i))
}

// The kinds of draw.
const (
	ofAir = iota
	ofSnow
	ofSnowfall
	ofTruth
	ofHole
	ofSwing
)

func newSeason(o Options, key uint64) *season {
	s := &season{noise: num.NewNoise(o.Seed, "icetwin"), key: key}
	winter, spell := 2*s.draw(ofAir, 1<<20), 0.0 // a mild or a hard winter, and the weather of the week
	for d := range winterDays {
		spell = 0.75*spell + 3.3*s.draw(ofAir, d)
		// (TWIN-1)
		T := -9 + 8*math.Cos(2*math.Pi*float64(d)/winterDays) + winter + spell
		w := ice.Weather{Air: quantity.Celsius(T), Span: oneDay}
		if s.chance(ofSnow, d) < 0.3 {
			// (TWIN-2)
			w.Snowfall = quantity.SurfaceDensity(-4 * num.Log(s.chance(ofSnowfall, d)))
		}
		s.weather = append(s.weather, w)
	}
	s.grow(o)
	return s
}

// grow lets the true ice come, by six numbers drawn as the engine believes they lie.
func (s *season) grow(o Options) {
	z := func(i int) float64 { return s.draw(ofTruth, i) }
	site := ice.Site{
		Air: quantity.HeatTransfer(20 * num.Exp(0.3*z(0))), Catch: 0.7 * num.Exp(0.5*z(1)), Conduct: 1.3 * num.Exp(0.35*z(2)),
		Water: quantity.Irradiance(num.Exp(0.7 * z(3))), Warmer: quantity.CelsiusDelta(z(4)),
	}
	if o.Foreign {
		site.Packing = 1 + s.chance(ofTruth, 7)
	}
	freezeUp := leadDays + 2*z(5)
	var c ice.Column
	for d, w := range s.weather {
		s.truth = append(s.truth, c)
		if c.Total() > s.truth[s.peak].Total() {
			s.peak = d
		}
		const quarters = 4
		for q := range quarters {
			part := w
			part.Span, part.Snowfall = w.Span/quarters, w.Snowfall/quarters
			if o.Foreign {
				part.Air += quantity.Celsius(4 * math.Sin(2*math.Pi*(float64(q)+0.5)/quarters))
				site.Warmer = quantity.CelsiusDelta(z(4) + 1.5*s.draw(ofSwing, d)) // and an error of the day
			}
			if float64(d)+float64(q)/quarters >= freezeUp {
				c = c.Step(part, site)
			}
		}
	}
}

// drill gives the holes of a day, a kilometre apart.
func (s *season) drill(o Options, d int) []*lake.IceReading {
	c := s.truth[d]
	var out []*lake.IceReading
	for k := range holes {
		n := func(i int) float64 { return s.draw(ofHole, (d*holes+k)*8+i) }
		at := func(x quantity.Length, sd float64, i int) quantity.Length { return x + quantity.Length(sd*n(i)) }
		total := at(c.Total(), placeError, 0) + quantity.Length(readError*n(1))
		r := &lake.IceReading{
			When: began.AddDate(0, 0, d), Day: journal.DayOf(began.AddDate(0, 0, d), time.UTC), Placed: true, At: geo.Local{E: 1000 * float64(k)},
			Total: max(quantity.Centimetre, total),
		}
		if !o.TotalOnly {
			r.White, r.WhiteTold = min(r.Total, max(0, at(c.White, whiteError, 2))), true
			r.Snow, r.SnowTold = max(0, at(c.SnowDepth(), snowError, 3)), true
			r.Water, r.WaterTold = at(c.WaterBelowTop(), waterError, 4), true
			r.Slush, r.Layered = c.Slush > quantity.Centimetre, c.Lid > quantity.Centimetre && c.Slush > quantity.Centimetre
			if r.Layered {
				r.Total += c.Slush
				r.Solid, r.SolidTold = max(c.Lid, c.Total()-c.Lid), true
			}
		}
		out = append(out, r)
	}
	return out
}

// play runs one winter through all methods. A week after a visit each says how thick the ice is; then comes the next.
func (s *season) play(o Options, t *tallies) error {
	start := icecover.Options{FreezeUp: began.AddDate(0, 0, leadDays), Start: began, Members: o.Members, Seed: o.Seed + 1000*s.key}
	known, blind := icecover.New(start), icecover.New(start)
	last, alpha, frost := -1, 0.0, 0.0
	for d, w := range s.weather {
		truth := s.truth[d]
		if truth.Total() == 0 && last >= 0 { // the winter is over
			break
		}
		due := last >= 0 && d-last == usualVisits
		if due {
			p := &t.growth
			if d > s.peak {
				p = &t.decay
			}
			p.filter.compare(known.Estimate(), truth)
			p.alone.compare(blind.Estimate(), truth)
			p.stefan.add(alpha*math.Sqrt(frost), truth)
		}
		mayDrill := truth.Total() >= firstDrilled && frost > 0 && (o.HolesLast == 0 || d <= o.HolesLast)
		if mayDrill && (last < 0 || due || d == o.HolesLast) {
			rs := s.drill(o, d)
			known.Learn(rs)
			// (TWIN-3)
			alpha = meanTotal(rs) / math.Sqrt(frost)
			last = d
		}
		if o.HolesLast > 0 && last >= 0 && d >= o.HolesLast {
			if t.ageing[d-last] == nil {
				t.ageing[d-last] = &tally{}
			}
			t.ageing[d-last].compare(known.Estimate(), truth)
		}
		if err := known.Advance(w); err != nil {
			return err
		}
		if err := blind.Advance(w); err != nil {
			return err
		}
		if d >= leadDays {
			frost = math.Max(0, frost-w.Air.Degrees())
		}
	}
	return nil
}

func meanTotal(rs []*lake.IceReading) float64 {
	sum := 0.0
	for _, r := range rs {
		sum += r.Total.Metres()
	}
	return sum / float64(len(rs))
}

// tally sums up comparisons.
type tally struct {
	days, covered, above, worth int
	squares, whites             float64
}

func (t *tally) add(totalM float64, truth ice.Column) {
	e := totalM - truth.Total().Metres()
	t.squares += e * e
	t.days++
}

func (t *tally) compare(e icecover.Estimate, truth ice.Column) {
	t.add(e.Total.Middle.Metres(), truth)
	white := (e.White.Middle - truth.White).Metres()
	t.whites += white * white
	h := truth.Total()
	if h >= e.Total.Low {
		t.above++
		if h <= e.Total.High {
			t.covered++
		}
	}
	if truth.Worth().Thickness >= e.Deciding {
		t.worth++
	}
}

func (t *tally) score() Score {
	n := float64(t.days)
	if n == 0 {
		return Score{}
	}
	return Score{
		RMSE: quantity.Length(math.Sqrt(t.squares / n)), White: quantity.Length(math.Sqrt(t.whites / n)), Days: t.days,
		Covered: float64(t.covered) / n, Above: float64(t.above) / n, Worth: float64(t.worth) / n,
	}
}
