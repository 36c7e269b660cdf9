// Package manner answers how to fish what the screen shows, and what the outfit's own record says of its lures and
// manners.
//
// Start with [Screens] for the common practice, which an outfit may put in its own words, and with [Read] for the record;
// [Record.Compare] tells whether one lure or manner took more than another, or that there is too little to tell.
// It assumes that a presentation holds from when it was told until the next one of the same sit, or the sit's end. It
// leaves out sits of which nobody told a presentation, and says how many hours they were.
// Model note: docs/models/manner.md.
package manner

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/party"
)

// Screen is what the sonar shows under a sitting rod, and what is usually done about it.
type Screen struct {
	Key  string // searching, arriving, lookers: as the journal has it
	Word string
	Do   []string
	Own  bool // in the outfit's own words; else common practice, no source
}

// Screens lists what a screen can show, with common practice: nothing in it has a source.
func Screens() []Screen {
	return []Screen{
		{Key: "searching", Word: "Nothing yet", Do: []string{
			"Lure 60 to 90 cm off the bottom, where it is seen from afar.",
			"More movement: lift, drop, rest; then again.",
		}},
		{Key: "arriving", Word: "Fish arriving", Do: []string{
			"Slow down as they come.",
			"Small lifts only. Let them find it.",
		}},
		{Key: "lookers", Word: "They look, no take", Do: []string{
			"Hold still, up to half a minute.",
			"Then lift from the bottom as slowly as you can.",
			"Set on the least sign: a twitch, a slack, a tip that rises.",
			"Too much movement is the commonest mistake.",
		}},
	}
}

// Setting is the key under which an outfit's own words for a screen are recorded: a list of lines, an empty one takes them back.
func Setting(screen string) string { return "manner_" + screen }

// Told gives the screens with the outfit's own words where it has some; setting looks a recorded value up.
func Told(setting func(key string) json.RawMessage) []Screen {
	out := Screens()
	for i, s := range out {
		var lines []string
		if raw := setting(Setting(s.Key)); raw != nil && json.Unmarshal(raw, &lines) == nil && len(lines) > 0 {
			out[i].Do, out[i].Own = lines, true
		}
	}
	return out
}

// Manners are the ways of moving a lure that one tap logs; ours, in the trade's words.
func Manners() []Manner {
	return []Manner{{"lift_drop", "Lift and drop"}, {"small", "Small twitches"}, {"still", "Held still"}, {"slow_lift", "Slow lift"}, {"pound", "Tap the bottom"}, {"set", "Set line"}}
}

// Manner is a way of moving a lure.
type Manner struct{ Key, Word string }

// Word gives the words for a manner; its key where it is none of ours, as in older records.
func Word(key string) string {
	for _, m := range Manners() {
		if m.Key == key {
			return m.Word
		}
	}
	return strings.ReplaceAll(key, "_", " ")
}

// spell is a stretch of one sit fished in one way.
type spell struct {
	sit                  *party.Sit
	from, to             time.Time
	lure, manner, screen string
	events               int
}

// slack is how long after a sit began a presentation still counts from its start: a rod is let down before anybody taps. Ours.
const slack = 3 * time.Minute

