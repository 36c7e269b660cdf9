package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"

	"icehand/internal/feed/file"
)

// The numbers of asking.
const (
	maxBody     = 8 << 20          // bytes; a raw gridpoint has some hundred thousand
	longestLife = 6 * time.Hour    // an answer is asked for again after this, whatever it says; ours
	spread      = 5 * time.Minute  // at most, added by chance to the time at which an answer runs out; ours
	longestWait = 2 * time.Minute  // a service that wants us back later than this counts as down; ours
	clocksApart = 10 * time.Minute // beyond this the ages of forecasts are in doubt; ours
)

// backOff gives the waits before the second, third and fourth try. Common practice, no source.
var backOff = []time.Duration{5 * time.Second, 15 * time.Second, 45 * time.Second}

// answer is a body with what was noticed on the way.
type answer struct {
	stored
	old   bool // the body is that of the kept copy
	notes []string
}

// failure is a try that gave nothing.
type failure struct {
	text   string
	status int           // of the answer; 0: there was none
	again  bool          // another try may help
	after  time.Duration // the service asked to wait this long
}

func (f *failure) Error() string { return f.text }

// get gives what a service says at a path: the kept copy while it has not run out, else its answer, tried again with
// growing waits where that may help.
func (c *Client) get(ctx context.Context, s *service, path string, query url.Values) (answer, error) {
	kept, have := c.copies.load(s, path, query)
	now := c.opt.Clock()
	if have && !now.Before(kept.Fetched) && now.Before(kept.NotBefore) {
		return answer{stored: kept, old: true}, nil
	}
	if !have {
		kept = stored{}
	}
	for try := 0; ; try++ {
		a, err := c.once(ctx, s, path, query, kept)
		var f *failure
		if err == nil || !errors.As(err, &f) || !f.again || try == len(backOff) {
			return a, err
		}
		wait := max(backOff[try], f.after)
		if wait > longestWait {
			return a, err
		}
		c.opt.Tell(fmt.Sprintf("%s: %s; trying again in %d s", s.title(), f.text, int(wait.Seconds())))
		if err := c.opt.Sleep(ctx, wait); err != nil {
			return a, err
		}
	}
}

