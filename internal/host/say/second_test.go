package say

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/safety"
)

func aSecond(verdict dusk.Verdict, now time.Time) *advise.Second {
	at := func(min int) time.Time { return now.Add(time.Duration(min) * time.Minute) }
	o := dusk.Option{Place: dusk.Place{Form: dusk.Hump, Known: true, Relief: 3}, Distance: 850, Bearing: 157, Leave: at(30), Begin: at(42), End: at(95), TurnBack: at(100),
		Fish: dusk.Rate{Mean: 1.2, Low: 0.3, High: 2.6}, Chance: dusk.Odds{P: 0.62, Low: 0.3, High: 0.9}, Forgone: dusk.Rate{Mean: 1.6, Low: 0.8, High: 2.6}, Pays: 0.7, Minutes: 12, Holes: 3, Ice: 1.2}
	here := o
	here.Place, here.Distance = dusk.Place{Form: dusk.Here}, 0
	return &advise.Second{Answer: dusk.Answer{Verdict: verdict, Best: &o, Others: []dusk.Option{here}, Depth: dusk.Range{5, 7},
		Windows: []dusk.Window{{Span: dusk.Span{From: at(20), To: at(110)}, Earliest: at(-10), Latest: at(140), Chance: 0.5}},
		Why:     []dusk.Reason{{Code: "light", Rate: 0.6, Depth: 6}, {Code: "hump", Depth: 3}}, Changes: []dusk.Reason{{Code: "break_even", Rate: 1.4}}}}
}

// Every verdict has a sentence of at most 90 characters that names the time, and no reason is left without words.
func TestSecondTargetInWords(t *testing.T) {
	now := time.Date(2026, 1, 15, 14, 50, 0, 0, time.UTC)
	v := Voice{Units: quantity.SI, Zone: time.UTC, Now: now}
	for verdict, want := range map[dusk.Verdict]string{
		dusk.Switch:  "Walleye from 15:20 to 16:25, hump 850 m SSE.",
		dusk.TossUp:  "Walleye 15:20 to 16:25, hump 850 m SSE, or perch: a toss-up.",
		dusk.Thin:    "Too little on record. Walleye, if any: 15:20 to 16:25, hump 850 m SSE.",
		dusk.Perches: "Stay on perch: walleye would bring less, even at their best.",
		dusk.NoLight: "No light for walleye in what is left of the day, as far as snow and ice are known.",
	} {
		got := v.Second(aSecond(verdict, now))
		if got.Sentence != want {
			t.Errorf("%s: %q, want %q", verdict, got.Sentence, want)
		}
		if soon := verdict != dusk.Perches && verdict != dusk.NoLight; got.Soon != soon {
			t.Errorf("%s: beside the next step %v", verdict, got.Soon)
		}
		if n := len([]rune(got.Short)); got.Soon != (n > 0) || n > 40 {
			t.Errorf("%s: short form %q", verdict, got.Short)
		}
		for _, s := range append(append(append([]string{got.Sentence}, got.Facts...), got.Why...), got.Changes...) {
			if len([]rune(s)) > Longest || strings.Contains(s, "_") {
				t.Errorf("%s: %q", verdict, s)
			}
		}
	}
	b := v.Second(&advise.Second{Answer: dusk.Answer{Verdict: dusk.Barred, Refused: []safety.Refusal{{Code: "law"}}, Why: []dusk.Reason{{Code: "law", Text: "The season for walleye is closed."}}}})
	if b.Sentence != "No walleye plan: closed by the rule book." || len(b.Why) != 1 || b.Why[0] != "The season for walleye is closed." || b.Soon || len(b.Facts) != 0 {
		t.Errorf("%+v", b)
	}
	if x := v.Second(nil); x.Sentence != "" || x.Soon {
		t.Errorf("nobody asked: %+v", x)
	}
	early := v
	early.Now = now.Add(-2 * time.Hour)
	if early.Second(aSecond(dusk.Switch, now)).Soon {
		t.Error("told beside the next step two and a half hours ahead")
	}
	if s := v.Second(aSecond(dusk.Switch, now)).Light; s != "Light at 6.0 m in the walleye band about 15:10 to 16:40 (14:40 to 17:10), if at all: 1 in 2." {
		t.Error(s)
	}
}
