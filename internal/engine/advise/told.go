package advise

import (
	"encoding/json"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/lake"
)

// Depths are what the guide tells of where perch are found: "they are usually at 9 to 12 m at this time". It is a belief
// before the first look and no more, so what is seen undoes it.
type Depths struct {
	Low, High quantity.Length // both 0: taken back
	Stage     priors.Stage    // "": all season
	When      time.Time       // when it was told
}

// toldDepths is the layout of such a setting.
type toldDepths struct {
	Low  int64  `json:"low_mm"`
	High int64  `json:"high_mm"`
	Unit string `json:"unit,omitempty"`
}

// DepthsSetting is the key of the setting that keeps the depths of a stage.
func DepthsSetting(stage priors.Stage) string {
	if stage == "" {
		return "perch_depths"
	}
	return "perch_depths_" + string(stage)
}

// Value gives the setting's value; unit is the one in which they were typed.
func (d Depths) Value(unit string) (json.RawMessage, error) {
	return json.Marshal(toldDepths{d.Low.Millimetres(), d.High.Millimetres(), unit})
}

// ToldDepths gives what the guide last told of the depths of a stage, by an instant: the stage's own, else those of the
// whole season. Told is false when nothing was, or when it was taken back.
func ToldDepths(l *lake.View, stage priors.Stage, at time.Time) (d Depths, told bool) {
	for _, s := range []priors.Stage{stage, ""} {
		for _, set := range l.Settings(DepthsSetting(s)) {
			var v toldDepths
			if set.When.After(at) || json.Unmarshal(set.Value, &v) != nil || v.Low < 0 || v.High < v.Low {
				continue
			}
			d, told = Depths{quantity.FromMillimetres(v.Low), quantity.FromMillimetres(v.High), s, set.When}, v.High > 0
		}
		if told {
			return d, true
		}
	}
	return Depths{}, false
}
