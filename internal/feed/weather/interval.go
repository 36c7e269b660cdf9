package weather

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// maxInterval is longer than any interval of a forecast, and short enough that a hostile one costs nothing.
const maxInterval = 31 * 24 * time.Hour

var duration = regexp.MustCompile(`^P(?:(\d{1,4})W)?(?:(\d{1,4})D)?(?:T(?:(\d{1,5})H)?(?:(\d{1,5})M)?(?:(\d{1,6})S)?)?$`)

// parseDuration reads an ISO 8601 duration of weeks, days, hours, minutes and seconds. Years and months have no fixed
// length and are refused.
func parseDuration(s string) (time.Duration, error) {
	m := duration.FindStringSubmatch(s)
	if m == nil || strings.HasSuffix(s, "T") || s == "P" {
		return 0, fmt.Errorf("weather: %q is not a duration", short(s))
	}
	var d time.Duration
	for i, unit := range []time.Duration{7 * 24 * time.Hour, 24 * time.Hour, time.Hour, time.Minute, time.Second} {
		if m[i+1] != "" {
			n, _ := strconv.Atoi(m[i+1]) // a few digits, by the expression
			d += time.Duration(n) * unit
		}
	}
	return d, nil
}

// parseInterval reads an ISO 8601 interval: start/duration, start/end or duration/end.
func parseInterval(s string) (start, end time.Time, err error) {
	a, b, ok := strings.Cut(s, "/")
	if !ok || len(s) > 80 {
		return start, end, errors.New("not an interval of time")
	}
	switch {
	case strings.HasPrefix(a, "P"):
		var d time.Duration
		if d, err = parseDuration(a); err == nil {
			end, err = time.Parse(time.RFC3339, b)
			start = end.Add(-d)
		}
	case strings.HasPrefix(b, "P"):
		var d time.Duration
		if d, err = parseDuration(b); err == nil {
			start, err = time.Parse(time.RFC3339, a)
			end = start.Add(d)
		}
	default:
		if start, err = time.Parse(time.RFC3339, a); err == nil {
			end, err = time.Parse(time.RFC3339, b)
		}
	}
	switch {
	case err != nil:
		return start, end, errors.New("not an interval of time")
	case start.Year() < 1950 || end.Year() > 2100:
		return start, end, errors.New("not in the years 1950 to 2100")
	case !end.After(start):
		return start, end, errors.New("an interval that does not run forward")
	case end.Sub(start) > maxInterval:
		return start, end, errors.New("an interval of more than 31 days")
	}
	return start.UTC(), end.UTC(), nil
}

func short(s string) string {
	if len(s) > 40 {
		return s[:40]
	}
	return s
}
