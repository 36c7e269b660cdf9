package safety

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Fix is one fix of a recorded line.
type Fix struct {
	When     time.Time
	At       geo.Local
	Accuracy quantity.Length // radius within which two fixes in three lie; 0 or less: not told
}

// What makes a fix of a recorded line usable. Ours: a phone under open sky tells 3 to 10 m, and half the spacing of test holes is 15 m.
const (
	usableFix = 25 * quantity.Metre
	stepNoise = 15 * quantity.Metre // less between two fixes or two minutes may be their error
	jump      = 200 * quantity.KilometrePerHour
	block     = time.Minute // whose fixes are averaged
)

// Usable gives those fixes of a line that may be followed and measured, in order: told to lie within 25 m, later than the one before, and reachable
// from it. The rest is the number that was left out.
func Usable(fixes []Fix) (good []Fix, bad int) {
	for _, f := range fixes {
		ok := f.Accuracy > 0 && f.Accuracy <= usableFix
		if n := len(good); ok && n > 0 {
			took := f.When.Sub(good[n-1].When)
			away := f.At.Distance(good[n-1].At).Metres()
			ok = took > 0 && (away <= stepNoise.Metres() || away/took.Seconds() <= jump.MetresPerSecond())
		}
		if !ok {
			bad++
			continue
		}
		good = append(good, f)
	}
	return good, bad
}

// Moving gives the length of a recorded line and the time in which it was travelled. The fixes of each minute are averaged, since single ones wander while
// somebody stands, and minutes slower than 1 km/h are left out as standing. A gap in the record counts as the straight line in its whole time, which is
// never quicker than what was travelled; so does a minute in which the line bends or somebody stops half-way.
func Moving(fixes []Fix) (length quantity.Length, took time.Duration) {
	good, _ := Usable(fixes)
	metres := 0.0
	var from Fix
	for i := 0; i < len(good); {
		minute, n := Fix{When: good[i].When}, 0
		seconds := 0.0
		for ; i < len(good) && good[i].When.Sub(minute.When) < block; i++ {
			minute.At = minute.At.Add(good[i].At)
			seconds += good[i].When.Sub(minute.When).Seconds()
			n++
		}
		share := 1 / float64(n)
		minute.At = geo.Local{E: minute.At.E * share, N: minute.At.N * share}
		minute.When = minute.When.Add(time.Duration(seconds * share * float64(time.Second)))
		if !from.When.IsZero() {
			away, t := minute.At.Distance(from.At).Metres(), minute.When.Sub(from.When)
			// (SAFETY-7)
			if away >= stepNoise.Metres() && away/t.Seconds() >= leastSpeed.MetresPerSecond() {
				metres, took = metres+away, took+t
			}
		}
		from = minute
	}
	return quantity.Length(metres), took
}
