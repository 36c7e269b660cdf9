package web

import (
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// coldView is the cold and shelter watch.
type coldView struct {
	Chill             string
	Rests             string
	Words             []string
	Rides             []optionLink
	AirUnit, WindUnit string // of a figure typed without one
	Wet               []string
	WarmBy            string // the deadline that the coldest person sets
	WarmIn            bool   // it is past
	Turns             []turnView
	Faces             string
	FacesIn           bool
	Heater            string
	NoAlarm           string
	Vents             string
	VentsIn           bool
	Burns             bool
	Alarm             string
	Water             []say.ConditionText // the course of falling in
}

type turnView struct {
	Name, Due, Person string
	Over, Wet         bool
}

// ridesOffered are the speeds of a ride that one tap asks for; ours.
var ridesOffered = []quantity.Speed{20 * quantity.KilometrePerHour, 40 * quantity.KilometrePerHour}

// fastestRide is more than anybody rides over a frozen lake with guests; ours.
const fastestRide = 150 * quantity.KilometrePerHour

// coldWatch shows the watch: who is due in the warm, how hard the air bites, heater, vents and alarm.
func (h *handler) coldWatch(w http.ResponseWriter, r *http.Request, v *visit) error {
	ride := quantity.Speed(0)
	if text := r.URL.Query().Get("ride"); text != "" {
		speed, err := quantity.ParseSpeed(text, 0)
		if err != nil || !(speed >= 0) || speed > fastestRide {
			return fault.New(fault.BadInput, "Write a speed with its unit, such as 30 km/h.", "%q is not the speed of a ride", text)
		}
		ride = speed
	}
	c, err := h.Desk.ColdWatch(r.Context(), ride)
	if err != nil {
		return err
	}
	t := v.voice.ColdWatch(c)
	view := coldView{Chill: t.Chill, Rests: t.Rests, Words: t.Words, Faces: t.Faces, FacesIn: c.Watch.FacesIn, Heater: t.Heater, Vents: t.Vents,
		VentsIn: c.Watch.VentsIn, Burns: c.Watch.Heater, NoAlarm: t.NoAlarm, Alarm: t.Alarm, Water: say.Immersion(), AirUnit: "C", WindUnit: "km/h"}
	if v.voice.Units == quantity.US {
		view.AirUnit, view.WindUnit = "F", "mph"
	}
	view.Rides = append(view.Rides, optionLink{"Standing", "/cold", ride == 0})
	for _, s := range ridesOffered {
		view.Rides = append(view.Rides, optionLink{"Riding " + v.voice.Units.WindText(s), fmt.Sprintf("/cold?ride=%.0f+km/h", s.KilometresPerHour()), s == ride})
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		wet := map[uuid.UUID]bool{}
		for _, id := range c.Watch.Wet {
			wet[id] = true
			view.Wet = append(view.Wet, d.PersonName(id)+" is wet: into the warm base now. "+say.WetFirstAid)
		}
		voice := v.voice
		voice.Person = d.PersonName
		view.WarmBy, view.WarmIn = voice.WarmBy(c.Watch), c.Watch.Coldest != nil && c.Watch.Coldest.Over
		for _, x := range c.Watch.Turns {
			view.Turns = append(view.Turns, turnView{d.PersonName(x.Person), v.voice.Turn(x), x.Person.String(), x.Over, wet[x.Person]})
		}
		return nil
	})
	if err != nil {
		return err
	}
	v.refresh = "60"
	return h.show(w, r, v, http.StatusOK, "Cold watch", coldPage(view))
}

// postWatch records something of the watch.
func (h *handler) postWatch(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	person, err := uuidOf(r.PostForm, "person")
	if err != nil {
		return err
	}
	if err := h.Desk.Watched(r.Context(), a, r.PostForm.Get("what"), person); err != nil {
		return err
	}
	return back(w, r, "/cold")
}
