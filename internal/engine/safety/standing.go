package safety

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// OnIce is a load on the ice: people at a hole, a shelter, a sled, a vehicle.
type OnIce struct {
	What  string
	Mass  quantity.Mass
	At    geo.Local
	Since time.Time // since when it stands there; zero: it moves about and no clock runs
}

// Stood is what may be said of a load that stands on the ice.
type Stood struct {
	OnIce
	For      time.Duration
	Due      time.Time       // by when it should be moved
	Overdue  bool            // two hours are over
	Together quantity.Mass   // with all that stands near, as one load under it
	Near     int             // loads that weigh in it
	Carries  quantity.Mass   // calculated load there for its stay, 0: no figure
	Over     bool            // together it is more than the calculated load
	Rim      Rim             // whether hours of standing bring the water to the rim of a hole
	RimLoad  quantity.Mass   // that would; 0 when the water level was not read
	TooNear  quantity.Length // distance of a vehicle nearer than 15 m; 0: none, or this is no vehicle
	Refusals []Refusal       // why there is no figure
}

// Rim is what the water level in a hole says of a standing load.
type Rim string

// The states of the rim.
const (
	RimUnknown Rim = "unknown" // the water level was not read here today
	RimReached Rim = "reached" // the freeboard is used up by what stands here, or will be within hours
	RimAbove   Rim = "above"   // not used up, by the water level read; not a go
)

// Numbers of standing loads.
const (
	vehicleMass  = 900 * quantity.Kilogram // from which a load is a vehicle that keeps its distance: about a ton [MNDNRTable]
	clusterReach = 3 * quantity.Metre      // large holes within it act as a crack; all three ours
	clusterHoles = 6
	largeHole    = 20 * quantity.Centimetre
	clusterFor   = 3 * 24 * time.Hour // until large holes have frozen over again; ours
)

// noHazard is a hazard's Supersedes when it is the first report.
var noHazard = uuid.Nil

// Standing judges every load that stands on the ice, with all that stands near it. The order is that of in.Standing; what
// moves about is weighed with the others and not judged itself. in.At and in.Load are not used.
func Standing(in IceInput) []Stood {
	mustHaveZone(in.Zone)
	var out []Stood
	for i, x := range in.Standing {
		if x.Since.IsZero() || x.Since.After(in.Now) {
			continue
		}
		out = append(out, standingAt(in, i))
	}
	return out
}

func standingAt(in IceInput, i int) Stood {
	x := in.Standing[i]
	s := Stood{OnIce: x, For: age(x.Since, in.Now), Due: x.Since.Add(ice.LongestParking), Rim: RimUnknown}
	s.Overdue = !in.Now.Before(s.Due)
	at := in
	at.At, at.Load = x.At, Load{Mass: x.Mass, Stay: s.For}
	at.Standing = append(append([]OnIce(nil), in.Standing[:i]...), in.Standing[i+1:]...)
	q := iceQuestion{in: at, list: judge(in.Readings, in.Zone, in.Now)}
	q.out.Load = at.Load
	q.hazards()
	q.holes()
	q.readings()
	air := judgeAir(in.Now, in.Air)
	disc := ice.Worst([]ice.Finding{air.thaw, air.mild, air.brittle, ice.Cracked(max(q.crack, ice.NoCrack)), ice.Flow(q.current)})
	q.conditions(air, &disc)
	known := q.figure()
	strength := q.together()
	s.Together, s.Near = q.out.Together, q.out.Near
	if known && !disc.NoNumber && len(q.refused) == 0 {
		s.Carries = disc.Load(strength.Load(q.out.Effective))
		s.Over = s.Carries < s.Together
		q.rim(&s)
	}
	s.Refusals = q.refused
	if x.Mass >= vehicleMass {
		for _, o := range at.Standing {
			d := o.At.Distance(x.At)
			if o.Mass >= vehicleMass && d < ice.VehicleSpacing && (s.TooNear == 0 || d < s.TooNear) {
				s.TooNear = max(d, quantity.Millimetre)
			}
		}
	}
	return s
}

