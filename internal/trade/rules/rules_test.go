package rules

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Both books of the invented lake (examples/tamaringen) are read whole; every rule below is tried from both sides of its line.
func book(t *testing.T, name string) Book {
	t.Helper()
	text, err := os.ReadFile("../../../examples/tamaringen/" + name)
	if err != nil {
		t.Fatal(err)
	}
	b, problems := Read(string(text))
	if len(problems) > 0 {
		t.Fatalf("%s: %v", name, problems)
	}
	return b
}

func law(day journal.Day, books ...Book) Law {
	l := Law{Day: day, Standing: Verified}
	for _, b := range books {
		l.Versions = append(l.Versions, &Version{Book: b})
	}
	return l
}

func codes(fs []Finding) string {
	var out []string
	for _, f := range fs {
		out = append(out, f.Code)
	}
	return strings.Join(out, " ")
}

func TestBooksAreReadWhole(t *testing.T) {
	a := book(t, "rules.txt")
	if len(a.Rules) != 29 || a.Name != "Tamaringen winter rules 2026" || a.From != "2026-01-01" || a.To != "2026-12-31" || a.Retrieved != "2025-12-29" {
		t.Errorf("%d rules, %+v", len(a.Rules), a)
	}
	if got := a.Species(); !slices.Equal(got, []string{"perch", "walleye"}) {
		t.Errorf("species %v", got)
	}
	if r := a.Rules[0]; r.String() != "daily perch: 20" || r.Source != "7, 2(a)" || r.Line != 9 {
		t.Errorf("first rule %+v", r)
	}
	b := book(t, "rules-pooled.txt")
	if len(b.Rules) != 32 {
		t.Errorf("pooled: %d rules", len(b.Rules))
	}
	seen := map[Kind]bool{}
	for _, r := range append(a.Rules, b.Rules...) {
		seen[r.Kind] = true
	}
	for _, f := range forms {
		if !seen[f.kind] && f.kind != KeepOnly { // the two books cannot hold both a range to keep and one to put back
			t.Errorf("neither book tells %q", f.kind)
		}
	}
}

func TestSizes(t *testing.T) {
	one, pooled := law("2026-01-15", book(t, "rules.txt")), law("2026-01-15", book(t, "rules-pooled.txt"))
	only, problems := Read(headed + "keep only pike: 60 cm to 90 cm\n")
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, c := range []struct {
		law     Law
		species string
		cm      float64
		want    string
	}{
		{one, "walleye", 37.9, "below_least"}, {one, "walleye", 38, ""}, {one, "walleye", 60, ""}, {one, "walleye", 0, "unmeasured"},
		{one, "perch", 12, ""}, {one, "perch", 0, ""},
		{pooled, "walleye", 42.9, ""}, {pooled, "walleye", 43, "put_back"}, {pooled, "walleye", 55, "put_back"}, {pooled, "walleye", 55.1, ""},
		{pooled, "walleye", 70, ""}, {pooled, "walleye", 70.1, "over_most"}, {pooled, "sturgeon", 100, "release"}, {pooled, "sturgeon", 0, "release"},
		{law("2026-01-15", only), "pike", 59.9, "outside"}, {law("2026-01-15", only), "pike", 60, ""}, {law("2026-01-15", only), "pike", 90, ""}, {law("2026-01-15", only), "pike", 90.1, "outside"},
	} {
		if got := codes(c.law.Size(c.species, quantity.Length(c.cm)*quantity.Centimetre)); got != c.want {
			t.Errorf("%s of %v cm: %q, want %q", c.species, c.cm, got, c.want)
		}
	}
}

const headed = "book: b\nsource: s\nretrieved: 2025-12-01\nfrom: 2026-01-01\nto: 2026-12-31\n"

