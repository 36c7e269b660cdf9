package cli

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// doPerson records somebody of the day, out on the ice from then on unless it is said that they are not; ashore takes them off it.
func (a *asker) doPerson(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time  `json:"time"`
		Name    string      `json:"name"`
		Role    string      `json:"role"`
		Age     string      `json:"age"`
		Rod     int64       `json:"rod"`
		Licence string      `json:"licence"`
		Seen    bool        `json:"licence_seen"`
		Until   journal.Day `json:"licence_until"`
		Notes   string      `json:"notes"`
		OnIce   *bool       `json:"on_ice"`
		Ashore  bool        `json:"ashore"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if m.Ashore {
		who, err := a.people(ctx, []string{m.Name})
		if err != nil {
			return nil, err
		}
		return a.record(ctx, m.Time, &journal.Claim{Person: who[0], State: "ashore"})
	}
	err = a.desk.Join(ctx, desk.Act{At: at}, desk.Joining{Name: m.Name, Role: m.Role, Age: m.Age, Rod: m.Rod, Licence: m.Licence, Seen: m.Seen, Until: m.Until, Notes: m.Notes,
		OnIce: m.OnIce == nil || *m.OnIce})
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doRoster tells something of somebody of the day; what is absent stays.
func (a *asker) doRoster(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time   `json:"time"`
		Name    string       `json:"name"`
		Licence *string      `json:"licence"`
		Seen    *bool        `json:"licence_seen"`
		Until   *journal.Day `json:"licence_until"`
		Notes   *string      `json:"notes"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	who, err := a.people(ctx, []string{m.Name})
	if err == nil {
		err = a.desk.TellRoster(ctx, desk.Act{At: at}, who[0], desk.Roster{Notes: m.Notes, Licence: m.Licence, Seen: m.Seen, Until: m.Until})
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doClaim reports where people are: all of the day when nobody is named.
func (a *asker) doClaim(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time  *time.Time `json:"time"`
		Who   []string   `json:"who"`
		State string     `json:"state"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	who, err := a.people(ctx, m.Who)
	if err == nil {
		err = a.desk.Report(ctx, desk.Act{At: at}, who, m.State)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doPlan leaves a trip plan ashore.
func (a *asker) doPlan(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		planFile
		Time *time.Time  `json:"time"`
		Day  journal.Day `json:"day"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if m.Day == "" {
		info, err := a.desk.Info(ctx)
		if err != nil {
			return nil, err
		}
		m.Day = journal.DayOf(at, info.Zone)
	}
	if err := a.desk.LeaveAshore(ctx, desk.Act{}, m.text(m.Day)); err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doTell records what happened between party and shore.
func (a *asker) doTell(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		What string     `json:"what"`
		Note string     `json:"note"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err == nil {
		t := told(m.What, m.Note)
		err = a.desk.Tell(ctx, desk.Act{At: at}, t.What, t.Step, t.Note)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doUp ends the sit of a rod.
func (a *asker) doUp(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		Rod  int        `json:"rod"`
		Why  string     `json:"why"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	sit, err := a.sitOf(ctx, m.Rod, at)
	if err == nil {
		err = a.desk.Up(ctx, desk.Act{At: at}, sit, m.Why)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// sitOf finds the sit of a rod that lasts at an instant.
func (a *asker) sitOf(ctx context.Context, rod int, at time.Time) (sit uuid.UUID, err error) {
	err = a.desk.Read(ctx, func(v desk.View) error {
		for _, s := range v.Party.RodsAt(at) {
			if s.Rod == rod {
				sit = s.ID
				return nil
			}
		}
		return fault.New(fault.NotFound, "Name a rod that is in the water.", "rod %d does not sit anywhere", rod)
	})
	return sit, err
}

// doPresent tells how a rod fishes from then on.
func (a *asker) doPresent(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time   *time.Time `json:"time"`
		Rod    int        `json:"rod"`
		Lure   string     `json:"lure"`
		Manner string     `json:"manner"`
		Screen string     `json:"screen"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	sit, err := a.sitOf(ctx, m.Rod, at)
	if err == nil {
		err = a.desk.Present(ctx, desk.PresentAct{Act: desk.Act{At: at}, Sit: sit, Lure: m.Lure, Manner: m.Manner, Screen: m.Screen})
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// askParty tells who is where, who has waited how long, and whom to call over: for the guide's eyes.
func (a *asker) askParty(ctx context.Context, line []byte) (any, error) {
	return askSimple(a, ctx, line, func(sh shaper) (any, error) {
		x, err := a.desk.Gathering(ctx)
		return gathered(x, sh), err
	})
}

// askPlan tells how the trip stands with those who watch for it.
func (a *asker) askPlan(ctx context.Context, line []byte) (any, error) {
	return askSimple(a, ctx, line, func(sh shaper) (any, error) {
		o, err := a.desk.Overdue(ctx)
		return overdueJSON(o, sh.voice.Overdue(o), sh), err
	})
}

// askSimple answers a question that has no field but its time.
func askSimple(a *asker, ctx context.Context, line []byte, f func(shaper) (any, error)) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if _, err := a.at(m.Time); err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	if err != nil {
		return nil, err
	}
	return f(sh)
}
