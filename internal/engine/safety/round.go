package safety

import (
	"context"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/route"
	"icehand/internal/trade/lake"
)

const (
	hazardKeep  = 20 * quantity.Metre  // kept from a hazard beyond its radius on such a way; ours
	bankKeep    = 50 * quantity.Metre  // kept from land on a way that nobody travelled today; ours
	landingAway = 600 * quantity.Metre // a landing may lie this far ashore of the outline, and a hole this near the bank; ours
)

// NewRound prepares the search for ways over water round the hazards in force. A ridge or crack may be passed only at a
// crossing that was read today, after any shift of the wind. What it finds was not travelled today and must be said so.
// Finding ways is safe for concurrent use.
func NewRound(outline geo.Polygon, hazards []*lake.Hazard, now, shifted time.Time, zone *time.Location) func(from, to geo.Local) ([]geo.Local, bool) {
	mustHaveZone(zone)
	in := WayInput{Now: now, Zone: zone, Hazards: hazards, Shifted: shifted}
	r := route.Region{Outline: outline, Keep: bankKeep, Ends: landingAway}
	for _, h := range hazards {
		if !h.InForce() || len(h.Points) == 0 || h.Report == "crossing" {
			continue
		}
		if (h.What == "ridge" || h.What == "crack") && len(h.Points) >= 2 {
			r.Barriers = append(r.Barriers, route.Barrier{Points: h.Points, Keep: h.Radius + hazardKeep, Gaps: in.gaps(h)})
			continue
		}
		r.Obstacles = append(r.Obstacles, route.Obstacle{Points: h.Points, Keep: h.Radius + hazardKeep})
	}
	plane := route.Prepare(r)
	return func(from, to geo.Local) ([]geo.Local, bool) {
		way, err := plane.Way(context.Background(), from, to)
		if err != nil || way.Outcome != route.Found {
			return nil, false
		}
		return way.Points, true
	}
}

// gaps gives the openings of a ridge or crack: the crossings read today that lie at it.
func (in WayInput) gaps(h *lake.Hazard) []route.Gap {
	var out []route.Gap
	for _, c := range in.Hazards {
		if c.Report != "crossing" || len(c.Points) == 0 || !atCrossing(c.Points[0], h, in) {
			continue
		}
		out = append(out, route.Gap{At: c.Points[0], Width: crossingReach})
	}
	return out
}
