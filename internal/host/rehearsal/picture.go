package rehearsal

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/world"
)

// picture is a way's day at a moment as finished shapes, in units of its own view box; north is up.
type picture struct {
	Label     string
	Far       bool   // the whole lake is shown
	Hatch     string // name of the crowds' hatching, one a picture
	Edge      string // of the made-up lake
	Depths    []depthLine
	Crowds    []mark
	Resting   string // lenses
	Feeding   string // diamonds
	Holes     string // rings
	Marked    string // dots in the rings
	Caught    string // filled rings
	Leaders   string // from a guest's number to where he is
	Landing   *mark
	Scout     string // a triangle
	ScoutAt   mark
	Guests    []seat
	Bar       mark // R is the scale bar's length
	BarText   string
	Elsewhere string
}

type depthLine struct{ Path, Text, X, Y string }

type mark struct{ X, Y, R, Text, TextX, TextY string }

// seat is a guest: a square with his number when there is room, without when the whole lake is shown.
type seat struct {
	X, Y, Side, Text, TextX, TextY string
	Walking                        bool
}

// The picture's own units: on a phone one is about a pixel.
const (
	wide   = 400.0
	high   = 300.0
	margin = 60.0 // m round the ground where the party went
	least  = 320.0
)

// window brings places into the picture's units.
type window struct {
	lo    geo.Local // its south-west corner
	scale float64   // units a metre
	near  bool
}

func (w window) x(p geo.Local) float64 { return (p.E - w.lo.E) * w.scale }
func (w window) y(p geo.Local) float64 { return high - (p.N-w.lo.N)*w.scale }

func (w window) shows(p geo.Local, beyond float64) bool {
	x, y := w.x(p), w.y(p)
	return x > -beyond && y > -beyond && x < wide+beyond && y < high+beyond
}

// windowOf frames the whole lake, or the ground where the party went that day: it stays the same all day.
func windowOf(w rehearse.Walked, near bool) window {
	if !near {
		return window{scale: wide / world.WidthM}
	}
	lo, hi := geo.Local{E: math.Inf(1), N: math.Inf(1)}, geo.Local{E: math.Inf(-1), N: math.Inf(-1)}
	for _, h := range w.Holes {
		lo = geo.Local{E: min(lo.E, h.At.E), N: min(lo.N, h.At.N)}
		hi = geo.Local{E: max(hi.E, h.At.E), N: max(hi.N, h.At.N)}
	}
	if len(w.Holes) == 0 {
		lo, hi = geo.Local{}, geo.Local{E: world.WidthM, N: world.HeightM}
	}
	span := max(hi.E-lo.E+2*margin, (hi.N-lo.N+2*margin)*wide/high, least)
	mid := geo.Local{E: (lo.E + hi.E) / 2, N: (lo.N + hi.N) / 2}
	return window{lo: geo.Local{E: mid.E - span/2, N: mid.N - span/2*high/wide}, scale: wide / span, near: true}
}

// draw makes a way's picture at a frame. which tells the pictures of a page apart.
func draw(u *rehearse.Unfolded, w rehearse.Walked, f rehearse.Frame, l look, units quantity.System, which int) picture {
	k := windowOf(w, l.Near)
	p := picture{Far: !l.Near, Hatch: "crowd-" + strconv.Itoa(which), Label: fmt.Sprintf("The made-up lake at %s by %s: depth, crowds, holes and the party; north is up", clock(l.At), w.Way)}
	p.Depths = k.depths(u, units)
	p.Edge = k.line([]geo.Local{{}, {E: world.WidthM}, {E: world.WidthM, N: world.HeightM}, {N: world.HeightM}}, true)
	for _, c := range u.Crowds {
		r := float64(c.Radius) * k.scale
		if k.shows(c.At, r) {
			p.Crowds = append(p.Crowds, mark{X: number(k.x(c.At)), Y: number(k.y(c.At)), R: number(r), Text: "crowd", TextX: number(inset(k.x(c.At), 34, wide)), TextY: number(inset(k.y(c.At)+6, 20, high))})
		}
	}
	if l.Truth {
		p.Resting, p.Feeding = k.schools(f)
	}
	k.holes(&p, w, l.At)
	if k.shows(u.Landing, 1) { // it lies on the lake's edge
		x, y := k.x(u.Landing), k.y(u.Landing)
		beside := x + 46
		if beside > wide-40 {
			beside = x - 46
		}
		p.Landing = &mark{X: number(x), Y: number(y), Text: "landing", TextX: number(beside), TextY: number(y - 2)}
	}
	k.party(&p, f)
	bar := 50.0
	for _, m := range []float64{100, 200, 500} {
		if m*k.scale < 130 {
			bar = m
		}
	}
	if units == quantity.US { // a scale in yards
		bar *= float64(quantity.Yard)
	}
	p.Bar, p.BarText = mark{R: number(bar * k.scale)}, units.DistanceText(quantity.Length(bar))
	return p
}

