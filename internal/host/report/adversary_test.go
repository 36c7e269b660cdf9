package report

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/share"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

var seed = flag.Uint64("seed", 20260115, "seed of the made-up days that the adversary is given")

// rival is somebody who holds a report and a good depth map of the lake, and ranks every part of the lake by how likely the party was there: near any
// number of the report taken as a depth in metres or feet, and in the third of the lake that a word for the depth names.
type rival struct {
	depthM []float64 // of the places of the lake
	third  [2]float64
}

var (
	number    = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)
	depthWord = regexp.MustCompile(`(shallow|mid-depth|deep) water`)
)

// scores gives what the rival makes of each place; higher is likelier.
func (v rival) scores(text string) []float64 {
	var depths []float64
	for _, s := range number.FindAllString(text, -1) {
		if x, err := strconv.ParseFloat(s, 64); err == nil {
			depths = append(depths, x, x*quantity.Foot.Metres())
		}
	}
	word := depthWord.FindStringSubmatch(text)
	out := make([]float64, len(v.depthM))
	for i, d := range v.depthM {
		for _, x := range depths {
			out[i] += math.Exp(-math.Abs(d-x) / 0.4)
		}
		if word != nil {
			class := map[bool]string{true: "shallow"}[d < v.third[0]]
			if d >= v.third[0] {
				class = map[bool]string{true: "mid-depth", false: "deep"}[d < v.third[1]]
			}
			if class == word[1] {
				out[i] += 100
			}
		}
	}
	return out
}

// rank gives the chance that a true place is ranked above one taken at random: 0.5 is chance, 1 is found (the area under the ROC curve).
func rank(scores, sorted []float64, truth []int) float64 {
	sum := 0.0
	for _, i := range truth {
		lo, _ := slices.BinarySearch(sorted, scores[i])
		hi, _ := slices.BinarySearch(sorted, math.Nextafter(scores[i], math.Inf(1)))
		sum += (float64(lo) + float64(hi)) / 2 / float64(len(sorted))
	}
	return sum / float64(len(truth))
}

// madeUpDays are days of a party at places drawn at random over the lake, in one record, with the places in which it truly fished. How many fish come is
// drawn without regard to the place: the test is of the report, not of fishing.
func madeUpDays(t *testing.T, n int) (d *desk.Desk, days []journal.Day, truth [][]int, v rival) {
	t.Helper()
	lake := sim.NewLake(15)
	var places []geo.Local
	for e := -8000.0; e <= 8000; e += 250 {
		for north := -15000.0; north <= 15000; north += 250 {
			if p := (geo.Local{E: e, N: north}); lake.Water(p) {
				places = append(places, p)
				v.depthM = append(v.depthM, lake.Depth(p).Metres())
			}
		}
	}
	sorted := slices.Clone(v.depthM)
	slices.Sort(sorted)
	v.third = [2]float64{sorted[len(sorted)/3], sorted[2*len(sorted)/3]}
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID()})
	id, err := st.Identity(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	zone := time.FixedZone("", -3*3600)
	author := journal.Author{Outfit: id.Outfit, Lake: lake.ID, Account: id.Account, Zone: zone}
	now := time.Date(2025, 1, 1, 12, 0, 0, 0, time.UTC)
	var drafts []journal.Draft
	write := func(at time.Time, b journal.Body) uuid.UUID {
		if err := b.Check(); err != nil {
			t.Fatal(err)
		}
		drafts = append(drafts, author.Draft(uuid.Nil, at, at, b))
		return drafts[len(drafts)-1].ID
	}
	write(now, &journal.Lake{Name: "Lake Tamaringen", Origin: *journal.PointOf(lake.Frame.Origin()), Zone: "Etc/GMT+3"})
	who, err := st.PutText(t.Context(), "Jonas Albrecht")
	if err != nil {
		t.Fatal(err)
	}
	for k := range n {
		rng := num.NewStream(*seed, "adversary", fmt.Sprint(k))
		now = now.AddDate(0, 0, 1)
		guest := write(now, &journal.Guest{Name: who, Role: "guest", Age: "adult"})
		centre := places[rng.IntN(len(places))]
		here := nearest(places, centre, 12) // as many by the bank as in the middle, or the count would tell which
		for i, at := range here {
			hole := write(now, &journal.Hole{Number: int64(i + 1), At: journal.PointOf(lake.Position(places[at])), Depth: journal.MM(lake.Depth(places[at]))})
			write(now, &journal.Ice{Hole: hole, Total: 430})
			for range rng.IntN(4) {
				write(now.Add(time.Duration(rng.IntN(300))*time.Minute), &journal.Fish{Hole: hole, Guest: guest, Species: "perch", Kept: rng.IntN(2) == 0, Count: 1,
					Length: journal.MM(quantity.Length(150+rng.IntN(180)) * quantity.Millimetre), Size: []string{"small", "good", "big"}[rng.IntN(3)]})
			}
		}
		truth, days = append(truth, here), append(days, journal.DayOf(now, zone))
	}
	if _, err := st.Append(t.Context(), drafts); err != nil {
		t.Fatal(err)
	}
	d, err = desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return now.Add(6 * time.Hour) }, Recall: surfaces.Recall, Keep: surfaces.Keep})
	if err != nil {
		t.Fatal(err)
	}
	return d, days, truth, v
}

