package cli

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

type askCmd struct {
	Seed uint64 `help:"Seed of the engine's random streams." default:"1"`
}

// maxAskLine bounds one line of input: an outline with soundings fits, a runaway program does not fill the memory.
const maxAskLine = 64 << 20

// Run answers line by line until the input ends. A line that is wrong is answered with an error and changes nothing;
// the next line is read all the same.
func (c askCmd) Run(ctx context.Context, g *Globals) error {
	a := &asker{g: g, now: g.env.Clock()}
	st, err := a.store(ctx, g)
	if err != nil {
		return err
	}
	defer st.Close()
	if a.desk, err = desk.Open(ctx, st, desk.Options{Clock: func() time.Time { return a.now }, Seed: c.Seed}); err != nil {
		return err
	}
	if err := a.begin(ctx); err != nil {
		return err
	}
	in := bufio.NewReaderSize(g.env.In, 1<<16)
	out := bufio.NewWriter(g.env.Out)
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for ctx.Err() == nil {
		line, err := readLine(in, maxAskLine)
		if errors.Is(err, io.EOF) {
			return nil
		}
		var answer any
		if err == nil {
			if line = bytes.TrimSpace(line); len(line) == 0 {
				continue
			}
			answer, err = a.line(ctx, line)
		}
		if err != nil {
			f := fault.Public(err)
			answer = map[string]any{"error": wireFault{f.Code, f.Message, f.Hint}}
		}
		if err := enc.Encode(answer); err != nil {
			return fmt.Errorf("cli: answering: %w", err)
		}
		if err := out.Flush(); err != nil { // a script waits for its answer
			return fmt.Errorf("cli: answering: %w", err)
		}
	}
	return ctx.Err()
}

// begin sets the clock to --at, in the lake's zone, or in UTC before there is a lake.
func (a *asker) begin(ctx context.Context) error {
	if a.g.At == "" {
		return nil
	}
	zone := time.UTC
	err := a.desk.Read(ctx, func(v desk.View) error {
		if v.Lake.Zone != nil {
			zone = v.Lake.Zone
		}
		return nil
	})
	if err == nil || fault.CodeOf(err) == fault.NotFound {
		a.now, err = parseTime(a.g.At, a.now, zone)
		a.set = err == nil
	}
	return err
}

// readLine reads one line of at most limit bytes; a longer one is read over and reported.
func readLine(r *bufio.Reader, limit int) ([]byte, error) {
	var line []byte
	long := false
	for {
		part, err := r.ReadSlice('\n')
		if long = long || len(line)+len(part) > limit; !long {
			line = append(line, part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case err != nil && len(line) == 0 && !long:
			return nil, err
		case long:
			return nil, fault.New(fault.BadInput, "Send smaller parts.", "a line of more than %d bytes", limit)
		}
		return line, nil
	}
}

// asker holds the state of one conversation. Its clock is the newest time that a line has named.
type asker struct {
	g    *Globals
	desk *desk.Desk
	now  time.Time
	set  bool // now comes from a line
}

// store keeps in memory, unless --data names a folder on the command line or in the environment.
func (a *asker) store(ctx context.Context, g *Globals) (store.Store, error) {
	if g.Data != g.env.Home {
		s, err := g.write(ctx)
		if err != nil {
			return nil, err
		}
		return s.store, nil
	}
	return mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: a.now}), nil
}

// verbs of do and ask.
type verb func(a *asker, ctx context.Context, line []byte) (any, error)

var doing = map[string]verb{
	"lake": (*asker).doLake, "party": (*asker).doParty, "look": (*asker).doLook, "sit": (*asker).doSit, "fish": (*asker).doFish,
	"bite": (*asker).doBite, "ice": (*asker).doIce, "crowd": (*asker).doCrowd, "hazard": (*asker).doHazard, "weather": (*asker).doWeather,
	"forecast": (*asker).doForecast, "night": (*asker).doNight, "not_there": (*asker).doNotThere,
	"depths": (*asker).doDepths, "sounder": (*asker).doSounder,
	"hours": (*asker).doHours, "person": (*asker).doPerson, "head_count": (*asker).doHeadCount, "watch": (*asker).doWatch, "line": (*asker).doLine,
	"roster": (*asker).doRoster, "claim": (*asker).doClaim, "plan": (*asker).doPlan, "tell": (*asker).doTell, "up": (*asker).doUp, "present": (*asker).doPresent,
	"rules": (*asker).doRules, "hold": (*asker).doHold, "correct": (*asker).doCorrect, "bags": (*asker).doBags, "close": (*asker).doClose,
}

var asking = map[string]verb{
	"next": (*asker).askNext, "odds": (*asker).askOdds, "evening": (*asker).askEvening, "turn_back": (*asker).askTurnBack, "ice": (*asker).askIce,
	"sounder": (*asker).askSounder, "party": (*asker).askParty, "plan": (*asker).askPlan, "rules": (*asker).askRules, "tally": (*asker).askTally,
	"report": (*asker).askReport, "present": (*asker).askPresent, "close": (*asker).askClose,
}

func (a *asker) line(ctx context.Context, line []byte) (any, error) {
	var head struct{ Do, Ask string }
	if err := json.Unmarshal(line, &head); err != nil {
		return nil, fault.Wrap(err, fault.BadInput, `Send one JSON object a line, such as {"ask":"next","time":"2026-01-15T09:50:00-03:00"}.`, "the line is not JSON: %s", err)
	}
	table, name := doing, head.Do
	if head.Ask != "" {
		table, name = asking, head.Ask
	}
	v, ok := table[name]
	if !ok || head.Ask != "" && head.Do != "" {
		return nil, fault.New(fault.BadInput, "docs/ask.md lists what may be done and asked.", "neither do nor ask names something known: %q", name)
	}
	now, set := a.now, a.set
	answer, err := v(a, ctx, line)
	if err != nil {
		a.now, a.set = now, set // a line that is wrong changes nothing, the clock included
	}
	return answer, err
}

