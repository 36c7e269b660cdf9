package web

import (
	"math"
	"slices"
	"strconv"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// icePlan is what is on the ice about the phone, to scale, north up: a dot for each load, and about it the circle within
// which another load weighs with it.
type icePlan struct {
	Width, Height string
	Loads         []planLoad
	Gaps          []planGap
	Holes         []mapMark
	Here          *mapMark
	Scale         mapMark
	ScaleText     string
	Says          string // what the circles mean
}

type planLoad struct {
	mapMark
	Reach string // of its circle
	Due   bool
}

// planGap is the distance between two loads whose circles meet.
type planGap struct{ Path, Text, X, Y string }

// The plan's own units, and how much ice it shows.
const (
	planWide  = 490.0
	planHigh  = 330.0
	planLeast = 12.0  // m up and down
	planEdge  = 6.0   // m about the outermost
	planMost  = 200.0 // m: what stands farther off is listed and not drawn
)

// planIce draws what is on the ice; nil when nothing is near.
func planIce(d desk.View, v *visit, on desk.Loads) *icePlan {
	if len(on.All) == 0 || !(on.Reach > 0) {
		return nil
	}
	about := on.At
	near := func(x safety.OnIce) bool { return x.At.Distance(about).Metres() <= planMost }
	if !slices.ContainsFunc(on.All, near) {
		about = on.All[0].At
	}
	lo, hi := about, about
	for _, x := range on.All {
		if near(x) {
			lo = geo.Local{E: min(lo.E, x.At.E), N: min(lo.N, x.At.N)}
			hi = geo.Local{E: max(hi.E, x.At.E), N: max(hi.N, x.At.N)}
		}
	}
	centre, edge := geo.Local{E: (lo.E + hi.E) / 2, N: (lo.N + hi.N) / 2}, on.Reach.Metres()+planEdge
	reach := max(planLeast, (hi.N-lo.N)/2+edge, ((hi.E-lo.E)/2+edge)*planHigh/planWide)
	k := sketcher{lo: geo.Local{E: centre.E - reach*planWide/planHigh, N: centre.N - reach}, hi: geo.Local{E: centre.E + reach*planWide/planHigh, N: centre.N + reach}, scale: planHigh / (2 * reach)}
	p := &icePlan{Width: number(planWide), Height: number(planHigh), Says: "Circle: " + v.voice.Units.DistanceText(on.Reach) + ". What stands within one weighs with it."}
	due := map[int]bool{}
	for i, s := range on.Judged {
		due[i] = v.voice.Stood(s).Due
	}
	for i, x := range on.All {
		if !near(x) {
			continue
		}
		m := planLoad{k.mark(x.At, 7, v.loadWord(x)), number(on.Reach.Metres() * k.scale), due[i]}
		m.TextX, m.TextY = number(k.x(x.At)), number(k.y(x.At)-13)
		if i%2 == 1 { // neighbours' words keep out of each other's way
			m.TextY = number(k.y(x.At) + 27)
		}
		p.Loads = append(p.Loads, m)
	}
	p.gaps(on, v, k, near)
	for _, r := range d.Lake.Ice {
		if r.Day == d.Today && r.Placed && k.inside(r.At, 0) {
			p.Holes = append(p.Holes, k.mark(r.At, 4, ""))
		}
	}
	if k.inside(on.At, 0) {
		m := k.mark(on.At, 0, "")
		p.Here = &m
	}
	bar := 5.0
	for _, l := range []float64{10, 20, 50, 100} {
		if l*k.scale < planWide/3 {
			bar = l
		}
	}
	p.Scale, p.ScaleText = mapMark{R: number(bar * k.scale)}, v.voice.Units.DistanceText(quantity.Length(bar))
	return p
}

// loadWord says what a dot of the plan is.
func (v *visit) loadWord(x safety.OnIce) string {
	if x.Since.IsZero() {
		return personsWord(max(1, int(math.Round(float64(x.Mass/safety.PersonMass)))))
	}
	return x.What + ", " + v.voice.Units.MassText(x.Mass)
}

// gaps writes the distance between loads whose circles meet, unless they stand on one spot.
func (p *icePlan) gaps(on desk.Loads, v *visit, k sketcher, near func(safety.OnIce) bool) {
	for i, a := range on.All {
		for _, b := range on.All[:i] {
			d := a.At.Distance(b.At)
			if !near(a) || !near(b) || d > on.Reach || d.Metres()*k.scale < 40 {
				continue
			}
			p.Gaps = append(p.Gaps, planGap{k.path([]geo.Local{a.At, b.At}, false), v.voice.Units.NearText(d), number((k.x(a.At) + k.x(b.At)) / 2), number((k.y(a.At)+k.y(b.At))/2 - 6)})
		}
	}
}

// tableView is a table that may be put in force.
type tableView struct {
	Agency, Says string
	Looser       bool // than the default: wants a name
	Chosen       bool
}

// tablesBy lists the tables with what they ask for on foot and under a snow machine.
func tablesBy(inForce safety.Table) []tableView {
	var out []tableView
	for _, t := range safety.Tables() {
		out = append(out, tableView{t.Agency, say.TableName(t), !safety.Stricter(t, safety.DefaultTable()), t.Agency == inForce.Agency})
	}
	return out
}

func personsWord(n int) string {
	if n == 1 {
		return "1 person"
	}
	return strconv.Itoa(n) + " people"
}
