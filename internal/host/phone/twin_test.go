package phone

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"
	_ "time/tzdata" // a browser lends programs no time zones

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/exchange"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Random journals are written here, folded here and in a WebAssembly build of this test, and compared. parted stands
// between two of them in their file, and between two views.
const parted = "----\n"

var (
	twinOrigin = geo.Position{Lat: 47.9, Lon: -45}
	twinStart  = time.Date(2026, 1, 15, 10, 0, 0, 0, time.UTC)
)

// twinID gives the next identity of a stream.
func twinID(r *rand.Rand) uuid.UUID {
	var id uuid.UUID
	for i := range id {
		id[i] = byte(r.Uint32())
	}
	id[6], id[8] = id[6]&0x0f|0x70, id[8]&0x3f|0x80
	return id
}

// twinBodies makes the acts of a random day: holes, looks, fish, ice, corrections and acts taken back.
func twinBodies(r *rand.Rand, n int, author journal.Author) []journal.Draft {
	f := geo.NewFrame(twinOrigin)
	var out []journal.Draft
	var holes, acts []uuid.UUID
	add := func(b journal.Body) uuid.UUID {
		at := twinStart.Add(time.Duration(r.IntN(18_000)) * time.Second)
		out = append(out, author.Draft(twinID(r), at, at, b))
		return out[len(out)-1].ID
	}
	pick := func(list []uuid.UUID) uuid.UUID { return list[r.IntN(len(list))] }
	for range n {
		switch k := r.IntN(10); {
		case k < 3 || len(holes) == 0:
			depth := int64(9000 + r.IntN(3000))
			holes = append(holes, add(&journal.Hole{Number: int64(len(holes) + 1), At: journal.PointOf(f.Position(geo.Local{E: r.Float64()*800 - 400, N: r.Float64()*800 - 400})), Depth: &depth, DepthBy: "sonar"}))
		case k < 6:
			acts = append(acts, add(&journal.Look{Hole: pick(holes), Seconds: 30, Marks: []string{"none", "few", "many"}[r.IntN(3)]}))
		case k < 8:
			acts = append(acts, add(&journal.Fish{Hole: pick(holes), Species: "perch", Kept: r.IntN(2) == 0, Count: int64(1 + r.IntN(3)), Size: []string{"small", "good", "big"}[r.IntN(3)]}))
		case k < 9 || len(acts) == 0:
			acts = append(acts, add(&journal.Ice{Hole: pick(holes), Total: int64(300 + r.IntN(200))}))
		default:
			if r.IntN(2) == 0 {
				add(&journal.Retract{Target: pick(acts), Why: "slip"})
			} else {
				add(&journal.Amend{Target: pick(holes), Set: map[string]json.RawMessage{"depth_mm": fmt.Append(nil, 9500+r.IntN(1000))}, Why: "measured"})
			}
		}
	}
	return out
}

