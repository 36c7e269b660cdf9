package cli

import (
	"context"
	"strconv"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/dusk"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// windowJSON is a stretch of light in the walleye band.
type windowJSON struct {
	From     string  `json:"from"`
	To       string  `json:"to"`
	Earliest string  `json:"earliest"`
	Latest   string  `json:"latest"`
	Chance   float64 `json:"chance"`
	Noon     bool    `json:"holds_noon"`
}

func (s shaper) windows(list []dusk.Window) []windowJSON {
	out := []windowJSON{}
	for _, w := range list {
		out = append(out, windowJSON{s.time(w.From), s.time(w.To), s.time(w.Earliest), s.time(w.Latest), round(w.Chance, 3), w.Noon})
	}
	return out
}

// walleyePlanJSON is one way of going after walleye.
type walleyePlanJSON struct {
	Leave     string     `json:"leave"`
	Begin     string     `json:"begin"`
	End       string     `json:"end"`
	Back      bool       `json:"back_to_perch"`
	TurnBack  string     `json:"turn_back_there"`
	At        *posJSON   `json:"at"`
	Place     string     `json:"place,omitempty"`
	Form      string     `json:"form"`
	DepthM    [2]float64 `json:"depth_m"`
	ReliefM   float64    `json:"relief_m"`
	OffWayM   float64    `json:"off_way_m"`
	OnWay     bool       `json:"on_way"`
	Landed    int        `json:"walleye_on_record"`
	DistanceM float64    `json:"distance_m"`
	BearingT  float64    `json:"bearing_true_deg"`
	Fish      rateJSON   `json:"walleye"`
	Forgone   rateJSON   `json:"perch_forgone"`
	Chance    chanceJSON `json:"chance_of_one"`
	Pays      float64    `json:"pays"`
	BreakEven float64    `json:"break_even_perch_per_rod_hour"`
	Minutes   float64    `json:"minutes_without_a_line"`
	Holes     int        `json:"holes"`
	IceM      float64    `json:"ice_m"`
	Label     string     `json:"label,omitempty"`
}

type chanceJSON struct {
	P    float64 `json:"p"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

func (s shaper) walleyePlan(o *dusk.Option, from *advise.Anchor) *walleyePlanJSON {
	if o == nil {
		return nil
	}
	p := o.Place
	out := &walleyePlanJSON{Leave: s.time(o.Leave), Begin: s.time(o.Begin), End: s.time(o.End), Back: o.Back, TurnBack: s.time(o.TurnBack), At: s.pos(p.At), Form: string(p.Form),
		DepthM: [2]float64{round(p.Depth[0].Metres(), 1), round(p.Depth[1].Metres(), 1)}, ReliefM: round(p.Relief.Metres(), 1), OffWayM: round(p.Off.Metres(), 0), OnWay: p.OnWay, Landed: p.Fish,
		DistanceM: round(o.Distance.Metres(), 0), BearingT: round(o.Bearing.Degrees(), 0), Fish: rate(advise.Rate(o.Fish)), Forgone: rate(advise.Rate(o.Forgone)),
		Chance: chanceJSON{round(o.Chance.P, 4), round(o.Chance.Low, 4), round(o.Chance.High, 4)}, Pays: round(o.Pays, 3), BreakEven: round(o.BreakEven, 2),
		Minutes: round(o.Minutes, 0), Holes: o.Holes, IceM: round(o.Ice.Metres(), 2), Label: o.Bar.Label}
	if from != nil {
		out.Place = s.voice.Place(from)
	}
	return out
}

// secondJSON is the decision about walleye.
type secondJSON struct {
	Verdict string             `json:"verdict"`
	Text    string             `json:"text"`
	Half    string             `json:"half_of_day,omitempty"`
	Best    *walleyePlanJSON   `json:"best,omitempty"`
	Others  []*walleyePlanJSON `json:"alternatives"`
	Would   *walleyePlanJSON   `json:"better_but_barred,omitempty"`
	DepthM  [2]float64         `json:"light_at_depth_m"`
	Windows []windowJSON       `json:"windows"`
	Why     []whyJSON          `json:"why"`
	Changes []whyJSON          `json:"would_change"`
	Refused []codeText         `json:"refused"`
	Hours   float64            `json:"line_hours_after_walleye"`
	Beside  float64            `json:"line_hours_after_others"`
	Landed  int                `json:"walleye_on_record"`
}

func (s shaper) second(x *advise.Second) *secondJSON {
	if x == nil {
		return nil
	}
	out := &secondJSON{Verdict: string(x.Verdict), Text: s.voice.Second(x).Sentence, Best: s.walleyePlan(x.Best, x.From), Would: s.walleyePlan(x.Would, nil), Others: []*walleyePlanJSON{},
		DepthM: [2]float64{round(x.Depth[0].Metres(), 1), round(x.Depth[1].Metres(), 1)}, Windows: s.windows(x.Windows), Why: s.why(secondReasons(x.Why)), Changes: s.why(secondReasons(x.Changes)),
		Refused: []codeText{}, Hours: round(x.Record.Hours, 1), Beside: round(x.Record.Beside, 1), Landed: x.Record.Fish}
	for i := range x.Others {
		out.Others = append(out.Others, s.walleyePlan(&x.Others[i], nil))
	}
	for _, r := range x.Refused {
		out.Refused = append(out.Refused, codeText{r.Code, r.Text})
	}
	return out
}

// seconds gives the two halves of a planned day.
func (s shaper) seconds(list []advise.Second) []*secondJSON {
	out := []*secondJSON{}
	for i := range list {
		x := s.second(&list[i])
		x.Half = "evening"
		if list[i].Morning {
			x.Half = "morning"
		}
		out = append(out, x)
	}
	return out
}

func secondReasons(list []dusk.Reason) []advise.Reason {
	var out []advise.Reason
	for _, r := range list {
		out = append(out, advise.SecondReason(r))
	}
	return out
}

// second prints the decision about walleye; at length with its reasons.
func (g *Globals) second(t say.SecondText, long bool) {
	if t.Half != "" {
		g.say("%s. %s", t.Half, t.Sentence)
	} else {
		g.lines("", t.Sentence)
	}
	if t.Sentence == "" || !long && !t.Soon {
		return
	}
	g.lines("  ", t.Facts...)
	g.lines("  ", t.Light)
	if long {
		g.lines("  - ", t.Why...)
		g.lines("  or: ", t.Others...)
		g.lines("  would change it: ", t.Changes...)
	}
}

// fishLight are the flags of the light at the fish.
type fishLight struct {
	Depth   string `help:"Depth of the fish, from the top of the ice: 6 m or 20 ft." default:"6 m" placeholder:"DEPTH"`
	Snow    string `help:"Snow on the ice; else as read at the holes." placeholder:"DEPTH"`
	Clarity string `help:"Depth at which a white disc vanishes in the water; else as set, or not known." placeholder:"DEPTH"`
	Save    bool   `help:"Keep --clarity as the lake's from now on."`
	Cloud   *int   `help:"Cloud in percent; else as seen or forecast." placeholder:"PERCENT"`
}

// question reads the flags.
func (c fishLight) question(day journal.Day, sys quantity.System) (desk.LightQuestion, error) {
	x := desk.LightText{Depth: c.Depth, Snow: c.Snow, Clarity: c.Clarity, Unit: quantity.Metre, SnowUnit: quantity.Metre}
	if sys == quantity.US {
		x.Unit, x.SnowUnit = quantity.Foot, quantity.Foot
	}
	if c.Cloud != nil {
		x.Cloud = strconv.Itoa(*c.Cloud)
	}
	return x.Question(day)
}

// daylightJSON is a day's light at the fish.
type daylightJSON struct {
	DepthM  float64      `json:"depth_m"`
	Snow    [2]float64   `json:"snow_cm"`
	Ice     [2]float64   `json:"ice_cm"`
	Clarity [2]float64   `json:"clarity_m"`
	Unknown []string     `json:"unknown"`
	Band    [2]float64   `json:"band_lux"`
	Windows []windowJSON `json:"windows"`
	Course  []litJSON    `json:"hours"`
}

type litJSON struct {
	Time   string  `json:"time"`
	Low    float64 `json:"low_lux"`
	High   float64 `json:"high_lux"`
	Middle float64 `json:"middle_lux"`
	InBand float64 `json:"in_band"`
}

func (s shaper) daylight(q desk.LightQuestion, d dusk.Daylight, c dusk.Cover) daylightJSON {
	low, high := dusk.Band()
	pair := func(r dusk.Range, by float64) [2]float64 {
		return [2]float64{round(r[0].Metres()*by, 1), round(r[1].Metres()*by, 1)}
	}
	out := daylightJSON{DepthM: round(q.Depth.Metres(), 1), Snow: pair(c.Snow, 100), Ice: pair(c.Ice, 100), Clarity: pair(c.Clarity, 1), Unknown: []string{},
		Band: [2]float64{float64(low), float64(high)}, Windows: s.windows(d.Windows), Course: []litJSON{}}
	out.Unknown = append(out.Unknown, s.voice.CoverUnknown(c)...)
	for _, l := range d.Course {
		out.Course = append(out.Course, litJSON{s.time(l.At), round(float64(l.Range.Low), 3), round(float64(l.Range.High), 2), round(float64(l.Middle), 2), round(l.InBand, 3)})
	}
	return out
}

// atFish answers the light at the fish of the lake on record.
func (c fishLight) atFish(ctx context.Context, g *Globals, day journal.Day) (text []string, shape *daylightJSON, err error) {
	q, err := c.question(day, g.system())
	if err != nil {
		return nil, nil, err
	}
	if c.Save {
		if err := c.save(ctx, g, q.Clarity); err != nil {
			return nil, nil, err
		}
	}
	err = g.question(ctx, func(s *session, sh shaper) error {
		d, cover, err := s.Daylight(ctx, q)
		if err != nil {
			return err
		}
		x := sh.daylight(q, d, cover)
		shape = &x
		text = sh.voice.Daylight(d, cover, q.Depth)
		return nil
	})
	return text, shape, err
}

// elsewhere answers the light at the fish of a place that is not on record: what is not told of it may be anything.
func (c fishLight) elsewhere(g *Globals, day journal.Day, pos geo.Position, zone *time.Location) (text []string, shape *daylightJSON, err error) {
	q, err := c.question(day, g.system())
	if err != nil {
		return nil, nil, err
	}
	cover := dusk.CoverAt(&lake.View{}, day.Midnight(zone), q.Clarity)
	if q.SnowTold {
		cover.Snow, cover.SnowTold = dusk.Range{q.Snow, q.Snow}, true
	}
	in := dusk.DayInput{Day: day.Midnight(zone).Add(12 * time.Hour), Zone: zone, Place: pos, Cover: cover, Depth: dusk.Range{q.Depth, q.Depth}}
	if q.CloudTold {
		in.Cloud = func(time.Time) (float64, bool) { return q.Cloud, true }
	}
	d := dusk.Over(in)
	sh := shaper{voice: say.Voice{Units: g.system(), Zone: zone}, zone: zone}
	x := sh.daylight(q, d, cover)
	return sh.voice.Daylight(d, cover, q.Depth), &x, nil
}

// save keeps the clarity of the lake's water.
func (c fishLight) save(ctx context.Context, g *Globals, told quantity.Length) error {
	if told <= 0 {
		return fault.New(fault.BadInput, "Give --clarity with it: the depth at which a white disc vanishes.", "--save has nothing to keep")
	}
	return g.record(ctx, "/local/clarity", clarity{told})
}

// clarity keeps how clear the water is.
type clarity struct{ Depth quantity.Length }

func (c clarity) record(ctx context.Context, d *desk.Desk) error {
	return d.SetClarity(ctx, desk.Act{}, c.Depth)
}
