package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// tripView is the form of a day's trip.
type tripView struct {
	Title   string
	Day     string
	Says    string // what is on record
	Landing string
	Here    bool // the phone's place can be told as the landing
	Rods    string
	Target  string
	Ashore  string
	Hours   []hourView
	Spare   []hourView // minutes taken off them
	Drill   string
	Unit    string
	Travel  []optionView
	Aims    []optionView
}

// What a trip may be, as the journal has it, in the order of the form.
var (
	travels = [][2]string{{"foot", "on foot"}, {"machine", "by snow machine"}, {"vehicle", "by vehicle"}}
	aims    = aimOptions()
)

// aimOptions lists the aims as words.
func aimOptions() [][2]string {
	out := [][2]string{{"", "not told"}}
	for _, code := range say.Aims() {
		out = append(out, [2]string{code, say.AimWord(code)})
	}
	return out
}

func optionsOf(list [][2]string, now string) []optionView {
	var out []optionView
	for _, o := range list {
		out = append(out, optionView{o[0], o[1], o[0] == now})
	}
	return out
}

// tripForm shows the trip of a day, filled with what is on record for it, else with what the last trip was.
func (h *handler) tripForm(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view tripView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		day, err := dayOf(r, d.Today, 0)
		if err != nil {
			return err
		}
		view = tripView{Title: "Trip of " + say.Date(day), Day: string(day), Says: "Nothing is on record for this day; filled in as on the last trip.", Here: day == d.Today, Rods: "4", Unit: "m"}
		if v.settings.Units == quantity.US {
			view.Unit = "ft"
		}
		t := d.Party.Trip(day)
		if t != nil {
			view.Says = Sentence(tripWords(v.voice, ptr(desk.TripBody(*t)))) + " Recorded " + v.voice.When(t.When) + "."
		} else if n := len(d.Party.Trips); n > 0 {
			last := d.Party.Trips[n-1]
			last.Agreed = time.Time{} // an hour belongs to its day
			t = &last
		}
		if t == nil {
			view.Says, view.Travel, view.Aims = "No trip is on record.", optionsOf(travels, "foot"), optionsOf(aims, "")
			return nil
		}
		view.Rods, view.Target = strconv.Itoa(t.Rods), t.Target
		view.Travel, view.Aims = optionsOf(travels, t.Travel), optionsOf(aims, t.Aim)
		if t.Landing != nil {
			view.Landing = t.Landing.DecimalText()
		}
		if !t.Agreed.IsZero() {
			view.Ashore = v.voice.Clock(t.Agreed)
		}
		if t.Drill > 0 {
			view.Drill = fmt.Sprintf("%.0f", t.Drill.Metres())
			if v.settings.Units == quantity.US {
				view.Drill = fmt.Sprintf("%.0f", t.Drill.Feet())
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if view.Hours, view.Spare, err = h.hours(r, journal.Day(view.Day)); err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Trip", tripPage(view))
}

func ptr[T any](x T) *T { return &x }

// tripWords says a trip in a line.
func tripWords(voice say.Voice, t *journal.Trip) string {
	words := []string{rodsWord(int(t.Rods)), travelWord(t.Travel)}
	if t.Target != "" {
		words = append(words, t.Target)
	}
	if t.Landing == nil {
		words = append(words, "landing not told")
	}
	if t.Agreed != 0 {
		words = append(words, "ashore by "+voice.Clock(time.UnixMilli(t.Agreed)))
	}
	if t.Metres != nil {
		words = append(words, "battery for "+voice.Units.DepthText(lengthMM(*t.Metres))+" of ice")
	}
	return strings.Join(words, ", ")
}

// postTrip records a day's trip, also of a day to come.
func (h *handler) postTrip(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	form := r.PostForm
	today := journal.DayOf(v.now, v.voice.Zone)
	x := desk.TripText{Day: journal.Day(form.Get("day")), Landing: strings.TrimSpace(form.Get("landing")), Travel: form.Get("travel"), Aim: form.Get("aim"),
		Target: strings.ToLower(strings.TrimSpace(form.Get("target"))), Ashore: strings.TrimSpace(form.Get("ashore")), Drill: strings.TrimSpace(form.Get("drill")), Unit: quantity.Metre}
	if v.settings.Units == quantity.US {
		x.Unit = quantity.Foot
	}
	switch {
	case !x.Day.Valid() || x.Day < today:
		return fault.New(fault.BadInput, "Choose today or a day to come.", "%q is no day of a trip to come", x.Day)
	case len(x.Target) > longestWord:
		return fault.New(fault.BadInput, "Name a species.", "the target is too long a word")
	}
	if x.Rods, err = strconv.ParseInt(form.Get("rods"), 10, 64); err != nil || x.Rods < 1 {
		return fault.New(fault.BadInput, "Write a number such as 4.", "%q is no number of rods", form.Get("rods"))
	}
	body, at, err := x.Trip(v.now, v.voice.Zone)
	if err != nil {
		return err
	}
	if form.Get("here") != "" {
		p, err := h.placeOf(r.Context(), form)
		if err != nil {
			return err
		}
		if !p.Known {
			return fault.New(fault.BadInput, "Type the landing's position.", "there is no fix to take for the landing")
		}
		err = h.Desk.Read(r.Context(), func(d desk.View) error {
			body.Landing = journal.PointOf(d.Lake.Frame.Position(p.At))
			return nil
		})
		if err != nil {
			return err
		}
	}
	if err := h.keepNamed(r, x.Day, body); err != nil {
		return err
	}
	a.At = at
	if err := h.Desk.PlanTrip(r.Context(), a, body, hoursOf(form)); err != nil {
		return err
	}
	if x.Day == today {
		return back(w, r, "/day")
	}
	return back(w, r, "/evening?day="+string(x.Day))
}

// hoursOf reads the hours of a form that end the day, and the minutes taken off them; one that the form does not hold stays as it is.
func hoursOf(form url.Values) map[string]string {
	hours := map[string]string{}
	for _, which := range append(desk.HourKeys(), desk.SpareKeys()...) {
		if form.Has(which) {
			hours[which] = strings.TrimSpace(form.Get(which))
		}
	}
	return hours
}

// keepNamed keeps the guest whose first fish the day is about: the form names none.
func (h *handler) keepNamed(r *http.Request, day journal.Day, body *journal.Trip) error {
	return h.Desk.Read(r.Context(), func(d desk.View) error {
		if t := d.Party.Trip(day); t != nil && body.Aim == "first_fish" && t.Aim == body.Aim {
			body.AimFor = t.AimFor
		}
		return nil
	})
}
