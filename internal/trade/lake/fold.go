package lake

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// faceWind brings a wind read at face height to 10 m: the face value is two thirds of it [OsczevskiBluestein2005].
const faceWind = 1.5

func (v *View) fold(f *journal.Fact) {
	if f.Entry.Lake != v.ID && f.Entry.Kind != journal.KindSetting {
		return
	}
	if !f.Counts() {
		if _, unknown := f.Body.(*journal.Unknown); unknown {
			v.Left = append(v.Left, f)
		}
		v.keepNumber(f)
		return
	}
	if f.Flag != "" {
		v.Left = append(v.Left, f)
	}
	if b, ok := f.Body.(*journal.Lake); ok {
		v.foldLake(f, b)
		return
	}
	if !v.Known {
		v.pending = append(v.pending, f)
		return
	}
	v.place(f)
}

// keepNumber lets a retracted hole keep its number: it is never given to another hole.
func (v *View) keepNumber(f *journal.Fact) {
	if b, ok := f.Body.(*journal.Hole); ok {
		v.Holes = journal.InsertByTime(v.Holes, &Hole{ID: f.Entry.ID, Number: b.Number, Day: f.Entry.Day, Writer: f.Entry.Account, Drilled: f.At, Label: "retracted"},
			func(h *Hole) time.Time { return h.Drilled })
	}
}

func (v *View) foldLake(f *journal.Fact, b *journal.Lake) {
	if zone, err := time.LoadLocation(b.Zone); err == nil {
		v.Zone = zone
	}
	v.Name, v.FreezeUp = b.Name, b.FreezeUp
	if v.Known || !b.Origin.Position().Valid() {
		return // the origin is fixed by the first entry
	}
	v.Known, v.Frame = true, geo.NewFrame(b.Origin.Position())
	waiting := v.pending
	v.pending = nil
	for _, p := range waiting {
		v.place(p)
	}
}

// place folds a fact of a lake whose plane is known.
func (v *View) place(f *journal.Fact) {
	switch b := f.Body.(type) {
	case *journal.Layer:
		v.Layers = journal.InsertByTime(v.Layers, Layer{f.Entry.ID, f.At, *b}, func(l Layer) time.Time { return l.When })
	case *journal.Hole:
		v.foldHole(f, b)
	case *journal.HoleState:
		v.foldHoleState(f, b)
	case *journal.Look:
		v.foldLook(f, b)
	case *journal.Ice:
		v.foldIce(f, b)
	case *journal.Hazard:
		v.foldHazard(f, b)
	case *journal.Crowd:
		v.Crowds = journal.InsertByTime(v.Crowds, &Crowd{f.Entry.ID, f.At, v.local(b.At), quantity.FromMillimetres(b.Radius), int(b.Shelters), b.Gone},
			func(c *Crowd) time.Time { return c.When })
	case *journal.Weather:
		v.foldWeather(f, b)
	case *journal.Sketch:
		v.foldSketch(f, b)
	case *journal.LoadParked:
		v.foldParked(f, b)
	case *journal.Track:
		v.Tracks = journal.InsertByTime(v.Tracks, Track{f.Entry.ID, f.At, f.Entry.Day, f.Entry.Account, *b}, func(t Track) time.Time { return t.When })
	case *journal.Setting:
		v.settings[b.Key] = journal.InsertByTime(v.settings[b.Key], Setting{f.At, b.Value}, func(s Setting) time.Time { return s.When })
	}
}

func (v *View) local(p journal.Point) geo.Local { return v.Frame.Local(p.Position()) }

func (v *View) foldHole(f *journal.Fact, b *journal.Hole) {
	h := &Hole{ID: f.Entry.ID, Number: b.Number, Label: b.Label, Day: f.Entry.Day, Writer: f.Entry.Account, Drilled: f.At,
		DepthBy: b.DepthBy, Imported: b.Source != nil, from: b.From}
	if b.Depth != nil {
		h.Depth = quantity.FromMillimetres(*b.Depth)
	}
	if b.Accuracy != nil {
		h.Accuracy = quantity.FromMillimetres(*b.Accuracy)
	}
	if b.Diameter != nil {
		h.Diameter = quantity.FromMillimetres(*b.Diameter)
	}
	if b.At != nil {
		h.Placed, h.At = true, v.local(*b.At)
	} else if b.From != nil {
		if o := v.holes[b.From.Hole]; o != nil && o.Placed {
			h.Placed = true
			h.At, h.Accuracy = o.Paced(int(b.From.Paces), quantity.NewBearing(float64(b.From.Bearing)/10))
		}
	}
	if x, told := v.states[h.ID]; told {
		h.State, h.Told = x.state, x.when
	}
	v.holes[h.ID] = h
	v.Holes = journal.InsertByTime(v.Holes, h, func(h *Hole) time.Time { return h.Drilled })
}

