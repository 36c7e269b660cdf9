// This file is long because it is the whole vocabulary of the journal in one place: one struct a kind.

package journal

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// All numbers in bodies are integers: 1e-7 degree, mm, g, 0.1 degree C, mm/s, ms since 1970.

// Point is a WGS 84 position in units of 1e-7 degree.
type Point struct {
	Lat int64 `json:"lat"`
	Lon int64 `json:"lon"`
}

// PointOf makes a Point of a position.
func PointOf(p geo.Position) *Point {
	lat, lon := p.E7()
	return &Point{Lat: lat, Lon: lon}
}

// Position gives the point in degrees.
func (p Point) Position() geo.Position { return geo.FromE7(p.Lat, p.Lon) }

func (p *Point) check(what string) error {
	if p != nil && !p.Position().Valid() {
		return fmt.Errorf("journal: %s: position is not on the globe", what)
	}
	return nil
}

// MM makes an optional length in millimetres.
func MM(l quantity.Length) *int64 {
	v := l.Millimetres()
	return &v
}

// between refuses a stated value outside lo..hi.
func between(what string, v *int64, lo, hi int64, unit string) error {
	if v != nil && (*v < lo || *v > hi) {
		return fmt.Errorf("journal: %s of %d %s is outside %d to %d", what, *v, unit, lo, hi)
	}
	return nil
}

// unitNames names the units of length in which people type.
var unitNames = map[quantity.Length]string{quantity.Millimetre: "mm", quantity.Centimetre: "cm", quantity.Metre: "m", quantity.Kilometre: "km", quantity.Inch: "in", quantity.Foot: "ft"}

// long writes a length in millimetres in a unit, to a tenth.
func long(mm int64, unit string) string {
	u, known := quantity.LengthUnit(unit)
	name := unitNames[u]
	if !known || name == "" {
		u, name = quantity.Millimetre, "mm"
	}
	l := float64(quantity.Length(mm)*quantity.Millimetre) / float64(u)
	return strconv.FormatFloat(math.Round(l*10)/10, 'f', -1, 64) + " " + name
}

// within refuses a stated length outside lo..hi, all in millimetres, and tells it in the unit in which it was typed.
func within(what string, v *int64, lo, hi int64, unit string) error {
	if v != nil && (*v < lo || *v > hi) {
		return fmt.Errorf("journal: %s of %s is outside %s to %s", what, long(*v, unit), long(lo, unit), long(hi, unit))
	}
	return nil
}

// typed gives the unit of a body's lengths: as typed, else the usual one.
func typed(unit, usual string) string {
	if _, known := quantity.LengthUnit(unit); known {
		return unit
	}
	return usual
}

func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func oneOf(what, v string, allowed ...string) error {
	for _, a := range allowed {
		if v == a {
			return nil
		}
	}
	return fmt.Errorf("journal: %s %q is none of %q", what, v, allowed)
}

func named(what string, id uuid.UUID) error {
	if id == uuid.Nil {
		return fmt.Errorf("journal: %s is not named", what)
	}
	return nil
}

// Text is free text or a name that can be erased: the bytes live in a blob, the journal holds a salted hash.
type Text struct {
	Blob Hash `json:"blob"`
}

// Lake founds or renames a lake. Its origin is fixed by the first lake entry.
type Lake struct {
	Name   string `json:"name"`
	Origin Point  `json:"origin"`
	Zone   string `json:"zone"` // IANA
	// FreezeUp is the civil day on which the main basin closed this season, when known.
	FreezeUp Day `json:"freeze_up,omitempty"`
}

// Layer ties bulk data to the lake: an outline, a chart's soundings, a forecast, the past days of a weather station.
type Layer struct {
	What    string `json:"what"` // outline, soundings, forecast, station
	Blob    Hash   `json:"blob"` // the file as it came
	Media   string `json:"media"`
	Name    string `json:"name"` // file name as given, without folders
	Unit    string `json:"unit,omitempty"`
	Options string `json:"options,omitempty"` // how the file was read, so that it reads the same again: a query string
	Rows    int64  `json:"rows"`
	Source  string `json:"source,omitempty"`
	Licence string `json:"licence,omitempty"`
	Issued  int64  `json:"issued,omitempty"` // ms; forecasts
	From    int64  `json:"from,omitempty"`
	To      int64  `json:"to,omitempty"`
	// Replaces names an earlier layer that this one supersedes.
	Replaces uuid.UUID `json:"replaces,omitzero"`
}