// depths draws the lines of the chart, every second labelled where there is room for it.
func (k window) depths(u *rehearse.Unfolded, units quantity.System) (out []depthLine) {
	step, unit := quantity.Metre, quantity.Metre
	if units == quantity.US {
		step, unit = 5*quantity.Foot, quantity.Foot
	}
	var levels []quantity.Length
	for d := step; d < 20*quantity.Metre; d += step {
		levels = append(levels, d)
	}
	var taken [][2]float64
	for _, c := range u.Chart.Contours(levels) {
		if len(c.Line) < 8 || !slices.ContainsFunc(c.Line, func(p geo.Local) bool { return k.shows(p, 0) }) {
			continue
		}
		d := depthLine{Path: k.line(c.Line, c.Closed)}
		for i := range c.Line {
			p := c.Line[(i+len(c.Line)/2)%len(c.Line)]
			x, y := k.x(p), k.y(p)
			crowded := slices.ContainsFunc(taken, func(t [2]float64) bool { return math.Hypot(t[0]-x, t[1]-y) < 60 })
			if k.shows(p, -22) && !crowded {
				d.Text, d.X, d.Y = strconv.Itoa(int(math.Round(float64(c.Level/unit)))), number(x), number(y+5)
				taken = append(taken, [2]float64{x, y})
				break
			}
		}
		out = append(out, d)
	}
	return out
}

func (k window) line(pts []geo.Local, closed bool) string {
	var b strings.Builder
	for i, p := range pts {
		c := byte('L')
		if i == 0 {
			c = 'M'
		}
		b.WriteByte(c)
		b.WriteString(number(k.x(p)) + " " + number(k.y(p)))
	}
	if closed {
		b.WriteByte('Z')
	}
	return b.String()
}

// schools draws the truth: a school that feeds is a filled diamond, one that does not a lens, hollow and flat, so that
// it is no hole either. Neither is drawn smaller than can be seen. The shapes are short to write: there are hundreds.
func (k window) schools(f rehearse.Frame) (resting, feeding string) {
	smallest, fed := 2.0, 5.0
	if k.near {
		smallest, fed = 4, 7.5
	}
	var rest, feed strings.Builder
	for _, s := range f.Schools {
		p := geo.Local{E: float64(s.EastM), N: float64(s.NorthM)}
		r := math.Max(smallest, float64(s.RadiusM)*k.scale)
		if !k.shows(p, r) {
			continue
		}
		if s.Feeding {
			r = math.Max(r, fed)
			n := number(r)
			fmt.Fprintf(&feed, "M%s %sl%s %s %s %s-%s %sz", number(k.x(p)), number(k.y(p)-r), n, n, "-"+n, n, n, "-"+n)
		} else {
			half, bulge := number(1.4*r), number(r)
			fmt.Fprintf(&rest, "M%s %sq%s-%s %s 0-%s %s-%s 0z", number(k.x(p)-1.4*r), number(k.y(p)), half, bulge, number(2.8*r), half, bulge, number(2.8*r))
		}
	}
	return rest.String(), feed.String()
}

// ring writes a circle as a path, so that all holes are one shape of the page.
func ring(x, y, r float64) string {
	n, d := number(r), number(2*r)
	return "M" + number(x-r) + " " + number(y) + "a" + n + " " + n + " 0 1 0 " + d + " 0a" + n + " " + n + " 0 1 0-" + d + " 0z"
}

