package chart

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
	"icehand/internal/feed/nmea"
)

// nmea reads the depths of a log of NMEA 0183 that have a position. Rows are sentences of depth.
func (r *soundingReader) nmea(data []byte) error {
	p := r.preview
	var l nmea.Log
	for line := range strings.Lines(string(data)) {
		l.Add(line)
		if len(l.Soundings) > file.MaxRows {
			return fault.New(fault.BadInput, "Cut it into parts.", "the log has more than %d depths", file.MaxRows)
		}
	}
	feeder, others := l.Feeder()
	if l.WrongSum+l.NoSum > 0 {
		p.Remark(0, "", "", fmt.Sprintf("%d of %d sentences were dropped: %d have a wrong checksum, %d have none", l.WrongSum+l.NoSum, l.WrongSum+l.NoSum+l.Sentences, l.WrongSum, l.NoSum), "")
	}
	if l.Malformed > 0 {
		p.Remark(0, "", "", fmt.Sprintf("%d sentences have a right checksum and fields that cannot be read; they were dropped", l.Malformed), "")
	}
	if feeder == "" {
		p.Reject("", "", "it holds no depth (DPT or DBT) with a right checksum", "Record depth and position together.")
		return nil
	}
	for _, a := range slices.Sorted(maps.Keys(others)) {
		p.Remark(0, a, "", fmt.Sprintf("%d depths by %s are not used: only %s gives the depths of this log", others[a], a, feeder), "")
	}
	below := 0
	for _, s := range l.Soundings {
		if s.By != feeder {
			continue
		}
		p.Rows++
		if !s.Placed {
			p.Refuse(s.Line, s.By, "", "no position was known when it was measured", "Record position (RMC or GGA) and depth together.")
			continue
		}
		if s.Depth.ToSurface == 0 {
			below++
		}
		r.take(s.Line, s.Pos, s.By, strconv.FormatFloat(s.Depth.UnderSurface().Metres(), 'f', 3, 64), "m", 1)
	}
	if below > 0 {
		p.Remark(0, feeder, "", fmt.Sprintf("%d depths count from the transducer, since the log does not say how far it hung below the surface", below), "Add that distance if it matters.")
	}
	if n := len(l.Temperatures); n > 0 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, t := range l.Temperatures {
			lo, hi = math.Min(lo, t.Degrees()), math.Max(hi, t.Degrees())
		}
		p.Summary = append(p.Summary, fmt.Sprintf("Water temperature: %d readings, %.1f to %.1f °C (not kept).", n, lo, hi))
	}
	r.places = "NMEA 0183, depths by " + feeder
	return nil
}
