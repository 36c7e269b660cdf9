package cli

import (
	"context"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/physics/cold"
)

type coldCmd struct {
	Air    string `help:"Air temperature: -17 C or 1 F; else the newest observation or forecast." placeholder:"TEMP"`
	Wind   string `help:"Wind speed with its unit: 12 km/h." placeholder:"SPEED"`
	Height string `help:"Where the wind was measured: face or mast (10 m)." enum:"face,mast," default:""`
	Ride   string `help:"Speed of riding, added to the wind." placeholder:"SPEED"`
}

func (c coldCmd) Run(ctx context.Context, g *Globals) error {
	air, wind, err := c.weather(ctx, g)
	if err != nil {
		return err
	}
	still := wind
	var ride quantity.Speed
	if c.Ride != "" {
		ride, err = quantity.ParseSpeed(c.Ride, 0)
		if err != nil || !(ride >= 0) || ride > 200*quantity.KilometrePerHour {
			return fault.New(fault.BadInput, "Write a speed with its unit, such as 30 km/h.", "%q is not a speed", c.Ride)
		}
		wind = cold.RidingWind(wind, ride)
	}
	voice := say.Voice{Units: g.system()}
	a := safety.ColdWatch(safety.ColdInput{Air: air, AirTold: true, Wind: still, WindTold: true, Ride: ride})
	text := append([]string{voice.Chill(a, air, still)}, a.Words...)
	if g.JSON {
		index, applies := cold.WindChill(air, wind)
		f := cold.FrostbiteTime(air, wind)
		out := map[string]any{"air_c": round(air.Degrees(), 1), "wind_kmh_at_10m": round(wind.KilometresPerHour(), 1), "wind_chill_c": round(index.Degrees(), 1),
			"wind_chill_applies": applies, "frostbite_possible": f.Possible, "text": text}
		if f.Possible {
			hardest := a.Still
			if a.Riding != nil {
				hardest = *a.Riding
			}
			out["bare_skin_can_freeze_in_min"] = round(hardest.Soonest.Minutes(), 1)
		}
		if c.Air == "" {
			return g.question(ctx, func(s *session, sh shaper) error {
				x, err := s.ColdWatch(ctx, ride)
				out["watch"] = sh.watch(x)
				if err == nil {
					err = g.printJSON(out)
				}
				return err
			})
		}
		return g.printJSON(out)
	}
	g.lines("", append(text, say.FaceCheck, say.WetFirstAid)...)
	return g.watch(ctx, c, ride)
}

// watch prints the cold and shelter watch of the record; typed weather has none.
func (g *Globals) watch(ctx context.Context, c coldCmd, ride quantity.Speed) error {
	if c.Air != "" {
		return nil
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		x, err := s.ColdWatch(ctx, ride)
		if err != nil {
			return err
		}
		t := sh.voice.ColdWatch(x)
		g.say("")
		g.lines("", t.NoAlarm, t.Faces)
		return s.Read(ctx, func(d desk.View) error {
			for _, id := range x.Watch.Wet {
				g.say("%s is wet: into the warm base now. %s", d.PersonName(id), say.WetFirstAid)
			}
			voice := sh.voice
			voice.Person = d.PersonName
			g.lines("", voice.WarmBy(x.Watch))
			for _, turn := range x.Watch.Turns {
				g.say("  %s: %s", d.PersonName(turn.Person), sh.voice.Turn(turn))
			}
			g.lines("", t.Heater, t.Vents)
			return nil
		})
	})
}

// weather gives air and wind at 10 m: as typed, else as observed or forecast on the record.
func (c coldCmd) weather(ctx context.Context, g *Globals) (air quantity.Celsius, wind quantity.Speed, err error) {
	if c.Air == "" && c.Wind == "" {
		return g.recordedWeather(ctx)
	}
	if c.Air == "" || c.Wind == "" {
		return 0, 0, fault.New(fault.BadInput, "Give --air and --wind together, or neither.", "wind chill needs temperature and wind")
	}
	air, err = quantity.ParseTemperature(c.Air, g.system())
	if err != nil || air < -90 || air > 60 {
		return 0, 0, fault.New(fault.BadInput, "Write it with its unit: -17 C or 1 F.", "%q is not an air temperature", c.Air)
	}
	wind, err = quantity.ParseSpeed(c.Wind, 0)
	if err != nil || wind < 0 || wind > 110 {
		return 0, 0, fault.New(fault.BadInput, "Write a speed with its unit: 12 km/h, 7 mph, 3 m/s.", "%q is not a wind speed", c.Wind)
	}
	switch c.Height {
	case "":
		return 0, 0, fault.New(fault.BadInput, "Add --height face for a reading in the hand, --height mast for one at 10 m.", "the height at which the wind was measured is not told")
	case "face":
		wind = cold.FromFaceHeight(wind)
	}
	return air, wind, nil
}

func (g *Globals) recordedWeather(ctx context.Context) (air quantity.Celsius, wind quantity.Speed, err error) {
	err = g.question(ctx, func(s *session, _ shaper) error {
		w, err := s.Weather(ctx)
		if err != nil {
			return err
		}
		switch o := w.AirAndWind(); {
		case o != nil:
			air, wind = o.Air, o.Wind
		case w.Hour != nil && w.Hour.AirTold && w.Hour.WindTold:
			air, wind = w.Hour.Air, w.Hour.Wind
		default:
			return fault.New(fault.Missing, "Give --air and --wind, or import a forecast.", "no temperature and wind are on record for now")
		}
		return nil
	})
	return air, wind, err
}

type turnJSON struct {
	Person   uuid.UUID `json:"person"`
	EveryMin float64   `json:"every_min"`
	Due      string    `json:"due,omitempty"`
	Over     bool      `json:"overdue"`
}

// watchJSON is the cold and shelter watch.
type watchJSON struct {
	WarmBy  *turnJSON   `json:"warm_up_deadline,omitempty"`
	Turns   []turnJSON  `json:"warm_ups"`
	Wet     []uuid.UUID `json:"wet"`
	Faces   string      `json:"faces_by"`
	Heater  bool        `json:"heater"`
	NoAlarm bool        `json:"no_co_alarm"`
	Vents   string      `json:"vents_by,omitempty"`
}

func (s shaper) watch(c desk.Cold) watchJSON {
	w := c.Watch
	out := watchJSON{Turns: []turnJSON{}, Wet: append([]uuid.UUID{}, w.Wet...), Faces: s.time(w.Faces), Heater: w.Heater, NoAlarm: w.NoAlarm, Vents: s.time(w.Vents)}
	for _, t := range w.Turns {
		out.Turns = append(out.Turns, turnJSON{t.Person, t.Every.Minutes(), s.time(t.Due), t.Over})
	}
	if len(out.Turns) > 0 {
		out.WarmBy = &out.Turns[0]
	}
	return out
}
