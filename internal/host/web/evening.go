package web

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/ground"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// eveningView is the evening plan on one page.
type eveningView struct {
	Text     say.EveningText
	Lake     string
	Map      planMap
	Day      string
	Prev     string
	Next     string
	TurnBack string
	Printed  string
	LoadOut  []string
	Forecast string
	Depths   string // how far the depths can be trusted
	Light    string // when the light is right for the second target
	Trip     string // where the trip of that day is told; "" when its landing is
	Told     depthsForm
}

// planMap is a small map of a plan as finished shapes, in units of its own view box.
type planMap struct {
	Width, Height string
	Shore         string
	Depths        []mapLine
	Hazards       []mapMark
	HazardLines   []string
	Starts        []mapMark
	Holes         []mapMark
	Landing       *mapMark
	Scale         mapMark // R is its length
	ScaleText     string
}

type mapLine struct{ Path, Text, X, Y string }

type mapMark struct{ X, Y, R, Text, TextX, TextY string }

func (h *handler) evening(w http.ResponseWriter, r *http.Request, v *visit) error {
	ctx := r.Context()
	var view eveningView
	var landing *geo.Local
	var hazards []*lake.Hazard
	today := journal.Day("")
	err := h.Desk.Read(ctx, func(d desk.View) error {
		view.Lake, today = d.Lake.Name, d.Today
		hazards = append(hazards, d.Lake.Hazards...)
		landing = lastLanding(d)
		view.Told = toldDepths(v, d)
		return nil
	})
	if err != nil {
		return err
	}
	day, err := dayOf(r, today, 1)
	if err != nil {
		return err
	}
	plan, err := h.Desk.Evening(ctx, day)
	if err != nil {
		return err
	}
	view.Text = v.voice.Evening(plan)
	view.Told.Stages = optionsOf(stageOptions, plan.Stage)
	if landing != nil {
		for i, s := range plan.Starts {
			view.Text.Starts[i].Where = fmt.Sprintf("%s %s of the landing", v.voice.Units.DistanceText(s.Distance), landing.BearingTo(s.At).Compass())
		}
	}
	q, err := h.Desk.Quality(ctx)
	if err != nil {
		return err
	}
	view.Depths = v.voice.Depths(q)
	if landing == nil {
		view.Trip = "/trip?day=" + string(day)
	}
	view.Day, view.Prev, view.Next = string(day), shift(day, -1), shift(day, 1)
	for _, x := range view.Text.Second {
		view.Light = cmp.Or(x.Light, view.Light) // both halves tell of one day; the later place is the one near home
	}
	view.Printed = "Made " + say.Date(today) + " " + v.voice.Clock(v.now)
	if view.LoadOut, view.Forecast, err = h.loadOut(r, v, plan); err != nil {
		return err
	}
	depths, text := levels(v.settings.Units)
	var asked []quantity.Length
	for i, l := range depths {
		if (i+1)%2 == 0 { // every second line
			asked = append(asked, l)
		}
	}
	lines, outline, err := h.Desk.Contours(ctx, asked)
	if err != nil {
		return err
	}
	view.Map = drawPlan(v, plan, landing, hazards, lines, outline, text)
	return h.show(w, r, v, http.StatusOK, "Evening", eveningPage(view))
}

// lastLanding gives the landing of the newest trip that tells one; nil when none does.
func lastLanding(d desk.View) *geo.Local {
	for i := len(d.Party.Trips) - 1; i >= 0 && d.Lake.Known; i-- {
		if t := d.Party.Trips[i]; t.Landing != nil {
			l := d.Lake.Frame.Local(*t.Landing)
			return &l
		}
	}
	return nil
}

// dayOf reads the day asked for, else the day some days after today.
func dayOf(r *http.Request, today journal.Day, after int) (journal.Day, error) {
	if s := r.URL.Query().Get("day"); s != "" {
		if d := journal.Day(s); d.Valid() {
			return d, nil
		}
		return "", fault.New(fault.BadInput, "Write it as 2026-01-16.", "%q is not a day", s)
	}
	return journal.Day(shift(today, after)), nil
}

func shift(d journal.Day, days int) string {
	return d.Midnight(time.UTC).AddDate(0, 0, days).Format(time.DateOnly)
}

// loadOut lists what the plan makes the party carry, as far as the record tells.
func (h *handler) loadOut(r *http.Request, v *visit, plan advise.EveningPlan) (list []string, forecast string, err error) {
	weather, err := h.Desk.Weather(r.Context())
	if err != nil {
		return nil, "", err
	}
	forecast = "No forecast on record: the turn-back time is the earlier for it."
	if !weather.Issued.IsZero() {
		forecast = "Forecast issued " + v.voice.When(weather.Issued) + ", " + v.voice.Ago(weather.Issued) + "."
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		var trip = d.Party.Trip(journal.Day(plan.Day))
		if trip == nil {
			trip = d.Party.Trip(d.Today)
		}
		if trip != nil {
			list = append(list, rodsWord(trip.Rods)+", "+travelWord(trip.Travel))
			if trip.Drill > 0 {
				list = append(list, "Battery for "+v.voice.Units.DepthText(trip.Drill)+" of ice")
			}
		}
		return nil
	})
	return append(list, "Spud bar, ice picks and rope for the way out", "CO alarm for every heated shelter"), forecast, err
}

func travelWord(way string) string {
	switch way {
	case "machine":
		return "by snow machine"
	case "vehicle":
		return "by vehicle"
	}
	return "on foot"
}

