// Package advise answers the guide's two great questions from all that is known: what next ([Next]), and where to start
// tomorrow ([Evening]). It joins the odds of package plan with the vetoes of package safety and says its reasons as data.
//
// Start with [Next]. An answer is data: hosts turn it into words and units. Advice is never given over a veto.
// It leaves out how odds are computed (plan) and what may be travelled (safety).
// Model note: docs/models/search.md.
package advise

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// Version names the engine in journaled advice; it changes with every change of an answer.
const Version = "icehand-9"

// Input is all that the engine may know. It changes none of it.
type Input struct {
	Now      time.Time
	Lake     *lake.View
	Party    *party.View
	Surface  *ground.Surface // depth; cells of unknown depth are usable, with less to go on
	Cover    safety.Cover    // the columns of the lake's zones, for the ice under a step
	IceEnded time.Time       // since when older ice readings count no more; zero: nothing ended them
	Forecast []safety.ForecastHour
	Issued   time.Time   // of the forecast; zero: none
	Ends     safety.Ends // hours told that end the day of an evening plan
	Scout    Place       // where the scout stands
	Rods     []Rod       // who fishes where now
	Aim      string      // action, numbers, size, first_fish, learning; "": numbers
	Seed     uint64
	Budget   int // evaluations; 0: the default
	Home     safety.TurnBack
	Options  Options
	// Wide is the depth surface of the whole lake, for places on the way home; nil: Surface alone.
	Wide *ground.Surface
	// TurnBackAt reckons the turn-back time at another place; nil: no place may be fished past the turn-back time here.
	TurnBackAt func(geo.Local) safety.TurnBack
	// Law is what the rule book says of the second target; zero: nobody signed one.
	Law dusk.Law
	// Veto answers whether a hop over the ice may be advised; nil: [safety.Hop]. It is a member so that a host can ask once
	// for many hops, and a test can bar a cell.
	Veto func(safety.HopInput) safety.HopAnswer
	// Memory is what [Remember] made of the past days; nil: it is made in the call.
	Memory *Memory
	// Answers asks for the ten answers about the step too: [Step.Answers].
	Answers bool
	// NotThere are the places that the guide has ruled out today, by time; no step leads near one.
	NotThere []NotThere
	// Spare asks that no plan be advised by which fish are sorted where those put back seldom live; nil: nothing is barred for their sake.
	Spare *Spare
	// AimFor is the guest whose first fish the day is about, with the aim first_fish; zero: nobody's.
	AimFor uuid.UUID
}

// NotThere is a place that the guide ruled out.
type NotThere struct {
	At   geo.Local
	When time.Time
}

// Place is a place with its age; Known is false without a fix.
type Place struct {
	At       geo.Local
	Known    bool
	Accuracy quantity.Length
	Fixed    time.Time
}

// Rod is one rod of the party.
type Rod struct {
	Number int
	Hole   uuid.UUID
	At     geo.Local
	Since  time.Time
	Sit    uuid.UUID
}

// Options are the outfit's settings that change advice. The zero value of each is its default.
type Options struct {
	WalkSpeed  quantity.Speed  // loaded sled; 0: 3.5 km/h (common practice, no source)
	SetUp      time.Duration   // of a rod at a hole; 0: 1 min
	LookLength time.Duration   // 0: 30 s
	Table      safety.Table    // ice table in force; zero: the occupational default
	Pace       quantity.Length // length of the guide's pace; 0: 0.75 m
	HolesLeft  int             // hole budget; 0: not limited
	GoodLength quantity.Length // a good fish; 0: 23 cm
	Clarity    quantity.Length // of the water: depth at which a white disc vanishes; 0: not told
}

// Action is what the scout or a rod should do.
type Action string

