package check

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"icehand/internal/base/fault"
)

var update = flag.Bool("update", false, "rewrite the tables of docs/checks.md")

// TestChecks runs every built-in row; the source names the subtest, so one source can be run alone:
// go test -run 'Checks/Marczak' ./internal/check
func TestChecks(t *testing.T) {
	rows, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 250 {
		t.Fatalf("only %d rows: some were lost", len(rows))
	}
	for _, s := range Summarise(Run(rows)) {
		t.Run(s.Source, func(t *testing.T) {
			if s.Total == 0 {
				t.Fatal("no rows")
			}
			for _, o := range s.Failures {
				if o.Err != nil {
					t.Errorf("%s %s %v: %v", o.ID, o.Quantity, o.Inputs, o.Err)
					continue
				}
				t.Errorf("%s %s %v: %.9g, want %.9g within %g %s", o.ID, o.Quantity, o.Inputs, o.Got, o.Expected, o.Tolerance, o.Unit)
			}
		})
	}
}

// Every slug is exercised by at least one built-in row, so that none is published that nothing outside confirms.
func TestEverySlugHasARow(t *testing.T) {
	rows, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, c := range rows {
		used[c.Quantity] = true
	}
	for _, s := range Slugs() {
		if !used[s.Name] {
			t.Errorf("%s: no built-in row", s.Name)
		}
	}
}

// A wrong expected value must fail: a check that cannot fail checks nothing.
func TestEveryRowCanFail(t *testing.T) {
	rows, err := Embedded()
	if err != nil || len(rows) == 0 {
		t.Fatal(len(rows), err)
	}
	for i := range rows {
		rows[i].Expected += 2*rows[i].Tolerance + 0.01*max(1e-6, abs(rows[i].Expected))
	}
	for _, o := range Run(rows) {
		if o.Holds {
			t.Errorf("%s holds for a wrong value %v", o.ID, o.Expected)
		}
	}
}

func abs(x float64) float64 { return max(x, -x) }