func TestSeasonsAndHours(t *testing.T) {
	pooled := book(t, "rules-pooled.txt")
	for _, c := range []struct {
		day     journal.Day
		species string
		open    bool
	}{
		{"2025-11-30", "perch", false}, {"2025-12-01", "perch", true}, {"2026-03-31", "perch", true}, {"2026-04-01", "perch", false},
		{"2026-02-28", "walleye", true}, {"2026-03-01", "walleye", false}, {"2026-01-15", "pike", false},
	} {
		open, by := law(c.day, pooled).Open(c.species)
		if open != c.open || (by == nil) != c.open {
			t.Errorf("%s on %s: open %v by %v", c.species, c.day, open, by)
		}
	}
	if open, _ := law("2026-07-01", book(t, "rules.txt")).Open("perch"); !open {
		t.Error("a book without seasons closes nothing")
	}
	zone := time.FixedZone("", -3*3600)
	rise, set := time.Date(2026, 1, 15, 7, 45, 0, 0, zone), time.Date(2026, 1, 15, 16, 33, 0, 0, zone) // trade note, section 1.5
	from, to, by := law("2026-01-15", pooled).Hours("perch", zone, rise, set)
	if !from.Equal(rise.Add(-30*time.Minute)) || !to.Equal(set.Add(30*time.Minute)) || by == nil {
		t.Errorf("hours %v to %v", from, to)
	}
	if from, to, _ := law("2026-01-15", pooled).Hours("perch", zone, time.Time{}, time.Time{}); !from.Equal(to) {
		t.Errorf("without a sun nothing is open: %v to %v", from, to)
	}
	two := law("2026-01-15", pooled, book(t, "rules.txt"))
	if from, to, _ := two.Hours("perch", zone, rise, set); !from.Equal(rise.Add(-30*time.Minute)) || !to.Equal(set.Add(30*time.Minute)) {
		t.Errorf("the shorter hours of two books: %v to %v", from, to)
	}
}

func TestGear(t *testing.T) {
	one, pooled := law("2026-01-15", book(t, "rules.txt")), law("2026-01-15", book(t, "rules-pooled.txt"))
	for name, c := range map[string]struct {
		law          Law
		lines, hooks int
		hole         quantity.Length
	}{"one": {one, 2, 0, 30}, "pooled": {pooled, 3, 2, 25}, "both": {law("2026-01-15", one.Versions[0].Book, pooled.Versions[0].Book), 2, 2, 25}} {
		lines, _ := c.law.LinesEach()
		hooks, told := c.law.HooksEach()
		hole, _ := c.law.HoleAcross()
		if lines.Count != c.lines || hooks.Count != c.hooks || told != (c.hooks > 0) || hole.Low.Millimetres() != (c.hole*quantity.Centimetre).Millimetres() {
			t.Errorf("%s: %v, %v, %v", name, lines, hooks, hole)
		}
	}
	if age, ok := one.LicenceAge(); !ok || age.Count != 16 {
		t.Errorf("age %v", age)
	}
	if _, ok := law("2026-01-15", one.Versions[0].Book, pooled.Versions[0].Book).LicenceAge(); ok {
		t.Error("where one book tells no age, everybody needs a licence")
	}
	for day, want := range map[journal.Day]string{"2026-03-14": "", "2026-03-15": "shelter_off", "2026-12-01": ""} {
		if got := codes(law(day, book(t, "rules.txt")).Shelters()); got != want {
			t.Errorf("shelters on %s: %q, want %q", day, got, want)
		}
	}
	for day, want := range map[journal.Day]string{"2026-03-31": "", "2026-04-01": "shelter_gone", "2025-12-01": ""} {
		if got := codes(law(day, book(t, "rules-pooled.txt")).Shelters()); got != want {
			t.Errorf("shelters on %s: %q, want %q", day, got, want)
		}
	}
	if r := one.Reports(); len(r) != 1 || r[0].By != "2026-02-10" {
		t.Errorf("reports %+v", r)
	}
	if r := pooled.Reports(); len(r) != 1 || r[0].By != "2026-01-15" || r[0].Rule.Count != 30 {
		t.Errorf("reports %+v", r)
	}
}

