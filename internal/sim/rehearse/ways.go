package rehearse

import (
	"slices"

	"icehand/internal/engine/ground"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// setting is what a way is made for. Only knowing ways read day and run, which hold the truth.
type setting struct {
	day    *world.Day
	run    *world.Run
	depths *surfaces
	budget int // of the engine
}

// named is a way by its name in tables.
type named struct {
	name   string
	memory bool                    // keeps what it learned from day to day
	make   func(s setting) way.Way // nil: the bound, which nobody can walk
}

// ways lists all ways in the order of tables.
func ways() []named {
	return []named{
		{"rule", false, plain(way.Rule)},
		{"tuned-rule", false, plain(way.TunedRule)},
		{"spiral-rule", false, plain(way.SpiralRule)},
		{"remembering-rule", true, plain(way.Remembering)},
		{"random", false, plain(way.Random)},
		{"notes-planner", false, func(setting) way.Way { return way.Planner(way.PlannerOptions{}) }},
		{"notes-memory", true, func(setting) way.Way { return way.Planner(way.PlannerOptions{Memory: true}) }},
		{"engine", false, engineWay(false, false)},
		{"engine-memory", true, engineWay(true, false)},
		{"engine-wrong", false, engineWay(false, true)},
		{"notes-map", false, func(s setting) way.Way { return way.Planner(way.PlannerOptions{Known: s.day.TrueMap().At}) }},
		{"true-map", false, func(s setting) way.Way {
			e := newEngine(s)
			e.known = s.day.TrueMap().At
			return e
		}},
		{"clairvoyant", false, func(s setting) way.Way { return newSeer(s.run) }},
		{"bound", false, nil},
	}
}

func plain(make func() way.Way) func(setting) way.Way { return func(setting) way.Way { return make() } }

func newEngine(s setting) *engine {
	l := s.day.Lake
	return &engine{budget: s.budget, surface: func(b way.Briefing) (*ground.Surface, error) { return s.depths.of(l.Family.Name, l.Seed, b) }}
}

func engineWay(memory, wrong bool) func(setting) way.Way {
	return func(s setting) way.Way {
		e := newEngine(s)
		e.memory = memory
		if wrong {
			e.wrong = 2 + s.day.Lake.Seed%2 // by turns too high and too low
		}
		return e
	}
}

// Names lists the ways in the order of tables.
func Names() []string {
	var out []string
	for _, w := range ways() {
		out = append(out, w.name)
	}
	return out
}

// singleDay lists the ways that a single day can tell apart: a memory has nothing to remember yet. The map under the
// first planner is for seasons.
func singleDay() []string {
	var out []string
	for _, w := range ways() {
		if !w.memory && w.name != "notes-map" {
			out = append(out, w.name)
		}
	}
	return out
}

func find(name string) named {
	all := ways()
	return all[slices.IndexFunc(all, func(w named) bool { return w.name == name })]
}
