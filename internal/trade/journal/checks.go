package journal

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
)

// Kind of each body.

func (*Lake) Kind() Kind         { return KindLake }
func (*Layer) Kind() Kind        { return KindLayer }
func (*Hole) Kind() Kind         { return KindHole }
func (*Ice) Kind() Kind          { return KindIce }
func (*Look) Kind() Kind         { return KindLook }
func (*SitStart) Kind() Kind     { return KindSitStart }
func (*SitEnd) Kind() Kind       { return KindSitEnd }
func (*Bite) Kind() Kind         { return KindBite }
func (*Fish) Kind() Kind         { return KindFish }
func (*Hazard) Kind() Kind       { return KindHazard }
func (*Crowd) Kind() Kind        { return KindCrowd }
func (*Guest) Kind() Kind        { return KindGuest }
func (*Claim) Kind() Kind        { return KindClaim }
func (*HeadCount) Kind() Kind    { return KindHeadCount }
func (*LoadParked) Kind() Kind   { return KindLoadParked }
func (*Track) Kind() Kind        { return KindTrack }
func (*Watch) Kind() Kind        { return KindWatch }
func (*Weather) Kind() Kind      { return KindWeather }
func (*Setting) Kind() Kind      { return KindSetting }
func (*Sketch) Kind() Kind       { return KindSketch }
func (*Presentation) Kind() Kind { return KindPresentation }
func (*Note) Kind() Kind         { return KindNote }
func (*Photo) Kind() Kind        { return KindPhoto }
func (*ClockJump) Kind() Kind    { return KindClockJump }
func (*Advice) Kind() Kind       { return KindAdvice }
func (*Trip) Kind() Kind         { return KindTrip }
func (*TurnBack) Kind() Kind     { return KindTurnBack }
func (*Plan) Kind() Kind         { return KindPlan }
func (*Shore) Kind() Kind        { return KindShore }
func (*Supply) Kind() Kind       { return KindSupply }
func (*HoleState) Kind() Kind    { return KindHoleState }
func (*Share) Kind() Kind        { return KindShare }
func (*Ledger) Kind() Kind       { return KindLedger }
func (*Booking) Kind() Kind      { return KindBooking }
func (*Intake) Kind() Kind       { return KindIntake }
func (*Amend) Kind() Kind        { return KindAmend }
func (*Retract) Kind() Kind      { return KindRetract }

// Bounds of what a reading can mean. They refuse slips of the hand, not unusual days.
const (
	maxDepth     = 400_000   // mm; deeper than any lake that is fished through ice
	maxIce       = 4_000     // mm
	maxSnow      = 3_000     // mm
	maxFish      = 1_500     // mm; a 3,030 mm fish is a 303 mm one with a slipped point
	maxLookSecs  = 24 * 3600 // s
	maxMass      = 60_000_000
	maxHoleCount = 500 // fish in one entry of an older record
)

func (b *Lake) Check() error {
	if _, err := time.LoadLocation(b.Zone); err != nil || b.Zone == "" || b.Zone == "Local" {
		return fmt.Errorf("journal: lake: %q is not the name of a time zone", b.Zone)
	}
	if b.Name == "" {
		return fmt.Errorf("journal: lake has no name")
	}
	if b.FreezeUp != "" && !b.FreezeUp.Valid() {
		return fmt.Errorf("journal: lake: freeze-up %q is not a date", b.FreezeUp)
	}
	return b.Origin.check("lake")
}

func (b *Layer) Check() error {
	if b.Blob.IsZero() {
		return fmt.Errorf("journal: layer without data")
	}
	return oneOf("layer", b.What, "outline", "soundings", "forecast", "station")
}

func (b *Hole) Check() error {
	return first(b.At.check("hole"), oneOf("depth by", b.DepthBy, "", "line", "sonar", "map"), between("hole number", &b.Number, 0, 99_999, ""),
		within("depth", b.Depth, 1, maxDepth, typed(b.Unit, "m")), within("accuracy", b.Accuracy, 0, 100_000_000, "m"),
		within("hole diameter", b.Diameter, 20, 2_000, "cm"))
}

