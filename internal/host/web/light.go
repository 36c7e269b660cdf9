package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// lightView is the page of a day's light: the sun, and what of it reaches the fish.
type lightView struct {
	Title           string
	Days            []optionLink
	Sun             []say.SunLine
	Length          string
	Fish            say.DaylightText
	Day             string
	Typed           desk.LightText
	Unit, SnowUnit  string
	Computed, Usual string // the caution under the sun; what stands in an empty depth
}

// light shows when the sun passes its heights and how much of its light reaches the fish, hour by hour.
func (h *handler) light(w http.ResponseWriter, r *http.Request, v *visit) error {
	today := journal.DayOf(v.now, v.voice.Zone)
	day, err := dayOf(r, today, 0)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	typed := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	x := desk.LightText{Depth: typed("depth"), Snow: typed("snow"), Clarity: typed("clarity"), Cloud: typed("cloud"), Unit: quantity.Metre, SnowUnit: quantity.Centimetre}
	view := lightView{Title: "Light of " + say.Date(day), Day: string(day), Typed: x, Unit: "m", SnowUnit: "cm", Computed: say.ComputedSun, Usual: desk.LightDepth}
	if v.settings.Units == quantity.US {
		x.Unit, x.SnowUnit, view.Unit, view.SnowUnit, view.Usual = quantity.Foot, quantity.Inch, "ft", "in", "20 ft"
	}
	if x.Depth == "" {
		x.Depth = view.Usual
	}
	question, err := x.Question(day)
	if err != nil {
		return err
	}
	light, cover, err := h.Desk.Daylight(r.Context(), question)
	if err != nil {
		return err
	}
	view.Sun, view.Length = v.voice.Sun(light.Sun, day.Midnight(v.voice.Zone).Add(12*time.Hour))
	view.Fish = v.voice.DaylightText(light, cover, question.Depth)
	for _, d := range []struct {
		days int
		word string
	}{{0, "Today"}, {1, "Tomorrow"}, {7, "In a week"}} {
		to := url.Values{"day": {shift(today, d.days)}}
		for name, value := range map[string]string{"depth": view.Typed.Depth, "snow": view.Typed.Snow, "clarity": view.Typed.Clarity, "cloud": view.Typed.Cloud} {
			if value != "" {
				to.Set(name, value)
			}
		}
		view.Days = append(view.Days, optionLink{d.word, "/light?" + to.Encode(), to.Get("day") == string(day)})
	}
	return h.show(w, r, v, http.StatusOK, "Light", lightPage(view))
}

// postClarity keeps how clear the lake's water is.
func (h *handler) postClarity(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	x := desk.LightText{Depth: desk.LightDepth, Clarity: strings.TrimSpace(r.PostForm.Get("clarity")), Unit: quantity.Metre}
	if v.settings.Units == quantity.US {
		x.Unit = quantity.Foot
	}
	if x.Clarity == "" {
		x.Clarity = "0" // refused with how to write it
	}
	q, err := x.Question(journal.DayOf(v.now, v.voice.Zone))
	if err != nil {
		return err
	}
	if err := h.Desk.SetClarity(r.Context(), a, q.Clarity); err != nil {
		return err
	}
	return back(w, r, "/light")
}