// The tables of docs/checks.md and the registry agree both ways: the text between the marks is what the registry prints.
func TestDocs(t *testing.T) {
	const name, begin, end = "../../docs/checks.md", "<!-- slugs: written by go test ./internal/check -update -->\n", "<!-- end of slugs -->\n"
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(b), begin)
	have, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("%s: marks missing", name)
	}
	var want strings.Builder
	for _, a := range areas {
		fmt.Fprintf(&want, "\n## %s\n\n| quantity | unit | inputs (unit) | what it is |\n|---|---|---|---|\n", a.name)
		for _, s := range a.slugs {
			fmt.Fprintf(&want, "| `%s` | %s | %s | %s |\n", s.Name, s.Unit, inputsText(s.Inputs), s.Doc)
		}
	}
	want.WriteString("\n")
	if *update {
		if err := os.WriteFile(name, []byte(head+begin+want.String()+end+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if have != want.String() {
		t.Errorf("%s differs from the registry; run go test ./internal/check -update and read the difference", name)
	}
}

func inputsText(inputs []Input) string {
	var parts []string
	for _, i := range inputs {
		parts = append(parts, fmt.Sprintf("`%s` (%s)", i.Key, strings.ReplaceAll(i.Unit, "|", ", ")))
	}
	if parts == nil {
		return "none"
	}
	return strings.Join(parts, "; ")
}

const goodHeader = "id,quantity,inputs,expected,unit,tolerance,source,recalled\n"

func TestLoad(t *testing.T) {
	rows, err := Load(strings.NewReader("\ufeff# a comment\n" + goodHeader + `A, wind_chill_us ,air_f=0; wind_mph=15,-19,degF,0.5,"Key: a, b",no` + "\n"))
	if err == nil {
		t.Error("a comment behind a byte order mark is no header")
	}
	rows, err = Load(strings.NewReader("\ufeff" + goodHeader + `A, wind_chill_us ,air_f=0; wind_mph=15,-19,degF,0.5,"Key: a, b",no` + "\n# comment\nB,x,,1e0,1,0,Key,yes\n"))
	if err != nil || len(rows) != 2 {
		t.Fatal(rows, err)
	}
	if c := rows[0]; c.Quantity != "wind_chill_us" || c.Inputs["wind_mph"] != "15" || c.Expected != -19 || c.Key() != "Key" || c.Recalled || len(c.Inputs) != 2 {
		t.Errorf("%+v", c)
	}
	if !rows[1].Recalled || len(rows[1].Inputs) != 0 {
		t.Errorf("%+v", rows[1])
	}
}

// Each mistake is reported with its line, its column and the reason.
func TestLoadErrors(t *testing.T) {
	for _, c := range []struct{ file, want string }{
		{"", "empty"},
		{goodHeader, "no rows"},
		{"# nothing\n", "empty"},
		{"id,quantity\nA,b\n", "first line"},
		{goodHeader + "A,b,,1,m,0,Key\n", "line 2 has 7 columns"},
		{goodHeader + "A,b,,1,m,0,Key,no,more\n", "line 2 has 9 columns"},
		{goodHeader + "A,b,,1,m,0,Key,no\n\nA,b,,1,m,0,Key,no\n", `line 4, column id: "A" was used in line 2`},
		{goodHeader + ",b,,1,m,0,Key,no\n", "line 2, column id"},
		{goodHeader + "A,,,1,m,0,Key,no\n", "line 2, column quantity"},
		{goodHeader + "A,b,,1,,0,Key,no\n", "line 2, column unit"},
		{goodHeader + "A,b,,1,m,0,,no\n", "line 2, column source"},
		{goodHeader + "A,b,,1,m,0,:x,no\n", "line 2, column source"},
		{goodHeader + "A,b,,10-30,m,0,Key,no\n", "line 2, column expected"},
		{goodHeader + "A,b,,NaN,m,0,Key,no\n", "line 2, column expected"},
		{goodHeader + "A,b,,1e999,m,0,Key,no\n", "line 2, column expected"},
		{goodHeader + "A,b,,1,m,-1,Key,no\n", "line 2, column tolerance"},
		{goodHeader + "A,b,,1,m,0.1 / 2,Key,no\n", "line 2, column tolerance"},
		{goodHeader + "A,b,,1,m,0,Key,maybe\n", "line 2, column recalled"},
		{goodHeader + "A,b,x,1,m,0,Key,no\n", "line 2, column inputs"},
		{goodHeader + "A,b,x=,1,m,0,Key,no\n", "line 2, column inputs"},
		{goodHeader + "A,b,x=1;x=2,1,m,0,Key,no\n", `line 2, column inputs: "x" is given twice`},
		{goodHeader + "A,b,x=1;,1,m,0,Key,no\n", "line 2, column inputs"},
		{goodHeader + "A,b,\"x=1,1,m,0,Key,no\n", "CSV"},
		{goodHeader + "A,b,x=" + strings.Repeat("1", maxBytes) + ",1,m,0,Key,no\n", "8 MB"},
	} {
		_, err := Load(strings.NewReader(c.file))
		if err == nil || fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.80q: %.200v, want %q", c.file, err, c.want)
		}
		if err != nil && len(err.Error()) > 500 {
			t.Errorf("%.80q: an error of %d characters", c.file, len(err.Error()))
		}
	}
}

func TestLoadFolder(t *testing.T) {
	row := "A,wind_chill_us,,1,degF,0,Key,no\n"
	for name, fsys := range map[string]fstest.MapFS{
		"no table":      {},
		"no rows":       {"d/a.csv": {Data: []byte(goodHeader)}},
		"id used twice": {"d/a.csv": {Data: []byte(goodHeader + row)}, "d/b.csv": {Data: []byte(goodHeader + row)}},
	} {
		if rows, err := loadFolder(fsys, "d"); err == nil {
			t.Errorf("%s: %d rows accepted", name, len(rows))
		}
	}
}

// What is wrong with a row is said in words, and never counts as holding.
func TestRunErrors(t *testing.T) {
	good := func() Check {
		return Check{ID: "A", Quantity: "wind_chill_us", Inputs: map[string]string{"air_f": "0", "wind_mph": "15"}, Expected: -19, Unit: "degF", Tolerance: 0.5, Source: "Key"}
	}
	if o := Run([]Check{good()})[0]; !o.Holds || o.Err != nil {
		t.Fatal(o)
	}
	for want, spoil := range map[string]func(*Check){
		"is not known":             func(c *Check) { c.Quantity = "nothing" },
		"is in degF":               func(c *Check) { c.Unit = "degC" },
		"needs the input wind_mph": func(c *Check) { c.Inputs = map[string]string{"air_f": "0"} },
		`takes no input "more"`:    func(c *Check) { c.Inputs["more"] = "1" },
		`"ten" is not a number`:    func(c *Check) { c.Inputs["air_f"] = "ten" },
		`"Inf" is not a number`:    func(c *Check) { c.Inputs["air_f"] = "Inf" },
		"the model refuses": func(c *Check) {
			*c = Check{Quantity: "air_mass", Unit: "1", Inputs: map[string]string{"zenith_deg": "120"}}
		},
		"is none of soonest, latest": func(c *Check) {
			*c = Check{Quantity: "frostbite_band", Unit: "min", Inputs: map[string]string{"index_c": "-40", "edge": "x"}}
		},
		"is not a date": func(c *Check) {
			*c = Check{Quantity: "sun_noon_elevation", Unit: "degree", Inputs: map[string]string{"lat": "1", "lon": "1", "utc_offset_h": "0", "date": "1.2.2026"}}
		},
		"is not a time": func(c *Check) {
			*c = Check{Quantity: "sun_distance", Unit: "AU", Inputs: map[string]string{"time": "noon"}}
		},
		"not covered": func(c *Check) {
			*c = Check{Quantity: "table_thickness", Unit: "cm", Inputs: map[string]string{"table": "CanRedCross", "class": "truck"}}
		},
		"the result is": func(c *Check) {
			*c = Check{Quantity: "flooding_snow_ratio", Unit: "1", Inputs: map[string]string{"snow_kg_m3": "0"}}
		},
	} {
		c := good()
		spoil(&c)
		o := Run([]Check{c})[0]
		if o.Err == nil || o.Holds || !strings.Contains(o.Err.Error(), want) {
			t.Errorf("want %q: %v", want, o.Err)
		}
	}
}

// A tolerance of 0 means nine figures.
func TestToleranceZero(t *testing.T) {
	c := Check{Quantity: "gold_load_us", Unit: "lb", Inputs: map[string]string{"strength_psi": "50", "clear_in": "4"}, Expected: 800}
	if !Run([]Check{c})[0].Holds {
		t.Error("800 lb")
	}
	c.Expected = 800.00001
	if Run([]Check{c})[0].Holds {
		t.Error("a hundredth of a thousandth of a pound is seen")
	}
}

func TestSummarise(t *testing.T) {
	s := Summarise([]Outcome{
		{Check: Check{Source: "B: x"}, Holds: true}, {Check: Check{Source: "A: y", Recalled: true}}, {Check: Check{Source: "B: z"}}, {Check: Check{Source: "A"}, Holds: true},
	})
	if len(s) != 2 || s[0].Source != "A" || s[0].Total != 2 || s[0].Hold != 1 || s[0].Recalled != 1 || len(s[1].Failures) != 1 {
		t.Errorf("%+v", s)
	}
}

// FuzzLoad: whatever is accepted has at least one row, finite numbers and an answer from Run without a panic.
func FuzzLoad(f *testing.F) {
	f.Add(goodHeader + "A,wind_chill_us,air_f=0;wind_mph=15,-19,degF,0.5,Key: a,no\n")
	f.Add(goodHeader + "A,sun_event,event=sunset;date=2026-01-10;lat=1;lon=2;utc_offset_h=99999,1,min,1,Key,yes\n")
	f.Add(goodHeader + "A,split_effort,p=0.7 0.3;total=3;cell=9,1,1,0,Key,no\n")
	f.Add(goodHeader + "A,at_least_one,p=0.5;n=1e300,1,1,0,Key,no\n")
	f.Add("\ufeff" + goodHeader + "#\nA,x,,1,1,0,Key,no\n")
	f.Fuzz(func(t *testing.T, s string) {
		rows, err := Load(strings.NewReader(s))
		if err != nil {
			if fault.CodeOf(err) != fault.BadInput {
				t.Errorf("fault %q", fault.CodeOf(err))
			}
			return
		}
		if len(rows) == 0 {
			t.Error("no rows and no error")
		}
		for _, o := range Run(rows) {
			if o.Expected-o.Expected != 0 || !(o.Tolerance >= 0) || o.Key() == "" || o.Holds && o.Err != nil {
				t.Errorf("%+v", o)
			}
		}
	})
}

// Every source key of the built-in rows is listed among the references.
func TestSourcesAreListed(t *testing.T) {
	var refs strings.Builder
	files, err := filepath.Glob("../../docs/references*/*.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range append(files, "../../docs/references.md") {
		if b, err := os.ReadFile(name); err == nil {
			refs.Write(b)
		}
	}
	rows, err := Embedded()
	if err != nil || len(rows) == 0 || refs.Len() == 0 {
		t.Fatal(len(rows), refs.Len(), err)
	}
	for _, s := range Summarise(Run(rows)) {
		if !strings.Contains(refs.String(), "["+s.Source+"]") {
			t.Errorf("source %s is not listed in docs/references.md", s.Source)
		}
	}
}