func (b *Ice) Check() error {
	unit := typed(b.Unit, "cm")
	err := first(b.At.check("ice reading"), within("ice", &b.Total, 0, maxIce, unit), within("white ice", b.White, 0, maxIce, unit),
		within("snow", b.Snow, 0, maxSnow, unit), within("water level", b.Water, -maxSnow, maxIce, unit),
		within("solid layer", b.Solid, 0, maxIce, unit), oneOf("crack", b.Crack, "", "dry", "wet", "crossing"))
	switch {
	case err != nil:
		return err
	case b.White != nil && *b.White > b.Total:
		return fmt.Errorf("journal: ice reading: white ice of %s is more than the total of %s", long(*b.White, unit), long(b.Total, unit))
	case b.Solid != nil && *b.Solid > b.Total:
		return fmt.Errorf("journal: ice reading: a solid layer of %s is more than the total of %s", long(*b.Solid, unit), long(b.Total, unit))
	case b.Hole == uuid.Nil && b.At == nil:
		return fmt.Errorf("journal: ice reading at no hole and no place")
	}
	return nil
}

func (b *Look) Check() error {
	err := first(named("hole of the look", b.Hole), oneOf("marks", b.Marks, "none", "few", "many"),
		between("look", &b.Seconds, 0, maxLookSecs, "s"), between("marks", b.Count, 0, 10_000, ""), within("height", b.Height, 0, maxDepth, "m"),
		oneOf("movement", b.Moving, "", "still", "slow", "fast"), oneOf("strength", b.Strong, "", "weak", "medium", "strong"))
	if err == nil && b.Count != nil && (*b.Count == 0) != (b.Marks == "none") {
		return fmt.Errorf("journal: look: %d marks do not agree with %q", *b.Count, b.Marks)
	}
	return err
}

func (b *SitStart) Check() error {
	return first(named("hole of the sit", b.Hole), between("rod", &b.Rod, 0, 99, ""))
}

func (b *SitEnd) Check() error { return named("sit that ends", b.Sit) }

func (b *Bite) Check() error {
	return first(named("hole of the bite", b.Hole), between("rod", &b.Rod, 0, 99, ""))
}

func (b *Fish) Check() error {
	if b.Species == "" {
		return fmt.Errorf("journal: fish without a species")
	}
	return first(between("fish", &b.Count, 1, maxHoleCount, ""), within("fish length", b.Length, 20, maxFish, "cm"),
		oneOf("size", b.Size, "", "small", "good", "big"), oneOf("measured by", b.Measured, "", "board", "eye"),
		oneOf("fate", b.Fate, "", "choice", "required", "lost", "dead", "unkept"), oneOf("how it went down", b.Down, "", "quick", "slow", "floats"), b.kept())
}

func (b *Hazard) Check() error {
	err := first(oneOf("hazard", b.What, "ridge", "crack", "thin", "spring", "current", "open_water", "slush", "narrows", "rotten", "other"),
		oneOf("report", b.Report, "present", "crossing", "cleared"), within("hazard radius", &b.Radius, 0, 20_000_000, "m"))
	for i := range b.Points {
		err = first(err, b.Points[i].check("hazard"))
	}
	least := map[string]int{"point": 1, "line": 2, "area": 3}[b.Shape]
	switch {
	case err != nil:
		return err
	case least == 0:
		return fmt.Errorf("journal: hazard: shape %q is none of point, line, area", b.Shape)
	case len(b.Points) < least:
		return fmt.Errorf("journal: hazard: %s of %d points needs %d", b.Shape, len(b.Points), least)
	case b.Shape == "area":
		return uncrossed("hazard", b.Points)
	}
	return nil
}

// uncrossed refuses an outline two of whose sides cross: nobody knows what lies inside it.
func uncrossed(what string, outline []Point) error {
	corners := slices.Compact(slices.Clone(outline)) // a corner told twice, as in a closed ring, is one
	if n := len(corners); n > 1 && corners[0] == corners[n-1] {
		corners = corners[:n-1]
	}
	if len(corners) < 3 {
		return fmt.Errorf("journal: %s: an area of %d different corners needs 3", what, len(corners))
	}
	at := func(i int) geo.Local {
		p := corners[i%len(corners)]
		return geo.Local{E: float64(p.Lon), N: float64(p.Lat)} // stretched, which makes no sides cross
	}
	for i := range corners {
		for k := i + 2; k < len(corners); k++ {
			if (k+1)%len(corners) == i {
				continue // sides that share a corner
			}
			if geo.SegmentsCross(at(i), at(i+1), at(k), at(k+1)) {
				return fmt.Errorf("journal: %s: the outline crosses itself, between corners %d and %d and corners %d and %d; name the corners in turn",
					what, i+1, i+2, k+1, (k+1)%len(corners)+1)
			}
		}
	}
	return nil
}

func (b *Crowd) Check() error {
	return first(b.At.check("crowd"), within("crowd radius", &b.Radius, 0, 5_000_000, "m"), between("shelters", &b.Shelters, 0, 10_000, ""))
}