// Read cuts the sits on record into spells up to an instant and counts what was landed and missed in each.
func Read(v *party.View, now time.Time) Record {
	r := Record{}
	told := map[uuid.UUID][]party.Presentation{}
	for _, p := range v.Present {
		if p.Sit != uuid.Nil && !p.When.After(now) {
			told[p.Sit] = append(told[p.Sit], p)
		}
	}
	byDay := map[string][]*spell{}
	for _, s := range v.Sits {
		end := s.To
		if end.IsZero() || end.After(now) {
			end = now
		}
		if !end.After(s.From) || end.Sub(s.From) > longest {
			continue
		}
		start := s.From
		for i, p := range told[s.ID] {
			from, to := p.When, end
			if i == 0 && from.Sub(s.From) <= slack {
				from = s.From
			}
			if i+1 < len(told[s.ID]) {
				to = told[s.ID][i+1].When
			}
			if from.Before(s.From) {
				from = s.From
			}
			if to.After(end) {
				to = end
			}
			if i == 0 && from.After(start) {
				r.Untold += from.Sub(start)
			}
			if to.After(from) {
				x := &spell{sit: s, from: from, to: to, lure: p.Lure, manner: p.Manner, screen: p.Screen}
				r.spells = append(r.spells, x)
				byDay[string(s.Day)] = append(byDay[string(s.Day)], x)
			}
		}
		if len(told[s.ID]) == 0 {
			r.Untold += end.Sub(start)
		}
	}
	for _, f := range v.Fish {
		r.count(byDay[string(f.Day)], f.Hole, f.Rod, f.When, f.Count)
	}
	for _, b := range v.Bites {
		for _, spells := range byDay {
			if len(spells) > 0 && b.When.Sub(spells[0].from).Abs() < longest {
				r.count(spells, b.Hole, b.Rod, b.When, 1)
			}
		}
	}
	return r
}

// longest bounds a sit that is believed: nobody fishes through a day and a night.
const longest = 16 * time.Hour

// count gives an event to the one spell in which it happened; where two rods shared a hole and nobody told which, to none.
func (r *Record) count(spells []*spell, hole uuid.UUID, rod int, when time.Time, n int) {
	var found *spell
	for _, x := range spells {
		if x.sit.Hole != hole || when.Before(x.from) || when.After(x.to) || rod != 0 && x.sit.Rod != rod {
			continue
		}
		if found != nil && found.sit != x.sit {
			return
		}
		found = x // of two that meet at the instant the later: the act that changed it came first
	}
	if found != nil {
		found.events += n
	}
}

// Record is what was fished how, and what came of it.
type Record struct {
	Untold time.Duration // rod-hours of which nobody told a presentation
	spells []*spell
}

// Row sums up all spells fished one way.
type Row struct {
	Name         string
	Events       int // fish and missed bites
	Time         time.Duration
	Sits, Days   int
	Rate         float64 // an hour
	Low, High    float64 // 95 % bounds, widened by the bunching
	sits, events []float64
}

// By says what rows are told apart by.
type By int

// What rows are told apart by.
const (
	Lure By = iota
	MannerOf
)

// Rows sums the record up by lure or by manner, the most fished first; screen "" takes every screen.
func (r Record) Rows(by By, screen string) []Row {
	rows, sits, days := map[string]*Row{}, map[string]map[uuid.UUID]int{}, map[string]map[string]bool{}
	for _, x := range r.spells {
		name := x.lure
		if by == MannerOf {
			name = x.manner
		}
		if name == "" || screen != "" && x.screen != screen {
			continue
		}
		row := rows[name]
		if row == nil {
			row = &Row{Name: name}
			rows[name], sits[name], days[name] = row, map[uuid.UUID]int{}, map[string]bool{}
		}
		row.Events += x.events
		row.Time += x.to.Sub(x.from)
		i, had := sits[name][x.sit.ID]
		if !had {
			i = len(row.sits)
			sits[name][x.sit.ID] = i
			row.sits, row.events = append(row.sits, 0), append(row.events, 0)
		}
		row.sits[i] += x.to.Sub(x.from).Hours()
		row.events[i] += float64(x.events)
		days[name][string(x.sit.Day)] = true
	}
	var out []Row
	for name, row := range rows {
		row.Sits, row.Days = len(row.sits), len(days[name])
		out = append(out, *row)
	}
	slices.SortFunc(out, func(a, b Row) int {
		return cmp.Or(cmp.Compare(b.Time, a.Time), cmp.Compare(a.Name, b.Name))
	})
	for i := range out {
		out[i].bound(bunching(out))
	}
	return out
}
