package phone

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
	"icehand/internal/keep/exchange"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// anybody lets every phone sync.
type anybody struct{}

func (anybody) Phone(context.Context, string) (syncing.Phone, error) {
	return syncing.Phone{Name: "red phone"}, nil
}

// The page Set aside lists what a server got from phones and could not let count as it stands, with who, why, since when and
// what to do, after a clone, a newer phone, a phone whose clock is ahead and a slipped digit came ashore. Nothing is lost.
func TestSetAside(t *testing.T) {
	first, server := dayOn(t, "Square", 3)
	s := httptest.NewServer(syncing.NewServer(server, nil).Handler(anybody{}))
	t.Cleanup(s.Close)
	step := func(st *mem.Store) {
		t.Helper()
		c, err := syncing.Open(t.Context(), syncing.Options{Store: st, Exchange: syncing.HTTP(nil, s.URL, "any"), Clock: func() time.Time { return morning }})
		must(t, err)
		_, err = c.Step(t.Context())
		must(t, err)
	}
	on := func(st *mem.Store, now time.Time) *desk.Desk {
		t.Helper()
		d, err := desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return now }})
		must(t, err)
		return d
	}
	page := func() string {
		pages := web.New(web.Options{Desk: first, Static: "files/", Extras: []web.Extra{Aside(first)}})
		return string(Answer(t.Context(), pages, Request{Method: http.MethodGet, Path: AsidePath}).Body)
	}
	if p := page(); !strings.Contains(p, "0 do not fit, 0 lie in a journal of their own, 0 are second copies") || strings.Contains(p, `class="row"`) {
		t.Errorf("a sound record: %s", p[strings.Index(p, "<main"):])
	}

	// A phone, and a clone of it, each writing under the same numbers.
	red := mem.New(first.Identity())
	id := first.Identity()
	id.Journal = journal.NewID()
	must(t, red.Become(t.Context(), id))
	step(red)
	look := func(st *mem.Store, now time.Time, marks string) {
		t.Helper()
		must(t, on(st, now).Record(t.Context(), desk.Act{}, &journal.Look{Hole: hole, Seconds: 30, Marks: marks}))
	}
	look(red, morning, "few")
	clone := mem.New(id)
	var copied bytes.Buffer
	_, err := exchange.WriteNDJSON(t.Context(), red, &copied, exchange.WriteOptions{})
	must(t, err)
	_, err = exchange.ReadNDJSON(t.Context(), clone, &copied)
	must(t, err)
	for range 2 {
		look(red, morning, "many")
		look(clone, morning, "none")
	}
	step(red)
	step(clone)

	// A newer phone, one whose clock is a day ahead, and a fish of 3 m.
	blue := mem.New(id)
	other := id
	other.Journal = journal.NewID()
	must(t, blue.Become(t.Context(), other))
	step(blue)
	author := journal.Author{Outfit: id.Outfit, Account: id.Account, Lake: id.Outfit}
	newer := author.Draft(journal.NewID(), morning, morning, &journal.Look{Hole: hole, Seconds: 30, Marks: "few"})
	newer.Kind, newer.Version, newer.Body = "moonbeam", 9, []byte(`{"x":1}`)
	broken := author.Draft(journal.NewID(), morning, morning, &journal.Look{Hole: hole, Seconds: 30, Marks: "few"})
	broken.Body = []byte(`{"seconds":"half"}`)
	length := int64(3030)
	long := author.Draft(journal.NewID(), morning, morning, &journal.Fish{Species: "perch", Length: &length})
	ahead := author.Draft(journal.NewID(), morning, morning.Add(24*time.Hour), &journal.Look{Hole: hole, Seconds: 30, Marks: "few"})
	_, err = blue.Append(t.Context(), []journal.Draft{newer, broken, long, ahead})
	must(t, err)
	step(blue)

	p := page()
	for _, want := range []string{
		"4 do not fit, 2 lie in a journal of their own", "2 entries of one journal", "Their numbers were taken", "journal " + other.Journal.String()[:8],
		"moonbeam, number 1", "Bring this Icehand up to date", "look, number 2", "it cannot be read", "fish, number 3", "correct it, or take it back", "look, number 4", "Set that phone&#39;s clock", "16 Jan 08:00",
	} {
		if !strings.Contains(p, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if t.Failed() {
		t.Log(p[strings.Index(p, "<main"):])
	}
	held := 0
	must(t, first.Read(t.Context(), func(v desk.View) error { held = len(v.Log.Facts()); return nil }))
	if n := count(t, server); held != n || !strings.Contains(p, say.Few(n, "entry", "entries")+" on record") {
		t.Errorf("%d entries are stored, %d listed", n, held)
	}
}
