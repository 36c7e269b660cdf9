package ice

import "icehand/internal/base/quantity"

// SnowLoad gives the mass of a layer of snow by area.
func SnowLoad(depth quantity.Length, density quantity.Density) quantity.SurfaceDensity {
	return quantity.SurfaceDensity(depth.Metres() * float64(density))
}

// FloodingLoad gives the load by area, snow or anything spread out, that presses the top of the ice down to the water.
func FloodingLoad(clear, white quantity.Length) quantity.SurfaceDensity {
	ρw, ρb, ρwi := float64(WaterDensity), float64(ClearDensity), float64(WhiteDensity)
	// (ICE-9)
	return quantity.SurfaceDensity((ρw-ρb)*clear.Metres() + (ρw-ρwi)*white.Metres())
}

// Freeboard gives the height of the top of the ice above the water in a hole, from Archimedes. Below zero, a hole floods.
func Freeboard(clear, white quantity.Length, load quantity.SurfaceDensity) quantity.Length {
	// (ICE-10)
	return quantity.Length(float64(FloodingLoad(clear, white)-load) / float64(WaterDensity))
}

// LoadFromFreeboard is the inverse: the load by area that the water level in a fresh hole tells of. Above the flooding
// load, slush is on its way.
func LoadFromFreeboard(clear, white, freeboard quantity.Length) quantity.SurfaceDensity {
	return FloodingLoad(clear, white) - quantity.SurfaceDensity(freeboard.Metres()*float64(WaterDensity))
}

// SlushDepth gives the depth of the slush, later white ice, that forms when water comes up through holes and cracks
// into snow of the given load and density, until the top is level with the water again. Packing is how much deep snow
// one depth of slush takes up, 1 to 2. It is 0 when nothing floods.
func SlushDepth(clear, white quantity.Length, snow quantity.SurfaceDensity, density quantity.Density, packing float64) quantity.Length {
	excess := float64(snow - FloodingLoad(clear, white))
	if excess <= 0 {
		return 0
	}
	ρw, ρwi, ρs, β := float64(WaterDensity), float64(WhiteDensity), float64(density), packing
	// (ICE-11)
	return quantity.Length(excess / (β*ρs + ρw - ρwi))
}
