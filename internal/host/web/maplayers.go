package web

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"math"
	"net/http"
	"strconv"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/host/desk"
)

// Layers of the map that are drawn when they are asked for: how sure the depth is, the forms of the bottom, and a picture
// from above where a host brings one.

// Imagery is a picture of the lake from above that a host with a line to the world brings; it is fetched on request only.
type Imagery struct {
	Credit  string
	Picture func(ctx context.Context, f geo.Frame, min, max geo.Local, day time.Time) ([]byte, error) // PNG, north up
}

// spreadLevels gives the doubts at which lines are drawn, in round figures of the unit system.
func spreadLevels(s quantity.System) (at []float64, text func(m float64) string) {
	if s == quantity.US {
		for _, ft := range []float64{1, 2, 4, 8} {
			at = append(at, ft*quantity.Foot.Metres())
		}
		return at, func(m float64) string { return fmt.Sprintf("± %.0f ft", quantity.Length(m).Feet()) }
	}
	return []float64{0.1, 0.2, 0.5, 1, 2}, func(m float64) string { return "± " + strconv.FormatFloat(m, 'g', 2, 64) + " m" }
}

// doubtOfDepth is the half-width of the band that holds a depth nine times in ten.
func doubtOfDepth(d ground.Depth) float64 {
	return 1.645 * d.Spread.Metres() // 90 % of a normal distribution
}

// extent gives west, south, east and north of a grid.
func extent(g ground.Grid) [4]float64 {
	c := g.Cell.Metres()
	return [4]float64{g.Origin.E, g.Origin.N, g.Origin.E + float64(g.NX)*c, g.Origin.N + float64(g.NY)*c}
}

// mostPixels of a picture of a field: some 20 m each on a lake of 400 km2.
const mostPixels = 1_000_000

// mapSpread sends lines of equal doubt of the depth and where the picture lies.
func (h *handler) mapSpread(w http.ResponseWriter, r *http.Request, v *visit) error {
	s, _, err := h.Desk.Bottoms(r.Context())
	if err != nil {
		return err
	}
	at, text := spreadLevels(v.settings.Units)
	out := oddsData{collection: collection{Type: "FeatureCollection", Features: []feature{}}, Extent: extent(s.PictureGrid(mostPixels)),
		Text: "Doubt of the depth: true 9 times in 10 within ±. Darker is surer."}
	if v.settings.Theme != "sun" {
		out.Text = "Doubt of the depth: true 9 times in 10 within ±. Brighter is less sure."
	}
	for _, l := range s.Isolines(doubtOfDepth, at) {
		if len(l.Line) >= 6 {
			out.Features = append(out.Features, lineFeature(l.Line, l.Closed, map[string]any{"sort": "spread", "text": text(l.Value)}))
		}
	}
	return sendJSON(w, out)
}

// fullDoubt is the half-width in metres at which the colours end.
const fullDoubt = 2.0

// mapSpreadImage sends the doubt as a picture.
func (h *handler) mapSpreadImage(w http.ResponseWriter, r *http.Request, v *visit) error {
	s, _, err := h.Desk.Bottoms(r.Context())
	if err != nil {
		return err
	}
	g, ramp := s.PictureGrid(mostPixels), rampFor(v.settings.Theme)
	img := image.NewNRGBA(image.Rect(0, 0, g.NX, g.NY))
	for i, m := range s.Picture(doubtOfDepth, mostPixels) {
		if !math.IsNaN(m) {
			c := shade(ramp, math.Sqrt(m/fullDoubt)) // small doubts are told apart, great ones are all great
			c.A = 120
			img.SetNRGBA(i%g.NX, g.NY-1-i/g.NX, c)
		}
	}
	return sendPNG(w, img)
}

func sendPNG(w http.ResponseWriter, img image.Image) error {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return fmt.Errorf("web: drawing the map: %w", err)
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b.Bytes()) // the browser has gone away: nobody to tell
	return nil
}

// mapBottom sends the forms of the bottom: humps and basins with their height, edges with their steepness, and the foot of
// edges.
func (h *handler) mapBottom(w http.ResponseWriter, r *http.Request, v *visit) error {
	s, err := h.Desk.Bottom(r.Context())
	if err != nil {
		return err
	}
	out := oddsData{collection: collection{Type: "FeatureCollection", Features: []feature{}}, Extent: extent(s.Grid()),
		Text: "Bottom: humps, basins, edges; the foot of edges dashed; ? where doubtful."}
	mask := make([]float64, s.Grid().Len())
	for _, f := range s.Features() {
		for _, i := range f.Cells {
			mask[i] = 1
		}
		for _, l := range ground.Isolines(s.Grid(), mask, []float64{0.5}) {
			out.Features = append(out.Features, lineFeature(l.Line, l.Closed, map[string]any{"sort": f.Kind.String(), "text": ""}))
		}
		for _, i := range f.Cells {
			mask[i] = 0
		}
		if f.Kind != ground.Transition {
			out.Features = append(out.Features, pointFeature(f.At, map[string]any{"sort": f.Kind.String(), "text": formText(v, f), "size": len(f.Cells)}))
		}
	}
	return sendJSON(w, out)
}

// formText names a form with its height or steepness.
func formText(v *visit, f ground.Feature) string {
	doubt := ""
	if !f.Certain {
		doubt = "?"
	}
	rise := v.voice.Units.DepthText(f.Rise)
	switch f.Kind {
	case ground.Hump:
		return "hump " + rise + " up" + doubt
	case ground.Basin:
		return "basin " + rise + " down" + doubt
	}
	return fmt.Sprintf("edge 1 in %.0f%s", math.Round(100/math.Max(f.Rise.Metres(), 0.1)), doubt)
}

// above gives the area that a picture from above covers.
func (h *handler) above(r *http.Request) (f geo.Frame, lo, hi geo.Local, err error) {
	if h.Imagery == nil {
		return f, lo, hi, fault.New(fault.NotFound, `Switch it on in icehand.json: {"imagery": {"on": true}}.`, "pictures from above are off")
	}
	s, err := h.Desk.Bottom(r.Context())
	if err != nil {
		return f, lo, hi, err
	}
	e := extent(s.Grid())
	err = h.Desk.Read(r.Context(), func(d desk.View) error { f = d.Lake.Frame; return nil })
	return f, geo.Local{E: e[0], N: e[1]}, geo.Local{E: e[2], N: e[3]}, err
}

// pictureDay is the day of a picture: today's is not whole yet.
func (v *visit) pictureDay() time.Time { return v.now.AddDate(0, 0, -1) }

// mapAbove says where the picture from above lies, of which day it is and whose.
func (h *handler) mapAbove(w http.ResponseWriter, r *http.Request, v *visit) error {
	_, lo, hi, err := h.above(r)
	if err != nil {
		return err
	}
	return sendJSON(w, oddsData{collection: collection{Type: "FeatureCollection", Features: []feature{}}, Extent: [4]float64{lo.E, lo.N, hi.E, hi.N},
		Text: fmt.Sprintf("From above, %s. A look, no word on the ice. %s", v.pictureDay().UTC().Format("2 Jan"), h.Imagery.Credit)})
}

// mapAboveImage fetches the picture from above.
func (h *handler) mapAboveImage(w http.ResponseWriter, r *http.Request, v *visit) error {
	f, lo, hi, err := h.above(r)
	if err != nil {
		return err
	}
	data, err := h.Imagery.Picture(r.Context(), f, lo, hi, v.pictureDay())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(data) // the browser has gone away: nobody to tell
	return nil
}
