package say

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
)

// in100 writes a range of chances without making it look better than it is: the low end rounded down, the high end up.
func in100(low, high float64) string {
	a, b := int(math.Floor(low*100+1e-9)), int(math.Ceil(high*100-1e-9))
	switch {
	case b >= 100 && a == 0:
		return "nobody has counted how many"
	case b >= 100:
		return fmt.Sprintf("at least %d in 100", a)
	case a == 0:
		return fmt.Sprintf("up to %d in 100", b)
	}
	return fmt.Sprintf("%d to %d in 100", a, b)
}

// Fate says what is expected of a fish that was put back, in one line.
func (v Voice) Fate(f care.Fish, x care.Fate) string {
	from := ""
	if f.Depth > 0 {
		from = " from " + v.Units.DepthText(f.Depth)
	}
	for _, w := range x.Why {
		switch w.Code {
		case "floats":
			return "It floats: count it as dead."
		case "unknown":
			return "Depth not known: whether it lives is doubtful."
		case "other_species":
			return "No figures for " + f.Species + ": whether it lives is doubtful."
		}
	}
	word := map[care.Verdict]string{care.Fine: "Likely lives", care.Doubtful: "Doubtful", care.CountIt: "Count it as dead"}[x.Verdict]
	return fmt.Sprintf("%s: of %s%s %s die.", word, f.Species, from, in100(x.Low, x.High))
}

// mayDie writes how many of so many are expected to die.
func mayDie(count int, low, high float64) string {
	a, b := int(math.Floor(low+1e-9)), min(int(math.Ceil(high-1e-9)), count)
	switch {
	case a == b:
		return fmt.Sprint(b)
	case a == 0:
		return fmt.Sprintf("up to %d", b)
	}
	return fmt.Sprintf("%d to %d", a, b)
}

// Band says how many were put back from a range of depths.
func (v Voice) Band(b care.Band) string {
	where := "from a depth not known"
	switch {
	case b.To > 0:
		where = fmt.Sprintf("from %s to %s", v.Units.DepthText(b.From), v.Units.DepthText(b.To))
		if b.From == 0 {
			where = "from less than " + v.Units.DepthText(b.To)
		}
	case b.From > 0:
		where = "from " + v.Units.DepthText(b.From) + " and deeper"
	}
	out := fmt.Sprintf("%d put back %s, %s may die", b.Count, where, mayDie(b.Count, b.Low, b.High))
	if b.Floated > 0 {
		out += fmt.Sprintf(", %d floated", b.Floated)
	}
	return out
}

// Toll gives fish put back as a reason to leave.
func (v Voice) Toll(t care.Toll) string {
	at := v.Units.DepthText(t.Shallow)
	if to := v.Units.DepthText(t.Deep); to != at {
		at += " to " + to
	}
	return fmt.Sprintf("%d put back from %s this hour, %s may die: leave the small fish.", t.Count, at, mayDie(t.Count, t.Low, t.High))
}

// Sorting says why a plan is barred.
func (v Voice) Sorting(b care.Barred) string {
	if b.Depth == 0 {
		return "No sorting for size: the depth is not known. Keep what comes, or leave."
	}
	return fmt.Sprintf("No sorting for size at %s: from %s on few put back live. Keep what comes, or leave.", v.Units.DepthText(b.Depth), v.Units.DepthText(floorTenth(b.From)))
}

// floorTenth rounds a depth down to what is printed, so that a bar is never told deeper than it is.
func floorTenth(l quantity.Length) quantity.Length {
	return quantity.Length(math.Floor(l.Metres()*10+1e-9)/10) * quantity.Metre
}