// The actions.
const (
	Drill  Action = "drill"   // drill a new hole and look
	Look   Action = "look"    // look again in an open hole
	Stay   Action = "stay"    // go on fishing here
	Move   Action = "move"    // take the rod to another open hole
	HeadIn Action = "head_in" // start home
	Leave  Action = "leave"   // off this spot: it lies inside a reported hazard, or, of a rod, fish would be sorted that seldom live
	Wait   Action = "wait"    // nothing worth doing may be advised; the reasons say what bars it
)

// Step is the next step: the call for the scout, what each rod should do, and why.
type Step struct {
	At        time.Time
	Do        Action
	To        geo.Local // where, for drill, look and move
	Hole      uuid.UUID // the hole, for look and stay
	From      *Anchor   // To in words: paces and bearing from a numbered hole
	Odds      Odds
	Cost      Cost
	Why       []Reason // the largest first, at least one
	Changes   []Reason // what would change it
	Ice       safety.HopAnswer
	Rods      []RodStep
	Others    []Alternative // at most two
	TossUp    bool          // the best alternative is as good within the noise
	Plain     bool          // the line-and-spiral way answered, since the model had nothing to go on or was doing worse: see Score
	HolesLeft int           // 0 when not limited
	Second    *Second       // the second target; nil when nobody knows where the lines are
	Windows   BiteWindows   // today's feeding windows
	Evidence  Evidence
	Score     Score // how the model's forecasts of today's looks have fared
	Aim       string
	RuledOut  *RuledOut // what the guide's ruling out changed; nil when it changed nothing
	Answers   *Answers  // nil when not asked for
	Seed      uint64
	Budget    int
}

// RuledOut is the step that would have been advised if the guide had not ruled its place out.
type RuledOut struct {
	When time.Time // of the ruling
	To   geo.Local
	From *Anchor
	Odds Odds
}

// Score compares the forecasts of today's looks with the plainest rival, a constant rate.
type Score struct {
	Looks, Marks int
	Gain         float64 // natural log units by which the model leads; negative when it trails
	Brier        float64 // mean squared error of the model's chances
	Verdict      Verdict
	Needed       int // looks before there is a verdict
}

// Verdict says how the model does against the plainest rival today.
type Verdict string

// The verdicts. When the model does worse, the line and spiral answers.
const (
	TooEarly Verdict = "too_early"
	Better   Verdict = "better"
	NoBetter Verdict = "no_better"
	Worse    Verdict = "worse"
)

// Anchor places a spot in words a mitten can follow.
type Anchor struct {
	Hole    uuid.UUID
	Number  int64
	Day     string // "" for today
	Paces   int
	Bearing quantity.Bearing
	OnLine  *[2]int64 // the spot lies on the line from the first to the second numbered hole
}

// Odds is the chance of an event at a place within a stated wait. It is the plain posterior mean, with a range.
type Odds struct {
	P         float64
	Low, High float64       // 80 % range
	Event     string        // marks, fish, good_fish
	Wait      time.Duration // the stated wait
	Word      string        // likely, fair, long_shot
	Plan      Plan          // what is done there: a look in one hole, a chain of holes, a sit
	Holes     int           // of a chain
}

// Plan is what a chance is told for.
type Plan string

// The plans.
const (
	OneHole Plan = "hole"
	Chain   Plan = "chain"
	Sitting Plan = "sit"
)

// Cost is what a step takes.
type Cost struct {
	Minutes  float64 // until the first look or the line is down
	Holes    int
	Ice      quantity.Length // to drill
	Distance quantity.Length // to walk
}

