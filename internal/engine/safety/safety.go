// Package safety answers three questions and may veto every other answer of the engine: is the ice here below what a
// stated load asks for, when must the party start home, and may this hop be advised at all?
//
// Start with [Ice], [TurnBackTime] and [Hop]. Whatever is unknown is reported as unknown and makes the answer stricter,
// never looser; nothing here ever answers that ice is good. Guarded: plan and advise import this package, never the reverse.
// It leaves out the growth of ice between readings: that belongs to physics/ice and only ever warns.
// Model note: docs/models/safety.md.
package safety

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/trade/lake"
)

// Load is what is to be carried by the ice.
type Load struct {
	Class string        // on_foot, group, snow_machine, side_by_side, car, truck: the rows of a table
	Mass  quantity.Mass // 0: the usual mass of the class, a placeholder that the outfit should replace
}

// IceState is one of the four things that may be said of ice.
type IceState string

// The four states. There is no fifth.
const (
	NoData     IceState = "no_data"     // no reading that counts here: none, too old, too far, or in a state in which no figure is given
	BelowTable IceState = "below_table" // effective thickness under what the table in force asks for
	BelowRule  IceState = "below_rule"  // the calculated load is less than the stated one
	NotBelow   IceState = "not_below"   // not below either, at the holes read; not a go
)

// Refusal says why no figure is given, or why the answer is stricter.
type Refusal struct {
	Code string // thaw_day, thaw_hours, brittle, layered, grey, rotten, not_floating, hazard, stale, far, other_day, shore, current, wet_crack, no_air_temperature, ...
	Text string // one plain sentence, at most 90 characters
}

// IceInput is what [Ice] looks at.
type IceInput struct {
	Now      time.Time
	Zone     *time.Location
	At       geo.Local
	Load     Load
	Readings []*lake.IceReading // any order, any age; those without a place are ignored
	Hazards  []*lake.Hazard
	Air      []AirHour // air temperatures of the last days, observed or forecast, for the thaw rules; may be empty
	Table    Table     // zero: the occupational default
}

// AirHour is an hour's air temperature.
type AirHour struct {
	Start time.Time
	Air   quantity.Celsius
}

// Table is an agency's table of least effective thickness by class of load: dated data with a source.
type Table struct {
	Agency, Jurisdiction, Dated, Source string
	Least                               map[string]quantity.Length
}

// IceAnswer is what may be said about a load at a place.
type IceAnswer struct {
	State     IceState
	Load      Load
	Table     Table
	Asked     quantity.Length // effective thickness that the table asks for, condition rules applied; 0: the table does not cover the class
	Effective quantity.Length // least effective thickness among the readings that count; 0 without data
	Carries   quantity.Mass   // calculated load by the formula at that thickness; 0 when no figure is given
	Counted   int             // readings that count
	Newest    time.Time       // of those that count
	Nearest   *Nearest        // nearest reading of any age, nil when there is none
	Hazards   []HazardNear    // in force and near, nearest first
	Refusals  []Refusal
}

// Nearest is the nearest ice reading with its age and distance.
type Nearest struct {
	Reading  *lake.IceReading
	Age      time.Duration
	Distance quantity.Length
	Bearing  quantity.Bearing // from the place asked about to the reading
}

// HazardNear is a hazard with its distance.
type HazardNear struct {
	Hazard   *lake.Hazard
	Age      time.Duration
	Distance quantity.Length
}

// TurnBackInput is what [TurnBackTime] looks at. Unknown members make the answer earlier.
type TurnBackInput struct {
	Now        time.Time
	Zone       *time.Location
	Day        string       // civil date
	Landing    geo.Position // where home is
	Here       *geo.Local   // nil: no fix; the farthest place of the day is used
	Farthest   geo.Local    // farthest place from the landing reached today
	Frame      geo.Frame
	Way        []geo.Local    // this morning's line, landing first; may be empty
	Travel     string         // foot, machine, vehicle
	Speed      quantity.Speed // measured today; 0: the careful default of the way of travel
	Slowest    float64        // factor for the slowest member, at least 1; 0: 1
	FlatLight  bool
	PackUp     time.Duration  // 0: 20 min
	Margin     time.Duration  // less than 30 min: 30 min
	Forecast   []ForecastHour // may be empty: then dusk is brought forward, and it is said
	Issued     time.Time      // of the forecast
	Crossings  []*lake.Hazard // ridges and cracks that lie across the way home
	LegalClose time.Time      // zero: none
	Agreed     time.Time      // zero: none
	Override   *Override
	Margins    map[string]time.Duration // by deadline code: more margin than the default, never less
}

// ForecastHour is one hour of the weather ahead. Told says which members are known.
type ForecastHour struct {
	Start                                                                 time.Time
	Air                                                                   quantity.Celsius
	Wind, Gust                                                            quantity.Speed
	From                                                                  quantity.Bearing
	Snow                                                                  quantity.Length // in the hour
	Sight                                                                 quantity.Length
	Cloud                                                                 float64
	AirTold, WindTold, GustTold, FromTold, SnowTold, SightTold, CloudTold bool
}

// Override is a new turn-back time that the guide has set, with its reason.
type Override struct {
	Set, Until time.Time
	Reason     string
}

// Deadline is one named reason to be off the ice.
type Deadline struct {
	Code   string        // dark, wind_shift, front, sight, legal_close, agreed, crossing, no_forecast
	When   time.Time     // the deadline itself
	Doubt  time.Duration // taken off for its uncertainty
	Travel time.Duration // home, or to the crossing
	PackUp time.Duration
	Margin time.Duration
	Start  time.Time // When - Doubt - Travel - PackUp - Margin: latest start
	Text   string    // at most 90 characters, for the strip: "wind to NW about 17:00; ridge 40 min away"
}

// TurnBack is the latest minute to start home and what binds it.
type TurnBack struct {
	At       time.Time
	Binding  Deadline
	All      []Deadline // by Start
	Computed time.Time  // before any override
	Override *Override
	Unknown  []string // what was not known and made it earlier, a plain sentence each
	Way      Way
}

// Way is the way home as far as it is known.
type Way struct {
	Distance quantity.Length
	Bearing  quantity.Bearing // from here, first leg's direct line to the landing
	Travel   time.Duration
	Line     []geo.Local // this morning's line from here to the landing; empty: no known way
	Basis    string      // "this morning's line", "direct line, not travelled today"
}

// HopInput is a step over the ice that the planner would like to advise.
type HopInput struct {
	Now      time.Time
	Zone     *time.Location
	From, To geo.Local
	Travel   string // foot; anything else is never advised over unread ice
	Surface  *ground.Surface
	Readings []*lake.IceReading
	Hazards  []*lake.Hazard
	Air      []AirHour
	Table    Table
	// Return is when the party would be back at From's turn-back duties: arrival at To plus the travel home from To.
	Deadline time.Time                     // turn-back time; zero: none known
	Arrival  time.Time                     // expected arrival and first look at To
	HomeAt   func(geo.Local) time.Duration // travel home from a place; nil: not checked
}

// HopAnswer says whether a hop may be advised and how it must be labelled.
type HopAnswer struct {
	Barred  bool
	Reasons []Refusal // why barred
	Read    bool      // ice read at the place itself or beside it today
	Label   string    // the line to show with the advice, at most 90 characters; never empty
	Nearest *Nearest
}
