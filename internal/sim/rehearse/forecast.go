package rehearse

import "math"

// Forecast is an advised look: the odds given before it and what it showed.
type Forecast struct {
	P     float64 `json:"p"`
	Known float64 `json:"k,omitempty"` // the part of P by schools seen today
	Hit   bool    `json:"hit,omitempty"`
}

// forecaster is a way that tells odds for the looks it asks for.
type forecaster interface {
	// Forecasts gives the advised looks of the day so far that came about.
	Forecasts() []Forecast
}

// fresh are the looks at places where no school is known: the ground alone decides.
func fresh(f Forecast) bool { return f.Known < 0.02 }

// Calibration compares odds that were told with what the looks showed.
type Calibration struct {
	Of     string  `json:"of"`
	Looks  int     `json:"looks"`
	Tenths []Share `json:"tenths"`
	Words  []Share `json:"words"`
}

// Share is the looks whose odds fell into a range.
type Share struct {
	Name  string  `json:"name"`
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Looks int     `json:"looks"`
	Told  float64 `json:"told"` // mean odds
	Seen  *Ratio  `json:"seen"` // share that showed marks, range by whole days; nil without looks
}

// Word gives the word of a chance, as pages say it.
type Word func(p float64) string

// ranges finds where a word holds, to a thousandth.
func (w Word) ranges() (out []Share) {
	const steps = 1000
	for k := range steps + 1 {
		p := float64(k) / steps
		if name := w(p); len(out) == 0 || out[len(out)-1].Name != name {
			if len(out) > 0 {
				out[len(out)-1].To = p
			}
			out = append(out, Share{Name: name, From: p})
		}
	}
	out[len(out)-1].To = 1
	return out
}

// calibrate tables the forecasts of some days. Looks of one day share their luck, so whole days are drawn for the ranges.
func calibrate(of string, days [][]Forecast, word Word) Calibration {
	c := Calibration{Of: of}
	for _, d := range days {
		c.Looks += len(d)
	}
	for k := range 10 {
		s := Share{From: float64(k) / 10, To: float64(k+1) / 10}
		c.Tenths = append(c.Tenths, s.of(days))
	}
	if word != nil {
		for _, s := range word.ranges() {
			c.Words = append(c.Words, s.of(days))
		}
	}
	return c
}

// of counts the looks of a range.
func (s Share) of(days [][]Forecast) Share {
	looks, hits := make([]float64, len(days)), make([]float64, len(days))
	told := 0.0
	for i, d := range days {
		for _, f := range d {
			if f.P < s.From || f.P >= s.To && s.To < 1 {
				continue
			}
			s.Looks++
			told += f.P
			looks[i]++
			if f.Hit {
				hits[i]++
			}
		}
	}
	if s.Looks == 0 {
		return s
	}
	s.Told, s.Seen = told/float64(s.Looks), ratio(hits, looks)
	if math.IsInf(s.Seen.High, 1) || s.Seen.High > 1 { // draws of days without such a look
		s.Seen.High = 1
	}
	return s
}
