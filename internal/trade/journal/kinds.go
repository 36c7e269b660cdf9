package journal

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// Kind names what an entry records.
type Kind string

// The kinds of this version. docs/journal-format.md tables the body of each.
const (
	KindLake         Kind = "lake"
	KindLayer        Kind = "layer"
	KindHole         Kind = "hole"
	KindIce          Kind = "ice"
	KindLook         Kind = "look"
	KindSitStart     Kind = "sit_start"
	KindSitEnd       Kind = "sit_end"
	KindBite         Kind = "bite"
	KindFish         Kind = "fish"
	KindHazard       Kind = "hazard"
	KindCrowd        Kind = "crowd"
	KindGuest        Kind = "guest"
	KindClaim        Kind = "claim"
	KindHeadCount    Kind = "head_count"
	KindLoadParked   Kind = "load_parked"
	KindTrack        Kind = "track"
	KindWatch        Kind = "watch"
	KindWeather      Kind = "weather"
	KindSetting      Kind = "setting"
	KindSketch       Kind = "sketch"
	KindPresentation Kind = "presentation"
	KindNote         Kind = "note"
	KindPhoto        Kind = "photo"
	KindClockJump    Kind = "clock_jump"
	KindAdvice       Kind = "advice"
	KindTrip         Kind = "trip"
	KindTurnBack     Kind = "turn_back"
	KindPlan         Kind = "plan"
	KindShore        Kind = "shore"
	KindSupply       Kind = "supply"
	KindHoleState    Kind = "hole_state"
	KindShare        Kind = "share"
	KindRuleBook     Kind = "rule_book"
	KindRuleCheck    Kind = "rule_check"
	KindPossession   Kind = "possession"
	KindPortion      Kind = "portion"
	KindLedger       Kind = "ledger"
	KindBooking      Kind = "booking"
	KindIntake       Kind = "intake"
	KindAmend        Kind = "amend"
	KindRetract      Kind = "retract"
)

// Body is what one kind of entry says. Check refuses values that no act can have meant; it is applied before an entry
// is written. An entry already in a journal is never refused: a body that fails Check is flagged.
type Body interface {
	Kind() Kind
	Check() error
}

type kindInfo struct {
	version int
	fresh   func() Body
	// upcast brings the body of an older version up to the next; index 0 lifts version 1.
	upcast []func(json.RawMessage) (json.RawMessage, error)
}

var kinds = map[Kind]kindInfo{
	KindLake:         {version: 1, fresh: func() Body { return new(Lake) }},
	KindLayer:        {version: 1, fresh: func() Body { return new(Layer) }},
	KindHole:         {version: 1, fresh: func() Body { return new(Hole) }},
	KindIce:          {version: 1, fresh: func() Body { return new(Ice) }},
	KindLook:         {version: 1, fresh: func() Body { return new(Look) }},
	KindSitStart:     {version: 1, fresh: func() Body { return new(SitStart) }},
	KindSitEnd:       {version: 1, fresh: func() Body { return new(SitEnd) }},
	KindBite:         {version: 1, fresh: func() Body { return new(Bite) }},
	KindFish:         {version: 1, fresh: func() Body { return new(Fish) }},
	KindHazard:       {version: 1, fresh: func() Body { return new(Hazard) }},
	KindCrowd:        {version: 1, fresh: func() Body { return new(Crowd) }},
	KindGuest:        {version: 1, fresh: func() Body { return new(Guest) }},
	KindClaim:        {version: 1, fresh: func() Body { return new(Claim) }},
	KindHeadCount:    {version: 1, fresh: func() Body { return new(HeadCount) }},
	KindLoadParked:   {version: 1, fresh: func() Body { return new(LoadParked) }},
	KindTrack:        {version: 1, fresh: func() Body { return new(Track) }},
	KindWatch:        {version: 1, fresh: func() Body { return new(Watch) }},
	KindWeather:      {version: 1, fresh: func() Body { return new(Weather) }},
	KindSetting:      {version: 1, fresh: func() Body { return new(Setting) }},
	KindSketch:       {version: 1, fresh: func() Body { return new(Sketch) }},
	KindPresentation: {version: 1, fresh: func() Body { return new(Presentation) }},
	KindNote:         {version: 1, fresh: func() Body { return new(Note) }},
	KindPhoto:        {version: 1, fresh: func() Body { return new(Photo) }},
	KindClockJump:    {version: 1, fresh: func() Body { return new(ClockJump) }},
	KindAdvice:       {version: 1, fresh: func() Body { return new(Advice) }},
	KindTrip:         {version: 1, fresh: func() Body { return new(Trip) }},
	KindTurnBack:     {version: 1, fresh: func() Body { return new(TurnBack) }},
	KindPlan:         {version: 1, fresh: func() Body { return new(Plan) }},
	KindShore:        {version: 1, fresh: func() Body { return new(Shore) }},
	KindSupply:       {version: 1, fresh: func() Body { return new(Supply) }},
	KindHoleState:    {version: 1, fresh: func() Body { return new(HoleState) }},
	KindShare:        {version: 1, fresh: func() Body { return new(Share) }},
	KindRuleBook:     {version: 1, fresh: func() Body { return new(RuleBook) }},
	KindRuleCheck:    {version: 1, fresh: func() Body { return new(RuleCheck) }},
	KindPossession:   {version: 1, fresh: func() Body { return new(Possession) }},
	KindPortion:      {version: 1, fresh: func() Body { return new(Portion) }},
	KindLedger:       {version: 1, fresh: func() Body { return new(Ledger) }},
	KindBooking:      {version: 1, fresh: func() Body { return new(Booking) }},
	KindIntake:       {version: 1, fresh: func() Body { return new(Intake) }},
	KindAmend:        {version: 1, fresh: func() Body { return new(Amend) }},
	KindRetract:      {version: 1, fresh: func() Body { return new(Retract) }},
}

// Kinds lists the known kinds with their current schema version.
func Kinds() map[Kind]int {
	out := make(map[Kind]int, len(kinds))
	for k, info := range kinds {
		out[k] = info.version
	}
	return out
}

// Unknown is the body of an entry that this program does not understand: a newer kind, a newer version, or bytes that
// do not decode. The entry is kept and passed on as it is.
type Unknown struct {
	Of    Kind
	Why   string
	Newer bool // a newer program wrote it
}

// Kind gives the kind as written.
func (u *Unknown) Kind() Kind { return u.Of }

// Check always fails: nothing is known of the body.
func (u *Unknown) Check() error { return fmt.Errorf("journal: %s: %s", u.Of, u.Why) }

// Decode reads an entry's body as the current version of its kind. It never fails: what it cannot read is [*Unknown].
func Decode(e *Entry) Body { return decodeBody(e.Kind, e.Version, e.Body) }

func decodeBody(kind Kind, version int, raw []byte) Body {
	info, ok := kinds[kind]
	switch {
	case !ok:
		return &Unknown{kind, "this kind needs a newer program", true}
	case version > info.version || version < 1:
		return &Unknown{kind, fmt.Sprintf("version %d needs a newer program", version), true}
	}
	body := json.RawMessage(raw)
	for v := version; v < info.version; v++ {
		up, err := info.upcast[v-1](body)
		if err != nil {
			return &Unknown{kind, err.Error(), false}
		}
		body = up
	}
	b := info.fresh()
	// Unknown fields are ignored here and kept in the entry's bytes.
	if err := json.NewDecoder(bytes.NewReader(body)).Decode(b); err != nil {
		return &Unknown{kind, err.Error(), false}
	}
	return b
}
