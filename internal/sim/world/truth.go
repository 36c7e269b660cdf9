package world

import (
	"math"
	"time"

	"icehand/internal/base/geo"
)

// School is the truth about a school, for ways that are allowed to know it.
type School struct {
	ID      int
	At      geo.Local
	RadiusM float64
	Fish    float64
	Good    float64 // share of good fish
	Feeding bool
	Bites   float64 // a minute and rod in its middle, now
}

// Schools tells every school as it is at a time.
func (r *Run) Schools(t time.Duration) []School {
	return r.schoolsOf(t, func(phase) bool { return true })
}

// Feeding tells the schools that feed at a time.
func (r *Run) Feeding(t time.Duration) []School {
	return r.schoolsOf(t, func(p phase) bool { return p == feeding })
}

func (r *Run) schoolsOf(t time.Duration, wanted func(phase) bool) []School {
	r.advance(minuteOf(t))
	var out []School
	for i := range r.day.n {
		if r.is[i] < 0 && !wanted(r.day.does[r.minute*r.day.n+i]) {
			continue
		}
		s, _ := r.state(i)
		if !wanted(s.phase) {
			continue
		}
		p := geo.Local{E: s.x, N: s.y}
		out = append(out, School{i, p, math.Sqrt(s.long * s.wide), s.fish, s.good, s.phase == feeding, r.rate(&s, p)})
	}
	return out
}

// Bites tells the bites a minute that a rod of ordinary hand would have at a place now, and the share of good fish among
// them.
func (r *Run) Bites(p geo.Local, t time.Duration) (rate, good float64) {
	r.advance(minuteOf(t))
	r.around(p, r.day.farthestM, func(_ int, s *school) {
		b := r.rate(s, p)
		rate += b
		good += b * s.good
	})
	if rate > 0 {
		good /= rate
	}
	return rate / (1 + handling*rate), good
}

// Map is the true density of schools by m2 on square cells, averaged over the day: what somebody would know who had been
// here on very many days like this one. It holds no school's place.
type Map struct {
	CellM float64
	Cols  int
	PerM2 []float64
}

// At reads the map.
func (m *Map) At(p geo.Local) float64 {
	i, j := int(p.E/m.CellM), int(p.N/m.CellM)
	rows := len(m.PerM2) / m.Cols
	return m.PerM2[min(max(0, j), rows-1)*m.Cols+min(max(0, i), m.Cols-1)]
}

// TrueMap works the map out from many schools drawn and taken through the day like the real ones.
func (d *Day) TrueMap() *Map {
	const cell, schools, every, smooth = 50.0, 1200, 15, 45.0
	m := &Map{CellM: cell, Cols: int(WidthM / cell)}
	rows := int(HeightM / cell)
	count := make([]float64, m.Cols*rows)
	f := d.Lake.Family
	total := 0.0
	for i := range schools {
		s := school{dice: seeded(d.seed, 10, uint64(i)), fish: d.Season.of(f.fish)}
		f.habits.draw(d, &s)
		for minute := range minutes {
			if minute%every == 0 {
				x, y := min(int(s.x/cell), m.Cols-1), min(int(s.y/cell), rows-1)
				count[y*m.Cols+x]++
				total++
			}
			f.habits.step(d, &s, minute)
		}
	}
	m.PerM2 = make([]float64, len(count))
	for k := range m.PerM2 {
		x, y := k%m.Cols, k/m.Cols
		sum, weights := 0.0, 0.0
		for j := max(0, y-2); j <= min(rows-1, y+2); j++ {
			for i := max(0, x-2); i <= min(m.Cols-1, x+2); i++ {
				d2 := cell * cell * float64((i-x)*(i-x)+(j-y)*(j-y))
				w := math.Exp(-d2 / (2 * smooth * smooth))
				sum += w * count[j*m.Cols+i]
				weights += w
			}
		}
		// a fiftieth of the schools is thought to be anywhere
		m.PerM2[k] = d.Season.of(f.schools) * (0.98*sum/weights/total/(cell*cell) + 0.02/(WidthM*HeightM))
	}
	return m
}

// BestBites gives landed fish a minute, and good ones, that no rod of ordinary hand can better, averaged over the day:
// always in the thick of all the unfished schools that could overlap, at the best such place of the moment.
func (d *Day) BestBites() (all, good float64) {
	const every = 3 // minutes
	f := d.Lake.Family
	n := 0.0
	var near []int16
	for m := 0; m < minutes; m += every {
		k := m * d.n
		bestAll, bestGood := 0.0, 0.0
		for i := range d.n {
			if d.does[k+i] != feeding {
				continue
			}
			sumAll, sumGood := 0.0, 0.0
			near = d.near(near[:0], m, float64(d.xs[k+i]), float64(d.ys[k+i]), d.dawn[i].long+d.farthestM+2*lureM)
			for _, j16 := range near {
				j := int(j16)
				reach := d.dawn[i].long + d.dawn[j].long + 2*lureM
				dx, dy := float64(d.xs[k+i]-d.xs[k+j]), float64(d.ys[k+i]-d.ys[k+j])
				if dx*dx+dy*dy < reach*reach {
					b := f.bites[d.does[k+j]]
					sumAll += b
					sumGood += b * d.dawn[j].good
				}
			}
			free := landed / (1 + handling*sumAll)
			bestAll, bestGood = math.Max(bestAll, free*sumAll), math.Max(bestGood, free*sumGood)
		}
		all, good, n = all+bestAll, good+bestGood, n+1
	}
	return all / n, good / n
}
