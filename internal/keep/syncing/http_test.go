package syncing

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// keys knows three phones.
type keys struct{}

func (keys) Phone(_ context.Context, token string) (Phone, error) {
	switch token {
	case "good":
		return Phone{Name: "red phone"}, nil
	case "ended":
		return Phone{}, fmt.Errorf("keys: %w", ErrEnded)
	case "wipe":
		return Phone{}, fmt.Errorf("keys: %w: %w", ErrEnded, ErrWipe)
	case "broken":
		return Phone{}, fault.New(fault.Damaged, "", "the file of phones cannot be read")
	}
	return Phone{}, fault.New(fault.NotFound, "", "this server does not know who asks")
}

// remembers is a Memory.
type remembers struct{ b []byte }

func (r *remembers) Load(context.Context) ([]byte, error)   { return r.b, nil }
func (r *remembers) Save(_ context.Context, b []byte) error { r.b = b; return nil }

func open(t testing.TB, dir string) *sqlite.Store {
	t.Helper()
	st, err := sqlite.Open(t.Context(), dir, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	return st
}

func listen(t testing.TB, st store.Replica) *httptest.Server {
	t.Helper()
	s := httptest.NewServer(NewServer(st, nil).Handler(keys{}))
	t.Cleanup(s.Close)
	return s
}

func client(t testing.TB, o Options) *Client {
	t.Helper()
	c, err := Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func step(t testing.TB, c *Client) Outcome {
	t.Helper()
	out, err := c.Step(t.Context())
	if err != nil {
		t.Fatalf("%v (%v)", err, errors.Unwrap(err))
	}
	return out
}

func newPhone() *mem.Store { return mem.New(store.NewIdentity(storetest.T0)) }

// equal holds two stores to the same entries.
func equal(t testing.TB, a, b store.Store) {
	t.Helper()
	hashes := func(s store.Store) (out []journal.Hash) {
		for _, e := range storetest.ReadAll(t, s, 0) {
			out = append(out, e.Hash)
		}
		slices.SortFunc(out, store.CompareHash)
		return out
	}
	if x, y := hashes(a), hashes(b); !slices.Equal(x, y) {
		t.Errorf("one holds %d entries, the other %d, and they are not the same", len(x), len(y))
	}
}

// TestOverHTTP: a phone with its records in memory and a server with its own in SQLite, over HTTP on loopback.
func TestOverHTTP(t *testing.T) {
	server, phone, memory := open(t, t.TempDir()), newPhone(), &remembers{}
	web := listen(t, server)
	storetest.Append(t, server, storetest.Drafts(1200)) // three pages
	outline, err := server.PutBlob(t.Context(), bytes.Repeat([]byte("outline "), 40_000))
	if err != nil {
		t.Fatal(err)
	}
	name, err := server.PutText(t.Context(), "Ola \"<&>\u2028\n雪")
	if err != nil {
		t.Fatal(err)
	}
	draft := func(b journal.Body) []journal.Draft {
		return []journal.Draft{storetest.Author.Draft(uuid.Nil, storetest.T0, storetest.T0, b)}
	}
	storetest.Append(t, server, draft(&journal.Layer{What: "outline", Blob: outline, Media: "application/geo+json", Name: "outline.geojson"}))
	storetest.Append(t, server, draft(&journal.Note{Text: name}))
	note, err := phone.PutText(t.Context(), "two spoons at 11 m")
	if err != nil {
		t.Fatal(err)
	}
	small, _ := phone.PutBlob(t.Context(), []byte("a small one"))
	large, _ := phone.PutBlob(t.Context(), bytes.Repeat([]byte{1, 2, 3}, smallBlob))
	storetest.Append(t, phone, storetest.Drafts(700))
	storetest.Append(t, phone, draft(&journal.Note{Text: note}))
	storetest.Append(t, phone, draft(&journal.Photo{Blob: small, Media: "image/jpeg"}))
	last := storetest.Append(t, phone, draft(&journal.Photo{Blob: large, Media: "image/jpeg"}))[0]

	c := client(t, Options{Store: phone, Exchange: HTTP(nil, web.URL, "good"), Memory: memory})
	if n, err := c.Waiting(t.Context()); n != 703 || err != nil || c.Ashore(last.Journal, 1) || !c.When().IsZero() {
		t.Errorf("before the first Step %d wait, %v", n, err)
	}
	out := step(t, c)
	if out.Pushed != 703 || out.Pulled != 1202 || out.Waiting != 0 || !out.Adopted || !out.Reopen || out.Turned || out.Moved != 0 || out.Offset.Abs() > time.Second {
		t.Errorf("%+v", out)
	}
	equal(t, phone, server)
	if !c.Ashore(last.Journal, last.N) || c.Ashore(last.Journal, last.N+1) || c.When().IsZero() {
		t.Error("what is ashore is not known as such")
	}
	for _, st := range []store.Store{phone, server} {
		for _, n := range []journal.Text{name, note} {
			if _, err := st.Text(t.Context(), n); err != nil {
				t.Error(err)
			}
		}
		for _, h := range []journal.Hash{outline, small, large} {
			if _, err := st.Blob(t.Context(), h); err != nil {
				t.Error(err)
			}
		}
	}
	mine, _ := phone.Identity(t.Context())
	its, _ := server.Identity(t.Context())
	if mine.Outfit != its.Outfit || mine.Account != its.Account || mine.Journal == its.Journal || mine.Journal != last.Journal {
		t.Errorf("the phone is %+v, the server %+v", mine, its)
	}
	if out := step(t, c); out.Pushed != 0 || out.Pulled != 0 || out.Reopen {
		t.Errorf("in step, and yet %+v", out)
	}
	// A text erased ashore does not come back from the phone.
	if err := server.EraseText(t.Context(), note); err != nil {
		t.Fatal(err)
	}
	again := client(t, Options{Store: phone, Exchange: HTTP(nil, web.URL, "good"), Memory: memory})
	if !again.Ashore(last.Journal, last.N) {
		t.Error("another run of the program does not remember what is ashore")
	}
	if !again.Sent().Equal(c.Sent()) || c.Sent().IsZero() || !c.When().After(c.Sent()) || !again.When().Equal(c.When()) || again.Offset() != c.Offset() {
		t.Errorf("another run remembers %v, %v, %v; it was %v, %v, %v", again.When(), again.Sent(), again.Offset(), c.When(), c.Sent(), c.Offset())
	}
	storetest.Append(t, phone, storetest.Drafts(1))
	if out := step(t, again); out.Pushed != 1 || out.Pulled != 0 {
		t.Errorf("%+v", out)
	}
	if _, err := server.Text(t.Context(), note); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an erased text is back: %v", err)
	}
	storetest.Sound(t, server, 1906)
	storetest.Sound(t, phone, 1906)
}

// TestRestoredServer: a server comes back from a backup; phones bring what it lost, those of others too.
func TestRestoredServer(t *testing.T) {
	dir, file, back := t.TempDir(), t.TempDir()+"/backup", t.TempDir()+"/back"
	server := open(t, dir)
	red, blue := newPhone(), newPhone()
	var base string
	exchange := func(ctx context.Context, a Ask) (Answer, error) { return HTTP(nil, base, "good")(ctx, a) }
	r, b := client(t, Options{Store: red, Exchange: exchange}), client(t, Options{Store: blue, Exchange: exchange})
	base = listen(t, server).URL
	storetest.Append(t, red, storetest.Drafts(5))
	step(t, r)
	if _, err := server.Backup(t.Context(), file); err != nil {
		t.Fatal(err)
	}
	storetest.Append(t, server, storetest.Drafts(3))
	storetest.Append(t, red, storetest.Drafts(4))
	step(t, r)
	step(t, b)
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlite.Restore(t.Context(), file, back, sqlite.RestoreOptions{}); err != nil {
		t.Fatal(err)
	}
	restored := open(t, back)
	base = listen(t, restored).URL
	storetest.Append(t, restored, storetest.Drafts(2))
	// The red phone is at the bottom of the lake; the blue one carries its entries.
	if out := step(t, b); out.Pushed != 7 || out.Pulled != 2 || out.Turned || out.Moved != 0 {
		t.Errorf("%+v", out)
	}
	equal(t, blue, restored)
	storetest.Sound(t, restored, 14)
}

// TestPhoneSetBack: a phone comes back as it was before, writes on, and nothing of either history is lost.
func TestPhoneSetBack(t *testing.T) {
	server, phone := open(t, t.TempDir()), newPhone()
	exchange := HTTP(nil, listen(t, server).URL, "good")
	storetest.Append(t, phone, storetest.Drafts(100))
	step(t, client(t, Options{Store: phone, Exchange: exchange}))
	copied := phone.Clone()
	storetest.Append(t, phone, storetest.Drafts(80))
	step(t, client(t, Options{Store: phone, Exchange: exchange}))

	was, _ := copied.Identity(t.Context())
	again := storetest.Append(t, copied, storetest.Drafts(90))
	c := client(t, Options{Store: copied, Exchange: exchange})
	out := step(t, c)
	if !out.Turned || out.Moved != 90 || out.Pulled != 80 || out.Pushed != 90 || !out.Reopen {
		t.Errorf("%+v", out)
	}
	equal(t, copied, server)
	storetest.Sound(t, server, 270)
	id, _ := copied.Identity(t.Context())
	branch := store.BranchID(&again[0])
	heads, _ := server.Heads(t.Context())
	if id.Journal == was.Journal || heads[branch].N != 90 || heads[was.Journal].N != 180 {
		t.Errorf("journal %s, heads %v", id.Journal, heads)
	}
	acts := map[uuid.UUID]int{}
	for _, e := range storetest.ReadAll(t, server, 0) {
		acts[e.ID]++
	}
	if len(acts) != 270 {
		t.Errorf("%d acts", len(acts))
	}
	kept := 0 // the entries as they were are kept as well
	server.Blobs(t.Context(), func(h journal.Hash) error {
		b, err := server.Blob(t.Context(), h)
		kept += bytes.Count(b, []byte("\n"))
		return err
	})
	if kept != 90 {
		t.Errorf("%d lines are kept as they were", kept)
	}
	// What a phone remembers apart from its entries tells at once that they were set back.
	memory := &remembers{}
	step(t, client(t, Options{Store: copied, Exchange: exchange, Memory: memory}))
	storetest.Append(t, copied, storetest.Drafts(1))
	older := copied.Clone()
	storetest.Append(t, copied, storetest.Drafts(1))
	step(t, client(t, Options{Store: copied, Exchange: exchange, Memory: memory}))
	before, _ := older.Identity(t.Context())
	client(t, Options{Store: older, Exchange: exchange, Memory: memory})
	if now, _ := older.Identity(t.Context()); now.Journal == before.Journal {
		t.Error("a phone that was set back opened and goes on in its old journal")
	}
}

// TestRefused: who is not known, or no longer, gets nothing and is told why.
func TestRefused(t *testing.T) {
	server := newPhone()
	storetest.Append(t, server, storetest.Drafts(3))
	web := listen(t, server)
	for token, want := range map[string]struct {
		err  error
		code fault.Code
	}{"ended": {ErrEnded, fault.Conflict}, "wipe": {ErrWipe, fault.Conflict}, "other": {nil, fault.NotFound}, "": {nil, fault.Conflict}, "broken": {nil, fault.Damaged}} {
		phone := newPhone()
		storetest.Append(t, phone, storetest.Drafts(2))
		out, err := client(t, Options{Store: phone, Exchange: HTTP(nil, web.URL, token)}).Step(t.Context())
		if err == nil || fault.CodeOf(err) != want.code || want.err != nil && !errors.Is(err, want.err) || out.Pulled+out.Pushed > 0 {
			t.Errorf("%q: %+v, %v", token, out, err)
		}
		if token == "ended" && errors.Is(err, ErrWipe) {
			t.Error("an ended phone is told to wipe")
		}
		storetest.Sound(t, phone, 2)
	}
	storetest.Sound(t, server, 3)
	web.Close()
	_, err := client(t, Options{Store: newPhone(), Exchange: HTTP(nil, web.URL, "good")}).Step(t.Context())
	if fault.CodeOf(err) != fault.Unavailable || strings.Contains(fmt.Sprint(err, errors.Unwrap(err)), "Bearer") {
		t.Errorf("no server: %v", err)
	}
	other := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "<h1>Welcome</h1>") }))
	defer other.Close()
	if _, err := client(t, Options{Store: newPhone(), Exchange: HTTP(nil, other.URL, "good")}).Step(t.Context()); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("another server: %v", err)
	}
}

