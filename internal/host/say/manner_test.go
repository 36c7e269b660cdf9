package say

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/engine/manner"
)

// Too few is said with what it takes, an undecided pair as luck, and a rate only after an hour of fishing.
func TestMannerWords(t *testing.T) {
	var v Voice
	if s := v.Compared(manner.Lure, nil); !strings.HasPrefix(s, "Too few to compare lures") {
		t.Error(s)
	}
	short := manner.Row{Name: "still", Events: 2, Sits: 1, Time: 20 * time.Minute, Rate: 6}
	long := manner.Row{Name: "lift_drop", Events: 4, Sits: 3, Time: 4 * time.Hour, Rate: 1, Low: 0.2, High: 3.1}
	rows := v.MannerRows(manner.MannerOf, []manner.Row{short, long})
	if rows[0].Rate != "too short to tell a rate" || rows[0].Took != "2 bites in 0.3 rod-hours, 1 sit" || rows[1].Rate != "1.0 an hour (0.2 to 3.1)" || rows[1].Name != "Lift and drop" {
		t.Errorf("%+v", rows)
	}
	if s := v.Compared(manner.MannerOf, []manner.Row{long, short}); !strings.HasPrefix(s, "Too few to compare held still and lift and drop: it takes 3 rod-hours") {
		t.Error(s)
	}
	a, b := manner.Row{Name: "spoon", Events: 14, Sits: 6, Time: 6 * time.Hour, Rate: 14.0 / 6}, manner.Row{Name: "jig", Events: 5, Sits: 6, Time: 330 * time.Minute, Rate: 5 / 5.5}
	if s := v.Compared(manner.Lure, []manner.Row{a, b}); !strings.HasPrefix(s, "Undecided: spoon took 2.6 times as often as jig, and luck alone can do that") {
		t.Error(s)
	}
	b.Events, b.Rate = 0, 0
	a.Events, a.Rate = 60, 10
	if s := v.Compared(manner.Lure, []manner.Row{a, b}); !strings.HasPrefix(s, "Spoon took many times as often as jig") || !strings.Contains(s, "times or more") {
		t.Error(s)
	}
}
