package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/host/desk"
	"icehand/internal/host/web"
)

// What only the server has is not offered on the phone: no page leads to Import, and whoever asks for it is told where it is.
func TestPhoneImport(t *testing.T) {
	d, _, _ := demo(t, true)
	empty, err := desk.Open(t.Context(), newStore(time.Now()), desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for name, d := range map[string]*desk.Desk{"a day": d, "an empty record": empty} {
		h := web.New(web.Options{Desk: d, Static: "/static/x/", Phone: true})
		for _, path := range []string{"/", "/keys", "/map", "/people", "/ice", "/help", "/day", "/evening", "/holes", "/tackle", "/trip", "/nowhere"} {
			if w := get(h, path); strings.Contains(w.Body.String(), `"/import"`) {
				t.Errorf("%s: %s leads to Import", name, path)
			}
		}
		if w := get(h, "/import"); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "Ashore, open it on the server.") {
			t.Errorf("%s: /import answers %d", name, w.Code)
		}
	}
	if w := get(web.New(web.Options{Desk: empty, Static: "/static/x/", Phone: true}), "/"); !strings.Contains(w.Body.String(), "Files come in ashore, at the server.") {
		t.Error("an empty phone does not say where files come in")
	}
}