// twinJournal makes one random record as text. With a shore it can be advised upon.
func twinJournal(t *testing.T, seed uint64, shore bool) []byte {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 7))
	st := mem.New(store.Identity{Outfit: twinID(r), Account: twinID(r), Journal: twinID(r), Epoch: twinID(r), Made: twinStart})
	author := journal.Author{Outfit: twinID(r), Lake: twinID(r), Account: twinID(r), Boot: twinID(r), Started: twinStart, Zone: time.FixedZone("Etc/GMT+3", -3*3600)}
	drafts := []journal.Draft{author.Draft(twinID(r), twinStart, twinStart, &journal.Lake{Name: "Twin", Origin: *journal.PointOf(twinOrigin), Zone: "Etc/GMT+3", FreezeUp: "2025-11-24"})}
	if shore {
		f := geo.NewFrame(twinOrigin)
		outline, depths := `{"type":"Polygon","coordinates":[[`, "lat,lon,depth_m\n"
		for i, c := range []geo.Local{{E: -600, N: -600}, {E: 600, N: -600}, {E: 600, N: 600}, {E: -600, N: 600}, {E: -600, N: -600}} {
			p := f.Position(c)
			outline += fmt.Sprintf("%s[%.7f,%.7f]", []string{"", ","}[min(i, 1)], p.Lon, p.Lat)
		}
		for e := -500.0; e <= 500; e += 100 {
			for n := -500.0; n <= 500; n += 100 {
				p := f.Position(geo.Local{E: e, N: n})
				depths += fmt.Sprintf("%.7f,%.7f,%.1f\n", p.Lat, p.Lon, 10+e/500)
			}
		}
		for _, l := range [][2]string{{"outline", outline + "]]}"}, {"soundings", depths}} {
			h, err := st.PutBlob(t.Context(), []byte(l[1]))
			if err != nil {
				t.Fatal(err)
			}
			drafts = append(drafts, author.Draft(twinID(r), twinStart, twinStart, &journal.Layer{What: l[0], Blob: h, Name: l[0], Media: "text/plain"}))
		}
	}
	if _, err := st.Append(t.Context(), append(drafts, twinBodies(r, 20+r.IntN(40), author)...)); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if _, err := exchange.WriteNDJSON(t.Context(), st, &out, exchange.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// twinView folds one record and tells what it says, and what is advised upon it.
func twinView(t *testing.T, record []byte, advised bool) string {
	t.Helper()
	st := mem.New(store.Identity{Outfit: uuid.UUID{1}, Account: uuid.UUID{2}, Journal: uuid.UUID{3}, Epoch: uuid.UUID{4}})
	if _, err := exchange.ReadNDJSON(t.Context(), st, bytes.NewReader(record)); err != nil {
		t.Fatal(err)
	}
	d, err := desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return twinStart.Add(5 * time.Hour) }, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	err = d.Read(t.Context(), func(v desk.View) error {
		fmt.Fprintln(&out, v.Today, v.Lake.Name, v.Lake.Zone, len(v.Lake.Layers))
		for _, h := range v.Lake.Holes {
			fmt.Fprintln(&out, "hole", h.ID, h.Number, h.Day, h.Drilled.UnixMilli(), h.Placed, h.At.E, h.At.N, h.Depth.Metres(), h.State)
		}
		for _, l := range v.Lake.Looks {
			fmt.Fprintln(&out, "look", l.ID, l.Hole, l.When.UnixMilli(), l.Marks, l.Count)
		}
		for _, i := range v.Lake.Ice {
			fmt.Fprintln(&out, "ice", i.When.UnixMilli(), i.Total.Metres())
		}
		for _, f := range v.Party.Fish {
			fmt.Fprintln(&out, "fish", f.ID, f.Hole, f.Day, f.Species, f.Size, f.Kept, f.Count)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if advised {
		step, err := d.Next(t.Context(), &advise.Place{Known: true, Accuracy: 4 * quantity.Metre, Fixed: twinStart.Add(5 * time.Hour)})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "advice %v %.2f %.2f %v %.4f\n", step.Do, step.To.E, step.To.N, step.Hole, step.Cost.Minutes)
	}
	return out.String()
}

// TestTwinViews tells the views of the records in a file, for TestTwins; without a file it does nothing but look at one of
// its own.
func TestTwinViews(t *testing.T) {
	from, to := os.Getenv("ICEHAND_TWINS"), os.Getenv("ICEHAND_TWIN_VIEWS")
	if from == "" {
		if a := twinView(t, twinJournal(t, 1, false), false); a != twinView(t, twinJournal(t, 1, false), false) || a == twinView(t, twinJournal(t, 2, false), false) {
			t.Error("one record gives two views, or two give one")
		}
		return
	}
	advised, err := strconv.Atoi(os.Getenv("ICEHAND_TWINS_ADVISED"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	for i, record := range bytes.Split(bytes.TrimSuffix(all, []byte(parted)), []byte(parted)) {
		out.WriteString(twinView(t, record, i < advised) + parted)
	}
	if err := os.WriteFile(to, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}
