package field

import (
	"math"
	"slices"
	"sync"

	"icehand/internal/base/geo"
)

// Index finds the nearest of many places through a grid of buckets.
type Index struct {
	places  []geo.Local
	origin  geo.Local
	sideM   float64 // of a bucket, metres
	nx, ny  int
	start   []int // bucket b holds members[start[b]:start[b+1]]
	members []int
}

// NewIndex indexes places; the slice is kept.
func NewIndex(places []geo.Local) *Index {
	x := &Index{places: places, sideM: 1, nx: 1, ny: 1}
	if len(places) > 0 {
		lo, hi := places[0], places[0]
		for _, p := range places {
			lo = geo.Local{E: math.Min(lo.E, p.E), N: math.Min(lo.N, p.N)}
			hi = geo.Local{E: math.Max(hi.E, p.E), N: math.Max(hi.N, p.N)}
		}
		const perBucket = 4 // a search then looks into a dozen buckets, not into thousands
		w, h := hi.E-lo.E, hi.N-lo.N
		x.origin = lo
		// the second term keeps the number of buckets down when all places lie on one line
		x.sideM = math.Max(math.Sqrt(w*h*perBucket/float64(len(places))), math.Max(w, h)*perBucket/float64(len(places)))
		if x.sideM == 0 {
			x.sideM = 1
		}
		x.nx, x.ny = int(w/x.sideM)+1, int(h/x.sideM)+1
	}
	x.start = make([]int, x.nx*x.ny+1)
	for _, p := range places {
		x.start[x.bucket(p)+1]++
	}
	for b := range x.nx * x.ny {
		x.start[b+1] += x.start[b]
	}
	x.members = make([]int, len(places))
	next := slices.Clone(x.start)
	for i, p := range places {
		b := x.bucket(p)
		x.members[next[b]] = i
		next[b]++
	}
	return x
}

// cell gives the bucket column and row of p, which may lie outside the grid.
func (x *Index) cell(p geo.Local) (cx, cy int) {
	return int(math.Floor((p.E - x.origin.E) / x.sideM)), int(math.Floor((p.N - x.origin.N) / x.sideM))
}

func (x *Index) bucket(p geo.Local) int {
	cx, cy := x.cell(p)
	return cy*x.nx + cx
}

// Nearest gives the n places nearest to p, nearest first; of equal distances the lower index first. It gives fewer
// when there are fewer. Places for which skip returns true do not count; skip may be nil.
func (x *Index) Nearest(p geo.Local, n int, skip func(i int) bool) []int {
	if n < 1 {
		return nil
	}
	hits := make([]hit, 0, min(4*n, len(x.places))) // what a search mostly meets
	px, py := x.cell(p)
	cx, cy := min(max(px, 0), x.nx-1), min(max(py, 0), x.ny-1)
	for ring := 0; ring < max(x.nx, x.ny); ring++ {
		if hits = x.collect(hits, p, cx, cy, ring, skip); len(hits) < n {
			continue
		}
		// what is farther than the n nearest so far will never be among them
		hits = smallest(hits, n)
		// whatever is nearer than the searched square's rim is final
		if slices.MaxFunc(hits, nearer).d <= x.rimM(p, cx, cy, ring) {
			break
		}
	}
	slices.SortFunc(hits, nearer)
	out := make([]int, len(hits))
	for k := range out {
		out[k] = hits[k].i
	}
	return out
}

// smallest gives the n nearest hits in any order, by quickselect; the slice is reordered.
func smallest(hits []hit, n int) []hit {
	lo, hi := 0, len(hits)
	for hi-lo > 1 && n > lo && n < hi {
		mid := hits[(lo+hi)/2]
		i, j := lo, hi-1
		for i <= j {
			for nearer(hits[i], mid) < 0 {
				i++
			}
			for nearer(hits[j], mid) > 0 {
				j--
			}
			if i <= j {
				hits[i], hits[j] = hits[j], hits[i]
				i++
				j--
			}
		}
		if n <= j+1 {
			hi = j + 1
		} else if n >= i {
			lo = i
		} else {
			break
		}
	}
	return hits[:n]
}

// hit is a place and its distance in metres.
type hit struct {
	i int
	d float64
}