// Reason is one reason as data: Code chooses the sentence, the numbers fill it.
type Reason struct {
	Code   string          // looks_near, heading, fresh_ground, depth_band, bottom_form, season_record, bites_here, gone_quiet, crowd, caught_out, hour, sketch, turn_back, ...
	Weight float64         // share of the decision, for ordering
	Count  int             // e.g. looks with marks
	Of     int             // of how many
	Near   quantity.Length // within
	Age    time.Duration   // newest evidence: of marks where there are any, else of looks
	Oldest time.Duration   // oldest look counted
	Depth  quantity.Length
	Band   [2]quantity.Length // depths that the guide told
	Toward quantity.Bearing
	Rate   float64     // fish an hour, or a factor
	Form   string      // of the bottom: basin, hump, edge, transition
	Holes  []uuid.UUID // the evidence
	Looks  []uuid.UUID // the same by look, today's
	Prior  Prior       // the belief that it rests on; "" when it rests on looks of today
	Text   string      // for reasons that come from a veto: its sentence
}

// Prior is a belief held before today's looks.
type Prior string

// The priors.
const (
	ByStage  Prior = "stage"  // what perch do at this stage of the winter
	ByRecord Prior = "record" // the outfit's own past days
	BySketch Prior = "sketch" // the guide's own
	ByHour   Prior = "hour"   // the hour curve
)

// RodStep is what one rod should do.
type RodStep struct {
	Rod    int
	Do     Action    // stay, move, head_in
	To     uuid.UUID // hole to move to
	Here   Rate      // believed rate here
	There  Rate      // believed rate at the best open alternative, travel charged
	ReAsk  time.Time // when to ask again: the sit clock
	Why    []Reason
	TossUp bool
}

// Rate is fish an hour with an 80 % range.
type Rate struct{ Mean, Low, High float64 }

// Alternative is another step that is nearly as good.
type Alternative struct {
	Do   Action
	To   geo.Local
	Hole uuid.UUID
	From *Anchor
	Odds Odds
	Cost Cost
	Why  []Reason
	Ice  safety.HopAnswer
}

// OddsMap is the field of odds now: the plain mean, per cell of a grid.
type OddsMap struct {
	At     time.Time
	Grid   ground.Grid
	P      []float64 // NaN on land and outside
	Event  string
	Wait   time.Duration
	Looked []float64 // 0..1, how well a cell's neighbourhood has been looked at
}

// EveningPlan is tomorrow on one page.
type EveningPlan struct {
	Day      string
	Stage    string          // early, mid, late
	Starts   []Start         // A, B, C
	Pattern  Pattern         // first holes at A
	Holes    int             // hole budget
	Drill    quantity.Length // ice to drill
	Times    []Moment
	Home     safety.TurnBack
	Dusk     []Reason         // what to think of for the last light
	Second   []Second         // the second target about first light and before dark
	Changes  []Reason         // what would change the plan
	Ice      safety.IceAnswer // newest state near A, for the way of travel
	Evidence Evidence
	Seed     uint64
}

// Start is one start area.
type Start struct {
	Letter   string
	At       geo.Local
	Radius   quantity.Length
	Depth    [2]quantity.Length // band
	Odds     Odds               // marks in a first hole, stated wait
	First    Odds               // marks in at least one hole of the first pattern
	Rate     Rate               // expected fish per rod-hour, from the record; Low and High wide when there is little
	Why      []Reason
	GiveUp   time.Duration   // blank time after which to go to the next letter
	Distance quantity.Length // from the landing
	Travel   time.Duration
	Barred   []safety.Refusal // why it may not be used as it stands, e.g. no reading on the way
}

// Pattern is the first set of holes.
type Pattern struct {
	Kind    string // line, spiral, cross
	Spacing quantity.Length
	Holes   []geo.Local
	Why     []Reason
}

// Moment is one time of the plan.
type Moment struct {
	Code string // civil_dawn, sunrise, first_hole, turn_back, sunset, civil_dusk, ...
	At   time.Time
}

// Evidence counts what the plan rests on.
type Evidence struct {
	Days, Holes, Looks, WithMarks, Fish int
	From, To                            time.Time
	Soundings                           int
	Placeless                           int    // looks, fish and bites left out since their hole has no place
	StageBy                             string // what the stage was told from: freeze_up, ice, date, nothing
}
