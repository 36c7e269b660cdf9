package fetch

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
)

// service is one provider with its address and its own connections: what is allowed towards one is not towards another.
type service struct {
	provider Provider
	base     *url.URL
	key      string
	agent    string
	client   *http.Client
}

// home gives the services' own addresses. Open-Meteo's is that of its customers: its open one is not for trade.
var home = map[Provider]string{
	NWS:       "https://api.weather.gov",             // [NWSAPI]
	METNorway: "https://api.met.no",                  // [METNorway]
	OpenMeteo: "https://customer-api.open-meteo.com", // [OpenMeteo]
}

func newService(p Provider, opt Options) (*service, error) {
	text := opt.Base[p]
	if text == "" {
		text = home[p]
	}
	switch {
	case home[p] == "":
		return nil, fault.New(fault.BadInput, "Use nws, metno or openmeteo.", "%q is no weather service known here", string(p))
	case p == OpenMeteo && opt.Key == "":
		return nil, fault.New(fault.Missing, "Its open service is not for trade: set the outfit's own key, or use nws or metno.", "Open-Meteo needs a key, and none is set")
	}
	base, err := parseBase(text)
	if err != nil {
		return nil, err
	}
	s := &service{provider: p, base: base, agent: fmt.Sprintf("icehand/%s (%s)", strings.Map(plain, opt.Version), opt.Contact)}
	if p == OpenMeteo {
		s.key = opt.Key
	}
	s.client = newHTTP(base, opt)
	return s, nil
}

// plain keeps what may stand in the name of a program's version.
func plain(r rune) rune {
	if r > ' ' && r <= '~' && !strings.ContainsRune("()/", r) {
		return r
	}
	return -1
}

func (s *service) title() string {
	return map[Provider]string{NWS: "US National Weather Service", METNorway: "MET Norway", OpenMeteo: "Open-Meteo"}[s.provider]
}

func (s *service) source() string {
	return map[Provider]string{NWS: weather.SourceNWS, METNorway: weather.SourceMETNorway, OpenMeteo: weather.SourceOpenMeteo}[s.provider]
}

func degrees(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// The paths of the services. The US service maps a place to a cell first; the mapping changes seldom.
const (
	metPath  = "/weatherapi/locationforecast/2.0/complete"
	omPath   = "/v1/forecast"
	omHourly = "temperature_2m,wind_speed_10m,wind_gusts_10m,wind_direction_10m,cloud_cover,precipitation,snowfall,visibility"
	cellLife = 7 * 24 * time.Hour // ours: a cell found is not asked for again so soon
)

func pointPath(at geo.Position) string { return "/points/" + degrees(at.Lat) + "," + degrees(at.Lon) }

// forecastPath gives where a service tells the forecast of a place. Addresses that an answer names are never followed:
// the path is made here from the cell's numbers.
func (c *Client) forecastPath(ctx context.Context, s *service, at geo.Position) (string, url.Values, error) {
	if s.provider != NWS {
		path, query := fixedPath(s, at)
		return path, query, nil
	}
	path := pointPath(at)
	if k, ok := c.copies.load(s, path, nil); ok && c.opt.Clock().Sub(k.Fetched).Abs() < cellLife {
		if p, err := cellPath(k.Body); err == nil {
			return p, nil, nil
		}
	}
	a, err := c.get(ctx, s, path, nil)
	if err != nil {
		if p, _, ok := c.keptPath(s, at); ok {
			return p, nil, nil // the mapping of a month ago is as good as any
		}
		return "", nil, err
	}
	p, err := cellPath(a.Body)
	if err != nil {
		return "", nil, err
	}
	_ = c.copies.keep(s, path, nil, a.stored) // without it the cell is asked for again
	return p, nil, nil
}

// keptPath gives the same from copies alone.
func (c *Client) keptPath(s *service, at geo.Position) (string, url.Values, bool) {
	if s.provider != NWS {
		path, query := fixedPath(s, at)
		return path, query, true
	}
	k, ok := c.copies.load(s, pointPath(at), nil)
	if !ok {
		return "", nil, false
	}
	p, err := cellPath(k.Body)
	return p, nil, err == nil
}

func fixedPath(s *service, at geo.Position) (string, url.Values) {
	if s.provider == METNorway {
		return metPath, url.Values{"lat": {degrees(at.Lat)}, "lon": {degrees(at.Lon)}}
	}
	// unix times carry no offset to go wrong on the night of a clock change
	return omPath, url.Values{"latitude": {degrees(at.Lat)}, "longitude": {degrees(at.Lon)}, "hourly": {omHourly}, "timeformat": {"unixtime"},
		"timezone": {"GMT"}, "forecast_days": {"4"}, "cell_selection": {"nearest"}}
}

var office = regexp.MustCompile(`^[A-Z][A-Z0-9]{1,5}$`)

// cellPath reads the cell of a place. Its numbers were seen as numbers and as texts.
func cellPath(body []byte) (string, error) {
	b, err := file.JSON(body, file.Options{MaxBytes: maxBody})
	if err != nil {
		return "", err
	}
	props := file.Member(b, "properties")
	id, _ := file.JSONString(file.Member(props, "gridId"))
	x, okX := cellNumber(file.Member(props, "gridX"))
	y, okY := cellNumber(file.Member(props, "gridY"))
	if !office.MatchString(id) || !okX || !okY {
		return "", fmt.Errorf("its answer names no cell for the place")
	}
	return fmt.Sprintf("/gridpoints/%s/%d,%d", id, x, y), nil
}

func cellNumber(b []byte) (int, bool) {
	if s, ok := file.JSONString(b); ok {
		b = []byte(s)
	}
	n, err := strconv.Atoi(string(b))
	return n, err == nil && n >= 0 && n < 100_000
}
