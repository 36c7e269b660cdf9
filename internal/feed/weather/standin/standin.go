// Package standin answers as the three weather services do, for tests: well, or ill in every way that was seen of them.
//
// Start with [New], which listens on loopback only, and [Server.Set] for what goes wrong. [Server.Seen] tells what was
// asked. It assumes the published layouts of the services [NWSAPI], [METNorway], [OpenMeteo]; the weather is made up.
// It leaves out text forecasts, which nobody here asks for.
package standin

import (
	"embed"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Key is the key that the stand-in of Open-Meteo knows.
const Key = "made-up-key-0001"

// Issued is when the made-up forecasts of the services say that they were made; they begin at 12:00 UTC of that day.
var Issued = time.Date(2026, 1, 14, 10, 52, 11, 0, time.UTC)

//go:embed payload/*.json
var payloads embed.FS

// Trouble is what goes wrong. The zero value is a service that works.
type Trouble struct {
	Refuse     []int         // statuses that answer the first requests, such as 429, 503
	RetryAfter string        // header of the refused ones
	Expired    bool          // 503 "Forecast Grid Expired" to every request for a forecast
	Old        time.Duration // how much older than told the forecast is, at status 200
	Truncate   bool          // the connection ends in the middle of the body
	Null       bool          // every air temperature is null
	Unit       string        // unit of the air temperature
	Unknown    bool          // fields that no document names
	Skew       time.Duration // how far the service's clock is off
	Night      time.Time     // the forecast covers the civil day that starts here
	Hang       bool          // the body never comes
	Endless    bool          // the body never ends
	Deprecated bool          // status 203
	Elsewhere  string        // every request is sent on to this address
	Down       bool          // 503 to every request
	Silent     []string      // stations that tell no readings
	Lonely     bool          // no station is near
}

// Request is what was asked, and how it was answered.
type Request struct {
	Path, Query, Agent, IfModifiedSince, IfNoneMatch string
	Status                                           int
}

// Server stands in for all three services under one address.
type Server struct {
	URL  string
	http *httptest.Server
	now  func() time.Time
	done chan struct{}

	mu      sync.Mutex
	trouble Trouble
	refused int
	seen    []Request
}

// New starts a server on loopback whose clock is now.
func New(now func() time.Time) *Server {
	s := &Server{now: now, done: make(chan struct{})}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /points/{place}", s.point)
	mux.HandleFunc("GET /gridpoints/{office}/{cell}", s.gridpoint)
	mux.HandleFunc("GET /gridpoints/{office}/{cell}/stations", s.stations)
	mux.HandleFunc("GET /stations/{station}/observations", s.observations)
	mux.HandleFunc("GET /weatherapi/locationforecast/2.0/complete", s.metNorway)
	mux.HandleFunc("GET /v1/forecast", s.openMeteo)
	s.http = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		rec := &recorder{ResponseWriter: w}
		s.answer(mux, rec, r)
		s.mu.Lock()
		defer s.mu.Unlock()
		s.seen = append(s.seen, Request{r.URL.Path, r.URL.RawQuery, r.UserAgent(), r.Header.Get("If-Modified-Since"), r.Header.Get("If-None-Match"), rec.status})
	}))
	s.URL = s.http.URL
	return s
}

// Close ends the server and every hanging answer.
func (s *Server) Close() {
	close(s.done)
	s.http.Close()
}

// Set says what goes wrong from now on, and forgets what was asked.
func (s *Server) Set(t Trouble) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.trouble, s.refused, s.seen = t, 0, nil
}

// Seen gives the requests since the last Set.
func (s *Server) Seen() []Request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Request(nil), s.seen...)
}

// recorder remembers the status.
type recorder struct {
	http.ResponseWriter
	status int
}

func (r *recorder) WriteHeader(status int) {
	r.status = status
	r.ResponseWriter.WriteHeader(status)
}

// state gives what goes wrong, and what the service takes for the time.
func (s *Server) state() (Trouble, time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.trouble, s.now().Add(s.trouble.Skew).UTC()
}

// answer deals with what all services have in common.
func (s *Server) answer(mux http.Handler, w http.ResponseWriter, r *http.Request) {
	t, now := s.state()
	w.Header().Set("Date", now.Format(http.TimeFormat))
	s.mu.Lock()
	refuse := 0
	if s.refused < len(t.Refuse) {
		refuse = t.Refuse[s.refused]
		s.refused++
	}
	s.mu.Unlock()
	switch agent := r.UserAgent(); {
	case refuse != 0:
		if t.RetryAfter != "" {
			w.Header().Set("Retry-After", t.RetryAfter)
		}
		problem(w, refuse, "Unexpected Problem")
	case t.Down:
		problem(w, 503, "Unavailable Resource")
	case agent == "" || strings.HasPrefix(agent, "Go-http-client") || !strings.ContainsAny(agent, "@:"):
		problem(w, 403, "Forbidden: identify yourself") // all services but Open-Meteo ask for it [NWSAPI] [METNorway]
	case t.Elsewhere != "":
		http.Redirect(w, r, t.Elsewhere, http.StatusFound)
	default:
		mux.ServeHTTP(w, r)
	}
}