func (b *Guest) Check() error {
	if b.Until != "" && !b.Until.Valid() {
		return fmt.Errorf("journal: guest: the licence holds until %q, which is no date", b.Until)
	}
	return first(oneOf("role", b.Role, "guide", "scout", "guest"), oneOf("age", b.Age, "child", "adult", "elder"),
		within("pace", b.Pace, 200, 1500, "cm"), within("walk", b.Reach, 10_000, 20_000_000, "m"))
}

func (b *Claim) Check() error {
	return first(named("person", b.Person), oneOf("state", b.State, "on_ice", "ashore", "leaving", "unseen"))
}

func (b *HeadCount) Check() error {
	if len(b.Present)+len(b.Missing) == 0 {
		return fmt.Errorf("journal: head count names nobody")
	}
	return nil
}

func (b *LoadParked) Check() error {
	return first(b.At.check("parked load"), between("mass", &b.Mass, 1, maxMass, "g"))
}

func (b *Track) Check() error {
	if b.To < b.From {
		return fmt.Errorf("journal: the track ends before it begins")
	}
	return first(oneOf("purpose", b.Purpose, "", "out", "home", "scouting"), oneOf("travel", b.Travel, "", "foot", "machine", "vehicle"))
}

func (b *Watch) Check() error {
	if b.What == "warm" || b.What == "wet" || b.What == "dry" {
		return named("person of the watch", b.Person)
	}
	return oneOf("watch", b.What, "faces", "heater_on", "heater_off", "vents", "co_alarm")
}

func (b *Weather) Check() error {
	if strings.ContainsFunc(b.Station, func(r rune) bool { return (r < 'A' || r > 'Z') && (r < '0' || r > '9') }) || len(b.Station) > 12 {
		return fmt.Errorf("journal: %.20q is no name of a weather station", b.Station)
	}
	return first(between("air temperature", b.Air, -700, 500, "tenths of a degree C"), between("wind", b.Wind, 0, 90_000, "mm/s"),
		between("wind direction", b.From, 0, 360, "degrees"), between("cloud", b.Cloud, 0, 100, "percent"),
		within("sight", b.Sight, 0, 100_000_000, "m"), oneOf("snowing", b.Snowing, "", "none", "light", "heavy"), oneOf("wind height", b.WindHeight, "", "face", "mast"))
}

func (b *Setting) Check() error {
	if b.Key == "" || len(b.Value) == 0 {
		return fmt.Errorf("journal: setting without key or value")
	}
	return nil
}

func (b *Sketch) Check() error {
	err := first(between("weight", &b.Weight, -3, 3, ""), oneOf("stage", b.Stage, "", "early", "mid", "late"))
	for i := range b.Area {
		err = first(err, b.Area[i].check("sketch"))
	}
	if err == nil && len(b.Area) < 3 {
		return fmt.Errorf("journal: sketch of %d points needs 3", len(b.Area))
	}
	return err
}

func (b *Presentation) Check() error {
	if b.Lure == "" && b.Manner == "" {
		return fmt.Errorf("journal: presentation with neither lure nor manner")
	}
	return first(between("height of the lure", b.Height, 0, maxDepth, "mm"), oneOf("screen", b.Screen, "", "searching", "arriving", "lookers"))
}

func (b *Note) Check() error      { return nil }
func (b *Photo) Check() error     { return nil }
func (b *ClockJump) Check() error { return nil }

func (b *Advice) Check() error {
	if b.Question == "" || len(b.Answer) == 0 {
		return fmt.Errorf("journal: advice without question or answer")
	}
	return nil
}

func (b *Trip) Check() error {
	if b.AimFor != uuid.Nil && b.Aim != "first_fish" {
		return fmt.Errorf("journal: trip: a guest is named and the aim is %q, not first_fish", b.Aim)
	}
	return first(between("rods", &b.Rods, 0, 99, ""), b.Landing.check("landing"), oneOf("travel", b.Travel, "foot", "machine", "vehicle"),
		oneOf("aim", b.Aim, "", "action", "numbers", "size", "first_fish", "learning"), within("drill budget", b.Metres, 0, 1_000_000, "m"))
}

// mostWait bounds the minutes of a trip plan: two days.
const mostWait = 2 * 24 * 60

