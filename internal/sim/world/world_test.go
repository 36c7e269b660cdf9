package world

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"icehand/internal/base/geo"
)

func eachFamily(t *testing.T, f func(t *testing.T, d *Day)) {
	for _, family := range Families() {
		t.Run(family.Name, func(t *testing.T) { f(t, NewLake(family, 11, 0).Day(Mid, 3)) })
	}
}

func TestSameSeedSameDay(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		again := NewLake(d.Lake.Family, 11, 0).Day(Mid, 3)
		if !reflect.DeepEqual(d.xs, again.xs) || !reflect.DeepEqual(d.does, again.does) {
			t.Error("the same seed made another day")
		}
		other := NewLake(d.Lake.Family, 11, 0).Day(Mid, 4)
		if reflect.DeepEqual(d.xs, other.xs) {
			t.Error("another date made the same day")
		}
	})
}

// A school that a run makes its own must go on from where the shared day had it: ways are compared on the same fish.
func TestTouchingMovesNothing(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		r := d.Run()
		for _, minute := range []int{0, 57, 300, minutes} {
			r.advance(minute)
			for i := 0; i < d.n; i += 17 {
				before, _ := r.state(i)
				after := *r.touch(i)
				if float32(before.x) != float32(after.x) || float32(before.y) != float32(after.y) || before.phase != after.phase {
					t.Fatalf("school %d at minute %d: %v %v %v became %v %v %v", i, minute, before.x, before.y, before.phase, after.x, after.y, after.phase)
				}
			}
		}
	})
}

// No fish from nowhere: what was landed is missing from the schools.
func TestFishAreConserved(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		r := d.Run()
		count := func(at time.Duration) float64 {
			sum := 0.0
			for _, s := range r.Schools(at) {
				sum += s.Fish
			}
			return sum
		}
		before, took := count(0), 0
		for minute := 5; minute < minutes; minute += 5 {
			now := time.Duration(minute) * time.Minute
			for _, s := range r.Schools(now) {
				if s.Feeding && s.ID%9 == minute%9 {
					bites, _ := r.Fish(s.At, now, 2*time.Minute, s.ID, 1)
					for _, b := range bites {
						if b.Landed {
							took++
						}
					}
				}
			}
		}
		if took < 20 {
			t.Fatalf("only %d fish were landed over feeding schools", took)
		}
		if got := before - count(Length); math.Abs(got-float64(took)) > 1e-6 {
			t.Errorf("%d fish were landed and %.3f are missing", took, got)
		}
	})
}

// Schools stay in the working area, and feed on every kind of lake, but never most of the time.
func TestSchoolsLivePlausibly(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		feeds := 0
		for k := range d.xs {
			if !Inside(geo.Local{E: float64(d.xs[k]), N: float64(d.ys[k])}) {
				t.Fatalf("a school left the working area: %v, %v", d.xs[k], d.ys[k])
			}
			if d.does[k] == feeding {
				feeds++
			}
		}
		if share := float64(feeds) / float64(len(d.does)); share < 0.02 || share > 0.45 {
			t.Errorf("schools feed %.1f %% of the time", 100*share)
		}
	})
}

func TestSonarShowsWhatIsThere(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		r := d.Run()
		over, hit := 0, 0
		var now time.Duration
		for now = 0; now < 200*time.Minute; now += 10 * time.Minute { // a lake that feeds in windows may rest at any one time
			for _, s := range r.Schools(now) {
				if s.Feeding {
					over++
					if r.Look(s.At, now, 30*time.Second, s.ID).Count > 0 {
						hit++
					}
				}
			}
		}
		if over < 3 || float64(hit) < 0.7*float64(over) {
			t.Errorf("of %d looks into feeding schools %d showed marks", over, hit)
		}
		// where no school is within reach only false marks show: one in two hundred looks of half a minute
		looks, falsely := 0, 0
		for i := 0; looks < 6000; i++ {
			dice := seeded(77, uint64(i))
			p := geo.Local{E: dice.between(0, WidthM), N: dice.between(0, HeightM)}
			clear := true
			r.around(p, d.farthestM, func(int, *school) { clear = false })
			if clear {
				looks++
				if r.Look(p, now, 30*time.Second, 10+i).Count > 0 {
					falsely++
				}
			}
			if i > 4000000 {
				t.Skip("this lake has no water without a school near")
			}
		}
		// 30 expected of 6000, standard deviation 5.5; four of them either way
		if falsely < 8 || falsely > 52 {
			t.Errorf("%d false marks in %d looks, want about 30", falsely, looks)
		}
	})
}

