// Package intake brings a guide's files into the journal: read, show what would happen, and write only what was accepted.
//
// Start with [Read], which writes nothing and answers with a [Plan]; show its Preview, then [Commit] it. Committing the
// same file twice adds nothing, since the ids of its entries are drawn from its content.
// It leaves parsing to the feed packages and durable writing to package desk.
package intake

import (
	"context"
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/archive"
	"icehand/internal/feed/chart"
	"icehand/internal/feed/file"
	"icehand/internal/feed/holelog"
	"icehand/internal/feed/station"
	"icehand/internal/feed/weather"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// Plan is what committing a file would write.
type Plan struct {
	Name    string
	Data    []byte
	Options file.Options
	Preview file.Preview
	Entries int    // entries that committing would write
	Held    int    // of them, those on record already
	Founds  string // name of the lake that committing would found; "" when there is one

	origin geo.Position
	items  []desk.Item
	texts  map[uuid.UUID]string
}

// New tells how many entries are not on record yet.
func (p *Plan) New() int { return p.Entries - p.Held }

// Read reads a file and works out what committing it would write. It writes nothing. The preview is returned with the
// error of a file that is refused as a whole, so that every reason can be shown.
func Read(ctx context.Context, d *desk.Desk, name string, data []byte, opt file.Options) (*Plan, error) {
	p := &Plan{Name: baseName(name), Data: data, Options: opt, texts: map[uuid.UUID]string{}}
	info, err := d.Info(ctx)
	if err != nil {
		return p, err
	}
	if opt.Zone == nil && info.Known {
		opt.Zone = info.Zone
	}
	if opt.Today.IsZero() {
		opt.Today = d.Clock()
	}
	if opt.As == "" {
		kind, why := file.Detect(name, data)
		if kind == "" {
			return p, fault.New(fault.BadInput, "Say what it is: --as outline, soundings, holes, weather or station.", "%s is not recognised: %s", p.Name, why)
		}
		opt.As = kind
	}
	p.Options.As = opt.As
	if !info.Known && opt.As != file.Outline {
		return p, fault.New(fault.Missing, "Import the outline first: icehand import OUTLINE.geojson --tz ZONE.", "%s (%s) needs a lake, and none is recorded yet", p.Name, opt.As)
	}
	switch opt.As {
	case file.Outline:
		err = p.outline(ctx, d, info, opt)
	case file.Soundings:
		err = p.soundings(ctx, d, info, opt)
	case file.Holes:
		err = p.holes(ctx, d, info, opt)
	case file.Weather:
		err = p.weather(info, opt)
	case file.Station:
		err = p.station(info, opt)
	default:
		err = fault.New(fault.BadInput, "Use outline, soundings, holes, weather or station.", "%q is no kind of file", opt.As)
	}
	if err != nil {
		return p, err
	}
	ids := make([]uuid.UUID, len(p.items))
	for i, it := range p.items {
		ids[i] = it.ID
	}
	p.Entries = len(ids)
	p.Held, err = d.Held(ctx, ids)
	return p, err
}

// Commit writes what was read: the file as it came, and its entries, all or none. It answers how many entries are new.
func Commit(ctx context.Context, d *desk.Desk, p *Plan) (added int, err error) {
	if p.Founds != "" {
		if err := d.FoundLake(ctx, desk.Act{}, p.Founds, p.origin, p.Options.Zone.String(), ""); err != nil {
			return 0, err
		}
		again, err := Read(ctx, d, p.Name, p.Data, p.Options) // now for the lake that exists
		if err != nil {
			return 0, err
		}
		added, err = Commit(ctx, d, again)
		return added + 1, err
	}
	return d.Batch(ctx, p.Data, p.items, p.texts)
}

// baseName drops folders, so that no path of the guide's machine is recorded.
func baseName(name string) string {
	return name[strings.LastIndexAny(name, `/\`)+1:]
}

// layer adds the layer entry and the record of the intake.
func (p *Plan) layer(info desk.LakeInfo, l journal.Layer) {
	l.Blob, l.Name, l.Options = journal.Sum(p.Data), p.Name, desk.FormatOptions(p.Options)
	l.Rows = int64(p.Preview.Taken)
	p.add(info, journal.KindLayer, l.What+l.Blob.String()+l.Options, p.Options.Today, &l)
	p.record(info)
}

// record adds the entry that says that this file was read in.
func (p *Plan) record(info desk.LakeInfo) {
	h := journal.Sum(p.Data)
	p.add(info, journal.KindIntake, h.String()+desk.FormatOptions(p.Options), p.Options.Today, &journal.Intake{File: h, Name: p.Name,
		As: string(p.Options.As), Rows: int64(p.Preview.Rows), Taken: int64(p.Preview.Taken), Refused: int64(p.Preview.Refused),
		Options: desk.FormatOptions(p.Options)})
}

func (p *Plan) add(info desk.LakeInfo, kind journal.Kind, key string, at time.Time, body journal.Body) uuid.UUID {
	id := journal.ContentID(info.ID, kind, key)
	p.items = append(p.items, desk.Item{ID: id, At: at, Body: body})
	return id
}

func (p *Plan) outline(ctx context.Context, d *desk.Desk, info desk.LakeInfo, opt file.Options) (err error) {
	var o chart.Outline
	if o, p.Preview, err = chart.ReadOutline(p.Name, p.Data, opt); err != nil {
		return err
	}
	p.Options.Today = opt.Today
	if !info.Known {
		if opt.Zone == nil {
			return fault.New(fault.BadInput, "Say it once, with a name of the IANA list: --tz Etc/GMT+3.", "the lake's time zone is not known")
		}
		if p.Founds = o.Name; p.Founds == "" {
			p.Founds = strings.TrimSuffix(p.Name, path.Ext(p.Name))
		}
		p.origin = middle(o)
		p.Preview.Summary = append(p.Preview.Summary, fmt.Sprintf("founds the lake %q in zone %s", p.Founds, opt.Zone))
	} else if err := p.sameLake(ctx, d, o); err != nil {
		return err
	}
	p.layer(info, journal.Layer{What: "outline", Media: media(p.Data)})
	return nil
}

// sameLake refuses an outline on which none of the holes on record lies: it is that of another water, or of something on this
// one, such as a hazard. It says how many lie off it, and that it takes another's place.
func (p *Plan) sameLake(ctx context.Context, d *desk.Desk, o chart.Outline) error {
	return d.Read(ctx, func(v desk.View) error {
		polygons := desk.Polygons(v.Lake.Frame, o)
		placed, off := 0, 0
		for _, h := range v.Lake.Holes {
			if !h.Placed {
				continue
			}
			placed++
			if !slices.ContainsFunc(polygons, func(g geo.Polygon) bool { return g.Contains(h.At) }) {
				off++
			}
		}
		if off > 0 && off == placed {
			p.Preview.Reject("", "", fmt.Sprintf("none of the %d holes on record lies on it", placed), "Import the outline of this lake; if the file holds soundings, say --as soundings.")
			return p.Preview.Err()
		}
		if off > 0 {
			p.Preview.Remark(0, "", "", fmt.Sprintf("%d of the %d holes on record lie off this outline", off, placed), "Look whether it is the whole lake.")
		}
		if l := v.Lake.Layer("outline"); l != nil && l.Blob != journal.Sum(p.Data) {
			p.Preview.Remark(0, "", "", fmt.Sprintf("this takes the place of the outline of %q", l.Name), "")
		}
		return nil
	})
}

// media names the format of a chart file for whoever finds it in the record.
func media(data []byte) string {
	format, err := file.FormatOf(data, file.Options{})
	name, known := map[file.Format]string{file.FormatTable: "text/csv", file.FormatJSON: "application/geo+json", file.FormatGPX: "application/gpx+xml",
		file.FormatKML: "application/vnd.google-earth.kml+xml", file.FormatGrid: "text/plain", file.FormatNMEA: "text/plain", file.FormatShape: "application/zip"}[format]
	if err != nil || !known || strings.HasPrefix(string(data[:min(len(data), len(archive.Magic))]), archive.Magic) {
		return "application/zip"
	}
	return name
}

// middle gives the centre of the outline's bounds, rounded to a hundredth of a degree: the origin of the lake's plane.
func middle(o chart.Outline) geo.Position {
	lo, hi := o.Polygons[0].Outer[0], o.Polygons[0].Outer[0]
	for _, g := range o.Polygons {
		for _, q := range g.Outer {
			lo = geo.Position{Lat: min(lo.Lat, q.Lat), Lon: min(lo.Lon, q.Lon)}
			hi = geo.Position{Lat: max(hi.Lat, q.Lat), Lon: max(hi.Lon, q.Lon)}
		}
	}
	round := func(x float64) float64 { v, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', 2, 64), 64); return v }
	return geo.Position{Lat: round((lo.Lat + hi.Lat) / 2), Lon: round((lo.Lon + hi.Lon) / 2)}
}

func (p *Plan) soundings(ctx context.Context, d *desk.Desk, info desk.LakeInfo, opt file.Options) (err error) {
	var s chart.Soundings
	if s, p.Preview, err = chart.ReadSoundings(p.Name, p.Data, opt); err != nil {
		return err
	}
	p.Options.Today = opt.Today
	if err := p.onLake(ctx, d, s); err != nil {
		return err
	}
	p.layer(info, journal.Layer{What: "soundings", Media: media(p.Data), Unit: s.UnitStated})
	return nil
}

// onLake refuses soundings of another lake, and says what these do to those on record: only the newest are used.
func (p *Plan) onLake(ctx context.Context, d *desk.Desk, s chart.Soundings) error {
	where := make([]geo.Position, len(s.Points))
	for i, x := range s.Points {
		where[i] = x.Pos
	}
	land, err := d.OnLand(ctx, where)
	if err != nil {
		return err
	}
	ashore := 0
	for _, x := range land {
		if x {
			ashore++
		}
	}
	if ashore > 0 && ashore == len(where) {
		p.Preview.Reject("", "", fmt.Sprintf("none of its %d soundings lies on the lake", len(where)), "Import the chart of this lake, or look for swapped or shifted positions.")
		return p.Preview.Err()
	}
	if ashore > 0 {
		p.Preview.Remark(0, "", "", fmt.Sprintf("%d soundings lie on land by the lake's outline and will not be used", ashore), "")
	}
	return d.Read(ctx, func(v desk.View) error {
		if l := v.Lake.Layer("soundings"); l != nil && l.Blob != journal.Sum(p.Data) {
			p.Preview.Remark(0, "", "", fmt.Sprintf("these take the place of the soundings of %q: only the newest file of soundings is used", l.Name), "Put all soundings into one file to use them together.")
		}
		return nil
	})
}

func (p *Plan) weather(info desk.LakeInfo, opt file.Options) (err error) {
	var f weather.Forecast
	if f, p.Preview, err = weather.Read(p.Name, p.Data, opt); err != nil {
		return err
	}
	p.Options.Today = opt.Today
	l := journal.Layer{What: "forecast", Media: "application/octet-stream", Source: f.Source, Licence: f.Licence}
	if !f.Issued.IsZero() {
		l.Issued = f.Issued.UnixMilli()
	}
	if n := len(f.Hours); n > 0 {
		l.From, l.To = f.Hours[0].Start.UnixMilli(), f.Hours[n-1].Start.UnixMilli()
	}
	p.layer(info, l)
	return nil
}

// station takes a weather station's days: the ice column runs on them, and their frost is shown.
func (p *Plan) station(info desk.LakeInfo, opt file.Options) error {
	r, preview, err := station.Read(p.Name, p.Data, opt)
	p.Preview = preview
	if err != nil {
		return err
	}
	p.Options.Today = opt.Today
	l := journal.Layer{What: "station", Media: "text/plain", Source: "station " + r.Station}
	if n := len(r.Days); n > 0 {
		at := func(d file.Day) int64 {
			return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, info.Zone).UnixMilli()
		}
		l.From, l.To = at(r.Days[0].Date), at(r.Days[n-1].Date.Add(1))
	}
	p.layer(info, l)
	means, filled, from, err := r.LastSpan()
	if err != nil {
		p.Preview.Remark(0, "", "", "no freezing-degree days: "+fault.Public(err).Message, fault.Public(err).Hint)
		return nil
	}
	frost, net := station.Sums(means)
	p.Preview.Summary = append(p.Preview.Summary, fmt.Sprintf("Freezing-degree days from %s to %s: %.0f °C·d of frost alone, %.0f with thaw taken off; %d days filled in between their neighbours.",
		from, from.Add(len(means)-1), float64(frost), float64(net), filled))
	return nil
}

func (p *Plan) holes(ctx context.Context, d *desk.Desk, info desk.LakeInfo, opt file.Options) error {
	log, preview, err := holelog.Read(p.Name, p.Data, opt)
	p.Preview = preview
	if err != nil {
		return err
	}
	p.Options.Today = opt.Today
	rows, err := p.onWater(ctx, d, log.Rows)
	if err != nil {
		return err
	}
	w := holeWriter{plan: p, info: info, file: journal.Sum(p.Data), made: map[uuid.UUID]bool{}}
	for _, r := range rows {
		w.row(r)
	}
	if w.unnamed > 0 {
		p.Preview.Remark(0, "", "", fmt.Sprintf("%d rows with fish name no species; taken as perch", w.unnamed), "Name the species in the file if that is wrong.")
	}
	if w.loose > 0 {
		p.Preview.Remark(0, "", "", fmt.Sprintf("%d rows give lengths for kept and put-back fish together; the fish are counted, the lengths go to the remarks", w.loose), "Give each fish its own row to keep them.")
	}
	p.record(info)
	return nil
}

// onWater refuses the rows whose position lies on land.
func (p *Plan) onWater(ctx context.Context, d *desk.Desk, rows []holelog.Row) ([]holelog.Row, error) {
	var where []geo.Position
	for _, r := range rows {
		if r.Pos != nil {
			where = append(where, *r.Pos)
		}
	}
	land, err := d.OnLand(ctx, where)
	if err != nil || land == nil {
		return rows, err
	}
	kept, i := rows[:0:0], 0
	for _, r := range rows {
		if r.Pos != nil {
			if i++; land[i-1] {
				p.Preview.Taken--
				p.Preview.Refuse(r.Row, "position", r.Pos.DecimalText(), "lies on land by the lake's outline", "Correct the position, or mend the outline.")
				continue
			}
		}
		kept = append(kept, r)
	}
	return kept, nil
}