// holes draws the holes drilled so far: empty, with a dot once marks showed, filled once a fish came up.
func (k window) holes(p *picture, w rehearse.Walked, now time.Duration) {
	r := 2.0
	if k.near {
		r = 4.5
	}
	var empty, dots, full strings.Builder
	for _, h := range w.Holes {
		if h.Drilled > now || !k.shows(h.At, r) {
			continue
		}
		x, y := k.x(h.At), k.y(h.At)
		switch {
		case len(h.Fish) > 0 && h.Fish[0] <= now:
			full.WriteString(ring(x, y, r))
		case h.Marks <= now && h.Marks < world.Length:
			dots.WriteString(ring(x, y, 0.4*r))
			fallthrough
		default:
			empty.WriteString(ring(x, y, r))
		}
	}
	p.Holes, p.Marked, p.Caught = empty.String(), dots.String(), full.String()
}

// party draws scout and guests. Where the whole lake is shown a guest is a small square; else a square with his number,
// moved aside, with a line to his place, where two would cover each other.
func (k window) party(p *picture, f rehearse.Frame) {
	x, y := k.x(f.Scout), k.y(f.Scout)
	size := 9.0
	if !k.near {
		size = 7
	}
	p.Scout = fmt.Sprintf("M%s %sL%s %sL%s %sz", number(x), number(y-1.2*size), number(x+size), number(y+0.8*size), number(x-size), number(y+0.8*size))
	side := 22.0
	if !k.near {
		side = 7
	}
	taken := [][2]float64{{x, y}}
	var leaders strings.Builder
	for i, g := range f.Guests {
		gx, gy := k.x(g.At), k.y(g.At)
		if !k.shows(g.At, side/2) {
			p.Elsewhere = "The party is on its way from the landing."
			continue
		}
		at := [2]float64{gx, gy}
		if k.near {
			at = free(at, side+3, taken)
			if at[0] != gx || at[1] != gy {
				fmt.Fprintf(&leaders, "M%s %sL%s %s", number(gx), number(gy), number(at[0]), number(at[1]))
			}
			taken = append(taken, at)
		}
		s := seat{X: number(at[0] - side/2), Y: number(at[1] - side/2), Side: number(side), Walking: !g.Fishing}
		if k.near {
			s.Text, s.TextX, s.TextY = strconv.Itoa(i+1), number(at[0]), number(at[1])
		}
		p.Guests = append(p.Guests, s)
	}
	p.Leaders = leaders.String()
}

// free finds a place for a square near where it belongs that covers none of those taken and lies in the picture.
func free(at [2]float64, apart float64, taken [][2]float64) [2]float64 {
	for turn := range 4 {
		for k := range 8 {
			a := float64(k) * math.Pi / 4
			r := float64(turn) * apart
			p := [2]float64{at[0] + r*math.Cos(a), at[1] + r*math.Sin(a)}
			p[0], p[1] = inset(p[0], 12, wide), inset(p[1], 12, high)
			if !slices.ContainsFunc(taken, func(t [2]float64) bool { return math.Max(math.Abs(t[0]-p[0]), math.Abs(t[1]-p[1])) < apart }) {
				return p
			}
		}
	}
	return at
}

// inset keeps a coordinate clear of the picture's rim.
func inset(x, by, most float64) float64 { return math.Max(by, math.Min(most-by, x)) }

// legend explains the ways and the shapes in words.
func legend(q question, l look) []string {
	var out []string
	for _, name := range q.ways() {
		out = append(out, name+": "+meanings[name]+".")
	}
	out = append(out, "Triangle: the scout. Black square: a guest who fishes; white: one who walks or waits. Hatched: another party. Dashed: depth on the guide's chart.",
		"Ring: a hole; with a dot: it showed marks; filled: it gave a fish. Below: fish as high strokes, holes as low ones, through the day.")
	if l.Truth {
		out = append(out, "Truth, which no way saw but the knowing ones: diamond, a school that feeds; thin lens, one that does not.")
	}
	return out
}
