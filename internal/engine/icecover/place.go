package icecover

import (
	"cmp"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Zone is a part of the lake whose ice is one column.
type Zone string

// The zones. Near the shore the same total holds more white ice [AdamsProwse1981].
const (
	Shore    Zone = "shore"
	Open     Zone = "open"     // away from the shore, while no wind is known to prevail
	Lee      Zone = "lee"      // where one prevails, of the open ice: near the shore that it comes from, where drifts settle
	Windward Zone = "windward" // the rest of it, blown
)

// Zones lists those of a lake where a wind is known to prevail, or is not.
func Zones(prevails bool) []Zone {
	if prevails {
		return []Zone{Shore, Lee, Windward}
	}
	return []Zone{Shore, Open}
}

// Within gives the zone of a place of the open ice by its distance to the shore upwind.
func Within(fetch quantity.Length) Zone {
	if fetch <= LeeReach {
		return Lee
	}
	return Windward
}

// ShoreZone is how far the zone along the shore reaches out; ours.
const ShoreZone = 200 * quantity.Metre

// ZoneAt gives the zone by the distance to the nearest shore. Where that is not known it is the shore's.
func ZoneAt(shore quantity.Length, known bool) Zone {
	if known && shore >= ShoreZone {
		return Open
	}
	return Shore
}

// Scatter is how effective thickness differs from place to place within a zone, as the mean of the few metres that a load
// rests on: a part with a range of metres, as dunes of snow make it, one with a short range, one with a long one, and how
// far one hole is from the mean of those few metres. Standard deviations.
type Scatter struct {
	Hole                             quantity.Length // of a hole from the mean about it, reading included
	Near, Short, Long                quantity.Length
	NearRange, ShortRange, LongRange quantity.Length
}

// UsualScatter is what is taken before an outfit's own holes say better; all ours. Snow dunes on lakes lie 5 to 20 m
// apart [SturmListon2003]: that much is Near, and what of it a load does not feel is in Hole.
func UsualScatter() Scatter {
	return Scatter{Hole: 1.8 * quantity.Centimetre, Near: 1.4 * quantity.Centimetre, Short: 2 * quantity.Centimetre, Long: 3 * quantity.Centimetre,
		NearRange: 8 * quantity.Metre, ShortRange: 30 * quantity.Metre, LongRange: 1.5 * quantity.Kilometre}
}

// apartM gives how many metres lie between two places: on one lake the plain root loses nothing, and takes a third of the time.
func apartM(a, b geo.Local) float64 { return math.Sqrt(square(a.E-b.E) + square(a.N-b.N)) }

// closer tells whether two places lie within a distance, which most pairs fail in one coordinate already.
func closer(a, b geo.Local, within quantity.Length) bool {
	m := within.Metres()
	return math.Abs(a.E-b.E) <= m && math.Abs(a.N-b.N) <= m && a.Distance(b) <= within
}

// nothingLeft is the number of ranges beyond which a part of the scatter is lost in the last bit of the whole, e^-40 of it.
const nothingLeft = 40

// likeness is a scatter made ready for asking over and over how alike two places are.
type likeness [3]struct{ variance, rangeM, reachM float64 }

func (s Scatter) likeness() (l likeness) {
	for i, part := range [...][2]quantity.Length{{s.Near, s.NearRange}, {s.Short, s.ShortRange}, {s.Long, s.LongRange}} {
		if part[0] > 0 {
			l[i].variance, l[i].rangeM, l[i].reachM = square(part[0].Metres()), part[1].Metres(), nothingLeft*part[1].Metres()
		}
	}
	return l
}

// covariance of the ice at two places that far apart, in m2.
func (l *likeness) covariance(distanceM float64) float64 {
	sum := 0.0
	for i := range l {
		if part := &l[i]; part.variance > 0 && distanceM <= part.reachM {
			// (COVER-7)
			sum += part.variance * math.Exp(-distanceM/part.rangeM)
		}
	}
	return sum
}

// variance of the ice at a place, in m2.
func (s Scatter) variance() float64 {
	l := s.likeness()
	return l.covariance(0)
}

// Hole is a hole that still counts, as effective thickness carried to now (see [Carry]).
type Hole struct {
	At        geo.Local
	Effective quantity.Length
}

// Field is the effective thickness over a zone: the column's figure for decisions, and what the holes differ from it.
type Field struct {
	scatter   Scatter
	reference float64     // m
	holes     []Hole      // thickest first
	factor    [][]float64 // lower triangle L of the holes' covariance
	differ    []float64   // L^-1 (h - reference)
}

// mostHoles bounds the holes of a field, of which the nearest would say almost all; a day has about as many.
const mostHoles = 120

// NewField makes the field of a zone from its reference, [Estimate.Deciding] or, where the column is not known, the
// thinnest hole about the place, and from the holes. Of more than a hundred and twenty the thinnest are kept: they are the careful ones.
func NewField(reference quantity.Length, holes []Hole, s Scatter) *Field {
	f := &Field{scatter: s, holes: slices.Clone(holes)}
	slices.SortStableFunc(f.holes, func(a, b Hole) int { return cmp.Compare(b.Effective, a.Effective) })
	f.holes = f.holes[max(0, len(f.holes)-mostHoles):]
	at := make([]geo.Local, len(f.holes))
	for i, h := range f.holes {
		at[i] = h.At
	}
	f.factor = s.factor(at, nil)
	return f.About(reference)
}

// About gives the same holes about another reference.
func (f *Field) About(reference quantity.Length) *Field {
	g := *f
	g.reference, g.differ = reference.Metres(), make([]float64, len(f.holes))
	most := mostSurprise * math.Sqrt(f.scatter.variance()+square(f.scatter.Hole.Metres()))
	for i, h := range f.holes {
		// (COVER-12)
		g.differ[i] = math.Max(-most, math.Min(most, h.Effective.Metres()-g.reference))
	}
	forward(g.factor, g.differ)
	return &g
}

// factor gives the lower triangle L of the covariance of holes, L L' = C, four rows at a time. With days told, each day's
// mean is left free.
func (s Scatter) factor(at []geo.Local, day []string) [][]float64 {
	n := len(at)
	factor := make([][]float64, n)
	all := make([]float64, n*(n+1)/2)
	four, like := make([][4]float64, n), s.likeness()
	entry := func(i, j int) float64 {
		c := like.covariance(apartM(at[i], at[j]))
		if day != nil && day[i] == day[j] {
			c += dayVariance
		}
		return c
	}
	whole := s.variance() + square(s.Hole.Metres())
	if day != nil {
		whole += dayVariance
	}
	for done := 0; done < n; done += 4 {
		rows := min(4, n-done)
		for j := range done {
			for k := range rows {
				four[j][k] = entry(done+k, j)
			}
		}
		forwardFour(factor, four[:done], 0)
		for i := done; i < done+rows; i++ {
			row := all[: i+1 : i+1]
			all = all[i+1:]
			rest := whole
			for j := range done {
				row[j] = four[j][i-done]
				rest -= square(row[j])
			}
			for j := done; j < i; j++ {
				row[j] = entry(i, j)
				for k, known := range row[:j] {
					row[j] -= float64(factor[j][k] * known)
				}
				row[j] /= factor[j][j]
				rest -= square(row[j])
			}
			row[i] = math.Sqrt(math.Max(rest, leastVariance))
			factor[i] = row
		}
	}
	return factor
}

// forward replaces v by L^-1 v.
func forward(l [][]float64, v []float64) {
	for i, row := range l[:len(v)] {
		x, y := v[i], 0.0 // two sums, so that one product need not wait for the one before
		known := v[:i]
		for k := 1; k < i; k += 2 {
			x -= float64(row[k-1] * known[k-1])
			y -= float64(row[k] * known[k])
		}
		if i%2 == 1 {
			x -= float64(row[i-1] * known[i-1])
		}
		v[i] = (x + y) / row[i]
	}
}

// forwardFour is [forward] of four columns at once whose rows before from are nought. It keeps the processor busy where one
// column waits for itself.
func forwardFour(l [][]float64, v [][4]float64, from int) {
	for i := from; i < len(v); i++ {
		at, known := &v[i], v[from:i]
		row := l[i][from : i+1]
		x0, x1, x2, x3 := at[0], at[1], at[2], at[3]
		var y0, y1, y2, y3 float64
		for k := 1; k < len(known); k += 2 {
			a, b, p, q := row[k-1], row[k], &known[k-1], &known[k]
			x0 -= float64(a * p[0])
			x1 -= float64(a * p[1])
			x2 -= float64(a * p[2])
			x3 -= float64(a * p[3])
			y0 -= float64(b * q[0])
			y1 -= float64(b * q[1])
			y2 -= float64(b * q[2])
			y3 -= float64(b * q[3])
		}
		if n := len(known); n%2 == 1 {
			a, p := row[n-1], &known[n-1]
			x0 -= float64(a * p[0])
			x1 -= float64(a * p[1])
			x2 -= float64(a * p[2])
			x3 -= float64(a * p[3])
		}
		d := row[len(known)]
		*at = [4]float64{(x0 + y0) / d, (x1 + y1) / d, (x2 + y2) / d, (x3 + y3) / d}
	}
}

// leastVariance keeps two holes at one place apart, in m2: a tenth of a millimetre.
const leastVariance = 1e-8

// Spot is what the field says of a place.
type Spot struct {
	Middle quantity.Length
	Spread quantity.Length // standard deviation about Middle
	Low    quantity.Length // 5 % quantile, and no higher than with thinner holes left out
}

// lowSigma is the 5 % quantile of the normal distribution, in standard deviations below its mean.
const lowSigma = 1.6448536269514722

// At tells the field at a place, for which holes within the distance told count; 0: all do. A hole thinner than all
// others never lifts Low anywhere, though it makes the field surer: the least counts of what the thickest holes say, one
// more at a time, from the first that counts at the place, since without that one the place had no figure. Holes of one
// thickness come in together, so that a second like the first does make the place surer.
func (f *Field) At(p geo.Local, within quantity.Length) Spot {
	return f.spot(f.weights(p), p, within)
}

// Weighed are the weights of a field's holes at places told before, for [Field.AtWeighed].
type Weighed map[geo.Local][]float64

// Weigh prepares the answers at many places at less cost than asking [Field.At] at each, and least at the field's own
// holes. References do not matter to the weights: what one field weighed serves every [Field.About] of it.
//
// At hole j the covariance c of the ice with the holes is column j of C = L L', less the variance H of a hole on the
// diagonal. So the rows before j of L^-1 c are row j of L itself, and of c these leave L_ij L_jj in each later row i,
// L_jj^2 - H in row j.
func (f *Field) Weigh(places []geo.Local) Weighed {
	n := len(f.holes)
	own := make(map[geo.Local]int, n)
	for i, h := range f.holes {
		own[h.At] = i
	}
	first := func(p geo.Local) int { return own[p] } // hole from which on the weights must be worked out
	places = slices.SortedFunc(slices.Values(places), func(a, b geo.Local) int { return cmp.Compare(first(a), first(b)) })
	out, like := make(Weighed, len(places)), f.scatter.likeness()
	four, all := make([][4]float64, n), make([]float64, n*len(places))
	for group := range slices.Chunk(places, 4) {
		from := first(group[0])
		for k, p := range group {
			j, known := own[p]
			if !known {
				for i, h := range f.holes {
					four[i][k] = like.covariance(apartM(h.At, p))
				}
				continue
			}
			for i := from; i < j; i++ {
				four[i][k] = 0
			}
			l := f.factor[j][j]
			four[j][k] = square(l) - square(f.scatter.Hole.Metres())
			for i := j + 1; i < n; i++ {
				four[i][k] = float64(f.factor[i][j] * l)
			}
		}
		forwardFour(f.factor, four, from)
		for k, p := range group {
			w := all[:n:n]
			all = all[n:]
			j := 0
			if i, known := own[p]; known {
				j = copy(w, f.factor[i][:i])
			}
			for i := j; i < n; i++ {
				w[i] = four[i][k]
			}
			out[p] = w
		}
	}
	return out
}

// AtWeighed is [Field.At] with the weights of the place where they are there.
func (f *Field) AtWeighed(p geo.Local, within quantity.Length, weighed Weighed) Spot {
	if w, ok := weighed[p]; ok {
		return f.spot(w, p, within)
	}
	return f.At(p, within)
}

// weights gives what each hole, less the thicker ones, says at a place.
func (f *Field) weights(p geo.Local) []float64 {
	w, like := make([]float64, len(f.holes)), f.scatter.likeness()
	for i, h := range f.holes {
		w[i] = like.covariance(apartM(h.At, p))
	}
	forward(f.factor, w)
	return w
}

// spot tells the field at a place from the weights there; see [Field.At].
func (f *Field) spot(w []float64, p geo.Local, within quantity.Length) Spot {
	mean, variance := f.reference, f.scatter.variance()
	low, first, counted := mean-lowSigma*math.Sqrt(variance), true, within == 0
	for i := range w {
		// (COVER-8)
		mean += float64(w[i] * f.differ[i])
		variance = max(0, variance-square(w[i]))
		counted = counted || closer(f.holes[i].At, p, within)
		last := i+1 == len(w)
		if !last && (!counted || f.holes[i+1].Effective >= f.holes[i].Effective) {
			continue // not yet a hole that counts, or another as thick: the two stand together
		}
		// (COVER-9)
		if here := mean - lowSigma*math.Sqrt(variance); first || here < low {
			low, first = here, false
		}
	}
	return Spot{quantity.Length(mean), quantity.Length(math.Sqrt(variance)), quantity.Length(math.Max(0, low))}
}
