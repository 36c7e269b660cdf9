package phone

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/keep/exchange"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

var hole = uuid.UUID{6: 0x70, 8: 0x80, 15: 1}

var morning = time.Date(2026, 1, 15, 11, 0, 0, 0, time.UTC)

// dayOn makes a phone with a lake, an outline, an old and a fresh forecast, a picture, a guest and some looks.
func dayOn(t *testing.T, lake string, looks int) (*desk.Desk, *mem.Store) {
	t.Helper()
	st := mem.New(store.NewIdentity(morning))
	d, err := desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return morning }})
	must(t, err)
	must(t, d.FoundLake(t.Context(), desk.Act{}, lake, geo.Position{Lat: 47.9, Lon: -45}, "Etc/GMT+3", ""))
	for _, b := range []string{"outline", "forecast", "stale forecast", "picture"} {
		h, err := st.PutBlob(t.Context(), []byte(b))
		must(t, err)
		switch b {
		case "outline", "forecast":
			must(t, d.Record(t.Context(), desk.Act{}, &journal.Layer{What: b, Blob: h, Media: "text/plain"}))
		case "stale forecast":
			must(t, d.Record(t.Context(), desk.Act{At: morning.Add(-72 * time.Hour)}, &journal.Layer{What: "forecast", Blob: h, Media: "text/plain"}))
		case "picture":
			must(t, d.Record(t.Context(), desk.Act{}, &journal.Photo{Blob: h, Media: "image/jpeg"}))
		}
	}
	_, err = st.PutText(t.Context(), "Ola")
	must(t, err)
	must(t, d.Record(t.Context(), desk.Act{ID: hole}, &journal.Hole{Number: 1}))
	for range looks {
		must(t, d.Record(t.Context(), desk.Act{}, &journal.Look{Hole: hole, Seconds: 30, Marks: "none"}))
	}
	return d, st
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func count(t *testing.T, st *mem.Store) int {
	t.Helper()
	n, err := st.Last(t.Context())
	must(t, err)
	return int(n)
}

// A phone that holds nothing joins the outfit and holds the day after it took the file; taken again it adds nothing, and
// what was written since goes along the next time, in both directions.
func TestHandOver(t *testing.T) {
	a, from := dayOn(t, "Square", 7)
	f, err := handOver(t.Context(), a)
	must(t, err)
	if f.Name != "icehand-2026-01-15-0800.txt" || f.Entries != count(t, from) || strings.Contains(f.Name, "Square") {
		t.Errorf("%s, %d entries", f.Name, f.Entries)
	}
	for what, goes := range map[string]bool{"outline": true, "forecast": true, "stale forecast": false, "picture": false} {
		if bytes.Contains(f.Data, []byte(journal.Sum([]byte(what)).String()+`","data"`)) != goes {
			t.Errorf("%s: goes along is %v", what, !goes)
		}
	}
	to := mem.New(store.NewIdentity(morning))
	own, _ := to.Identity(t.Context())
	for _, want := range []takenOver{{f.Entries, f.Entries, true}, {f.Entries, 0, false}} {
		if out, err := takeOver(t.Context(), to, f.Data); err != nil || out != want {
			t.Fatalf("%+v, %v, want %+v", out, err, want)
		}
	}
	id, _ := to.Identity(t.Context())
	if ours := a.Identity(); id.Outfit != ours.Outfit || id.Account != ours.Account || id.Journal != own.Journal {
		t.Errorf("joined as %+v", id)
	}
	b, err := desk.Open(t.Context(), to, desk.Options{Clock: func() time.Time { return morning }})
	must(t, err)
	must(t, b.Record(t.Context(), desk.Act{}, &journal.Look{Hole: hole, Seconds: 30, Marks: "few"}))
	back, err := handOver(t.Context(), b)
	must(t, err)
	if out, err := takeOver(t.Context(), from, back.Data); err != nil || out.New != 1 {
		t.Fatalf("%+v, %v", out, err)
	}
	looks := map[*desk.Desk]int{}
	for _, d := range []*desk.Desk{a, b} {
		must(t, d.Read(t.Context(), func(v desk.View) error { looks[d] = len(v.Lake.Looks); return nil }))
	}
	if looks[a] != 8 || looks[b] != 8 {
		t.Errorf("%d and %d looks", looks[a], looks[b])
	}
}

