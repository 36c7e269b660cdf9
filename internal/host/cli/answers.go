package cli

import (
	"math"

	"github.com/google/uuid"

	"icehand/internal/engine/advise"
	"icehand/internal/host/say"
)

// answersJSON are the ten answers of a step: each with its question, its lines and its figures.
type answersJSON struct {
	Why    answerJSON `json:"why"`
	Looks  looksJSON  `json:"looks"`
	Wrong  wrongJSON  `json:"wrong"`
	Cost   billJSON   `json:"cost"`
	Stay   stayJSON   `json:"stay"`
	Tried  triedJSON  `json:"tried"`
	Ice    iceAtJSON  `json:"ice"`
	Home   homeJSON   `json:"home"`
	Walk   walkJSON   `json:"walk"`
	Seen   seenJSON   `json:"seen"`
	Placed bool       `json:"placed"` // the step leads to a place or sits at one
}

type answerJSON struct {
	Number   int      `json:"number"`
	Question string   `json:"question"`
	Lines    []string `json:"lines"`
}

type countJSON struct {
	Looks   int     `json:"looks"`
	Marks   int     `json:"with_marks"`
	Days    int     `json:"days,omitempty"`
	WithinM float64 `json:"within_m,omitempty"`
	Newest  string  `json:"newest,omitempty"`
	Oldest  string  `json:"oldest,omitempty"`
}

type looksJSON struct {
	answerJSON
	Near      countJSON `json:"near_today"`
	Today     countJSON `json:"today"`
	Past      countJSON `json:"near_earlier"`
	Season    countJSON `json:"earlier"`
	FromMarks float64   `json:"share_from_marks_today"`
	Looked    float64   `json:"looked"`
	Prior     string    `json:"prior_stage"`
}

type doubtJSON struct {
	Code  string    `json:"code"`
	Odds  *oddsJSON `json:"odds_then,omitempty"`
	Then  *thenJSON `json:"then,omitempty"`
	AgeS  float64   `json:"age_s,omitempty"`
	OffM  float64   `json:"off_m,omitempty"`
	Count int       `json:"count,omitempty"`
	Of    int       `json:"of,omitempty"`
}

type thenJSON struct {
	Do         string  `json:"do"`
	Hole       int64   `json:"hole,omitempty"`
	AwayM      float64 `json:"away_m,omitempty"`
	BearingDeg float64 `json:"bearing_true_deg"`
}

type wrongJSON struct {
	answerJSON
	Doubts []doubtJSON `json:"doubts"`
}

type billJSON struct {
	answerJSON
	costJSON
	WalkS     float64 `json:"walk_s"`
	DrillS    float64 `json:"drill_s"`
	LookS     float64 `json:"look_s"`
	HolesLeft int     `json:"holes_left,omitempty"`
	Until     string  `json:"until"`
}

type stayJSON struct {
	answerJSON
	Odds  *oddsJSON `json:"odds_here,omitempty"`
	Rods  int       `json:"rods"`
	Rate  rateJSON  `json:"fish_per_hour_as_they_sit"`
	Moved rateJSON  `json:"fish_per_hour_after_moves"`
	Moves int       `json:"moves"`
	Quiet int       `json:"quiet_rods"`
}

type visitJSON struct {
	Day   string      `json:"day"`
	First string      `json:"first"`
	Last  string      `json:"last"`
	Holes []uuid.UUID `json:"holes"`
	Looks int         `json:"looks"`
	Marks int         `json:"with_marks"`
	Fish  int         `json:"fish"`
	Good  int         `json:"good_fish"`
	Bites int         `json:"bites"`
	SatS  float64     `json:"sat_s"`
}

type triedJSON struct {
	answerJSON
	WithinM  float64     `json:"within_m"`
	Visits   []visitJSON `json:"visits"`
	Earlier  *visitJSON  `json:"earlier,omitempty"`
	Days     int         `json:"earlier_days"`
	NearestM float64     `json:"nearest_hole_m"`
}

