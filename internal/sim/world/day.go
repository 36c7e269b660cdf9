package world

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Day is one day under the ice as it would pass if nobody fished. It never changes, so that several runs may share it.
type Day struct {
	Lake   *Lake
	Season Season

	seed      uint64
	depthM    float64                  // where fish mostly stand today
	hunger    float64                  // of the day as a whole
	worth     []float64                // of the lake's places today
	cumulated []float64                // the same, cumulated
	grub      []float64                // food on the depth grid, where the family lives by it
	windows   [parts][minutes + 1]int8 // length of the feeding window that begins at a minute in a part of the lake
	crowds    []Crowd
	start     geo.Local

	dawn []school // as they are at the start
	n    int
	xs   []float32 // place of school i at minute m: [m*n+i]
	ys   []float32
	does []phase

	index     index   // of the places
	farthestM float64 // beyond what any school's long semi-axis and a sonar's or lure's reach come to
}

// Crowd is a group of other parties that everybody sees.
type Crowd struct {
	At     geo.Local
	Radius quantity.Length
}

// Day makes a day. date tells days on one lake apart; days that follow one another are alike in what places are worth.
func (l *Lake) Day(season Season, date uint64) *Day {
	d := &Day{Lake: l, Season: season}
	seed := seeded(l.Seed, 3, date)
	d.seed = seed.next()
	today := seeded(d.seed, 4)
	d.depthM = season.of(l.Family.depthM) + l.depthOff + 0.4*today.normal()
	d.hunger = math.Exp(0.35*today.normal() - 0.06)
	sum := 0.0
	for i, p := range l.places {
		off := (at(l.depth, p.x, p.y) - d.depthM) / 3
		// (REHEARSE-2) today's worth: its mood, and how far it is from today's depth
		w := p.worth * math.Exp(0.45*l.mood(i, date)-off*off/2)
		sum += w
		d.worth, d.cumulated = append(d.worth, w), append(d.cumulated, sum)
	}
	d.layFood()
	d.openWindows(&today)
	d.putCrowds(&today)
	d.start = d.usualStart(&today)
	d.putSchools(&today)
	d.swimAll()
	return d
}

// mood is what today adds to a place's worth, standard normal; half of it is left the day after.
func (l *Lake) mood(place int, date uint64) float64 {
	sum := 0.0
	for k := range uint64(5) {
		e := seeded(l.Seed, 5, uint64(place), date+8-k)
		sum += math.Pow(0.5, float64(k)) * e.normal()
	}
	return sum * math.Sqrt(1-0.25)
}

// layFood spreads the worth of the stations over the grid, for the family that swims until it meets food.
func (d *Day) layFood() {
	if _, ok := d.Lake.Family.habits.(contour); !ok {
		return
	}
	d.grub = make([]float64, gridCols*gridRows)
	for i, p := range d.Lake.places {
		reach := 2.5 * p.long
		for j := max(0, int((p.y-reach)/gridM)); j < gridRows && float64(j)*gridM <= p.y+reach; j++ {
			for k := max(0, int((p.x-reach)/gridM)); k < gridCols && float64(k)*gridM <= p.x+reach; k++ {
				dx, dy := float64(k)*gridM-p.x, float64(j)*gridM-p.y
				d.grub[j*gridCols+k] += d.worth[i] * math.Exp(-(dx*dx+dy*dy)/(2*p.long*p.long))
			}
		}
	}
}

func (d *Day) food(x, y float64) float64 { return at(d.grub, x, y) }

// openWindows sets when each part of the lake feeds, where the family feeds in windows.
func (d *Day) openWindows(today *dice) {
	if !d.Lake.Family.windowed {
		return
	}
	for r := range d.windows {
		m := today.between(0, 110)
		for m < minutes {
			length := today.between(10, 20)
			if today.unit() < 1.7*d.appetite(int(m)) {
				d.windows[r][int(m)] = int8(length)
			}
			m += length + today.between(75, 140)*(1.4-0.6*d.appetite(int(m)))
		}
	}
}

// putCrowds puts two crowds on ground that is better than most: others know something too.
func (d *Day) putCrowds(today *dice) {
	for range 2 {
		i := today.pick(d.cumulated)
		p := d.Lake.places[i]
		at := geo.Local{E: num.Clamp(p.x+150*today.normal(), 0, WidthM), N: num.Clamp(p.y+150*today.normal(), 0, HeightM)}
		d.crowds = append(d.crowds, Crowd{at, quantity.Length(today.between(60, 120))})
	}
}

// usualStart is where a guide who follows the season's depth would begin: anywhere in the band, away from crowds.
func (d *Day) usualStart(today *dice) geo.Local {
	low, high := d.Band()
	var p geo.Local
	for range 200 {
		p = geo.Local{E: today.between(150, WidthM-150), N: today.between(150, HeightM-150)}
		z := d.Lake.Chart(p)
		if z >= low && z <= high && !d.crowded(p, 150*quantity.Metre) {
			break
		}
	}
	return p
}

