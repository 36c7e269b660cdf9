package nmea

import (
	"errors"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// fresh is how many lines may lie between a position and a depth that takes it: some three seconds of a talkative bus, in
// which a boat on a survey moves a few metres. Common practice, no source.
const fresh = 20

// Sounding is a depth where it was measured.
type Sounding struct {
	Line   int
	Pos    geo.Position
	Placed bool // false = no position was known then
	Depth  Depth
	By     string // address of the sentence, such as SDDPT
}

// Log gathers what a file or a stream says. The zero value is empty.
type Log struct {
	Lines        int
	Sentences    int // with a right checksum
	WrongSum     int // dropped: their checksum is wrong
	NoSum        int // dropped: they have no checksum
	Malformed    int // of the five kinds, with a right checksum and fields that cannot be read
	Soundings    []Sounding
	Temperatures []quantity.Celsius

	fix   Fix
	fixAt int
}

// Add reads the next line.
func (l *Log) Add(line string) {
	l.Lines++
	address, fields, err := Parse(line)
	switch {
	case errors.Is(err, ErrNoSentence):
		return
	case errors.Is(err, ErrNoChecksum):
		l.NoSum++
		return
	case err != nil:
		l.WrongSum++
		return
	}
	l.Sentences++
	if len(address) != 5 { // a maker's own
		return
	}
	switch address[2:] {
	case "DPT", "DBT":
		read := ParseDPT
		if address[2:] == "DBT" {
			read = ParseDBT
		}
		var d Depth
		if d, err = read(fields); err == nil {
			l.Soundings = append(l.Soundings, Sounding{l.Lines, l.fix.Pos, l.fix.Known && l.Lines-l.fixAt <= fresh, d, address})
		}
	case "MTW":
		var t quantity.Celsius
		if t, err = ParseMTW(fields); err == nil {
			l.Temperatures = append(l.Temperatures, t)
		}
	case "RMC", "GGA":
		read := ParseRMC
		if address[2:] == "GGA" {
			read = ParseGGA
		}
		// A receiver that has lost its position says so; the old one must not live on.
		l.fix, err = read(fields)
		l.fixAt = l.Lines
	}
	if err != nil && !errors.Is(err, ErrEmpty) {
		l.Malformed++
	}
}

// Feeder gives the address of the sentences that give the log its depths: DPT before DBT, since it knows where the
// transducer hangs, and of several talkers the one that speaks most. "" = no depth at all. others lists the rest.
func (l *Log) Feeder() (feeder string, others map[string]int) {
	others = map[string]int{}
	for _, s := range l.Soundings {
		others[s.By]++
	}
	better := func(a, b string) bool {
		if a[2:] != b[2:] {
			return a[2:] == "DPT"
		}
		return others[a] > others[b] || others[a] == others[b] && a < b
	}
	for a := range others {
		if feeder == "" || better(a, feeder) {
			feeder = a
		}
	}
	delete(others, feeder)
	return feeder, others
}
