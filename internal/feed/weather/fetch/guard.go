package fetch

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"syscall"
	"time"

	"icehand/internal/base/fault"
)

// special lists the networks that are not the open internet beyond what net/netip names itself [RFC6890].
var special = prefixes("0.0.0.0/8", "100.64.0.0/10", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "198.18.0.0/15", "198.51.100.0/24",
	"203.0.113.0/24", "240.0.0.0/4", "::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32", "2002::/16", "fec0::/10")

// nat64 carries an IPv4 address in its last four bytes; networks of telephones reach the open internet through it.
var nat64 = netip.MustParsePrefix("64:ff9b::/96")

func prefixes(list ...string) []netip.Prefix {
	out := make([]netip.Prefix, len(list))
	for i, s := range list {
		out[i] = netip.MustParsePrefix(s)
	}
	return out
}

// open tells whether an address lies in the open internet.
func open(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	if nat64.Contains(a) {
		b := a.As16()
		a = netip.AddrFrom4([4]byte(b[12:]))
	}
	if !a.IsGlobalUnicast() || a.IsPrivate() { // loopback, link-local, multicast and the empty address are not global
		return false
	}
	for _, p := range special {
		if p.Contains(a) {
			return false
		}
	}
	return true
}

// named gives the closed addresses that a base address names outright: a literal one, or localhost. A name that only leads
// to one, today or tomorrow, names none.
func named(host string) func(netip.Addr) bool {
	if strings.EqualFold(host, "localhost") {
		return func(a netip.Addr) bool { return a.Unmap().IsLoopback() }
	}
	want, err := netip.ParseAddr(host)
	if err != nil {
		return func(netip.Addr) bool { return false }
	}
	return func(a netip.Addr) bool { return a.Unmap() == want.Unmap() }
}

// parseBase reads a base address. Without encryption only a closed address that is named outright may be asked: over the
// open internet anyone could change the weather on its way.
func parseBase(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || u.Opaque != "" {
		return nil, fault.New(fault.BadInput, "Write https://host/path, without a name, a password or parameters.", "the address of the weather service cannot be used")
	}
	u.Path = strings.TrimRight(u.Path, "/")
	host := u.Hostname()
	a, err := netip.ParseAddr(host)
	closed := strings.EqualFold(host, "localhost") || err == nil && !open(a)
	if u.Scheme == "https" || u.Scheme == "http" && closed {
		return u, nil
	}
	return nil, fault.New(fault.BadInput, "Use https; http is for a proxy of your own, named by its private address.", "the address of the weather service is not encrypted")
}

// errClosed says that a name led into a closed network.
var errClosed = errors.New("its name leads to a private address; name that address itself if it is your own proxy")

// errElsewhere says that a service sent us to another host.
var errElsewhere = errors.New("it sent the request on to another host")

// newHTTP makes connections that are checked when the name has become an address, so that a name that changes its address
// between look-up and use gains nothing. No proxy of the environment is used: it would dial unchecked.
func newHTTP(base *url.URL, opt Options) *http.Client {
	allowed := named(base.Hostname())
	dialer := &net.Dialer{Timeout: min(10*time.Second, opt.Timeout), Resolver: opt.Resolver, Control: func(network, address string, _ syscall.RawConn) error {
		a, err := netip.ParseAddrPort(address)
		if err != nil {
			return fmt.Errorf("fetch: dialling: %w", err)
		}
		if ip := a.Addr(); !open(ip) && !allowed(ip) {
			return errClosed
		}
		return nil
	}}
	return &http.Client{
		Timeout: opt.Timeout,
		Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: min(10*time.Second, opt.Timeout), ResponseHeaderTimeout: opt.Timeout,
			MaxResponseHeaderBytes: 64 << 10, DisableKeepAlives: true},
		CheckRedirect: func(r *http.Request, via []*http.Request) error {
			if r.URL.Host != via[0].URL.Host || r.URL.Scheme != via[0].URL.Scheme || len(via) > 3 {
				return errElsewhere
			}
			return nil
		},
	}
}
