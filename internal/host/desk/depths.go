package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/journal"
)

// DepthsText is what somebody typed about the depths that perch keep. Both ends empty takes back what was told.
type DepthsText struct {
	Low, High string
	Stage     string          // early, mid, late; "": all season
	Unit      quantity.Length // of a bare number; 0: metres
}

// deepestTold bounds what is believed: no perch were ever told of from deeper, and a slip of the pen is.
const deepestTold = 100 * quantity.Metre

// Depths reads what was typed.
func (t DepthsText) Depths() (advise.Depths, string, error) {
	out := advise.Depths{Stage: priors.Stage(t.Stage)}
	if !slices.Contains([]priors.Stage{"", priors.Early, priors.Mid, priors.Late}, out.Stage) {
		return out, "", fault.New(fault.BadInput, "Use early, mid or late, or leave it out.", "%q is no stage of the season", t.Stage)
	}
	low, high := strings.TrimSpace(t.Low), strings.TrimSpace(t.High)
	if low == "" && high == "" {
		return out, "", nil
	}
	unit := t.Unit
	if unit == 0 {
		unit = quantity.Metre
	}
	read := func(s string) (quantity.Length, string, error) {
		l, word, err := quantity.ParseLength(s, unit)
		if err != nil {
			return 0, "", fault.Wrap(err, fault.BadInput, "Write 9 m or 30 ft.", "%q is no depth", s)
		}
		if word == "" && unit == quantity.Foot {
			word = "ft"
		}
		return l, word, nil
	}
	var err error
	var word string
	if out.Low, word, err = read(low); err != nil {
		return out, "", err
	}
	if out.High, _, err = read(high); err != nil {
		return out, "", err
	}
	if out.Low <= 0 || out.High < out.Low || out.High > deepestTold {
		return out, "", fault.New(fault.BadInput, "Write the shallow end first, then the deep end.", "perch from %s to %s cannot be", low, high)
	}
	return out, word, nil
}

// TellDepths records the depths at which the guide finds perch at a stage of the season.
func (d *Desk) TellDepths(ctx context.Context, a Act, t DepthsText) error {
	depths, unit, err := t.Depths()
	if err != nil {
		return err
	}
	value, err := depths.Value(unit)
	if err != nil {
		return fmt.Errorf("desk: depths told: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: advise.DepthsSetting(depths.Stage), Value: value})
}

// ToldDepths lists what the guide told, the whole season first; what was taken back is left out.
func (v View) ToldDepths() []advise.Depths {
	var out []advise.Depths
	for _, stage := range []priors.Stage{"", priors.Early, priors.Mid, priors.Late} {
		if d, told := advise.ToldDepths(v.Lake, stage, v.Now); told && d.Stage == stage {
			out = append(out, d)
		}
	}
	return out
}
