// Package fetch answers what the weather services say about a lake now: the outfit's chosen service, the next one when it
// fails, and the last good copy, with its age, when none can be reached.
//
// Start with [New], which refuses to run without a contact, and [Client.Fetch]. Services: the US National Weather Service
// [NWSAPI], MET Norway [METNorway], and Open-Meteo [OpenMeteo] with the outfit's own key. Reading is left to package
// weather; the journal, settings files and words for the guide to the hosts.
// It assumes a network that lies: answers may be old at status 200, cut off, endless or redirected, and a name may lead
// into the guide's own network. Nothing leaves but the lake's place to a hundredth of a degree, the program's name and the
// contact; the key stands in no error, note or copy.
package fetch

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
)

// Provider is a weather service, by the name that is typed.
type Provider string

// The services.
const (
	NWS       Provider = "nws"
	METNorway Provider = "metno"
	OpenMeteo Provider = "openmeteo"
)

// Options says how to ask. Only Contact must be set.
type Options struct {
	Contact  string                                           // e-mail or https address at which the services may reach the outfit
	Version  string                                           // of the program; default "dev"
	Order    []Provider                                       // default NWS, METNorway, and OpenMeteo when there is a key
	Base     map[Provider]string                              // address to ask in place of the service's own, such as an outfit's own proxy
	Key      string                                           // the outfit's own for Open-Meteo; without one it is not asked
	Folder   string                                           // where good answers are kept; "" = nowhere
	Timeout  time.Duration                                    // of one request; default 20 s
	Clock    func() time.Time                                 // default time.Now
	Sleep    func(ctx context.Context, d time.Duration) error // default waits
	Jitter   func() float64                                   // 0 to 1, spreads requests in time; default random
	Tell     func(progress string)                            // told what is being waited for; default nobody
	Resolver *net.Resolver                                    // default the system's
}

// Client asks the services.
type Client struct {
	opt      Options
	services []*service // in the order in which they are asked
	copies   copies
}

// Pack is a forecast as it came, ready to be kept.
type Pack struct {
	Provider Provider
	Name     string // a file name that tells service and issue time
	Data     []byte
	Forecast weather.Forecast
	Preview  file.Preview
	Fetched  time.Time // when the service last said that this is its forecast
	Stale    bool      // too old to plan on without saying so
	Copy     bool      // the service did not answer: this is the last good copy
	Notes    []string  // what went wrong on the way, a plain sentence each
}

// New checks the options and makes a client.
func New(opt Options) (*Client, error) {
	if err := checkContact(opt.Contact); err != nil {
		return nil, err
	}
	if opt.Version == "" {
		opt.Version = "dev"
	}
	if opt.Timeout <= 0 {
		opt.Timeout = 20 * time.Second
	}
	if opt.Clock == nil {
		opt.Clock = time.Now
	}
	if opt.Sleep == nil {
		opt.Sleep = sleep
	}
	if opt.Jitter == nil {
		opt.Jitter = rand.Float64
	}
	if opt.Tell == nil {
		opt.Tell = func(string) {}
	}
	if len(opt.Order) == 0 {
		opt.Order = []Provider{NWS, METNorway}
		if opt.Key != "" {
			opt.Order = append(opt.Order, OpenMeteo)
		}
	}
	c := &Client{opt: opt, copies: copies{folder: opt.Folder}}
	for _, p := range opt.Order {
		if slices.ContainsFunc(c.services, func(s *service) bool { return s.provider == p }) {
			continue
		}
		s, err := newService(p, opt)
		if err != nil {
			return nil, err
		}
		c.services = append(c.services, s)
	}
	return c, nil
}

// checkContact wants an address at which somebody can be reached, since the services shut out whoever gives none.
func checkContact(contact string) error {
	name, host, isMail := strings.Cut(contact, "@")
	mail := isMail && name != "" && strings.Contains(host, ".")
	web, isWeb := strings.CutPrefix(contact, "https://")
	odd := strings.ContainsFunc(contact, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("()<>\"\\;,", r) })
	if (mail || isWeb && strings.Contains(web, ".")) && !odd && len(contact) <= 200 {
		return nil
	}
	return fault.New(fault.Missing, "Set an e-mail or https address of the outfit.", "the weather services want a contact, and none is set")
}

func sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// Fetch asks the services in order for the weather of a place and gives the first forecast that is fresh. When none is, it
// gives the newest that reaches beyond now, stale answers and last good copies alike, and says so.
func (c *Client) Fetch(ctx context.Context, at geo.Position) (Pack, error) {
	if !at.Valid() {
		panic("fetch: no place")
	}
	at = coarse(at)
	var notes []string
	var old []Pack
	for _, s := range c.services {
		p, err := c.ask(ctx, s, at)
		switch {
		case ctx.Err() != nil:
			return Pack{}, fault.Wrap(ctx.Err(), fault.Unavailable, "Repeat it where there is a signal.", "the weather services were not asked to the end")
		case err != nil:
			notes = append(notes, fmt.Sprintf("%s: %s.", s.title(), strings.TrimRight(strings.Map(printable, err.Error()), ".")))
		case !p.Stale:
			p.Notes = append(notes, p.Notes...)
			return p, nil
		default:
			notes = append(notes, fmt.Sprintf("%s: its forecast is %s.", s.title(), c.oldness(p)))
			notes = append(notes, p.Notes...)
			if covers(p.Forecast, c.opt.Clock()) {
				old = append(old, p)
			}
		}
	}
	for _, s := range c.services {
		if p, ok := c.lastGood(s, at); ok {
			old = append(old, p)
		}
	}
	if len(old) == 0 {
		return Pack{}, fault.New(fault.Unavailable, "Repeat it where there is a signal, or import a file.", "no weather service gave a forecast, and no copy reaches beyond now. %s", strings.Join(notes, " "))
	}
	best := slices.MaxFunc(old, func(a, b Pack) int { return a.made().Compare(b.made()) })
	best.Notes = notes
	return best, nil
}

// made gives the issue time, or when it was fetched where none is told: it cannot have been made later.
func (p Pack) made() time.Time {
	if p.Forecast.Issued.IsZero() {
		return p.Fetched
	}
	return p.Forecast.Issued
}

// Age gives how old the forecast is; issued is false when that counts from its fetching, for want of an issue time.
func (p Pack) Age(now time.Time) (age time.Duration, issued bool) {
	return now.Sub(p.made()), !p.Forecast.Issued.IsZero()
}

func (c *Client) oldness(p Pack) string {
	switch age, _ := p.Age(c.opt.Clock()); {
	case !covers(p.Forecast, c.opt.Clock()):
		return "over"
	case age < 0:
		return "from the future by this machine's clock"
	default:
		return fmt.Sprintf("%d h old", int(age.Hours()))
	}
}

// covers tells whether a forecast reaches beyond now.
func covers(f weather.Forecast, now time.Time) bool {
	n := len(f.Hours)
	return n > 0 && f.Hours[n-1].Start.Add(time.Hour).After(now)
}

// coarse rounds a place to a hundredth of a degree, about a kilometre: weather is no finer, and no spot travels.
func coarse(p geo.Position) geo.Position {
	round := func(v float64) float64 { return math.Round(v*100) / 100 }
	return geo.Position{Lat: round(p.Lat), Lon: round(p.Lon)}
}

// ask gets a service's forecast and keeps a copy once it has been read.
func (c *Client) ask(ctx context.Context, s *service, at geo.Position) (Pack, error) {
	path, query, err := c.forecastPath(ctx, s, at)
	if err != nil {
		return Pack{}, err
	}
	a, err := c.get(ctx, s, path, query)
	if err != nil {
		var f *failure
		if s.provider == NWS && errors.As(err, &f) && f.status == http.StatusNotFound {
			c.copies.drop(s, pointPath(at), nil) // the cell has moved: ask for it next time
		}
		return Pack{}, err
	}
	p, err := c.read(s, a)
	if err != nil {
		if a.old { // damaged since it was kept: do not hold on to it
			c.copies.drop(s, path, query)
		}
		return Pack{}, err
	}
	if err := c.copies.keep(s, path, query, a.stored); err != nil {
		p.Notes = append(p.Notes, "The answer could not be kept as a copy for a day without signal.")
	}
	return p, nil
}

// read reads an answer and checks that it is what was asked for.
func (c *Client) read(s *service, a answer) (Pack, error) {
	now := c.opt.Clock()
	f, preview, err := weather.Read(string(s.provider)+".json", a.Body, file.Options{MaxBytes: maxBody, Zone: time.UTC, Today: now})
	if err != nil {
		return Pack{}, err
	}
	if f.Source != s.source() {
		return Pack{}, fmt.Errorf("the answer is not a forecast of this service")
	}
	p := Pack{Provider: s.provider, Data: a.Body, Forecast: f, Preview: preview, Fetched: a.Fetched, Notes: a.notes}
	p.Name = fmt.Sprintf("%s-%s.json", s.provider, p.made().UTC().Format("20060102T1504Z"))
	if age, issued := p.Age(now); issued {
		p.Stale = f.Stale(now)
	} else { // what it tells no time for is not older than its fetching, if it is not younger
		p.Stale = age > weather.StaleAfter || age < -time.Hour
	}
	p.Stale = p.Stale || !covers(f, now)
	return p, nil
}

// lastGood gives the copy kept of a service, when it can still be read and reaches beyond now.
func (c *Client) lastGood(s *service, at geo.Position) (Pack, bool) {
	path, query, ok := c.keptPath(s, at)
	if !ok {
		return Pack{}, false
	}
	k, ok := c.copies.load(s, path, query)
	if !ok {
		return Pack{}, false
	}
	p, err := c.read(s, answer{stored: k})
	if err != nil || !covers(p.Forecast, c.opt.Clock()) {
		return Pack{}, false
	}
	p.Copy = true
	return p, true
}
