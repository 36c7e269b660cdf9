package desk

import (
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// LightText is what somebody typed who asks for the light at the fish; "": not told, and taken from the record.
type LightText struct {
	Depth    string // of the fish, from the top of the ice
	Snow     string
	Clarity  string          // depth at which a white disc vanishes
	Cloud    string          // percent
	Unit     quantity.Length // of a depth without one
	SnowUnit quantity.Length // of snow without one
}

// LightDepth is the depth for which the light is told when none is asked for: of a break or bar where walleye are sought; ours.
const LightDepth = "6 m"

// Question reads what was typed.
func (x LightText) Question(day journal.Day) (q LightQuestion, err error) {
	q.Day = day
	if y := day.Midnight(time.UTC).Year(); y < 1950 || y > 2050 {
		return q, fault.New(fault.BadInput, "Ask for a day of those years.", "the sun is reckoned for the years 1950 to 2050, not for %s", day)
	}
	length := func(what, text string, unit, most quantity.Length) (quantity.Length, error) {
		l, _, err := quantity.ParseLength(text, unit)
		if err != nil || !(l >= 0 && l <= most) {
			return 0, fault.New(fault.BadInput, "Write it with its unit: 6 m, 20 ft, 8 cm.", "%q is no depth %s from 0 to %.0f m", text, what, most.Metres())
		}
		return l, nil
	}
	if q.Depth, err = length("of the fish", x.Depth, x.Unit, 100*quantity.Metre); err != nil {
		return q, err
	}
	if x.Snow != "" {
		q.SnowTold = true
		if q.Snow, err = length("of snow", x.Snow, x.SnowUnit, 3*quantity.Metre); err != nil {
			return q, err
		}
	}
	if x.Clarity != "" {
		if q.Clarity, err = length("of a disc", x.Clarity, x.Unit, 50*quantity.Metre); err != nil {
			return q, err
		}
		if q.Clarity <= 0 {
			return q, fault.New(fault.BadInput, "Leave the clarity out when it is not known.", "water of no clarity")
		}
	}
	if x.Cloud != "" {
		n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(x.Cloud), "%")))
		if err != nil || n < 0 || n > 100 {
			return q, fault.New(fault.BadInput, "Write a share of the sky from 0 to 100.", "%q is no percentage of cloud", x.Cloud)
		}
		q.Cloud, q.CloudTold = float64(n)/100, true
	}
	return q, nil
}