// post sends bytes as they are.
func post(t testing.TB, url string, body []byte, head ...string) (int, string) {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, url, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer good")
	for i := 0; i < len(head); i += 2 {
		req.Header.Set(head[i], head[i+1])
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

// TestBadRequests: what is malformed, too long, cut or damaged is refused in plain words, and nothing of it is stored.
func TestBadRequests(t *testing.T) {
	server := newPhone()
	id, _ := server.Identity(t.Context())
	web := listen(t, server)
	push := Ask{Epoch: id.Epoch, Journal: uuid.UUID{7}, Entries: storetest.Foreign(t, uuid.UUID{7}, storetest.Drafts(12))}
	good, err := push.Encode()
	if err != nil {
		t.Fatal(err)
	}
	bomb := pack(append([]byte(`{"sync":1,"x":"`), bytes.Repeat([]byte("a"), 200<<20)...))
	if len(bomb) > mostPacked {
		t.Fatalf("the bomb has %d bytes", len(bomb))
	}
	mixed := push
	mixed.Entries = append(slices.Clone(push.Entries), storetest.Foreign(t, uuid.UUID{8}, storetest.Drafts(1))...)
	mixedText, _ := mixed.Encode()
	for what, c := range map[string]struct {
		path string
		body []byte
		head []string
		want int
	}{
		"nothing":           {"push", nil, nil, 400},
		"no JSON":           {"push", []byte("hello\n"), nil, 400},
		"an array":          {"push", []byte("[]\n"), nil, 400},
		"newer":             {"push", bytes.Replace(good, []byte(`"sync":1`), []byte(`"sync":2`), 1), nil, 409},
		"no version":        {"push", bytes.Replace(good, []byte(`"sync":1`), []byte(`"sync":0`), 1), nil, 409},
		"an entry missing":  {"push", good[:bytes.LastIndexByte(good[:len(good)-1], '\n')+1], nil, 400},
		"an entry too many": {"push", append(slices.Clone(good), good[bytes.IndexByte(good, '\n')+1:]...), nil, 400},
		"a changed body":    {"push", bytes.Replace(good, []byte(`"seconds":30`), []byte(`"seconds":31`), 1), nil, 422},
		"a lost line":       {"push", bytes.Replace(bytes.Replace(good, []byte(`"entries":12`), []byte(`"entries":11`), 1), line(good, 5), nil, 1), nil, 400},
		"two journals":      {"push", mixedText, nil, 400},
		"another journal":   {"push", bytes.Replace(good, []byte(`"journal":"07`), []byte(`"journal":"09`), 1), nil, 400},
		"no entries":        {"push", []byte(`{"sync":1}` + "\n"), nil, 400},
		"many entries":      {"push", []byte(`{"sync":1,"entries":501}` + "\n"), nil, 400},
		"minus one entry":   {"push", []byte(`{"sync":1,"entries":-1}` + "\n"), nil, 400},
		"entries to ask":    {"pull", good, nil, 400},
		"many names":        {"fetch", names(65), nil, 400},
		"too many names":    {"lack", names(mostNames + 1), nil, 400},
		"marks in disorder": {"digest", []byte(`{"sync":1,"marks":{"07000000-0000-0000-0000-000000000000":[{"n":2,"hash":"` + strings.Repeat("0", 64) + `"},{"n":1,"hash":"` + strings.Repeat("0", 64) + `"}]}}` + "\n"), nil, 400},
		"a bomb":            {"push", bomb, []string{"Content-Encoding", "gzip"}, 400},
		"no gzip":           {"push", good, []string{"Content-Encoding", "gzip"}, 400},
		"another encoding":  {"push", good, []string{"Content-Encoding", "br"}, 400},
		"too much":          {"push", bytes.Repeat([]byte(" "), mostPacked+1), nil, 400},
		"a text changed":    {"texts", []byte(`{"sync":1,"texts":1}` + "\n" + `{"text":"` + strings.Repeat("0", 64) + `","salt":"` + strings.Repeat("A", 43) + `=","data":"x"}` + "\n"), nil, 422},
		"nobody asks that":  {"drop", good, nil, 404},
	} {
		status, text := post(t, web.URL+Path+c.path, c.body, c.head...)
		if status != c.want || c.want != 404 && !strings.Contains(text, `"message":"`) {
			t.Errorf("%s: %d %s, want %d", what, status, text, c.want)
		}
		storetest.Sound(t, server, 0)
	}
	// Cut at any byte, packed or not, a push is refused whole; sent again whole it is taken once.
	packed := pack(good)
	for cut := 0; cut < len(good)-1; cut += 61 {
		if status, text := post(t, web.URL+Path+"push", good[:cut]); status != 400 && status != 422 {
			t.Errorf("cut at %d: %d %s", cut, status, text)
		}
		if at := cut * len(packed) / len(good); at < len(packed) {
			if status, text := post(t, web.URL+Path+"push", packed[:at], "Content-Encoding", "gzip"); status != 400 {
				t.Errorf("packed and cut at %d: %d %s", at, status, text)
			}
		}
	}
	storetest.Sound(t, server, 0)
	for range 2 {
		if status, text := post(t, web.URL+Path+"push", packed, "Content-Encoding", "gzip"); status != 200 || !strings.Contains(text, `"n":12`) {
			t.Errorf("whole: %d %s", status, text)
		}
	}
	storetest.Sound(t, server, 12)
	req, _ := http.NewRequest(http.MethodPut, web.URL+Path+"blob/"+journal.Sum([]byte("a")).String(), strings.NewReader("b"))
	req.Header.Set("Authorization", "Bearer good")
	if res, err := http.DefaultClient.Do(req); err != nil || res.StatusCode != 422 {
		t.Errorf("a file under another's name: %v %v", res, err)
	} else {
		res.Body.Close()
	}
}

func line(text []byte, n int) []byte { return bytes.SplitAfter(text, []byte("\n"))[n] }

func names(n int) []byte {
	a := Ask{}
	for i := range n {
		a.Names = append(a.Names, journal.Sum([]byte{byte(i), byte(i >> 8)}))
	}
	b, _ := a.Encode()
	return b
}

// poor is a line that loses answers, repeats questions and cuts.
type poor struct {
	n    int
	next http.RoundTripper
}

func (p *poor) RoundTrip(r *http.Request) (*http.Response, error) {
	p.n++
	var body []byte
	if r.Body != nil {
		body, _ = io.ReadAll(r.Body)
	}
	send := func(b []byte) (*http.Response, error) {
		c := r.Clone(r.Context())
		c.Body = io.NopCloser(bytes.NewReader(b))
		c.ContentLength = int64(len(b))
		return p.next.RoundTrip(c)
	}
	switch p.n % 5 {
	case 1: // the answer is lost
		if res, err := send(body); err == nil {
			io.Copy(io.Discard, res.Body)
			res.Body.Close()
		}
		return nil, errors.New("no signal")
	case 3: // the question arrives twice
		if res, err := send(body); err == nil {
			io.Copy(io.Discard, res.Body)
			res.Body.Close()
		}
	case 4: // the answer is cut
		res, err := send(body)
		if err == nil {
			b, _ := io.ReadAll(res.Body)
			res.Body.Close()
			res.Body = io.NopCloser(bytes.NewReader(b[:len(b)*(p.n%7)/7]))
		}
		return res, err
	}
	return send(body)
}

// TestPoorLine: answers lost, doubled and cut on the way; Steps repeated until one comes to its end; nothing twice.
func TestPoorLine(t *testing.T) {
	server, phone := newPhone(), newPhone()
	web := listen(t, server)
	storetest.Append(t, server, storetest.Drafts(1100))
	storetest.Append(t, phone, storetest.Drafts(1100))
	line := &poor{next: http.DefaultTransport}
	c := client(t, Options{Store: phone, Exchange: HTTP(&http.Client{Transport: line}, web.URL, "good")})
	failed := 0
	for ; failed < 100; failed++ {
		if _, err := c.Step(t.Context()); err == nil {
			break
		}
	}
	if failed == 0 || failed == 100 {
		t.Errorf("%d Steps failed", failed)
	}
	equal(t, phone, server)
	storetest.Sound(t, server, 2200)
}

// FuzzDecode: whatever is read as a message is whole, and is the same after it was written and read again.
func FuzzDecode(f *testing.F) {
	push, _ := Ask{Journal: uuid.UUID{7}, Entries: storetest.Foreign(f, uuid.UUID{7}, storetest.Drafts(2))}.Encode()
	texts, _ := Ask{Texts: []store.Salted{store.Salt("Ola"), store.Salt("")}}.Encode()
	digest, _ := Ask{Journal: uuid.UUID{1}, Marks: map[uuid.UUID][]Mark{{7}: {{1, journal.Hash{1}}, {9, journal.Hash{2}}}}}.Encode()
	page, _ := Answer{Epoch: uuid.UUID{3}, To: Cursor{Pos: 2}, Runs: []int{2}, Entries: storetest.Foreign(f, uuid.UUID{7}, storetest.Drafts(2))}.Encode()
	for i, b := range [][]byte{push, texts, digest, page, names(3), push[:len(push)/2], []byte("{}\n"), []byte(`{"sync":1,"entries":1}` + "\n{}\n")} {
		f.Add(byte(i), b)
	}
	ops := []Op{OpPush, OpTexts, OpDigest, OpPull, OpLack, OpFetch}
	f.Fuzz(func(t *testing.T, op byte, b []byte) {
		if a, err := DecodeAsk(ops[int(op)%len(ops)], bytes.NewReader(b)); err == nil {
			text, err := a.Encode()
			if err != nil {
				t.Fatalf("read and cannot be written: %v", err)
			}
			again, err := DecodeAsk(a.Op, bytes.NewReader(text))
			if err != nil {
				t.Fatalf("written and cannot be read: %v", err)
			}
			if text2, _ := again.Encode(); !bytes.Equal(text, text2) {
				t.Fatalf("%s became %s", text, text2)
			}
			for i := range a.Entries {
				if e := &a.Entries[i]; journal.Verify(store.Before(e), e) != nil {
					t.Fatalf("entry %d does not match its hash", i)
				}
			}
		} else if fault.CodeOf(err) == fault.Internal {
			t.Fatalf("an unexplained error: %v", err)
		}
		if r, err := DecodeAnswer(bytes.NewReader(b)); err == nil {
			text, err := r.Encode()
			if err != nil {
				t.Fatalf("read and cannot be written: %v", err)
			}
			if _, err := DecodeAnswer(bytes.NewReader(text)); err != nil {
				t.Fatalf("written and cannot be read: %v", err)
			}
		} else if fault.CodeOf(err) == fault.Internal {
			t.Fatalf("an unexplained error: %v", err)
		}
		if z, err := gzip.NewReader(bytes.NewReader(b)); err == nil {
			_, _ = DecodeAsk(OpPush, &bounded{r: z, left: 1 << 16})
		}
	})
}
