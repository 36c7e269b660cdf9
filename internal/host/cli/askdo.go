package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
	"icehand/internal/host/desk"
	"icehand/internal/host/intake"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

func (a *asker) doLake(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Name      string          `json:"name"`
		Outline   json.RawMessage `json:"outline"` // GeoJSON
		Soundings []struct {
			Lat    float64 `json:"lat"`
			Lon    float64 `json:"lon"`
			DepthM float64 `json:"depth_m"`
		} `json:"soundings"`
		Zone     string      `json:"zone"`
		FreezeUp journal.Day `json:"freeze_up"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if len(m.Outline) == 0 || m.Zone == "" {
		return nil, fault.New(fault.BadInput, `Give "outline" as GeoJSON and "zone" as a name of the IANA list.`, "a lake needs an outline and a zone")
	}
	zone, err := time.LoadLocation(m.Zone)
	if err != nil {
		return nil, fault.New(fault.BadInput, "Use a name of the IANA list, such as Etc/GMT+3.", "%q is not the name of a time zone", m.Zone)
	}
	if m.Name == "" {
		m.Name = "lake"
	}
	if err := a.take(ctx, m.Name+".geojson", m.Outline, file.Options{As: file.Outline, Zone: zone, Today: a.now}); err != nil {
		return nil, err
	}
	if m.FreezeUp != "" {
		if err := a.desk.FoundLake(ctx, desk.Act{}, m.Name, geo.Position{}, m.Zone, m.FreezeUp); err != nil {
			return nil, err
		}
	}
	if len(m.Soundings) > 0 {
		var b strings.Builder
		b.WriteString("lat,lon,depth_m\n")
		for _, s := range m.Soundings {
			fmt.Fprintf(&b, "%.8f,%.8f,%.3f\n", s.Lat, s.Lon, s.DepthM)
		}
		if err := a.take(ctx, "soundings.csv", []byte(b.String()), file.Options{As: file.Soundings, Today: a.now}); err != nil {
			return nil, err
		}
	}
	return a.done(ctx, uuid.Nil)
}

// take reads and commits a file's bytes; one refused row refuses it all, since a script should hear of it.
func (a *asker) take(ctx context.Context, name string, data []byte, opt file.Options) error {
	p, err := intake.Read(ctx, a.desk, name, data, opt)
	if err != nil {
		return err
	}
	for _, x := range p.Preview.Problems {
		if x.Severity == file.Refused {
			return fault.New(fault.BadInput, x.Mend, "%s, row %d: %s", name, x.Row, x.Reason)
		}
	}
	_, err = intake.Commit(ctx, a.desk, p)
	return err
}

func (a *asker) doParty(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time   *time.Time `json:"time"`
		Rods   int64      `json:"rods"`
		At     *askPoint  `json:"at"` // the landing
		Travel string     `json:"travel"`
		Aim    string     `json:"aim"`
		Target string     `json:"target"`
		Agreed *time.Time `json:"ashore"`
		DrillM float64    `json:"drill_m"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	t := &journal.Trip{Rods: m.Rods, Travel: m.Travel, Aim: m.Aim, Target: m.Target}
	if t.Travel == "" {
		t.Travel = "foot"
	}
	if m.At != nil {
		p, err := m.At.position()
		if err != nil {
			return nil, err
		}
		t.Landing = journal.PointOf(p)
	}
	if m.Agreed != nil {
		t.Agreed = m.Agreed.UnixMilli()
	}
	if m.DrillM > 0 {
		t.Metres = journal.MM(quantity.Length(m.DrillM))
	}
	if err := a.desk.Record(ctx, desk.Act{At: at}, t); err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

func (a *asker) doLook(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		At      *askPoint  `json:"at"`
		Hole    *askHole   `json:"hole"`
		DepthM  *float64   `json:"depth_m"`
		Seconds int        `json:"seconds"`
		Marks   *int       `json:"marks"`
		HeightM float64    `json:"height_m"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	class, err := markClass(m.Marks)
	if err != nil {
		return nil, err
	}
	x := desk.LookAct{Act: desk.Act{At: at}, Marks: class, Count: m.Marks, Seconds: m.Seconds, Height: quantity.Length(m.HeightM)}
	if m.DepthM != nil {
		if !(*m.DepthM > 0) {
			return nil, fault.New(fault.BadInput, "Leave it out when it was not measured.", "a depth of %g m", *m.DepthM)
		}
		x.Depth = quantity.Length(*m.DepthM)
	}
	if x.Hole, err = a.ref(ctx, m.Hole, m.At, at); err != nil {
		return nil, err
	}
	hole, err := a.desk.Look(ctx, x)
	if err != nil {
		return nil, err
	}
	return a.done(ctx, hole)
}

// markClass turns a count of marks into its class: few up to three, many from four.
func markClass(n *int) (lake.Marks, error) {
	switch {
	case n == nil:
		return lake.None, fault.New(fault.BadInput, `Give "marks": 0 when nothing was seen.`, "a look without its number of marks")
	case *n < 0:
		return lake.None, fault.New(fault.BadInput, "Count from 0.", "%d marks", *n)
	case *n == 0:
		return lake.None, nil
	case *n <= 3:
		return lake.Few, nil
	}
	return lake.Many, nil
}

func (a *asker) doSit(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Rod    int        `json:"rod"`
		Hole   *askHole   `json:"hole"`
		At     *askPoint  `json:"at"`
		From   *time.Time `json:"from"`
		To     *time.Time `json:"to"`
		Marks  *int       `json:"marks"` // seen at the end of the sit
		Target string     `json:"target"`
		Guest  string     `json:"guest"` // whose rod it is
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if m.From == nil || m.To != nil && !m.To.After(*m.From) {
		return nil, fault.New(fault.BadInput, `Give "from", and "to" after it or not at all.`, "a sit without a beginning, or with an end before it")
	}
	for _, t := range []*time.Time{m.From, m.To} {
		if _, err := a.at(t); err != nil {
			return nil, err
		}
	}
	ref, err := a.ref(ctx, m.Hole, m.At, *m.From)
	if err != nil {
		return nil, err
	}
	guest, err := a.guest(ctx, m.Guest)
	if err != nil {
		return nil, err
	}
	sit := journal.NewID()
	if err := a.desk.Sit(ctx, desk.Act{ID: sit, At: *m.From}, ref, m.Rod, guest, m.Target); err != nil {
		return nil, err
	}
	if m.To != nil {
		if err := a.desk.Up(ctx, desk.Act{At: *m.To}, sit, ""); err != nil {
			return nil, err
		}
	}
	hole := uuid.Nil
	err = a.desk.Read(ctx, func(v desk.View) error {
		for _, s := range v.Party.Sits {
			if s.ID == sit {
				hole = s.Hole
			}
		}
		return nil
	})
	if err == nil && m.Marks != nil {
		err = a.sitMarks(ctx, m.Marks, hole, sit, m.From, m.To)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, hole)
}

// sitMarks records what the sonar showed while sitting, as a look as long as the sit.
func (a *asker) sitMarks(ctx context.Context, marks *int, hole, sit uuid.UUID, from, to *time.Time) error {
	class, err := markClass(marks)
	if err != nil {
		return err
	}
	x := desk.LookAct{Act: desk.Act{At: *from}, Hole: desk.HoleRef{ID: hole}, Marks: class, Count: marks, Sit: sit}
	if to != nil {
		x.At, x.Seconds = *to, int(math.Min(to.Sub(*from).Seconds(), 24*3600))
	}
	_, err = a.desk.Look(ctx, x)
	return err
}

func (a *asker) doFish(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		Rod     int        `json:"rod"`
		Hole    *askHole   `json:"hole"`
		Cm      float64    `json:"cm"`
		Kept    bool       `json:"kept"`
		Species string     `json:"species"`
		Count   int        `json:"count"`
		Guest   string     `json:"guest"` // whose fish it is; else no name yet
		Size    string     `json:"size"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if m.Count < 0 || m.Cm < 0 {
		return nil, fault.New(fault.BadInput, "Give counts and lengths from 0.", "a negative count or length")
	}
	hole, err := a.hole(ctx, m.Hole, at)
	if err != nil {
		return nil, err
	}
	guest, err := a.guest(ctx, m.Guest)
	if err != nil {
		return nil, err
	}
	x := desk.FishAct{Act: desk.Act{At: at}, Hole: hole, Rod: m.Rod, Guest: guest, Size: m.Size, Species: m.Species, Kept: m.Kept, Count: m.Count, Length: quantity.Length(m.Cm) * quantity.Centimetre}
	if err := a.desk.Fish(ctx, x); err != nil {
		return nil, err
	}
	return a.done(ctx, hole)
}

func (a *asker) doBite(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		Rod  int64      `json:"rod"`
		Hole *askHole   `json:"hole"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	hole, err := a.hole(ctx, m.Hole, at)
	if err == nil {
		err = a.desk.Record(ctx, desk.Act{At: at}, &journal.Bite{Hole: hole, Rod: m.Rod})
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, hole)
}

func (a *asker) doIce(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		At      *askPoint  `json:"at"`
		Hole    *askHole   `json:"hole"`
		Cm      float64    `json:"cm"`
		WhiteCm *float64   `json:"white_cm"`
		SnowCm  *float64   `json:"snow_cm"`
		WaterCm *float64   `json:"water_cm"` // below the ice top
		Slush   bool       `json:"slush"`
		Layered bool       `json:"layered"`
		Grey    bool       `json:"grey"`
		Rotten  bool       `json:"rotten"`
		Current bool       `json:"current"`
		Crack   string     `json:"crack"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	ref, err := a.ref(ctx, m.Hole, m.At, at)
	if err != nil {
		return nil, err
	}
	cm := func(v *float64) *int64 {
		if v == nil {
			return nil
		}
		return journal.MM(quantity.Length(*v) * quantity.Centimetre)
	}
	hole, err := a.desk.ReadIce(ctx, desk.IceAct{Act: desk.Act{At: at}, Hole: ref, Reading: journal.Ice{Total: *cm(&m.Cm), White: cm(m.WhiteCm), Snow: cm(m.SnowCm),
		Water: cm(m.WaterCm), Slush: m.Slush, Layered: m.Layered, Grey: m.Grey, Rotten: m.Rotten, Current: m.Current, Crack: m.Crack}})
	if err != nil {
		return nil, err
	}
	return a.done(ctx, hole)
}

func (a *asker) doCrowd(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time     *time.Time `json:"time"`
		At       *askPoint  `json:"at"`
		RadiusM  float64    `json:"radius_m"`
		Shelters int64      `json:"shelters"`
		Gone     bool       `json:"gone"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if m.At == nil {
		return nil, fault.New(fault.BadInput, `Give "at".`, "a crowd without a place")
	}
	return a.record(ctx, m.Time, &journal.Crowd{At: point(*m.At), Radius: int64(m.RadiusM * 1000), Shelters: m.Shelters, Gone: m.Gone})
}

func point(p askPoint) journal.Point {
	return journal.Point{Lat: int64(math.Round(p.Lat * 1e7)), Lon: int64(math.Round(p.Lon * 1e7))}
}

func (a *asker) record(ctx context.Context, t *time.Time, body journal.Body) (any, error) {
	at, err := a.at(t)
	if err == nil {
		err = a.desk.Record(ctx, desk.Act{At: at}, body)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

func (a *asker) doHazard(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		What    string     `json:"what"`
		Shape   string     `json:"shape"`
		Points  []askPoint `json:"points"`
		RadiusM float64    `json:"radius_m"`
		GapCm   *float64   `json:"gap_cm"` // of a ridge or crack
		Report  string     `json:"report"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	h := &journal.Hazard{What: m.What, Shape: m.Shape, Radius: int64(m.RadiusM * 1000), Report: m.Report}
	if h.Report == "" {
		h.Report = "present"
	}
	if m.GapCm != nil {
		h.Gap = journal.MM(quantity.Length(*m.GapCm) * quantity.Centimetre)
	}
	for _, p := range m.Points {
		h.Points = append(h.Points, point(p))
	}
	return a.record(ctx, m.Time, h)
}

func (a *asker) doWeather(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time     *time.Time `json:"time"`
		AirC     *float64   `json:"air_c"`
		WindKmh  *float64   `json:"wind_kmh"`
		FromDeg  *int64     `json:"from_deg"`
		CloudPct *int64     `json:"cloud_pct"`
		Height   string     `json:"wind_height"` // face (default) or mast
		SightM   *float64   `json:"sight_m"`
		Snowing  string     `json:"snowing"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	w := &journal.Weather{From: m.FromDeg, Cloud: m.CloudPct, WindHeight: m.Height, Snowing: m.Snowing}
	if m.SightM != nil {
		w.Sight = journal.MM(quantity.Length(*m.SightM))
	}
	if m.AirC != nil {
		v := int64(math.Round(*m.AirC * 10))
		w.Air = &v
	}
	if m.WindKmh != nil {
		v := int64(math.Round(*m.WindKmh / 3.6 * 1000))
		w.Wind = &v
	}
	return a.record(ctx, m.Time, w)
}

func (a *asker) doForecast(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time      *time.Time      `json:"time"`
		Gridpoint json.RawMessage `json:"gridpoint"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if err := a.take(ctx, "forecast.json", m.Gridpoint, file.Options{As: file.Weather, Today: at}); err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doNight ends the day: sits that still last end now.
func (a *asker) doNight(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	var lasting []uuid.UUID
	err = a.desk.Read(ctx, func(v desk.View) error {
		for _, s := range v.Party.RodsAt(at) {
			lasting = append(lasting, s.ID)
		}
		return nil
	})
	for _, id := range lasting {
		if err == nil {
			err = a.desk.Up(ctx, desk.Act{At: at}, id, "done")
		}
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}