// What cannot be taken is told in words that say what to do, and nothing of it is stored.
func TestPoorFiles(t *testing.T) {
	a, _ := dayOn(t, "Square", 5)
	f, err := handOver(t.Context(), a)
	must(t, err)
	lines := bytes.SplitAfter(f.Data, []byte("\n"))
	ghost := bytes.Replace(bytes.Clone(lines[8]), []byte(`"seconds":30`), []byte(`"seconds":31`), 1) // an entry that nobody wrote
	if bytes.Equal(ghost, lines[8]) {
		t.Fatalf("no look: %s", lines[8])
	}
	other, _ := dayOn(t, "Round", 2)
	g, err := handOver(t.Context(), other)
	must(t, err)
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"a picture":      {[]byte("\x89PNG\r\n"), "this is no file of Icehand"},
		"nothing":        {nil, "this is no file of Icehand"},
		"too large":      {make([]byte, mostFile+1), "more than the 64 MB"},
		"cut":            {f.Data[:len(f.Data)/2], "only a part of it came"},
		"cut at a line":  {bytes.Join(lines[:6], nil), "only a part of it came"},
		"ghost entry":    {bytes.Replace(f.Data, lines[8], ghost, 1), "do not match its hash"},
		"entry put in":   {bytes.Replace(f.Data, lines[8], append(bytes.Clone(lines[8]), lines[8]...), 1), "it counts"},
		"entry left out": {bytes.Replace(f.Data, lines[8], nil, 1), "an entry is missing before"},
		"newer":          {bytes.Replace(f.Data, []byte(`"format":1`), []byte(`"format":2,"more":1`), 1), "Bring this Icehand up to date"},
		"other lake":     {g.Data, "another outfit's record, of the lake Round"},
		"no entries":     {[]byte(`{"end":{"entries":0,"blobs":0,"texts":0}}` + "\n"), "no entries"},
	} {
		_, st := dayOn(t, "Oval", 1)
		if name != "other lake" {
			st = mem.New(store.NewIdentity(morning))
		}
		before := count(t, st)
		_, err := takeOver(t.Context(), st, c.data)
		if err == nil || fault.CodeOf(err) == fault.Internal || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "Nothing was taken") {
			t.Errorf("%s: %v", name, err)
		}
		if n := count(t, st); n != before {
			t.Errorf("%s: %d entries were stored", name, n-before)
		}
	}
}

// A phone that was set back holds other entries under the same numbers: told, and what it holds stays.
func TestHandOverOfAClone(t *testing.T) {
	a, from := dayOn(t, "Square", 3)
	f, err := handOver(t.Context(), a)
	must(t, err)
	id := a.Identity()
	clone := mem.New(id)
	_, err = exchange.ReadNDJSON(t.Context(), clone, bytes.NewReader(f.Data))
	must(t, err)
	b, err := desk.Open(t.Context(), clone, desk.Options{Clock: func() time.Time { return morning }})
	must(t, err)
	must(t, a.Record(t.Context(), desk.Act{}, &journal.Look{Hole: hole, Seconds: 30, Marks: "many"}))
	must(t, b.Record(t.Context(), desk.Act{}, &journal.Look{Hole: hole, Seconds: 30, Marks: "few"}))
	if f, err = handOver(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	before := count(t, from)
	if _, err := takeOver(t.Context(), from, f.Data); !errors.Is(err, store.ErrFork) || !strings.Contains(err.Error(), "set back to an older copy") || count(t, from) != before {
		t.Errorf("%v; %d entries, %d before", err, count(t, from), before)
	}
}

// The lake of a phone is the one that was founded last, in whatever order the entries came.
func TestLakeOfTheNewest(t *testing.T) {
	st := mem.New(store.NewIdentity(morning))
	id, _ := st.Identity(t.Context())
	author := journal.Author{Outfit: id.Outfit, Account: id.Account}
	found := func(j byte, lake string, at time.Time) {
		author.Lake = uuid.UUID{j}
		e, err := journal.Seal(journal.Head{Journal: uuid.UUID{j}}, author.Draft(uuid.Nil, at, at, &journal.Lake{Name: lake, Zone: "UTC", Origin: *journal.PointOf(geo.Position{Lat: 60, Lon: -45})}))
		must(t, err)
		_, err = st.Put(t.Context(), []journal.Entry{e})
		must(t, err)
	}
	found(2, "Newer", morning)
	found(1, "Older", morning.Add(-24*time.Hour))
	d, err := desk.Open(t.Context(), st, desk.Options{})
	must(t, err)
	must(t, d.Read(t.Context(), func(v desk.View) error {
		if v.Lake.Name != "Newer" {
			t.Errorf("the lake is %q", v.Lake.Name)
		}
		return nil
	}))
}
