package world

import (
	"slices"
	"testing"
)

// The index gives the schools that asking every one of them gives, in the same order.
func TestNearFindsAll(t *testing.T) {
	for _, f := range Families() {
		d := NewLake(f, 12, 0).Day(Mid, 3)
		dice := seeded(12)
		found := 0
		for range 2000 {
			m, x, y, reach := int(dice.between(0, minutes+1)), dice.between(0, WidthM), dice.between(0, HeightM), dice.between(5, 120)
			var want []int16
			for i := range d.n {
				dx, dy := d.xs[m*d.n+i]-float32(x), d.ys[m*d.n+i]-float32(y)
				if dx*dx+dy*dy < float32(reach*reach) {
					want = append(want, int16(i))
				}
			}
			got := d.near(nil, m, x, y, reach)
			found += len(got)
			if !slices.Equal(got, want) {
				t.Fatalf("%s: within %.0f m of %.0f, %.0f at minute %d: %v, want %v", f.Name, reach, x, y, m, got, want)
			}
		}
		if found == 0 {
			t.Errorf("%s: nothing was ever near", f.Name)
		}
	}
}
