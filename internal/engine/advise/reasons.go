package advise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/plan"
	"icehand/internal/trade/lake"
)

const (
	around  = 100 * quantity.Metre // looks within it speak for a place
	record  = 150 * quantity.Metre // looks of past days within it
	newest  = 2 * time.Hour        // older looks of today speak no more
	fewest  = 3                    // looks of past days before the record speaks
	crowded = 250 * quantity.Metre
)

func lengthOf(metres float64) quantity.Length { return quantity.Length(metres) }

func count(e event) int {
	if f, ok := e.body.(plan.Fish); ok {
		return f.Count
	}
	return 1
}

// lively tells whether an event shows fish.
func lively(e event) bool {
	switch b := e.body.(type) {
	case plan.Look:
		return b.Marks != lake.None
	case plan.Fish, plan.Bite:
		return true
	}
	return false
}

// why gives the reasons for a place, the largest first, at least one.
func (w *world) why(p geo.Local, o plan.Odds) []Reason {
	out := w.nearLooks(p, o)
	out = append(out, w.pastLooks(p)...)
	if r, ok := w.headingReason(p); ok {
		out = append(out, r)
	}
	if r, ok := w.depthReason(p); ok {
		out = append(out, r)
	}
	if r, ok := w.formReason(p); ok {
		out = append(out, r)
	}
	out = append(out, w.crowdReasons(p)...)
	out = append(out, w.caughtReasons(p)...)
	for _, s := range w.in.Lake.Sketches {
		if s.Weight != 0 && s.Area.Contains(p) && (s.Stage == "" || s.Stage == string(w.season.Stage)) {
			out = append(out, Reason{Code: "sketch", Weight: 0.15 * math.Abs(float64(s.Weight)), Count: s.Weight, Prior: BySketch})
			break
		}
	}
	if r, ok := w.hourReason(); ok {
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b Reason) int { return cmp.Compare(b.Weight, a.Weight) })
	return out
}

// nearLooks tells of today's looks near a place, or that there were none.
func (w *world) nearLooks(p geo.Local, o plan.Odds) []Reason {
	r := Reason{Code: "looks_near", Near: around}
	newestLook, newestMarks := time.Duration(-1), time.Duration(-1)
	for i := len(w.today) - 1; i >= 0; i-- {
		e := w.today[i]
		l, ok := e.body.(plan.Look)
		if !ok || e.at.Distance(p) > around || w.in.Now.Sub(e.when) > newest {
			continue
		}
		age := w.in.Now.Sub(e.when)
		r.Of++
		r.Looks = append(r.Looks, e.id)
		r.Oldest = max(r.Oldest, age)
		if newestLook < 0 || age < newestLook {
			newestLook = age
		}
		if l.Marks != lake.None {
			if r.Count++; newestMarks < 0 || age < newestMarks {
				newestMarks = age
			}
		}
		if e.hole != nil && !slices.Contains(r.Holes, e.hole.ID) && (l.Marks != lake.None || r.Count == 0) {
			r.Holes = append(r.Holes, e.hole.ID)
		}
	}
	if r.Of == 0 {
		return []Reason{{Code: "fresh_ground", Weight: 0.4, Near: around, Prior: ByStage}}
	}
	r.Age = newestLook
	r.Weight = 0.3
	if r.Count > 0 {
		r.Age = newestMarks
		r.Weight = 0.5 + 0.4*float64(r.Count)/float64(r.Of)
	}
	if o.Known > o.Fresh {
		r.Weight += 0.1
	}
	return []Reason{r}
}

// pastLooks tells of past days' looks near a place.
func (w *world) pastLooks(p geo.Local) []Reason {
	r := Reason{Code: "season_record", Near: record, Prior: ByRecord}
	midnight := w.day.Midnight(w.in.Lake.Zone)
	for i := len(w.in.Lake.Looks) - 1; i >= 0; i-- {
		l := w.in.Lake.Looks[i]
		if !l.When.Before(midnight) || l.When.After(w.in.Now) {
			continue
		}
		h := w.in.Lake.Hole(l.Hole)
		if h == nil || !h.Placed || h.At.Distance(p) > record {
			continue
		}
		if r.Of == 0 {
			r.Age = w.in.Now.Sub(l.When)
		}
		r.Of++
		if l.Marks != lake.None {
			r.Count++
			if len(r.Holes) < 6 {
				r.Holes = append(r.Holes, h.ID)
			}
		}
	}
	if r.Of < fewest {
		return nil
	}
	r.Weight = 0.2 + 0.5*float64(r.Count)/float64(r.Of)
	return []Reason{r}
}