// Hole is a drilled hole. At is nil when there was no fix; a placeless hole never moves the odds.
type Hole struct {
	Number   int64      `json:"number"`
	Label    string     `json:"label,omitempty"` // as an older record names it
	At       *Point     `json:"at,omitempty"`
	Accuracy *int64     `json:"accuracy_mm,omitempty"`
	FixAge   *int64     `json:"fix_age_ms,omitempty"`
	From     *FromHole  `json:"from,omitempty"` // placed by hand from another hole
	Depth    *int64     `json:"depth_mm,omitempty"`
	DepthBy  string     `json:"depth_by,omitempty"` // line, sonar, map
	Unit     string     `json:"unit,omitempty"`     // unit as typed
	Diameter *int64     `json:"diameter_mm,omitempty"`
	Remarks  *Text      `json:"remarks,omitempty"`
	Source   *RowSource `json:"source,omitempty"`
}

// FromHole places a hole by paces and bearing from another.
type FromHole struct {
	Hole    uuid.UUID `json:"hole"`
	Paces   int64     `json:"paces"`
	Bearing int64     `json:"bearing_ddeg"` // 0.1 degree from true north
}

// RowSource says which row of which file an imported entry came from.
type RowSource struct {
	File Hash  `json:"file"`
	Row  int64 `json:"row"`
}

// Ice is one ice reading: what one hole said about the ice.
type Ice struct {
	Hole    uuid.UUID  `json:"hole,omitzero"`
	At      *Point     `json:"at,omitempty"` // when no hole is recorded
	Total   int64      `json:"total_mm"`
	White   *int64     `json:"white_mm,omitempty"` // part of total
	Snow    *int64     `json:"snow_mm,omitempty"`
	Water   *int64     `json:"water_mm,omitempty"` // water level below the ice top; negative when water stands on the ice
	Slush   bool       `json:"slush,omitempty"`
	Layered bool       `json:"layered,omitempty"`  // layers parted by water or slush
	Solid   *int64     `json:"solid_mm,omitempty"` // thickest single solid layer, when layered
	Grey    bool       `json:"grey,omitempty"`     // grey, dark or wet ice
	Rotten  bool       `json:"rotten,omitempty"`   // candled
	Crack   string     `json:"crack,omitempty"`    // "", dry, wet, crossing
	Current bool       `json:"current,omitempty"`
	Unit    string     `json:"unit,omitempty"`
	Source  *RowSource `json:"source,omitempty"`
}

// Look is seconds to minutes with the sonar in a hole and no lure.
type Look struct {
	Hole    uuid.UUID  `json:"hole"`
	Seconds int64      `json:"seconds"`
	Marks   string     `json:"marks"` // none, few, many
	Count   *int64     `json:"count,omitempty"`
	Height  *int64     `json:"height_mm,omitempty"` // of the marks off the bottom
	Moving  string     `json:"moving,omitempty"`    // still, slow, fast
	Strong  string     `json:"strength,omitempty"`  // weak, medium, strong
	Sit     uuid.UUID  `json:"sit,omitzero"`        // when seen while sitting: gone, back
	Source  *RowSource `json:"source,omitempty"`
}

// SitStart begins a spell of fishing by one rod at a hole.
type SitStart struct {
	Hole         uuid.UUID  `json:"hole"`
	Rod          int64      `json:"rod"`
	Guest        uuid.UUID  `json:"guest,omitzero"`
	Target       string     `json:"target,omitempty"` // species
	Presentation uuid.UUID  `json:"presentation,omitzero"`
	Source       *RowSource `json:"source,omitempty"`
}

// SitEnd ends a spell; Why is followed, overruled, moved, cold, done or empty.
type SitEnd struct {
	Sit uuid.UUID `json:"sit"`
	Why string    `json:"why,omitempty"`
}

// Bite is a take that was not landed.
type Bite struct {
	Hole uuid.UUID `json:"hole"`
	Rod  int64     `json:"rod"`
	Sit  uuid.UUID `json:"sit,omitzero"`
}

