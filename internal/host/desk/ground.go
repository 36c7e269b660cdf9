package desk

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
	"icehand/internal/engine/sounder"
	"icehand/internal/feed/chart"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// groundCache holds the lake's depth surfaces: a coarse one of the whole lake and a fine one of the working area.
// The fine one is made again with every hole whose depth was measured, the coarse one with every tenth.
type groundCache struct {
	layers    [2]uuid.UUID // outline and soundings that the rest was made of
	polygons  []geo.Polygon
	soundings []ground.Sounding
	chart     *ground.Chart
	made      [32]byte // digest of chart
	whole     *ground.Surface
	holes     int // measured holes in whole
	trouble   error

	depths []ground.Sounding // of measured holes, while known
	known  bool              // nothing was written since depths were gathered

	centre    geo.Local // of the working area
	nearChart *ground.Chart
	nearMade  [32]byte // digest of nearChart
	near      *ground.Surface
	nearHoles int
}

// saw drops the surfaces when a hole is corrected or taken back: a hole that was counted may lie elsewhere now, or be
// deeper.
func (g *groundCache) saw(log *journal.Log, e *journal.Entry) {
	g.known = false
	var target uuid.UUID
	switch b := journal.Decode(e).(type) {
	case *journal.Amend:
		target = b.Target
	case *journal.Retract:
		target = b.Target
	default:
		return
	}
	if f := log.Find(target); f == nil || f.Entry.Kind == journal.KindHole || f.Entry.Kind == journal.KindAmend {
		g.whole, g.near = nil, nil
	}
}

// workSide is the side of the working area, and workCell its cell.
const (
	workSide = 2 * quantity.Kilometre
	workCell = 20 * quantity.Metre
	// workSlack is how far the action may move from the centre before the area is drawn anew.
	workSlack = 500 * quantity.Metre
)

// wholeEvery is after how many measured holes the whole lake's surface is made again: one hole moves few of its cells.
const wholeEvery = 10

// surface gives the coarse surface of the whole lake, nil without an outline. The caller holds mu.
func (d *Desk) surface() *ground.Surface {
	if err := d.prepare(context.Background()); err != nil {
		return nil
	}
	return d.ground.whole
}

// prepare reads the layers and builds what is out of date. A lake without outline leaves no surface and no error.
func (d *Desk) prepare(ctx context.Context) error {
	g := &d.ground
	outline, soundings := d.lake.Layer("outline"), d.lake.Layer("soundings")
	if outline == nil {
		return nil
	}
	key := [2]uuid.UUID{outline.ID}
	if soundings != nil {
		key[1] = soundings.ID
	}
	if g.layers != key {
		*g = groundCache{layers: key}
		if g.trouble = d.readLayers(ctx, outline, soundings); g.trouble == nil {
			g.chart, g.made, g.trouble = d.chart(ctx, ground.Input{Outline: g.polygons, Soundings: g.soundings, Window: around(g.polygons)})
		}
	}
	if g.trouble != nil {
		return g.trouble
	}
	holes := d.measured()
	if more := len(holes) - g.holes; g.whole != nil && more >= 0 && more < wholeEvery {
		return nil
	}
	whole, err := d.surfaceOf(ctx, g.chart, g.made, holes)
	if err != nil {
		return fmt.Errorf("desk: depth surface: %w", err)
	}
	g.whole, g.holes = whole, len(holes)
	return nil
}

func around(polygons []geo.Polygon) *ground.Window {
	w := ground.Window{Min: polygons[0].Outer[0], Max: polygons[0].Outer[0]}
	for _, g := range polygons {
		for _, p := range g.Outer {
			w.Min.E, w.Min.N = min(w.Min.E, p.E), min(w.Min.N, p.N)
			w.Max.E, w.Max.N = max(w.Max.E, p.E), max(w.Max.N, p.N)
		}
	}
	return &w
}