// nearest gives the k places nearest to a centre.
func nearest(places []geo.Local, centre geo.Local, k int) []int {
	all := make([]int, len(places))
	for i := range all {
		all[i] = i
	}
	slices.SortStableFunc(all, func(a, b int) int { return cmp.Compare(places[a].Distance(centre), places[b].Distance(centre)) })
	return all[:k]
}

// edge gives how much better a rival ranks the true places of a day with its own report than with the report of another day, as mean and half of a 95 %
// interval over the days.
func edge(v rival, texts []string, truth [][]int) (mean, half float64) {
	gain, others := make([]float64, len(texts)), make([]float64, len(texts))
	for j, text := range texts {
		scores := v.scores(text)
		sorted := slices.Clone(scores)
		slices.Sort(sorted)
		for i := range texts {
			if r := rank(scores, sorted, truth[i]); i == j {
				gain[i] = r
			} else {
				others[i] += r / float64(len(texts)-1)
			}
		}
	}
	for i := range gain {
		gain[i] -= others[i]
	}
	for _, g := range gain {
		mean += g / float64(len(gain))
	}
	var ss float64
	for _, g := range gain {
		ss += (g - mean) * (g - mean)
	}
	return mean, 1.96 * math.Sqrt(ss/float64(len(gain)-1)/float64(len(gain)))
}

// A rival who holds the report and a depth map ranks the places of a day no better with its own report than with another day's: the mean gain's 95 %
// interval holds nothing, and is narrow. A report that leaked a depth in figures is found out by the same test, and the word for the depth, which a
// guide must ask for, does what the preview says: it narrows the lake. The form of the test is ours; days and seed as flagged.
func TestRivalDoesNoBetterThanChance(t *testing.T) {
	n := 400
	switch {
	case os.Getenv("ICEHAND_SOAK") != "":
		n = 1000
	case testing.Short():
		n = 250
	}
	t.Logf("seed %d, %d days", *seed, n)
	d, days, truth, v := madeUpDays(t, n)
	var plain, leaky, word []string
	for k, day := range days {
		rep, err := d.GuestReport(t.Context(), desk.ReportAsk{Day: day})
		if err != nil {
			t.Fatal(err)
		}
		page, err := rep.Page(share.Font{})
		if err != nil {
			t.Fatal(err)
		}
		text := said(string(page))
		m := v.depthM[truth[k][len(truth[k])/2]]
		plain, leaky = append(plain, text), append(leaky, text+fmt.Sprintf(" we sat in %.1f m", m))
		class := map[bool]string{true: "shallow", false: "deep"}[m < v.third[0]]
		if m >= v.third[0] && m < v.third[1] {
			class = "mid-depth"
		}
		word = append(word, text+" It was "+class+" water.")
	}
	mean, half := edge(v, plain, truth)
	t.Logf("own report against another's: rank better by %+.4f, 95 %% interval %+.4f to %+.4f (0 is chance)", mean, mean-half, mean+half)
	if mean-half > 0 || mean > 0.02 {
		t.Errorf("the report tells a rival something: %+.4f ± %.4f", mean, half)
	}
	if half > 0.03 {
		t.Errorf("the interval ± %.4f is too wide to tell", half)
	}
	if mean, half := edge(v, leaky, truth); mean-half <= 0.02 {
		t.Errorf("a leaked depth is not found out: %+.4f ± %.4f", mean, half)
	} else {
		t.Logf("with a leaked depth: %+.4f ± %.4f", mean, half)
	}
	if mean, half := edge(v, word, truth); mean-half <= 0.02 {
		t.Errorf("the word for the depth tells less than the preview says: %+.4f ± %.4f", mean, half)
	} else {
		t.Logf("with a word for the depth, which must be asked for: %+.4f ± %.4f", mean, half)
	}
}
