package phone

import (
	"fmt"
	"net"
	"net/http"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
)

// stateView is the page of the app itself.
type stateView struct{ Lake, Entries, Weather, Ground, Winters string }

// installView is the server's page on how the app comes onto a phone.
type installView struct {
	Here bool // the page was asked for on the server's own machine
}

// Install is the server's page on how the app comes onto a phone.
func Install() web.Extra {
	return web.Extra{Pattern: "GET /install", Word: "Phone", Answer: func(r *http.Request, _ web.Visitor) (web.Answer, error) {
		host, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			host = r.Host
		}
		ip := net.ParseIP(host)
		return web.Answer{Title: "Phone", Body: installPage(installView{Here: host == "localhost" || ip != nil && ip.IsLoopback()})}, nil
	}}
}

// state is the app's page on itself: what the evening before asks of its desk, and how many entries it holds.
func state(d *desk.Desk, entries func() int) web.Extra {
	return web.Extra{Pattern: "GET /app", Answer: func(r *http.Request, v web.Visitor) (web.Answer, error) {
		held, err := d.Packs(r.Context())
		if err != nil {
			return web.Answer{}, err
		}
		view := stateView{Lake: "none yet", Entries: fmt.Sprint(entries(), " entries on this phone")}
		err = d.Read(r.Context(), func(x desk.View) error {
			voice := say.Voice{Units: v.Units, Zone: x.Lake.Zone, Now: x.Now}
			if x.Lake.Known {
				view.Lake = x.Lake.Name
			}
			view.Weather, view.Ground, view.Winters = weatherHeld(voice, held), groundHeld(voice, held), wintersHeld(held)
			return nil
		})
		return web.Answer{Title: "This phone", Body: statePage(view)}, err
	}}
}

// notCome is what is said of a file whose name is on record and whose bytes are not here.
const notCome = ": its file has not come. Bring ashore now"

// weatherHeld says of when the forecast is and how far it reaches.
func weatherHeld(v say.Voice, h desk.Packs) string {
	switch {
	case h.Weather.Of.IsZero():
		return "none: fetch a forecast ashore"
	case !h.Weather.Here:
		return "of " + v.When(h.Weather.Of) + notCome
	case h.Until.Before(v.Now):
		return fmt.Sprintf("of %s, %s: it ended at %s. Fetch a new one ashore", v.When(h.Weather.Of), v.Ago(h.Weather.Of), v.When(h.Until))
	}
	return fmt.Sprintf("of %s, %s, until %s", v.When(h.Weather.Of), v.Ago(h.Weather.Of), v.When(h.Until))
}

// groundHeld says of when the lake's outline and depths are.
func groundHeld(v say.Voice, h desk.Packs) string {
	part := func(word string, p desk.Pack) string {
		switch {
		case p.Of.IsZero():
			return "no " + word
		case !p.Here:
			return word + " of " + v.When(p.Of) + notCome
		}
		return word + " of " + v.When(p.Of) + ", " + v.Ago(p.Of)
	}
	return part("outline", h.Outline) + "; " + part("soundings", h.Soundings)
}

// wintersHeld says how much of past winters is here.
func wintersHeld(h desk.Packs) string {
	if h.Winters == 0 {
		return "none"
	}
	return fmt.Sprintf("%s, %s with looks, the last %s", say.Few(h.Winters, "winter", "winters"), say.Few(h.Days, "day", "days"), h.Last)
}
