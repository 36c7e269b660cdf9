package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
)

type layerData struct {
	Features []struct {
		Geometry   struct{ Type string }
		Properties map[string]any
	}
	Extent [4]float64
	Text   string
}

func layer(t *testing.T, h http.Handler, path string) (out layerData) {
	t.Helper()
	w := get(h, path)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// The doubt of the depth comes as lines with figures and a picture, the bottom as humps, basins and edges with theirs; a
// picture from above is not to be had unless a host brings it, and then carries its credit and never a word for the ice.
func TestLayersOnRequest(t *testing.T) {
	d, h, _ := demo(t, true)
	doubt := layer(t, h, "/map/spread.json")
	figures := map[string]bool{}
	for _, f := range doubt.Features {
		figures[f.Properties["text"].(string)] = true
	}
	if len(figures) < 2 || !figures["± 0.5 m"] || doubt.Extent[2] <= doubt.Extent[0] {
		t.Errorf("lines of doubt %v, extent %v", figures, doubt.Extent)
	}
	if w := get(h, "/map/spread.png"); w.Code != http.StatusOK || !strings.HasPrefix(w.Body.String(), "\x89PNG") {
		t.Errorf("the picture of the doubt: %d", w.Code)
	}
	sorts := map[string]int{}
	for _, f := range layer(t, h, "/map/bottom.json").Features {
		sorts[f.Properties["sort"].(string)]++
	}
	for _, s := range []string{"hump", "basin", "edge", "transition"} {
		if sorts[s] == 0 {
			t.Errorf("no %s on a lake with a bar, a trough and a shelf: %v", s, sorts)
		}
	}
	if w := get(h, "/map/above.json"); w.Code != http.StatusNotFound || strings.Contains(get(h, "/map").Body.String(), `data-above="yes"`) {
		t.Errorf("a picture from above without a source: %d", w.Code)
	}
	fetched := 0
	h = web.New(web.Options{Desk: d, Static: "/static/", Imagery: &web.Imagery{Credit: "Made-up Eye in the Sky", Picture: func(_ context.Context, _ geo.Frame, lo, hi geo.Local, _ time.Time) ([]byte, error) {
		fetched++
		return []byte("\x89PNG"), nil
	}}})
	for _, path := range []string{"/map", "/map/lake.json", "/map/today.json", "/credits"} {
		get(h, path)
	}
	if fetched != 0 {
		t.Error("a picture was fetched that nobody asked for")
	}
	if a := layer(t, h, "/map/above.json"); !strings.Contains(a.Text, "Made-up Eye in the Sky") || !strings.Contains(a.Text, "no word on the ice") {
		t.Errorf("%q", a.Text)
	}
	if w := get(h, "/map/above.png"); w.Code != http.StatusOK || fetched != 1 {
		t.Errorf("status %d, fetched %d times", w.Code, fetched)
	}
	if page := get(h, "/credits").Body.String(); !strings.Contains(page, "Made-up Eye in the Sky") {
		t.Error("the credits leave the picture out")
	}
}

// A share-alike outline stays in a file of its own: its bytes are those that were read, whatever was drilled, told or
// recorded, and no place of a hole stands in them. The credits name owner, licence and date.
func TestShareAlikeOutlineStaysApart(t *testing.T) {
	d, h, s := demo(t, true)
	outline := func() (data []byte, id string) {
		l := view(t, d).Lake.Layer("outline")
		data, err := d.Store().Blob(t.Context(), l.Blob)
		if err != nil {
			t.Fatal(err)
		}
		return data, l.ID.String()
	}
	before, id := outline()
	sent(t, h, "/credits", form("layer", id, "owner", "OpenStreetMap contributors", "licence", "ODbL 1.0", "dated", "2025-11"))
	at := s.Lake.Frame.Local(s.Scout)
	for i := range 3 {
		sent(t, h, "/hole", form("e", whole(10*(at.E+300+60*float64(i))), "n", whole(10*(at.N+200))))
	}
	after, _ := outline()
	if string(before) != string(after) {
		t.Error("the outline's file has changed")
	}
	if err := d.Read(t.Context(), func(v desk.View) error {
		checked := 0
		for _, o := range v.Lake.Holes {
			if p := v.Lake.Frame.Position(o.At); o.Placed {
				checked++
				for _, digits := range []int{5, 6, 7} {
					if strings.Contains(string(after), decimals(p.Lat, digits)) && strings.Contains(string(after), decimals(p.Lon, digits)) {
						t.Errorf("the place of a hole stands in the outline's file: %v", p)
					}
				}
			}
		}
		if checked < 100 {
			t.Errorf("only %d holes checked", checked)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	page := get(h, "/credits").Body.String()
	for _, want := range []string{"OpenStreetMap contributors", "ODbL 1.0", "2025-11", "Share-alike", "private"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q in the credits:\n%s", want, page)
		}
	}
	for _, bad := range [][2]string{{"owner", ""}, {"licence", ""}, {"owner", strings.Repeat("x", 400)}} {
		f := form("layer", id, "owner", "x", "licence", "y")
		f.Set(bad[0], bad[1])
		if w := post(h, "/credits", f); w.Code != http.StatusBadRequest {
			t.Errorf("%s %.5q: status %d", bad[0], bad[1], w.Code)
		}
	}
}
