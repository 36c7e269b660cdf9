package geo

import (
	"math"

	"icehand/internal/base/quantity"
)

// Foot is where a place stands beside a line: the nearest point of the line and what guidance needs of it.
type Foot struct {
	At    Local           // nearest point of the line
	Leg   int             // it lies on the leg from point Leg to point Leg+1
	Along quantity.Length // from the line's first point to At, along the line
	Ahead quantity.Length // from At to the line's last point, along the line
	Off   quantity.Length // across the line from At to the place; right of the line's direction is positive
}

// FootOn gives the foot of a place on a line. Of equally near points the one furthest along counts. It panics on a line
// of no points.
func FootOn(line []Local, p Local) Foot {
	if len(line) == 0 {
		panic("geo: a line of no points")
	}
	f, best, total := Foot{At: line[0]}, p.Distance(line[0]).Metres(), 0.0
	side := best
	along := 0.0
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		t := segmentFraction(p, a, b)
		at := Local{a.E + t*(b.E-a.E), a.N + t*(b.N-a.N)}
		leg := a.Distance(b).Metres()
		if d := p.Distance(at).Metres(); d <= best {
			best, along = d, total+t*leg
			f.At, f.Leg = at, i-1
			side = d
			if (b.E-a.E)*(p.N-a.N)-(b.N-a.N)*(p.E-a.E) > 0 {
				side = -d // left
			}
		}
		total += leg
	}
	f.Along, f.Ahead, f.Off = quantity.Length(along), quantity.Length(total-along), quantity.Length(side)
	return f
}

// PointAlong gives the point of a line at a distance from its first point, along it; before the start the first point,
// past the end the last. It panics on a line of no points.
func PointAlong(line []Local, d quantity.Length) Local {
	left := d.Metres()
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if leg := a.Distance(b).Metres(); left < leg {
			t := math.Max(0, left/leg)
			return Local{a.E + t*(b.E-a.E), a.N + t*(b.N-a.N)}
		} else {
			left -= leg
		}
	}
	return line[len(line)-1]
}

// segmentFraction gives how far along the segment a-b its point nearest to p lies, from 0 to 1.
func segmentFraction(p, a, b Local) float64 {
	d, q := b.Sub(a), p.Sub(a)
	l2 := d.E*d.E + d.N*d.N
	if l2 == 0 {
		return 0
	}
	return math.Min(1, math.Max(0, (q.E*d.E+q.N*d.N)/l2))
}

// SegmentGap gives the distance in metres between the segments a-b and c-d; 0 when they meet.
func SegmentGap(a, b, c, d Local) float64 {
	if SegmentsCross(a, b, c, d) {
		return 0
	}
	return math.Min(math.Min(SegmentDistance(a, c, d), SegmentDistance(b, c, d)), math.Min(SegmentDistance(c, a, b), SegmentDistance(d, a, b)))
}
