package rehearse

import (
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// makers makes each way for a day and the run that it will walk; most need neither.
var makers = map[string]func(d *world.Day, run *world.Run) way.Way{
	"rule":          func(*world.Day, *world.Run) way.Way { return way.Rule() },
	"tuned-rule":    func(*world.Day, *world.Run) way.Way { return way.TunedRule() },
	"spiral-rule":   func(*world.Day, *world.Run) way.Way { return way.SpiralRule() },
	"notes-planner": func(*world.Day, *world.Run) way.Way { return way.Planner(way.PlannerOptions{}) },
	"clairvoyant":   newSeer,
	"true-map": func(d *world.Day, _ *world.Run) way.Way {
		return way.Planner(way.PlannerOptions{Known: d.TrueMap().At})
	},
	"random": func(*world.Day, *world.Run) way.Way { return way.Random() },
}

// Names lists the ways in the order of tables.
func Names() []string {
	return []string{"rule", "tuned-rule", "spiral-rule", "random", "notes-planner", "true-map", "clairvoyant", "bound"}
}
