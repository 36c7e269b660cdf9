// Package nmea answers what the sentences of a sounder or a satellite receiver say: depths, water temperatures, positions.
//
// Start with [Log.Add], line by line, from a file or a stream; [Parse] reads one sentence. Five kinds are read, whatever
// the talker: DPT and DBT (depth), MTW (temperature of the water), RMC and GGA (position) [NMEA2002].
// It assumes that a sentence without a right checksum says nothing: it is dropped and counted. Only one kind of sentence
// of one talker gives the depths of a log, since a second is often the same sounder measured from another level.
// It leaves out heights, which are above the sea and never a water level, and every sentence of a maker's own.
package nmea

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Checksum gives the exclusive or of the characters between $ and *.
func Checksum(sentence string) byte {
	sum := byte(0)
	for _, c := range []byte(sentence) {
		sum ^= c
	}
	return sum
}

// The ways in which a line says nothing.
var (
	ErrNoSentence = errors.New("nmea: no sentence in the line")
	ErrNoChecksum = errors.New("nmea: the sentence has no checksum")
	ErrChecksum   = errors.New("nmea: wrong checksum")
)

// Parse finds the sentence in a line, verifies it and parts it: the address, such as SDDPT, and the fields behind it.
// What a logger writes in front of the dollar sign is passed over.
func Parse(line string) (address string, fields []string, err error) {
	_, s, ok := strings.Cut(line, "$")
	if !ok {
		return "", nil, ErrNoSentence
	}
	body, tail, ok := strings.Cut(s, "*")
	if !ok {
		return "", nil, ErrNoChecksum
	}
	if len(tail) < 2 {
		return "", nil, ErrChecksum
	}
	want, err := strconv.ParseUint(tail[:2], 16, 8)
	if err != nil || Checksum(body) != byte(want) {
		return "", nil, ErrChecksum
	}
	parts := strings.Split(body, ",")
	return parts[0], parts[1:], nil
}

// Fix is a position; Known is false for a sentence that says that it has none.
type Fix struct {
	Pos   geo.Position
	Known bool
}

// Depth is a depth of the bottom, and from where it is measured.
type Depth struct {
	Below     quantity.Length // below the transducer
	ToSurface quantity.Length // from the transducer up to the water line; 0 = not said
}

// UnderSurface gives the depth of the bottom under the water line, as far as the sentence says it.
func (d Depth) UnderSurface() quantity.Length { return d.Below + d.ToSurface }

// ErrEmpty tells that a sentence carries no data, which its form allows.
var ErrEmpty = errors.New("nmea: the sentence carries no data")

// ParseDPT reads depth below the transducer in metres and the offset of the transducer: positive from the transducer to the
// water line, negative to the keel, which says nothing of the surface [NMEA2002, DPT]. The range behind them may be absent.
func ParseDPT(f []string) (Depth, error) {
	v, err := number(f, 0)
	if err != nil {
		return Depth{}, err
	}
	d := Depth{Below: quantity.Length(v)}
	if offset, err := number(f, 1); err == nil && offset > 0 {
		d.ToSurface = quantity.Length(offset)
	}
	return d, nil
}

// ParseDBT reads depth below the transducer in feet, metres and fathoms, whichever are given, metres first.
func ParseDBT(f []string) (Depth, error) {
	for _, c := range []struct {
		at   int
		name string
		unit quantity.Length
	}{{2, "M", quantity.Metre}, {0, "f", quantity.Foot}, {4, "F", 6 * quantity.Foot}} {
		v, err := number(f, c.at)
		if err != nil || c.at+1 >= len(f) || f[c.at+1] != c.name {
			continue
		}
		return Depth{Below: quantity.Length(v * c.unit.Metres())}, nil
	}
	return Depth{}, ErrEmpty
}

// ParseMTW reads the temperature of the water.
func ParseMTW(f []string) (quantity.Celsius, error) {
	v, err := number(f, 0)
	if err != nil || len(f) < 2 || f[1] != "C" {
		return 0, ErrEmpty
	}
	return quantity.Celsius(v), nil
}

// ParseRMC reads a position; status V says that there is none.
func ParseRMC(f []string) (Fix, error) {
	if len(f) < 6 || f[1] != "A" && f[1] != "V" {
		return Fix{}, ErrEmpty
	}
	if f[1] == "V" {
		return Fix{}, nil
	}
	return position(f[2:6])
}

// ParseGGA reads a position; quality 0 says that there is none, 6 to 8 that it is reckoned, typed or made up.
func ParseGGA(f []string) (Fix, error) {
	if len(f) < 6 {
		return Fix{}, ErrEmpty
	}
	if q := f[5]; len(q) != 1 || q < "1" || q > "5" {
		return Fix{}, nil
	}
	return position(f[1:5])
}

// position reads ddmm.mmmm, N or S, dddmm.mmmm, E or W.
func position(f []string) (Fix, error) {
	lat, err := degrees(f[0], f[1], "N", "S")
	lon, err2 := degrees(f[2], f[3], "E", "W")
	p := geo.Position{Lat: lat, Lon: lon}
	if err := errors.Join(err, err2); err != nil || !p.Valid() {
		return Fix{}, errors.New("nmea: not a position")
	}
	return Fix{p, true}, nil
}

func degrees(s, side, positive, negative string) (float64, error) {
	v, err := number([]string{s}, 0)
	if err != nil || v < 0 || side != positive && side != negative {
		return 0, errors.New("nmea: not a coordinate")
	}
	whole := math.Trunc(v / 100)
	minutes := v - 100*whole
	if minutes >= 60 {
		return 0, errors.New("nmea: minutes beyond 60")
	}
	v = whole + minutes/60
	if side == negative {
		v = -v
	}
	return v, nil
}

// number reads a field that may be padded with zeros or blanks.
func number(f []string, i int) (float64, error) {
	if i >= len(f) || strings.TrimSpace(f[i]) == "" {
		return 0, ErrEmpty
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(f[i]), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(f[i], "xXpP_") {
		return 0, fmt.Errorf("nmea: %.20q is not a number", f[i])
	}
	return v, nil
}