// What a book leaves out is read the strictest way, and of two books the stricter counts.
func TestChoices(t *testing.T) {
	one, pooled := book(t, "rules.txt"), book(t, "rules-pooled.txt")
	bare, _ := Read(headed + "daily perch: 20\n")
	for _, c := range []struct {
		kind  Kind
		books []Book
		want  string
	}{
		{Replacing, []Book{one}, "never"}, {Replacing, []Book{pooled}, "not at the limit"}, {Replacing, []Book{one, pooled}, "never"}, {Replacing, []Book{bare}, "never"},
		{Pooling, []Book{one}, "no"}, {Pooling, []Book{pooled}, "in sight and voice"}, {Pooling, []Book{pooled, bare}, "no"}, {Pooling, nil, "no"},
		{GuideFish, []Book{one}, "own limit"}, {GuideFish, []Book{bare}, "none"}, {GuideFish, []Book{one, pooled}, "none"},
		{Eaten, []Book{one}, "still held"}, {Eaten, []Book{pooled}, "no longer held"}, {Eaten, []Book{bare}, "still held"},
		{AfterLimit, []Book{one}, "may fish and put back"}, {AfterLimit, []Book{bare}, "stop fishing for it"},
		{Carried, []Book{one}, "own fish only"}, {Gifts, []Book{pooled}, "none"},
	} {
		if got, _ := law("2026-01-15", c.books...).Choice(c.kind); got != c.want {
			t.Errorf("%s of %d books: %q, want %q", c.kind, len(c.books), got, c.want)
		}
	}
}

// A book that contradicts itself is refused, and both lines are named.
func TestContradictions(t *testing.T) {
	for _, c := range []struct {
		lines string
		where []int // counted after the five lines of the head
		why   string
	}{
		{"daily perch: 20\npossession perch: 10", []int{6, 7}, "more than what may be held"},
		{"possession perch: 10\ndaily perch: 20", []int{6, 7}, "more than what may be held"},
		{"daily perch: 20\ndaily perch: 15", []int{6, 7}, "daily perch: 20, and daily perch: 15"},
		{"daily perch: 20\nlines: 2\ndaily perch: 20", []int{6, 8}, "told twice"},
		{"daily perch: 20\ndaily perch+walleye: 15", []int{6, 7}, "one part"},
		{"daily walleye+perch: 20\ndaily perch+walleye: 15", []int{6, 7}, "and"},
		{"daily walleye: 200\nseason total walleye: 60", []int{6, 7}, "season"},
		{"least walleye: 60 cm\nmost walleye: 55 cm", []int{6, 7}, "long enough"},
		{"most walleye: 40 cm\nkeep only walleye: 43 cm to 55 cm", []int{6, 7}, "no fish of that range"},
		{"keep only walleye: 43 cm to 55 cm\nleast walleye: 55 cm", []int{6, 7}, "no fish of that range"},
		{"put back walleye: 40 cm to 60 cm\nkeep only walleye: 43 cm to 55 cm", []int{6, 7}, "all that may be kept"},
		{"over walleye: 1 over 50 cm\nmost walleye: 45 cm", []int{6, 7}, "none so large"},
		{"over walleye: 5 over 50 cm\ndaily walleye: 4", []int{6, 7}, "more large ones"},
		{"over walleye: 0 over 50 cm\nleast walleye: 50 cm", []int{6, 7}, "long enough"},
		{"release sturgeon: always\ndaily sturgeon: 1", []int{6, 7}, "always goes back"},
		{"release sturgeon: always\nleast sturgeon: 1 m", []int{6, 7}, "always goes back"},
		{"season pike: closed\ndaily pike: 3", []int{6, 7}, "closed"},
		{"season: closed\nseason pike: 1 Dec to 31 Mar", []int{6, 7}, "closed"},
		{"pooling: no\ncarried: party's fish", []int{6, 7}, "another"},
		{"shelter off daily from: 15 Mar\nshelter gone by: 1 Mar", []int{6, 7}, "gone before"},
		{"hours: 07:00 to 17:00\nhours walleye: 07:00 to 19:00", []int{6, 7}, "beyond"},
		{"zone The Throat: closed\nzone The Throat: closed", []int{6, 7}, "twice"},
	} {
		_, problems := Read(headed + c.lines + "\n")
		if len(problems) != 1 || !slices.Equal(problems[0].Lines, c.where) || !strings.Contains(problems[0].Text, c.why) {
			t.Errorf("%q: %v", c.lines, problems)
			continue
		}
		err := Fault(problems)
		if err == nil || !strings.Contains(err.Error(), "lines 6 and ") || !strings.Contains(err.Error(), "contradict") {
			t.Errorf("%q: %v", c.lines, err)
		}
	}
	for _, fine := range []string{
		"daily perch: 20\npossession perch: 20", "daily perch: 15\ndaily perch+walleye: 15", "least walleye: 38 cm\nmost walleye: 70 cm", "daily sturgeon: 0\nrelease sturgeon: always",
		"put back walleye: 43 cm to 55 cm\nleast walleye: 38 cm", "over walleye: 4 over 50 cm\ndaily walleye: 4", "shelter off daily from: 15 Mar\nshelter gone by: 15 Mar",
		"shelter off daily from: 1 Dec\nshelter gone by: 31 Mar", "hours: 07:00 to 17:00\nhours walleye: 07:00 to 17:00", "zone The Throat: closed\nzone The Throat: no vehicles",
		"season: 1 Dec to 31 Mar\nseason pike: closed", "pooling: party\ncarried: party's fish",
	} {
		if _, problems := Read(headed + fine + "\n"); len(problems) > 0 {
			t.Errorf("%q: %v", fine, problems)
		}
	}
}

