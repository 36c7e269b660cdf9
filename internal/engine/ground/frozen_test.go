package ground

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"icehand/internal/base/geo"
)

// A thawed chart and surface are the made ones to the last bit, also in what later holes make of them; bytes of another
// input, cut short or changed, are not thawed.
func TestThawedIsMade(t *testing.T) {
	holes := lakeHoles(t, 30)
	for _, in := range []Input{
		{Outline: outline(), Soundings: chartSoundings(200), Window: &Window{geo.Local{E: 1000, N: 500}, geo.Local{E: 4000, N: 3500}}, Cell: 50},
		{Outline: outline(ring(2600, 2000, 150, 100, 24)), Window: &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}, Cell: 50},
	} {
		made, err := BuildChart(ctx, in)
		if err != nil {
			t.Fatal(err)
		}
		digest := in.Digest()
		frozen := made.Freeze(digest)
		thawed, ok := ThawChart(in, slices.Clone(frozen))
		if !ok {
			t.Fatal("the chart was not thawed")
		}
		a, err1 := made.Surface(ctx, holes)
		b, err2 := thawed.Surface(ctx, holes)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		key := SurfaceDigest(digest, holes)
		c, ok := thawed.Thaw(key, a.Freeze(key))
		if !ok {
			t.Fatal("the surface was not thawed")
		}
		known := 0
		for i := range a.Grid().Len() {
			if a.Cell(i) != b.Cell(i) || a.Cell(i) != c.Cell(i) || a.CellOnWater(i) != c.CellOnWater(i) {
				t.Fatalf("cell %d: made %+v, from a thawed chart %+v, thawed %+v", i, a.Cell(i), b.Cell(i), c.Cell(i))
			}
			if a.form != nil && (a.form[i] != b.form[i] || a.form[i] != c.form[i]) {
				t.Fatalf("cell %d: form %d, from a thawed chart %d, thawed %d", i, a.form[i], b.form[i], c.form[i])
			}
			if a.Cell(i).Known {
				known++
			}
		}
		if known < 1000 || !sameNumbers(a.Report().numbers(), b.Report().numbers()) || !sameNumbers(a.Report().numbers(), c.Report().numbers()) {
			t.Errorf("%d cells; %+v, %+v, %+v", known, a.Report(), b.Report(), c.Report())
		}
		other := in
		other.Cell = 60
		if _, ok := ThawChart(other, frozen); ok {
			t.Error("the chart of other cells was thawed")
		}
		if SurfaceDigest(digest, holes[1:]) == key {
			t.Error("a hole less has the same digest")
		}
		for _, at := range []int{0, 40, len(frozen) / 2, len(frozen) - 1} {
			bad := slices.Clone(frozen)
			bad[at] ^= 1
			if _, ok := ThawChart(in, bad); ok {
				t.Errorf("a changed byte %d was thawed", at)
			}
			if _, ok := ThawChart(in, frozen[:at]); ok {
				t.Errorf("%d bytes were thawed", at)
			}
		}
		if _, ok := thawed.Thaw(key, frozen); ok {
			t.Error("a chart was thawed as a surface")
		}
	}
}

func sameNumbers(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
}

// Every field of a quality survives: one that is added later and forgotten in the list fails here.
func TestQualityAsNumbers(t *testing.T) {
	var q Quality
	v := reflect.ValueOf(&q).Elem()
	for i := range v.NumField() {
		switch f := v.Field(i); f.Kind() {
		case reflect.Int:
			f.SetInt(int64(i + 1))
		case reflect.Float64:
			f.SetFloat(float64(i) + 0.5)
		case reflect.Array:
			for k := range f.Len() {
				f.Index(k).SetFloat(float64(10*i + k))
			}
		case reflect.Slice:
			f.Set(reflect.MakeSlice(f.Type(), 3, 3))
			for k := range 3 {
				f.Index(k).SetFloat(float64(100*i + k))
			}
		default:
			t.Fatalf("field %d is a %v", i, f.Kind())
		}
	}
	if got, ok := qualityOf(q.numbers()); !ok || !reflect.DeepEqual(got, q) {
		t.Errorf("%+v came back as %+v", q, got)
	}
	if _, ok := qualityOf(q.numbers()[1:]); ok {
		t.Error("a number less was taken")
	}
}