func (d *Desk) readLayers(ctx context.Context, outline, soundings *lake.Layer) error {
	g := &d.ground
	data, opt, err := d.layer(ctx, outline)
	if err != nil {
		return err
	}
	o, _, err := chart.ReadOutline(outline.Name, data, opt)
	if err != nil {
		return fmt.Errorf("desk: outline: %w", err)
	}
	g.polygons = Polygons(d.lake.Frame, o)
	if soundings == nil {
		return nil
	}
	if data, opt, err = d.layer(ctx, soundings); err != nil {
		return err
	}
	s, _, err := chart.ReadSoundings(soundings.Name, data, opt)
	if err != nil {
		return fmt.Errorf("desk: soundings: %w", err)
	}
	g.soundings = make([]ground.Sounding, 0, len(s.Points))
	for _, p := range s.Points {
		at := d.lake.Frame.Local(p.Pos)
		if !onOutline(g.polygons, at) {
			continue // a chart's soundings on dry land by this outline say nothing of the bottom
		}
		g.soundings = append(g.soundings, ground.Sounding{At: at, Depth: p.Depth, Kind: ground.FromChart, ID: fmt.Sprintf("row %d", p.Row)})
	}
	return nil
}

func onOutline(polygons []geo.Polygon, p geo.Local) bool {
	for _, g := range polygons {
		if g.Contains(p) {
			return true
		}
	}
	return false
}

// Polygons projects an outline onto the lake's plane.
func Polygons(f geo.Frame, o chart.Outline) []geo.Polygon {
	ring := func(in []geo.Position) []geo.Local {
		out := make([]geo.Local, len(in))
		for i, p := range in {
			out[i] = f.Local(p)
		}
		return out
	}
	var out []geo.Polygon
	for _, p := range o.Polygons {
		g := geo.Polygon{Outer: ring(p.Outer)}
		for _, h := range p.Islands {
			g.Holes = append(g.Holes, ring(h))
		}
		out = append(out, g)
	}
	return out
}

// layer gives a layer's bytes and the options it was read with.
func (d *Desk) layer(ctx context.Context, l *lake.Layer) ([]byte, file.Options, error) {
	opt, err := ParseOptions(l.Options)
	if err != nil {
		return nil, opt, fmt.Errorf("desk: layer %s: %w", l.Name, err)
	}
	data, err := d.store.Blob(ctx, l.Blob)
	if err != nil {
		return nil, opt, fault.Wrap(err, fault.Damaged, "Import the file again.", "the data of %s (%s) cannot be read", l.Name, l.What)
	}
	return data, opt, nil
}

// measured gives the holes whose depth was measured and that lie on water.
func (d *Desk) measured() []ground.Sounding {
	if d.ground.known {
		return d.ground.depths
	}
	var out []ground.Sounding
	for _, h := range d.lake.Holes {
		if h.Placed && h.Depth > 0 && h.DepthBy != "map" && onOutline(d.ground.polygons, h.At) {
			depth, _ := sounder.Depth(d.lake, h)
			out = append(out, ground.Sounding{At: h.At, Depth: depth, Kind: ground.FromHole, ID: fmt.Sprintf("%d of %s", h.Number, h.Day)})
		}
	}
	d.ground.depths, d.ground.known = out, true
	return out
}

// near gives the fine surface of the working area about a place; nil without an outline.
func (d *Desk) near(ctx context.Context, about geo.Local) (*ground.Surface, error) {
	if err := d.prepare(ctx); err != nil || d.ground.chart == nil {
		return nil, err
	}
	g := &d.ground
	if g.nearChart == nil || g.centre.Distance(about) > workSlack {
		half := workSide.Metres() / 2
		w := &ground.Window{Min: geo.Local{E: about.E - half, N: about.N - half}, Max: geo.Local{E: about.E + half, N: about.N + half}}
		c, made, err := d.chart(ctx, ground.Input{Outline: g.polygons, Soundings: g.soundings, Window: w, Cell: workCell})
		if err != nil {
			return nil, fmt.Errorf("desk: working area: %w", err)
		}
		g.centre, g.nearChart, g.nearMade, g.near = about, c, made, nil
	}
	holes := within(d.measured(), g.centre, workSide)
	if g.near != nil && g.nearHoles == len(holes) {
		return g.near, nil
	}
	s, err := d.surfaceOf(ctx, g.nearChart, g.nearMade, holes)
	if err != nil {
		return nil, fmt.Errorf("desk: working area: %w", err)
	}
	g.near, g.nearHoles = s, len(holes)
	return s, nil
}

