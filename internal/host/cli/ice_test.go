package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A load at a place by position or by hole: what stands near weighs with it, the clock of what stands is told, and
// nothing in it is a permission.
func TestIceLoadAtPlace(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withLake()
	log := "Date,Time,Hole,Position,Depth (m),Ice (cm),White (cm),Snow (cm),Marks\n"
	for i := range 3 {
		log += fmt.Sprintf("2026-01-15,8:1%d,%d,\"%.6f, -45.000000\",11,95,2,8,none\n", i, i+1, 47.9+float64(8*i)/111_200)
	}
	file := filepath.Join(t.TempDir(), "today.csv")
	if err := os.WriteFile(file, []byte(log), 0o600); err != nil {
		t.Fatal(err)
	}
	m.must("import", file, "--yes")
	var a iceFullJSON
	m.object(&a, "ice", "--load", "car", "--mass", "1500 kg", "--at-place", "1")
	if a.Readings == 0 || a.Zone != "open" || !(a.LowCm > 0 && a.LowCm < a.ThinnestCm) || a.EffCm > a.LowCm || a.Moving == nil || a.TogetherKg != 1500 || a.NoColumn == "" {
		t.Errorf("%+v", a)
	}
	text := m.must("ice", "--load", "car", "--mass", "1500 kg", "--at", "hole 1")
	for _, want := range []string{"low end of the estimate", "In motion at most", "Not a go. Test as you go; local authority decides."} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	// without a place the newest hole stands in, and that is said; a place that is told needs no such word
	if strings.Contains(text, "No fix") {
		t.Error(text)
	}
	if out := m.must("ice"); !strings.HasPrefix(out, `No fix: "here" means hole 3, 08:12, not where you stand.`) {
		t.Error(out)
	}
	var none iceFullJSON
	if m.object(&none, "ice"); !none.NoFix || !strings.Contains(none.Of, "hole 3") {
		t.Errorf("%+v", none)
	}
	var stays iceFullJSON
	m.object(&stays, "ice", "--load", "car", "--mass", "1500 kg", "--at", "47.9, -45", "--stay", "3h")
	if !(stays.CarriesKg > 0 && stays.CarriesKg < 0.65*a.CarriesKg) {
		t.Errorf("to stay: %v, to pass: %v", stays.CarriesKg, a.CarriesKg)
	}
	var line iceFullJSON
	m.object(&line, "ice", "--at", "hole 1", "--to", "hole 3")
	if line.Line == nil || line.Line.LengthM != 16 || line.Line.UntestedM != 0 {
		t.Errorf("%+v", line.Line)
	}
	if out := m.must("ice", "--at", "hole 1", "--to", "47.91, -45"); !strings.Contains(out, "Untested over 1.1 km of the 1.2 km, first 30 m from the start") {
		t.Error(out)
	}
	for _, bad := range [][]string{{"ice", "--to", "nowhere"}, {"ice", "--at", "hole 99"}, {"ice", "--at", "99, 400"}, {"ice", "--stay", "-1h"}, {"ice", "--mass", "-3 kg"}, {"ice", "--mass", "1500"},
		{"ice", "--table", "Nobody"}, {"ice", "--table", "Water Security Agency"}} {
		if status := m.run(bad...); status != exitUsage && status != exitMissing || !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%v: status %d, %s", bad, status, m.err.String())
		}
	}
	m.must("ice", "--table", "Water Security Agency", "--by", "Ada Fell")
	if out := m.must("ice"); !strings.Contains(out, "Water Security Agency, Saskatchewan, Canada (2024-11-29), entered by Ada Fell") || !strings.Contains(out, "asks for 20 cm") && !strings.Contains(out, "asks for 10 cm") {
		t.Error(out)
	}
	for _, bad := range []string{"3.6", "-1", "NaN"} {
		if status := m.run("ice", "--strength", bad); status != exitUsage {
			t.Errorf("strength %s: status %d", bad, status)
		}
	}
	m.must("ice", "--strength", "1.75")
	if out := m.must("ice", "--load", "car", "--mass", "1500 kg", "--at", "hole 1"); !strings.Contains(out, "Formula: 1.75 kg/cm2") {
		t.Error(out)
	}
	own := filepath.Join(t.TempDir(), "own.json")
	write := func(text string) {
		if err := os.WriteFile(own, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	table := `{"agency":"Our rule","jurisdiction":"here","dated":"2026-01-10","source":"own","least_cm":{"on_foot":18}}`
	for _, bad := range []string{"", "{}", `{"least":{}}`, strings.Replace(table, "on_foot", "tank", 1), strings.Replace(table, "18", "-1", 1), strings.Replace(table, "18", "400", 1), strings.Replace(table, "own", "", 1)} {
		write(bad)
		if status := m.run("ice", "--own-table", own, "--by", "Ada"); status != exitUsage || !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%s: status %d, %s", bad, status, m.err.String())
		}
	}
	write(table)
	if status := m.run("ice", "--own-table", own); status != exitUsage {
		t.Errorf("without a name: status %d", status)
	}
	m.must("ice", "--own-table", own, "--by", "Ada Fell")
	if out := m.must("ice"); !strings.Contains(out, "Our rule, here (2026-01-10), entered by Ada Fell") {
		t.Error(out)
	}
}

// The exit status is that of an answered question, whatever was found.
func TestIceExitIsNoApproval(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withLake()
	log := "Date,Time,Hole,Position,Depth (m),Ice (cm),White (cm),Snow (cm),Marks\n"
	cases := []struct {
		total      int
		load, mass string
	}{{95, "car", "900 kg"}, {90, "car", "60 t"}, {9, "on_foot", "110 kg"}, {50, "truck", "1 t"}}
	place := func(i int) string { return fmt.Sprintf("%.6f, -45.0", 47.9+float64(i)/100) }
	for i, c := range cases {
		log += fmt.Sprintf("2026-01-15,8:1%d,%d,\"%s\",11,%d,0,8,none\n", i, i+1, place(i), c.total)
	}
	file := filepath.Join(t.TempDir(), "today.csv")
	if err := os.WriteFile(file, []byte(log), 0o600); err != nil {
		t.Fatal(err)
	}
	m.must("import", file, "--yes")
	states := map[string]bool{}
	for i, c := range cases {
		var a iceFullJSON
		if status := m.run("ice", "--load", c.load, "--mass", c.mass, "--at-place", place(i), "--json"); status != exitAnswered {
			t.Errorf("%d cm, %s: status %d", c.total, c.load, status)
		}
		if err := json.Unmarshal(m.out.Bytes(), &a); err != nil {
			t.Fatal(err)
		}
		states[a.State] = true
	}
	if len(states) != 4 {
		t.Errorf("the states %v were met, want all four", states)
	}
}
