package web_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"

	"icehand/internal/trade/journal"
)

// A sounder told on a hole's page corrects the holes drilled from then on, says what it sees there, and leaves the record as
// shown: 10 m at 1500 m/s assumed, 2 C, hung 0.3 m, is 9.7 m [Marczak1997]; holes before it stay as they were.
func TestSounderOnTheDepthPage(t *testing.T) {
	d, h, s := demo(t, true)
	at := s.Lake.Frame.Local(s.Scout)
	older := view(t, d).Lake.HolesOn(journal.DayOf(s.Now, view(t, d).Lake.Zone))[0]
	page := func(id string) string { return get(h, "/depth?hole="+id).Body.String() }
	before := page(older.ID.String())
	if !strings.Contains(before, "not told, depths as shown") || strings.Contains(before, "True depth") {
		t.Errorf("before a sounder was told: %s", before)
	}
	sent(t, h, "/sounder", form("hole", older.ID.String(), "assumed", "1500", "water", "2", "hang", "0,3", "cone", "20"))
	if strings.Contains(page(older.ID.String()), "True depth") {
		t.Error("a hole from before was corrected")
	}
	f := form("e", whole(10*(at.E+400)), "n", whole(10*(at.N+300)))
	sent(t, h, "/hole", f)
	all := view(t, d).Lake.Holes
	hole := all[len(all)-1].ID.String()
	sent(t, h, "/depth", form("hole", hole, "depth", "10"))
	after := page(hole)
	for _, want := range []string{"On record: 10.0 m.", "True depth about 9.7 m", "assumes 1500 m/s", "Sees about 3.3 m across", "Cannot see the lowest"} {
		if !strings.Contains(after, want) {
			t.Errorf("no %q on the page:\n%s", want, after)
		}
	}
	if all = view(t, d).Lake.Holes; all[len(all)-1].Depth.Metres() != 10 {
		t.Errorf("the record was changed to %v", all[len(all)-1].Depth)
	}
	if list := get(h, "/holes").Body.String(); !strings.Contains(list, "9.7 m") {
		t.Error("the list of holes has the depth as shown")
	}
	for _, bad := range [][2]string{{"assumed", "4921"}, {"water", "warm"}, {"hang", "12"}, {"cone", "400"}} {
		f := form("hole", hole, "assumed", "1500", "water", "2", "hang", "0.3")
		f.Set(bad[0], bad[1])
		if w := post(h, "/sounder", f); w.Code != http.StatusBadRequest {
			t.Errorf("%s %s: status %d", bad[0], bad[1], w.Code)
		}
	}
}

func whole(x float64) string { return strconv.Itoa(int(x)) }

func decimals(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
