package serve

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/keep/phones"
)

// TestDomain: under its name on the net the server shows nothing of the record without a key; this machine needs none; and
// nobody comes in by a false name.
func TestDomain(t *testing.T) {
	book := phones.Open(t.TempDir())
	key, err := book.Add("kitchen", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	local := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("local")) })
	h := handler(t, Options{Domain: "guide.example", Keys: book, Local: local})
	shown := map[string]string{"Cookie": keyCookie + "=" + key}
	for name, c := range map[string]struct {
		method, path, body string
		head               map[string]string
		want               int
	}{
		"own machine":            {"GET", "/help", "", nil, 200},
		"own command":            {"POST", "/local/x", "", nil, 200},
		"without a key":          {"GET", "/help", "", map[string]string{"Host": "guide.example"}, 303},
		"act without a key":      {"POST", "/undo", "", map[string]string{"Host": "guide.example"}, 401},
		"pairing without a key":  {"POST", "/phone/pair", "", map[string]string{"Host": "guide.example"}, 401},
		"health without a key":   {"GET", "/health", "", map[string]string{"Host": "guide.example"}, 303},
		"with a key":             {"GET", "/help", "", map[string]string{"Host": "guide.example", "Cookie": shown["Cookie"]}, 200},
		"wrong key":              {"GET", "/help", "", map[string]string{"Host": "guide.example", "Cookie": keyCookie + "=x"}, 303},
		"command from outside":   {"POST", "/local/x", "", map[string]string{"Host": "guide.example", "Cookie": shown["Cookie"]}, 404},
		"another name":           {"GET", "/help", "", map[string]string{"Host": "elsewhere.example"}, 421},
		"own name, handed on":    {"GET", "/help", "", map[string]string{"X-Forwarded-For": "192.0.2.1"}, 421},
		"own command, handed on": {"POST", "/local/x", "", map[string]string{"Forwarded": "for=192.0.2.1"}, 421},
		"page to enter":          {"GET", "/enter", "", map[string]string{"Host": "guide.example"}, 200},
		"entering":               {"POST", "/enter", "key=" + key, map[string]string{"Host": "guide.example", "Content-Type": "application/x-www-form-urlencoded"}, 303},
		"entering wrongly":       {"POST", "/enter", "key=nonsense", map[string]string{"Host": "guide.example", "Content-Type": "application/x-www-form-urlencoded"}, 401},
		"entering from a page elsewhere": {"POST", "/enter", "key=" + key, map[string]string{"Host": "guide.example", "Content-Type": "application/x-www-form-urlencoded",
			"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"}, 403},
	} {
		w := ask(h, c.method, c.path, c.body, c.head)
		if w.Code != c.want {
			t.Errorf("%s: status %d, want %d", name, w.Code, c.want)
		}
		if name == "entering" {
			set := w.Header().Get("Set-Cookie")
			for _, want := range []string{keyCookie + "=" + key, "Secure", "HttpOnly", "SameSite=Lax"} {
				if !strings.Contains(set, want) {
					t.Errorf("%s: cookie %q lacks %s", name, set, want)
				}
			}
		}
		if c.head["Host"] == "guide.example" && w.Header().Get("Strict-Transport-Security") == "" {
			t.Errorf("%s: no HSTS", name)
		}
	}
	if err := book.End("kitchen", false, time.Now()); err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "GET", "/help", "", map[string]string{"Host": "guide.example", "Cookie": shown["Cookie"]}); w.Code != 303 {
		t.Errorf("a key that was taken back: status %d", w.Code)
	}
}