// Fish is a landed fish, or Count alike ones from one hole in an older record.
type Fish struct {
	Hole    uuid.UUID  `json:"hole,omitzero"`
	Rod     int64      `json:"rod,omitempty"`
	Guest   uuid.UUID  `json:"guest,omitzero"` // zero: no name yet
	Sit     uuid.UUID  `json:"sit,omitzero"`
	Species string     `json:"species"`
	Length  *int64     `json:"length_mm,omitempty"`
	Size    string     `json:"size,omitempty"` // small, good, big
	Kept    bool       `json:"kept"`
	Count   int64      `json:"count"`
	Flag    string     `json:"flag,omitempty"` // why a person should look at it: over the limit, odd length
	Source  *RowSource `json:"source,omitempty"`

	Hooked   uuid.UUID `json:"hooked,omitzero"`     // who hooked it, where not the guest whose fish it is
	Landed   uuid.UUID `json:"landed,omitzero"`     // who landed it, where not the guest
	Measured string    `json:"length_by,omitempty"` // board, eye
	Fate     string    `json:"fate,omitempty"`      // choice, required, lost, dead; unkept: kept first, put back later
	Deep     bool      `json:"deep_hooked,omitempty"`
	Bleeding bool      `json:"bleeding,omitempty"`
	Down     string    `json:"down,omitempty"` // how a fish put back went: quick (within 3 s), slow, floats
	Rules    uuid.UUID `json:"rules,omitzero"` // rule book in force when it was entered
}

// Hazard is a danger on the ice. A newer report supersedes an older one; the older is kept and shown.
type Hazard struct {
	What       string    `json:"what"`  // ridge, crack, thin, spring, current, open_water, slush, narrows, rotten, other
	Shape      string    `json:"shape"` // point, line, area
	Points     []Point   `json:"points"`
	Radius     int64     `json:"radius_mm"` // buffer about the shape
	Report     string    `json:"report"`    // present, crossing, cleared
	Gap        *int64    `json:"gap_mm,omitempty"`
	Supersedes uuid.UUID `json:"supersedes,omitzero"`
	By         string    `json:"by,omitempty"`
}

// Crowd is a group of other parties.
type Crowd struct {
	At       Point `json:"at"`
	Radius   int64 `json:"radius_mm"`
	Shelters int64 `json:"shelters"`
	Gone     bool  `json:"gone,omitempty"`
}

// Guest is a person in the party. Names and notes are erasable.
type Guest struct {
	Name  Text      `json:"name"`
	Role  string    `json:"role"` // guide, scout, guest
	Age   string    `json:"age"`  // child, adult, elder
	Rod   int64     `json:"rod,omitempty"`
	Seat  uuid.UUID `json:"seat,omitzero"` // hole
	Notes *Text     `json:"notes,omitempty"`
	Pace  *int64    `json:"pace_mm,omitempty"`
	Reach *int64    `json:"reach_mm,omitempty"` // farthest that the person is walked at a stretch
	// Licence is the number, which stays on the device: it is erasable, and nothing that leaves reads it.
	Licence *Text `json:"licence,omitempty"`
	Seen    bool  `json:"licence_seen,omitempty"`  // somebody of the outfit has looked at it
	Until   Day   `json:"licence_until,omitempty"` // last day on which it holds
}

// Claim says where one person is: on_ice or ashore; leaving for shore before the others, or unseen by whoever claims it. Whoever is
// leaving or unseen is on the ice.
type Claim struct {
	Person uuid.UUID `json:"person"`
	State  string    `json:"state"`
	By     uuid.UUID `json:"by,omitzero"`
}

// HeadCount is a roll call by name.
type HeadCount struct {
	Present []uuid.UUID `json:"present"`
	Missing []uuid.UUID `json:"missing,omitempty"`
	Sweep   uuid.UUID   `json:"sweep,omitzero"`
}

// LoadParked puts a standing load on the ice, or takes it away when Left is set.
type LoadParked struct {
	What string    `json:"what"`
	Mass int64     `json:"mass_g"`
	At   Point     `json:"at"`
	Left bool      `json:"left,omitempty"`
	Of   uuid.UUID `json:"of,omitzero"` // the parking that ends
}

