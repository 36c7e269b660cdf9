package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
)

// With a low battery Now has its keys, the turn-back time, the way home and the rescue card, works out no advice and asks for
// no fix; costly pages are off until they are asked for, and data for the map that was asked for still comes. Source: U17.
func TestBatteryLow(t *testing.T) {
	d, h, _ := demo(t, false)
	for _, power := range []string{"power=low", "power=auto"} {
		page := get(h, "/", power).Body.String()
		for _, want := range []string{"Battery low", `action="/look"`, `action="/fish"`, `class="strip-clock"`, `href="/way"`, `href="/help"`, `"/?power=once"`, `name="power" value="full"`} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: Now lacks %s", power, want)
			}
		}
		for _, bad := range []string{"data-locate", `class="why"`, `class="about"`, `href="/map"`, `href="/ice"`} {
			if strings.Contains(page, bad) {
				t.Errorf("%s: Now has %s", power, bad)
			}
		}
		for _, path := range []string{"/map", "/why", "/evening", "/present"} {
			if page := get(h, path, power).Body.String(); !strings.Contains(page, `<h1>Battery low</h1>`) || strings.Contains(page, `id="chart"`) {
				t.Errorf("%s: %s is not off", power, path)
			}
			if page := get(h, path+"?power=once", power).Body.String(); strings.Contains(page, "<h1>Battery low</h1>") {
				t.Errorf("%s: %s does not come when it is asked for", power, path)
			}
		}
		if w := get(h, "/map/lake.json", power); w.Code != http.StatusOK {
			t.Errorf("%s: the lake of the map: %d", power, w.Code)
		}
	}
	if n := count(t, d, journal.KindAdvice); n != 0 {
		t.Errorf("%d steps were worked out and journaled unasked", n)
	}
	if page := get(h, "/?power=once", "power=auto").Body.String(); !strings.Contains(page, `class="why"`) || strings.Contains(page, `data-refresh="30"`) {
		t.Error("advice that was asked for once does not come, or comes again and again")
	}
	if n := count(t, d, journal.KindAdvice); n != 1 {
		t.Errorf("%d steps were journaled, one was asked for", n)
	}
	if w := post(h, "/settings", url.Values{"power": {"full"}, "back": {"/"}}); !strings.Contains(w.Header().Get("Set-Cookie"), "power=full") {
		t.Errorf("%v", w.Header())
	}
	if page := get(h, "/", "power=full").Body.String(); strings.Contains(page, "Battery low") {
		t.Error("the guide's choice does not stand")
	}
	phone := web.New(web.Options{Desk: d, Static: "/static/x/", Phone: true})
	if page := get(phone, "/help").Body.String(); !strings.Contains(page, `name="power" value="low" aria-pressed="false"`) {
		t.Error("Help on the phone has no switch")
	}
}
