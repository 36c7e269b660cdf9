package cli

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/keep/exchange"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

type exportCmd struct {
	Format string `arg:"" enum:"geojson,gpx,kml,csv,calendar,ndjson" help:"geojson, gpx or kml (holes and hazards for a map), csv (one row a look, ice reading or fish), calendar (today's turn-back time with alarms), ndjson (the whole journal)."`
	Out    string `help:"File to write; else standard output." placeholder:"FILE"`
	Day    string `help:"Only this day (geojson, gpx, kml, csv)." placeholder:"DATE"`
	Names  bool   `help:"With ndjson: names and remarks too."`
	Whole  bool   `name:"what-is-whole" help:"With ndjson: the entries that verify, out of a damaged record."`
}

func (c exportCmd) Run(ctx context.Context, g *Globals) error {
	if c.Day != "" && !journal.Day(c.Day).Valid() {
		return fault.New(fault.BadInput, "Write it as 2026-01-15.", "%q is not a date", c.Day)
	}
	if c.Whole && c.Format == "ndjson" {
		return g.output(c.Out, func(w io.Writer) error { return g.salvage(ctx, w) })
	}
	s, err := g.read(ctx)
	if err != nil {
		return err
	}
	defer s.close()
	return g.output(c.Out, func(w io.Writer) error {
		if c.Format == "ndjson" {
			_, err := exchange.WriteNDJSON(ctx, s.store, w, exchange.WriteOptions{WithoutTexts: !c.Names})
			return err
		}
		if c.Format == "calendar" {
			return s.Alarms(ctx, w)
		}
		write := map[string]func(io.Writer, desk.View, journal.Day) error{"csv": writeCSV, "geojson": writeGeoJSON, "gpx": writeGPX, "kml": writeKML}[c.Format]
		return s.Read(ctx, func(v desk.View) error { return write(w, v, journal.Day(c.Day)) })
	})
}

// salvage writes the entries that verify out of a record that may be damaged, and says what was left behind.
func (g *Globals) salvage(ctx context.Context, w io.Writer) error {
	var line []byte
	audit, err := sqlite.Salvage(ctx, g.Data, func(_ store.Position, e *journal.Entry) error {
		var err error
		if line, err = journal.AppendLine(line[:0], e); err == nil {
			_, err = w.Write(line)
		}
		return err
	})
	if err != nil {
		return err
	}
	for _, d := range audit.Damage {
		fmt.Fprintf(g.env.Err, "left behind: %s: %s\n", d.Where, d.What)
	}
	return nil
}

// holeFacts gathers what happened at each hole.
type holeFacts struct {
	looks, withMarks, kept, putBack int
	ice                             quantity.Length
}

func gather(v desk.View) map[uuid.UUID]*holeFacts {
	out := map[uuid.UUID]*holeFacts{}
	at := func(id uuid.UUID) *holeFacts {
		if out[id] == nil {
			out[id] = &holeFacts{}
		}
		return out[id]
	}
	for _, l := range v.Lake.Looks {
		f := at(l.Hole)
		f.looks++
		if l.Marks != lake.None {
			f.withMarks++
		}
	}
	for _, r := range v.Lake.Ice {
		at(r.Hole).ice = r.Total
	}
	for _, x := range v.Party.Fish {
		if x.Kept {
			at(x.Hole).kept += x.Count
		} else {
			at(x.Hole).putBack += x.Count
		}
	}
	return out
}