func (v *View) foldLook(f *journal.Fact, b *journal.Look) {
	marks, _ := ParseMarks(b.Marks)
	l := &Look{ID: f.Entry.ID, When: f.At, Hole: b.Hole, Length: time.Duration(b.Seconds) * time.Second, Marks: marks, Count: -1,
		Moving: b.Moving, Strong: b.Strong, Sit: b.Sit}
	if b.Count != nil {
		l.Count = int(*b.Count)
	}
	if b.Height != nil {
		l.Height = quantity.FromMillimetres(*b.Height)
	}
	v.Looks = journal.InsertByTime(v.Looks, l, func(l *Look) time.Time { return l.When })
}

func (v *View) foldIce(f *journal.Fact, b *journal.Ice) {
	r := &IceReading{ID: f.Entry.ID, When: f.At, Day: f.Entry.Day, Hole: b.Hole, Total: quantity.FromMillimetres(b.Total), Crack: b.Crack,
		Writer: f.Entry.Account, Slush: b.Slush, Layered: b.Layered, Grey: b.Grey, Rotten: b.Rotten, Current: b.Current}
	told := func(p *int64, to *quantity.Length, flag *bool) {
		if p != nil {
			*to, *flag = quantity.FromMillimetres(*p), true
		}
	}
	told(b.White, &r.White, &r.WhiteTold)
	told(b.Snow, &r.Snow, &r.SnowTold)
	told(b.Water, &r.Water, &r.WaterTold)
	told(b.Solid, &r.Solid, &r.SolidTold)
	if h := v.holes[b.Hole]; h != nil && h.Placed {
		r.Placed, r.At = true, h.At
	} else if b.At != nil {
		r.Placed, r.At = true, v.local(*b.At)
	}
	v.Ice = journal.InsertByTime(v.Ice, r, func(r *IceReading) time.Time { return r.When })
}

func (v *View) foldHazard(f *journal.Fact, b *journal.Hazard) {
	h := &Hazard{ID: f.Entry.ID, When: f.At, What: b.What, Shape: b.Shape, Radius: quantity.FromMillimetres(b.Radius), Report: b.Report,
		Supersedes: b.Supersedes, By: b.By}
	for _, p := range b.Points {
		h.Points = append(h.Points, v.local(p))
	}
	if len(h.Points) == 0 {
		return
	}
	if b.Gap != nil {
		h.Gap = quantity.FromMillimetres(*b.Gap)
	}
	v.hazards[h.ID] = h
	v.Hazards = journal.InsertByTime(v.Hazards, h, func(h *Hazard) time.Time { return h.When })
	for _, x := range v.Hazards { // an older report may arrive after the newer one
		if o := v.hazards[x.Supersedes]; o != nil && !x.When.Before(o.When) {
			o.Superseded = true
		}
	}
}

func (v *View) foldWeather(f *journal.Fact, b *journal.Weather) {
	o := Observation{When: f.At, Snowing: b.Snowing, Station: b.Station}
	if b.Air != nil {
		o.Air, o.AirTold = quantity.Celsius(float64(*b.Air)/10), true
	}
	if b.Wind != nil {
		o.Wind, o.WindTold = quantity.Speed(float64(*b.Wind)/1000), true
		if b.WindHeight != "mast" {
			o.Wind = quantity.Speed(float64(o.Wind) * faceWind)
		}
	}
	if b.From != nil {
		o.From, o.FromTold = quantity.NewBearing(float64(*b.From)), true
	}
	if b.Cloud != nil {
		o.Cloud, o.CloudTold = float64(*b.Cloud)/100, true
	}
	if b.Sight != nil {
		o.Sight, o.SightTold = quantity.FromMillimetres(*b.Sight), true
	}
	list := &v.Observed
	if o.Station != "" {
		list = &v.Measured
	}
	*list = journal.InsertByTime(*list, o, func(o Observation) time.Time { return o.When })
}

func (v *View) foldSketch(f *journal.Fact, b *journal.Sketch) {
	s := Sketch{ID: f.Entry.ID, When: f.At, Stage: b.Stage, Weight: int(b.Weight)}
	for _, p := range b.Area {
		s.Area.Outer = append(s.Area.Outer, v.local(p))
	}
	v.Sketches = append(v.Sketches, s)
}

func (v *View) foldParked(f *journal.Fact, b *journal.LoadParked) {
	if b.Left {
		if p := v.parked[b.Of]; p != nil {
			p.Until = f.At
		}
		return
	}
	p := &Parked{ID: f.Entry.ID, Since: f.At, What: b.What, Mass: quantity.Mass(float64(b.Mass) / 1000), At: v.local(b.At)}
	v.parked[p.ID] = p
	v.Parked = journal.InsertByTime(v.Parked, p, func(p *Parked) time.Time { return p.Since })
}

// foldHoleState keeps what was told last of a hole, whichever entry came first.
func (v *View) foldHoleState(f *journal.Fact, b *journal.HoleState) {
	if old, told := v.states[b.Hole]; told && f.At.Before(old.when) {
		return
	}
	v.states[b.Hole] = holeState{f.At, b.State}
	if h := v.Hole(b.Hole); h != nil {
		h.State, h.Told = b.State, f.At
	}
}
