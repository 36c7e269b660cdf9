package safety

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// Tested is how far the ice of a line was read: whatever an estimate says of it, ice between holes too far apart is
// untested.
type Tested struct {
	Length   quantity.Length // of the line
	Untested quantity.Length // of it without a hole of today within half the spacing
	First    quantity.Length // along the line, where that begins; no meaning when all of it was read
	Spacing  quantity.Length // the greatest between holes that counts: smaller where water flows anywhere along the line
	Hazards  int             // in force, whose buffer the line enters
}

// testedStep is the step along a line.
const testedStep = 1.0 // m

// TestedAlong tells how far a line was read today. Only in's time, zone, readings, hazards and cover are used. It panics
// without a zone.
func TestedAlong(line []geo.Local, in IceInput) Tested {
	mustHaveZone(in.Zone)
	q := iceQuestion{in: in, list: judge(in.Readings, in.Zone, in.Now)}
	out := Tested{Spacing: readingSpacing}
	var holes []geo.Local
	for i := range q.list {
		r := &q.list[i]
		if _, aged := q.aged(r); !aged && !inDoubt(r.IceReading, in.Now) && sameDay(r.When, in.Now, in.Zone) && r.state == "" {
			holes = append(holes, r.At)
		}
		if r.Current && nearLine(line, func(p geo.Local) float64 { return r.At.Distance(p).Metres() }) <= flowNear.Metres() {
			out.Spacing = flowSpacing
		}
	}
	for _, h := range in.Hazards {
		if !h.InForce() || len(h.Points) == 0 {
			continue
		}
		d := nearLine(line, h.Distance)
		if d == 0 {
			out.Hazards++
		}
		if flows(h) && d <= flowNear.Metres() {
			out.Spacing = flowSpacing
		}
	}
	half := out.Spacing.Metres() / 2
	onLine(line, func(walkedM, stepM float64, p geo.Local) {
		out.Length += quantity.Length(stepM)
		for _, h := range holes {
			if h.Distance(p).Metres() <= half {
				return
			}
		}
		if out.Untested == 0 {
			out.First = quantity.Length(walkedM)
		}
		out.Untested += quantity.Length(stepM)
	})
	return out
}

// ReadPlace is a hole of the last week with what its reading still says.
type ReadPlace struct {
	Reading *lake.IceReading
	Speaks  quantity.Length // distance to which it gives a figure; 0 when it gives none
	Bad     string          // layered, grey, rotten, ...: no figure holds there; "" when nothing bad was seen
}

// ReadPlaces lists the holes of the last week that nothing has ended since, oldest first. Only those of today, free of bad
// signs, speak for the ice about them, and a hazard overrides them; all else is untested.
func ReadPlaces(in IceInput) []ReadPlace {
	mustHaveZone(in.Zone)
	q := iceQuestion{in: in, list: judge(in.Readings, in.Zone, in.Now)}
	var out []ReadPlace
	for i := range q.list {
		r := &q.list[i]
		if _, aged := q.aged(r); aged || inDoubt(r.IceReading, in.Now) || age(r.When, in.Now) > dropAfter {
			continue
		}
		p := ReadPlace{Reading: r.IceReading}
		if r.state != "wet_crack" && r.state != "current" {
			p.Bad = r.state
		}
		if p.Bad == "" && sameDay(r.When, in.Now, in.Zone) {
			p.Speaks = readingSpacing
			if r.Current || flowNearby(in, r.At) {
				p.Speaks = flowSpacing
			}
		}
		out = append(out, p)
	}
	return out
}

// flowNearby tells whether current is told within reach of a place.
func flowNearby(in IceInput, at geo.Local) bool {
	for _, h := range in.Hazards {
		if h.InForce() && len(h.Points) > 0 && flows(h) && h.Distance(at) <= flowNear.Metres() {
			return true
		}
	}
	for _, r := range in.Readings {
		if r.Placed && r.Current && r.At.Distance(at) <= flowNear {
			return true
		}
	}
	return false
}

// flows tells whether a hazard speaks of flowing water.
func flows(h *lake.Hazard) bool {
	return h.What == "current" || h.What == "spring" || h.What == "narrows"
}

// nearLine gives the least distance to a line, walked in steps.
func nearLine(line []geo.Local, distance func(geo.Local) float64) float64 {
	best := math.Inf(1)
	onLine(line, func(_, _ float64, p geo.Local) { best = math.Min(best, distance(p)) })
	return best
}

// onLine visits the middles of short steps along a line.
func onLine(line []geo.Local, visit func(walkedM, stepM float64, p geo.Local)) {
	walked := 0.0
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		length := a.Distance(b).Metres()
		n := int(math.Ceil(length / testedStep))
		for k := range n {
			t := (float64(k) + 0.5) / float64(n)
			visit(walked+float64(k)*length/float64(n), length/float64(n), geo.Local{E: a.E + t*(b.E-a.E), N: a.N + t*(b.N-a.N)})
		}
		walked += length
	}
}
