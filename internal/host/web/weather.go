package web

import (
	"math"
	"net/http"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// postWeather records what is seen of the weather on the ice: anything left empty was not looked at.
func (h *handler) postWeather(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	seen, err := weatherOf(r.PostForm.Get, v.voice.Units)
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, seen); err != nil {
		return err
	}
	return back(w, r, "/cold")
}

// weatherOf reads an observation: a wind needs the height at which it was measured, and everything its unit or the phone's.
func weatherOf(get func(string) string, units quantity.System) (*journal.Weather, error) {
	text := func(key string) string { return strings.TrimSpace(get(key)) }
	seen, windUnit := &journal.Weather{Snowing: text("snowing"), Unit: "C"}, quantity.KilometrePerHour
	if units == quantity.US {
		seen.Unit, windUnit = "F", quantity.MilePerHour
	}
	if s := text("air"); s != "" {
		air, err := quantity.ParseTemperature(s, units)
		if err != nil || air < -70 || air > 50 {
			return nil, fault.New(fault.BadInput, "Write it with its unit: -17 C or 1 F.", "%q is not an air temperature", s)
		}
		tenths := int64(math.Round(air.Degrees() * 10))
		seen.Air = &tenths
	}
	if s := text("wind"); s != "" {
		wind, err := quantity.ParseSpeed(s, windUnit)
		if err != nil || !(wind >= 0) || wind > 90 {
			return nil, fault.New(fault.BadInput, "Write a speed with its unit: 12 km/h, 7 mph, 3 m/s.", "%q is not a wind speed", s)
		}
		if seen.WindHeight = text("height"); seen.WindHeight == "" {
			return nil, fault.New(fault.BadInput, "Choose in the hand, or at 10 m.", "the height at which the wind was measured is not told")
		}
		mms := int64(math.Round(wind.MetresPerSecond() * 1000))
		seen.Wind = &mms
	}
	if s := text("from"); s != "" {
		from, known := quantity.ParseCompass(s)
		if !known {
			return nil, fault.New(fault.BadInput, "Choose a point of the compass.", "%q is no point of the compass", s)
		}
		degrees := int64(math.Round(from.Degrees()))
		seen.From = &degrees
	}
	if s := text("cloud"); s != "" {
		share, err := strconv.ParseInt(s, 10, 64)
		if err != nil || share < 0 || share > 100 {
			return nil, fault.New(fault.BadInput, "Choose clear, broken or closed.", "%q is no share of the sky", s)
		}
		seen.Cloud = &share
	}
	if s := text("sight"); s != "" {
		l, _, err := quantity.ParseLength(s, 0)
		if err != nil || !(l >= 0) || l > 100*quantity.Kilometre {
			return nil, fault.New(fault.BadInput, "Write it with its unit, such as 800 m or 2 km.", "%q is not a sight", s)
		}
		seen.Sight = journal.MM(l)
	}
	if seen.Air == nil && seen.Wind == nil && seen.From == nil && seen.Cloud == nil && seen.Sight == nil && seen.Snowing == "" {
		return nil, fault.New(fault.BadInput, "Tell at least one thing that was seen.", "nothing was seen")
	}
	return seen, nil
}

// postHours tells until when fishing is lawful, or battery and fuel last.
func (h *handler) postHours(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	if err := h.Desk.SetHour(r.Context(), a, r.PostForm.Get("which"), strings.TrimSpace(r.PostForm.Get("clock"))); err != nil {
		return err
	}
	return back(w, r, "/turn-back")
}
