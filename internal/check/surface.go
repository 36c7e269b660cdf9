package check

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
)

// Thin plates and triangles over the made-up lake are other people's ways, which the program does not use: their answers
// show that the lake here is the one that those programs were given, and what a rule for the shore costs on each bank.

// bankDepth is the true depth with banks of a power: 0.5 is steep and the lake of the other rows, 1 is gentle.
func bankDepth(p geo.Local, power float64) float64 {
	rest := lakeDepthBumps(p)
	return math.Max(0, 11*math.Pow(math.Max(0, bowl(p)), power)+rest)
}

// lakeDepthBumps is the hump and the hole of the made-up lake.
func lakeDepthBumps(p geo.Local) float64 {
	bump := func(e, n, w, h float64) float64 {
		return math.Exp(-(math.Pow((p.E-e)/w, 2) + math.Pow((p.N-n)/h, 2)))
	}
	return 2.5*bump(1700, 1500, 500, 400) - 3.5*bump(3900, 2300, 350, 260)
}

// soundedAndShore gives all places of the lake with their depths.
func soundedAndShore() (places []geo.Local, depthM []float64) {
	for _, d := range lakePoints() {
		places, depthM = append(places, d.At), append(depthM, d.Value)
	}
	return places, depthM
}

var surfaceSlugs = []Slug{
	{"lake_plate", "m", "depth of the made-up lake by a thin plate through its soundings and shore", keys("x_m", "m", "y_m", "m"), func(in Inputs) (float64, error) {
		places, depthM := soundedAndShore()
		f, err := thinPlate(places, depthM, 0)
		if err != nil {
			return 0, err
		}
		return f(geo.Local{E: in.n("x_m"), N: in.n("y_m")}), nil
	}},
	{"lake_triangle", "m", "depth of the made-up lake in the triangle of Delaunay's net of its soundings and shore", keys("x_m", "m", "y_m", "m"), func(in Inputs) (float64, error) {
		places, depthM := soundedAndShore()
		return triangle(places, depthM, geo.Local{E: in.n("x_m"), N: in.n("y_m")})
	}},
	{"shore_rule_miss", "m", "root mean square error of a thin plate on a made-up lake with 60 soundings, by its banks and by what is made of the shore",
		keys("banks", "steep|middling|gentle", "shore", "none|zero|squared"), shoreMiss},
}

// thinPlate gives the smoothest surface through values, with distances in kilometres: r² ln r and a plane [Duchon1977].
func thinPlate(places []geo.Local, values []float64, smoothing float64) (func(geo.Local) float64, error) {
	n := len(places)
	kernel := func(a, b geo.Local) float64 {
		r := math.Hypot(a.E-b.E, a.N-b.N) / 1000
		if r == 0 {
			return 0
		}
		return r * r * math.Log(r)
	}
	plane := func(p geo.Local) [3]float64 { return [3]float64{1, p.E / 1000, p.N / 1000} }
	k, z := mat.NewDense(n+3, n+3, nil), mat.NewVecDense(n+3, nil)
	for i, a := range places {
		for j, b := range places {
			k.Set(i, j, kernel(a, b))
		}
		k.Set(i, i, smoothing)
		for c, v := range plane(a) {
			k.Set(i, n+c, v)
			k.Set(n+c, i, v)
		}
		z.SetVec(i, values[i])
	}
	var w mat.VecDense
	if err := w.SolveVec(k, z); err != nil {
		return nil, fmt.Errorf("check: thin plate: %w", err)
	}
	return func(p geo.Local) float64 {
		v := 0.0
		for i, a := range places {
			v += w.AtVec(i) * kernel(p, a)
		}
		for c, x := range plane(p) {
			v += w.AtVec(n+c) * x
		}
		return v
	}, nil
}

func shoreMiss(in Inputs) (float64, error) {
	power := map[string]float64{"steep": 0.5, "middling": 0.75, "gentle": 1}[in.s("banks")]
	squared := in.s("shore") == "squared"
	var places []geo.Local
	var values []float64
	for i, d := range lakePoints() {
		v := 0.0 // of the shore
		if i < 60 {
			noise := rounded(d.Value-rounded(lakeDepth(d.At), 2), 2)
			v = math.Max(0, bankDepth(d.At, power)+noise)
		}
		if i >= 60 && i < 140 || i >= 140 && in.s("shore") == "none" {
			continue
		}
		if squared {
			v *= v
		}
		places, values = append(places, d.At), append(values, v)
	}
	f, err := thinPlate(places, values, 0.01)
	if err != nil {
		return 0, err
	}
	sum, n := 0.0, 0.0
	for e := 150.0; e < 6000; e += 150 {
		for north := 150.0; north < 4000; north += 150 {
			p := geo.Local{E: e, N: north}
			if bowl(p) <= 0 {
				continue
			}
			v := math.Max(0, f(p))
			if squared {
				v = math.Sqrt(v)
			}
			sum += math.Pow(v-bankDepth(p, power), 2)
			n++
		}
	}
	return math.Sqrt(sum / n), nil
}

// triangle finds the three places whose circle holds no other and whose triangle holds p, the nearest places first, and
// gives the plane through them.
func triangle(places []geo.Local, values []float64, p geo.Local) (float64, error) {
	order := make([]int, len(places))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return places[order[a]].Distance(p) < places[order[b]].Distance(p) })
	cross := func(a, b, c geo.Local) float64 { return (b.E-a.E)*(c.N-a.N) - (b.N-a.N)*(c.E-a.E) }
	for k := 2; k < len(order); k++ {
		for j := 1; j < k; j++ {
			for i := range j {
				a, b, c := places[order[i]], places[order[j]], places[order[k]]
				whole := cross(a, b, c)
				u, v, w := cross(p, b, c)/whole, cross(a, p, c)/whole, cross(a, b, p)/whole
				if whole == 0 || u < 0 || v < 0 || w < 0 || !alone(places, a, b, c) {
					continue
				}
				return u*values[order[i]] + v*values[order[j]] + w*values[order[k]], nil
			}
		}
	}
	return 0, fmt.Errorf("check: the point lies outside the net")
}

// alone tells whether the circle through three places holds no other.
func alone(places []geo.Local, a, b, c geo.Local) bool {
	bx, by, cx, cy := b.E-a.E, b.N-a.N, c.E-a.E, c.N-a.N
	d := 2 * (bx*cy - by*cx)
	x := (cy*(bx*bx+by*by) - by*(cx*cx+cy*cy)) / d
	y := (bx*(cx*cx+cy*cy) - cx*(bx*bx+by*by)) / d
	r := math.Hypot(x, y)
	for _, q := range places {
		if q != a && q != b && q != c && math.Hypot(q.E-a.E-x, q.N-a.N-y) < r {
			return false
		}
	}
	return true
}