type iceAtJSON struct {
	answerJSON
	Read      bool    `json:"read_there_today"`
	NearestM  float64 `json:"nearest_m,omitempty"`
	TotalM    float64 `json:"nearest_ice_m,omitempty"`
	When      string  `json:"nearest_when,omitempty"`
	By        string  `json:"nearest_by,omitempty"`
	Today     int     `json:"readings_today"`
	ThinnestM float64 `json:"thinnest_today_m,omitempty"`
}

type homeJSON struct {
	answerJSON
	TurnBack string  `json:"turn_back"`
	Done     string  `json:"done"`
	Latest   string  `json:"latest_start_there"`
	SpareS   float64 `json:"spare_s"`
	TravelS  float64 `json:"travel_s,omitempty"`
	Binding  string  `json:"binding"`
}

type walkerJSON struct {
	Person    uuid.UUID `json:"person"`
	Age       string    `json:"age"`
	Rod       int       `json:"rod,omitempty"`
	Placed    bool      `json:"placed"`
	Can       bool      `json:"can"`
	DistanceM float64   `json:"distance_m"`
	WalkS     float64   `json:"walk_s"`
	ReachM    float64   `json:"reach_m"`
	Told      bool      `json:"reach_told"`
	BaseM     float64   `json:"from_base_m,omitempty"`
	Barred    string    `json:"barred,omitempty"`
}

type walkJSON struct {
	answerJSON
	People []walkerJSON `json:"people"`
}

type watcherJSON struct {
	Shelters   int     `json:"shelters"`
	DistanceM  float64 `json:"distance_m"`
	BearingDeg float64 `json:"bearing_true_deg"`
	AgeS       float64 `json:"age_s"`
	Sees       string  `json:"sees"`
}

type seenJSON struct {
	answerJSON
	Parties []watcherJSON `json:"parties"`
	More    int           `json:"more"`
	PlainM  float64       `json:"told_for_a_person_from_m"`
	ReachM  float64       `json:"above_horizon_from_m"`
	SightM  *float64      `json:"sight_m"` // null: not known
	Dark    bool          `json:"dark"`
}

func (s shaper) count(c advise.Count) countJSON {
	return countJSON{c.Looks, c.Marks, c.Days, round(c.Within.Metres(), 0), s.time(c.Newest), s.time(c.Oldest)}
}

func (s shaper) visit(v advise.Visit) visitJSON {
	return visitJSON{string(v.Day), s.time(v.First), s.time(v.Last), v.Holes, v.Looks, v.Marks, v.Fish, v.Good, v.Bites, math.Round(v.Sat.Seconds())}
}

// answers shapes the ten answers; nil when the step carries none.
func (s shaper) answers(x advise.Step) *answersJSON {
	a := x.Answers
	if a == nil {
		return nil
	}
	said := map[string]answerJSON{}
	for _, w := range s.voice.Answers(x) {
		said[w.Key] = answerJSON{w.Number, w.Question, w.Lines}
	}
	b := a.Basis
	out := &answersJSON{Placed: a.Somewhere, Why: said["why"],
		Looks: looksJSON{said["looks"], s.count(b.Near), s.count(b.Today), s.count(b.Past), s.count(b.Season), round(b.Known, 2), round(b.Looked, 2), b.Prior},
		Cost: billJSON{said["cost"], cost(a.Cost.Cost), math.Round(a.Cost.Walk.Seconds()), math.Round(a.Cost.Drill.Seconds()), math.Round(a.Cost.Look.Seconds()), a.Cost.HolesLeft,
			s.time(a.Cost.Until)},
		Stay: stayJSON{said["stay"], nil, a.Stay.Rods, rate(a.Stay.Rate), rate(a.Stay.Moved), a.Stay.Moves, a.Stay.Quiet},
		Home: homeJSON{said["home"], s.time(a.Home.At), s.time(a.Home.Done), s.time(a.Home.Latest), math.Round(a.Home.Spare.Seconds()), math.Round(a.Home.Travel.Seconds()), a.Home.Code},
	}
	if a.Stay.Odds.Event != "" {
		o := odds(a.Stay.Odds)
		out.Stay.Odds = &o
	}
	out.Wrong = s.doubts(said["wrong"], a.Wrong)
	out.Tried = s.tried(said["tried"], a.Before)
	out.Ice = s.iceAt(said["ice"], a.Ice)
	out.Walk = walkJSON{said["walk"], []walkerJSON{}}
	for _, w := range a.Walk {
		out.Walk.People = append(out.Walk.People, walkerJSON{w.Person, w.Age, w.Rod, w.Placed, w.Can, round(w.Distance.Metres(), 0), math.Round(w.Walk.Seconds()), round(w.Reach.Metres(), 0), w.Told,
			round(w.FromBase.Metres(), 0), w.Barred})
	}
	out.Seen = seenJSON{said["seen"], []watcherJSON{}, a.Seen.More, round(a.Seen.Plain.Metres(), 0), round(a.Seen.Reach.Metres(), 0), nil, a.Seen.Dark}
	if a.Seen.AirTold {
		m := round(a.Seen.Air.Metres(), 0)
		out.Seen.SightM = &m
	}
	for _, p := range a.Seen.Parties {
		out.Seen.Parties = append(out.Seen.Parties, watcherJSON{p.Shelters, round(p.Distance.Metres(), 0), round(p.Toward.Degrees(), 0), math.Round(p.Age.Seconds()), string(p.Sees)})
	}
	return out
}