// Track is a travelled line, or a part of one; its points are a blob.
type Track struct {
	Blob    Hash        `json:"blob"`
	Points  int64       `json:"points"`
	From    int64       `json:"from"`
	To      int64       `json:"to"`
	Purpose string      `json:"purpose,omitempty"` // out, home, scouting
	Of      uuid.UUID   `json:"of,omitzero"`       // first part of the line that this one carries on
	Travel  string      `json:"travel,omitempty"`  // foot, machine, vehicle; empty: as the day's trip tells
	People  []uuid.UUID `json:"people,omitempty"`  // guests who came along, as told
}

// Watch is something of the cold and shelter watch that was done or seen: somebody warmed up, got wet or is dry again, faces were looked at,
// a heater burns or is out, its vents were found open, its carbon monoxide alarm works.
type Watch struct {
	What   string    `json:"what"` // warm, wet, dry, faces, heater_on, heater_off, vents, co_alarm
	Person uuid.UUID `json:"person,omitzero"`
}

// Weather is what was observed on the ice, or measured by a station near the lake.
type Weather struct {
	Air        *int64 `json:"air_dc,omitempty"`      // 0.1 degree C
	Wind       *int64 `json:"wind_mms,omitempty"`    // mm/s
	WindHeight string `json:"wind_height,omitempty"` // face, mast
	From       *int64 `json:"from_deg,omitempty"`    // direction the wind comes from
	Cloud      *int64 `json:"cloud_pct,omitempty"`
	Sight      *int64 `json:"sight_mm,omitempty"`
	Snowing    string `json:"snowing,omitempty"` // none, light, heavy
	Station    string `json:"station,omitempty"` // that measured it; "": seen on the ice
	Unit       string `json:"unit,omitempty"`
}

// Setting changes how advice is made, from the entry's time on.
type Setting struct {
	Key   string          `json:"key"`
	Value json.RawMessage `json:"value"` // string, integer, boolean, or an object of these
	Why   string          `json:"why,omitempty"`
}

// Sketch is the guide's own knowledge of ground: "they are usually here in January".
type Sketch struct {
	Area   []Point `json:"area"`
	Stage  string  `json:"stage,omitempty"` // early, mid, late
	Weight int64   `json:"weight"`          // -3 (never here) to 3 (nearly always)
}

// Ledger is one line of the books. Amounts are hundredths of the outfit's money, always positive: What tells which way it went.
type Ledger struct {
	What     string    `json:"what"` // income, deposit, refund, cost, distance, gear
	Day      Day       `json:"of"`
	Amount   int64     `json:"amount_c,omitempty"`
	Item     string    `json:"item,omitempty"`        // what for, or which gear
	Minutes  *int64    `json:"minutes,omitempty"`     // that gear ran
	Distance *int64    `json:"distance_mm,omitempty"` // that was driven
	Booking  uuid.UUID `json:"booking,omitzero"`
}

// Booking says that a party means to come on a day: what a day's roster needs, and no more. Amended when it changes.
type Booking struct {
	Day      Day    `json:"of"`
	Name     Text   `json:"name"` // erasable
	People   int64  `json:"people"`
	Children int64  `json:"children,omitempty"` // of them
	State    string `json:"state"`              // asked, booked, cancelled
	Why      string `json:"why,omitempty"`      // cancelled for: weather, ice, guests, machine
	Meet     int64  `json:"meet,omitempty"`     // ms; absent: not agreed
	Note     *Text  `json:"note,omitempty"`
}

// Presentation says how a rod fished.
type Presentation struct {
	Lure   string    `json:"lure"`
	Manner string    `json:"manner,omitempty"`
	Height *int64    `json:"height_mm,omitempty"`
	Screen string    `json:"screen,omitempty"` // what the sonar showed: searching, arriving, lookers
	Sit    uuid.UUID `json:"sit,omitzero"`
}

// Note is free text.
type Note struct {
	Text Text      `json:"text"`
	Hole uuid.UUID `json:"hole,omitzero"`
}

// Photo names a picture by content.
type Photo struct {
	Blob  Hash      `json:"blob"`
	Media string    `json:"media"`
	Hole  uuid.UUID `json:"hole,omitzero"`
}

// ClockJump notes that the wall clock stepped against the monotonic clock.
type ClockJump struct {
	Before int64 `json:"before"` // ms by the wall before
	After  int64 `json:"after"`
	Mono   int64 `json:"mono"` // ms that really passed
}

