package desk

import (
	"net/url"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

// ParseOptions reads the options of a file from the query string kept with its layer: as, unit, utm, tz and one
// map.HEADER=MEANING a column.
func ParseOptions(s string) (file.Options, error) {
	q, err := url.ParseQuery(s)
	if err != nil {
		return file.Options{}, fault.Wrap(err, fault.BadInput, "Write as=soundings&unit=ft&map.Depth=depth.", "the options %q cannot be read", s)
	}
	o := file.Options{As: file.Kind(q.Get("as")), Unit: q.Get("unit"), UTMZone: q.Get("utm")}
	if tz := q.Get("tz"); tz != "" {
		if o.Zone, err = time.LoadLocation(tz); err != nil {
			return o, fault.New(fault.BadInput, "Name a zone of the IANA list, for example Etc/GMT+3.", "%q is not the name of a time zone", tz)
		}
	}
	for k := range q {
		if header, ok := strings.CutPrefix(k, "map."); ok {
			if o.Map == nil {
				o.Map = map[string]string{}
			}
			o.Map[header] = q.Get(k)
		}
	}
	return o, nil
}

// FormatOptions is the inverse of [ParseOptions].
func FormatOptions(o file.Options) string {
	q := url.Values{}
	set := func(k, v string) {
		if v != "" {
			q.Set(k, v)
		}
	}
	set("as", string(o.As))
	set("unit", o.Unit)
	set("utm", o.UTMZone)
	if o.Zone != nil {
		set("tz", o.Zone.String())
	}
	for h, m := range o.Map {
		set("map."+h, m)
	}
	return q.Encode()
}
