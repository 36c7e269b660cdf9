package safety

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/quantity"
)

// agoText tells an age: minutes under an hour, hours under two days, then days.
func agoText(d time.Duration) string {
	switch {
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return fmt.Sprintf("%d min ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h ago", math.Round(d.Hours()))
	}
	return fmt.Sprintf("%.0f days ago", math.Floor(d.Hours()/24))
}

// nearestText tells of a reading elsewhere: "Nearest 41 cm, 2 h ago, 210 m".
func nearestText(lead string, n *Nearest) string {
	return fmt.Sprintf("%s %s, %s, %s", lead, quantity.SI.IceText(n.Reading.Total), agoText(n.Age), quantity.SI.FarText(n.Distance))
}

// sentence begins a sentence with an ASCII word.
func sentence(word string) string {
	if word == "" {
		return word
	}
	return strings.ToUpper(word[:1]) + word[1:]
}
