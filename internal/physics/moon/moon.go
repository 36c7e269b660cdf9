// Package moon answers how much of the moon's disc is lit, and when the next new moon is.
//
// Start with [Lit]; [NextNew] gives the time of a new moon. It assumes the years 1950 to 2050.
// It leaves out where the moon stands, and what fish make of it: nothing is published that would bear a calendar of good days,
// so the moon may only ever enter as a covariate that must first earn its place. Model note: docs/models/moon.md.
package moon

import (
	"math"
	"time"
)

var j2000 = time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)

// clockLag is by how much civil time lies behind the even time of the series around 2026 [Meeus1998]; its change is some
// seconds in a decade.
const clockLag = 69 * time.Second

func centuries(t time.Time) float64 { return t.Add(clockLag).Sub(j2000).Hours() / 24 / 36525 }

func sin(deg float64) float64 { return math.Sin(deg * math.Pi / 180) }

// Lit gives the lit part of the disc, 0 at new moon, 1 at full moon.
func Lit(t time.Time) float64 {
	T := centuries(t)
	// (MOON-1) elongation of the moon, anomalies of the sun and the moon, in degrees
	D := 297.8501921 + 445267.1114034*T - 0.0018819*T*T
	M := 357.5291092 + 35999.0502909*T - 0.0001536*T*T
	M1 := 134.9633964 + 477198.8675055*T + 0.0087414*T*T
	// (MOON-2) angle between sun and Earth as seen from the moon
	i := 180 - D - 6.289*sin(M1) + 2.100*sin(M) - 1.274*sin(2*D-M1) - 0.658*sin(2*D) - 0.214*sin(2*M1) - 0.110*sin(D)
	// (MOON-3) lit part
	return (1 + math.Cos(i*math.Pi/180)) / 2
}

// month is the mean time between new moons in days.
const month = 29.530588861

// NextNew gives the first new moon after a time.
func NextNew(t time.Time) time.Time {
	k := math.Floor(t.Sub(j2000).Hours()/24/month) - 2
	for {
		if at := newMoon(k); at.After(t) {
			return at
		}
		k++
	}
}

// newMoon gives the k-th new moon since that of 6 January 2000.
func newMoon(k float64) time.Time {
	T := k / 1236.85
	// (MOON-4) mean new moon in days since noon of 1 January 2000, and the angles of its corrections
	days := 5.09766 + month*k + 0.00015437*T*T
	E := 1 - 0.002516*T - 0.0000074*T*T
	M := 2.5534 + 29.10535670*k - 0.0000014*T*T
	M1 := 201.5643 + 385.81693528*k + 0.0107582*T*T
	F := 160.7108 + 390.67050284*k - 0.0016118*T*T
	Ω := 124.7746 - 1.56375588*k + 0.0020672*T*T
	// (MOON-5) from the mean to the true new moon
	days += -0.40720*sin(M1) + 0.17241*E*sin(M) + 0.01608*sin(2*M1) + 0.01039*sin(2*F) + 0.00739*E*sin(M1-M) -
		0.00514*E*sin(M1+M) + 0.00208*E*E*sin(2*M) - 0.00111*sin(M1-2*F) - 0.00057*sin(M1+2*F) + 0.00056*E*sin(2*M1+M) -
		0.00042*sin(3*M1) + 0.00042*E*sin(M+2*F) + 0.00038*E*sin(M-2*F) - 0.00024*E*sin(2*M1-M) - 0.00017*sin(Ω)
	return j2000.Add(time.Duration(days * 24 * float64(time.Hour))).Add(-clockLag)
}
