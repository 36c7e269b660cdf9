package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/manner"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// PresentAct tells how a rod fishes from now on. What is left empty stays as it was told last for that rod.
type PresentAct struct {
	Act
	Sit                  uuid.UUID
	Lure, Manner, Screen string
}

// Bounds of what is typed about lures; ours.
const mostLureName = 40

// Present records how a rod fishes.
func (d *Desk) Present(ctx context.Context, p PresentAct) error {
	return d.record(ctx, p.Act, func(a Act) error {
		i := slices.IndexFunc(d.party.Sits, func(s *party.Sit) bool { return s.ID == p.Sit })
		if i < 0 {
			return fault.New(fault.NotFound, "Choose a rod that is in the water.", "that sit is not on record")
		}
		s := d.party.Sits[i]
		if !s.Lasting(a.At) {
			return fault.New(fault.Conflict, "Let the rod down first: Sit on Now, or Rods.", "that rod is out of the water")
		}
		now := shownOf(d.party, s)
		b := &journal.Presentation{Sit: s.ID, Lure: strings.Join(strings.Fields(p.Lure), " "), Manner: p.Manner, Screen: p.Screen}
		if len(b.Lure) > mostLureName {
			return fault.New(fault.BadInput, "Give the lure a short name, such as red spoon.", "the name of the lure is longer than %d letters", mostLureName)
		}
		if b.Manner != "" && !slices.ContainsFunc(manner.Manners(), func(m manner.Manner) bool { return m.Key == b.Manner }) {
			return fault.New(fault.BadInput, "Press one of the keys.", "%q is no way of moving a lure", b.Manner)
		}
		if b.Lure == "" {
			b.Lure = now.Lure
		}
		if b.Manner == "" {
			b.Manner = now.Manner
		}
		return d.write(ctx, item{a.ID, a.At, b})
	})
}

// shownOf gives what was told last of a sit, else of its rod earlier that day.
func shownOf(v *party.View, s *party.Sit) journal.Presentation {
	rods := map[uuid.UUID]bool{}
	for _, o := range v.Sits {
		if o.Day == s.Day && o.Rod == s.Rod && !o.From.After(s.From) {
			rods[o.ID] = true
		}
	}
	for _, p := range slices.Backward(v.Present) {
		if rods[p.Sit] {
			return p.Presentation
		}
	}
	return journal.Presentation{}
}

// Shown gives what was told last of a sit itself, and whether anything was.
func (v View) Shown(s *party.Sit) (party.Presentation, bool) {
	for _, p := range slices.Backward(v.Party.Present) {
		if p.Sit == s.ID {
			return p, true
		}
	}
	return party.Presentation{}, false
}

// LastLure gives the lure that a rod had last on the day of a sit; "" when nobody told.
func (v View) LastLure(s *party.Sit) string { return shownOf(v.Party, s).Lure }

// Lures lists the lures that were told or timed, the newest first, at most n.
func (v View) Lures(n int) []string {
	var out []string
	add := func(name string) {
		if name != "" && len(out) < n && !slices.ContainsFunc(out, func(o string) bool { return strings.EqualFold(o, name) }) {
			out = append(out, name)
		}
	}
	for _, p := range slices.Backward(v.Party.Present) {
		if !p.When.After(v.Now) {
			add(p.Lure)
		}
	}
	for _, x := range v.Drops() {
		add(x.Lure)
	}
	return out
}

// Screens gives the practice for each screen, in the outfit's own words where it has some.
func (v View) Screens() []manner.Screen {
	return manner.Told(func(key string) json.RawMessage { return v.Lake.Setting(key, v.Now) })
}

// Manners gives what the record says of lures and manners.
func (v View) Manners() manner.Record { return manner.Read(v.Party, v.Now) }

// TellScreen puts the practice for a screen in the outfit's own words, one line each; no words bring the common practice back.
func (d *Desk) TellScreen(ctx context.Context, a Act, screen, words string) error {
	if !slices.ContainsFunc(manner.Screens(), func(s manner.Screen) bool { return s.Key == screen }) {
		return fault.New(fault.BadInput, "Choose one of the screens shown.", "%q is no screen", screen)
	}
	lines := []string{}
	for _, l := range strings.Split(words, "\n") {
		if l = strings.TrimSpace(l); l != "" {
			lines = append(lines, l)
		}
		if len(l) > 120 || len(lines) > 8 {
			return fault.New(fault.BadInput, "Write up to eight lines of at most 120 letters.", "that is too long to be read at a hole")
		}
	}
	value, err := json.Marshal(lines)
	if err != nil {
		return fmt.Errorf("desk: words for a screen: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: manner.Setting(screen), Value: value})
}

// Talk is the safety talk of a day: which points were told.
type Talk struct {
	Day  journal.Day     `json:"day"`
	Told map[string]bool `json:"told"`
}

// talkSetting is the key of the newest safety talk.
const talkSetting = "safety_talk"

// TalkToday gives the safety talk of today as far as it was ticked.
func (v View) TalkToday() Talk {
	var t Talk
	if raw := v.Lake.Setting(talkSetting, v.Now); raw == nil || json.Unmarshal(raw, &t) != nil || t.Day != v.Today || t.Told == nil {
		return Talk{Day: v.Today, Told: map[string]bool{}}
	}
	return t
}

// TellTalk records which points of the safety talk were told today.
func (d *Desk) TellTalk(ctx context.Context, a Act, told []string) error {
	known := map[string]bool{}
	for _, p := range TalkPoints() {
		known[p.Key] = true
	}
	t := Talk{Told: map[string]bool{}}
	for _, k := range told {
		if !known[k] {
			return fault.New(fault.BadInput, "Tick the points shown.", "%q is no point of the safety talk", k)
		}
		t.Told[k] = true
	}
	return d.record(ctx, a, func(a Act) error {
		t.Day = journal.DayOf(a.At, d.lake.Zone)
		value, err := json.Marshal(t)
		if err != nil {
			return fmt.Errorf("desk: the safety talk: %w", err)
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Setting{Key: talkSetting, Value: value}})
	})
}

// TalkPoint is one point of the safety talk.
type TalkPoint struct {
	Key, Word, Say string
}

// TalkPoints lists the safety talk: common practice of guides, no source. First-aid training and local rules come before it.
func TalkPoints() []TalkPoint {
	return []TalkPoint{
		{"picks", "Picks", "Wear them at the neck. In the water: turn to where you came from, dig in, kick, roll away."},
		{"track", "My track", "Walk where I walked. Nobody goes off alone."},
		{"holes", "Old holes", "A skin of ice hides them. Step round every ring and flag."},
		{"vehicles", "Vehicles", "Belts off, windows down, doors ready. Never behind one another on the ice."},
		{"heater", "Heater", "Vents stay open. Headache or feeling sick: out, and tell me."},
		{"whistle", "Whistle", "Three blasts: help. Everybody stops."},
		{"base", "Base", "There it is. Cannot see it? Stop, whistle, wait. Do not walk."},
		{"toilet", "Toilet", "Where, and tell somebody that you go."},
		{"sweep", "Last one", "Who comes last, and who counts us."},
		{"faces", "Faces", "Look at your neighbour's nose and cheeks. White patch: tell me."},
		{"wet", "Wet", "A wet foot or glove: tell me at once."},
	}
}
