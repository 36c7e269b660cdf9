package ground

import (
	"context"
	"math"
	"testing"

	"icehand/internal/base/geo"
)

// Ten holes on a poor chart beat the chart alone by far: gstat 2.1-0 had 1.27 m for the chart alone and 0.50 m with
// ten holes (testdata/lake_learning_curve.csv, ked_chart: fixed covariance, chart known everywhere).
func TestTenHolesMendTheChart(t *testing.T) {
	g := readTable(t, "lake_grid_gstat.csv", 68)
	var at []geo.Local
	for i := range g["x_m"] {
		at = append(at, geo.Local{E: g["x_m"][i], N: g["y_m"][i]})
	}
	c, err := BuildChart(context.Background(), Input{Outline: outline(), Soundings: chartSoundings(100)})
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]float64{0: 1.2651, 10: 0.50410} {
		s, err := c.Surface(context.Background(), lakeHoles(t, n))
		if err != nil {
			t.Fatal(err)
		}
		got, _ := rmse(t, s, func(p geo.Local) float64 { return lakeDepth(p, 0.5) }, at)
		if math.Abs(got-want) > 0.15 {
			t.Errorf("%d holes: RMSE %.3f m, gstat %.3f", n, got, want)
		}
	}
}
