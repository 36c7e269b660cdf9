package ground

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

// A chart and a surface can be frozen into bytes and thawed, so that a program that starts anew need not work them out
// again. The bytes are a cache of this machine and this program: they name what they were made of, end with a hash, and
// whatever does not fit is not thawed but made anew.

// Digest names all that a chart is made of. It panics when the window is not told.
func (in Input) Digest() [sha256.Size]byte {
	var w packer
	w.text("chart with forms")
	w.numbers(in.Window.Min.E, in.Window.Min.N, in.Window.Max.E, in.Window.Max.N, float64(in.Cell), float64(len(in.Outline)))
	for _, g := range in.Outline {
		w.numbers(float64(len(g.Holes)))
		for _, ring := range append([][]geo.Local{g.Outer}, g.Holes...) {
			w.numbers(float64(len(ring)))
			for _, p := range ring {
				w.numbers(p.E, p.N)
			}
		}
	}
	w.soundings(in.Soundings)
	return sha256.Sum256(w.Bytes())
}

// SurfaceDigest names all that a surface is made of, given the digest of its chart.
func SurfaceDigest(chart [sha256.Size]byte, holes []Sounding) [sha256.Size]byte {
	var w packer
	w.text("surface")
	w.Write(chart[:])
	w.soundings(holes)
	return sha256.Sum256(w.Bytes())
}

// Freeze writes what was worked out of a chart under its digest.
func (c *Chart) Freeze(digest [sha256.Size]byte) []byte {
	var w packer
	w.Write(digest[:])
	if c.drift != nil {
		m := c.drift.fitted
		w.numbers(float64(c.drift.rule), float64(m.Model.Shape), m.Model.Sill, float64(m.Model.Range), m.Model.Nugget, m.Noise, m.LogLikelihood)
		w.numbers(c.misses[:]...)
		w.numbers(c.depthM...)
		w.numbers(c.sdM...)
		for _, f := range c.form {
			w.WriteByte(byte(f))
		}
	}
	return w.sealed()
}

// ThawChart makes the chart of the same input again from what was frozen; false when the bytes are not of this input.
func ThawChart(in Input, data []byte) (*Chart, bool) {
	r, ok := opened(data, in.Digest())
	if !ok {
		return nil, false
	}
	c, err := newChart(in)
	if err != nil {
		return nil, false
	}
	blocks := c.blocks(in.Soundings)
	if len(blocks) == 0 {
		return c, len(r) == 0
	}
	const parameters = 7
	n := c.grid.Len()
	if len(r) < n {
		return nil, false
	}
	v, ok := numbers(r[:len(r)-n], parameters+len(c.misses)+2*n)
	if !ok {
		return nil, false
	}
	c.form = make([]int8, n)
	for i, b := range r[len(r)-n:] {
		c.form[i] = int8(b)
	}
	c.drift = dressed(ShoreRule(v[0]), blocks, c.banks)
	c.drift.fit(field.Fitted{Model: field.Model{Shape: field.Shape(v[1]), Sill: v[2], Range: quantity.Length(v[3]), Nugget: v[4]}, Noise: v[5], LogLikelihood: v[6]})
	copy(c.misses[:], v[parameters:])
	if c.drift.solve() != nil {
		return nil, false
	}
	c.quality.setRule(c.drift, c.misses)
	grids := v[parameters+len(c.misses):]
	c.depthM, c.sdM = grids[:n:n], grids[n:]
	return c, true
}

// Freeze writes a surface under its digest.
func (s *Surface) Freeze(digest [sha256.Size]byte) []byte {
	var w packer
	w.Write(digest[:])
	q := s.quality.numbers()
	w.numbers(float64(len(q)))
	w.numbers(q...)
	w.numbers(s.meanM...)
	w.numbers(s.sdM...)
	return w.sealed()
}

// Thaw makes a surface of the chart again from what was frozen; false when the bytes are not of this digest.
func (c *Chart) Thaw(digest [sha256.Size]byte, data []byte) (*Surface, bool) {
	r, ok := opened(data, digest)
	if !ok {
		return nil, false
	}
	n := c.grid.Len()
	v, ok := numbers(r, len(r)/8)
	if !ok || len(v) == 0 || len(v) != 1+int(v[0])+2*n {
		return nil, false
	}
	s := &Surface{shore: c.shore, grid: c.grid, water: c.water, form: c.form}
	if s.quality, ok = qualityOf(v[1 : 1+int(v[0])]); !ok {
		return nil, false
	}
	grids := v[1+int(v[0]):]
	s.meanM, s.sdM = grids[:n:n], grids[n:]
	return s, true
}

// numbers lists all fields.
func (q Quality) numbers() []float64 {
	v := []float64{float64(q.ChartSoundings), float64(q.ChartBeyond), float64(q.ChartBlocks), float64(q.Holes), float64(q.Pooled),
		float64(q.Clusters), float64(q.Compared), float64(q.RMSE), float64(q.MeanError), q.MeanSquareZ, q.Widened[0], q.Widened[1],
		float64(q.Rule), float64(q.ChartOffset), q.ChartScale, float64(q.Sill), float64(q.Range), float64(q.Noise)}
	for _, e := range q.RuleErrors {
		v = append(v, float64(e))
	}
	return v
}

// qualityOf is the inverse of numbers.
func qualityOf(v []float64) (q Quality, ok bool) {
	const fixed = 18
	if len(v) != fixed && len(v) != fixed+3 {
		return q, false
	}
	length := func(i int) quantity.Length { return quantity.Length(v[i]) }
	q = Quality{ChartSoundings: int(v[0]), ChartBeyond: int(v[1]), ChartBlocks: int(v[2]), Holes: int(v[3]), Pooled: int(v[4]),
		Clusters: int(v[5]), Compared: int(v[6]), RMSE: length(7), MeanError: length(8), MeanSquareZ: v[9], Widened: [2]float64{v[10], v[11]},
		Rule: ShoreRule(v[12]), ChartOffset: length(13), ChartScale: v[14], Sill: length(15), Range: length(16), Noise: length(17)}
	for i := fixed; i < len(v); i++ {
		q.RuleErrors = append(q.RuleErrors, length(i))
	}
	return q, true
}

// packer writes numbers and texts one after the other.
type packer struct{ bytes.Buffer }

func (w *packer) numbers(v ...float64) {
	b := slices.Grow(w.AvailableBuffer(), 8*len(v))
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	w.Write(b)
}

func (w *packer) text(s string) {
	w.numbers(float64(len(s)))
	w.WriteString(s)
}

func (w *packer) soundings(list []Sounding) {
	w.numbers(float64(len(list)))
	for _, s := range list {
		w.numbers(s.At.E, s.At.N, float64(s.Depth), float64(s.Sigma), float64(s.Kind))
		w.text(s.ID)
	}
}

// sealed ends the bytes with their hash.
func (w *packer) sealed() []byte {
	sum := sha256.Sum256(w.Bytes())
	w.Write(sum[:])
	return w.Bytes()
}

// opened checks hash and digest and gives what lies between.
func opened(data []byte, digest [sha256.Size]byte) ([]byte, bool) {
	end := len(data) - sha256.Size
	if end < sha256.Size || sha256.Sum256(data[:end]) != [sha256.Size]byte(data[end:]) || [sha256.Size]byte(data[:sha256.Size]) != digest {
		return nil, false
	}
	return data[sha256.Size:end], true
}

// numbers reads exactly n numbers.
func numbers(b []byte, n int) ([]float64, bool) {
	if len(b) != 8*n {
		return nil, false
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return v, true
}
