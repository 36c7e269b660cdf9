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
	"icehand/internal/keep/sqlite"
)

// recorder is a command that writes something into the record. It marshals to JSON whole, so that it can be sent.
type recorder interface {
	record(ctx context.Context, d *desk.Desk) error
}

// record lets a command write: here, or through the server that holds the record, at the path that [localRecord] serves.
func (g *Globals) record(ctx context.Context, path string, c recorder) error {
	s, err := g.write(ctx)
	switch holder, ok := sqlite.HolderOf(g.Data); {
	case err == nil:
		defer s.close()
		return c.record(ctx, s.Desk)
	case ok && holder.Address != "" && fault.CodeOf(err) == fault.Conflict:
		return sendLocal(ctx, holder.Address, path, c)
	}
	return err
}

// saved tells that something was recorded.
func (g *Globals) saved() error {
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

// mostCommand is the most that a command sends: a guest report with its pictures.
const mostCommand = 16 << 20

// localRecord serves the path of a command to commands on this machine.
func localRecord[C recorder](d *desk.Desk) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var c C
		err := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostCommand)).Decode(&c)
		if err != nil {
			err = fault.Wrap(err, fault.BadInput, "Repeat it with the program that the server runs.", "the command cannot be read")
		} else {
			err = c.record(r.Context(), d)
		}
		answerLocal(w, importAnswer{}, err)
	})
}