// problem answers as RFC 7807 has it.
func problem(w http.ResponseWriter, status int, title string) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]any{"title": title, "type": "about:blank", "status": status, "correlationId": "0000abcd"})
}

var place = regexp.MustCompile(`^(-?\d{1,2}(?:\.\d+)?),(-?\d{1,3}(?:\.\d+)?)$`)

// decimals gives the greatest number of decimals among numbers.
func decimals(numbers ...string) int {
	most := 0
	for _, n := range numbers {
		if _, frac, ok := strings.Cut(n, "."); ok {
			most = max(most, len(frac))
		}
	}
	return most
}

// point maps a place to a cell: 301 for more than four decimals, 404 outside the country, 400 for unknown parameters.
func (s *Server) point(w http.ResponseWriter, r *http.Request) {
	m := place.FindStringSubmatch(r.PathValue("place"))
	switch {
	case r.URL.RawQuery != "":
		problem(w, 400, "Bad Request")
		return
	case m == nil:
		problem(w, 404, "Invalid Parameter")
		return
	}
	lat, _ := strconv.ParseFloat(m[1], 64)
	lon, _ := strconv.ParseFloat(m[2], 64)
	switch {
	case decimals(m[1], m[2]) > 4:
		short := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
		http.Redirect(w, r, "/points/"+short(lat)+","+short(lon), http.StatusMovedPermanently)
	case lat < 24 || lat > 50 || lon < -125 || lon > -66:
		problem(w, 404, "Data Unavailable For Requested Point")
	default:
		s.body(w, r, "application/geo+json", 24*time.Hour, s.payload("nws_point.json"))
	}
}

func (s *Server) gridpoint(w http.ResponseWriter, r *http.Request) {
	t, _ := s.state()
	switch {
	case r.URL.RawQuery != "":
		problem(w, 400, "Bad Request")
		return
	case r.PathValue("cell") != "91,117":
		problem(w, 404, "Not Found")
		return
	case t.Expired:
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(503)
		raw, _ := payloads.ReadFile("payload/nws_problem_503.json")
		_, _ = w.Write(raw) // the client has gone; nothing to do
		return
	}
	doc := s.payload("nws_gridpoint.json")
	props := doc["properties"].(map[string]any)
	props["updateTime"] = Issued.Add(-t.Old).Format("2006-01-02T15:04:05+00:00")
	air := props["temperature"].(map[string]any)
	if !t.Night.IsZero() {
		hours := hoursOf(t.Night)
		props["updateTime"] = s.now().UTC().Format(time.RFC3339)
		for name := range props {
			if layer, ok := props[name].(map[string]any); ok && layer["values"] != nil && name != "temperature" {
				delete(props, name)
			}
		}
		air["values"] = []any{map[string]any{"validTime": fmt.Sprintf("%s/PT%dH", t.Night.UTC().Format(time.RFC3339), hours), "value": -12.5}}
	}
	if t.Null {
		for _, v := range air["values"].([]any) {
			v.(map[string]any)["value"] = nil
		}
	}
	if t.Unit != "" {
		air["uom"] = "wmoUnit:" + t.Unit
	}
	if t.Unknown {
		props["auroraChance"] = map[string]any{"uom": "wmoUnit:furlong", "values": []any{1, "x", nil}}
	}
	s.body(w, r, "application/geo+json", time.Hour, doc)
}

func (s *Server) metNorway(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	lat, lon := q.Get("lat"), q.Get("lon")
	switch {
	case !place.MatchString(lat + "," + lon):
		problem(w, 400, "Bad Request")
		return
	case decimals(lat, lon) > 4:
		problem(w, 403, "Forbidden") // from memory: unverified
		return
	}
	t, _ := s.state()
	doc := s.payload("metno_complete.json")
	props := doc["properties"].(map[string]any)
	meta := props["meta"].(map[string]any)
	meta["updated_at"] = Issued.Add(-t.Old).Format(time.RFC3339)
	series := props["timeseries"].([]any)
	if !t.Night.IsZero() {
		meta["updated_at"] = s.now().UTC().Format(time.RFC3339)
		first := series[0].(map[string]any)["data"]
		series = nil
		for k := range hoursOf(t.Night) {
			series = append(series, map[string]any{"time": t.Night.Add(time.Duration(k) * time.Hour).UTC().Format(time.RFC3339), "data": first})
		}
		props["timeseries"] = series
	}
	details := func(e any) map[string]any {
		return e.(map[string]any)["data"].(map[string]any)["instant"].(map[string]any)["details"].(map[string]any)
	}
	if t.Null {
		for _, e := range series {
			details(e)["air_temperature"] = nil
		}
	}
	if t.Unit != "" {
		meta["units"].(map[string]any)["air_temperature"] = t.Unit
	}
	if t.Unknown {
		meta["units"].(map[string]any)["aurora_chance"] = "furlong"
		details(series[0])["aurora_chance"] = []any{1, nil}
	}
	s.body(w, r, "application/json", 30*time.Minute, doc)
}

