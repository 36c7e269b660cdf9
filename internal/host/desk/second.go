package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/dusk"
	"icehand/internal/trade/journal"
)

// LightQuestion asks for a day's light at the fish. What is not told is taken from the record.
type LightQuestion struct {
	Day       journal.Day
	Depth     quantity.Length // from the top of the ice
	Snow      quantity.Length
	SnowTold  bool
	Clarity   quantity.Length // 0: not told
	Cloud     float64
	CloudTold bool
}

// claritySetting is the depth at which a white disc vanishes, in millimetres.
const claritySetting = "clarity_mm"

// SetClarity keeps how clear the lake's water is, from now on.
func (d *Desk) SetClarity(ctx context.Context, a Act, clarity quantity.Length) error {
	value, err := json.Marshal(clarity.Millimetres())
	if err != nil {
		return fmt.Errorf("desk: clarity: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: claritySetting, Value: value})
}

// Daylight answers: how much light reaches the fish over a day, when is it right for walleye, and under what cover?
func (d *Desk) Daylight(ctx context.Context, q LightQuestion) (out dusk.Daylight, cover dusk.Cover, err error) {
	err = d.withInput(ctx, func(in advise.Input) error {
		if q.Clarity > 0 {
			in.Options.Clarity = q.Clarity
		}
		cover = dusk.CoverAt(in.Lake, in.Now, in.Options.Clarity)
		if q.SnowTold {
			cover.Snow, cover.SnowTold = dusk.Range{q.Snow, q.Snow}, true
		}
		light := dusk.DayInput{Day: q.Day.Midnight(in.Lake.Zone).Add(12 * time.Hour), Zone: in.Lake.Zone, Place: in.Lake.Frame.Origin(), Cover: cover,
			Depth: dusk.Range{q.Depth, q.Depth}}
		if q.CloudTold {
			light.Cloud = func(time.Time) (float64, bool) { return q.Cloud, true }
		}
		out, err = advise.Daylight(ctx, in, light)
		return err
	})
	return out, cover, err
}