// drawPlan draws the starts with what lies round them: north is up.
func drawPlan(v *visit, plan advise.EveningPlan, landing *geo.Local, hazards []*lake.Hazard, lines []ground.Contour, outline []geo.Polygon, text func(quantity.Length) string) planMap {
	lo, hi := geo.Local{E: math.Inf(1), N: math.Inf(1)}, geo.Local{E: math.Inf(-1), N: math.Inf(-1)}
	grow := func(p geo.Local, by float64) {
		lo.E, lo.N = min(lo.E, p.E-by), min(lo.N, p.N-by)
		hi.E, hi.N = max(hi.E, p.E+by), max(hi.N, p.N+by)
	}
	for _, s := range plan.Starts {
		grow(s.At, s.Radius.Metres()+500)
	}
	if landing != nil {
		grow(*landing, 500)
	}
	if len(plan.Starts) == 0 {
		for _, g := range outline {
			for _, p := range g.Outer {
				grow(p, 0)
			}
		}
	}
	const wide, leastHigh = 640.0, 420.0
	scale := wide / (hi.E - lo.E)
	high := (hi.N - lo.N) * scale
	if high < leastHigh { // a broad plan gets more lake above and below
		extra := (leastHigh/scale - (hi.N - lo.N)) / 2
		lo.N, hi.N, high = lo.N-extra, hi.N+extra, leastHigh
	}
	if most := 620.0; high > most { // a tall one gets more to the sides
		scale = most / (hi.N - lo.N)
		extra := (wide/scale - (hi.E - lo.E)) / 2
		lo.E, hi.E, high = lo.E-extra, hi.E+extra, most
	}
	k := sketcher{lo, hi, scale}
	m := planMap{Width: number(wide), Height: number(high)}
	for _, g := range outline {
		m.Shore += k.path(g.Outer, true)
		for _, i := range g.Holes {
			m.Shore += k.path(i, true)
		}
	}
	for _, l := range lines {
		if len(l.Line) < 8 {
			continue
		}
		c := mapLine{Path: k.path(l.Line, l.Closed)}
		for j := range l.Line {
			i := (j + len(l.Line)/2) % len(l.Line)
			if k.inside(l.Line[i], 30) {
				c.Text, c.X, c.Y = text(l.Level), number(k.x(l.Line[i])), number(k.y(l.Line[i]))
				break
			}
		}
		m.Depths = append(m.Depths, c)
	}
	k.marks(v, &m, plan, landing, hazards)
	return m
}

// sketcher brings places into the units of a small map.
type sketcher struct {
	lo, hi geo.Local
	scale  float64
}

func (k sketcher) x(p geo.Local) float64 { return (p.E - k.lo.E) * k.scale }
func (k sketcher) y(p geo.Local) float64 { return (k.hi.N - p.N) * k.scale }

func (k sketcher) inside(p geo.Local, margin float64) bool {
	x, y := k.x(p), k.y(p)
	return x > margin && y > margin && x < (k.hi.E-k.lo.E)*k.scale-margin && y < (k.hi.N-k.lo.N)*k.scale-margin
}

func (k sketcher) path(pts []geo.Local, closed bool) string {
	var b strings.Builder
	for i, p := range pts {
		c := 'L'
		if i == 0 {
			c = 'M'
		}
		fmt.Fprintf(&b, "%c%.1f %.1f", c, k.x(p), k.y(p))
	}
	if closed {
		b.WriteByte('Z')
	}
	return b.String()
}

func (k sketcher) mark(p geo.Local, radius float64, text string) mapMark {
	x, y := k.x(p), k.y(p)
	return mapMark{X: number(x), Y: number(y), R: number(radius), Text: text, TextX: number(x), TextY: number(y + 8)}
}

// marks draws what stands on the map.
func (k sketcher) marks(v *visit, m *planMap, plan advise.EveningPlan, landing *geo.Local, hazards []*lake.Hazard) {
	for _, z := range hazards {
		if !z.InForce() {
			continue
		}
		shown := -1
		for i, p := range z.Points {
			if k.inside(p, 10) {
				shown = i
				break
			}
		}
		if len(z.Points) > 1 {
			m.HazardLines = append(m.HazardLines, k.path(z.Points, z.Shape == "area"))
		}
		if shown >= 0 {
			c := k.mark(z.Points[shown], math.Max(7, z.Radius.Metres()*k.scale), v.voice.HazardAge(z))
			if len(z.Points) > 1 {
				c.R = "0" // the line stands for itself
			}
			c.TextX, c.TextY = number(math.Min(math.Max(k.x(z.Points[shown]), 90), (k.hi.E-k.lo.E)*k.scale-90)), number(k.y(z.Points[shown])+28)
			m.Hazards = append(m.Hazards, c)
		}
	}
	for _, p := range plan.Pattern.Holes {
		m.Holes = append(m.Holes, k.mark(p, 2.5, ""))
	}
	for _, s := range plan.Starts {
		m.Starts = append(m.Starts, k.mark(s.At, math.Max(17, s.Radius.Metres()*k.scale), s.Letter))
	}
	if landing != nil && k.inside(*landing, 5) {
		l := k.mark(*landing, 6, "landing")
		l.TextY = number(k.y(*landing) - 12)
		m.Landing = &l
	}
	bar := 100.0
	for _, r := range []float64{200, 500, 1000, 2000, 5000} {
		if r*k.scale < 180 {
			bar = r
		}
	}
	m.Scale, m.ScaleText = mapMark{R: number(bar * k.scale)}, v.voice.Units.DistanceText(quantity.Length(bar))
}
