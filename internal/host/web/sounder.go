package web

import (
	"net/http"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/sounder"
	"icehand/internal/trade/journal"
)

// sounderView is the form of what is told of the sounder.
type sounderView struct{ Says, Assumed, Water, WaterUnit, Hang, Cone string }

func plainNumber(x float64, digits int) string {
	return strings.TrimSuffix(strconv.FormatFloat(x, 'f', digits, 64), ".0")
}

// sounder fills the form; without one told, with what is usual.
func (v *visit) sounder(s sounder.Sounder, told bool) sounderView {
	out := sounderView{Says: "not told, depths as shown", WaterUnit: "C"}
	if told {
		out.Says = v.voice.Sounder(s)
	} else {
		s = sounder.Usual()
	}
	out.Assumed, out.Water = plainNumber(s.Assumed.MetresPerSecond(), 1), plainNumber(s.Water.Degrees(), 1)
	out.Hang = plainNumber(s.Hang.Metres(), 2)
	if v.settings.Units == quantity.US {
		out.WaterUnit, out.Water, out.Hang = "F", plainNumber(s.Water.Fahrenheit(), 1), plainNumber(s.Hang.Feet(), 1)
	}
	if s.Cone > 0 {
		out.Cone = plainNumber(float64(s.Cone), 1)
	}
	return out
}

// postSounder keeps what was told of the sounder from now on.
func (h *handler) postSounder(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	hole, err := uuidOf(r.PostForm, "hole")
	if err != nil {
		return err
	}
	number := func(name, word string, missing float64) float64 {
		text := strings.ReplaceAll(strings.TrimSpace(r.PostForm.Get(name)), ",", ".")
		if text == "" {
			return missing
		}
		x, failed := strconv.ParseFloat(text, 64)
		if failed != nil && err == nil {
			err = fault.New(fault.BadInput, "Enter a plain number.", "%q is no %s", text, word)
		}
		return x
	}
	hang, _, failed := lengthOf(r.PostForm, "hang", v, quantity.Metre, quantity.Foot)
	if failed != nil {
		return failed
	}
	s := sounder.Sounder{Assumed: quantity.Speed(number("assumed", "sound speed", 0)), Hang: hang, Cone: quantity.Angle(number("cone", "cone", 0))}
	if v.settings.Units == quantity.US {
		s.Water = quantity.Celsius((number("water", "temperature", 36) - 32) / 1.8)
	} else {
		s.Water = quantity.Celsius(number("water", "temperature", 2))
	}
	if err != nil {
		return err
	}
	value, err := s.Value()
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, &journal.Setting{Key: sounder.Setting, Value: value}); err != nil {
		return err
	}
	return back(w, r, "/depth?hole="+hole.String())
}
