package dusk

import (
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/sounder"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// Target is the second target as the journal spells it.
const Target = "walleye"

// Sit is a spell of one rod on record: where, when, whether it was after walleye, and when walleye were landed in it.
type Sit struct {
	At        geo.Local
	From, To  time.Time
	Aimed     bool
	Depth     Range
	Edge      float64 // 0 on the flat, 1 on a sharp edge
	Cover     Cover
	Cloud     float64
	CloudTold bool
	Fish      []time.Time
}

const (
	longestSit = 10 * time.Hour // a sit without an end is not believed to last longer; our own assumption
	slack      = time.Minute    // by which a fish may lie outside its sit
	cloudKeeps = 3 * time.Hour  // an observation of the sky speaks this long; our own assumption
)

// Sits reads the finished spells of [from, until) off a lake's record, and those that last as far as until. Walleye outside
// any sit have no exposure and are left out; so are sits at holes without a place.
func Sits(l *lake.View, p *party.View, clarity quantity.Length, from, until time.Time, surfaces ...*ground.Surface) []Sit {
	if p == nil {
		return nil
	}
	var out []Sit
	byHole := map[uuid.UUID][]int{}
	covers, places := map[journal.Day]Cover{}, map[uuid.UUID]Place{}
	for _, x := range p.Sits {
		h := l.Hole(x.Hole)
		if x.From.Before(from) || !x.From.Before(until) || h == nil || !h.Placed {
			continue
		}
		to := x.To
		if to.IsZero() || to.After(until) {
			to = until
		}
		if to.Sub(x.From) > longestSit {
			to = x.From.Add(longestSit)
		}
		if !to.After(x.From) {
			continue
		}
		cover, ok := covers[x.Day]
		if !ok {
			cover = CoverAt(l, x.From, clarity)
			covers[x.Day] = cover
		}
		place, ok := places[h.ID]
		if !ok {
			place = placeOf(l, h, surfaces)
			places[h.ID] = place
		}
		cloud, told := CloudSeen(l, x.From)
		for _, piece := range Pieces(p, x, to) {
			byHole[x.Hole] = append(byHole[x.Hole], len(out))
			out = append(out, Sit{At: h.At, From: piece.From, To: piece.To, Aimed: p.TargetAt(x, piece.From) == Target, Cover: cover, Depth: place.Depth, Edge: place.Edge,
				Cloud: cloud, CloudTold: told})
		}
	}
	for _, f := range p.Fish {
		if f.Species != Target {
			continue
		}
		for _, i := range byHole[f.Hole] {
			if x := &out[i]; !f.When.Before(x.From.Add(-slack)) && !f.When.After(x.To.Add(slack)) {
				for range max(1, f.Count) {
					x.Fish = append(x.Fish, f.When)
				}
				break
			}
		}
	}
	return out
}

// Pieces parts a sit where the day's target was told anew.
func Pieces(p *party.View, s *party.Sit, to time.Time) []Span {
	out := []Span{{From: s.From, To: to}}
	for i := range p.Trips {
		if t := &p.Trips[i]; t.Day == s.Day && t.When.After(s.From) && t.When.Before(to) {
			out[len(out)-1].To = t.When
			out = append(out, Span{From: t.When, To: to})
		}
	}
	return out
}

// placeOf gives depth and edge at a hole: the depth as measured, else off the map, else that of any likely place.
func placeOf(l *lake.View, h *lake.Hole, surfaces []*ground.Surface) Place {
	p := Search{Surfaces: surfaces}.place(h.At, "")
	if z, _ := sounder.Depth(l, h); z > 0 {
		p.Depth = Range{z, z}
	}
	return p
}

// z1 gives the depths within one standard deviation.
func z1(z ground.Depth) Range { return Range{max(0, z.Mean-z.Spread), z.Mean + z.Spread} }

// CloudSeen gives the cloud that was seen within some hours of an instant, the nearest in time.
func CloudSeen(l *lake.View, t time.Time) (cover float64, told bool) {
	best := cloudKeeps + 1
	for _, o := range l.Observed {
		if d := o.When.Sub(t).Abs(); o.CloudTold && d < best {
			best, cover, told = d, o.Cloud, true
		}
	}
	return cover, told
}

// Hours about the twilights: five heights of the sun before its highest, and five after.
const (
	heights = 5
	hours   = 2 * heights
)

// heightEdges part the heights: dark, the twilight, the sun just up, low, high.
var heightEdges = [heights - 1]quantity.Angle{sun.Civil, sun.RiseSet, 4, 8}

// hourPrior is how many walleye an hour about the twilights is believed to bring against its light alone, before anything is
// recorded. That the half hour to an hour after first light and before dark is best, and that there is little after dark, is
// common practice, no source; the figures are our own assumption.
var hourPrior = [heights]float64{0.6, 1.5, 1.5, 1.0, 0.8}

// hourOf gives the hour of an instant.
func hourOf(t time.Time, p geo.Position) int {
	s := sun.At(t, p)
	k := 0
	for k < len(heightEdges) && s.Elevation >= heightEdges[k] {
		k++
	}
	if s.Azimuth > 180 { // in the west: past its highest
		k += heights
	}
	return k
}

// elsewhere is the spot of rods that were after something else and landed no walleye: of one such place little is learned, of all
// of them together the level and the hours.
const elsewhere = -1

// cell is a kind of fishing that the record tells apart.
type cell struct {
	hour, spot int
	edged      bool
}

// sums is what a cell saw: walleye, and line-hours weighed by all that is believed beforehand, by light that may be.
type sums struct {
	cell
	fish     float64
	exposure [lots]float64
}

// Tally sums a record up. It grows by [Tally.Add]; the zero value is an empty record.
type Tally struct {
	Hours  float64 // line-hours after walleye
	Beside float64 // line-hours after something else
	Fish   int     // walleye landed in either
	cells  []sums
	at     map[cell]int
	spots  []geo.Local // one sit of each, the first
	logs   [lots]float64
	scatter
}

// scatter sums what the dispersion of catches over sits is worked out from.
type scatter struct{ sits, fish, expected, squared float64 }

// Figures of the record; our own assumption unless said otherwise.
const (
	slice    = 10 * time.Minute
	beside   = 0.3                  // of a walleye rod's catch that a perch rod takes
	flatness = 0.4                  // of the rate on a sharp edge that flat ground gives
	spotSize = 150 * quantity.Metre // sits so near to one another fish one spot
)

// ground factor of a place
func edgeWorth(edge float64) float64 {
	// (DUSK-4)
	return flatness + (1-flatness)*edge
}

// Clone gives a tally that can grow without touching the first.
func (t *Tally) Clone() *Tally {
	if t == nil {
		return &Tally{}
	}
	c := *t
	c.cells, c.spots = slices.Clone(t.cells), slices.Clone(t.spots)
	c.at = make(map[cell]int, len(t.at))
	for k, v := range t.at {
		c.at[k] = v
	}
	return &c
}

// spot gives the number of the spot that a place belongs to, a new one when there is none.
func (t *Tally) spot(p geo.Local) int {
	best := -1
	for i, s := range t.spots {
		if d := s.Distance(p); d <= spotSize && (best < 0 || d < t.spots[best].Distance(p)) {
			best = i
		}
	}
	if best < 0 {
		t.spots = append(t.spots, p)
		best = len(t.spots) - 1
	}
	return best
}

// Add takes in sits at a place on the globe.
func (t *Tally) Add(place geo.Position, sits ...Sit) {
	for i := range sits {
		t.add(place, &sits[i])
	}
}

func (t *Tally) add(place geo.Position, s *Sit) {
	aim := 1.0
	if s.Aimed {
		t.Hours += s.To.Sub(s.From).Hours()
	} else {
		aim = beside
		t.Beside += s.To.Sub(s.From).Hours()
	}
	cloud := func(time.Time) (float64, bool) { return s.Cloud, s.CloudTold }
	p, spot, mid := s.Cover.pane(s.Depth), elsewhere, 0.0
	if s.Aimed || len(s.Fish) > 0 {
		spot = t.spot(s.At)
	}
	prior := lotPrior()
	fish := slices.Clone(s.Fish)
	slices.SortFunc(fish, func(a, b time.Time) int { return a.Compare(b) })
	t.Fish += len(fish)
	for from := s.From; from.Before(s.To); from = from.Add(slice) {
		to := from.Add(slice)
		last := !to.Before(s.To)
		if last {
			to = s.To
		}
		n := 0.0
		for len(fish) > 0 && (last || fish[0].Before(to)) {
			fish, n = fish[1:], n+1
		}
		half := from.Add(to.Sub(from) / 2)
		g, hour := sky(half, place, cloud), hourOf(half, place)
		c := t.cell(cell{hour, spot, s.Edge > 0.5})
		c.fish += n
		for i := range lots {
			// (DUSK-5) e = hours * aim * ground * light
			e := to.Sub(from).Hours() * aim * edgeWorth(s.Edge) * response(atFish(g, p, i))
			c.exposure[i] += e
			if n > 0 {
				t.logs[i] += n * math.Log(e)
			}
			mid += prior[i] * e * hourPrior[hour%heights]
		}
	}
	t.scatter.add(float64(len(s.Fish)), mid)
}

func (t *Tally) cell(c cell) *sums {
	i, ok := t.at[c]
	if !ok {
		if t.at == nil {
			t.at = map[cell]int{}
		}
		i = len(t.cells)
		t.at[c] = i
		t.cells = append(t.cells, sums{cell: c})
	}
	return &t.cells[i]
}

func (s *scatter) add(fish, expected float64) {
	s.sits++
	s.fish += fish
	s.expected += expected
	s.squared += fish * fish / expected
}

// dispersion gives how much more the catches of sits scatter than independent fish would: a record of n fish is worth n over
// this many. With few sits it stays at a guess.
func (s scatter) dispersion() float64 {
	const guess, weight = 1.5, 10.0 // our own assumption: as if ten sits had been seen to scatter so
	if s.fish == 0 || s.expected == 0 {
		return guess
	}
	rate := s.fish / s.expected
	chi := s.squared/rate - 2*s.fish + rate*s.expected
	// (DUSK-6) Pearson's chi-square over its degrees of freedom [McCullagh1989], shrunk towards the guess
	return math.Max(1, (chi+guess*weight)/(math.Max(0, s.sits-1)+weight))
}