// decode reads a line strictly: a misspelt field is an error, not a silence.
func decode(line []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return fault.Wrap(err, fault.BadInput, "docs/ask.md gives the fields.", "the line cannot be read: %s", misread(err))
	}
	return nil
}

// misread says what was wrong with a line in the words of whoever wrote it.
func misread(err error) string {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		field := kind.Field[strings.LastIndexByte(kind.Field, '.')+1:]
		wanted := map[reflect.Kind]string{reflect.String: "text in quotes", reflect.Bool: "true or false", reflect.Slice: "a list", reflect.Struct: "an object", reflect.Map: "an object",
			reflect.Float64: "a number", reflect.Int: "a whole number", reflect.Int64: "a whole number", reflect.Uint64: "a whole number from 0"}[kind.Type.Kind()]
		if field != "" && wanted != "" {
			value, figure, _ := strings.Cut(kind.Value, " ") // "string", or "number -1.5"
			if figure == "" {
				figure = map[string]string{"string": "text", "array": "a list", "object": "an object", "bool": "true or false", "number": "a number"}[value]
			}
			return fmt.Sprintf("%s is %s where %s belongs", field, figure, wanted)
		}
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return "it has no field " + name
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

// verbField takes up do and ask, so that strict decoding knows them.
type verbField struct {
	Do  string `json:"do"`
	Ask string `json:"ask"`
}

type askPoint struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

func (p askPoint) position() (geo.Position, error) {
	q := geo.Position{Lat: p.Lat, Lon: p.Lon}
	if !q.Valid() {
		return q, fault.New(fault.BadInput, "Latitude runs from -90 to 90, longitude from -180 to 180.", "position %g, %g is not on the globe", p.Lat, p.Lon)
	}
	return q, nil
}

// farAhead is how far a line may be ahead of the newest one and of this machine's clock before it is a slip: longer than a
// winter's break between days; our own choice.
const farAhead = 31 * 24 * time.Hour

// at reads a line's time and moves the clock on to it. The clock never runs back: an act may be entered late.
func (a *asker) at(t *time.Time) (time.Time, error) {
	if t == nil {
		return a.now, nil
	}
	if t.Year() < 1990 || t.Year() > 2200 {
		return a.now, fault.New(fault.BadInput, "Write RFC 3339, such as 2026-01-15T09:50:00-03:00.", "time %s is out of range", t)
	}
	if ahead := a.now.Add(farAhead); a.set && t.After(ahead) && t.After(a.g.env.Clock().Add(farAhead)) {
		return a.now, fault.New(fault.BadInput, "Name times in order; a month may lie between two.", "the time %s lies in the future", t.Format(time.RFC3339))
	}
	if !a.set || t.After(a.now) {
		a.now, a.set = *t, true
	}
	return *t, nil
}

func (a *asker) local(ctx context.Context, p askPoint) (geo.Local, error) {
	q, err := p.position()
	if err != nil {
		return geo.Local{}, err
	}
	return a.desk.Local(ctx, q)
}

// askHole names a hole: its number today, its id, or a place.
type askHole struct {
	Number int64
	ID     uuid.UUID
}

func (h *askHole) UnmarshalJSON(b []byte) error {
	if json.Unmarshal(b, &h.Number) == nil {
		return nil
	}
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return fmt.Errorf("a hole is its number today or its id")
	}
	id, err := uuid.Parse(s)
	h.ID = id
	return err
}

func (a *asker) hole(ctx context.Context, h *askHole, at time.Time) (uuid.UUID, error) {
	if h == nil {
		return uuid.Nil, nil
	}
	if h.ID != uuid.Nil {
		return h.ID, nil
	}
	info, err := a.desk.Info(ctx)
	if err != nil {
		return uuid.Nil, err
	}
	id, err := a.desk.HoleByNumber(ctx, journal.DayOf(at, info.Zone), h.Number)
	if err == nil && id == uuid.Nil {
		err = fault.New(fault.NotFound, "Look there first, or give its id.", "hole %d was not drilled on that day", h.Number)
	}
	return id, err
}

// ref names a hole or a place.
func (a *asker) ref(ctx context.Context, h *askHole, p *askPoint, at time.Time) (desk.HoleRef, error) {
	if h == nil && p == nil {
		return desk.HoleRef{}, fault.New(fault.BadInput, `Give "hole" or "at".`, "neither a hole nor a place is named")
	}
	if h != nil {
		id, err := a.hole(ctx, h, at)
		return desk.HoleRef{ID: id}, err
	}
	l, err := a.local(ctx, *p)
	return desk.HoleRef{Place: &advise.Place{At: l, Known: true, Fixed: at}}, err
}

// done is the answer to a do: the hole it was at, when there is one.
func (a *asker) done(ctx context.Context, hole uuid.UUID) (any, error) {
	out := map[string]any{"ok": true}
	if hole == uuid.Nil {
		return out, nil
	}
	err := a.desk.Read(ctx, func(v desk.View) error {
		if h := v.Lake.Hole(hole); h != nil {
			out["hole"], out["id"] = h.Number, h.ID
		}
		return nil
	})
	return out, err
}
