package imagery

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/geo/tile"
)

var day = time.Date(2026, 1, 14, 0, 0, 0, 0, time.UTC)

// colour is that of the stand-in's tile, told by its place.
func colour(row, col int) color.NRGBA {
	return color.NRGBA{uint8(row % 251), uint8(col % 251), 90, 255}
}

// standIn is a tile service of one colour a tile; it counts what was asked.
func standIn(t *testing.T, answer func(w http.ResponseWriter, path string) bool) (address string, asked func() []string) {
	var mu sync.Mutex
	var paths []string
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		paths = append(paths, r.URL.Path)
		mu.Unlock()
		if answer != nil && answer(w, r.URL.Path) {
			return
		}
		var date string
		var z, row, col int
		if _, err := fmt.Sscanf(strings.ReplaceAll(strings.Trim(r.URL.Path, "/"), "/", " "), "%s %d %d %d", &date, &z, &row, &col); err != nil || date != "2026-01-14" {
			http.NotFound(w, r)
			return
		}
		img := image.NewNRGBA(image.Rect(0, 0, 256, 256))
		for i := 0; i < len(img.Pix); i += 4 {
			c := colour(row, col)
			copy(img.Pix[i:], []byte{c.R, c.G, c.B, c.A})
		}
		_ = png.Encode(w, img)
	}))
	t.Cleanup(s.Close)
	return s.URL + "/{time}/{z}/{row}/{col}", func() []string { mu.Lock(); defer mu.Unlock(); return append([]string(nil), paths...) }
}

func area(t *testing.T) Area {
	t.Helper()
	f := geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45})
	return Area{Frame: f, Min: geo.Local{E: -8000, N: -15000}, Max: geo.Local{E: 8000, N: 15000}}
}

// Every pixel has the colour of the tile that holds its place by the slippy-map formula, row and column not mixed up, and
// each tile is asked for once.
func TestPictureIsMadeOfTheRightTiles(t *testing.T) {
	address, asked := standIn(t, nil)
	s, err := New(Settings{On: true, URL: address, Level: 10, Credit: "made up"})
	if err != nil {
		t.Fatal(err)
	}
	if len(asked()) != 0 {
		t.Error("something was fetched before it was asked for")
	}
	a := area(t)
	data, err := s.Picture(t.Context(), a, day)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil || img.Bounds().Dy() != pixels || img.Bounds().Dx() < 330 || img.Bounds().Dx() > 350 {
		t.Fatalf("%v, %v", img.Bounds(), err)
	}
	for _, share := range [][2]float64{{0.05, 0.05}, {0.95, 0.05}, {0.47, 0.52}, {0.05, 0.95}, {0.9, 0.9}} {
		p := a.Frame.Position(geo.Local{E: a.Min.E + share[0]*16000, N: a.Max.N - share[1]*30000})
		want := tile.At(p, 10)
		x, y := int(share[0]*float64(img.Bounds().Dx())), int(share[1]*float64(img.Bounds().Dy()))
		if got := color.NRGBAModel.Convert(img.At(x, y)); got != colour(want.Y, want.X) {
			t.Errorf("at %v: %v, want the colour %v of tile %+v", share, got, colour(want.Y, want.X), want)
		}
	}
	seen := map[string]int{}
	for _, p := range asked() {
		if seen[p]++; seen[p] > 1 {
			t.Errorf("%s was asked for twice", p)
		}
	}
	if len(seen) < 2 {
		t.Errorf("%d tiles test little", len(seen))
	}
}

// Off without being switched on, whatever else is set; what cannot be used is refused with what to write.
func TestSettings(t *testing.T) {
	if s, err := New(Settings{URL: DefaultURL, Credit: "x"}); s != nil || err != nil {
		t.Error("imagery is on without being switched on")
	}
	if s, err := New(Settings{On: true}); err != nil || s.Credit == "" || s.level != defaultLevel {
		t.Errorf("%+v %v", s, err)
	}
	for name, s := range map[string]Settings{
		"plain http": {On: true, URL: "http://pictures.example/{z}/{row}/{col}", Credit: "x"}, "no place": {On: true, URL: "https://pictures.example/{z}", Credit: "x"},
		"no credit": {On: true, URL: "https://pictures.example/{z}/{row}/{col}"}, "level": {On: true, Level: 40}, "password": {On: true, URL: "https://a:b@pictures.example/{z}/{row}/{col}", Credit: "x"},
	} {
		var f *fault.Error
		if _, err := New(s); !errors.As(err, &f) || f.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever a service answers in place of a tile is a fault that says so, and no picture.
func TestBadAnswers(t *testing.T) {
	for name, answer := range map[string]func(w http.ResponseWriter){
		"404": func(w http.ResponseWriter) { w.WriteHeader(http.StatusNotFound) }, "words": func(w http.ResponseWriter) { fmt.Fprint(w, "<html>") },
		"nothing": func(http.ResponseWriter) {}, "elsewhere": func(w http.ResponseWriter) {
			w.Header().Set("Location", "http://192.0.2.1/")
			w.WriteHeader(http.StatusFound)
		},
		"huge": func(w http.ResponseWriter) { _, _ = w.Write(make([]byte, mostBytes+1)) },
		"bomb": func(w http.ResponseWriter) { _ = png.Encode(w, image.NewGray(image.Rect(0, 0, 5000, 5000))) },
	} {
		address, _ := standIn(t, func(w http.ResponseWriter, _ string) bool { answer(w); return true })
		s, err := New(Settings{On: true, URL: address, Level: 9, Credit: "made up"})
		if err != nil {
			t.Fatal(err)
		}
		if data, err := s.Picture(t.Context(), area(t), day); data != nil || fault.CodeOf(err) != fault.Unavailable {
			t.Errorf("%s: %d bytes, %v", name, len(data), err)
		}
	}
	address, asked := standIn(t, nil)
	s, err := New(Settings{On: true, URL: address, Level: 16, Credit: "made up"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Picture(t.Context(), area(t), day); fault.CodeOf(err) != fault.BadInput || len(asked()) > mostTiles {
		t.Errorf("too fine a level: %v after %d tiles", err, len(asked()))
	}
}
