package phone

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/keep/exchange"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// mostFile is the largest file that is taken over, in bytes; store.MaxBlob in base64 alone may be more, and no lake needs that.
const mostFile = 64 << 20

// oldForecast is how old a forecast may be that goes along: the next phone works out the day, no past one.
const oldForecast = 48 * time.Hour

// handedOver is a day on its way to another phone: lines of docs/journal-format.md, 4.
type handedOver struct {
	Data    []byte
	Name    string // of the file; it tells no lake
	Entries int
}

// handOver writes what another phone needs to go on with the day: every journal whole, since a chain is checked from its
// beginning, the names, and of the bulk data the lake, fresh weather and today's lines. Pictures and guests' pages stay.
func handOver(ctx context.Context, d *desk.Desk) (out handedOver, err error) {
	now := d.Clock()
	var today journal.Day
	err = d.Read(ctx, func(v desk.View) error {
		today = v.Today
		out.Name = "icehand-" + now.In(v.Lake.Zone).Format("2006-01-02-1504") + ".txt"
		return nil
	})
	if err != nil {
		return out, err
	}
	goes := map[journal.Hash]bool{}
	err = d.Store().Read(ctx, 0, func(_ store.Position, e *journal.Entry) error {
		out.Entries++
		switch e.Kind {
		case journal.KindLayer:
			var l journal.Layer
			if json.Unmarshal(e.Body, &l) == nil && (l.What != "forecast" || now.Sub(time.UnixMilli(e.At)) < oldForecast) {
				goes[l.Blob] = true
			}
		case journal.KindTrack:
			var t journal.Track
			if e.Day == today && json.Unmarshal(e.Body, &t) == nil {
				goes[t.Blob] = true
			}
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	if out.Entries == 0 {
		return out, fault.New(fault.Missing, "Record something first, or take a file over here.", "this phone holds nothing to hand over")
	}
	var b bytes.Buffer
	_, err = exchange.WriteNDJSON(ctx, d.Store(), &b, exchange.WriteOptions{Blob: func(h journal.Hash) bool { return goes[h] }})
	out.Data = b.Bytes()
	return out, err
}

// takenOver is what came of a file.
type takenOver struct {
	Entries int // in the file
	New     int // of them, not held before
	Adopted bool
}

// fileOf is what a file says before anything of it is stored.
type fileOf struct {
	outfit, account uuid.UUID // of its newest entry
	newest          journal.HLC
	lake            string // of that outfit, as it was named last
	named           journal.HLC
}

func (f *fileOf) see(e *journal.Entry) {
	if e.HLC >= f.newest {
		f.newest, f.outfit, f.account = e.HLC, e.Outfit, e.Account
	}
	var l journal.Lake
	if e.Kind == journal.KindLake && e.HLC >= f.named && json.Unmarshal(e.Body, &l) == nil {
		f.named, f.lake = e.HLC, l.Name
	}
}

// tooLarge is the fault of a file with more bytes than any day has.
func tooLarge(n int) error {
	return fault.New(fault.BadInput, "Nothing was taken. Take the file that Hand over by file made on the other phone.", "the file has %d MB, more than the %d MB of any day", n>>20, mostFile>>20)
}

// takeOver reads a file that another phone made and stores what is not held: it is checked whole before anything of it is
// taken. A phone that holds nothing joins the file's outfit; one that holds another outfit's record takes nothing.
func takeOver(ctx context.Context, st store.Replica, data []byte) (out takenOver, err error) {
	if len(data) > mostFile {
		return out, tooLarge(len(data))
	}
	if !bytes.HasPrefix(data, []byte("{")) {
		return out, fault.New(fault.BadInput, "Nothing was taken. Take the file that Hand over by file made on the other phone: its name begins with icehand.", "this is no file of Icehand")
	}
	if last := data[bytes.LastIndexByte(bytes.TrimRight(data, "\r\n"), '\n')+1:]; !bytes.HasPrefix(last, []byte(`{"end":`)) {
		return out, fault.Wrap(exchange.ErrCut, fault.Damaged, "Nothing was taken. Send it again from the other phone and wait until all of it has come.", "the file ends early: only a part of it came")
	}
	var f fileOf
	n, err := exchange.CheckNDJSON(ctx, bytes.NewReader(data), f.see)
	if err != nil {
		return out, err
	}
	if n.Entries == 0 {
		return out, fault.New(fault.BadInput, "Nothing was taken. Make it anew on the other phone.", "the file holds no entries")
	}
	id, err := st.Identity(ctx)
	if err != nil {
		return out, err
	}
	before, err := st.Last(ctx)
	if err != nil {
		return out, err
	}
	if id.Outfit != f.outfit {
		if before > 0 {
			return out, fault.New(fault.Conflict, "Nothing was taken. Use a phone of that outfit, or one whose Icehand holds nothing yet.",
				"the file is another outfit's record, of the lake %s, and this phone holds a record of its own", f.lake)
		}
		id.Outfit, id.Account, out.Adopted = f.outfit, f.account, true
		if err := st.Become(ctx, id); err != nil {
			return out, err
		}
	}
	_, err = exchange.ReadNDJSON(ctx, st, bytes.NewReader(data))
	after, lost := st.Last(ctx)
	out.Entries, out.New = n.Entries, int(after-before)
	switch {
	case errors.Is(err, store.ErrFork):
		return out, fault.Wrap(err, fault.Conflict, "Go on with the phone that has the newer day. Ashore, bring both in step with the server: it keeps both.",
			"one of the two phones was set back to an older copy: under the same numbers the file has other entries than this phone")
	case errors.Is(err, store.ErrGap):
		return out, fault.Wrap(err, fault.Conflict, "Make the file anew on the other phone.", "this phone lacks what stands before the first entry of the file")
	case err != nil:
		return out, err
	}
	return out, lost
}
