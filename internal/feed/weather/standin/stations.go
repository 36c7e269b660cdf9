package standin

import (
	"net/http"
	"slices"
	"strconv"
	"time"
)

// stations lists the stations of a cell, in no order of distance.
func (s *Server) stations(w http.ResponseWriter, r *http.Request) {
	t, _ := s.state()
	switch {
	case r.URL.RawQuery != "":
		problem(w, 400, "Bad Request")
		return
	case r.PathValue("cell") != "91,117":
		problem(w, 404, "Not Found")
		return
	}
	doc := s.payload("nws_stations.json")
	if t.Lonely {
		doc["features"] = doc["features"].([]any)[2:]
	}
	s.body(w, r, "application/geo+json", 24*time.Hour, doc)
}

// observations gives what a station measured from start on, at most limit of them, the newest first.
func (s *Server) observations(w http.ResponseWriter, r *http.Request) {
	t, _ := s.state()
	q := r.URL.Query()
	for name := range q {
		if name != "start" && name != "end" && name != "limit" {
			problem(w, 400, "Bad Request")
			return
		}
	}
	start, err := time.Parse(time.RFC3339, q.Get("start"))
	limit, bad := strconv.Atoi(q.Get("limit"))
	if err != nil || bad != nil || limit < 1 || limit > 500 {
		problem(w, 400, "Bad Request")
		return
	}
	doc := s.payload("nws_observations.json")
	list := doc["features"].([]any)
	if !t.Night.IsZero() { // one reading an hour, seven minutes before it is full
		hours := make([]any, 0, 25)
		for k := range hoursOf(t.Night) {
			one := s.payload("nws_observations.json")["features"].([]any)[0]
			propsOf(one)["timestamp"] = t.Night.Add(time.Duration(k)*time.Hour + 53*time.Minute).Format(time.RFC3339) // in the zone's own offset
			hours = append(hours, one)
		}
		slices.Reverse(hours)
		list = hours
	}
	kept := []any{}
	for _, v := range list {
		props := propsOf(v)
		when, err := time.Parse(time.RFC3339, props["timestamp"].(string))
		if err != nil {
			panic(err) // our own payload
		}
		when = when.Add(-t.Old)
		props["timestamp"] = when.Format("2006-01-02T15:04:05-07:00")
		air := props["temperature"].(map[string]any)
		if t.Null {
			air["value"] = nil
		}
		if t.Unit != "" {
			air["unitCode"] = "wmoUnit:" + t.Unit
		}
		if t.Unknown {
			props["auroraChance"] = map[string]any{"unitCode": "wmoUnit:furlong", "value": 1}
		}
		if !when.Before(start) && len(kept) < limit && !slices.Contains(t.Silent, r.PathValue("station")) {
			kept = append(kept, v)
		}
	}
	doc["features"] = kept
	s.body(w, r, "application/geo+json", 0, doc)
}

func propsOf(v any) map[string]any { return v.(map[string]any)["properties"].(map[string]any) }
