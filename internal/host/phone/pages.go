package phone

import (
	"fmt"
	"net"
	"net/http"

	"icehand/internal/host/desk"
	"icehand/internal/host/web"
)

// stateView is the page of the app itself.
type stateView struct{ Lake, Entries string }

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

// state is the app's page on itself: its desk and how many entries it holds.
func state(d *desk.Desk, entries func() int) web.Extra {
	return web.Extra{Pattern: "GET /app", Answer: func(r *http.Request, _ web.Visitor) (web.Answer, error) {
		v := stateView{Lake: "none yet", Entries: fmt.Sprint(entries(), " entries on this phone")}
		err := d.Read(r.Context(), func(x desk.View) error {
			if x.Lake.Known {
				v.Lake = x.Lake.Name
			}
			return nil
		})
		return web.Answer{Title: "This phone", Body: statePage(v)}, err
	}}
}