// headingReason tells whether marks moved from hole to hole towards a place: the newest three holes with marks or fish of
// the last hour lie on one course.
func (w *world) headingReason(p geo.Local) (Reason, bool) {
	var seen []event
	for i := len(w.today) - 1; i >= 0 && len(seen) < 3; i-- {
		e := w.today[i]
		if w.in.Now.Sub(e.when) > time.Hour {
			break
		}
		if lively(e) && (len(seen) == 0 || seen[len(seen)-1].at.Distance(e.at) > 8) {
			seen = append(seen, e)
		}
	}
	if len(seen) < 3 {
		return Reason{}, false
	}
	c, b, a := seen[0], seen[1], seen[2] // a was first
	course, again, on := a.at.BearingTo(b.at), b.at.BearingTo(c.at), c.at.BearingTo(p)
	const same = 45.0 // degrees
	if turned(course, again) > same || turned(again, on) > same || c.at.Distance(p) > 150 {
		return Reason{}, false
	}
	r := Reason{Code: "heading", Weight: 0.6, Toward: a.at.BearingTo(c.at), Age: w.in.Now.Sub(c.when)}
	for _, e := range []event{a, b, c} {
		if e.hole != nil {
			r.Holes = append(r.Holes, e.hole.ID)
		}
	}
	return r, true
}

func turned(a, b quantity.Bearing) float64 { return math.Abs(math.Remainder(float64(a-b), 360)) }

// depthReason tells that a place has a depth at which perch keep, by the stage or by the record.
func (w *world) depthReason(p geo.Local) (Reason, bool) {
	if w.in.Surface == nil {
		return Reason{}, false
	}
	d := w.in.Surface.At(p)
	if !d.Known || w.season.DepthPreference(d.Mean, 0, true) < 0.7 {
		return Reason{}, false
	}
	factor, _ := w.filter.DepthWorth(p)
	r := Reason{Code: "depth_band", Weight: 0.25 + 0.1*num1(factor-1), Depth: d.Mean, Rate: factor, Prior: ByStage}
	if w.depths.High > 0 {
		r.Code, r.Prior, r.Age = "told_depth", BySketch, w.in.Now.Sub(w.depths.When)
		r.Band = [2]quantity.Length{w.depths.Low, w.depths.High}
	}
	return r, true
}

// formReason tells that a place lies on a form of the bottom over which looks have met clearly more, or less, than elsewhere.
func (w *world) formReason(p geo.Local) (Reason, bool) {
	const clearly = 0.1
	kind, factor, ok := w.filter.FormWorth(p)
	if !ok || math.Abs(math.Log(factor)) < clearly {
		return Reason{}, false
	}
	r := Reason{Code: "bottom_form", Weight: 0.1 + 0.1*math.Abs(num1(factor-1)), Rate: factor, Form: kind.String()}
	if w.evidence.Days > 0 {
		r.Prior = ByRecord
	}
	return r, true
}

func num1(x float64) float64 { return math.Max(-1, math.Min(1, x)) }

// crowdReasons tells of other parties close by.
func (w *world) crowdReasons(p geo.Local) []Reason {
	for i := len(w.in.Lake.Crowds) - 1; i >= 0; i-- {
		c := w.in.Lake.Crowds[i]
		age := w.in.Now.Sub(c.When)
		d := max(0, c.At.Distance(p)-c.Radius)
		if c.Gone || age < 0 || age > 6*time.Hour || d > crowded {
			continue
		}
		return []Reason{{Code: "crowd", Weight: 0.2, Count: c.Shelters, Near: max(d, 10*quantity.Metre), Age: age}}
	}
	return nil
}

// caughtReasons tells of fish taken near a place in the last hours.
func (w *world) caughtReasons(p geo.Local) []Reason {
	const much, near = 5, 60 * quantity.Metre
	r := Reason{Code: "caught_out", Weight: 0.2, Near: near}
	for _, e := range w.today {
		if f, ok := e.body.(plan.Fish); ok && e.at.Distance(p) <= near {
			r.Count += f.Count
			r.Age = w.in.Now.Sub(e.when)
			if e.hole != nil && !slices.Contains(r.Holes, e.hole.ID) {
				r.Holes = append(r.Holes, e.hole.ID)
			}
		}
	}
	if r.Count < much {
		return nil
	}
	return []Reason{r}
}

// turnBackReason tells how long is left until the turn-back time; Age is below zero when it is over.
func (w *world) turnBackReason() Reason {
	at, told := w.turnBack()
	r := Reason{Code: "turn_back", Age: at.Sub(w.in.Now), Text: w.in.Home.Binding.Text}
	if !told {
		r.Text = "no turn-back time was worked out: counted two hours before sunset"
	}
	return r
}

