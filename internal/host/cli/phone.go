package cli

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/keep/phones"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/syncing"
)

// phoneCmd is who may sync with this record.
type phoneCmd struct {
	List phoneList `cmd:"" default:"withargs" help:"The phones on file, and when a running server last heard from them."`
	Add  phoneAdd  `cmd:"" help:"Let a phone sync. Its key is shown once."`
	End  phoneEnd  `cmd:"" help:"Take a phone's access back."`
}

// contactJSON is when the running server last heard from a phone.
type contactJSON struct {
	When    time.Time `json:"when"`
	OffsetS float64   `json:"clock_off_s"` // its clock less the server's
}

// localPhones tells a command of this machine whom the server has heard from.
func localPhones(s *syncing.Server) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		out := map[string]contactJSON{}
		for name, c := range s.Contacts() {
			out[name] = contactJSON{c.When.UTC().Truncate(time.Second), c.Offset.Round(time.Second).Seconds()}
		}
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(out) // whoever hung up needs no answer
	})
}

// contacts asks the server that holds the record; none when there is none.
func (g *Globals) contacts(ctx context.Context) map[string]contactJSON {
	out := map[string]contactJSON{}
	holder, ok := sqlite.HolderOf(g.Data)
	if !ok || holder.Address == "" {
		return out
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimRight(holder.Address, "/")+"/local/phones", nil)
	if err != nil {
		return out
	}
	res, err := (&http.Client{Timeout: 5 * time.Second}).Do(req)
	if err != nil {
		return out
	}
	defer res.Body.Close()
	_ = json.NewDecoder(io.LimitReader(res.Body, 1<<20)).Decode(&out) // a server that cannot tell has heard from nobody
	return out
}

type phoneList struct{}

func (phoneList) Run(ctx context.Context, g *Globals) error {
	list, err := phones.Open(g.Data).List()
	if err != nil {
		return err
	}
	heard := g.contacts(ctx)
	type row struct {
		Name  string       `json:"name"`
		Added time.Time    `json:"added"`
		Ended *time.Time   `json:"ended"`
		Wipe  bool         `json:"wipe"`
		Heard *contactJSON `json:"heard"`
	}
	rows := []row{}
	for _, p := range list {
		x := row{Name: p.Name, Added: p.Added, Wipe: p.Wipe}
		if !p.Ended.IsZero() {
			x.Ended = &p.Ended
		}
		if c, ok := heard[p.Name]; ok && p.Ended.IsZero() {
			x.Heard = &c
		}
		rows = append(rows, x)
	}
	if g.JSON {
		return g.printJSON(map[string]any{"phones": rows})
	}
	for _, x := range rows {
		state := "not heard from since the server started"
		switch {
		case x.Wipe:
			state = "ended " + x.Ended.Format(time.DateOnly) + ", told to wipe"
		case x.Ended != nil:
			state = "ended " + x.Ended.Format(time.DateOnly)
		case x.Heard != nil:
			state = "heard from " + x.Heard.When.Format(time.RFC3339)
			if off := time.Duration(x.Heard.OffsetS * float64(time.Second)); off.Abs() > time.Minute {
				state += ", its clock is off by " + off.String()
			}
		}
		g.say("%s: added %s, %s", x.Name, x.Added.Format(time.DateOnly), state)
	}
	if len(rows) == 0 {
		g.say("no phone may sync yet: icehand phone add NAME")
	}
	return nil
}

type phoneAdd struct {
	Name string `arg:"" help:"What to call it, such as: red phone." placeholder:"NAME"`
}

func (c phoneAdd) Run(g *Globals) error {
	if _, err := os.Stat(filepath.Join(g.Data, sqlite.DatabaseFile)); err != nil {
		return fault.Wrap(err, fault.Missing, "Name the right folder with --data, or start with icehand serve.", "there is no record in %s", g.Data)
	}
	key, err := phones.Open(g.Data).Add(c.Name, g.env.Clock())
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]string{"name": strings.TrimSpace(c.Name), "key": key})
	}
	g.say("key of %s, shown this once:", strings.TrimSpace(c.Name))
	g.say("%s", key)
	g.say("Whoever has it may read and write this record. A lost phone: icehand phone end NAME.")
	return nil
}

type phoneEnd struct {
	Name string `arg:"" help:"Its name." placeholder:"NAME"`
	Wipe bool   `help:"Also tell it to remove what it holds, when it asks next. What it had not sent is lost then."`
}

func (c phoneEnd) Run(g *Globals) error {
	if err := phones.Open(g.Data).End(c.Name, c.Wipe, g.env.Clock()); err != nil {
		return err
	}
	return g.saved()
}

// syncCmd is the client's side for a record on this machine: a second computer, or one that takes over.
type syncCmd struct {
	Server string `arg:"" help:"Address of the server: https://HOST, or http://127.0.0.1:PORT on this machine." placeholder:"URL"`
	Key    string `help:"Key that icehand phone add has shown there (or ICEHAND_SYNC_KEY, which others on this machine cannot see)." placeholder:"KEY"`
}

func (c syncCmd) Run(ctx context.Context, g *Globals) error {
	if c.Key == "" {
		c.Key = g.env.Getenv("ICEHAND_SYNC_KEY")
	}
	if c.Key == "" {
		return fault.New(fault.BadInput, "Run icehand phone add NAME there, and put the key into ICEHAND_SYNC_KEY here.", "no key is given")
	}
	if err := encrypted(c.Server); err != nil {
		return err
	}
	st, err := sqlite.Open(ctx, g.Data, sqlite.Options{Program: "icehand sync"})
	if err != nil {
		return err
	}
	defer st.Close()
	client, err := syncing.Open(ctx, syncing.Options{Store: st, Exchange: syncing.HTTP(nil, c.Server, c.Key), Clock: g.env.Clock})
	if err != nil {
		return err
	}
	out, err := client.Step(ctx)
	if errors.Is(err, syncing.ErrEnded) {
		return fault.Wrap(err, fault.Conflict, "Ask for a new key there.", "that server has ended this key")
	}
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]any{"sent": out.Pushed, "received": out.Pulled, "waiting": out.Waiting, "clock_ahead": out.Ahead, "clock_off_s": -out.Offset.Round(time.Second).Seconds(),
			"set_back": out.Turned, "moved": out.Moved})
	}
	g.say("in step: %d entries sent, %d received", out.Pushed, out.Pulled)
	if out.Turned {
		g.say("this record had been set back to an earlier state; it writes a new journal from now on, and nothing was lost")
	}
	if out.Moved > 0 {
		g.say("%d entries whose numbers were taken elsewhere moved into a journal of their own; they count as before", out.Moved)
	}
	if off := -out.Offset; off.Abs() > time.Minute {
		g.say("this machine's clock is off by %s against the server's", off.Round(time.Second))
	}
	return nil
}

// encrypted refuses to send a key in the clear over a network.
func encrypted(address string) error {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
		return fault.Wrap(err, fault.BadInput, "Write https://HOST.", "%q is no address of a server", address)
	}
	if host := u.Hostname(); u.Scheme == "http" && host != "127.0.0.1" && host != "localhost" && host != "::1" {
		return fault.New(fault.BadInput, "Use https://.", "the key would travel unencrypted to %s", host)
	}
	return nil
}
