// Package ground answers how deep the lake is at any place of the working area, how sure that is, where water ends and
// land begins, and how steep the bottom is.
//
// Start with [Build]: outline, chart soundings and holes in, one [Surface] out. When holes come in one by one, keep a
// [Chart] from [BuildChart] and call [Chart.Surface] with all holes after each.
// It assumes that holes are the better witness and the chart the wider one: the chart may be wrong by an offset, a
// scale and a smooth local error, and holes correct all three. It knows nothing of hazards, ice or changes of the water
// level during a season, and it invents no depth outside the outline, on islands or outside the working area.
// Model note: docs/models/ground.md.
package ground

import (
	"context"
	"fmt"
	"math"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Kind tells where a sounding comes from.
type Kind int

// The kinds of sounding.
const (
	FromChart Kind = iota // an existing chart or survey
	FromHole              // measured through a hole by the outfit
)

// String names the kind as a person would.
func (k Kind) String() string {
	if k == FromHole {
		return "hole"
	}
	return "chart sounding"
}

// Sounding is one measured depth.
type Sounding struct {
	At    geo.Local
	Depth quantity.Length
	Sigma quantity.Length // standard deviation of its error; 0 means 0.3 m for a chart, 0.15 m for a hole
	Kind  Kind
	ID    string // what errors call it; may be empty
}

// Window is the working area, an upright rectangle on the lake's plane.
type Window struct {
	Min, Max geo.Local
}

// Input is everything a surface is made of.
type Input struct {
	Outline   []geo.Polygon // the lake; islands are holes of a polygon. Needed.
	Soundings []Sounding
	Window    *Window         // nil: around the soundings, or the whole outline without any
	Cell      quantity.Length // side of a grid cell; 0: the smallest round size that keeps the grid below 90,000 cells
}

const (
	// common practice, no source: a lead line or a chart's contour, and a sonar under ice read to the tenth
	chartSigma = 0.30 * quantity.Metre
	holeSigma  = 0.15 * quantity.Metre
	// common practice, no source: outlines and phone fixes may both be off by this much at the bank
	bankTolerance = 30 * quantity.Metre
	// deeper than any lake on Earth, so surely a wrong unit (Baikal, 1642 m; unverified)
	absurdDepth = 1700 * quantity.Metre
	// how far beyond the soundings a window is drawn by default
	windowMargin = 200 * quantity.Metre
	mostCells    = 4_000_000
	plentyCells  = 90_000
)

// Build makes the depth surface. A sounding that cannot be true is an error that names it; none is left out silently.
// Without soundings the surface knows land and water but no depth.
func Build(ctx context.Context, in Input) (*Surface, error) {
	if in.Window == nil {
		in.Window = in.around()
	}
	var holes []Sounding
	chart := make([]Sounding, 0, len(in.Soundings))
	for _, s := range in.Soundings {
		if s.Kind == FromHole {
			holes = append(holes, s)
		} else {
			chart = append(chart, s)
		}
	}
	in.Soundings = chart
	c, err := BuildChart(ctx, in)
	if err != nil {
		return nil, err
	}
	return c.Surface(ctx, holes)
}

// around gives the default working area.
func (in Input) around() *Window {
	box := emptyWindow()
	for _, g := range in.Outline {
		for _, p := range g.Outer {
			box = box.with(p)
		}
	}
	data, places := emptyWindow(), 0
	for _, s := range in.Soundings {
		if !math.IsNaN(s.At.E+s.At.N) && !math.IsInf(s.At.E+s.At.N, 0) { // the others are refused by name later
			data = data.with(s.At)
			places++
		}
	}
	if places == 0 {
		return &box
	}
	data = data.grown(float64(windowMargin))
	return &Window{
		Min: geo.Local{E: math.Max(box.Min.E, data.Min.E), N: math.Max(box.Min.N, data.Min.N)},
		Max: geo.Local{E: math.Min(box.Max.E, data.Max.E), N: math.Min(box.Max.N, data.Max.N)},
	}
}

func emptyWindow() Window {
	inf := math.Inf(1)
	return Window{geo.Local{E: inf, N: inf}, geo.Local{E: -inf, N: -inf}}
}

func (w Window) with(p geo.Local) Window {
	return Window{
		geo.Local{E: math.Min(w.Min.E, p.E), N: math.Min(w.Min.N, p.N)},
		geo.Local{E: math.Max(w.Max.E, p.E), N: math.Max(w.Max.N, p.N)},
	}
}

// grown widens the window by m metres on every side.
func (w Window) grown(m float64) Window {
	return Window{geo.Local{E: w.Min.E - m, N: w.Min.N - m}, geo.Local{E: w.Max.E + m, N: w.Max.N + m}}
}

func (w Window) contains(p geo.Local) bool {
	return p.E >= w.Min.E && p.E <= w.Max.E && p.N >= w.Min.N && p.N <= w.Max.N
}

// checkOutline refuses an outline that encloses nothing.
func checkOutline(outline []geo.Polygon) error {
	if len(outline) == 0 {
		return fault.New(fault.Missing, "Import the lake's outline first.", "there is no lake outline")
	}
	for i, g := range outline {
		for _, ring := range append([][]geo.Local{g.Outer}, g.Holes...) {
			if len(ring) < 3 {
				return fault.New(fault.BadInput, "Draw every ring with three corners or more.",
					"part %d of the outline has a ring of %d corners", i+1, len(ring))
			}
			for _, p := range ring {
				if math.IsNaN(p.E+p.N) || math.IsInf(p.E+p.N, 0) {
					return fault.New(fault.BadInput, "Check the outline's file.", "part %d of the outline has a corner that is no place", i+1)
				}
			}
		}
	}
	return nil
}

// checkSoundings names the first sounding that cannot be true and counts the rest.
func checkSoundings(list []Sounding, s *shore) error {
	var first error
	bad := 0
	for i, d := range list {
		hint, what := complaint(d, s)
		if what == "" {
			continue
		}
		if bad++; first == nil {
			name := d.ID
			if name == "" {
				name = fmt.Sprintf("number %d", i+1)
			}
			first = fault.New(fault.BadInput, hint, "%s %s %s", d.Kind, name, what)
		}
	}
	if f, ok := first.(*fault.Error); ok && bad > 1 {
		f.Message += fmt.Sprintf(" (and %d more)", bad-1)
	}
	return first
}

// complaint tells what is wrong with a sounding and how to mend it; empty when nothing is.
func complaint(d Sounding, s *shore) (hint, what string) {
	depth, sigma := float64(d.Depth), float64(d.Sigma)
	switch {
	case math.IsNaN(d.At.E+d.At.N) || math.IsInf(d.At.E+d.At.N, 0):
		return "Give it a position.", "has no position"
	case math.IsNaN(depth) || math.IsInf(depth, 0):
		return "Give it a depth or leave it out.", "has no depth"
	case depth < 0:
		return "Depths count downwards and are positive; if the file counts heights, turn the sign on import.",
			fmt.Sprintf("has the negative depth %.2f m", depth)
	case d.Depth > absurdDepth:
		return "Check the unit of its depth.", fmt.Sprintf("is %.0f m deep, deeper than any lake", depth)
	case math.IsNaN(sigma) || sigma < 0 || math.IsInf(sigma, 0):
		return "Give its error as a positive length, or 0 for the usual one.", "has an error that is no length"
	case !s.contains(d.At) && s.distance(d.At) > float64(bankTolerance):
		return "Correct its position, mend the outline there, or leave it out.",
			fmt.Sprintf("lies on land, %.0f m from the water of the outline", s.distance(d.At))
	}
	return "", ""
}

// sigmaM gives the standard deviation of a sounding in metres.
func (d Sounding) sigmaM() float64 {
	switch {
	case d.Sigma > 0:
		return float64(d.Sigma)
	case d.Kind == FromHole:
		return float64(holeSigma)
	}
	return float64(chartSigma)
}