type feature struct {
	Type       string         `json:"type"`
	ID         string         `json:"id"`
	Geometry   map[string]any `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

// lonLat writes a place in the order of RFC 7946, to 1e-7 degree.
func lonLat(f geo.Frame, l geo.Local) [2]json.Number {
	p := f.Position(l)
	n := func(x float64) json.Number { return json.Number(strconv.FormatFloat(x, 'f', 7, 64)) }
	return [2]json.Number{n(p.Lon), n(p.Lat)}
}

// writeGeoJSON writes holes and hazards as RFC 7946.
func writeGeoJSON(w io.Writer, v desk.View, day journal.Day) error {
	facts := gather(v)
	features := []feature{}
	for _, h := range v.Lake.Holes {
		if !h.Placed || day != "" && h.Day != day {
			continue
		}
		f := facts[h.ID]
		if f == nil {
			f = &holeFacts{}
		}
		p := map[string]any{"what": "hole", "number": h.Number, "day": h.Day, "time": h.Drilled.In(v.Lake.Zone).Format(time.RFC3339), "looks": f.looks,
			"looks_with_marks": f.withMarks, "kept": f.kept, "put_back": f.putBack}
		if h.Depth > 0 {
			p["depth_m"] = round3(h.Depth.Metres())
		}
		if f.ice > 0 {
			p["ice_m"] = round3(f.ice.Metres())
		}
		features = append(features, feature{"Feature", h.ID.String(), map[string]any{"type": "Point", "coordinates": lonLat(v.Lake.Frame, h.At)}, p})
	}
	for _, h := range v.Lake.Hazards {
		if day != "" && journal.DayOf(h.When, v.Lake.Zone) > day {
			continue
		}
		features = append(features, feature{"Feature", h.ID.String(), hazardGeometry(v.Lake.Frame, h), map[string]any{"what": "hazard", "hazard": h.What,
			"report": h.Report, "in_force": h.InForce(), "reported": h.When.In(v.Lake.Zone).Format(time.RFC3339), "radius_m": round3(h.Radius.Metres())}})
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(map[string]any{"type": "FeatureCollection", "features": features})
}

func hazardGeometry(f geo.Frame, h *lake.Hazard) map[string]any {
	pts := [][2]json.Number{}
	for _, p := range h.Points {
		pts = append(pts, lonLat(f, p))
	}
	switch h.Shape {
	case "point":
		return map[string]any{"type": "Point", "coordinates": pts[0]}
	case "line":
		return map[string]any{"type": "LineString", "coordinates": pts}
	}
	return map[string]any{"type": "Polygon", "coordinates": [][][2]json.Number{append(pts, pts[0])}}
}

func round3(x float64) json.Number { return json.Number(strconv.FormatFloat(x, 'f', 3, 64)) }

// writeCSV writes one row a look, ice reading or fish, units in the header, times with offset.
func writeCSV(w io.Writer, v desk.View, day journal.Day) error {
	out := csv.NewWriter(w)
	rows := [][]string{{"what", "time", "day", "hole", "lat", "lon", "depth_m", "seconds", "marks", "count", "ice_m", "white_m", "snow_m", "species", "length_m", "kept", "fish", "id"}}
	row := func(what string, at time.Time, hole uuid.UUID, id uuid.UUID, fill func(map[string]string)) {
		h := v.Lake.Hole(hole)
		d := journal.DayOf(at, v.Lake.Zone)
		if day != "" && d != day {
			return
		}
		m := map[string]string{"what": what, "time": at.In(v.Lake.Zone).Format(time.RFC3339), "day": string(d), "id": id.String()}
		if h != nil {
			m["hole"] = strconv.FormatInt(h.Number, 10)
			if h.Placed {
				p := v.Lake.Frame.Position(h.At)
				m["lat"], m["lon"] = strconv.FormatFloat(p.Lat, 'f', 7, 64), strconv.FormatFloat(p.Lon, 'f', 7, 64)
			}
			if h.Depth > 0 {
				m["depth_m"] = string(round3(h.Depth.Metres()))
			}
		}
		fill(m)
		cells := make([]string, len(rows[0]))
		for i, k := range rows[0] {
			cells[i] = m[k]
		}
		rows = append(rows, cells)
	}
	for _, l := range v.Lake.Looks {
		row("look", l.When, l.Hole, l.ID, func(m map[string]string) {
			m["seconds"], m["marks"] = fmt.Sprintf("%.0f", l.Length.Seconds()), l.Marks.String()
			if l.Count >= 0 {
				m["count"] = strconv.Itoa(l.Count)
			}
		})
	}
	for _, r := range v.Lake.Ice {
		row("ice", r.When, r.Hole, r.ID, func(m map[string]string) {
			m["ice_m"] = string(round3(r.Total.Metres()))
			if r.WhiteTold {
				m["white_m"] = string(round3(r.White.Metres()))
			}
			if r.SnowTold {
				m["snow_m"] = string(round3(r.Snow.Metres()))
			}
		})
	}
	for _, x := range v.Party.Fish {
		row("fish", x.When, x.Hole, x.ID, func(m map[string]string) {
			m["species"], m["kept"], m["fish"] = guarded(x.Species), strconv.FormatBool(x.Kept), strconv.Itoa(x.Count)
			if x.Length > 0 {
				m["length_m"] = string(round3(x.Length.Metres()))
			}
		})
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("cli: writing csv: %w", err)
	}
	return nil
}

// guarded keeps a spreadsheet from reading a text as a formula. Numbers stay numbers.
func guarded(text string) string {
	if strings.ContainsAny(text[:min(1, len(text))], "=+-@\t\r\x00") {
		return "'" + text
	}
	return text
}
