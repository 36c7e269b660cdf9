package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const invented = "../../../examples/tamaringen/"

// TestRulesAndTally: a rule book is checked, entered and signed, and the tally goes by it; what is wrong is refused with both lines named.
func TestRulesAndTally(t *testing.T) {
	m := newMachine(t, "2026-01-15T15:00:00-03:00")
	m.must("import", invented+"outline.geojson", "--tz", "Etc/GMT+3", "-y")
	if out := m.must("rules"); !strings.Contains(out, "No rule book is entered: no number left is shown.") {
		t.Errorf("%s", out)
	}
	bad := filepath.Join(t.TempDir(), "bad.txt")
	text := "book: b\nsource: s\nretrieved: 2025-12-01\nfrom: 2026-01-01\nto: 2026-12-31\nleast walleye: 60 cm\nlines: 2\nmost walleye: 50 cm\n"
	if err := os.WriteFile(bad, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"rules", "check", bad}, {"rules", "import", bad, "--by", "Ruth"}} {
		if status := m.run(args...); status != exitUsage || !strings.Contains(m.err.String(), "lines 6 and 8 contradict each other") {
			t.Errorf("%v: status %d, %s", args, status, m.err.String())
		}
	}
	if status := m.run("rules", "import", invented+"rules.txt"); status != exitUsage {
		t.Errorf("entered by nobody: status %d", status)
	}
	if status := m.run("rules", "sign", "--by", "Ingrid"); status != exitMissing {
		t.Errorf("nothing to sign: status %d", status)
	}
	m.must("rules", "check", invented+"rules.txt")
	m.must("rules", "import", invented+"rules.txt", "--by", "Ruth Vossler")
	var law struct {
		Standing string
		Books    []struct {
			ID      string
			Entered string   `json:"entered_by"`
			Checked []string `json:"checked_by"`
			Rules   []struct{ Rule, Value, Source string }
		}
	}
	if m.object(&law, "rules"); law.Standing != "unsigned" || len(law.Books) != 1 || len(law.Books[0].Rules) != 29 || law.Books[0].Entered != "Ruth Vossler" {
		t.Errorf("%+v", law)
	}
	if out := m.must("tally"); !strings.Contains(out, "Unverified; strictest reading.") {
		t.Errorf("%s", out)
	}
	m.must("rules", "sign", "--by", "Ingrid Vossler")
	if m.object(&law, "rules"); law.Standing != "verified" || len(law.Books[0].Checked) != 1 {
		t.Errorf("%+v", law)
	}
	if m.object(&law, "rules", "--date", "2027-01-01"); law.Standing != "expired" {
		t.Errorf("%+v", law)
	}
	m.must("rules", "withdraw", law.Books[0].ID, "--why", "the wrong year")
	if m.object(&law, "rules"); law.Standing != "no_book" {
		t.Errorf("%+v", law)
	}
	if status := m.run("tally", "gift", "1", "perch"); status != exitUsage {
		t.Errorf("a gift of nobody: status %d", status)
	}
	if status := m.run("tally", "carried", "Jonas", "3", "perch"); status == exitAnswered {
		t.Error("nobody of that name is out")
	}
	if status := m.run("tally", "correct", "abcdef", "--slip", "--why", "slip"); status != exitMissing {
		t.Errorf("no such fish: status %d", status)
	}
	if status := m.run("tally", "correct", "abcdef", "--slip", "--put-back", "--why", "slip"); status != exitUsage {
		t.Errorf("two things at once: status %d", status)
	}
	if status := m.run("tally", "share"); status == exitAnswered {
		t.Error("shared with nobody")
	}
	if out := m.must("rules", "form"); !strings.Contains(out, "season total SPECIES") {
		t.Errorf("%s", out)
	}
}
