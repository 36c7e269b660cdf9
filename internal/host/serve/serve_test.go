package serve

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	assets "icehand/web"
)

var quiet = slog.New(slog.DiscardHandler)

func emptyDesk(t *testing.T) *desk.Desk {
	t.Helper()
	d, err := desk.Open(t.Context(), mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID()}), desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestRun: the server tells its address, answers, and stops when it is told to, leaving nothing running.
func TestRun(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	ctx, stop := context.WithCancel(t.Context())
	address, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- Run(ctx, Options{Desk: emptyDesk(t), Log: quiet, Started: func(a string) error { address <- a; return nil }})
	}()
	base := <-address
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 5 * time.Second}
	r, err := client.Get(base + "/health")
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(r.Body)
	r.Body.Close()
	if err != nil || string(b) != "ready\n" {
		t.Errorf("%q, %v", b, err)
	}
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("it does not stop")
	}
}

// TestStartFailure: a host that cannot note the address ends the server.
func TestStartFailure(t *testing.T) {
	refused := errors.New("not noted")
	if err := Run(t.Context(), Options{Desk: emptyDesk(t), Log: quiet, Started: func(string) error { return refused }}); !errors.Is(err, refused) {
		t.Error(err)
	}
}

// TestLoopbackOnly: the pages have no login, so they never leave the machine.
func TestLoopbackOnly(t *testing.T) {
	for _, addr := range []string{"0.0.0.0:0", ":8420", "192.168.1.2:8420", "[::]:0", "example.org:80", "nonsense"} {
		l, err := listen(t.Context(), addr)
		if fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%s: %v", addr, err)
		}
		if l != nil {
			l.Close()
		}
	}
	l, err := listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if _, err := listen(t.Context(), l.Addr().String()); fault.CodeOf(err) != fault.Unavailable {
		t.Errorf("a port in use: %v", err)
	}
}

func handler(t *testing.T, o Options) http.Handler {
	t.Helper()
	o.Desk, o.Log = emptyDesk(t), quiet
	h, err := Handler(o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func ask(h http.Handler, method, path, body string, head map[string]string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://127.0.0.1:8420"+path, strings.NewReader(body))
	for k, v := range head {
		r.Header.Set(k, v)
		if k == "Host" {
			r.Host = v
		}
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestHeadersOnEverything(t *testing.T) {
	h := handler(t, Options{})
	version, err := assets.Version(assets.Embedded())
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/help", "/health", "/nowhere", "/static/" + version + "/style/theme.css", "/static/none/style/theme.css", "/favicon.ico"} {
		w := ask(h, http.MethodGet, path, "", nil)
		for key, want := range map[string]string{"Content-Security-Policy": "default-src 'self'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer"} {
			if got := w.Header().Get(key); !strings.Contains(got, want) {
				t.Errorf("%s: %s is %q", path, key, got)
			}
		}
		if csp := w.Header().Get("Content-Security-Policy"); strings.Contains(csp, "unsafe") {
			t.Errorf("%s: %q", path, csp)
		}
	}
	w := ask(h, http.MethodGet, "/static/"+version+"/style/theme.css", "", nil)
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") {
		t.Errorf("static: status %d, %q", w.Code, w.Header().Get("Cache-Control"))
	}
}

// TestForeignPages: a page elsewhere can neither post here nor read these pages under a name of its own.
func TestForeignPages(t *testing.T) {
	h := handler(t, Options{})
	if w := ask(h, http.MethodPost, "/undo", "", map[string]string{"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"}); w.Code != http.StatusForbidden {
		t.Errorf("a post from elsewhere: status %d", w.Code)
	}
	if w := ask(h, http.MethodGet, "/", "", map[string]string{"Host": "elsewhere.example"}); w.Code != http.StatusMisdirectedRequest {
		t.Errorf("another name: status %d", w.Code)
	}
	if w := ask(h, http.MethodGet, "/health", "", map[string]string{"Host": "localhost:8420"}); w.Code != http.StatusOK {
		t.Errorf("localhost: status %d", w.Code)
	}
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded"}
	if w := ask(h, http.MethodPost, "/settings", "theme=night&back="+strings.Repeat("x", mostForm), form); w.Code != http.StatusBadRequest {
		t.Errorf("a form beyond all measure: status %d", w.Code)
	}
}

func TestLocalDoor(t *testing.T) {
	h := handler(t, Options{Local: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write([]byte("local " + r.URL.Path)) })})
	if w := ask(h, http.MethodPost, "/local/import", "", nil); w.Body.String() != "local /local/import" {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w := ask(handler(t, Options{}), http.MethodPost, "/local/import", "", nil); w.Code == http.StatusOK {
		t.Error("a door that was not asked for stands open")
	}
}

func TestDev(t *testing.T) {
	w := ask(handler(t, Options{Dev: "../../../web"}), http.MethodGet, "/static/dev/style/theme.css", "", nil)
	if w.Code != http.StatusOK || w.Header().Get("Cache-Control") != "no-store" {
		t.Errorf("status %d, %q", w.Code, w.Header().Get("Cache-Control"))
	}
	if _, err := Handler(Options{Desk: emptyDesk(t), Dev: t.TempDir()}); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("an empty folder: %v", err)
	}
}