// Bottoms gives the depth surface of the whole lake with the finer one of the working area.
func (d *Desk) Bottoms(ctx context.Context) (n ground.Nested, outline []geo.Polygon, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		if n.Whole = d.surface(); n.Whole == nil {
			return d.noOutline()
		}
		now := d.Clock()
		n.Near, err = d.near(ctx, d.action(now, d.here(now)))
		outline = d.ground.polygons
		return err
	})
	return n, outline, err
}

// chart prepares a chart, or brings back the one that was kept under the digest of the same input.
func (d *Desk) chart(ctx context.Context, in ground.Input) (*ground.Chart, [32]byte, error) {
	if d.opt.Recall == nil {
		c, err := ground.BuildChart(ctx, in)
		return c, [32]byte{}, err
	}
	made := in.Digest()
	name := fmt.Sprintf("chart-%x", made[:12])
	if c, ok := ground.ThawChart(in, d.opt.Recall(name)); ok {
		return c, made, nil
	}
	c, err := ground.BuildChart(ctx, in)
	if err == nil {
		d.opt.Keep(name, c.Freeze(made))
	}
	return c, made, err
}

// surfaceOf makes a surface of a chart and holes, or brings back the one that was kept.
func (d *Desk) surfaceOf(ctx context.Context, c *ground.Chart, made [32]byte, holes []ground.Sounding) (*ground.Surface, error) {
	if d.opt.Recall == nil {
		return c.Surface(ctx, holes)
	}
	key := ground.SurfaceDigest(made, holes)
	name := fmt.Sprintf("surface-%x", key[:12])
	if s, ok := c.Thaw(key, d.opt.Recall(name)); ok {
		return s, nil
	}
	s, err := c.Surface(ctx, holes)
	if err == nil {
		d.opt.Keep(name, s.Freeze(key))
	}
	return s, err
}

func within(list []ground.Sounding, centre geo.Local, r quantity.Length) []ground.Sounding {
	var out []ground.Sounding
	for _, s := range list {
		if s.At.Distance(centre) <= r {
			out = append(out, s)
		}
	}
	return out
}

// packCache holds the forecast read last.
type packCache struct {
	layer  uuid.UUID
	hours  []safety.ForecastHour
	issued time.Time
}

// forecast gives the hours of the newest forecast and its issue time; none is no error.
func (d *Desk) forecast(ctx context.Context) ([]safety.ForecastHour, time.Time, error) {
	l := d.lake.Layer("forecast")
	if l == nil {
		return nil, time.Time{}, nil
	}
	if d.pack.layer == l.ID {
		return d.pack.hours, d.pack.issued, nil
	}
	data, opt, err := d.layer(ctx, l)
	if err != nil {
		return nil, time.Time{}, err
	}
	if opt.Zone == nil {
		opt.Zone = d.lake.Zone
	}
	f, _, err := weather.Read(l.Name, bytes.Clone(data), opt)
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("desk: forecast: %w", err)
	}
	issued := f.Issued
	if issued.IsZero() && l.Issued != 0 {
		issued = time.UnixMilli(l.Issued)
	}
	d.pack = packCache{layer: l.ID, hours: forecastHours(f), issued: issued}
	return d.pack.hours, d.pack.issued, nil
}

// airHours joins what was observed on the ice and what the forecast said, for the thaw rules. An observation replaces
// the forecast of its hour.
func (d *Desk) airHours(forecast []safety.ForecastHour) []safety.AirHour {
	seen := map[int64]bool{}
	var out []safety.AirHour
	for _, o := range d.lake.Observed {
		if o.AirTold {
			h := o.When.Truncate(time.Hour)
			seen[h.Unix()] = true
			out = append(out, safety.AirHour{Start: h, Air: o.Air})
		}
	}
	for _, h := range forecast {
		if h.AirTold && !seen[h.Start.Truncate(time.Hour).Unix()] {
			out = append(out, safety.AirHour{Start: h.Start, Air: h.Air})
		}
	}
	return out
}

// blobOf names bytes as the store does.
func blobOf(data []byte) journal.Hash { return journal.Sum(data) }
