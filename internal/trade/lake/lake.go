// Package lake tells what the journal says of a lake: its holes, looks, ice readings, hazards, crowds and layers.
//
// Start with [View.Sync], which folds new facts of a [journal.Log] and starts afresh when an old fact changed; the
// result does not depend on how often or in which order entries arrived. Places are [geo.Local] on the lake's plane.
// It assumes one lake per view. People, sits and fish are in package party; what any of it means for tomorrow is the
// engine's work.
package lake

import (
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// View is the state of one lake.
type View struct {
	ID       uuid.UUID
	Known    bool // a lake entry was seen; without it nothing has a place
	Name     string
	Zone     *time.Location // the lake's zone; UTC until known
	Frame    geo.Frame
	FreezeUp journal.Day // "" when not recorded

	Layers   []Layer       // by time, newest last
	Holes    []*Hole       // by time of drilling
	Looks    []*Look       // by time
	Ice      []*IceReading // by time
	Hazards  []*Hazard     // by time of report
	Crowds   []*Crowd      // by time
	Observed []Observation // on the ice, by time
	Measured []Observation // by stations near the lake, by time; no look at the ice and never taken for one
	Sketches []Sketch
	Parked   []*Parked // standing loads, gone ones too
	Tracks   []Track   // travelled lines, by time
	settings map[string][]Setting

	// Left lists the facts that count nowhere but should be seen by a person: flagged, or unknown to this program.
	Left []*journal.Fact

	cursor  journal.Cursor
	holes   map[uuid.UUID]*Hole
	hazards map[uuid.UUID]*Hazard
	parked  map[uuid.UUID]*Parked
	states  map[uuid.UUID]holeState // by hole
	pending []*journal.Fact         // facts seen before the lake entry
}

// Layer is bulk data of the lake.
type Layer struct {
	ID   uuid.UUID
	When time.Time
	journal.Layer
}

// Hole is a drilled hole. A hole without a place never moves the odds.
type Hole struct {
	ID       uuid.UUID
	Number   int64
	Label    string
	Day      journal.Day
	Writer   uuid.UUID // account
	Drilled  time.Time
	Placed   bool
	At       geo.Local
	Accuracy quantity.Length // 0 when unknown
	Depth    quantity.Length // 0 when unknown
	DepthBy  string
	Diameter quantity.Length
	Imported bool
	State    string    // as last told: "" or reopened: open; marked, closed
	Told     time.Time // when that was told; zero: never

	from *journal.FromHole
}

// holeState is what was told last of a hole.
type holeState struct {
	when  time.Time
	state string
}

// Pace is the length of a pace when a place is told by paces. Common practice, no source.
const Pace = 0.75 * quantity.Metre

// Paced gives the place some paces from the hole, and how far it may be off: what the hole's own place may be, and a
// tenth of the way. A step counted over snow holds no better; common practice, no source.
func (h *Hole) Paced(paces int, toward quantity.Bearing) (at geo.Local, off quantity.Length) {
	way := quantity.Length(float64(paces) * Pace.Metres())
	return h.At.Toward(toward, way), h.Off(way)
}

// Off gives how far a place told from the hole over a way on foot may be off.
func (h *Hole) Off(way quantity.Length) quantity.Length {
	return max(h.Accuracy, 3*quantity.Metre) + way/10
}

// Look is what was under a hole.
type Look struct {
	ID     uuid.UUID
	When   time.Time
	Hole   uuid.UUID
	Length time.Duration
	Marks  Marks
	Count  int // -1 when not counted
	Height quantity.Length
	Moving string
	Strong string
	Sit    uuid.UUID
}

// Marks classes the echoes of a look.
type Marks int

// The classes.
const (
	None Marks = iota
	Few
	Many
)

func (m Marks) String() string { return [...]string{"none", "few", "many"}[m] }

// ParseMarks reads none, few or many.
func ParseMarks(s string) (Marks, bool) {
	i := slices.Index([]string{"none", "few", "many"}, s)
	return Marks(max(i, 0)), i >= 0
}

// IceReading is what one hole said about the ice.
type IceReading struct {
	ID                                        uuid.UUID
	When                                      time.Time
	Day                                       journal.Day
	Hole                                      uuid.UUID
	Placed                                    bool
	At                                        geo.Local
	Total                                     quantity.Length
	White                                     quantity.Length // 0 when not told; see WhiteTold
	Solid                                     quantity.Length // thickest single layer when Layered
	Snow                                      quantity.Length
	Water                                     quantity.Length // below the ice top
	Crack                                     string
	Writer                                    uuid.UUID
	WhiteTold, SnowTold, WaterTold, SolidTold bool
	Slush, Layered, Grey, Rotten, Current     bool
}

// Hazard is a danger on the ice, in force until a newer report about it says otherwise.
type Hazard struct {
	ID         uuid.UUID
	When       time.Time
	What       string
	Shape      string
	Points     []geo.Local
	Radius     quantity.Length
	Report     string // present, crossing, cleared
	Gap        quantity.Length
	Supersedes uuid.UUID
	By         string
	Superseded bool
}

// InForce tells whether the hazard still bars the way: not superseded and not reported cleared.
func (h *Hazard) InForce() bool { return !h.Superseded && h.Report != "cleared" }

// Distance gives how far p lies from the hazard's buffer in metres; 0 inside it.
func (h *Hazard) Distance(p geo.Local) float64 {
	d := h.bare(p) - h.Radius.Metres()
	return max(d, 0)
}

func (h *Hazard) bare(p geo.Local) float64 {
	pts := h.Points
	if h.Shape == "area" && (geo.Polygon{Outer: pts}).Contains(p) {
		return 0
	}
	best := p.Distance(pts[0]).Metres()
	for i := 1; i < len(pts); i++ {
		best = min(best, geo.SegmentDistance(p, pts[i-1], pts[i]))
	}
	if h.Shape == "area" {
		best = min(best, geo.SegmentDistance(p, pts[len(pts)-1], pts[0]))
	}
	return best
}

// Crowd is a group of other parties.
type Crowd struct {
	ID       uuid.UUID
	When     time.Time
	At       geo.Local
	Radius   quantity.Length
	Shelters int
	Gone     bool
}

// Observation is weather seen on the ice, or measured by a station. Told says which members were given.
type Observation struct {
	When                                              time.Time
	Air                                               quantity.Celsius
	Wind                                              quantity.Speed // brought to 10 m height
	From                                              quantity.Bearing
	Cloud                                             float64 // 0..1
	Sight                                             quantity.Length
	AirTold, WindTold, FromTold, CloudTold, SightTold bool
	Snowing                                           string
	Station                                           string // that measured it; "": seen on the ice
}

// Sketch is the guide's own knowledge of ground.
type Sketch struct {
	ID     uuid.UUID
	When   time.Time
	Area   geo.Polygon
	Stage  string
	Weight int
}

// Track is a travelled line; its points are a blob.
type Track struct {
	ID     uuid.UUID
	When   time.Time
	Day    journal.Day
	Writer uuid.UUID
	journal.Track
}

// Parked is a load standing on the ice.
type Parked struct {
	ID    uuid.UUID
	Since time.Time
	Until time.Time // zero while it stands
	What  string
	Mass  quantity.Mass
	At    geo.Local
}

// Setting is a dated choice.
type Setting struct {
	When  time.Time
	Value json.RawMessage
}

// New makes an empty view of a lake.
func New(id uuid.UUID) *View {
	v := &View{ID: id}
	v.reset()
	return v
}

func (v *View) reset() {
	*v = View{ID: v.ID, Zone: time.UTC, cursor: v.cursor, settings: map[string][]Setting{},
		holes: map[uuid.UUID]*Hole{}, hazards: map[uuid.UUID]*Hazard{}, parked: map[uuid.UUID]*Parked{}, states: map[uuid.UUID]holeState{}}
}

// Sync folds what is new in the log. It reports whether anything was folded.
func (v *View) Sync(log *journal.Log) bool {
	facts, again := log.Since(&v.cursor)
	if again {
		v.reset()
	}
	for _, f := range facts {
		v.fold(f)
	}
	return again || len(facts) > 0
}

// Hole gives a hole by id, or nil.
func (v *View) Hole(id uuid.UUID) *Hole { return v.holes[id] }

// Setting gives the raw value of a setting in force at an instant, or nil.
func (v *View) Setting(key string, at time.Time) json.RawMessage {
	var out json.RawMessage
	for _, s := range v.settings[key] {
		if !s.When.After(at) {
			out = s.Value
		}
	}
	return out
}

// Settings lists every dated choice under a key, by time.
func (v *View) Settings(key string) []Setting { return v.settings[key] }

// Layer gives the newest layer of a sort, or nil.
func (v *View) Layer(what string) *Layer {
	for i := len(v.Layers) - 1; i >= 0; i-- {
		if v.Layers[i].What == what {
			return &v.Layers[i]
		}
	}
	return nil
}

// HolesOn lists the holes of a day in order of drilling.
func (v *View) HolesOn(day journal.Day) []*Hole {
	var out []*Hole
	for _, h := range v.Holes {
		if h.Day == day {
			out = append(out, h)
		}
	}
	return out
}

// NextNumber gives the number of the next hole that an account drills on a day. A number is never used again.
func (v *View) NextNumber(account uuid.UUID, day journal.Day) int64 {
	n := int64(0)
	for i := len(v.Holes) - 1; i >= 0; i-- {
		if h := v.Holes[i]; h.Day == day && h.Writer == account {
			n = max(n, h.Number)
		}
	}
	return n + 1
}

// OpenOn lists the holes that may stand open on a day: those drilled on it and those of earlier days that were opened again on it, less those closed since.
func (v *View) OpenOn(day journal.Day, at time.Time) (out []*Hole) {
	for _, h := range v.Holes {
		if h.Label == "retracted" || h.Drilled.After(at) || h.Day > day {
			continue
		}
		again := h.State != "" && !h.Told.After(at) && journal.DayOf(h.Told, v.Zone) == day
		if h.Day != day && !(again && h.State != "closed") || h.Day == day && again && h.State == "closed" {
			continue
		}
		out = append(out, h)
	}
	return out
}

// Big tells whether somebody can step into the hole: 20 cm and wider, or not told. The width: trade note; common practice, no source.
func (h *Hole) Big() bool { return h.Diameter == 0 || h.Diameter >= 20*quantity.Centimetre }