func (d *Day) crowded(p geo.Local, margin quantity.Length) bool {
	for _, c := range d.crowds {
		r := float64(c.Radius + margin)
		if math.Abs(p.E-c.At.E) < r && math.Abs(p.N-c.At.N) < r && float64(p.Distance(c.At)) < r {
			return true
		}
	}
	return false
}

// putSchools draws the day's schools. Those under a crowd are wary and mostly small.
func (d *Day) putSchools(today *dice) {
	f := d.Lake.Family
	d.n = int(d.Season.of(f.schools)*math.Exp(0.3*today.normal()-0.045) + 0.5)
	d.dawn = make([]school, d.n)
	for i := range d.dawn {
		s := &d.dawn[i]
		s.dice = seeded(d.seed, 6, uint64(i))
		s.fish = math.Max(6, d.Season.of(f.fish)*math.Exp(f.fishSD*s.dice.normal()))
		big := f.goodPart
		f.habits.draw(d, s)
		if d.crowded(geo.Local{E: s.x, N: s.y}, 40*quantity.Metre) {
			big *= 0.3
			s.fish *= 0.6
		}
		s.good = f.good[0]
		if s.dice.unit() < big {
			s.good = f.good[1]
		}
	}
}

// swimAll takes every school through the day.
func (d *Day) swimAll() {
	d.xs, d.ys = make([]float32, (minutes+1)*d.n), make([]float32, (minutes+1)*d.n)
	d.does = make([]phase, (minutes+1)*d.n)
	h := d.Lake.Family.habits
	for i := range d.dawn {
		s := d.dawn[i]
		for m := 0; m <= minutes; m++ {
			k := m*d.n + i
			d.xs[k], d.ys[k], d.does[k] = float32(s.x), float32(s.y), s.phase
			h.step(d, &s, m)
		}
	}
	d.farthestM = 2 // a sonar widens a school by 1.4 m at most, a lure by 1.5 m
	for i := range d.dawn {
		d.farthestM = math.Max(d.farthestM, d.dawn[i].long+2)
	}
	d.index = indexed(d.n, d.xs, d.ys)
}

// about puts a school on a place, by a Gaussian of its semi-axes times spread.
func (d *Day) about(s *school, i int, spread float64) {
	p := d.Lake.places[i]
	wide := p.wide
	if wide == 0 {
		wide = p.long
	}
	u, v := spread*p.long*s.dice.normal(), spread*wide*s.dice.normal()
	c, n := p.cos, p.sin
	if c == 0 && n == 0 {
		c = 1
	}
	s.x, s.y = num.Clamp(p.x+u*c-v*n, 0, WidthM), num.Clamp(p.y+u*n+v*c, 0, HeightM)
}

// radius of a school by its fish.
func (d *Day) radius(s *school) float64 {
	f := d.Lake.Family
	return d.Season.of(f.radiusM) * num.Clamp(math.Cbrt(s.fish/d.Season.of(f.fish)), 0.6, 1.9)
}

// wary is the number of fish taken that brings a school's bites down by a factor e; a big school bears more.
func (d *Day) wary(s *school) float64 {
	f := d.Lake.Family
	return f.wary * math.Sqrt(s.fish/d.Season.of(f.fish))
}

// appetite is the chance that a school that could feed next does: a high hump in the middle of the morning, a lower one
// in the middle of the afternoon [HergenraderHasler1966], shifted by the lake's own lateness.
func (d *Day) appetite(minute int) float64 {
	m := float64(minute) - d.Lake.lateM
	hump := func(mid, width float64) float64 { return math.Exp(-(m - mid) * (m - mid) / (2 * width * width)) }
	// (REHEARSE-3) a(t) = hunger (0.28 + 0.5 hump(140, 70) + 0.35 hump(400, 60)), t in minutes less the lake's lateness
	return num.Clamp((0.28+0.5*hump(140, 70)+0.35*hump(400, 60))*d.hunger, 0.05, 0.95)
}

// Band gives the depths that a guide searches at this time of the winter.
func (d *Day) Band() (low, high quantity.Length) {
	mid := d.Season.of(d.Lake.Family.depthM)
	return quantity.Length(mid - bandM), quantity.Length(mid + bandM)
}

// Ice gives the thickness to drill through.
func (d *Day) Ice() quantity.Length { return quantity.Length(d.Season.of(iceM)) }

// Start gives the usual place to begin.
func (d *Day) Start() geo.Local { return d.start }

// Crowds lists the other parties.
func (d *Day) Crowds() []Crowd { return d.crowds }