func (b *Plan) Check() error {
	err := between("check-in", &b.CheckIn, 0, mostWait, "min")
	if b.Sheet.Blob.IsZero() {
		return fmt.Errorf("journal: trip plan without a sheet")
	}
	last := int64(-1)
	for i, s := range b.Steps {
		err = first(err, oneOf("step", s.Do, PlanSteps()...), between("step", &s.After, 0, mostWait, "min"), between("step after dark", &s.Dark, 0, s.After, "min"))
		if err == nil && s.After < last {
			err = fmt.Errorf("journal: trip plan: step %d comes before the one above it", i+1)
		}
		last = s.After
	}
	return err
}

// PlanSteps lists what a step of a trip plan may be, in the order in which they are taken.
func PlanSteps() []string { return []string{"call_party", "look_for", "call_rescue"} }

func (b *Shore) Check() error {
	if err := oneOf("what happened", b.What, "check_in", "returning", "step", "opened", "incident", "incident_over"); err != nil {
		return err
	}
	if b.What == "step" {
		return oneOf("step", b.Step, PlanSteps()...)
	}
	return nil
}

func (b *Supply) Check() error {
	return first(oneOf("supply", b.What, "bait", "fuel", "battery", "heat"), between("what is left", &b.Left, 0, 100, "percent"))
}

func (b *HoleState) Check() error {
	return first(named("hole", b.Hole), oneOf("state of the hole", b.State, "reopened", "marked", "closed"))
}

func (b *Share) Check() error {
	switch {
	case b.What != "report" || !b.Of.Valid() || b.Blob.IsZero():
		return fmt.Errorf("journal: share names no report of a day")
	case b.Key.IsZero() != (b.Until == 0):
		return fmt.Errorf("journal: share: a link needs both a key and an hour until which it opens")
	}
	return nil
}

func (b *TurnBack) Check() error {
	if b.Until <= 0 {
		return fmt.Errorf("journal: turn-back override without a new time")
	}
	if b.Computed <= 0 {
		return fmt.Errorf("journal: turn-back override without the time computed when it was set")
	}
	return oneOf("reason", b.Reason, "forecast_better", "way_shorter", "crossing_read", "party_faster", "agreed_ashore")
}

// Bounds of what a line of the ledger and a booking can mean: slips of the pen, not large outfits.
const (
	mostMoney   = 100_000_000 // hundredths of the money
	mostMinutes = 31 * 24 * 60
	mostPeople  = 99
)

func (b *Ledger) Check() error {
	err := first(oneOf("line of the ledger", b.What, "income", "deposit", "refund", "cost", "distance", "gear"),
		between("amount", &b.Amount, 0, mostMoney, "hundredths"), between("time run", b.Minutes, 1, mostMinutes, "min"),
		between("distance", b.Distance, 1, 10_000_000_000, "mm"))
	switch {
	case err != nil:
		return err
	case !b.Day.Valid():
		return fmt.Errorf("journal: ledger: %q is not a date", string(b.Day))
	case len(b.Item) > 80:
		return fmt.Errorf("journal: ledger: the name of what it was for is longer than 80 bytes")
	case b.What == "gear" && (b.Item == "" || b.Minutes == nil):
		return fmt.Errorf("journal: ledger: hours of gear need the gear and how long it ran")
	case b.What == "distance" && b.Distance == nil:
		return fmt.Errorf("journal: ledger: a distance driven needs how far")
	case b.What != "gear" && b.What != "distance" && b.Amount == 0:
		return fmt.Errorf("journal: ledger: %s of nothing", b.What)
	}
	return nil
}

func (b *Booking) Check() error {
	err := first(oneOf("booking", b.State, "asked", "booked", "cancelled"), between("people", &b.People, 1, mostPeople, ""),
		between("children", &b.Children, 0, b.People, ""), oneOf("why cancelled", b.Why, "", "weather", "ice", "guests", "machine"))
	switch {
	case err != nil:
		return err
	case !b.Day.Valid():
		return fmt.Errorf("journal: booking: %q is not a date", string(b.Day))
	case b.Name.Blob.IsZero():
		return fmt.Errorf("journal: booking of nobody")
	case b.Why != "" && b.State != "cancelled":
		return fmt.Errorf("journal: booking: a reason for cancelling, and it is %s", b.State)
	}
	return nil
}

func (b *Intake) Check() error {
	return oneOf("intake", b.As, "outline", "soundings", "holes", "weather", "station")
}

func (b *Amend) Check() error {
	if len(b.Set) == 0 || b.Why == "" {
		return fmt.Errorf("journal: amendment without a change or a reason")
	}
	return named("entry to amend", b.Target)
}

func (b *Retract) Check() error {
	if b.Why == "" {
		return fmt.Errorf("journal: retraction without a reason")
	}
	return named("entry to retract", b.Target)
}