// changes says what would change the step.
func (w *world) changes(s *Step) {
	add := func(r Reason) { s.Changes = append(s.Changes, r) }
	switch s.Do {
	case Drill, Look:
		add(Reason{Code: "marks_next", Weight: 0.5, Text: "marks at the next look: a second look half a minute later, then lines"})
	case Stay, Move:
		add(Reason{Code: "blank_next", Weight: 0.5, Text: "nothing seen until the clock runs out: move on"})
	case Wait:
		add(Reason{Code: "reading_next", Weight: 0.5, Text: "a fix, or an ice reading nearer by"})
	}
	if n := w.options.HolesLeft; n > 0 && n <= 5 && s.Do == Drill {
		add(Reason{Code: "holes_left", Weight: 0.4, Count: n, Text: "few holes left in the batteries"})
	}
	const nearing = 90 * time.Minute
	if r := w.turnBackReason(); r.Age < nearing || r.Text != "" && w.in.Home.At.IsZero() {
		r.Weight = 0.4
		add(r)
	}
	if r, ok := w.windowReason(s.Windows); ok {
		add(r)
	}
	if code := w.in.Home.Binding.Code; code == "wind_shift" || code == "front" || code == "sight" {
		add(Reason{Code: code, Weight: 0.3, Age: w.in.Home.Binding.When.Sub(w.in.Now), Text: w.in.Home.Binding.Text})
	}
}

// anchor names the numbered hole from which a place is easiest to find: today's newest hole within reach, or the nearest.
func (w *world) anchor(p geo.Local) *Anchor {
	var best *lake.Hole
	today := w.in.Lake.HolesOn(w.day)
	for _, h := range today {
		if !h.Placed || h.Label == "retracted" || h.Drilled.After(w.in.Now) {
			continue
		}
		if best == nil || h.At.Distance(p) < best.At.Distance(p) {
			best = h
		}
	}
	day := ""
	if best == nil { // a hole of an earlier day, if near
		for i := len(w.in.Lake.Holes) - 1; i >= 0; i-- {
			h := w.in.Lake.Holes[i]
			if h.Placed && h.Label != "retracted" && !h.Drilled.After(w.in.Now) && h.At.Distance(p) < 300 && (best == nil || h.At.Distance(p) < best.At.Distance(p)) {
				best, day = h, string(h.Day)
			}
		}
	}
	if best == nil {
		return nil
	}
	d := best.At.Distance(p)
	a := &Anchor{Hole: best.ID, Number: best.Number, Day: day, Paces: w.paces(d)}
	if a.Paces > 0 {
		a.Bearing = best.At.BearingTo(p)
		a.OnLine = online(today, best, p)
	}
	return a
}

// paces turns a distance into the guide's paces.
func (w *world) paces(d quantity.Length) int { return int(math.Round(float64(d / w.options.Pace))) }

// online gives the numbers of the two holes whose line a place continues, nil when it lies off.
func online(today []*lake.Hole, last *lake.Hole, p geo.Local) *[2]int64 {
	const offCourse = 10.0 // degrees
	for i := len(today) - 1; i >= 0; i-- {
		h := today[i]
		if h.ID == last.ID || !h.Placed || h.Label == "retracted" || h.Drilled.After(last.Drilled) {
			continue
		}
		if h.At.Distance(last.At) > 15 && turned(h.At.BearingTo(last.At), last.At.BearingTo(p)) <= offCourse {
			return &[2]int64{h.Number, last.Number}
		}
		return nil
	}
	return nil
}

// lineBearing gives the course of a line of holes: on from the last two of today without a hit, else along the depth
// contour, else away from the nearest bank.
func (w *world) lineBearing(from geo.Local, looks []plan.Looked) quantity.Bearing {
	if n := len(looks); n >= 2 && looks[n-2].At.Distance(looks[n-1].At) > 15 && !looks[n-1].Hit && !looks[n-2].Hit {
		return looks[n-2].At.BearingTo(looks[n-1].At)
	}
	const step = 60.0 // m
	depth := func(e, n float64) (float64, bool) {
		d := w.in.Surface.At(from.Add(geo.Local{E: e, N: n}))
		return float64(d.Mean), d.Known
	}
	e1, ok1 := depth(step, 0)
	e0, ok0 := depth(-step, 0)
	n1, ok2 := depth(0, step)
	n0, ok3 := depth(0, -step)
	if ok0 && ok1 && ok2 && ok3 && math.Hypot(e1-e0, n1-n0) > 0.2 {
		return quantity.NewBearing(math.Atan2(-(n1-n0), e1-e0)*180/math.Pi + 0) // across the slope
	}
	best, bearing := -1.0, quantity.Bearing(0)
	for b := 0.0; b < 360; b += 30 {
		p := from.Toward(quantity.Bearing(b), 300)
		if d := float64(w.in.Surface.ShoreDistance(p)); w.in.Surface.OnWater(p) && d > best {
			best, bearing = d, quantity.Bearing(b)
		}
	}
	return bearing
}
