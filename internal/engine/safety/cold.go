package safety

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/cold"
)

// ColdInput is what [ColdWatch] looks at.
type ColdInput struct {
	Air      quantity.Celsius
	AirTold  bool
	Wind     quantity.Speed // at 10 m height, as forecasts give it
	WindTold bool
	Ride     quantity.Speed // of riding in the open; 0: nobody rides
}

// ColdAnswer is how hard the air bites. Its times are the quickest twentieth's, and never an allowance.
type ColdAnswer struct {
	Known   bool   // air and wind are known; without, Still and Riding are meaningless
	Still   Chill  // standing or walking
	Riding  *Chill // with the wind of riding; nil when nobody rides
	Unknown []string
	Words   []string // plain sentences, at most 90 characters each
}

// Chill is the cold in one wind.
type Chill struct {
	Wind     quantity.Speed   // reckoned with, at 10 m
	Index    quantity.Celsius // wind chill; the air temperature where the index does not apply
	Applies  bool             // the index applies
	Band     cold.Band        // hazard band of the index
	Freezes  bool             // bare skin can freeze
	Soonest  time.Duration    // whole minutes, the careful figure: the shorter of the formula and the near edge of the band, rounded down, at least one
	Doubtful bool             // the formula is used outside the range it was stated for
}

// longestTold is the longest time to frostbite that is put in words: beyond the bands it would read as an allowance.
const longestTold = 30 * time.Minute

// ColdWatch tells wind chill and how soon bare skin can freeze, standing and riding. What is not known is said, and no
// figure is made up for it.
func ColdWatch(in ColdInput) ColdAnswer {
	var a ColdAnswer
	if !in.AirTold || math.IsNaN(float64(in.Air)) {
		a.Unknown = append(a.Unknown, "Air temperature not known: no wind chill.")
	}
	if !in.WindTold || !(in.Wind >= 0) {
		a.Unknown = append(a.Unknown, "Wind not known: no wind chill. Even a light wind freezes skin sooner.")
	}
	if len(a.Unknown) > 0 {
		a.Words = append(a.Words, "Check faces and hands: how soon skin freezes is not known.")
		return a
	}
	a.Known = true
	a.Still = chill(in.Air, in.Wind)
	a.Words = append(a.Words, a.Still.words(""))
	if in.Ride > 0 {
		r := chill(in.Air, cold.RidingWind(in.Wind, in.Ride))
		a.Riding = &r
		a.Words = append(a.Words, r.words("Riding: "))
	}
	return a
}

func chill(air quantity.Celsius, wind quantity.Speed) Chill {
	c := Chill{Wind: wind}
	c.Index, c.Applies = cold.WindChill(air, wind)
	f := cold.FrostbiteTime(air, wind)
	c.Band, c.Freezes, c.Doubtful = f.Band, f.Possible, f.Possible && f.Extrapolated
	if f.Possible {
		t := f.Time.Truncate(time.Minute)
		switch {
		case f.Band.Soonest > 0: // "as little as" is the band's near edge
			t = min(t, f.Band.Soonest)
		case f.Band.Latest > 0: // the severest band says less than its edge
			t = min(t, f.Band.Latest-time.Minute)
		}
		c.Soonest = max(time.Minute, t)
	}
	return c
}

func (c Chill) words(lead string) string {
	switch {
	case !c.Freezes:
		return lead + "Too mild for dry skin to freeze; wet or still, people chill all the same."
	case c.Soonest <= longestTold:
		return fmt.Sprintf("%sBare skin can freeze in as little as %d min; sooner if wet. Not a time allowance.", lead, int(c.Soonest.Minutes()))
	}
	return lead + "Bare skin can freeze, sooner if wet or on metal. Check faces and hands."
}
