package fetch

import (
	"context"
	"net"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"icehand/internal/feed/weather/standin"
)

// Addresses of the registries of special purposes [RFC6890], each from inside its network, and neighbours outside.
func TestOnlyTheOpenInternetIsDialled(t *testing.T) {
	for text, want := range map[string]bool{
		"127.0.0.1": false, "127.255.255.254": false, "::1": false, "::ffff:127.0.0.1": false,
		"10.0.0.1": false, "172.16.0.1": false, "172.31.255.255": false, "172.32.0.1": true, "192.168.1.1": false, "::ffff:192.168.1.1": false,
		"169.254.169.254": false, "::ffff:169.254.169.254": false, "fe80::1": false, "fe80::1%eth0": false, "fec0::1": false,
		"fc00::1": false, "fd12:3456::1": false, "100.64.0.1": false, "100.127.255.255": false, "100.128.0.1": true, "100.63.255.255": true,
		"::ffff:100.64.0.1": false, "::ffff:198.18.0.1": false, "fec0::1%eth0": false,
		"0.0.0.0": false, "0.1.2.3": false, "::": false, "224.0.0.1": false, "ff02::1": false, "255.255.255.255": false, "240.0.0.1": false,
		"192.0.0.8": false, "192.0.2.1": false, "198.51.100.1": false, "203.0.113.1": false, "198.18.0.1": false, "198.19.255.255": false, "198.20.0.1": true,
		"2001:db8::1": false, "2001::1": false, "2002:7f00:1::": false, "::127.0.0.1": false, "100::1": false,
		"64:ff9b::7f00:1": false, "64:ff9b::a00:1": false, "64:ff9b::808:808": true, "64:ff9b:1::a00:1": false,
		"8.8.8.8": true, "::ffff:8.8.8.8": true, "2606:4700::1111": true, "9.255.255.255": true, "11.0.0.0": true, "223.255.255.255": true,
	} {
		if got := open(netip.MustParseAddr(text)); got != want {
			t.Errorf("%s: open %v, want %v", text, got, want)
		}
	}
}

func TestOnlyAnAddressNamedOutrightOpensAClosedOne(t *testing.T) {
	for _, c := range []struct {
		host, address string
		want          bool
	}{
		{"10.0.0.5", "10.0.0.5", true}, {"10.0.0.5", "::ffff:10.0.0.5", true}, {"10.0.0.5", "10.0.0.6", false}, {"10.0.0.5", "127.0.0.1", false},
		{"::1", "::1", true}, {"::1", "127.0.0.1", false}, {"localhost", "127.0.0.1", true}, {"localhost", "::1", true}, {"localhost", "10.0.0.1", false},
		{"proxy.outfit.example", "10.0.0.5", false}, {"0x7f000001", "127.0.0.1", false}, {"2130706433", "127.0.0.1", false}, {"127.1", "127.0.0.1", false},
	} {
		if got := named(c.host)(netip.MustParseAddr(c.address)); got != c.want {
			t.Errorf("%s to %s: %v", c.host, c.address, got)
		}
	}
	for text, want := range map[string]bool{
		"https://api.weather.gov": true, "http://api.weather.gov": false, "http://8.8.8.8": false, "http://127.0.0.1:8080/nws/": true, "http://[::1]:1": true,
		"http://[::ffff:10.0.0.1]": true, "http://localhost:1": true, "https://10.0.0.1": true, "ftp://10.0.0.1": false, "https://": false, "": false, "gopher://x": false,
		"http://0x7f000001": false, "http://127.1": false, "https://a@b": false, "https://a.example/#x": false, "https://a.example?x": false,
	} {
		u, err := parseBase(text)
		if (err == nil) != want {
			t.Errorf("%q: %v", text, err)
		}
		if err == nil && strings.HasSuffix(u.Path, "/") {
			t.Errorf("%q: %q", text, u.Path)
		}
	}
}

// nameServer answers every question for an IPv4 address with the next of a list, and has no other answers. It speaks just
// enough of RFC 1035, section 4: header, the question repeated, one record.
func nameServer(t *testing.T, answers ...string) *net.Resolver {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	t.Cleanup(func() { conn.Close(); <-done })
	go func() {
		defer close(done)
		buf := make([]byte, 512)
		for next := 0; ; {
			n, from, err := conn.ReadFrom(buf)
			if err != nil {
				return
			}
			end := 12 // behind the header: labels, a zero, type and class
			for end < n && buf[end] != 0 {
				end += int(buf[end]) + 1
			}
			end += 5
			if n < end {
				continue
			}
			reply := append([]byte{buf[0], buf[1], 0x81, 0x80, 0, 1, 0, 0, 0, 0, 0, 0}, buf[12:end]...)
			if buf[end-3] == 1 { // type A
				reply[7] = 1
				ip := netip.MustParseAddr(answers[min(next, len(answers)-1)]).As4()
				next++
				reply = append(reply, 0xc0, 12, 0, 1, 0, 1, 0, 0, 0, 0, 0, 4, ip[0], ip[1], ip[2], ip[3])
			}
			_, _ = conn.WriteTo(reply, from) // the asker has gone; nothing to do
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "udp", conn.LocalAddr().String())
	}}
}

