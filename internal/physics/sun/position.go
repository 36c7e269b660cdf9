// Package sun answers where the sun stands and when it rises, sets and leaves the twilights.
//
// Start with [EventsOn] for a civil date, or [At] for one moment.
// It assumes a level horizon, years 1950 to 2050, and, for the events, the usual allowance of 50 arc minutes for the
// sun's radius and mean refraction. Cold air and hills move a real sunrise by minutes, so print no seconds.
// The moon has a package of its own; eclipses are left out.
// Model note: docs/models/sun.md.
package sun

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Sky is where the sun stands, seen from one place at one moment.
type Sky struct {
	Elevation quantity.Angle   // of the sun's centre above the level horizon, without refraction
	Azimuth   quantity.Bearing // of the sun's centre
}

// Zenith gives the angle from straight up to the sun's centre, without refraction.
func (s Sky) Zenith() quantity.Angle { return 90 - s.Elevation }

// Apparent gives the elevation at which the sun is seen through standard air: 1010 hPa and 10 C.
func (s Sky) Apparent() quantity.Angle {
	return s.Elevation + Refraction(s.Elevation, StandardPressure, StandardTemperature)
}

// At gives the sun's place in the sky. It panics when the place is not a position.
func At(t time.Time, p geo.Position) Sky {
	if !p.Valid() {
		panic("sun: place is not a position")
	}
	o := orbitAt(t)
	φ := rad(p.Lat)
	δ := o.declination
	H := rad(o.hourAngle(t, p.Lon))
	// (SUN-6)
	sinh := math.Sin(φ)*math.Sin(δ) + math.Cos(φ)*math.Cos(δ)*math.Cos(H)
	east := -math.Cos(δ) * math.Sin(H)
	north := math.Cos(φ)*math.Sin(δ) - math.Sin(φ)*math.Cos(δ)*math.Cos(H)
	return Sky{
		Elevation: quantity.Angle(deg(math.Atan2(sinh, math.Hypot(east, north)))),
		Azimuth:   quantity.NewBearing(deg(math.Atan2(east, north))),
	}
}

// Distance gives the distance from the Earth to the sun in astronomical units.
func Distance(t time.Time) float64 { return orbitAt(t).distance }

// orbit holds what depends on the moment alone.
type orbit struct {
	declination float64 // radians
	eotMinutes  float64 // equation of time: apparent less mean solar time
	distance    float64 // astronomical units
}

// j2000 is the epoch of the series, 2000-01-01 12:00. Terrestrial and universal time are not told apart: the minute
// between them moves the sun by 0.001 degree.
var j2000 = time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)

// orbitAt works out the low-precision series of [Meeus1998, ch. 25 and 28] in the form of [NOAASolar].
func orbitAt(t time.Time) orbit {
	T := t.Sub(j2000).Hours() / 24 / 36525
	// (SUN-1) mean longitude, mean anomaly, eccentricity
	L0 := 280.46646 + T*(36000.76983+T*0.0003032)
	M := rad(357.52911 + T*(35999.05029-0.0001537*T))
	e := 0.016708634 - T*(0.000042037+0.0000001267*T)
	// (SUN-2) equation of the centre, in degrees
	C := math.Sin(M)*(1.914602-T*(0.004817+0.000014*T)) + math.Sin(2*M)*(0.019993-0.000101*T) + math.Sin(3*M)*0.000289
	// (SUN-3) apparent longitude and obliquity, in degrees
	Ω := rad(125.04 - 1934.136*T)
	λ := rad(L0 + C - 0.00569 - 0.00478*math.Sin(Ω))
	ε := rad(23 + (26+(21.448-T*(46.815+T*(0.00059-T*0.001813)))/60)/60 + 0.00256*math.Cos(Ω))
	// (SUN-4) declination and distance
	δ := math.Asin(math.Sin(ε) * math.Sin(λ))
	R := 1.000001018 * (1 - e*e) / (1 + e*math.Cos(M+rad(C)))
	// (SUN-5) equation of time
	y := math.Tan(ε/2) * math.Tan(ε/2)
	l := rad(L0)
	E := y*math.Sin(2*l) - 2*e*math.Sin(M) + 4*e*y*math.Sin(M)*math.Cos(2*l) - 0.5*y*y*math.Sin(4*l) - 1.25*e*e*math.Sin(2*M)
	return orbit{declination: δ, eotMinutes: 4 * deg(E), distance: R}
}

// hourAngle gives the sun's angle past the meridian of lon in degrees, -180 to 180, west positive.
func (o orbit) hourAngle(t time.Time, lon float64) float64 {
	u := t.UTC()
	minutes := float64(u.Hour())*60 + float64(u.Minute()) + (float64(u.Second())+float64(u.Nanosecond())*1e-9)/60
	return math.Remainder((minutes+o.eotMinutes+4*lon)/4-180, 360)
}

// The air for which refraction is usually stated [RedaAndreas2004, section 3.11.2].
const (
	StandardPressure    = 1010 * quantity.Hectopascal
	StandardTemperature = quantity.Celsius(10)
)

// Refraction gives how much air lifts the sun above its true elevation [RedaAndreas2004, eq. 42].
// Below -0.8333 degrees, where the sun cannot be seen, it is 0.
func Refraction(elevation quantity.Angle, air quantity.Pressure, temperature quantity.Celsius) quantity.Angle {
	if elevation < RiseSet {
		return 0
	}
	e0, P, t := elevation.Degrees(), float64(air/quantity.Hectopascal), temperature.Degrees()
	// (SUN-7)
	return quantity.Angle(P / 1010 * 283 / (273 + t) * 1.02 / (60 * math.Tan(rad(e0+10.3/(e0+5.11)))))
}

// AirMass gives the optical path through the air relative to the vertical one [KastenYoung1989]. It is meant for a
// sun above the horizon and panics for a zenith angle outside 0 to 90 degrees.
func AirMass(zenith quantity.Angle) float64 {
	if !(zenith >= 0 && zenith <= 90) {
		panic("sun: air mass wants a zenith angle of 0 to 90 degrees")
	}
	z := zenith.Degrees()
	// (SUN-8) constants unverified
	return 1 / (math.Cos(rad(z)) + 0.50572*math.Pow(96.07995-z, -1.6364))
}

// ClearSky gives the sunlight on level ground under a clear sky [Haurwitz1945], 0 for a sun at or below the horizon.
// No simple model is good for a sun lower than 5 degrees: use the elevation itself there.
func ClearSky(elevation quantity.Angle) quantity.Irradiance {
	cosz := math.Sin(elevation.Radians())
	if cosz <= 0 {
		return 0
	}
	// (SUN-9) constants unverified
	return quantity.Irradiance(1098 * cosz * math.Exp(-0.057/cosz))
}

func rad(d float64) float64 { return d * math.Pi / 180 }
func deg(r float64) float64 { return r * 180 / math.Pi }
