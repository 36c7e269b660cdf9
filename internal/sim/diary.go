package sim

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Person is somebody of the outfit or the party. The name is invented.
type Person struct {
	ID   uuid.UUID // of the guest entry of the day
	Name string
	Role string // guide, scout, guest
	Age  string // child, adult, elder
	Rod  int    // 0: fishes with none
}

// Diary collects what a guide would have written: drafts, and the texts and blobs that they name.
type Diary struct {
	Drafts []journal.Draft
	Texts  []store.Salted
	Blobs  [][]byte

	lake   *Lake
	seed   uint64
	name   string
	author journal.Author
	rng    *rand.Rand // errors of reading
	number int64      // of the last hole of the day
	acts   int
	dead   [3]time.Time // from the first to the second nothing can be noted; it is typed in at the third
	err    error        // the first body that could not be meant
}

// spot is a hole of the day with what the simulator knows of it.
type spot struct {
	id      uuid.UUID
	number  int64
	at      geo.Local // the true place
	drilled time.Time
}

// NewDiary opens an empty diary; diaries of different names give different acts.
func NewDiary(l *Lake, seed uint64, name string) *Diary {
	return &Diary{
		lake: l, seed: seed, name: name, rng: num.NewStream(seed, "readings", name),
		author: journal.Author{
			Outfit: journal.ContentID(l.ID, "sim", "outfit"), Account: journal.ContentID(l.ID, "sim", "account"), Lake: l.ID, Zone: zone,
		},
	}
}

// write notes an act at the time at which it happens, or later when the telephone is dead.
func (b *Diary) write(at time.Time, body journal.Body) uuid.UUID {
	now := at
	if !now.Before(b.dead[0]) && now.Before(b.dead[1]) {
		now = b.dead[2]
	}
	if err := body.Check(); err != nil && b.err == nil {
		b.err = fmt.Errorf("sim: %s at %s: %w", body.Kind(), at.In(zone).Format(time.DateTime), err)
	}
	b.acts++
	id := journal.ContentID(b.lake.ID, body.Kind(), fmt.Sprintf("%s/%d/%d", b.name, b.seed, b.acts))
	b.Drafts = append(b.Drafts, b.author.Draft(id, at, now, body))
	return id
}

// silent lets the telephone be dead from one time to another; what happens meanwhile is typed in from paper later.
func (b *Diary) silent(from, to, typed time.Time) { b.dead = [3]time.Time{from, to, typed} }

// blob keeps bulk data and gives its name.
func (b *Diary) blob(data []byte) journal.Hash {
	b.Blobs = append(b.Blobs, data)
	return journal.Sum(data)
}

// text keeps an erasable text. Its salt comes from the seed, so that the demo is the same each time: it hides nothing,
// since nothing here is true.
func (b *Diary) text(s string) journal.Text {
	b.acts++
	salted := store.Salted{Text: s, Salt: journal.Sum(binary.BigEndian.AppendUint64(fmt.Appendf(nil, "%s/%d/", b.name, b.acts), b.seed))}
	b.Texts = append(b.Texts, salted)
	return salted.Name()
}

// setOut begins a day: the trip, its people, everyone on the ice.
func (b *Diary) setOut(at time.Time, people []Person, trip journal.Trip) {
	b.number = 0
	b.author.Trip = uuid.Nil
	b.author.Trip = b.write(at.Add(-30*time.Minute), &trip)
	for i := range people {
		p := &people[i]
		p.ID = b.write(at.Add(-28*time.Minute), &journal.Guest{Name: b.text(p.Name), Role: p.Role, Age: p.Age, Rod: int64(p.Rod)})
	}
	for _, p := range people {
		b.write(at, &journal.Claim{Person: p.ID, State: "on_ice", By: people[0].ID})
	}
	b.headCount(at.Add(time.Minute), people)
}

// comeIn ends a day ashore.
func (b *Diary) comeIn(at time.Time, people []Person) {
	b.headCount(at.Add(-time.Minute), people)
	for _, p := range people {
		b.write(at, &journal.Claim{Person: p.ID, State: "ashore", By: people[0].ID})
	}
	b.author.Trip = uuid.Nil
}