// A name of the open internet that leads to this machine is refused when dialled, not when looked up: it may lead
// elsewhere the second time. The stand-in listens there and must not be asked.
func TestANameThatLeadsHomeIsNotDialled(t *testing.T) {
	for name, answers := range map[string][]string{"at once": {"127.0.0.1"}, "the second time": {"192.0.2.1", "127.0.0.1"}, "private": {"10.1.2.3"}, "metadata": {"169.254.169.254"}} {
		w := newWorld(t)
		u, err := url.Parse(w.srv.URL)
		if err != nil {
			t.Fatal(err)
		}
		w.opt.Base = map[Provider]string{METNorway: "https://weather.example.:" + u.Port()}
		w.opt.Resolver = nameServer(t, answers...)
		for range 2 {
			_, err = w.fetch(METNorway)
			if err == nil || !strings.Contains(err.Error(), "private address") || len(w.slept) != 0 {
				t.Errorf("%s: %v, slept %v", name, err, w.slept)
			}
		}
		if n := len(w.srv.Seen()); n != 0 {
			t.Errorf("%s: this machine was asked %d times", name, n)
		}
	}
}

// The environment's proxy would dial without the guard: it is not used.
func TestNoProxyOfTheEnvironmentIsUsed(t *testing.T) {
	w := newWorld(t)
	t.Setenv("HTTP_PROXY", w.srv.URL)
	t.Setenv("HTTPS_PROXY", w.srv.URL)
	w.opt.Base = map[Provider]string{METNorway: "https://weather.example."}
	w.opt.Resolver = nameServer(t, "10.1.2.3")
	if _, err := w.fetch(METNorway); err == nil || len(w.srv.Seen()) != 0 {
		t.Error(err, w.srv.Seen())
	}
}

// A service may send us on within its own house, as the US one does for too many decimals [NWSAPI], and nowhere else.
func TestRequestsAreNotSentElsewhere(t *testing.T) {
	w := newWorld(t)
	c, err := New(w.opt)
	if err != nil {
		t.Fatal(err)
	}
	a, err := c.get(context.Background(), c.services[0], "/points/46.200012,-93.700012", nil)
	if err != nil || w.statuses() != "301 200" || w.srv.Seen()[1].Agent == "" {
		t.Error(err, w.statuses())
	}
	if p, err := cellPath(a.Body); err != nil || !strings.HasSuffix(p, "/91,117") {
		t.Error(p, err)
	}
	other := standin.New(func() time.Time { return w.now })
	defer other.Close()
	for _, p := range []Provider{NWS, METNorway, OpenMeteo} {
		w.srv.Set(standin.Trouble{Elsewhere: other.URL + metPath + "?lat=1&lon=2"})
		if _, err := w.fetch(p); err == nil || !strings.Contains(err.Error(), "another host") || len(w.slept) != 0 {
			t.Errorf("%s: %v", p, err)
		}
	}
	if n := len(other.Seen()); n != 0 {
		t.Errorf("the other host was asked %d times", n)
	}
	w.srv.Set(standin.Trouble{Elsewhere: w.srv.URL + metPath}) // round and round
	if _, err := w.fetch(METNorway); err == nil || len(w.srv.Seen()) > 4 {
		t.Error(err, len(w.srv.Seen()))
	}
}

func TestCellsAreCheckedBeforeTheyBecomeAPath(t *testing.T) {
	for body, want := range map[string]string{
		`{"properties":{"gridId":"ABC","gridX":91,"gridY":117}}`:                  "/gridpoints/ABC/91,117",
		`{"properties":{"gridId":"ABC","gridX":"91","gridY":"117"}}`:              "/gridpoints/ABC/91,117", // seen as texts too
		`{"properties":{"gridId":"../x","gridX":91,"gridY":117}}`:                 "",
		`{"properties":{"gridId":"ABC","gridX":-1,"gridY":117}}`:                  "",
		`{"properties":{"gridId":"ABC","gridX":"9/../1","gridY":117}}`:            "",
		`{"properties":{"gridId":"ABC","gridX":1e9,"gridY":117}}`:                 "",
		`{"properties":{"gridId":"ABC"}}`:                                         "",
		`{"properties":{"forecastGridData":"http://127.0.0.1/gridpoints/A/1,2"}}`: "",
		`[]`: "", ``: "",
	} {
		if got, err := cellPath([]byte(body)); got != want || (err == nil) != (want != "") {
			t.Errorf("%s: %q, %v", body, got, err)
		}
	}
}

// RFC 9111, section 4.2.1: max-age counts before Expires, which counts from the answer's own Date [RFC9111].
func TestLifetimes(t *testing.T) {
	date := time.Date(2026, 1, 14, 18, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		cache, expires string
		want           time.Duration
	}{
		{"", "", 0}, {"max-age=600", "", 10 * time.Minute}, {"public, max-age=600, s-maxage=5", "Wed, 14 Jan 2026 19:00:00 GMT", 10 * time.Minute},
		{"", "Wed, 14 Jan 2026 18:30:00 GMT", 30 * time.Minute}, {"", "Wed, 14 Jan 2026 17:00:00 GMT", 0}, {"", "0", 0}, {"no-store, max-age=600", "", 0},
		{"max-age=99999999999999999999", "", 0}, {"max-age=31536000", "", longestLife}, {"max-age=-5", "", 0}, {"", "Fri, 01 Jan 2100 00:00:00 GMT", longestLife},
	} {
		if got := lifetime(map[string][]string{"Cache-Control": {c.cache}, "Expires": {c.expires}}, date); got != c.want {
			t.Errorf("%q %q: %v, want %v", c.cache, c.expires, got, c.want)
		}
	}
	for s, want := range map[string]time.Duration{"": 0, "7": 7 * time.Second, "-7": 0, "soon": 0, "Wed, 14 Jan 2026 18:01:00 GMT": time.Minute, "Wed, 14 Jan 2026 17:00:00 GMT": 0} {
		if got := retryAfter(s, date); got != want {
			t.Errorf("Retry-After %q: %v, want %v", s, got, want)
		}
	}
}
