package cli

import (
	"context"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/icetwin"
)

// iceTrial is how well the ice is known between visits, for printing.
type iceTrial struct {
	Winters int              `json:"winters"`
	Members int              `json:"members"`
	Seed    uint64           `json:"seed"`
	Parts   []iceTrialPart   `json:"parts"`
	Ageing  []iceTrialAgeing `json:"ageing"`
	Season  iceTrialSeason   `json:"season"`
}

type iceTrialPart struct {
	Part      string           `json:"part"` // growth, decay
	Days      int              `json:"days"`
	HolesCM   float64          `json:"rmse_with_holes_cm"`
	LawCM     float64          `json:"rmse_refitted_law_cm"`
	WeatherCM float64          `json:"rmse_weather_alone_cm"`
	WhiteCM   float64          `json:"rmse_white_cm"`
	Figures   []icetwin.Figure `json:"figures"`
}

// iceTrialAgeing is the error some days after the last holes.
type iceTrialAgeing struct {
	Days   int     `json:"days"`
	RMSECM float64 `json:"rmse_cm"`
	Held   float64 `json:"band_held"`
}

type iceTrialSeason struct {
	MS     float64 `json:"ms"`
	MostMS float64 `json:"most_ms"`
	Met    bool    `json:"met"`
}

// The ice trial. A season is timed as the quickest of some runs: what else the machine does is not the method's.
const (
	iceWinters   = 60
	iceMembers   = 100
	lastHolesOn  = 60 // day of the winter after which nobody drills, for the ageing
	mostSeason   = 50 * time.Millisecond
	seasonsTimed = 5
)

// ice tries the knowledge of the ice and prints the figures beside what they are held to. A figure that is missed is a
// fault of the program and ends the command with one.
func (c rehearseCmd) ice(ctx context.Context, g *Globals) error {
	t, missed, err := tryIce(ctx, c.Days, c.Seed)
	if err != nil {
		return err
	}
	if g.JSON {
		err = g.printJSON(t)
	} else {
		t.print(g)
	}
	if err == nil && missed {
		err = fault.New(fault.Internal, "Do not lean on the ice column.", "the ice trial misses what it is held to")
	}
	return err
}

func tryIce(ctx context.Context, winters int, seed uint64) (t iceTrial, missed bool, err error) {
	if winters == 0 {
		winters = iceWinters
	}
	o := icetwin.Options{Seasons: winters, Members: iceMembers, Seed: seed}
	t = iceTrial{Winters: winters, Members: iceMembers, Seed: seed, Season: iceTrialSeason{MostMS: ms(mostSeason)}}
	r, err := icetwin.Run(ctx, o)
	if err != nil {
		return t, false, err
	}
	for name, p := range map[string]icetwin.Part{"growth": r.Growth, "decay": r.Decay} {
		missed = missed || len(p.Shortfalls()) > 0
		x := iceTrialPart{name, p.Filter.Days, round(p.Filter.RMSE.Centimetres(), 2), round(p.Stefan.Centimetres(), 2),
			round(p.Weather.RMSE.Centimetres(), 2), round(p.Filter.White.Centimetres(), 2), p.Figures()}
		if name == "growth" {
			t.Parts = append([]iceTrialPart{x}, t.Parts...)
		} else {
			t.Parts = append(t.Parts, x)
		}
	}
	o.HolesLast = lastHolesOn
	aged, err := icetwin.Run(ctx, o)
	if err != nil {
		return t, missed, err
	}
	for _, d := range []int{0, 1, 3, 7, 14, 21, 28} {
		s := aged.Ageing[d]
		t.Ageing = append(t.Ageing, iceTrialAgeing{d, round(s.RMSE.Centimetres(), 2), round(s.Covered, 3)})
	}
	best := time.Duration(0)
	for range seasonsTimed {
		took, err := icetwin.TimeSeason(ctx, iceMembers, seed, time.Now)
		if err != nil {
			return t, missed, err
		}
		if best == 0 || took < best {
			best = took
		}
	}
	t.Season.MS, t.Season.Met = round(ms(best), 1), best <= mostSeason
	return t, missed || !t.Season.Met, nil
}

func ms(d time.Duration) float64 { return d.Seconds() * 1000 }

func (t iceTrial) print(g *Globals) {
	g.say("%d made-up winters, %d members, three holes a visit, seven days after each visit. Truth comes from the same kind of", t.Winters, t.Members)
	g.say("model, so a real lake is harder. No figure says anything of the ice on any lake.")
	for _, p := range t.Parts {
		g.say("")
		g.say("%s: %d days. RMSE of the total: %.2f cm with holes, %.2f cm a refitted degree-day law, %.2f cm weather alone; white %.2f cm", p.Part, p.Days, p.HolesCM, p.LawCM, p.WeatherCM, p.WhiteCM)
		for _, f := range p.Figures {
			g.say("  %-64s %.3f   held to %.2f to %.2f   %s", f.What, f.Got, f.From, f.Upto, met(f.Met))
		}
	}
	g.say("")
	g.say("days after the last holes   RMSE, cm   90 %% band held")
	for _, a := range t.Ageing {
		g.say("%25d %10.2f %16.3f", a.Days, a.RMSECM, a.Held)
	}
	g.say("")
	g.say("A season of %d members with a visit a week: %.1f ms, held to %.0f ms at most   %s", t.Members, t.Season.MS, t.Season.MostMS, met(t.Season.Met))
}

func met(yes bool) string {
	if yes {
		return "met"
	}
	return "MISSED"
}