func nearer(a, b hit) int {
	switch {
	case a.d < b.d:
		return -1
	case a.d > b.d:
		return 1
	}
	return a.i - b.i
}

// collect adds the places in the buckets that lie on the square ring round bucket (cx, cy).
func (x *Index) collect(hits []hit, p geo.Local, cx, cy, ring int, skip func(i int) bool) []hit {
	for row := max(0, cy-ring); row <= min(x.ny-1, cy+ring); row++ {
		step := 1
		if row != cy-ring && row != cy+ring {
			step = 2 * ring // only the two ends of the row lie on the ring
		}
		for col := cx - ring; col <= cx+ring; col += step {
			if col < 0 || col >= x.nx {
				continue
			}
			b := row*x.nx + col
			for _, i := range x.members[x.start[b]:x.start[b+1]] {
				if skip == nil || !skip(i) {
					hits = append(hits, hit{i, dist(x.places[i], p)})
				}
			}
		}
	}
	return hits
}

// rimM gives the distance in metres from p to the nearest bucket outside the searched square.
func (x *Index) rimM(p geo.Local, cx, cy, ring int) float64 {
	rim := math.Inf(1)
	if cx-ring > 0 {
		rim = math.Min(rim, p.E-(x.origin.E+float64(cx-ring)*x.sideM))
	}
	if cx+ring < x.nx-1 {
		rim = math.Min(rim, x.origin.E+float64(cx+ring+1)*x.sideM-p.E)
	}
	if cy-ring > 0 {
		rim = math.Min(rim, p.N-(x.origin.N+float64(cy-ring)*x.sideM))
	}
	if cy+ring < x.ny-1 {
		rim = math.Min(rim, x.origin.N+float64(cy+ring+1)*x.sideM-p.N)
	}
	return rim
}

// Around gives n places near p, a quarter of them from each quadrant where there are that many, so that a dense line
// of places on one side does not hide the other sides.
func (x *Index) Around(p geo.Local, n int, skip func(i int) bool) []int {
	const wider = 3 // a quadrant is searched among the 3n nearest
	near := x.Nearest(p, wider*n, skip)
	if len(near) <= n {
		return near
	}
	var taken [4]int
	var chosen, rest []int
	for _, i := range near {
		q := 0
		if x.places[i].E >= p.E {
			q++
		}
		if x.places[i].N >= p.N {
			q += 2
		}
		if taken[q] < n/4 {
			taken[q]++
			chosen = append(chosen, i)
		} else {
			rest = append(rest, i)
		}
	}
	return append(chosen, rest[:n-len(chosen)]...)
}

// Local predicts every place from the data near it: for thousands of data, where one system of all would be too big.
// It is safe for concurrent use.
type Local struct {
	model     Model
	data      []Datum
	prior     []Prior
	size      int
	quadrants bool
	index     *Index
	rooms     sync.Pool // of *room
}

// NewLocal prepares prediction from neighbourhoods of size data (32 to 64 lose little); with quadrants they are
// chosen by [Index.Around]. The slice of data is kept. It panics as [Solve] does.
func NewLocal(m Model, data []Datum, prior []Prior, size int, quadrants bool) *Local {
	m.check()
	checkData(data, prior)
	if size < 1 {
		panic("field: a neighbourhood needs at least one datum")
	}
	places := make([]geo.Local, len(data))
	for i, d := range data {
		places[i] = d.At
	}
	return &Local{model: m, data: data, prior: prior, size: size, quadrants: quadrants, index: NewIndex(places), rooms: sync.Pool{New: func() any { return new(room) }}}
}

// At gives mean and variance at p from the data near it; data for which skip returns true are left out (skip may be nil).
func (l *Local) At(p geo.Local, trend []float64, skip func(i int) bool) (mean, variance float64, err error) {
	find := l.index.Nearest
	if l.quadrants {
		find = l.index.Around
	}
	near := find(p, l.size, skip)
	data := make([]Datum, len(near))
	for k, i := range near {
		data[k] = l.data[i]
	}
	w := l.rooms.Get().(*room)
	defer l.rooms.Put(w)
	f, err := solve(l.model, data, l.prior, w)
	if err != nil {
		return 0, 0, err
	}
	mean, variance = f.At(p, trend)
	return mean, variance, nil
}
