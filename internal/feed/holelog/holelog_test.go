package holelog

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests on every machine

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

const examples = "../../../examples/tamaringen/"

func options(t testing.TB) file.Options {
	t.Helper()
	z, err := time.LoadLocation("Etc/GMT+3")
	if err != nil {
		t.Fatal(err)
	}
	return file.Options{Zone: z, Today: time.Date(2026, 1, 15, 9, 50, 0, 0, z)}
}

func read(t *testing.T, data string, opt file.Options) (Log, file.Preview) {
	t.Helper()
	l, p, err := Read("log.csv", []byte(data), opt)
	if err != nil {
		t.Fatalf("%q: %v", data, err)
	}
	if p.Taken != len(l.Rows) || p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows {
		t.Errorf("%q: rows do not add up: %+v", data, p)
	}
	return l, p
}

// reasons lists the problems of a row.
func reasons(p file.Preview, row int) string {
	var all []string
	for _, x := range p.Problems {
		if x.Row == row {
			all = append(all, fmt.Sprintf("%s %s: %s", x.Severity, x.Column, x.Reason))
		}
	}
	return strings.Join(all, "; ")
}

func TestTheExampleLog(t *testing.T) {
	data, err := os.ReadFile(examples + "hole-log.csv")
	if err != nil {
		t.Fatal(err)
	}
	l, p := read(t, string(data), options(t))
	lines := strings.Split(string(data), "\r\n")
	find := func(part string) int {
		for i, s := range lines {
			if strings.Contains(s, part) {
				return i + 1
			}
		}
		t.Fatalf("no line holds %q", part)
		return 0
	}
	for part, want := range map[string]string{
		",303,":                 "refused Lengths (cm): a fish of 303 cm",
		"-45.01272\",0,":        "refused Depth (ft): a depth of 0",
		"\"47.91011, 45.01105":  "refused : its position is far from all the others",
		"1/12/62":               "refused Date: has a year of two digits",
		",a lot,":               "refused Ice (in): not a length",
		"Total,":                "refused : a row of totals",
		"40 paces W of 4":       "note Position: a place in words",
		"gloves wet, no fix":    "note Position: no position: taken without a place",
		"41 cm at the landing,": "",
	} {
		if got := reasons(p, find(part)); !strings.Contains(got, want) || want == "" && got != "" {
			t.Errorf("line %d (%s): %q, want %q", find(part), part, got, want)
		}
	}
	if p.Refused != 7 || p.Duplicates != 1 || p.Blank != 2 || p.Taken != 65 || p.Rows != 75 {
		t.Errorf("%+v", p.Summary)
		t.Errorf("rows %d taken %d refused %d duplicates %d blank %d", p.Rows, p.Taken, p.Refused, p.Duplicates, p.Blank)
	}
	for _, want := range []string{"month first", "a dash is read as none", "cross or tick is read as few", "ditto mark", "read in ft, by the column", "24-hour clock", "no time"} {
		if !strings.Contains(reasons(p, 0), want) {
			t.Errorf("no note says %q: %s", want, reasons(p, 0))
		}
	}
	first := l.Rows[0]
	if first.Row != 4 || first.Time.Format(time.RFC3339) != "2026-01-07T10:27:00Z" || first.Number != "1" || first.Marks.Class != None || math.Abs(first.Depth.Length.Metres()-36*0.3048) > 1e-9 ||
		math.Abs(first.Ice.Length.Metres()-14.5*0.0254) > 1e-9 || first.Ice.Typed != "in" || first.Kept != nil || first.Pos == nil || first.Pos.Lat != 47.90873 {
		t.Errorf("%+v", first)
	}
	again, q := read(t, string(data), options(t))
	if fmt.Sprint(keys(again)) != fmt.Sprint(keys(l)) || fmt.Sprint(q) != fmt.Sprint(p) {
		t.Error("the same file read twice differs")
	}
}

func keys(l Log) []string {
	var k []string
	for _, r := range l.Rows {
		k = append(k, r.Key)
	}
	return k
}

