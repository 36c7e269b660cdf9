package web

import (
	"math"
	"net/url"
	"strconv"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// field is one hidden field of a form.
type field struct{ Name, Value string }

// perMille writes a share from 0 to 1 as whole thousandths.
func perMille(share float64) string { return strconv.Itoa(int(share * 1000)) }

// current marks the page that is shown, for screen readers.
func current(here bool) string {
	if here {
		return "page"
	}
	return "false"
}

// localOf reads a place on the lake's plane that the map sends in decimetres; nil when the form names none.
func localOf(form url.Values) (*geo.Local, error) {
	if form.Get("e") == "" && form.Get("n") == "" {
		return nil, nil
	}
	e, err1 := strconv.ParseInt(form.Get("e"), 10, 32)
	n, err2 := strconv.ParseInt(form.Get("n"), 10, 32)
	if err1 != nil || err2 != nil {
		return nil, fault.New(fault.BadInput, "Touch the place again.", "the place touched on the map cannot be read")
	}
	return &geo.Local{E: float64(e) / 10, N: float64(n) / 10}, nil
}

// lengthMM reads the journal's unit.
func lengthMM(mm int64) quantity.Length { return quantity.FromMillimetres(mm) }

// number writes a coordinate of a drawing.
func number(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

// pressed marks a choice that is made.
func pressed(on bool) string { return strconv.FormatBool(on) }

// dotSize tells few from many on the day's strip.
func dotSize(marks string) string {
	if marks == "many" {
		return "5"
	}
	return "2.4"
}
