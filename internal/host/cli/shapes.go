package cli

import (
	"context"
	"math"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// shaper turns answers into the objects that --json and ask print. docs/commands.md documents each.
type shaper struct {
	frame  geo.Frame
	zone   *time.Location
	voice  say.Voice
	number map[uuid.UUID]int64 // of today's holes
}

// shaper gathers what the shapes need from the record.
func newShaper(ctx context.Context, d *desk.Desk, g *Globals) (shaper, error) {
	var s shaper
	err := d.Read(ctx, func(v desk.View) error {
		s = shaper{frame: v.Lake.Frame, zone: v.Lake.Zone, number: map[uuid.UUID]int64{}}
		names := map[uuid.UUID]string{}
		for _, h := range v.Lake.Holes {
			names[h.ID] = say.HoleName(h, v.Today)
			if h.Day == v.Today {
				s.number[h.ID] = h.Number
			}
		}
		s.voice = say.Voice{Units: g.system(), Zone: v.Lake.Zone, Now: v.Now, Hole: func(id uuid.UUID) string { return names[id] }}
		return nil
	})
	named := func(f func(desk.View) string) (name string) {
		_ = d.Read(ctx, func(v desk.View) error { // a name that cannot be had is left out
			name = f(v)
			return nil
		})
		return name
	}
	s.voice.Person = func(id uuid.UUID) string { return named(func(v desk.View) string { return v.PersonName(id) }) }
	s.voice.Writer = func(account uuid.UUID, when time.Time) string {
		return named(func(v desk.View) string { return d.WriterName(v, account, when) })
	}
	return s, err
}

type posJSON struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

func (s shaper) pos(l geo.Local) *posJSON {
	p := s.frame.Position(l)
	return &posJSON{math.Round(p.Lat*1e7) / 1e7, math.Round(p.Lon*1e7) / 1e7}
}

func (s shaper) time(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(s.zone).Format(time.RFC3339)
}

type oddsJSON struct {
	P     float64 `json:"p"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Word  string  `json:"word"`
	Event string  `json:"event"`
	WaitS float64 `json:"wait_s"`
	Plan  string  `json:"plan,omitempty"`
	Holes int     `json:"holes,omitempty"` // of a chain
}

func odds(o advise.Odds) oddsJSON {
	return oddsJSON{round(o.P, 4), round(o.Low, 4), round(o.High, 4), o.Word, o.Event, o.Wait.Seconds(), string(o.Plan), o.Holes}
}

func round(x float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return math.Round(x*k) / k
}

type costJSON struct {
	Minutes   float64 `json:"minutes"`
	Holes     int     `json:"holes"`
	IceM      float64 `json:"ice_m"`
	DistanceM float64 `json:"distance_m"`
}

func cost(c advise.Cost) costJSON {
	return costJSON{round(c.Minutes, 1), c.Holes, round(c.Ice.Metres(), 2), round(c.Distance.Metres(), 0)}
}

type whyJSON struct {
	Code    string      `json:"code"`
	Text    string      `json:"text"`
	Weight  float64     `json:"weight"`
	Count   int         `json:"count,omitempty"`
	Of      int         `json:"of,omitempty"`
	WithinM float64     `json:"within_m,omitempty"`
	AgeS    float64     `json:"age_s,omitempty"`
	OldestS float64     `json:"oldest_s,omitempty"`
	Holes   []uuid.UUID `json:"holes,omitempty"`
	Looks   []uuid.UUID `json:"looks,omitempty"`
	Prior   string      `json:"prior,omitempty"`
}

func (s shaper) why(list []advise.Reason) []whyJSON {
	out := []whyJSON{}
	for _, r := range list {
		out = append(out, whyJSON{r.Code, s.voice.Reason(r), round(r.Weight, 3), r.Count, r.Of, round(r.Near.Metres(), 0), math.Round(r.Age.Seconds()), math.Round(r.Oldest.Seconds()), r.Holes, r.Looks, string(r.Prior)})
	}
	return out
}

type actionJSON struct {
	Do    string    `json:"do"`
	At    *posJSON  `json:"at,omitempty"`
	Hole  int64     `json:"hole,omitempty"`
	ID    uuid.UUID `json:"hole_id,omitzero"`
	Place string    `json:"place,omitempty"` // in paces and a compass point
}

func (s shaper) action(do advise.Action, to geo.Local, hole uuid.UUID, from *advise.Anchor) actionJSON {
	a := actionJSON{Do: string(do), ID: hole, Hole: s.number[hole]}
	if do == advise.Drill || do == advise.Look || do == advise.Move {
		a.At = s.pos(to)
		if from != nil {
			a.Place = s.voice.Place(from)
		}
	}
	return a
}

type rateJSON struct {
	Mean float64 `json:"mean"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

func rate(r advise.Rate) rateJSON {
	return rateJSON{round(r.Mean, 2), round(r.Low, 2), round(r.High, 2)}
}

type rodJSON struct {
	Rod    int       `json:"rod"`
	Do     string    `json:"do"`
	To     int64     `json:"to_hole,omitempty"`
	ToID   uuid.UUID `json:"to_hole_id,omitzero"`
	Here   rateJSON  `json:"fish_per_hour_here"`
	There  rateJSON  `json:"fish_per_hour_there"`
	ReAsk  string    `json:"ask_again,omitempty"`
	TossUp bool      `json:"toss_up"`
	Why    []whyJSON `json:"why"`
}

type altJSON struct {
	actionJSON
	Odds oddsJSON  `json:"odds"`
	Cost costJSON  `json:"cost"`
	Why  []whyJSON `json:"why"`
	Ice  string    `json:"ice,omitempty"`
	Text string    `json:"text"`
}

// stepJSON is the next step, as icehand next --json and ask next answer it.
type stepJSON struct {
	Time      string        `json:"time"`
	Text      string        `json:"text"`
	Reason    string        `json:"reason"`
	Scout     actionJSON    `json:"scout"`
	Rods      []rodJSON     `json:"rods"`
	Odds      float64       `json:"odds"`
	OddsOf    oddsJSON      `json:"odds_of"`
	Cost      costJSON      `json:"cost"`
	Why       []string      `json:"why"`
	Reasons   []whyJSON     `json:"reasons"`
	Changes   []whyJSON     `json:"would_change"`
	Others    []altJSON     `json:"alternatives"`
	Ice       string        `json:"ice,omitempty"`
	Barred    []string      `json:"barred,omitempty"`
	TossUp    bool          `json:"toss_up"`
	Plain     bool          `json:"line_and_spiral"`
	Score     scoreJSON     `json:"score"`
	Aim       string        `json:"aim,omitempty"`
	RuledOut  *ruledJSON    `json:"ruled_out,omitempty"`
	Answers   *answersJSON  `json:"answers,omitempty"`
	HolesLeft int           `json:"holes_left,omitempty"`
	TurnBack  string        `json:"turn_back"`
	Home      *turnBackJSON `json:"turn_back_why,omitempty"`
	Second    *secondJSON   `json:"walleye,omitempty"`
	Engine    string        `json:"engine"`
	Seed      uint64        `json:"seed"`
	Budget    int           `json:"budget"`
}

func (s shaper) step(x advise.Step, home safety.TurnBack) stepJSON {
	words := s.voice.Step(x)
	back := s.turnBack(home)
	out := stepJSON{Time: s.time(x.At), Text: words.Sentence, Reason: words.Reason, Scout: s.action(x.Do, x.To, x.Hole, x.From), Rods: []rodJSON{}, Odds: round(x.Odds.P, 4),
		OddsOf: odds(x.Odds), Cost: cost(x.Cost), Why: []string{}, Reasons: s.why(x.Why), Changes: s.why(x.Changes), Others: []altJSON{}, TossUp: x.TossUp, Plain: x.Plain,
		Score: score(s.voice, x.Score), Aim: x.Aim, RuledOut: s.ruledOut(x.RuledOut), Answers: s.answers(x),
		HolesLeft: x.HolesLeft, Second: s.second(x.Second), TurnBack: back.At, Home: &back, Engine: advise.Version, Seed: x.Seed, Budget: x.Budget}
	for _, w := range out.Reasons {
		out.Why = append(out.Why, w.Text)
	}
	if out.Scout.At != nil {
		out.Ice = words.Ice
	}
	for _, r := range x.Ice.Reasons {
		if x.Ice.Barred {
			out.Barred = append(out.Barred, r.Text)
		}
	}
	for _, r := range x.Rods {
		out.Rods = append(out.Rods, rodJSON{r.Rod, string(r.Do), s.number[r.To], r.To, rate(r.Here), rate(r.There), s.time(r.ReAsk), r.TossUp, s.why(r.Why)})
	}
	for i, a := range x.Others {
		out.Others = append(out.Others, altJSON{s.action(a.Do, a.To, a.Hole, a.From), odds(a.Odds), cost(a.Cost), s.why(a.Why), words.Others[i].Ice, words.Others[i].Sentence})
	}
	return out
}

type deadlineJSON struct {
	Code   string `json:"code"`
	When   string `json:"when"`
	Doubt  string `json:"doubt"`
	Travel string `json:"travel"`
	PackUp string `json:"pack_up"`
	Margin string `json:"margin"`
	Start  string `json:"start"`
	Text   string `json:"text"`
}

type wayJSON struct {
	DistanceM   float64    `json:"distance_m"`
	BearingTrue float64    `json:"bearing_true_deg"`
	Travel      string     `json:"travel"`
	Basis       string     `json:"basis"`
	Line        []*posJSON `json:"line"`
}

type turnBackJSON struct {
	At       string         `json:"at"`
	Binding  deadlineJSON   `json:"binding"`
	All      []deadlineJSON `json:"all"`
	Computed string         `json:"computed"`
	Override string         `json:"override_reason,omitempty"`
	Unknown  []string       `json:"unknown"`
	Way      wayJSON        `json:"way"`
	Guide    *guideJSON     `json:"guide,omitempty"`
}

func (s shaper) deadline(d safety.Deadline) deadlineJSON {
	return deadlineJSON{d.Code, s.time(d.When), d.Doubt.String(), d.Travel.String(), d.PackUp.String(), d.Margin.String(), s.time(d.Start), d.Text}
}

func (s shaper) turnBack(t safety.TurnBack) turnBackJSON {
	out := turnBackJSON{At: s.time(t.At), Binding: s.deadline(t.Binding), All: []deadlineJSON{}, Computed: s.time(t.Computed), Unknown: []string{},
		Way: wayJSON{round(t.Way.Distance.Metres(), 0), round(t.Way.Bearing.Degrees(), 0), t.Way.Travel.String(), t.Way.Basis, []*posJSON{}}}
	for _, d := range t.All {
		out.All = append(out.All, s.deadline(d))
	}
	out.Unknown = append(out.Unknown, t.Unknown...)
	for _, p := range t.Way.Line {
		out.Way.Line = append(out.Way.Line, s.pos(p))
	}
	if t.Override != nil {
		out.Override = t.Override.Reason
	}
	return out
}

type rescueJSON struct {
	Time         string   `json:"time"`
	Fix          bool     `json:"fix"`
	FromHole     string   `json:"place_of_hole,omitempty"`
	Fixed        string   `json:"fixed"`
	AccuracyM    float64  `json:"accuracy_m"`
	Position     *posJSON `json:"position"`
	Grid         string   `json:"usng"`
	Minutes      string   `json:"degrees_minutes"`
	UTM          string   `json:"utm"`
	DistanceM    float64  `json:"from_landing_m"`
	BearingTrue  float64  `json:"from_landing_true_deg"`
	BearingMag   *float64 `json:"from_landing_magnetic_deg,omitempty"`
	HomeTrue     float64  `json:"home_true_deg"`
	HomeMag      *float64 `json:"home_magnetic_deg,omitempty"`
	LandingGuess bool     `json:"landing_guessed"`
	People       int      `json:"people_on_ice"`
	Aloud        []string `json:"read_aloud"`
}

func (s shaper) rescue(r desk.Rescue) rescueJSON {
	t := s.voice.Rescue(r)
	out := rescueJSON{Time: s.time(r.At), Fix: r.Known, FromHole: r.FromHole, Fixed: s.time(r.Fixed), AccuracyM: round(r.Accuracy.Metres(), 0),
		Position: &posJSON{round(r.Position.Lat, 7), round(r.Position.Lon, 7)}, Grid: t.Grid, Minutes: t.Minutes, UTM: t.UTM, DistanceM: round(r.FromLanding.Metres(), 0),
		BearingTrue: round(r.Bearing.Degrees(), 0), HomeTrue: round(r.Home.Degrees(), 0), LandingGuess: r.Guessed, People: r.OnIce, Aloud: []string{}}
	if r.Declined {
		from, home := round(r.Magnetic.Degrees(), 0), round(r.HomeMag.Degrees(), 0)
		out.BearingMag, out.HomeMag = &from, &home
	}
	for _, p := range t.GridAloud {
		out.Aloud = append(out.Aloud, p.Words)
	}
	return out
}

type iceJSON struct {
	State     string     `json:"state"`
	NoFix     bool       `json:"no_fix,omitempty"` // nobody told the place: the answer is that of the hole in "of"
	Of        string     `json:"of,omitempty"`
	Text      string     `json:"text"`
	LoadClass string     `json:"load_class"`
	LoadKg    float64    `json:"load_kg"`
	Table     string     `json:"table"`
	AskedCm   float64    `json:"asked_effective_cm,omitempty"`
	EffCm     float64    `json:"least_effective_cm,omitempty"`
	CarriesKg float64    `json:"calculated_load_kg,omitempty"`
	Readings  int        `json:"readings_counted"`
	Newest    string     `json:"newest,omitempty"`
	Nearest   string     `json:"nearest"`
	Refusals  []codeText `json:"refusals"`
	Hazards   []string   `json:"hazards"`
	Caution   string     `json:"caution"`
}

type codeText struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

func (s shaper) ice(a safety.IceAnswer) iceJSON {
	w := s.voice.Ice(a)
	out := iceJSON{State: string(a.State), NoFix: a.NoFix, Of: w.Of, Text: w.Sentence, LoadClass: a.Load.Class, LoadKg: round(a.Load.Mass.Kilograms(), 0), Table: w.Table, AskedCm: round(a.Asked.Centimetres(), 1),
		EffCm: round(a.Effective.Centimetres(), 1), CarriesKg: round(a.Carries.Kilograms(), 0), Readings: a.Counted, Newest: s.time(a.Newest), Nearest: w.Nearest,
		Refusals: []codeText{}, Hazards: []string{}, Caution: testAsYouGo}
	for _, r := range a.Refusals {
		out.Refusals = append(out.Refusals, codeText{r.Code, r.Text})
	}
	out.Hazards = append(out.Hazards, w.Hazards...)
	return out
}

const testAsYouGo = "Not a go. Test as you go; local authority decides."

type startJSON struct {
	Letter    string     `json:"letter"`
	At        *posJSON   `json:"at"`
	RadiusM   float64    `json:"radius_m"`
	DepthM    [2]float64 `json:"depth_m"`
	Odds      oddsJSON   `json:"odds"`
	First     oddsJSON   `json:"odds_first_pattern"`
	Rate      rateJSON   `json:"fish_per_rod_hour"`
	Why       []whyJSON  `json:"why"`
	GiveUpMin float64    `json:"give_up_min"`
	DistanceM float64    `json:"distance_m"`
	TravelMin float64    `json:"travel_min"`
	Barred    []codeText `json:"barred"`
}

type eveningJSON struct {
	Day      string            `json:"day"`
	Stage    string            `json:"stage"`
	Starts   []startJSON       `json:"starts"`
	Pattern  map[string]any    `json:"pattern"`
	Holes    int               `json:"hole_budget"`
	DrillM   float64           `json:"drill_m"`
	Times    map[string]string `json:"times"`
	TurnBack turnBackJSON      `json:"turn_back"`
	Dusk     []whyJSON         `json:"dusk"`
	Second   []*secondJSON     `json:"walleye"`
	Changes  []whyJSON         `json:"would_change"`
	Ice      iceJSON           `json:"ice"`
	Evidence map[string]any    `json:"evidence"`
	Seed     uint64            `json:"seed"`
	Footer   string            `json:"footer"`
	Depths   *depthsJSON       `json:"depth_surface,omitempty"`
}

func (s shaper) evening(p advise.EveningPlan) eveningJSON {
	e := p.Evidence
	out := eveningJSON{Day: p.Day, Stage: p.Stage, Starts: []startJSON{}, Holes: p.Holes, DrillM: round(p.Drill.Metres(), 1), Times: map[string]string{}, TurnBack: s.turnBack(p.Home),
		Dusk: s.why(p.Dusk), Second: s.seconds(p.Second), Changes: s.why(p.Changes), Ice: s.ice(p.Ice), Seed: p.Seed, Footer: say.CheckRules,
		Evidence: map[string]any{"days": e.Days, "holes": e.Holes, "looks": e.Looks, "with_marks": e.WithMarks, "fish": e.Fish, "from": s.time(e.From), "to": s.time(e.To), "soundings": e.Soundings}}
	for _, x := range p.Starts {
		st := startJSON{Letter: x.Letter, At: s.pos(x.At), RadiusM: round(x.Radius.Metres(), 0), DepthM: [2]float64{round(x.Depth[0].Metres(), 1), round(x.Depth[1].Metres(), 1)},
			Odds: odds(x.Odds), First: odds(x.First), Rate: rate(x.Rate), Why: s.why(x.Why), GiveUpMin: round(x.GiveUp.Minutes(), 0), DistanceM: round(x.Distance.Metres(), 0),
			TravelMin: round(x.Travel.Minutes(), 0), Barred: []codeText{}}
		for _, b := range x.Barred {
			st.Barred = append(st.Barred, codeText{b.Code, b.Text})
		}
		out.Starts = append(out.Starts, st)
	}
	holes := []*posJSON{}
	for _, h := range p.Pattern.Holes {
		holes = append(holes, s.pos(h))
	}
	out.Pattern = map[string]any{"kind": p.Pattern.Kind, "spacing_m": round(p.Pattern.Spacing.Metres(), 0), "holes": holes, "why": s.why(p.Pattern.Why)}
	for _, m := range p.Times {
		out.Times[m.Code] = s.time(m.At)
	}
	return out
}

// depthsJSON says how far the depth surface can be trusted.
type depthsJSON struct {
	ChartSoundings int     `json:"chart_soundings"`
	Holes          int     `json:"holes"`
	Compared       int     `json:"holes_left_out"`
	RMSEM          float64 `json:"rmse_m"`
	MeanErrorM     float64 `json:"mean_error_m"`
	MeanSquareZ    float64 `json:"mean_square_z"`
	ShoreRule      string  `json:"shore_rule"`
	ChartScale     float64 `json:"chart_scale"`
	ChartOffsetM   float64 `json:"chart_offset_m"`
}

func depths(q ground.Quality) *depthsJSON {
	return &depthsJSON{q.ChartSoundings, q.Holes, q.Compared, round(q.RMSE.Metres(), 3), round(q.MeanError.Metres(), 3), round(q.MeanSquareZ, 2), q.Rule.String(),
		round(q.ChartScale, 3), round(q.ChartOffset.Metres(), 3)}
}

// dayOf reads a date argument: "", today, tomorrow, or a date.
func dayOf(text string, now time.Time, zone *time.Location) (journal.Day, bool) {
	switch text {
	case "", "tomorrow":
		return journal.DayOf(now.AddDate(0, 0, 1), zone), true
	case "today":
		return journal.DayOf(now, zone), true
	}
	return journal.Day(text), journal.Day(text).Valid()
}