// The same hole in five styles has one key; any change of content has another.
func TestKeysDependOnContentOnly(t *testing.T) {
	opt := options(t)
	same := []string{
		"Date,Time,Hole,Lat,Lon,Depth (ft),Ice (in),Marks,Kept,Species,Lengths (cm),Remarks\n2026-01-14,9:05,17,47.9,-45,38,14,none,2,perch,\"22, 24.5\",windy\n",
		"Date;Time;Hole;Position;Depth;Ice;Marks;Kept;Species;Lengths;Remarks\n14 Jan 2026;0905;17;47-54N 45-0W;38';14\";0 ;2;Perch;220 mm, 245 mm;Windy\n",
		"log\n\nHole,Remarks,Date,Time,UTM zone,Easting,Northing,Depth (ft),Ice,Marks,Kept,Species,Lengths\n17,windy,1/14/26,9.05 am,23N,500000,5305185.73704,38,35.56 cm,nothing,2,perch,22 24.5 cm\n",
	}
	var first Row
	for i, data := range same {
		l, _ := read(t, data, opt)
		if len(l.Rows) != 1 {
			t.Fatalf("%q", data)
		}
		r := l.Rows[0]
		r.Marks.Count = nil // a counted 0 says more than "none"
		if i == 0 {
			first = r
		} else if r.key() != first.key() {
			t.Errorf("%d: %+v and %+v", i, r, first)
		}
	}
	for _, change := range [][2]string{{"9:05", "9:06"}, {",17,", ",18,"}, {"47.9,", "47.90001,"}, {",38,", ",39,"}, {",14,", ",15,"}, {"none", ""}, {",2,", ",3,"}, {"perch", "walleye"}, {"24.5", "24"}, {"windy", "calm"}, {"01-14", "01-13"}} {
		l, _ := read(t, strings.Replace(same[0], change[0], change[1], 1), opt)
		if l.Rows[0].Key == first.Key {
			t.Errorf("%q to %q keeps the key", change[0], change[1])
		}
	}
}

