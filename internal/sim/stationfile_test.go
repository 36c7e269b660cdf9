package sim

import (
	"testing"

	"icehand/internal/feed/file"
	"icehand/internal/feed/station"
	"icehand/internal/trade/journal"
)

// The made-up station's file is read without a gap from before freeze-up to the last day, and tells the demo's own air.
func TestStationDaily(t *testing.T) {
	r, preview, err := station.Read("tamaringen.dly", StationDaily(15, clock("2026-01-14", 12, 0)), file.Options{})
	if err != nil || preview.Refused != 0 {
		t.Fatal(err, preview)
	}
	if len(r.Days) != 62 || r.Days[0].Date.String() != StationFirst {
		t.Fatalf("%d days from %s", len(r.Days), r.Days[0].Date)
	}
	means, filled, err := r.Means(r.Days[0].Date, r.Days[61].Date)
	if err != nil || filled != 0 || len(means) != 62 {
		t.Errorf("%d means, %d filled, %v", len(means), filled, err)
	}
	for _, d := range r.Days {
		if a, ok := airOf[journal.Day(d.Date.String())]; ok {
			if m, _ := d.Mean(); m.Degrees() < (a[0]+a[1])/2-0.06 || m.Degrees() > (a[0]+a[1])/2+0.06 {
				t.Errorf("%s: mean %v of %v", d.Date, m, a)
			}
		}
	}
}
