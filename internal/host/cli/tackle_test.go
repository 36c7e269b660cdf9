package cli

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// A timed drop takes the place of the bare sphere, for its lure, at every depth, until it is taken back.
func TestTackleCommand(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	m.withLake()
	ask := func(args ...string) (out tackleJSON) {
		t.Helper()
		if err := json.Unmarshal([]byte(m.must(append([]string{"tackle", "--json"}, args...)...)), &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	// 2 g of lead takes 10.3 s over 15 m [SchillerNaumann1933].
	bare := ask("--weight", "2 g", "--depth", "15 m")
	if math.Abs(bare.SinkS-10.3) > 0.05 || !bare.AtLeast {
		t.Errorf("%+v", bare)
	}
	m.must("tackle", "--lure", "red spoon", "--weight", "2g", "--depth", "11m", "--timed", "22")
	if got := ask("--lure", "Red Spoon", "--depth", "5.5 m"); math.Abs(got.SinkS-11) > 0.05 || got.AtLeast {
		t.Errorf("%+v", got)
	}
	if out := m.must("tackle", "--lure", "red spoon", "--weight", "2g", "--depth", "11 m"); !strings.Contains(out, "Sinks in about 22 s.") || !strings.Contains(out, "From your timed drop") {
		t.Error(out)
	}
	m.must("tackle", "--lure", "red spoon", "--weight", "2g", "--depth", "11m", "--timed", "")
	if status := m.run("tackle", "--lure", "red spoon"); status != exitMissing {
		t.Error(status, m.err.String())
	}
	// A hung weight tells the line: both bounds are one then.
	if a := bare.StretchM; !(a[0] < a[1]) {
		t.Error(a)
	}
	m.must("tackle", "--hung", "20 g", "--droop", "4 cm", "--tip", "soft")
	m.must("tackle", "--hung", "20 g", "--out", "10 m", "--droop", "10 cm", "--tip", "soft", "--line", "nylon", "--thick", "0.15 mm")
	hung := ask("--depth", "10 m", "--tip", "soft")
	if hung.StretchM[0] != hung.StretchM[1] || math.Abs(hung.StretchM[0]-0.06/0.196133) > 1e-4 || math.Abs(hung.TipNM-4.9) > 0.01 {
		t.Errorf("%+v", hung)
	}
}

// The answer is the same whichever units are typed, and the current is told by the lean that it makes.
func TestTackleUnitsAndLean(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	m.withLake()
	si := m.must("tackle", "--json", "--depth", "9.144 m", "--weight", "28.349523125 g", "--thick", "0.1524 mm")
	us := m.must("tackle", "--json", "--units", "us", "--depth", "30", "--weight", "1 oz", "--thick", "0.006 in")
	if si != us {
		t.Errorf("%s\n%s", si, us)
	}
	var flows, leans tackleJSON
	if err := json.Unmarshal([]byte(m.must("tackle", "--json", "--current", "2 cm/s")), &flows); err != nil {
		t.Fatal(err)
	}
	lean, err := json.Marshal(*flows.LeanDeg)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(m.must("tackle", "--json", "--lean", string(lean))), &leans); err != nil || math.Abs(*leans.CurrentMS-0.02) > 0.0005 {
		t.Error(*leans.CurrentMS, err)
	}
	if out := m.must("tackle", "--current", "8", "--weight", "1 g"); !strings.Contains(out, "too light") || !strings.Contains(out, "A current thins ice from below") {
		t.Error(out)
	}
}

// What cannot be is refused with its reason, and nothing is written.
func TestTackleRefusals(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	m.withLake()
	before := m.must("export", "ndjson")
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--depth", "-3"}, "no depth to drop to"}, {[]string{"--depth", "900 m"}, "no depth to drop to"}, {[]string{"--of", "gold"}, "no stuff of a lure"}, {[]string{"--weight", "3 stone"}, "no weight of a lure"},
		{[]string{"--line", "steel"}, "no stuff of a line"}, {[]string{"--water", "9 C"}, "no temperature of water under ice"}, {[]string{"--current", "2", "--lean", "3"}, "together"},
		{[]string{"--timed", "20"}, "needs the lure's name"}, {[]string{"--lure", "x", "--timed", "20"}, "needs the lure's weight"}, {[]string{"--lure", "x", "--timed", "2", "--depth", "11 m", "--weight", "2 g"}, "a bare ball of that weight needs 8 s"},
		{[]string{"--lure", "x", "--weight", "2 g", "--timed", "soon"}, "no time of a drop"}, {[]string{"--droop", "3 cm"}, "a droop without a weight"}, {[]string{"--hung", "20 g", "--out", "10 m", "--droop", "1 cm", "--tip", "soft"}, "the tip alone gives more"},
	} {
		status, out := m.run(append([]string{"tackle"}, c.args...)...), ""
		if out = m.err.String(); status != exitUsage || !strings.Contains(out, c.says) {
			t.Errorf("%v: status %d, %s", c.args, status, out)
		}
	}
	if after := m.must("export", "ndjson"); after != before {
		t.Error("something was written")
	}
}
