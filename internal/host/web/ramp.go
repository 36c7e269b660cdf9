package web

import (
	"image/color"
	"math"
)

// stops of the cividis colour map, from low to high in equal steps: colours that rise evenly in lightness and look alike
// to people who see red and green as one [Cividis].
var cividis = []color.NRGBA{
	{0, 34, 78, 255}, {18, 53, 112, 255}, {59, 73, 108, 255}, {87, 93, 109, 255}, {112, 113, 115, 255}, {138, 134, 120, 255},
	{165, 156, 116, 255}, {195, 179, 105, 255}, {225, 204, 85, 255}, {254, 232, 56, 255},
}

// embers is the one hue of the night theme; it ends well below the theme's ink, so that lines and holes stay seen on it.
var embers = []color.NRGBA{{0, 0, 0, 255}, {150, 68, 52, 255}}

// rampFor gives the colour map of a theme.
func rampFor(theme string) []color.NRGBA {
	if theme == "night" {
		return embers
	}
	return cividis
}

// shade gives the colour of a share from 0 to 1.
func shade(ramp []color.NRGBA, share float64) color.NRGBA {
	x := math.Max(0, math.Min(1, share)) * float64(len(ramp)-1)
	i := min(int(x), len(ramp)-2)
	t := x - float64(i)
	mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + t*(float64(b)-float64(a)))) }
	a, b := ramp[i], ramp[i+1]
	return color.NRGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255}
}
