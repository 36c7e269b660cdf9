package web

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// askView is a question that an act leaves open. The act is saved already: nothing waits for the answer, and the keys
// stay where they are.
type askView struct {
	Icon, Done string  // the act that it is about, while it is new
	Undo       []field // takes that act back
	Words      string
	Keys       []askKey
}

// askKey answers a question: a form with one button, or a link.
type askKey struct {
	Word, Action, Href string
	Fields             []field
}

// asked is the page that shows an act as saved, with the questions that it leaves open until they are answered.
func asked(a desk.Act) string { return done(a) + "&ask=" + a.ID.String() }

// asks lists the questions that an act has left open and that are still open.
func asks(d desk.View, v *visit, act uuid.UUID, fix advise.Place) []askView {
	f := d.Log.Find(act)
	if act == uuid.Nil || f == nil || !f.Counts() {
		return nil
	}
	var out []askView
	if o := d.Lake.Hole(holeOfFact(f)); o != nil && !o.Placed && o.Label != "retracted" && o.Day == d.Today {
		out = append(out, placeAsk(d, v, o, fix))
	}
	if a, open := movingAsk(d, v, f); open {
		out = append(out, a)
	}
	return out
}

// holeOfFact gives the hole that an act speaks of, zero when it speaks of none.
func holeOfFact(f *journal.Fact) uuid.UUID {
	switch b := f.Body.(type) {
	case *journal.Look:
		return b.Hole
	case *journal.Ice:
		return b.Hole
	case *journal.SitStart:
		return b.Hole
	case *journal.Fish:
		return b.Hole
	case *journal.Hole:
		return f.Entry.ID
	}
	return uuid.Nil
}

// usualPaces is what the question offers first.
const usualPaces = 20

// placeAsk asks where a hole lies that was saved without a fix.
func placeAsk(d desk.View, v *visit, o *lake.Hole, fix advise.Place) askView {
	a := askView{Words: v.voice.NoFix(say.HoleName(o, d.Today), fix.Accuracy, fix.Fixed)}
	if _, sent := sentTo(d, o.ID); sent {
		a.Keys = append(a.Keys, askKey{Word: "Where we were sent", Action: "/place", Fields: []field{{"hole", o.ID.String()}, {"sent", "yes"}}})
	}
	if from := placedBefore(d, o); len(from) > 0 {
		a.Keys = append(a.Keys, askKey{Word: fmt.Sprintf("%d paces from %s", usualPaces, say.HoleName(from[0], d.Today)), Href: "/place?hole=" + o.ID.String()})
	}
	a.Keys = append(a.Keys, askKey{Word: "Later", Href: "/"})
	return a
}

// placedBefore lists the holes of the day that have a place and were drilled before another, newest first.
func placedBefore(d desk.View, o *lake.Hole) []*lake.Hole {
	var out []*lake.Hole
	holes := d.Lake.HolesOn(o.Day)
	for i := len(holes) - 1; i >= 0; i-- {
		if h := holes[i]; h.Placed && h.Label != "retracted" && h.ID != o.ID && !h.Drilled.After(o.Drilled) {
			out = append(out, h)
		}
	}
	return out
}

// sentFor is how long before a hole was drilled an advice may have been shown and still be what the scout walked by.
// Ours.
const sentFor = 30 * time.Minute

// sentTo gives the place that the last advice before a hole led to.
func sentTo(d desk.View, hole uuid.UUID) (at geo.Local, sent bool) {
	made := d.Log.Find(hole)
	if made == nil || !d.Lake.Known {
		return at, false
	}
	facts := d.Log.Facts()
	for i := len(facts) - 1; i >= 0; i-- {
		f := facts[i]
		if journal.Compare(f.Entry, made.Entry) >= 0 {
			continue
		}
		if made.At.Sub(f.At) > sentFor {
			return at, false
		}
		if b, ok := f.Body.(*journal.Advice); ok && b.Question == "next" {
			var shown desk.Shown
			if json.Unmarshal(b.Answer, &shown) != nil || shown.To == nil {
				return at, false
			}
			return d.Lake.Frame.Local(shown.To.Position()), true
		}
	}
	return at, false
}

// placeless counts the holes of today that have no place.
func placeless(d desk.View) (n int, last *lake.Hole) {
	for _, o := range d.Lake.HolesOn(d.Today) {
		if !o.Placed && o.Label != "retracted" {
			n, last = n+1, o
		}
	}
	return n, last
}

// movingAsk asks for the head count of a party that moves: a line has come up with its sit over, and nobody was counted
// since.
func movingAsk(d desk.View, v *visit, f *journal.Fact) (askView, bool) {
	people := toCount(d)
	if len(people) < 2 || !moves(d, f) {
		return askView{}, false
	}
	sweep := uuid.Nil
	if c := lastCount(d); c != nil {
		if !c.When.Before(f.At) {
			return askView{}, false
		}
		sweep = c.Sweep
	}
	words, all := fmt.Sprintf("Moving. Count %d.", len(people)), []field{{"all", "yes"}, {"back", "/"}}
	if g := d.Party.Guest(sweep); g != nil {
		words += " Sweep: " + personName(d, g) + "."
		all = append(all, field{"sweep", sweep.String()})
	}
	return askView{Words: words, Keys: []askKey{{Word: fmt.Sprintf("All %d", len(people)), Action: "/head-count", Fields: all},
		{Word: "Someone missing", Href: "/people?count=open#missing"}}}, true
}

// moves tells whether an act takes people from one hole to another: a rod that sat elsewhere sits down, or the last line
// of a hole comes up.
func moves(d desk.View, f *journal.Fact) bool {
	switch b := f.Body.(type) {
	case *journal.SitStart:
		for _, s := range d.Party.Sits {
			if s.Why == "moved" && s.Hole != b.Hole && s.To.Equal(f.At) {
				return true
			}
		}
	case *journal.SitEnd:
		var left uuid.UUID
		for _, s := range d.Party.Sits {
			if s.ID == b.Sit {
				left = s.Hole
			}
		}
		for _, s := range d.Party.RodsAt(d.Now) {
			if s.Hole == left {
				return false
			}
		}
		return left != uuid.Nil
	}
	return false
}