// thickest gives the most and the least of all solid ice read here: a sheet that is thicker spreads loads farther.
func (q *iceQuestion) totals() (most, least quantity.Length) {
	for i, r := range q.counted {
		most = max(most, r.Total)
		if i == 0 || r.Total < least {
			least = r.Total
		}
	}
	return most, least
}

// points lists the stated load and all that is on the ice, by distance.
func (q *iceQuestion) points() []ice.PointLoad {
	out := []ice.PointLoad{{Mass: q.out.Load.Mass}}
	for _, x := range q.in.Standing {
		if x.Mass > 0 {
			out = append(out, ice.PointLoad{Mass: x.Mass, Distance: x.At.Distance(q.in.At)})
		}
	}
	return out
}

// together makes one load of the stated one and of what stands near, and gives the strength by which to judge it: the
// lower one where any of it has stood, or is to stay, for more than two hours.
func (q *iceQuestion) together() ice.Strength {
	most, _ := q.totals()
	out := &q.out
	points := q.points()
	out.Together = ice.Together(points, most, ice.ShortModulus)
	stays := out.Load.Stay > ice.LongestParking
	for _, x := range q.in.Standing {
		d := x.At.Distance(q.in.At)
		alone := ice.Together([]ice.PointLoad{{Mass: x.Mass, Distance: d}}, most, ice.ShortModulus)
		if !(alone >= nearMass) {
			continue
		}
		out.Near++
		stays = stays || !x.Since.IsZero() && q.in.Now.Sub(x.Since) > ice.LongestParking
		if d < ice.VehicleSpacing && x.Mass >= vehicleMass && out.Load.Mass >= vehicleMass {
			q.warn("vehicle_spacing", fmt.Sprintf("%s stands %s away: keep vehicles %s apart.", sentence(x.What), quantity.SI.NearText(d), quantity.SI.FarText(ice.VehicleSpacing)))
		}
	}
	if out.Near > 0 {
		q.warn("together", fmt.Sprintf("With what is near it weighs as %s on one spot.", quantity.SI.MassText(out.Together)))
	}
	if stays {
		q.warn("standing", "Standing more than 2 h: the figure is that for standing loads.")
		return q.in.Strength.StandingStrength()
	}
	return q.in.Strength
}

// nearMass is what a load must weigh at the place to be told of; all of it is added either way.
const nearMass = 1 * quantity.Kilogram

// rim sets what stands here against the freeboard that was read. The thinnest ice has the least freeboard to give, and
// the thickest spreads the neighbours' weight farthest: the careful one of each is taken.
func (q *iceQuestion) rim(s *Stood) {
	most, least := q.totals()
	told := false
	var water quantity.Length
	for _, r := range q.counted {
		if r.WaterTold && (!told || r.Water < water) {
			told, water = true, r.Water
		}
	}
	if !told {
		return
	}
	s.RimLoad = ice.RimLoad(least, water)
	if s.Rim = RimAbove; s.RimLoad < ice.Together(q.points(), most, ice.LongModulus) {
		s.Rim = RimReached
	}
}

// moving names the limits of a vehicle in motion. A load that is to stay off is told none: they would read as a permission.
func (q *iceQuestion) moving() {
	if class := q.out.Load.Class; class == "on_foot" || class == "group" || q.out.State != NotBelow {
		return
	}
	_, least := q.totals()
	m := ice.MovingAdvice(q.out.Together, q.out.Carries, least, q.in.Depth)
	q.out.Moving = &m
}

// holes treats a cluster of large new holes as a crack.
func (q *iceQuestion) holes() {
	n := 0
	for _, h := range q.in.Holes {
		if h.Placed && h.At.Distance(q.in.At) <= clusterReach && large(h) && age(h.Drilled, q.in.Now) <= clusterFor {
			n++
		}
	}
	if n >= clusterHoles {
		q.crack = ice.WetCrack
		q.warn("hole_cluster", "Six large holes or more within 3 m: half the load, as beside a crack.")
	}
}

// large tells whether a hole is one of those that weaken the sheet; one whose width was not told counts.
func large(h *lake.Hole) bool { return h.Diameter == 0 || h.Diameter >= largeHole }
