package ice

import (
	"math"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Column is a floating sheet at one place: from the top down snow, white ice that froze over slush, slush, white ice,
// clear ice. The zero value is open water. It belongs to weather and planning: what it says of thickness never lifts
// what was drilled.
type Column struct {
	Snow        quantity.SurfaceDensity // dry snow on top
	SnowDensity quantity.Density        // as it lies now; means nothing without snow and slush
	White       quantity.Length         // all white ice
	Lid         quantity.Length         // the part of White that lies over wet slush
	Slush       quantity.Length
	Clear       quantity.Length
}

// Site is what a place does to a column. [UsualSite] is a start.
type Site struct {
	Air     quantity.HeatTransfer // between the surface and the air
	Water   quantity.Irradiance   // heat from the water
	Catch   float64               // share of the snow falling on land that comes to lie on the ice
	Conduct float64               // multiplies the conductivity of snow
	Warmer  quantity.CelsiusDelta // air over the ice less air where it is measured
	Packing float64               // depth of snow that one depth of slush takes up; 0 for 1.5
}

// UsualSite is the middle of what to expect of an open basin before any hole is drilled; all but the last two ours.
func UsualSite() Site {
	return Site{
		Air: UsualAir, Water: 1, Conduct: 1.3,
		Catch: 0.7, // wind leaves less snow on lakes than on land, and packs it [SturmListon2003]
	}
}

// Weather is the weather of one step.
type Weather struct {
	Air      quantity.Celsius        // mean
	Snowfall quantity.SurfaceDensity // water equivalent; 1 kg/m2 is about 1 cm of new snow
	Span     time.Duration           // up to 24 h; 6 h follow days that thaw and freeze
}

// How snow lies down and takes up water.
const (
	FreshSnow      = 120 * quantity.KilogramPerCubicMetre // within the usual 100 to 150; ours
	SettledSnow    = 360 * quantity.KilogramPerCubicMetre // 350 to 380 under wind; ours
	settlingPerDay = 0.3                                  // share of the way to SettledSnow, in the limit of short steps; ours, so that a usual winter meets [Yang2012]
	usualPacking   = 1.5                                  // 1 to 2; unverified
	longestStep    = 24 * time.Hour
)

// Step gives the column after a step of weather. Within the step the air is as cold as its mean; the laws of growth are
// followed exactly, so that steady weather gives the same in days as in quarters of days. Afterwards the top of the ice
// is never below the water: what would be is flooded to slush at once, though on a lake it may wait for a crack or a
// hole. It panics on weather that is unknown, snowfall below zero and a span outside 0 to 24 h.
func (c Column) Step(w Weather, s Site) Column {
	if !(w.Span > 0 && w.Span <= longestStep) || math.IsNaN(w.Air.Degrees()) {
		panic("ice: a step wants a known temperature and a span of up to 24 h")
	}
	mustNotBeNegative(float64(w.Snowfall), "snowfall")
	days := w.Span.Hours() / 24
	if c.Clear+c.White > 0 { // else the snow falls into the water
		c = c.snowed(quantity.SurfaceDensity(s.Catch*float64(w.Snowfall)), days)
	}
	T := w.Air.Plus(s.Warmer).Degrees()
	if T < 0 {
		c = c.frozen(quantity.DegreeDays(-T*days), s)
	} else {
		c = c.thawed(quantity.DegreeDays(T*days), s)
	}
	c = c.warmedBelow(s.Water, days)
	if c.Clear+c.White <= 0 {
		return Column{}
	}
	return c.flooded(s)
}

// snowed adds fresh snow and lets all of it settle.
func (c Column) snowed(fresh quantity.SurfaceDensity, days float64) Column {
	m, mf := float64(c.Snow), float64(fresh)
	if m+mf == 0 {
		return c
	}
	ρf, ρmax := float64(FreshSnow), float64(SettledSnow)
	ρ := ρf
	if m > 0 {
		// (ICE-30)
		ρ = (m + mf) / (m/float64(c.SnowDensity) + mf/ρf)
	}
	if ρ < ρmax {
		// (ICE-31)
		ρ = ρmax - float64((ρmax-ρ)*num.Exp(-settlingPerDay*days))
	}
	c.Snow, c.SnowDensity = quantity.SurfaceDensity(m+mf), quantity.Density(ρ)
	return c
}

// SnowDepth gives the depth of the snow.
func (c Column) SnowDepth() quantity.Length {
	if c.Snow == 0 {
		return 0
	}
	return quantity.Length(float64(c.Snow) / float64(c.SnowDensity))
}

// frozen spends frost: first on the slush, from its top, and only once that is solid on the underside of the ice.
func (c Column) frozen(frost quantity.DegreeDays, s Site) Column {
	above := AirFilm(s.Air)
	if c.Snow > 0 {
		above += Cover(c.SnowDepth(), quantity.Conductivity(s.Conduct*float64(SnowConductivity(c.SnowDensity))))
	}
	if c.Slush > 0 {
		c, frost = c.slushFrozen(frost, above, s)
	}
	if c.Slush == 0 {
		c.Clear = Grow(c.Clear, frost, above+Cover(c.White, WhiteConductivity))
	}
	return c
}

// slushFrozen freezes slush under the snow and the lid, and gives the frost that is left.
func (c Column) slushFrozen(frost quantity.DegreeDays, above Resistance, s Site) (Column, quantity.DegreeDays) {
	k, b := float64(WhiteConductivity), float64(WhiteConductivity)*float64(above)
	y0, x, S := c.Lid.Metres(), c.Slush.Metres(), float64(frost)
	// (ICE-32)
	λ := latentHeat * (float64(WhiteDensity) - c.slushSnow(s))
	// (ICE-33)
	y := math.Sqrt(float64((y0+b)*(y0+b))+2*k*secondsPerDay*S/λ) - b
	if y-y0 < x {
		grown := quantity.Length(math.Max(0, y-y0))
		c.White, c.Lid, c.Slush = c.White+grown, c.Lid+grown, c.Slush-grown
		return c, 0
	}
	// (ICE-34)
	spent := (float64((y0+x+b)*(y0+x+b)) - float64((y0+b)*(y0+b))) * λ / (2 * k * secondsPerDay)
	c.White, c.Lid, c.Slush = c.White+c.Slush, 0, 0
	return c, quantity.DegreeDays(math.Max(0, S-spent))
}

// slushSnow is the snow in a cubic metre of slush, in kilograms, taken as if it had flooded today.
func (c Column) slushSnow(s Site) float64 { return s.packing() * float64(c.SnowDensity) }

func (s Site) packing() float64 {
	if s.Packing == 0 {
		return usualPacking
	}
	return s.Packing
}

// thawed spends warmth from the top down. Melt water is taken to run off.
func (c Column) thawed(thaw quantity.DegreeDays, s Site) Column {
	// (ICE-35)
	E := float64(s.Air) * secondsPerDay * float64(thaw)
	E, snow := melt(E, float64(c.Snow), latentHeat)
	E, lid := melt(E, c.Lid.Metres(), float64(WhiteDensity)*latentHeat)
	E, slush := melt(E, c.Slush.Metres(), c.slushSnow(s)*latentHeat)
	E, white := melt(E, c.base().Metres(), float64(WhiteDensity)*latentHeat)
	_, clear := melt(E, c.Clear.Metres(), float64(ClearDensity)*latentHeat)
	c.Snow = quantity.SurfaceDensity(snow)
	return c.with(lid, slush, white, clear)
}

// warmedBelow melts from the underside up.
func (c Column) warmedBelow(water quantity.Irradiance, days float64) Column {
	// (ICE-36)
	E := float64(water) * secondsPerDay * days
	E, clear := melt(E, c.Clear.Metres(), float64(ClearDensity)*latentHeat)
	E, white := melt(E, c.base().Metres(), float64(WhiteDensity)*latentHeat)
	if white+clear > 0 || c.Lid == 0 {
		return c.with(c.Lid.Metres(), c.Slush.Metres(), white, clear)
	}
	_, lid := melt(E, c.Lid.Metres(), float64(WhiteDensity)*latentHeat) // what was slush is now water under the lid
	return c.with(lid, 0, 0, 0)
}

// with replaces the layers below the snow, in metres; a lid counts as one only while slush lies under it.
func (c Column) with(lid, slush, white, clear float64) Column {
	c.White, c.Lid, c.Slush, c.Clear = quantity.Length(lid+white), quantity.Length(lid), quantity.Length(slush), quantity.Length(clear)
	if c.Slush == 0 {
		c.Lid = 0
	}
	return c
}

// melt takes what energy E in J/m2 can melt off a layer that wants so much energy by unit of it.
func melt(E, layer, perUnit float64) (left, remains float64) {
	need := layer * perUnit
	if need > E {
		return 0, layer - E/perUnit
	}
	return E - need, 0
}

// flooded lets the water up until the top of the ice is level with it. Later slush joins what lies under a lid.
func (c Column) flooded(s Site) Column {
	x := SlushDepth(c.Clear, c.White+c.Slush, c.Snow, c.SnowDensity, s.packing())
	c.Slush += x
	c.Snow = max(0, c.Snow-quantity.SurfaceDensity(c.slushSnow(s)*x.Metres()))
	return c
}

// base is the white ice under the slush.
func (c Column) base() quantity.Length { return max(0, c.White-c.Lid) }

// Total gives all solid ice.
func (c Column) Total() quantity.Length { return c.White + c.Clear }

// Freeboard gives the height of the top of ice and slush above the water.
func (c Column) Freeboard() quantity.Length { return Freeboard(c.Clear, c.White+c.Slush, c.Snow) }

// WaterBelowTop gives what a rule in a fresh hole would read: how far the water stands below the top of the solid ice,
// below zero where wet slush lies on it.
func (c Column) WaterBelowTop() quantity.Length {
	if c.Lid == 0 {
		return c.Freeboard() - c.Slush
	}
	return c.Freeboard()
}

// Layers lists the column from the top down.
func (c Column) Layers() []Layer {
	return []Layer{{Snow, c.SnowDepth()}, {White, c.Lid}, {Slush, c.Slush}, {White, c.base()}, {Clear, c.Clear}}
}

// Worth gives what the column is worth for bearing, as [Effective] does for a drilled hole.
func (c Column) Worth() Worth { return Effective(c.Layers()) }