// Advice is what was shown to the guide.
type Advice struct {
	Engine   string          `json:"engine"` // engine version
	Seed     int64           `json:"seed"`
	Budget   int64           `json:"budget"` // evaluations
	Question string          `json:"question"`
	Answer   json.RawMessage `json:"answer"` // as shown, integers and strings only
}

// Trip says who goes out and how, for the day of the entry.
type Trip struct {
	Rods    int64     `json:"rods"`
	Target  string    `json:"target,omitempty"`
	Aim     string    `json:"aim,omitempty"`    // action, numbers, size, first_fish, learning
	AimFor  uuid.UUID `json:"aim_for,omitzero"` // the guest whose first fish the day is about
	Travel  string    `json:"travel"`           // foot, machine, vehicle
	Landing *Point    `json:"landing,omitempty"`
	Agreed  int64     `json:"agreed,omitempty"`   // ms: hour agreed to be ashore
	Metres  *int64    `json:"drill_mm,omitempty"` // metres of ice the batteries can drill, in mm
}

// TurnBack overrides the turn-back time with a new one and one of five reasons.
type TurnBack struct {
	Until    int64  `json:"until"`    // ms
	Reason   string `json:"reason"`   // forecast_better, way_shorter, crossing_read, party_faster, agreed_ashore
	Computed int64  `json:"computed"` // ms: the time computed when the new one was set
}

// Intake records that a file was read in.
type Intake struct {
	File    Hash   `json:"file"`
	Name    string `json:"name"`
	As      string `json:"as"` // outline, soundings, holes, weather, station
	Rows    int64  `json:"rows"`
	Taken   int64  `json:"taken"`
	Refused int64  `json:"refused"`
	Options string `json:"options,omitempty"`
}

// Amend sets fields of an earlier entry's body; "at" in Set moves its time. Nothing is changed in place.
type Amend struct {
	Target uuid.UUID                  `json:"target"`
	Set    map[string]json.RawMessage `json:"set"`
	Why    string                     `json:"why"`
	After  uuid.UUID                  `json:"after,omitzero"` // latest amendment of the target known when writing
}

// Retract takes an earlier entry out of all views. It stays in the journal.
type Retract struct {
	Target uuid.UUID `json:"target"`
	Why    string    `json:"why"`
}

// Plan is the trip plan left ashore for the day of the entry. Names, numbers and places are erasable texts.
type Plan struct {
	Sheet   Text       `json:"sheet"`                  // a JSON object in words: watcher, calls, vehicles, areas, equipment, remarks
	Sealed  *Text      `json:"sealed,omitempty"`       // exact points, read only when the party is overdue
	Out     int64      `json:"out,omitempty"`          // ms: when the party means to be on the ice
	CheckIn int64      `json:"check_in_min,omitempty"` // minutes between check-ins; absent: none agreed
	Steps   []PlanStep `json:"steps"`
}

// PlanStep is a step to take when a party is overdue.
type PlanStep struct {
	Do    string `json:"do"`                       // call_party, look_for, call_rescue
	After int64  `json:"after_min"`                // minutes past the hour agreed
	Dark  int64  `json:"after_dark_min,omitempty"` // the same after dark or in hard cold; absent: no other
}

// Shore is what happened between a party and who watches for it: a check-in, the party setting out for home, a step taken, the sealed
// points opened, an incident and its end.
type Shore struct {
	What string `json:"what"`           // check_in, returning, step, opened, incident, incident_over
	Step string `json:"step,omitempty"` // of a step: which was taken
	Note *Text  `json:"note,omitempty"` // by whom, why, how the party stands
}

// Supply says what is left of something, as somebody looked at it.
type Supply struct {
	What string `json:"what"` // bait, fuel, battery, heat
	Left int64  `json:"left_pct"`
}

// HoleState says what became of a hole after it was drilled.
type HoleState struct {
	Hole  uuid.UUID `json:"hole"`
	State string    `json:"state"` // reopened, marked, closed
}

// Share records that a report was made for guests, and the key under which it may be opened until an hour. Retracted, nothing opens it.
type Share struct {
	What  string `json:"what"` // report
	Of    Day    `json:"of"`
	Blob  Hash   `json:"blob"`            // the page as it was made
	Key   Hash   `json:"key,omitzero"`    // SHA-256 of the key in the link; absent: there is no link
	Until int64  `json:"until,omitempty"` // ms; the link opens nothing from then on
}
