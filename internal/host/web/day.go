package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// dayView is the page Day: a vertical strip of the day, then what was advised and done, then what lies ahead.
type dayView struct {
	Title      string
	Phone      bool // this is the phone: files come in ashore
	Prev, Next string
	Strip      dayStrip
	Did        []didView
	Counts     string
	Ahead      []string
	Home       string
	Open       string
	Settings   settingsView
	Today      bool
	Set        string // what the guide set, or why it no longer counts, and what is computed
	Trip       string
}

// dayStrip is a drawing as finished shapes.
type dayStrip struct {
	Height string
	Hours  []stripText
	Light  []stripBox // night, twilight, day
	Winds  []stripText
	Looks  []stripMark
	Fish   []stripMark
	Moves  []stripText
	Lines  []stripLine // now, turn back
}

type (
	stripText struct{ X, Y, Text string }
	stripBox  struct{ Y, Height, Class string }
	stripMark struct{ X, Y, Kind string }
	stripLine struct{ Y, TextY, Text, Class string }
)

// didView is one thing advised or done.
type didView struct {
	Clock, Text string
	Advised     bool
}

// perHour is the height of an hour on the strip.
const perHour = 84.0

func (h *handler) day(w http.ResponseWriter, r *http.Request, v *visit) error {
	ctx := r.Context()
	weather, err := h.Desk.Weather(ctx)
	if err != nil {
		return err
	}
	back, err := h.Desk.TurnBack(ctx)
	if err != nil {
		return err
	}
	var today journal.Day
	err = h.Desk.Read(ctx, func(d desk.View) error { today = d.Today; return nil })
	if err != nil {
		return err
	}
	day, err := dayOf(r, today, 0)
	if err != nil {
		return err
	}
	view := dayView{Phone: h.Phone, Title: "Day " + say.Date(day), Prev: shift(day, -1), Today: day == today, Ahead: v.home.All, Home: v.home.Way, Settings: v.settingsForms()}
	switch {
	case back.Override != nil:
		view.Set = fmt.Sprintf("Set to %s at %s, %s. Computed: %s.", v.voice.Clock(back.At), v.voice.Clock(back.Override.Set), say.OverrideReason(back.Override.Reason), v.voice.Clock(back.Computed))
	case back.Fallen != "":
		view.Set = back.Fallen
	}
	if day != today {
		view.Next, view.Ahead, view.Home = shift(day, 1), nil, ""
	}
	err = h.Desk.Read(ctx, func(d desk.View) error {
		s := newDayStripper(d, day)
		s.light(d, day)
		s.winds(v, weather.Hours)
		s.acts(d, v)
		if day == today {
			s.line(d.Now, "now", "now")
			if !back.At.IsZero() {
				s.line(back.At, "turn back", "turn")
			}
		}
		view.Strip = s.done()
		view.Did, view.Counts = did(d, v, day)
		view.Trip = "Not told: landing, rods and hour ashore are guessed."
		if t := d.Party.Trip(day); t != nil {
			view.Trip = Sentence(tripWords(v.voice, ptr(desk.TripBody(*t))))
		}
		if day == today {
			view.Open = fmt.Sprintf("%d holes stand open: mark them or close them at pack-up, under Party.", len(d.Lake.OpenOn(day, d.Now)))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Day", dayPage(view))
}

// dayStripper turns instants of one day into heights.
type dayStripper struct {
	dayStrip
	from, to time.Time
	zone     *time.Location
}

// newDayStripper starts at an hour before dawn, ends an hour after dusk.
func newDayStripper(d desk.View, day journal.Day) *dayStripper {
	s := &dayStripper{zone: d.Lake.Zone}
	mid := day.Midnight(d.Lake.Zone)
	s.from, s.to = mid.Add(6*time.Hour), mid.Add(19*time.Hour)
	if d.Lake.Known {
		e := sunOn(d, day)
		if t := e.CivilDawn.Time; !t.IsZero() {
			s.from = t.Add(-time.Hour).Truncate(time.Hour)
		}
		if t := e.CivilDusk.Time; !t.IsZero() {
			s.to = t.Add(90 * time.Minute).Truncate(time.Hour)
		}
	}
	for t := s.from; !t.After(s.to); t = t.Add(time.Hour) {
		s.Hours = append(s.Hours, stripText{"0", number(s.y(t) + 6), t.In(s.zone).Format("15:04")})
	}
	return s
}

func sunOn(d desk.View, day journal.Day) sun.Day {
	t := day.Midnight(time.UTC)
	return sun.EventsOn(t.Year(), t.Month(), t.Day(), d.Lake.Frame.Origin(), d.Lake.Zone)
}

const topMargin = 12.0

func (s *dayStripper) y(t time.Time) float64 { return topMargin + t.Sub(s.from).Hours()*perHour }

func (s *dayStripper) shown(t time.Time) bool { return !t.Before(s.from) && !t.After(s.to) }

func (s *dayStripper) done() dayStrip {
	s.Height = number(s.y(s.to) + topMargin)
	return s.dayStrip
}

// light draws night, twilight and day beside the hours.
func (s *dayStripper) light(d desk.View, day journal.Day) {
	if !d.Lake.Known {
		return
	}
	e := sunOn(d, day)
	at := s.from
	add := func(until time.Time, class string) {
		if until.IsZero() || !until.After(at) {
			return
		}
		until = minTime(until, s.to)
		s.Light = append(s.Light, stripBox{number(s.y(at)), number(s.y(until) - s.y(at)), class})
		at = until
	}
	add(e.CivilDawn.Time, "night")
	add(e.Sunrise.Time, "twilight")
	add(e.Sunset.Time, "sunlit")
	add(e.CivilDusk.Time, "twilight")
	add(s.to, "night")
}

func minTime(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// winds writes the forecast wind beside every second hour.
func (s *dayStripper) winds(v *visit, hours []safety.ForecastHour) {
	for _, x := range hours {
		if s.shown(x.Start) && x.WindTold && x.Start.In(s.zone).Hour()%2 == 0 {
			words := v.voice.Units.WindText(x.Wind)
			if x.FromTold {
				words = x.From.Compass() + " " + words
			}
			s.Winds = append(s.Winds, stripText{"78", number(s.y(x.Start) + 6), words})
		}
	}
}

// acts draws a tick for every look, sit and fish of the day.
func (s *dayStripper) acts(d desk.View, v *visit) {
	side, lastY := 0, -100.0
	for _, l := range d.Lake.Looks {
		if !s.shown(l.When) {
			continue
		}
		y := s.y(l.When)
		if side = side + 1; y-lastY > 13 {
			side = 0
		}
		lastY = y
		s.Looks = append(s.Looks, stripMark{number(185 + float64(side%3)*16), number(y), l.Marks.String()})
	}
	side, lastY = 0, -100
	for _, f := range d.Party.Fish {
		if !s.shown(f.When) {
			continue
		}
		kind := "put-back"
		if f.Kept {
			kind = "kept"
		}
		y := s.y(f.When)
		if side = side + 1; y-lastY > 13 {
			side = 0
		}
		lastY = y
		s.Fish = append(s.Fish, stripMark{number(238 + float64(side%4)*15), number(y), kind})
	}
	lastY = -100
	for _, x := range d.Party.Sits {
		if y := s.y(x.From); s.shown(x.From) && y-lastY > 17 {
			if o := d.Lake.Hole(x.Hole); o != nil {
				s.Moves = append(s.Moves, stripText{"303", number(y + 6), "to " + say.HoleName(o, x.Day)})
				lastY = y
			}
		}
	}
}

func (s *dayStripper) line(t time.Time, words, class string) {
	if s.shown(t) {
		s.Lines = append(s.Lines, stripLine{number(s.y(t)), number(s.y(t) + 17), words, class})
	}
}

// How what was advised is known to have been done: nobody is asked. Ours.
const (
	doneWithin = 20 * time.Minute // the next look later than this is another decision
	doneNear   = 15.0             // m
)

// followed says what was done next about advice to look somewhere, and what that look showed; empty for other advice, and
// while nothing was done.
func (v *visit) followed(d desk.View, when time.Time, s desk.Shown) string {
	if s.To == nil || s.Do != advise.Drill && s.Do != advise.Look {
		return ""
	}
	to := d.Lake.Frame.Local(s.To.Position())
	for _, l := range d.Lake.Looks {
		o := d.Lake.Hole(l.Hole)
		if !l.When.After(when) || o == nil || !o.Placed {
			continue
		}
		if l.When.Sub(when) > doneWithin {
			break
		}
		seen := map[lake.Marks]string{lake.None: "nothing", lake.Few: "few", lake.Many: "many"}[l.Marks]
		if away := o.At.Distance(to); float64(away) > doneNear {
			return fmt.Sprintf("Overruled: %s, %s off, %s.", say.HoleName(o, d.Today), v.voice.Units.DistanceText(away), seen)
		}
		return fmt.Sprintf("Done: %s, %s.", say.HoleName(o, d.Today), seen)
	}
	return ""
}

// did lists what was advised and what was done, in order of time, and counts it.
func did(d desk.View, v *visit, day journal.Day) (list []didView, counts string) {
	type at struct {
		when time.Time
		didView
	}
	var all []at
	add := func(t time.Time, text string, advised bool) {
		all = append(all, at{t, didView{v.voice.Clock(t), text, advised}})
	}
	holeOf := func(id uuid.UUID) string {
		if o := d.Lake.Hole(id); o != nil {
			return say.HoleName(o, day)
		}
		return "no hole"
	}
	looks, marked, kept, put := 0, 0, 0, 0
	for _, l := range d.Lake.Looks {
		if journal.DayOf(l.When, d.Lake.Zone) == day {
			looks++
			if l.Marks > lake.None {
				marked++
			}
			add(l.When, map[lake.Marks]string{lake.None: "Nothing at ", lake.Few: "Few at ", lake.Many: "Many at "}[l.Marks]+holeOf(l.Hole), false)
		}
	}
	for _, x := range d.Party.Sits {
		if x.Day == day {
			add(x.From, fmt.Sprintf("Rod %d sits at %s", x.Rod, holeOf(x.Hole)), false)
		}
	}
	for _, f := range d.Party.Fish {
		if f.Day == day && f.Kept {
			kept += f.Count
			add(f.When, fmt.Sprintf("Kept %d at %s", f.Count, holeOf(f.Hole)), false)
		} else if f.Day == day {
			put += f.Count
		}
	}
	for _, a := range d.Party.Advised {
		if journal.DayOf(a.When, d.Lake.Zone) == day && a.Question == "next" {
			var shown desk.Shown
			if json.Unmarshal(a.Answer, &shown) == nil && shown.Sentence != "" {
				add(a.When, strings.TrimSpace(shown.Sentence+" "+v.followed(d, a.When, shown)), true)
			}
		}
	}
	for _, x := range d.StayedOn(day) {
		add(x.From, v.voice.StayedOn(x), false)
	}
	slices.SortStableFunc(all, func(a, b at) int { return b.when.Compare(a.when) })
	for _, x := range all {
		list = append(list, x.didView)
	}
	return list, fmt.Sprintf("%d holes, %d looks (%d with marks), %d kept, %d put back.", len(d.Lake.HolesOn(day)), looks, marked, kept, put)
}