// The true map is a density: over the area it sums to the season's number of schools.
func TestTrueMapSums(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		m := d.TrueMap()
		sum := 0.0
		for _, v := range m.PerM2 {
			sum += v * m.CellM * m.CellM
		}
		want := d.Season.of(d.Lake.Family.schools)
		if math.Abs(sum-want) > 0.05*want { // smoothing at the edges moves a little
			t.Errorf("the map holds %.0f schools, want about %.0f", sum, want)
		}
	})
}

// The bound bounds: no place that a rod can stand at offers more than the best of the day's mean, taken at its best.
func TestBestBitesLead(t *testing.T) {
	eachFamily(t, func(t *testing.T, d *Day) {
		best, good := d.BestBites()
		if good > best || good <= 0 {
			t.Fatalf("best %v fish a minute, good %v", best, good)
		}
		r := d.Run()
		mean, n := 0.0, 0.0
		for m := 0; m < minutes; m += 3 {
			now := time.Duration(m) * time.Minute
			top := 0.0
			for _, s := range r.Schools(now) {
				if s.Feeding {
					b, _ := r.Bites(s.At, now)
					top = math.Max(top, landed*b)
				}
			}
			mean, n = mean+top, n+1
		}
		if mean/n > best {
			t.Errorf("standing in the middle of the best school gives %.3f a minute, over the bound %.3f", mean/n, best)
		}
	})
}

func TestWintersKeepPart(t *testing.T) {
	f := Families()[0]
	var a, b []float64
	for seed := range uint64(12) {
		x, y := NewLake(f, seed, 0), NewLake(f, seed, 1)
		for i := range x.places {
			a, b = append(a, math.Log(x.places[i].worth)), append(b, math.Log(y.places[i].worth))
		}
	}
	ma, mb, sab, saa, sbb := 0.0, 0.0, 0.0, 0.0, 0.0
	for i := range a {
		ma, mb = ma+a[i]/float64(len(a)), mb+b[i]/float64(len(a))
	}
	for i := range a {
		sab += (a[i] - ma) * (b[i] - mb)
		saa += (a[i] - ma) * (a[i] - ma)
		sbb += (b[i] - mb) * (b[i] - mb)
	}
	// worths share 0.7 of their logarithm, so they correlate by 0.49; some 290 places give it to about 0.045
	if r := sab / math.Sqrt(saa*sbb); r < 0.31 || r > 0.67 {
		t.Errorf("winters correlate by %.2f, want about 0.49", r)
	}
}

// On flat ground places are worth nearly the same; their places, and the bottom, stay.
func TestFlatGroundIsFlat(t *testing.T) {
	for _, f := range Families() {
		spread := func(f Family) (sd float64, l *Lake) {
			n, sum, sum2 := 0.0, 0.0, 0.0
			for seed := range uint64(60) {
				l = NewLake(f, seed, 0)
				for _, p := range l.places {
					w := math.Log(p.worth)
					n, sum, sum2 = n+1, sum+w, sum2+w*w
				}
			}
			return math.Sqrt(sum2/n - sum*sum/n/n), l
		}
		usual, a := spread(f)
		flat, b := spread(f.Flat())
		// at least 1080 places: three standard errors of a deviation are 7 %
		if math.Abs(flat/flatContrast-1) > 0.07 || math.Abs(usual/f.contrast-1) > 0.07 {
			t.Errorf("%s: worth spreads by %.3f, flat by %.3f", f.Name, usual, flat)
		}
		if a.places[0].x != b.places[0].x || !slices.Equal(a.depth, b.depth) {
			t.Errorf("%s: flattening moved the lake", f.Name)
		}
	}
}