func (b *Diary) headCount(at time.Time, people []Person) {
	var present []uuid.UUID
	for _, p := range people {
		present = append(present, p.ID)
	}
	b.write(at, &journal.HeadCount{Present: present})
}

// noted says what is wanting in the note of a hole. The zero value is an ordinary note.
type noted struct {
	noDepth bool
	noFix   bool            // neither place nor paces
	paced   *spot           // placed by paces from this hole, in place of a fix
	off     quantity.Length // stated accuracy of a bad fix; 0: the usual 3 to 8 m
}

// drill notes a new hole. The noted place is off by what a telephone is off, the noted depth by what the sonar misreads.
func (b *Diary) drill(at time.Time, place geo.Local, n noted) *spot {
	b.number++
	body := &journal.Hole{Number: b.number, Diameter: journal.MM(20 * quantity.Centimetre)}
	if !n.noDepth {
		const misreadM = 0.08 // m
		read := num.Quantise(b.lake.Depth(place).Metres()+misreadM*b.rng.NormFloat64(), 0.1)
		body.Depth, body.DepthBy, body.Unit = journal.MM(quantity.Length(read)), "sonar", "m"
	}
	accuracy := quantity.Length(3 + 5*b.rng.Float64())
	if n.off > 0 {
		accuracy = n.off
	}
	sdM := accuracy.Metres() / 2.45 // 95 % of fixes lie within the stated accuracy
	fix := place.Add(geo.Local{E: sdM * b.rng.NormFloat64(), N: sdM * b.rng.NormFloat64()})
	switch {
	case n.paced != nil:
		body.From = &journal.FromHole{Hole: n.paced.id, Paces: int64(math.Round(n.paced.at.Distance(place).Metres() / paceM)),
			Bearing: int64(10 * math.Round(n.paced.at.BearingTo(place).Degrees()))}
	case !n.noFix:
		body.At, body.Accuracy = journal.PointOf(b.lake.Position(fix)), journal.MM(accuracy)
	}
	return &spot{id: b.write(at, body), number: b.number, at: place, drilled: at}
}

// paceM is the length of the guide's pace in metres.
const paceM = 0.75

// look notes what the sonar showed.
func (b *Diary) look(at time.Time, h *spot, seconds int64, count int) {
	body := &journal.Look{Hole: h.id, Seconds: seconds, Marks: "none"}
	if count > 0 {
		n := int64(count)
		body.Count, body.Marks = &n, "few"
		if n >= 4 {
			body.Marks = "many"
		}
	}
	b.write(at, body)
}

// iceAt notes an ice reading: a tenth of it white.
func (b *Diary) iceAt(at time.Time, h *spot, total quantity.Length) {
	white, snow := total/10, b.lake.Snow(h.at, at)
	b.write(at, &journal.Ice{Hole: h.id, Total: total.Millimetres(), White: journal.MM(quantity.Length(num.Quantise(white.Metres(), 0.01))),
		Snow: journal.MM(quantity.Length(num.Quantise(snow.Metres(), 0.01))), Unit: "cm"})
}

// readIce notes the true ice, read to the centimetre.
func (b *Diary) readIce(at time.Time, h *spot) {
	b.iceAt(at, h, quantity.Length(num.Quantise(b.lake.Ice(h.at, at).Metres(), 0.01)))
}

// hours notes the weather of the landing's mast at each full hour from one time to another.
func (b *Diary) hours(from, to time.Time) {
	for t := from; !t.After(to); t = t.Add(time.Hour) {
		speed, dir, cloud := Wind(t)
		air, wind, from := int64(num.Quantise(Air(t).Degrees(), 0.5)*10), int64(speed.MetresPerSecond()*1000), int64(dir.Degrees())
		b.write(t, &journal.Weather{Air: &air, Wind: &wind, WindHeight: "mast", From: &from, Cloud: &cloud, Unit: "C"})
	}
}

// sort brings the drafts into the order in which they were written down.
func (b *Diary) sort() {
	slices.SortStableFunc(b.Drafts, func(x, y journal.Draft) int { return int(x.Wall - y.Wall) })
}
