package nmea

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// Sentences printed in public documents and archived logs, each with the checksum printed behind it and worked out again
// as the exclusive or of its characters [NMEA2002]. The GGA line is remembered, not looked up: unverified.
func TestPublishedChecksums(t *testing.T) {
	for _, c := range []struct {
		source, body string
		want         byte
	}{
		{"published example", "SDDPT,14.39,0.00", 0x68},
		{"published example", "SDDBT,7.8,f,2.4,M,1.3,F", 0x0D},
		{"published example", "SDDBT,17.0,f,5.1,M,2.8,F", 0x3E},
		{"published example", "YXMTW,17.9,C", 0x1D},
		{"archived ship log, NCEI format description", "SDDPT,0006.29,002.40", 0x6C},
		{"remembered, unverified", "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47},
	} {
		t.Run(c.source+" "+c.body[:5], func(t *testing.T) {
			if got := Checksum(c.body); got != c.want {
				t.Errorf("%s: %02X, want %02X", c.body, got, c.want)
			}
			address, _, err := Parse(fmt.Sprintf("$%s*%02X\r", c.body, c.want))
			if err != nil || address != c.body[:5] {
				t.Error(address, err)
			}
			if _, _, err := Parse(fmt.Sprintf("$%s*%02X", c.body, c.want^1)); !errors.Is(err, ErrChecksum) {
				t.Error(err)
			}
		})
	}
}

// A log of the NCEI archive: 6.29 m below a transducer that hangs 2.40 m under the water line is 8.69 m of water.
func TestDepths(t *testing.T) {
	for _, c := range []struct {
		source, sentence string
		below, under     float64 // metres; NaN = nothing
	}{
		{"NCEI format description", "$SDDPT,0006.29,002.40", 6.29, 8.69},
		{"NMEA2002 DPT: a negative offset reaches to the keel", "$SDDPT,6.29,-0.5,100", 6.29, 6.29},
		{"NMEA2002 DPT: no data", "$SDDPT,,,", math.NaN(), math.NaN()},
		{"published example", "$SDDBT,17.0,f,5.1,M,2.8,F", 5.1, 5.1},
		{"YardPound1959: feet alone", "$SDDBT,10,f,,M,,F", 3.048, 3.048},
		{"YardPound1959: fathoms alone", "$SDDBT,,f,,M,1,F", 1.8288, 1.8288},
		{"NMEA2002 DBT: no data", "$SDDBT,,f,,M,,F", math.NaN(), math.NaN()},
	} {
		t.Run(c.source, func(t *testing.T) {
			body := c.sentence[1:]
			address, fields, err := Parse(fmt.Sprintf("$%s*%02x", body, Checksum(body)))
			if err != nil {
				t.Fatal(err)
			}
			read := ParseDPT
			if address == "SDDBT" {
				read = ParseDBT
			}
			d, err := read(fields)
			if math.IsNaN(c.below) {
				if !errors.Is(err, ErrEmpty) {
					t.Error(d, err)
				}
				return
			}
			if err != nil || math.Abs(d.Below.Metres()-c.below) > 1e-9 || math.Abs(d.UnderSurface().Metres()-c.under) > 1e-9 {
				t.Errorf("%+v, %v", d, err)
			}
		})
	}
}

// ddmm.mmmm by definition: 46 degrees 12 minutes north, 93 degrees 42 minutes west.
func TestPositions(t *testing.T) {
	f, err := ParseRMC(strings.Split("152630,A,4612.0000,N,09342.0000,W,0.0,0.0,140126,,", ","))
	if err != nil || !f.Known || math.Abs(f.Pos.Lat-46.2) > 1e-9 || math.Abs(f.Pos.Lon+93.7) > 1e-9 {
		t.Error(f, err)
	}
	if f, err := ParseRMC(strings.Split("152630,V,4612.0000,N,09342.0000,W,,,140126,,", ",")); err != nil || f.Known {
		t.Error("a void position is known", f, err)
	}
	if f, err := ParseGGA(strings.Split("123519,4807.038,N,01131.000,E,0,08,0.9,545.4,M,46.9,M,,", ",")); err != nil || f.Known {
		t.Error("a position of quality 0 is known", f, err)
	}
	for _, bad := range []string{"1,A,4660.0,N,09342.0,W", "1,A,4612.0,E,09342.0,W", "1,A,x,N,09342.0,W", "1,A,9912.0,N,09342.0,W", "1,A,-4612.0,N,09342.0,W"} {
		if f, err := ParseRMC(strings.Split(bad, ",")); err == nil {
			t.Error(bad, f)
		}
	}
}

func sum(body string) string { return fmt.Sprintf("$%s*%02X", body, Checksum(body)) }

func TestALog(t *testing.T) {
	var l Log
	l.Add(sum("SDDPT,5.0,0.5")) // before any position
	l.Add("# a remark")
	l.Add("12:00:01.123 " + sum("GPRMC,120000,A,4612.0000,N,09342.0000,W,,,140126,,"))
	l.Add(sum("SDDPT,6.0,0.5"))
	l.Add(sum("SDDBT,19.7,f,6.0,M,3.3,F"))
	l.Add("$SDDPT,7.0,0.5*00")
	l.Add("$SDDPT,7.0,0.5")
	l.Add(sum("SDMTW,0.4,C"))
	l.Add(sum("GPGGA,120001,4612.0000,N,09342.0000,W,0,,,,,,,,")) // lost
	l.Add(sum("SDDPT,8.0,0.5"))
	l.Add(sum("PXYZ,1,2"))
	l.Add(sum("SDDPT,deep,0.5"))
	if l.Sentences != 9 || l.WrongSum != 1 || l.NoSum != 1 || l.Malformed != 1 || len(l.Soundings) != 4 || len(l.Temperatures) != 1 {
		t.Fatalf("%+v", l)
	}
	if feeder, others := l.Feeder(); feeder != "SDDPT" || len(others) != 1 || others["SDDBT"] != 1 {
		t.Error(feeder, others)
	}
	for i, want := range []bool{false, true, true, false} {
		if l.Soundings[i].Placed != want {
			t.Errorf("sounding %d: %+v", i, l.Soundings[i])
		}
	}
	l = Log{}
	l.Add(sum("GPRMC,120000,A,4612.0000,N,09342.0000,W,,,140126,,"))
	for range fresh + 1 {
		l.Add(sum("SDDBT,,f,6.0,M,,F"))
	}
	if s := l.Soundings; !s[fresh-1].Placed || s[fresh].Placed {
		t.Error("a position lives on past its time")
	}
}

// Whatever the line, reading it does not panic; it is counted at most once as right or dropped; every depth is finite and every place on the globe.
func FuzzLine(f *testing.F) {
	for _, s := range []string{sum("SDDPT,5.0,0.5"), sum("SDDBT,17.0,f,5.1,M,2.8,F"), sum("GPRMC,120000,A,4612.0000,N,09342.0000,W,,,140126,,"), sum("GPGGA,1,4807.038,N,01131.000,E,1,08"), sum("YXMTW,17.9,C"), "$*00", "$,*0", "$SDDPT,1e999*00", "$$*"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, line string) {
		var l Log
		l.Add(line)
		if _, s, ok := strings.Cut(line, "$"); ok { // once more with the checksum put right
			body, _, _ := strings.Cut(s, "*")
			l.Add(sum(body))
			l.Add(sum("SDDPT,1,1"))
		}
		if l.Sentences+l.WrongSum+l.NoSum > l.Lines {
			t.Fatalf("%+v", l)
		}
		for _, s := range l.Soundings {
			if d := s.Depth.UnderSurface().Metres(); math.IsNaN(d) || math.IsInf(d, 0) || s.Placed && !s.Pos.Valid() {
				t.Fatalf("%+v", s)
			}
		}
	})
}
