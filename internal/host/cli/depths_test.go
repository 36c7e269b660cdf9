package cli

import (
	"encoding/json"
	"strings"
	"testing"
)

// The depths that a guide tells through ask show in the reasons, and half or upside-down ones change nothing.
func TestAskTakesToldDepths(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	odds := `{"ask":"odds","at":` + at(0, 0) + `,"time":"2026-01-15T09:10:00-03:00"}`
	got := m.talk(lakeLine(t), odds,
		`{"do":"depths","low_m":12,"high_m":9}`, `{"do":"depths","low_m":12}`, `{"do":"depths","low_m":9,"high_m":12,"stage":"spring"}`, odds,
		`{"do":"depths","low_m":9,"high_m":12,"stage":"mid","time":"2026-01-15T09:10:00-03:00"}`, odds,
		`{"do":"depths","stage":"mid","time":"2026-01-15T09:10:00-03:00"}`, odds)
	for _, i := range []int{2, 3, 4} {
		if got[i]["error"] == nil {
			t.Errorf("line %d was taken: %v", i, got[i])
		}
	}
	text := func(i int) string {
		raw, err := json.Marshal(got[i])
		if err != nil {
			t.Fatal(err)
		}
		return string(raw)
	}
	if text(5) != text(1) || text(9) != text(1) {
		t.Errorf("refused or taken back, and yet:\n%s\n%s\n%s", text(1), text(5), text(9))
	}
	if !strings.Contains(text(7), "you told of perch at 9.0 m to 12.0 m at this time") || !strings.Contains(text(7), `"told_depth"`) {
		t.Error(text(7))
	}
}

// The command tells, prints and takes back.
func TestDepthsCommand(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	m.withLake()
	if out := m.must("depths"); !strings.Contains(out, "No depths were told") {
		t.Error(out)
	}
	m.must("depths", "30 ft", "40ft", "--stage", "mid")
	if out := m.must("depths"); !strings.Contains(out, "Midwinter: usually at 9.1 m to 12.2 m") {
		t.Error(out)
	}
	var told struct {
		Depths []toldDepthsJSON `json:"depths"`
	}
	if err := json.Unmarshal([]byte(m.must("depths", "--json")), &told); err != nil || len(told.Depths) != 1 || told.Depths[0].LowM != 9.1 || told.Depths[0].Stage != "mid" {
		t.Errorf("%+v %v", told, err)
	}
	m.must("depths", "--back", "--stage", "mid")
	if out := m.must("depths"); !strings.Contains(out, "No depths were told") {
		t.Error(out)
	}
}