// What is no rule is refused with its line and how to mend it.
func TestRefused(t *testing.T) {
	for lines, want := range map[string]string{
		"daily perch 20": "no colon", "daily: 20": "names no species", "daily perch: many": "no count", "daily perch: -1": "no count", "daily perch: 20.5": "no count",
		"dailly perch: 20": "no kind of rule", "daily perch:": "nothing after the colon", "least walleye: 38": "no unit", "least walleye+perch: 38 cm": "one species", "least walleye: -3 cm": "no length",
		"put back walleye: 55 cm to 43 cm": "ends before", "over walleye: 1": "no number over a size", "season: 31 Feb to 1 Mar": "no day", "hours: 17:00 to 07:00": "end before", "hours: dusk to dawn": "no hour",
		"replacing: sometimes": "none of never", "lines perch: 2": "nothing in particular", "zone: closed": "names no place", "daily per7ch: 2": "no name of a species", "daily perch+perch: 2": "twice",
		"report: by day 31 of the next month": "not from 1 to 28", "report: soon": "none of", "lines: 20\x00": "no text", "to: 2027-01-01": "already", "hole: wide": "quantity",
	} {
		_, problems := Read(headed + lines + "\n")
		text := ""
		if len(problems) > 0 {
			text = problems[0].String() + " " + problems[0].Hint
		}
		if len(problems) != 1 || !strings.Contains(text, want) && want != "quantity" || !strings.Contains(text, "line 6") {
			t.Errorf("%q: %v", lines, problems)
		}
	}
	for text, want := range map[string]string{"": "no name", headed: "no rule", "book: b\nsource: s\nretrieved: 2025-12-01\nfrom: 2026-12-31\nto: 2026-01-01\nlines: 2": "only to",
		"book: b\nsource: s\nretrieved: yesterday\nfrom: 2026-01-01\nto: 2026-12-31\nlines: 2": "no date"} {
		if _, problems := Read(text); len(problems) == 0 || !strings.Contains(Fault(problems).Error(), want) {
			t.Errorf("%q: %v", text, problems)
		}
	}
}

// FuzzRead: any bytes give a book or problems, and a book that is taken reads the same from its own lines.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"rules.txt", "rules-pooled.txt", "rules-2025.txt"} {
		text, err := os.ReadFile("../../../examples/tamaringen/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Add(headed + "daily perch: 20\ndaily perch: 20 [x]\n")
	f.Fuzz(func(t *testing.T, text string) {
		b, problems := Read(text)
		for _, p := range problems {
			if p.Text == "" || len(p.Lines) > 2 {
				t.Fatalf("%+v", p)
			}
		}
		if len(problems) > 0 {
			return
		}
		again := "book: b\nsource: s\nretrieved: " + string(b.Retrieved) + "\nfrom: " + string(b.From) + "\nto: " + string(b.To) + "\n"
		for _, r := range b.Rules {
			again += r.String() + "\n"
		}
		c, problems := Read(again)
		if len(problems) > 0 || len(c.Rules) != len(b.Rules) {
			t.Fatalf("%q read again: %v", again, problems)
		}
		for i := range c.Rules {
			x, y := b.Rules[i], c.Rules[i]
			if x.String() != y.String() || x.Count != y.Count || x.Low != y.Low || x.High != y.High || x.Choice != y.Choice {
				t.Fatalf("%+v and %+v", x, y)
			}
		}
	})
}
