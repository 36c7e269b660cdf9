package field

import (
	"math"
	"slices"
	"testing"

	"icehand/internal/base/geo"
)

// The closed form must equal leaving out and solving anew, for single data and whole groups, with flat and with
// informative priors [Dubrule1983 for the closed form].
func TestLeaveOutAgainstSolvingAnew(t *testing.T) {
	m := Model{Shape: Exponential, Sill: 1.5, Range: 500, Nugget: 0.1}
	data := soundings(t, 40, false, onChart)
	for _, prior := range [][]Prior{flat(2), {{Mean: 0, SD: 0.5}, {Mean: 1, SD: 0.1}}} {
		f, err := Solve(m, data, prior)
		if err != nil {
			t.Fatal(err)
		}
		groups := [][]int{{0}, {3, 7, 21}, {39}}
		misses, err := f.LeaveOut(groups)
		if err != nil || len(misses) != 5 {
			t.Fatal(len(misses), err)
		}
		k := 0
		for _, g := range groups {
			var rest []Datum
			for i, d := range data {
				if !slices.Contains(g, i) {
					rest = append(rest, d)
				}
			}
			anew, err := Solve(m, rest, prior)
			if err != nil {
				t.Fatal(err)
			}
			for _, i := range g {
				mean, variance := anew.At(data[i].At, data[i].Trend)
				variance += data[i].Noise
				if got := misses[k]; got.Datum != i || !near(got.Predicted, mean, 1e-9) || !near(got.Variance, variance, 1e-9) || got.Observed != data[i].Value {
					t.Errorf("datum %d: %+v, anew %.12f, %.12f", i, got, mean, variance)
				}
				k++
			}
		}
	}
}

// Leave-one-out of ordinary kriging on the meuse zinc data is quoted in the model note; here the summary itself.
func TestSummarise(t *testing.T) {
	s := Summarise([]Miss{{Predicted: 3, Observed: 1, Variance: 4}, {Predicted: 1, Observed: 2, Variance: 0.25}})
	if s.N != 2 || !near(s.MeanError, 0.5, 1e-15) || !near(s.RMSE, math.Sqrt(2.5), 1e-15) || !near(s.MeanSquareZ, 2.5, 1e-15) {
		t.Errorf("%+v", s)
	}
}

func TestClusters(t *testing.T) {
	places := []geo.Local{place(0, 0), place(500, 0), place(90, 0), place(180, 0), place(500, 99), place(-500, 0)}
	got := Clusters(places, 100)
	want := [][]int{{0, 2, 3}, {1, 4}, {5}} // 0 and 3 hang together through 2
	if !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("%v, want %v", got, want)
	}
}

// More data than coefficients must remain when a group is left out.
func TestLeaveOutOfTooFew(t *testing.T) {
	data := soundings(t, 3, false, onChart)
	f, err := Solve(Model{Shape: Exponential, Sill: 1, Range: 500}, data, flat(2))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.LeaveOut([][]int{{0, 1}}); err == nil {
		t.Error("one datum is left for two flat coefficients")
	}
}