func (s shaper) doubts(said answerJSON, list []advise.Doubt) wrongJSON {
	out := wrongJSON{said, []doubtJSON{}}
	for _, d := range list {
		j := doubtJSON{Code: d.Code, AgeS: math.Round(d.Age.Seconds()), OffM: round(d.Near.Metres(), 1), Count: d.Count, Of: d.Of}
		if d.Odds != nil {
			o := odds(*d.Odds)
			j.Odds = &o
		}
		if d.Then != nil {
			j.Then = &thenJSON{string(d.Then.Do), s.number[d.Then.Hole], round(d.Then.Away.Metres(), 0), round(d.Then.Toward.Degrees(), 0)}
		}
		out.Doubts = append(out.Doubts, j)
	}
	return out
}

func (s shaper) tried(said answerJSON, t advise.Tried) triedJSON {
	out := triedJSON{said, round(t.Within.Metres(), 0), []visitJSON{}, nil, t.Days, round(t.Nearest.Metres(), 0)}
	for _, v := range t.Visits {
		out.Visits = append(out.Visits, s.visit(v))
	}
	if t.Days > 0 {
		v := s.visit(t.Earlier)
		out.Earlier = &v
	}
	return out
}

func (s shaper) iceAt(said answerJSON, i advise.IceThere) iceAtJSON {
	out := iceAtJSON{answerJSON: said, Read: i.Safety.Read, When: s.time(i.When), Today: i.Today, ThinnestM: round(i.Thinnest.Metres(), 2)}
	if n := i.Safety.Nearest; n != nil && n.Reading != nil {
		out.NearestM, out.TotalM = round(n.Distance.Metres(), 0), round(n.Reading.Total.Metres(), 2)
		out.By = s.voice.Writer(i.By, i.When)
	}
	return out
}

// ruledJSON is what the guide's ruling a place out has changed.
type ruledJSON struct {
	At   *posJSON `json:"at"`
	When string   `json:"when"`
	Odds oddsJSON `json:"odds"`
}

func (s shaper) ruledOut(r *advise.RuledOut) *ruledJSON {
	if r == nil {
		return nil
	}
	return &ruledJSON{s.pos(r.To), s.time(r.When), odds(r.Odds)}
}

// scoreJSON says how the model's forecasts of today's looks have fared.
type scoreJSON struct {
	Looks   int     `json:"looks"`
	Marks   int     `json:"with_marks"`
	Gain    float64 `json:"gain"` // natural log units by which the model leads a constant rate
	Brier   float64 `json:"brier"`
	Verdict string  `json:"verdict"`
	Needed  int     `json:"needed"`
	Text    string  `json:"text"`
}

func score(v say.Voice, x advise.Score) scoreJSON {
	return scoreJSON{x.Looks, x.Marks, round(x.Gain, 2), round(x.Brier, 3), string(x.Verdict), x.Needed, v.Score(x)}
}
