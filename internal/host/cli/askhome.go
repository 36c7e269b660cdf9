package cli

import (
	"context"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// doHours tells hours that end a day; "" takes one back, and what is absent stays.
func (a *asker) doHours(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time     *time.Time `json:"time"`
		Legal    *string    `json:"legal_close"`
		Fuel     *string    `json:"fuel_until"`
		Crossing *string    `json:"crossing_by"`
		Cold     *string    `json:"cold_until"`
		PackUp   *int       `json:"pack_up_min"`
		Margin   *int       `json:"margin_min"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	told := map[string]string{}
	for which, clock := range map[string]*string{desk.LegalClose: m.Legal, desk.FuelUntil: m.Fuel, desk.CrossingBy: m.Crossing, desk.ColdUntil: m.Cold} {
		if clock != nil {
			told[which] = *clock
		}
	}
	for which, minutes := range map[string]*int{desk.PackUp: m.PackUp, desk.Margin: m.Margin} {
		switch {
		case minutes == nil:
		case *minutes == 0:
			told[which] = ""
		default:
			told[which] = strconv.Itoa(*minutes)
		}
	}
	if len(told) == 0 {
		return nil, fault.New(fault.BadInput, "Give one or more of "+strings.Join(append(desk.HourKeys(), desk.SpareKeys()...), ", ")+".", "no hour was told")
	}
	at, err := a.at(m.Time)
	if err == nil {
		err = a.desk.SetHours(ctx, desk.Act{At: at}, told)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// people finds people of the day by name.
func (a *asker) people(ctx context.Context, names []string) (out []uuid.UUID, err error) {
	err = a.desk.Read(ctx, func(v desk.View) error {
		for _, n := range names {
			id, err := v.GuestNamed(n)
			if err != nil {
				return err
			}
			out = append(out, id)
		}
		return nil
	})
	return out, err
}

// guest finds one of the day by name; zero for "".
func (a *asker) guest(ctx context.Context, name string) (uuid.UUID, error) {
	if name == "" {
		return uuid.Nil, nil
	}
	who, err := a.people(ctx, []string{name})
	if err != nil {
		return uuid.Nil, err
	}
	return who[0], nil
}

// doHeadCount records a roll call by name.
func (a *asker) doHeadCount(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		Present []string   `json:"present"`
		Missing []string   `json:"missing"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if _, err := a.at(m.Time); err != nil {
		return nil, err
	}
	present, err := a.people(ctx, m.Present)
	if err != nil {
		return nil, err
	}
	missing, err := a.people(ctx, m.Missing)
	if err != nil {
		return nil, err
	}
	return a.record(ctx, m.Time, &journal.HeadCount{Present: present, Missing: missing})
}

// doWatch records something of the cold and shelter watch.
func (a *asker) doWatch(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time   *time.Time `json:"time"`
		What   string     `json:"what"`
		Person string     `json:"person"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	who := uuid.Nil
	if m.Person != "" {
		found, err := a.people(ctx, []string{m.Person})
		if err != nil {
			return nil, err
		}
		who = found[0]
	}
	if err := a.desk.Watched(ctx, desk.Act{At: at}, m.What, who); err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doLine records a travelled line with the accuracy of its fixes.
func (a *asker) doLine(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Purpose string   `json:"purpose"`
		Travel  string   `json:"travel"`
		People  []string `json:"people"`
		Fixes   []struct {
			Lat       float64   `json:"lat"`
			Lon       float64   `json:"lon"`
			AccuracyM float64   `json:"accuracy_m"`
			Time      time.Time `json:"time"`
		} `json:"fixes"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	id := journal.NewID()
	x := desk.LineAct{Act: desk.Act{ID: id}, Of: id, Purpose: m.Purpose, Travel: m.Travel}
	for _, f := range m.Fixes {
		p, err := askPoint{Lat: f.Lat, Lon: f.Lon}.position()
		if err != nil {
			return nil, err
		}
		x.Fixes = append(x.Fixes, desk.LineFix{When: f.Time, At: p, Accuracy: quantity.Length(f.AccuracyM)})
	}
	if n := len(x.Fixes); n > 0 {
		at, err := a.at(&x.Fixes[n-1].When)
		if err != nil {
			return nil, err
		}
		x.At = at
	}
	var err error
	if x.People, err = a.people(ctx, m.People); err != nil {
		return nil, err
	}
	poor, err := a.desk.RecordLine(ctx, x)
	if err != nil {
		return nil, err
	}
	return map[string]any{"ok": true, "fixes": len(x.Fixes), "poor": poor}, nil
}
