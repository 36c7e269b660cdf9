package way

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

// Remembering is a guide with a good memory: he searches by line and spiral, begins where areas have paid best on past
// days, goes on to the next best when one is blank, and now and then tries ground he does not know.
func Remembering() Way { return &remembering{line: line{Pattern: spiralPattern()}} }

const (
	areaM     = 200.0 // side of an area
	fades     = 0.98  // what a day leaves of a memory
	giveUp    = 14    // holes of a line without a hit before the next area
	someHours = 3.0   // rod-hours for which the lake's mean stands in where little is known
)

// ground is what is remembered of an area.
type ground struct{ hours, fish float64 }

type remembering struct {
	line
	cols, rows int
	areas      []ground
	here       []geo.Local // places of each guest's last report, to charge his hours
	tried      []int       // areas of today
	blanks     int         // holes since the last hit or change of area
	move       bool        // to the next area
	days       int
}

func (w *remembering) Begin(b Briefing) geo.Local {
	w.line.Begin(b)
	if w.areas == nil {
		w.cols, w.rows = int(math.Ceil(float64(b.Width)/areaM)), int(math.Ceil(float64(b.Height)/areaM))
		w.areas = make([]ground, w.cols*w.rows)
	}
	w.tried, w.blanks, w.move = nil, 0, false
	explore := 0.5 / (1 + float64(w.days)/6) // of days, fewer with the years
	if w.days == 0 || num.NewStream(b.Seed, "explore").Float64() < explore {
		w.tried = append(w.tried, w.area(b.Start))
		return b.Start
	}
	at := w.best(b.Start, 0)
	w.b.Start = at
	return at
}

func (w *remembering) area(p geo.Local) int {
	x, y := min(max(0, int(p.E/areaM)), w.cols-1), min(max(0, int(p.N/areaM)), w.rows-1)
	return y*w.cols + x
}

// best chooses the area not yet tried today with the best catch by rod-hour, shrunk to the lake's mean, a little less for
// the way there; neighbours count for something. fromM is what a kilometre of walking costs, in shares.
func (w *remembering) best(from geo.Local, perKm float64) geo.Local {
	var all ground
	for _, a := range w.areas {
		all.hours, all.fish = all.hours+a.hours, all.fish+a.fish
	}
	mean := (all.fish + 1) / (all.hours + 1)
	best, bestScore := from, math.Inf(-1)
	for i := range w.areas {
		at := geo.Local{E: (float64(i%w.cols) + 0.5) * areaM, N: (float64(i/w.cols) + 0.5) * areaM}
		tried := false
		for _, t := range w.tried {
			tried = tried || t == i
		}
		if tried || !w.b.Inside(at) || !w.good(at) && w.areas[i].hours < 1 || w.b.Crowded(at, 60) {
			continue
		}
		near := w.near(i)
		score := (near.fish + someHours*mean) / (near.hours + someHours) * (1 - perKm*float64(at.Distance(from))/1000)
		if score > bestScore {
			best, bestScore = at, score
		}
	}
	w.tried = append(w.tried, w.area(best))
	return best
}

// near sums an area and, at a third, its four neighbours.
func (w *remembering) near(i int) ground {
	sum := w.areas[i]
	x, y := i%w.cols, i/w.cols
	for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		if nx, ny := x+d[0], y+d[1]; nx >= 0 && ny >= 0 && nx < w.cols && ny < w.rows {
			a := w.areas[ny*w.cols+nx]
			sum.hours, sum.fish = sum.hours+a.hours/3, sum.fish+a.fish/3
		}
	}
	return sum
}

func (w *remembering) Looked(l Look) {
	before := w.at(l.Hole).marked
	w.line.Looked(l)
	if l.Count > 0 && !before {
		w.blanks = 0
	}
	if l.By != Scout {
		w.areas[w.area(l.At)].hours += l.Length.Hours()
	}
}

func (w *remembering) Caught(c Catch) {
	w.line.Caught(c)
	if c.Landed {
		w.blanks = 0
		worth := 1.0
		if c.Good {
			worth = 2
			if w.b.Aim == Size {
				worth = 6
			}
		}
		w.areas[w.area(c.At)].fish += worth
	}
}

// Scout goes on by line and spiral; after so many blank holes, and with ground remembered, he leads to the next area.
func (w *remembering) Scout(v *View) Order {
	o := w.line.Scout(v)
	if o.Do != Drill {
		return o
	}
	w.blanks++
	if w.blanks > giveUp && w.days > 0 && len(w.tried) < 6 {
		w.blanks, w.turn = 0, 0
		w.last = w.best(v.Scout, 0.4)
		w.drilled[len(w.drilled)-1] = w.last
		o.At = w.last
	}
	return o
}

func (w *remembering) End() {
	w.days++
	for i := range w.areas {
		w.areas[i].hours *= fades
		w.areas[i].fish *= fades
	}
}
