package desk

import (
	"context"
	"encoding/json"
	"fmt"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// notThereKey is the setting under which the guide's rulings are kept: {"lat":...,"lon":...}, in 1e-7 degree.
const notThereKey = "not_there"

// NotThere records that the guide rules a place out for the day: no step leads near it any more. Undo takes it back.
func (d *Desk) NotThere(ctx context.Context, a Act, at geo.Local) error {
	return d.record(ctx, a, func(a Act) error {
		if s := d.surface(); s != nil && !s.OnWater(at) {
			return fault.New(fault.BadInput, "Choose a place on the lake.", "that place is on land by the lake's outline")
		}
		raw, err := json.Marshal(journal.PointOf(d.lake.Frame.Position(at)))
		if err != nil {
			return fmt.Errorf("desk: ruling a place out: %w", err)
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Setting{Key: notThereKey, Value: raw, Why: "overruled"}})
	})
}

// notThere lists the places ruled out. The caller holds mu.
func (d *Desk) notThere() []advise.NotThere {
	var out []advise.NotThere
	for _, s := range d.lake.Settings(notThereKey) {
		var p journal.Point
		if json.Unmarshal(s.Value, &p) == nil {
			out = append(out, advise.NotThere{At: d.lake.Frame.Local(p.Position()), When: s.When})
		}
	}
	return out
}

// RulesOut tells whether a setting rules a place out.
func RulesOut(s *journal.Setting) bool { return s.Key == notThereKey }

// ruling tells whether an entry rules a place out.
func ruling(e *journal.Entry) bool {
	var s journal.Setting
	return e.Kind == journal.KindSetting && json.Unmarshal(e.Body, &s) == nil && RulesOut(&s)
}