func TestCellsOfARow(t *testing.T) {
	opt := options(t)
	header := "Date,Time,Hole,Position,Depth (ft),Ice (in),White (in),Snow (in),Marks,Kept,Put back,Species,Lengths (cm),Lure,Sat (min),Remarks\n"
	columns := strings.Split(strings.TrimSpace(header), ",")
	for _, c := range []struct {
		column, cell string
		want         string // part of the reason; "" = taken
		check        func(r Row) bool
	}{
		{"Depth (ft)", "11.6 m", "", func(r Row) bool { return r.Depth.Length == 11.6 && r.Depth.Typed == "m" }},
		{"Depth (ft)", "38'", "", func(r Row) bool { return math.Abs(r.Depth.Length.Metres()-11.5824) < 1e-9 }},
		{"Depth (ft)", "~38", "", func(r Row) bool { return math.Abs(r.Depth.Length.Metres()-11.5824) < 1e-9 }},
		{"Depth (ft)", "-", "", func(r Row) bool { return r.Depth == nil }},
		{"Depth (ft)", "0", "depth of 0", nil}, {"Depth (ft)", "-3", "negative", nil}, {"Depth (ft)", "3800", "more than 150 m", nil}, {"Depth (ft)", "38-40", "not a length", nil}, {"Depth (ft)", "1e999", "not a length", nil}, {"Depth (ft)", "NaN", "not a length", nil},
		{"Ice (in)", `14 1/2"`, "", func(r Row) bool { return math.Abs(r.Ice.Length.Inches()-14.5) < 1e-9 }},
		{"Ice (in)", "41 cm", "", func(r Row) bool { return math.Abs(r.Ice.Length.Centimetres()-41) < 1e-9 && r.Ice.Typed == "cm" }},
		{"Ice (in)", "0", "ice of 0", nil}, {"Ice (in)", "390", "more than 3 m", nil}, {"White (in)", "20", "more white ice than ice", nil}, {"Snow (in)", "0", "", func(r Row) bool { return r.Snow.Length == 0 }},
		{"Marks", "none", "", func(r Row) bool { return r.Marks == Marks{true, None, nil} }}, {"Marks", "Few", "", func(r Row) bool { return r.Marks == Marks{true, Few, nil} }},
		{"Marks", "MANY!", "", func(r Row) bool { return r.Marks == Marks{true, Many, nil} }}, {"Marks", "", "", func(r Row) bool { return r.Marks == Marks{} }}, {"Marks", "?", "", func(r Row) bool { return r.Marks == Marks{} }},
		{"Marks", "-", "", func(r Row) bool { return r.Marks == Marks{true, None, nil} }}, {"Marks", "x", "", func(r Row) bool { return r.Marks == Marks{true, Few, nil} }},
		{"Marks", "3", "", func(r Row) bool { return r.Marks.Class == Few && *r.Marks.Count == 3 }}, {"Marks", "4", "", func(r Row) bool { return r.Marks.Class == Many && *r.Marks.Count == 4 }},
		{"Marks", "0", "", func(r Row) bool { return r.Marks.Class == None && *r.Marks.Count == 0 }}, {"Marks", "5+", "", func(r Row) bool { return r.Marks == Marks{true, Many, nil} }}, {"Marks", "2-3", "", func(r Row) bool { return r.Marks == Marks{true, Few, nil} }},
		{"Marks", "3-4", "neither none, few", nil}, {"Marks", "2+", "neither none, few", nil}, {"Marks", "tickling", "neither none, few", nil},
		{"Kept", "-", "", func(r Row) bool { return *r.Kept == 0 }}, {"Kept", "", "", func(r Row) bool { return r.Kept == nil }}, {"Kept", "3p", "not a count", nil}, {"Kept", "-1", "not a count", nil}, {"Kept", "2.5", "not a count", nil},
		{"Species", "3", "a number where the species", nil}, {"Species", "Perch", "", func(r Row) bool { return r.Species == "Perch" }},
		{"Lengths (cm)", "22, 24.5; 19", "", func(r Row) bool { return fmt.Sprintf("%.3f", r.Lengths) == "[0.220 0.245 0.190]" }},
		{"Lengths (cm)", "22,24,19", "", func(r Row) bool { return len(r.Lengths) == 3 }}, {"Lengths (cm)", "22,5; 24,5", "", func(r Row) bool { return fmt.Sprintf("%.3f", r.Lengths) == "[0.225 0.245]" }},
		{"Lengths (cm)", "22,5", "two fish", func(r Row) bool { return false }}, {"Lengths (cm)", "22 and 9 1/2 in", "", func(r Row) bool { return fmt.Sprintf("%.4f", r.Lengths) == "[0.2200 0.2413]" }},
		{"Lengths (cm)", "303", "fish of 303 cm", nil}, {"Lengths (cm)", "0", "fish of 0 cm", nil}, {"Lengths (cm)", "big", "not a length", nil},
		{"Sat (min)", "45", "", func(r Row) bool { return *r.Minutes == 45 }}, {"Sat (min)", "1:15", "", func(r Row) bool { return *r.Minutes == 75 }}, {"Sat (min)", "1.5 h", "", func(r Row) bool { return *r.Minutes == 90 }}, {"Sat (min)", "1 h 5 min", "", func(r Row) bool { return *r.Minutes == 65 }},
		{"Sat (min)", "1500", "minutes in one day", nil}, {"Sat (min)", "a while", "minutes in one day", nil},
		{"Time", "", "", func(r Row) bool { return !r.TimeKnown && r.Time.Format(time.RFC3339) == "2026-01-14T03:00:00Z" }}, {"Time", "9:05 pm", "", func(r Row) bool { return r.TimeKnown && r.Time.Format(time.RFC3339) == "2026-01-15T00:05:00Z" }},
		{"Time", "25:00", "not a time", nil}, {"Time", "dusk", "not a time", nil},
		{"Date", "", "date is blank", nil}, {"Date", "2026-01-16", "in the future", nil}, {"Date", "2026-01-15", "", nil}, {"Date", "1/9/26", "--map Date=date-mdy", nil}, {"Date", "0000-01-01", "1950", nil}, {"Date", "9999-01-01", "1950", nil}, {"Date", `"`, "nothing above", nil},
		{"Position", "91, -45", "globe", nil}, {"Position", "47.9, 540", "globe", nil}, {"Position", "47.9", "not a position", nil}, {"Position", "NaN, NaN", "not a coordinate", nil}, {"Position", "by the ridge", "", func(r Row) bool { return r.Place == "by the ridge" && r.Pos == nil }},
		{"Position", "23N 500000 5305186", "", func(r Row) bool { return math.Abs(r.Pos.Lat-47.9) < 1e-4 && math.Abs(r.Pos.Lon+45) < 1e-4 }},
		{"Remarks", "line\nbreak", "", func(r Row) bool { return r.Remarks == "line break" }}, {"Remarks", strings.Repeat("x", 5000), "longer", nil},
	} {
		cells := []string{"2026-01-14", "9:05", "17", "47.9, -45.0", "38", "14", "", "", "", "", "", "", "", "", "", ""}
		for i, name := range columns {
			if name == c.column {
				cells[i] = c.cell
			}
		}
		for i, s := range cells {
			cells[i] = `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
		}
		l, p, err := Read("log.csv", []byte(header+strings.Join(cells, ",")+"\n2026-01-13,8:00,1,\"47.9, -45.0\",38\n"), opt)
		if err != nil {
			t.Errorf("%s %q: %v", c.column, c.cell, err)
			continue
		}
		got := ""
		for _, x := range p.Problems {
			if x.Severity == file.Refused {
				got += x.Column + ": " + x.Reason + " " + x.Mend
			}
		}
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) || got != "" && !strings.HasPrefix(got, c.column) && !strings.Contains(got, "far from") {
			t.Errorf("%s %q: refused because %q, want %q", c.column, c.cell, got, c.want)
		}
		if got == "" && c.check != nil && !c.check(l.Rows[0]) {
			t.Errorf("%s %q: %+v", c.column, c.cell, l.Rows[0])
		}
	}
}

func TestWhatTheFileLeavesOpen(t *testing.T) {
	opt := options(t)
	for name, c := range map[string]struct {
		data string
		opt  file.Options
		want string
	}{
		"no zone":          {"Date,Time,Depth (ft),Marks\n2026-01-14,9:05,38,none\n", file.Options{}, "--tz"},
		"no date":          {"Hole,Depth (ft),Marks\n1,38,none\n", opt, "--map HEADER=date"},
		"no UTM zone":      {"Date,Easting,Northing,Marks\n2026-01-14,500000,5305413,none\n", opt, "--utm 15N"},
		"nothing but dirt": {"Date,Depth (ft),Marks\nsoon,38,none\n", opt, "none of its 1 rows"},
		"no header":        {"2026-01-14,9:05,38,none\n", opt, "no header"},
	} {
		l, _, err := Read(name, []byte(c.data), c.opt)
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) || l.Rows != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	l, p := read(t, "Time,Hole,Lat N,Long W,Marks\n2026-01-14 9:05,1,47.9,45.0,few\n14 Jan 2026 14:05-03:00,2,47.9,45.0W,few\n", opt)
	if len(l.Rows) != 2 || l.Rows[0].Time.Format(time.RFC3339) != "2026-01-14T12:05:00Z" || l.Rows[1].Time.Format(time.RFC3339) != "2026-01-14T17:05:00Z" || l.Rows[0].Pos.Lon != -45 || l.Rows[1].Pos.Lon != -45 {
		t.Errorf("%+v %+v", l, p)
	}
	// One row with a unit, one without: only the second is refused, and told what to say.
	l, p = read(t, "Date,Hole,Depth,Ice\n2026-01-14,1,38 ft,40 cm\n2026-01-14,2,38,40 cm\n2026-01-14,3,38 ft,40\n", opt)
	if len(l.Rows) != 1 || !strings.Contains(fmt.Sprint(p.Problems), `Depth=depth:ft`) || !strings.Contains(fmt.Sprint(p.Problems), `Ice=ice:in`) {
		t.Errorf("%+v", p)
	}
	mapped := opt
	mapped.Map = map[string]string{"Ice": "ice:in", "Date": "date-dmy", "Marks": "marks:dash-unknown"}
	mapped.Unit = "ft"
	l, _ = read(t, "Date,Hole,Depth,Ice,Marks\n9/1/26,1,38,14,-\n", mapped)
	if r := l.Rows[0]; r.Time.Format("2006-01-02") != "2026-01-09" || r.Marks.Known || math.Abs(r.Ice.Length.Inches()-14) > 1e-9 || math.Abs(r.Depth.Length.Feet()-38) > 1e-9 {
		t.Errorf("%+v", r)
	}
}

func TestRowsThatAreNoHoles(t *testing.T) {
	_, p := read(t, `Date,Hole,Depth (ft),Marks,Remarks
2026-01-14,1,38,none,
Date,Hole,Depth (ft),Marks,Remarks
2026-01-14,,,,stayed home

2026-01-14,1,38,none,
2026-01-14,1,38,few,
2026-01-14,2,38,few,cold, windy
Season total,2,,,
`, options(t))
	for row, want := range map[int]string{3: "header again", 4: "nothing about a hole", 6: "same as row 2", 7: "row 2 gives the same number", 8: "more cells", 9: "totals"} {
		if got := reasons(p, row); !strings.Contains(got, want) {
			t.Errorf("row %d: %q, want %q", row, got, want)
		}
	}
	if p.Taken != 2 || p.Refused != 4 || p.Duplicates != 1 || p.Blank != 1 {
		t.Errorf("%+v", p)
	}
}

// The clocks of Chicago went back on 2026-11-01 and forward on 2026-03-08 [TZDB].
func TestTheNightsOfTheClockChange(t *testing.T) {
	z, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	_, p := read(t, "Date,Time,Hole,Marks\n2025-11-02,1:30,1,none\n2026-03-08,2:30,1,none\n2026-03-08,3:30,2,none\n", file.Options{Zone: z})
	if !strings.Contains(reasons(p, 2), "twice") || !strings.Contains(reasons(p, 3), "leave this time out") || p.Taken != 2 {
		t.Errorf("%+v", p)
	}
}

// Whatever the bytes, reading a hole log does not panic; every row taken keeps to the bounds of this package and has a key
// of its own; rows taken, refused, repeated and blank add up to the rows read; and a second reading gives the same keys.
func FuzzHoleLog(f *testing.F) {
	data, err := os.ReadFile(examples + "hole-log.csv")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add(data[:len(data)/2])
	for _, s := range []string{
		"Date,Time,Hole,Marks\n2026-01-14,9:05,1,none\n\",\",2,\"\n", "Date;Lengths;Kept\n14.1.26;22,5; 24,5;-\n", "day,lat,lon,ice\"\n0000-01-01,91,540,1e999\n",
		"date,position,depth\n9999-12-31,NaN NaN,Inf\n", "\xff\xfed\x00a\x00t\x00e\x00", "date,\x00", "Date,Marks\n\"2026-01-14,x\n2026-01-14,x",
	} {
		f.Add([]byte(s))
	}
	opt := options(f)
	opt.MaxBytes = 1 << 20
	f.Fuzz(func(t *testing.T, data []byte) {
		l, p, err := Read("f", data, opt)
		if err != nil {
			return
		}
		if p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows || p.Taken != len(l.Rows) || p.Taken == 0 {
			t.Fatalf("%+v", p)
		}
		seen := map[string]bool{}
		for _, r := range l.Rows {
			if r.Key == "" || seen[r.Key] {
				t.Fatalf("key %q", r.Key)
			}
			seen[r.Key] = true
			if r.Pos != nil && !r.Pos.Valid() || r.Depth != nil && !(r.Depth.Length > 0 && r.Depth.Length <= maxDepth) || r.Ice != nil && !(r.Ice.Length > 0 && r.Ice.Length <= maxIce) ||
				r.Time.After(opt.Today.Add(24*time.Hour)) || r.Time.Year() < 1949 || r.Marks.Known != (r.Marks.Class != "") || r.Minutes != nil && *r.Minutes > maxMinutes {
				t.Fatalf("%+v", r)
			}
			for _, fish := range r.Lengths {
				if !(fish >= minFish && fish <= maxFish) {
					t.Fatalf("fish of %v", fish)
				}
			}
		}
		again, _, err := Read("f", data, opt)
		if err != nil || fmt.Sprint(keys(again)) != fmt.Sprint(keys(l)) {
			t.Fatal("a second reading differs", err)
		}
	})
}

func BenchmarkHoleLog10000(b *testing.B) {
	var s strings.Builder
	s.WriteString("Date,Time,Hole,Position,Depth (ft),Ice (in),Marks,Kept,Lengths (cm)\n")
	for i := range 10_000 {
		fmt.Fprintf(&s, "2026-01-%02d,%d:%02d,%d,\"%.5f, -45.0\",38',14,none,2,\"22, 24.5\"\n", 1+i/1000, 8+i%8, i%60, i%1000, 47.9+float64(i)*1e-5)
	}
	data, opt := []byte(s.String()), options(b)
	b.ReportAllocs()
	for b.Loop() {
		if l, _, err := Read("log.csv", data, opt); err != nil || len(l.Rows) != 10_000 {
			b.Fatal(len(l.Rows), err)
		}
	}
}
