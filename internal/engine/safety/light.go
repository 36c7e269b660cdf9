package safety

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/light"
	"icehand/internal/physics/sun"
)

// LightInput is what [LightAt] looks at.
type LightInput struct {
	Now      time.Time
	Zone     *time.Location
	Place    geo.Position
	Snow     quantity.Length // on the ice
	SnowTold bool
	White    quantity.Length // white ice
	Clear    quantity.Length // clear ice
	IceTold  bool
	Depth    quantity.Length // of the fish below the ice; 0: right under it
	Secchi   quantity.Length // depth at which a white disc vanishes; 0: not known
	Melting  bool            // the top is wet
}

// LightBand is a band of light in which a fish is said to be active, as data.
type LightBand struct {
	Species   string
	Low, High quantity.Illuminance
	Source    string // key in docs/references.md
}

// WalleyeBand gives the band in which walleye are most active; another source, unverified, begins at 8 lux.
func WalleyeBand() LightBand {
	return LightBand{Species: "walleye", Low: 6 * quantity.Lux, High: 68 * quantity.Lux, Source: "WalleyeLight2020"}
}

// LightAnswer is the sun's day and the light now, each light as the range between what is known of snow and ice.
type LightAnswer struct {
	Day       sun.Day
	Elevation quantity.Angle // of the sun's centre, without refraction
	Surface   light.Range    // clear sky; cloud only makes it darker
	Known     bool           // light at the fish is known
	AtFish    light.Range
	Band      LightBand
	Against   string // below, reaches, within, above: the range at the fish against the band; "" when not known
	Spans     []Span // of the day, when the range at the fish reaches into the band
	Unknown   []string
}

// Span is a stretch of time.
type Span struct{ From, To time.Time }

// unknownSecchi is the range of clarity taken for a lake of which it is not known; ours, the ends of ordinary lakes.
var unknownSecchi = [2]quantity.Length{1.5 * quantity.Metre, 6 * quantity.Metre}

const lightStep = 5 * time.Minute // between looks at the day

// LightAt gives the sun's events of the day, the light on the ice and the light at the fish against the walleye band. It
// panics without a zone or when the place is not a position.
func LightAt(in LightInput) LightAnswer {
	mustHaveZone(in.Zone)
	y, m, d := in.Now.In(in.Zone).Date()
	a := LightAnswer{Day: sun.EventsOn(y, m, d, in.Place, in.Zone), Band: WalleyeBand()}
	a.Elevation = sun.At(in.Now, in.Place).Elevation
	a.Surface = light.Surface(a.Elevation)
	if !in.SnowTold || !(in.Snow >= 0) {
		a.Unknown = append(a.Unknown, "Snow on the ice not told, and it decides: light at the fish not known.")
	}
	if !in.IceTold || !(in.White >= 0 && in.Clear >= 0) {
		a.Unknown = append(a.Unknown, "Ice not told: light at the fish not known.")
	}
	if !(in.Depth >= 0) {
		a.Unknown = append(a.Unknown, "Depth of the fish not told: light there not known.")
	}
	if len(a.Unknown) > 0 {
		return a
	}
	clarity := [2]quantity.Length{in.Secchi, in.Secchi}
	if !(in.Secchi > 0) {
		clarity = unknownSecchi
		a.Unknown = append(a.Unknown, "Clarity of the water not told: murky to clear is reckoned with.")
	}
	below := func(surface light.Range) light.Range {
		c := light.Column{Snow: in.Snow, White: in.White, Clear: in.Clear, Depth: in.Depth}
		murky := light.Below(surface, c, light.WaterAttenuation(clarity[0]), in.Melting)
		clear := light.Below(surface, c, light.WaterAttenuation(clarity[1]), in.Melting)
		return light.Range{Low: murky.Low, High: clear.High}
	}
	a.Known = true
	a.AtFish = below(a.Surface)
	a.Against = a.Band.against(a.AtFish)
	start := time.Date(y, m, d, 0, 0, 0, 0, in.Zone)
	for t := start; t.Before(start.Add(24 * time.Hour)); t = t.Add(lightStep) {
		r := below(light.Surface(sun.At(t, in.Place).Elevation))
		if s := a.Band.against(r); s != "within" && s != "reaches" {
			continue
		}
		if n := len(a.Spans); n > 0 && a.Spans[n-1].To.Equal(t) {
			a.Spans[n-1].To = t.Add(lightStep)
		} else {
			a.Spans = append(a.Spans, Span{t, t.Add(lightStep)})
		}
	}
	return a
}

// against sets a range of light against the band.
func (b LightBand) against(r light.Range) string {
	switch {
	case math.IsNaN(float64(r.Low)) || math.IsNaN(float64(r.High)):
		return ""
	case r.High < b.Low:
		return "below"
	case r.Low > b.High:
		return "above"
	case r.Low >= b.Low && r.High <= b.High:
		return "within"
	}
	return "reaches"
}
