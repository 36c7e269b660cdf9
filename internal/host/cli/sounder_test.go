package cli

import (
	"strings"
	"testing"
)

// What is told stays, what is told later takes its place, and a shown depth is corrected by both. By hand: sound in pure
// water of 2 C runs at 1412.2 m/s [Marczak1997], so 8.4 m on a display that assumes 1500 m/s are 8.4 x 1412.2/1500 =
// 7.908 m, and 0.3 m of hanging 8.21 m.
func TestSounderCommand(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	m.withLake()
	if out := m.must("sounder"); !strings.Contains(out, "No sounder was told") {
		t.Error(out)
	}
	for _, args := range [][]string{{"--cone", "20"}, {"--hang", "4 m"}, {"--hang", "30 cm", "--assumed", "15 m/s"}, {"--hang", "30 cm", "--water", "40 C"}, {"--hang", "30 cm", "--cone", "wide"},
		{"--hang", "30 cm", "--pulse", "100"}, {"--hang", "30 cm", "--pulse", "1s"}, {"--hang", "30 cm", "--back"}, {"--back", "--depth", "8 m"}, {"--depth", "-1"}, {"--depth", "deep"}} {
		if status := m.run(append([]string{"sounder"}, args...)...); status != exitUsage {
			t.Errorf("%q: status %d, %s%s", args, status, m.out.String(), m.err.String())
		}
	}
	if out := m.must("sounder"); !strings.Contains(out, "No sounder was told") {
		t.Errorf("refused, and yet: %s", out)
	}
	m.must("sounder", "--hang", "30 cm")
	m.must("sounder", "--cone", "20")
	var got sounderJSON
	m.object(&got, "sounder", "--depth", "8.4m")
	if !got.Told || got.Assumed != 1500 || *got.Water != 2 || *got.Hang != 0.3 || got.Cone != 20 || got.Shown != 8.4 || got.True != 8.21 {
		t.Errorf("%+v", got)
	}
	// 2 x 7.908 m x tan 10 degrees = 2.79 m across
	if got.Sees == nil || got.Sees.Across != 2.79 || got.Sees.Beneath <= 0 || got.Sees.AtEdge <= got.Sees.Beneath {
		t.Errorf("%+v", got.Sees)
	}
	if out := m.must("sounder", "--depth", "8.4"); !strings.Contains(out, "Assumes 1500 m/s, hung 30 cm, cone 20 degrees.") || !strings.Contains(out, "True depth about 8.2 m") {
		t.Error(out)
	}
	m.must("sounder", "--back")
	m.object(&got, "sounder")
	if got.Told {
		t.Errorf("taken back, and yet %+v", got)
	}
}

func TestAskTakesTheSounder(t *testing.T) {
	m := newMachine(t, "2026-01-15T09:00:00-03:00")
	ask := `{"ask":"sounder","shown_m":8.4,"time":"2026-01-15T09:10:00-03:00"}`
	got := m.talk(lakeLine(t), ask,
		`{"do":"sounder","cone_deg":20}`, `{"do":"sounder","hang_m":9}`, `{"do":"sounder"}`, `{"do":"sounder","hang_m":0.3,"back":true}`, `{"ask":"sounder","shown_m":-1}`, ask,
		`{"do":"sounder","hang_m":0.3,"time":"2026-01-15T09:10:00-03:00"}`, ask,
		`{"do":"sounder","back":true,"time":"2026-01-15T09:20:00-03:00"}`, `{"ask":"sounder","shown_m":8.4,"time":"2026-01-15T09:20:00-03:00"}`)
	for _, i := range []int{2, 3, 4, 5, 6} {
		if got[i]["error"] == nil {
			t.Errorf("line %d was taken: %v", i, got[i])
		}
	}
	for i, want := range map[int]float64{1: 8.4, 7: 8.4, 9: 8.21, 11: 8.4} {
		if got[i]["depth_m"] != want || got[i]["told"] != (want != 8.4) {
			t.Errorf("line %d: %v", i, got[i])
		}
	}
}
