package safety

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/physics/cold"
)

// Watched is somebody or something that the cold and shelter watch has seen.
type Watched struct {
	Person uuid.UUID
	Age    string
	Warm   time.Time // warmed up last, or came onto the ice; zero: not known
	Wet    time.Time // reported wet; zero: not
}

// WatchInput is what [Watch] looks at.
type WatchInput struct {
	Now     time.Time
	Cold    ColdAnswer
	People  []Watched // everybody not surely ashore
	Faces   time.Time // everybody's face was last looked at; zero: not today
	Out     time.Time // when the party came onto the ice; zero: not known
	Heater  time.Time // since when a heater burns; zero: none
	Vents   time.Time // its vents were last found open
	COAlarm time.Time // its carbon monoxide alarm was last tried
}

// Turn is one person's turn in the warm: the latest minute by which that person is to be warm again.
type Turn struct {
	Person uuid.UUID
	Age    string        // child, elder, or anything else for a grown person
	Every  time.Duration // the person's limit in this cold
	Usual  time.Duration // the same in mild air; Every is shorter where the cold, or not knowing it, shortens it
	Due    time.Time     // zero: now, since it is not known when the person was last warm
	Over   bool
}

// WatchAnswer is what the watch asks for. Its intervals remind; none is an allowance to stay out.
type WatchAnswer struct {
	Wet     []uuid.UUID // to the warm base now
	Turns   []Turn      // by due time
	Coldest *Turn       // the first of them, the deadline that the coldest sets; nil with nobody out
	Hard    bool        // the cold shortens the limits
	Blind   bool        // not knowing the cold does
	Every   time.Duration
	Faces   time.Time // next look at everybody's face
	FacesIn bool      // overdue
	Heater  bool      // one burns
	NoAlarm bool      // with no alarm tried today
	Vents   time.Time // next look at the vents; with a heater only
	VentsIn bool      // overdue
}

// How often somebody warms up in mild cold, by age, and how often faces and vents are looked at: common practice, no source. The
// cold shortens them, and so does not knowing how cold it is.
var warmEvery = map[string]time.Duration{"child": 30 * time.Minute, "elder": 45 * time.Minute}

const (
	warmAdult  = 90 * time.Minute
	facesEvery = 30 * time.Minute
	facesLeast = 5 * time.Minute
	ventsEvery = 30 * time.Minute
)

// Watch says whose turn in the warm is due, when faces and vents are next looked at, and who must go to the warm now.
func Watch(in WatchInput) WatchAnswer {
	share := severity(in.Cold)
	a := WatchAnswer{Hard: in.Cold.Known && share < 1, Blind: !in.Cold.Known}
	for _, p := range in.People {
		if !p.Wet.IsZero() {
			a.Wet = append(a.Wet, p.Person)
		}
		every, ok := warmEvery[p.Age]
		if !ok {
			every = warmAdult
		}
		// (SAFETY-5)
		t := Turn{Person: p.Person, Age: p.Age, Usual: every, Every: time.Duration(float64(every) * share).Truncate(time.Minute), Over: true}
		if !p.Warm.IsZero() {
			t.Due = p.Warm.Add(t.Every)
			t.Over = !t.Due.After(in.Now)
		}
		a.Turns = append(a.Turns, t)
	}
	slices.SortStableFunc(a.Turns, func(x, y Turn) int { return cmp.Or(x.Due.Compare(y.Due), cmp.Compare(x.Every, y.Every)) })
	if len(a.Turns) > 0 {
		a.Coldest = &a.Turns[0]
	}
	a.Every = facesInterval(in.Cold, share)
	a.Faces, a.FacesIn = due(in.Now, a.Every, in.Faces, in.Out)
	if a.Heater = !in.Heater.IsZero(); a.Heater {
		a.NoAlarm = in.COAlarm.IsZero()
		a.Vents, a.VentsIn = due(in.Now, ventsEvery, in.Vents, in.Heater)
	}
	return a
}

// due gives when something is next to be done: an interval after the later of when it was last done and when the need began.
func due(now time.Time, every time.Duration, last, begun time.Time) (time.Time, bool) {
	if last.Before(begun) {
		last = begun
	}
	if last.IsZero() {
		return now, true
	}
	next := last.Add(every)
	return next, !next.After(now)
}

// severity gives the share of the usual intervals that the cold leaves: half from the hazard band in which skin freezes within half an hour, a quarter
// from the next colder one; half too where it is not known how cold it is. Ours. The worse of standing and riding counts.
func severity(c ColdAnswer) float64 {
	if !c.Known {
		return 0.5
	}
	share := bandShare(c.Still.Band)
	if c.Riding != nil {
		share = min(share, bandShare(c.Riding.Band))
	}
	return share
}

func bandShare(b cold.Band) float64 {
	switch {
	case b.Latest == 0: // the band names no time
		return 1
	case b.Latest > 10*time.Minute:
		return 0.5
	}
	return 0.25
}

// facesInterval is at most half of the time in which bare skin can freeze.
func facesInterval(c ColdAnswer, share float64) time.Duration {
	every := time.Duration(float64(facesEvery) * share)
	if c.Known && c.Still.Freezes {
		every = min(every, c.Still.Soonest/2)
	}
	if c.Known && c.Riding != nil && c.Riding.Freezes {
		every = min(every, c.Riding.Soonest/2)
	}
	return max(every, facesLeast).Truncate(time.Minute)
}
