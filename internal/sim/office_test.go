package sim

import (
	"os"
	"strings"
	"testing"

	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
)

// The demo's office is that of the examples, its rule book marked as invented by name and source.
func TestOfficeIsTheExamples(t *testing.T) {
	for _, name := range []string{"rules.txt", "forms/lake-log.json", "forms/landing-sheet.json"} {
		want, err := os.ReadFile("../../examples/tamaringen/" + name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := office.ReadFile("office/" + strings.TrimPrefix(name, "forms/"))
		if err != nil || string(got) != string(want) {
			t.Errorf("%s differs from the example: %v", name, err)
		}
	}
	b, problems := rules.Read(RuleBook())
	if len(problems) > 0 || !strings.HasPrefix(b.Name, "INVENTED ") || !strings.Contains(b.Source, "(invented)") {
		t.Errorf("the demo's rule book: %q from %q, %v", b.Name, b.Source, problems)
	}
}

// No page of the demo is empty for want of record: every kind that one shows is there.
func TestFurnished(t *testing.T) {
	d, err := NewDemo(15)
	if err == nil {
		err = d.Furnish()
	}
	if err != nil {
		t.Fatal(err)
	}
	n := map[journal.Kind]int{}
	for _, x := range d.Diary.Drafts {
		n[x.Kind]++
	}
	for kind, least := range map[journal.Kind]int{journal.KindRuleBook: 1, journal.KindRuleCheck: 1, journal.KindPlan: 1, journal.KindShore: 1, journal.KindBooking: 3, journal.KindLedger: 20, journal.KindPossession: 5,
		journal.KindSupply: 4, journal.KindPresentation: 30} {
		if n[kind] < least {
			t.Errorf("%d entries of kind %s, want %d", n[kind], kind, least)
		}
	}
}