// once asks one time.
func (c *Client) once(ctx context.Context, s *service, path string, query url.Values, kept stored) (answer, error) {
	req, err := s.request(ctx, path, query, kept)
	if err != nil {
		return answer{}, err
	}
	res, err := s.client.Do(req)
	if err != nil {
		return answer{}, netFailure(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(io.LimitReader(res.Body, maxBody+1))
	switch {
	case err != nil:
		return answer{}, &failure{text: "the answer broke off", again: true}
	case len(body) > maxBody:
		return answer{}, &failure{text: fmt.Sprintf("the answer is longer than %d MiB", maxBody>>20)}
	}
	now := c.opt.Clock()
	a := answer{stored: stored{Body: body, Modified: res.Header.Get("Last-Modified"), Tag: res.Header.Get("ETag"), Fetched: now}}
	switch res.StatusCode {
	case http.StatusOK:
	case http.StatusNonAuthoritativeInfo:
		a.notes = append(a.notes, s.title()+" says that this way of asking will end: look for a newer version of the program.")
	case http.StatusNotModified:
		if len(kept.Body) == 0 {
			return answer{}, &failure{text: "it says that nothing changed, and nothing was kept"}
		}
		a.Body, a.Modified, a.Tag, a.old = kept.Body, kept.Modified, kept.Tag, true
	default:
		return answer{}, statusFailure(res, body, now)
	}
	date, err := http.ParseTime(res.Header.Get("Date"))
	if err != nil {
		date = now
	}
	if off := now.Sub(date); off.Abs() > clocksApart {
		a.notes = append(a.notes, fmt.Sprintf("This machine's clock is %s %s of %s's: ages may be wrong.", off.Abs().Round(time.Minute), direction(off), s.title()))
	}
	if life := lifetime(res.Header, date); life > 0 {
		a.NotBefore = now.Add(life + time.Duration(c.opt.Jitter()*float64(spread)))
	}
	return a, nil
}

func direction(off time.Duration) string {
	if off > 0 {
		return "ahead"
	}
	return "behind"
}

func (s *service) request(ctx context.Context, path string, query url.Values, kept stored) (*http.Request, error) {
	u := *s.base
	u.Path += path
	q := url.Values{}
	for k, v := range query {
		q[k] = v
	}
	if s.key != "" {
		q.Set("apikey", s.key)
	}
	u.RawQuery = q.Encode()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, u.String(), nil)
	if err != nil {
		return nil, errors.New("the address cannot be asked") // err would show the address, and the key in it
	}
	req.Header.Set("User-Agent", s.agent)
	req.Header.Set("Accept", "application/geo+json, application/json")
	if kept.Modified != "" {
		req.Header.Set("If-Modified-Since", kept.Modified) // the very text of the former answer [METNorway]
	}
	if kept.Tag != "" {
		req.Header.Set("If-None-Match", kept.Tag)
	}
	return req, nil
}

// netFailure tells what went wrong without repeating the address, in which a key may stand.
func netFailure(err error) error {
	var dns *net.DNSError
	var timeout net.Error
	switch {
	case errors.Is(err, errClosed):
		return &failure{text: errClosed.Error()}
	case errors.Is(err, errElsewhere):
		return &failure{text: errElsewhere.Error()}
	case errors.Is(err, context.Canceled):
		return context.Canceled
	case errors.As(err, &dns):
		return &failure{text: "its name is not found: no signal?", again: true}
	case errors.As(err, &timeout) && timeout.Timeout():
		return &failure{text: "it did not answer in time", again: true}
	}
	return &failure{text: "it cannot be reached", again: true}
}

// expired is the title of the US service's problem that lasts for hours or days: asking again at once is useless.
const expired = "Forecast Grid Expired"

// statusFailure tells what a status means. Only a service that is busy or ill is asked again.
func statusFailure(res *http.Response, body []byte, now time.Time) error {
	title := ""
	if b, err := file.JSON(body, file.Options{MaxBytes: maxBody}); err == nil {
		title, _ = file.JSONString(file.Member(b, "title"))
		if title == "" {
			title, _ = file.JSONString(file.Member(b, "reason"))
		}
	}
	title = file.Short(strings.Map(printable, title))
	text := fmt.Sprintf("it answered with status %d", res.StatusCode)
	if title != "" {
		text += ": " + title
	}
	switch code := res.StatusCode; {
	case code == http.StatusForbidden:
		text += "; it may not accept the contact"
	case code == http.StatusNotFound:
		text += "; the place may lie outside its country"
	}
	again := res.StatusCode == http.StatusTooManyRequests || res.StatusCode >= 500 && title != expired
	return &failure{text: text, status: res.StatusCode, again: again, after: retryAfter(res.Header.Get("Retry-After"), now)}
}

// printable drops what could play tricks on a terminal.
func printable(r rune) rune {
	if unicode.IsPrint(r) {
		return r
	}
	return -1
}

// retryAfter reads how long the service wants us to wait, in seconds or as a time.
func retryAfter(s string, now time.Time) time.Duration {
	if n, err := strconv.Atoi(s); err == nil && n > 0 {
		return time.Duration(min(n, 1_000_000)) * time.Second
	}
	if t, err := http.ParseTime(s); err == nil {
		return max(0, t.Sub(now))
	}
	return 0
}

// lifetime gives how long an answer may be used without asking again: max-age, or Expires less the service's own Date, so
// that no clock of ours comes in [RFC9111].
func lifetime(h http.Header, date time.Time) time.Duration {
	life := time.Duration(0)
	if t, err := http.ParseTime(h.Get("Expires")); err == nil {
		life = t.Sub(date)
	}
	for _, d := range strings.Split(h.Get("Cache-Control"), ",") {
		d = strings.ToLower(strings.TrimSpace(d))
		if n, ok := strings.CutPrefix(d, "max-age="); ok {
			if s, err := strconv.Atoi(n); err == nil {
				life = time.Duration(min(s, 1_000_000)) * time.Second
			}
		}
		if d == "no-store" || d == "no-cache" {
			return 0
		}
	}
	return min(max(0, life), longestLife)
}
