package rehearse

import (
	"bytes"
	"fmt"
	"html"
	"math"
)

// Picture draws the report as an SVG: fish and good fish by rod-hour of every way at every stage, the range as a line,
// the figure beside it. It carries no colour that words do not repeat.
func (r *Report) Picture() []byte {
	const left, width, bar, gap, head = 150.0, 460.0, 11.0, 9.0, 34.0
	most := 0.0
	rows := 0
	for _, s := range r.Stages {
		rows += len(s.Policies) + 2
		for _, p := range s.Policies {
			if p.Name != "bound" && p.Name != "clairvoyant" { // they would squeeze the others into a corner
				most = math.Max(most, p.FishRange[1])
			}
		}
	}
	if most == 0 {
		most = 1
	}
	var b bytes.Buffer
	h := head + float64(rows)*(bar+gap) + 20
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 760 %.0f" font-family="sans-serif" font-size="11" role="img" aria-label="Fish by rod-hour on made-up lakes">`+"\n", h)
	fmt.Fprintf(&b, `<rect width="760" height="%.0f" fill="#fff"/><text x="10" y="16" font-size="13">Fish by rod-hour on made-up lakes; dark part: good fish; line: 95 %% range. No catch forecast.</text>`+"\n", h)
	y := head
	for _, s := range r.Stages {
		fmt.Fprintf(&b, `<text x="10" y="%.1f" font-weight="bold">%s ice</text>`+"\n", y+bar, html.EscapeString(s.Stage))
		y += bar + gap
		for _, p := range s.Policies {
			x := func(v float64) float64 { return left + width*math.Min(1, v/most) }
			fmt.Fprintf(&b, `<text x="%.0f" y="%.1f" text-anchor="end">%s</text>`, left-6, y+bar-2, html.EscapeString(p.Name))
			fmt.Fprintf(&b, `<rect x="%.0f" y="%.1f" width="%.1f" height="%.0f" fill="#bbb"/>`, left, y, x(p.FishPerHour)-left, bar)
			fmt.Fprintf(&b, `<rect x="%.0f" y="%.1f" width="%.1f" height="%.0f" fill="#333"/>`, left, y, x(p.GoodPerHour)-left, bar)
			fmt.Fprintf(&b, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="#000"/>`, x(p.FishRange[0]), y+bar/2, x(p.FishRange[1]), y+bar/2)
			fmt.Fprintf(&b, `<text x="%.1f" y="%.1f">%.2f</text>`+"\n", x(p.FishRange[1])+6, y+bar-2, p.FishPerHour)
			y += bar + gap
		}
		y += bar + gap
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}
