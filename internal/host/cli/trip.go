package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/keep/sqlite"
	"icehand/internal/trade/journal"
)

type tripCmd struct {
	Date    string `help:"Day of the trip: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	Landing string `help:"Where the party gets onto the ice: latitude, longitude." placeholder:"POS"`
	Rods    int64  `help:"Rods of the party." default:"4"`
	Travel  string `help:"How the party travels: foot, machine or vehicle." enum:"foot,machine,vehicle" default:"foot"`
	Aim     string `help:"Aim of the day: action, numbers, size, first_fish or learning." placeholder:"AIM"`
	Target  string `help:"Species." placeholder:"NAME"`
	Ashore  string `help:"Hour agreed to be ashore: 16:30." placeholder:"TIME"`
	Drill   string `help:"Ice that the batteries can drill, all holes together: 30 m." placeholder:"LENGTH"`
}

// body turns what was typed into the journal's entry and its instant.
func (c tripCmd) body(now time.Time, zone *time.Location) (*journal.Trip, time.Time, error) {
	day, ok := dayOf(c.Date, now, zone)
	if !ok {
		return nil, now, fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
	}
	return desk.TripText{Day: day, Landing: c.Landing, Rods: c.Rods, Travel: c.Travel, Aim: c.Aim, Target: c.Target, Ashore: c.Ashore, Drill: c.Drill}.Trip(now, zone)
}

// record writes the trip.
func (c tripCmd) record(ctx context.Context, d *desk.Desk) error {
	info, err := d.Info(ctx)
	if err != nil {
		return err
	}
	body, at, err := c.body(d.Clock(), info.Zone)
	if err != nil {
		return err
	}
	return d.Plan(ctx, desk.Act{At: at}, body)
}

func (c tripCmd) Run(ctx context.Context, g *Globals) error {
	s, err := g.write(ctx)
	switch holder, ok := sqlite.HolderOf(g.Data); {
	case err == nil:
		defer s.close()
		err = c.record(ctx, s.Desk)
	case ok && holder.Address != "" && fault.CodeOf(err) == fault.Conflict:
		err = sendLocal(ctx, holder.Address, "/local/trip", c)
	}
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]bool{"ok": true})
	}
	g.say("saved")
	return nil
}

// sendLocal hands a command to the server that holds the record.
func sendLocal(ctx context.Context, address, path string, command any) error {
	raw, err := json.Marshal(command)
	if err != nil {
		return fmt.Errorf("cli: sending a command: %w", err)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimRight(address, "/")+path, bytes.NewReader(raw))
	if err != nil {
		return fmt.Errorf("cli: sending a command: %w", err)
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := (&http.Client{Timeout: time.Minute}).Do(req)
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "Stop that server and repeat.", "the server that holds the record does not answer")
	}
	defer res.Body.Close()
	var answer importAnswer
	if err := json.NewDecoder(io.LimitReader(res.Body, 1<<20)).Decode(&answer); err != nil {
		return fault.Wrap(err, fault.Unavailable, "Stop that server and repeat.", "the server's answer cannot be read")
	}
	if e := answer.Error; e != nil {
		return &fault.Error{Code: e.Code, Message: e.Message, Hint: e.Hint}
	}
	return nil
}

// localTrip serves /local/trip to commands on this machine.
func localTrip(d *desk.Desk) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var c tripCmd
		err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<16)).Decode(&c)
		if err != nil {
			err = fault.Wrap(err, fault.BadInput, "Use icehand trip.", "the trip cannot be read")
		} else {
			err = c.record(r.Context(), d)
		}
		answerLocal(w, importAnswer{}, err)
	})
}

// noAim is the fault of an aim that is none.
func noAim(aim string) error {
	return fault.New(fault.BadInput, "Use "+strings.Join(say.Aims(), ", ")+".", "%q is no aim of a day", aim)
}