func (s *Server) openMeteo(w http.ResponseWriter, r *http.Request) {
	t, _ := s.state()
	q := r.URL.Query()
	lat, err := strconv.ParseFloat(q.Get("latitude"), 64)
	if q.Get("apikey") != Key || err != nil || lat < -90 || lat > 90 || q.Get("timeformat") != "unixtime" {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(400)
		raw, _ := payloads.ReadFile("payload/openmeteo_error_400.json")
		_, _ = w.Write(raw) // the client has gone; nothing to do
		return
	}
	doc := s.payload("openmeteo.json")
	units, hourly := doc["hourly_units"].(map[string]any), doc["hourly"].(map[string]any)
	start := time.Date(2026, 1, 14, 12, 0, 0, 0, time.UTC).Add(-t.Old)
	n := len(hourly["time"].([]any))
	if !t.Night.IsZero() {
		start, n = t.Night, hoursOf(t.Night)
	}
	units["time"] = "unixtime"
	for name, column := range hourly { // stretched to the hours that are asked for
		old, stretched := column.([]any), make([]any, n)
		for k := range stretched {
			stretched[k] = old[k%len(old)]
			if name == "time" {
				stretched[k] = start.Add(time.Duration(k) * time.Hour).Unix()
			}
			if name == "temperature_2m" && t.Null {
				stretched[k] = nil
			}
		}
		hourly[name] = stretched
	}
	if t.Unit != "" {
		units["temperature_2m"] = t.Unit
	}
	if t.Unknown {
		units["aurora_chance"], hourly["aurora_chance"] = "furlong", []any{1, nil}
	}
	s.body(w, r, "application/json", 0, doc)
}

// hoursOf counts the hours of the civil day that starts at an instant.
func hoursOf(start time.Time) int {
	y, m, d := start.Date()
	return int(time.Date(y, m, d+1, 0, 0, 0, 0, start.Location()).Sub(start) / time.Hour)
}

func (s *Server) payload(name string) map[string]any {
	raw, err := payloads.ReadFile("payload/" + name)
	if err != nil {
		panic(err) // embedded: always there
	}
	var doc map[string]any
	if err := json.Unmarshal(raw, &doc); err != nil {
		panic(err)
	}
	return doc
}

// body answers with a document, 304 when the client has it, or as the trouble wants it.
func (s *Server) body(w http.ResponseWriter, r *http.Request, media string, life time.Duration, doc map[string]any) {
	t, now := s.state()
	raw, err := json.Marshal(doc)
	if err != nil {
		panic(err)
	}
	modified := Issued.Add(-t.Old).Format(http.TimeFormat)
	tag := fmt.Sprintf(`W/"%d"`, len(raw))
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("Last-Modified", modified)
	if media == "application/geo+json" {
		h.Set("ETag", tag)
		h.Set("Cache-Control", fmt.Sprintf("public, max-age=%d", int(life.Seconds())))
	} else if life > 0 {
		h.Set("Expires", now.Add(life).Format(http.TimeFormat))
	}
	if r.Header.Get("If-None-Match") == tag || r.Header.Get("If-None-Match") == "" && r.Header.Get("If-Modified-Since") == modified {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	status := http.StatusOK
	if t.Deprecated {
		status = http.StatusNonAuthoritativeInfo
	}
	switch {
	case t.Hang:
		w.WriteHeader(status)
		_ = http.NewResponseController(w).Flush() // a client that has gone needs no body
		select {
		case <-r.Context().Done():
		case <-s.done:
		}
	case t.Endless:
		w.WriteHeader(status)
		block := []byte(strings.Repeat(" ", 1<<16))
		for range 1 << 10 { // 64 MiB: enough for any cap, and an end all the same
			if _, err := w.Write(block); err != nil {
				return
			}
		}
	case t.Truncate:
		h.Set("Content-Length", strconv.Itoa(len(raw)))
		w.WriteHeader(status)
		_, _ = w.Write(raw[:len(raw)/2]) // less than announced: the server cuts the connection
	default:
		w.WriteHeader(status)
		_, _ = w.Write(raw) // the client has gone; nothing to do
	}
}

// Unwrap gives the writer below, for http.ResponseController.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }
